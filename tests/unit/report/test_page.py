"""The web page of a report: the same blocks, whole by itself, and readable by a parser that forgives nothing."""

import re
from html.parser import HTMLParser

import pytest
from evidence.report.outline import outline
from evidence.report.page import build_page
from PIL import Image

from rich_dossier import candidate, given, rich_book

VOID = {"meta", "img", "br", "link", "hr"}


class Strict(HTMLParser):
    """Every element is closed in order; what it links to and what it fetches is kept."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.identities, self.links, self.fetched, self.words = [], [], [], [], []

    def handle_starttag(self, tag, attrs):
        held = dict(attrs)
        if "id" in held:
            self.identities.append(held["id"])
        if tag == "a":
            self.links.append(held["href"])
        self.fetched += [v for k, v in attrs if k in ("src", "xlink:href", "srcset", "action", "data")]
        if tag == "img":
            assert held["alt"].strip()
        if tag not in VOID and tag not in {"use", "path", "rect", "line", "polyline", "polygon", "circle"}:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if self.open and self.open[-1] == tag:
            self.open.pop()
        else:
            assert tag in {"use", "path", "rect", "line", "polyline", "polygon", "circle", "br"}, (tag, self.open[-5:])

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    Image.new("RGB", (40, 30), (90, 80, 120)).save(folder / "p.jpg", "JPEG")
    report = given(rich_book(), candidate("Ground <b>left</b> & <script>alert(1)</script>"), preview=lambda _: folder / "p.jpg")
    size = build_page(report, folder / "page.html")
    raw = (folder / "page.html").read_bytes()
    assert size == len(raw)
    return report, raw.decode(), folder


def read(text):
    found = Strict()
    found.feed(text)
    found.close()
    return found


def test_it_is_whole_by_itself_and_well_formed(page):
    _, text, _ = page
    found = read(text)
    assert found.open == []
    assert "script" not in re.findall(r"<(\w+)", text)
    assert all(f.startswith("data:image/jpeg;base64,") for f in found.fetched)
    assert "default-src 'none'" in text


def test_every_link_leads_somewhere_and_no_place_twice(page):
    found = read(page[1])
    assert len(found.links) > 50
    assert {link.removeprefix("#") for link in found.links} <= set(found.identities)
    assert len(found.identities) == len(set(found.identities))


def test_it_carries_every_section_and_text_of_the_report(page):
    report, text, _ = page
    said = " ".join(" ".join(read(text).words).split())
    for section in outline(report).sections:
        if section.blocks:
            assert section.title in said
    labels = [r.label for r in report.dossier.by_subject.values() if r.kind not in ("dossier", "vehicle")]
    assert [label for label in labels if label not in said] == []


def test_figures_are_drawn_and_described(page):
    text = page[1]
    assert text.count("<svg") >= 2
    assert text.count('role="img" aria-label="') == text.count("<figure role")
    assert "Plot of " in text


def test_what_people_wrote_cannot_become_markup(page):
    text = page[1]
    assert "&lt;b&gt;left&lt;/b&gt; &amp; &lt;script&gt;" in text
    assert "<b>" not in text


def test_same_input_same_bytes(page):
    report, text, folder = page
    build_page(report, folder / "again.html")
    assert (folder / "again.html").read_text("utf-8") == text

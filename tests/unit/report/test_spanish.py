"""Spanish papers of the demonstration dossiers: nothing in them is English but what somebody recorded, and that is quoted."""

import datetime as dt
import io
import re
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest
from babel.messages import pofile
from evidence.bootstrap import demo_dossiers, open_desk
from evidence.capture.sources import open_handed
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.instrument import Instrument
from evidence.model.people import Party
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import Vehicle
from evidence.paperwork import certified, paper_input, write_set
from evidence.report.blocks import Cover
from evidence.report.papers import catalogue
from evidence.report.papers.language import DOMAINS, LOCALES, Words
from evidence.report.papers.paper import as_pdf
from evidence.report.papers.plain import as_text
from evidence.report.papers.printing import front
from evidence.report.papers.registry import PAPERS
from evidence.report.papers.sheets import content, sheets
from evidence.rules.pack import Pack
from evidence.usecases.intake import Answers, intake_folder
from pdfplumber import open as open_pdf

from build import packs, vocabulary
from fakes import quiet
from van import van

TODAY = dt.date(2026, 9, 1)
DEMOS = ("van-no-start", "seized-engine", "wet-footwell")
CATALOGUES = LOCALES / "es" / "LC_MESSAGES"

# Words that are the same in both languages, units, names of standards and of the program and its commands.
SHARED = frozenset(
    ["sensor", "clip", "pedal", "axial", "detector", "urea", "gel", "turbo", "lambda", "contactor", "kpa", "mpa", "rpm", "ms", "ppm", "nm", "inhg", "hash", "bytes", "sha", "rfc", "fips", "egr", "nox", "abs", "vin", "pdf", "evidence", "record", "loss", "item", "km", "mi"]
)
# A list from outside: 3,000 easy words of English and 20,000 frequent words of Spanish, as the library of reading ease has them.
LISTS = Path(str(find_spec("textstat").origin)).parent / "resources"  # it takes two seconds to import
# The Spanish list is of film subtitles and holds some English. These say that a sentence is English.
SMALL = frozenset(
    ["the", "of", "and", "with", "to", "by", "is", "was", "were", "are", "for", "from", "that", "which", "not", "it", "its", "on", "in", "under", "over", "as", "an", "or", "be", "been", "had", "has", "this", "these", "those", "what", "when", "where", "before", "after", "between", "into", "off", "out", "up", "down", "if", "then", "than", "one", "more", "less"]
)
BARE = re.compile(r"%\(\w+\)s|\{\w+\}|“[^”]*”")  # places, and the words of a US statute, which the forms quote


def words(text):
    return set(re.findall(r"[a-záéíóúüñ]+", text.lower()))


def listed(language):
    return {line.strip() for line in (LISTS / language / "easy_words.txt").read_text("utf-8").splitlines()}


def catalogue_of(domain):
    return {m.id: m.string for m in pofile.read_po(io.BytesIO((CATALOGUES / f"{domain}.po").read_bytes())) if m.id}


@pytest.fixture(scope="module")
def english():
    """English words: the list from outside and all of ours, without those that Spanish has as well."""
    ours = set().union(*(words(BARE.sub(" ", text)) for d in DOMAINS for text in catalogue_of(d)))
    return ((listed("en") | ours) - listed("es")) | SMALL


def english_in(text, english):
    """English words of a Spanish text outside of quotations."""
    return sorted(w for w in words(BARE.sub(" ", re.sub(r"«[^»]*»", " ", text))) & english - SHARED if len(w) > 1)


def test_the_check_finds_an_english_sentence_and_passes_quotations(english):
    assert english_in("Anexo 3: the ground eyelet was loose", english) == ["eyelet", "ground", "loose", "the", "was"]
    assert english_in("Anexo 3: «the ground eyelet was loose», terminal de masa", english) == []


@pytest.mark.parametrize("domain", DOMAINS)
def test_no_translation_holds_an_english_word(domain, english):
    found = {english_text: left for english_text, text in catalogue_of(domain).items() if (left := english_in(text, english))}
    assert found == {}


def test_every_text_of_the_packs_and_every_word_of_the_vocabulary_has_its_spanish():
    wanted = [c.title for c in vocabulary().components.values()]
    wanted += [*catalogue.closed_words(), *catalogue.general_texts()]
    for pack in packs():
        for m in pack.mechanisms:
            wanted += [m.title, m.departure.text, *(f.statement for f in m.findings), *m.capture.before]
            wanted += [text for a in m.alternatives for text in (a.claim, a.test)]
    assert len(set(wanted)) > 2000
    known = catalogue_of("vocabulary") | catalogue_of("rules") | catalogue_of("papers")
    assert sorted({text for text in wanted if not known.get(text)}) == []


def test_the_catalogues_are_what_pybabel_extracts(tmp_path):
    """The mapping of pyproject.toml, with the program itself."""
    import subprocess
    import sys

    root = Path(__file__).resolve().parents[3]
    sources = {
        "papers": ["evidence/report/papers"],
        "vocabulary": ["evidence/rules/components.yaml", "evidence/model/kinds.py"],
        "rules": ["evidence/rules/statement.py", *(f"evidence/rules/packs/{p.id}.yaml" for p in packs())],
    }
    for domain, places in sources.items():
        out = tmp_path / f"{domain}.pot"
        command = [sys.executable, "-m", "babel.messages.frontend", "-q", "extract", "-F", "pyproject.toml", "-o", str(out), *places]
        subprocess.run(command, cwd=root, check=True, capture_output=True)
        found = {m.id for m in pofile.read_po(io.BytesIO(out.read_bytes())) if m.id}
        assert len(found) > 400
        assert found == set(catalogue_of(domain)), domain


@pytest.fixture(scope="module")
def demos(tmp_path_factory):
    """A workspace with the three demonstration dossiers, and what their papers are filled from, gathered once each."""
    folder = van(tmp_path_factory.mktemp("demos"))
    with open_desk(folder) as desk:
        for name in DEMOS[1:]:
            intake_folder(desk, open_handed(demo_dossiers()[name]), Answers(), quiet)
        yield desk, folder, cache(lambda name, language: paper_input(desk, name, language, TODAY))


def without_names(given, text):
    """The text without what is a name: of persons, firms, places, papers, files and things by their numbers."""
    d, names = given.dossier, []
    for p in d.of(Party):
        names += [p.value.full_name, p.value.firm, p.value.legal_name, p.value.address, p.value.contact]
    names += [n for v in d.of(Vehicle) for n in (v.value.plate, v.value.vin)]
    names += [o.value.number for o in d.of(WorkOrder)] + [i.value.serial for i in d.of(Instrument)]
    names += [e.value.file.name for e in d.of(Exhibit) if e.value.file]
    names += [given.place.name if given.place else None, *given.programs, next(iter(d.of(DossierOpening))).value.zone]
    found = sorted({line for n in names if n for line in (n, *n.split("\n"))}, key=len, reverse=True)
    squeezed = re.sub(r"\b[0-9a-f]{20,}\b", " ", " ".join(text.split()))  # digests
    for name in found:
        squeezed = re.sub(rf"(?<!\w){re.escape(' '.join(name.split()))}(?!\w)", " ", squeezed)
    return squeezed


@pytest.mark.parametrize("which", PAPERS)
@pytest.mark.parametrize("name", DEMOS)
def test_a_spanish_paper_of_a_demonstration_holds_no_english_of_ours(demos, english, name, which):
    desk, _folder, given_of = demos
    given = given_of(name, "es")
    if which == "certification":
        given = certified(desk, name, given, quiet)
    said = as_text(given, PAPERS[which].make(given))
    assert english_in(without_names(given, said), english) == []
    assert english_in(without_names(given, " ".join(PAPERS[which].make(given).missing)), english) == []
    if "«" in said:
        assert "Las palabras entre comillas están tal como se registraron" in " ".join(said.split())


def texts_of(block):
    """Every text of a block."""
    yield from (getattr(block, name, "") for name in ("text", "head"))
    yield from getattr(block, "items", ())
    yield from (column.title for column in getattr(block, "columns", ()))
    for row in getattr(block, "rows", ()):
        yield from getattr(row, "cells", row)


@pytest.mark.parametrize("name", DEMOS)
def test_a_spanish_filing_set_holds_no_english_of_ours(demos, english, name, tmp_path):
    desk, folder, given_of = demos
    given = given_of(name, "es")
    made = front(given, {})
    assert isinstance(made.cover, Cover)
    told = [made.cover.kicker, made.cover.title, made.cover.subtitle, *made.cover.words, made.foot, made.page_words, made.cover.mark]
    told += [f"{fact}: {value}" for fact, value in made.cover.facts]
    told += [text for section in made.sections for block in section.blocks for text in texts_of(block)]
    for exhibit in given.dossier.of(Exhibit):
        shown, reason = content(given, exhibit)
        for sheet in sheets(given, exhibit, (shown, reason)):
            told += [*sheet._stamp, sheet._caption, sheet._foot, sheet.reason]
    assert english_in(without_names(given, " ".join(told)), english) == []
    write_set(desk, folder, given, tmp_path / "set.pdf", quiet, sign=False)
    with open_pdf(tmp_path / "set.pdf") as pdf:
        pages = [page.extract_text() or "" for page in pdf.pages]
    for exhibit in given.dossier.of(Exhibit):
        assert any(f"ANEXO {exhibit.number}" in text for text in pages)
    assert "Contenido" in pages[0]


def test_a_word_of_somebodys_own_vocabulary_stays_as_it_is_and_is_quoted():
    assert Words("es").term("spoiler motor") == "«spoiler motor»"
    assert Words("en").term("spoiler motor") == "spoiler motor"


def test_the_packs_read_as_files_and_as_packs_give_the_same_texts():
    import yaml

    for pack in packs():
        assert isinstance(pack, Pack)
        file = Path(catalogue.__file__).parents[2] / "rules" / "packs" / f"{pack.id}.yaml"
        raw = yaml.load(file.read_text("utf-8"), Loader=yaml.BaseLoader)
        texts = set(catalogue.pack_texts(raw))
        assert {f.statement for m in pack.mechanisms for f in m.findings} <= texts


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("which", ["certification", "exhibits"])
def test_a_hash_and_a_size_stand_in_one_line_of_the_pdf(demos, language, which):
    """Read back as a person copies them: 64 digits in a row, and the size beside them unbroken."""
    given = demos[2](DEMOS[0], language)
    out = io.BytesIO()
    as_pdf(given, PAPERS[which].make(given), out)
    with open_pdf(out) as pdf:
        said = "\n".join(page.extract_text() or "" for page in pdf.pages)
    files = [e.value.file for e in given.dossier.of(Exhibit) if e.value.file]
    assert len(files) > 40
    for file in files:
        assert re.search(rf"\b{file.sha256}\b", said), file.name
        assert which == "exhibits" or Words(language).number(file.size) in said

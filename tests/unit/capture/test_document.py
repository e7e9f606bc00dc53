import pytest
from evidence.capture.reading import read_file
from foreign_files import pdf


def test_pages_and_text(put):
    facts = read_file(put("a.pdf", pdf("Invoice 17", "head gasket replaced")), "a.pdf")
    assert (facts.pages, facts.media) == (2, "document")
    assert facts.text == "Invoice 17\nhead gasket replaced"
    assert facts.reader.startswith("pypdfium2 ")
    assert facts.notes == ()


def test_text_is_cut(put):
    facts = read_file(put("a.pdf", pdf(*["word " * 60] * 100)), "a.pdf")
    assert len(facts.text) <= 20_000
    assert "text cut after 20,000 characters" in facts.notes


def test_a_scan_without_text(put):
    assert "no text in it that can be searched (a scan?)" in read_file(put("a.pdf", pdf("")), "a.pdf").notes


def test_encrypted(put):
    facts = read_file(put("a.pdf", pdf("secret", encrypt="word")), "a.pdf")
    assert facts.notes == ("document not read: encrypted",)
    assert facts.pages is None


def test_a_script_is_noted_and_not_run(put):
    facts = read_file(put("a.pdf", pdf("x", script=True)), "a.pdf")
    assert "holds a script, which is never run" in facts.notes
    assert facts.pages == 1


@pytest.mark.parametrize("kept", [0.1, 0.5, 0.9, 0.99])
def test_cut(put, kept):
    raw = pdf("one", "two", "three")
    facts = read_file(put("a.pdf", raw[: int(len(raw) * kept)]), "a.pdf")
    assert [n for n in facts.notes if "missing" in n or "damaged" in n]

"""``evidence record copy`` as a person meets it."""

import json

import pytest

from cli.test_commands import evidence, shop  # noqa: F401 - fixtures
from foreign_files import picture


@pytest.fixture
def photo(shop, tmp_path):  # noqa: F811
    (tmp_path / "a.png").write_bytes(picture("PNG", size=(320, 240)))
    shop("record", "exhibit", "first", tmp_path / "a.png", "--caption", "Engine bay")
    return shop


def test_a_redacted_and_annotated_copy(photo, tmp_path):
    (tmp_path / "more.yaml").write_text("operations:\n  - do: text\n    at: [10, 200]\n    words: seen at 10:15, left side\n")
    done = photo("record", "copy", "first", "exhibit 1", "--black-out", "10,10,25%,20", "--arrow", "5,5,100,100", "--text", "1,1,a, b",
                 "--file", tmp_path / "more.yaml", "--name", "hidden")  # fmt: skip
    assert done.stdout.startswith("Exhibit 2: derived from Exhibit 1: 1 area blacked out, 1 arrow, 2 texts\n")
    shown = photo("show", "first", "hidden").stdout
    assert "area of 25% × 20 at 10, 10 blacked out" in shown
    assert "text “a, b” at 1, 1" in shown
    assert "text “seen at 10:15, left side” at 10, 200" in shown
    assert photo("recheck").stdout.count("FAULT") == 0
    photo("report", "first", "-o", tmp_path / "r.pdf")
    import pdfplumber

    with pdfplumber.open(tmp_path / "r.pdf") as pdf:
        text = " ".join(" ".join(page.extract_text() or "" for page in pdf.pages).split())
    assert "Exhibit 2: derived from Exhibit 1: 1 area blacked out, 1 arrow, 2 texts" in text
    assert json.loads(photo("record", "copy", "first", "exhibit 1", "--circle", "50,50,5", "--json").stdout)["label"] == "Exhibit 3"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--arrow", "1,2,3"), "needs 4 numbers (3 are given)"), (("--black-out", "a,b,c,d"), "is no place in a picture"),
        ((), "nothing to draw"), (("--file", "nowhere.yaml"), "cannot be read"), (("--page", "2", "--circle", "1,1,1"), "is no document"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_and_nothing_recorded(photo, options, words):
    assert words in photo("record", "copy", "first", "exhibit 1", *options, code=2).stderr
    assert "Exhibit 2" not in photo("show", "first").stdout


def test_what_the_program_fills_in_is_no_option(photo):
    assert "--made" not in photo("record", "exhibit", "--help").stdout

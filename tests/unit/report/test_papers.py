"""Papers: filled from the record and from nothing else, in every language, in plain words and a neutral tone."""

import ast
import datetime as dt
import io
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
import textstat
from babel.messages import pofile
from evidence.claim.course import course
from evidence.claim.due import due
from evidence.claim.loss.statement import loss_statement
from evidence.errors import NotFound
from evidence.report.papers.language import DOMAINS, LANGUAGES, LOCALES, Words
from evidence.report.papers.paper import PaperInput, as_pdf, as_text
from evidence.report.papers.registry import PAPERS

from build import coil_case, packs, shown_case, vocabulary

TODAY = dt.date(2026, 6, 10)
HOME = Path(LOCALES).parent
LETTERS = ("notice", "preservation", "record-request", "demand", "answer-to-denial")


def given_of(case, language="en", **more):
    from evidence.rules.assess import assess

    dossier = case.dossier()
    assessment = assess(dossier, packs(), vocabulary())
    return PaperInput(
        dossier=dossier, assessment=assessment, loss=loss_statement(dossier, assessment), course=course(dossier),
        dues=due(dossier), today=TODAY, language=language, **more,
    )  # fmt: skip


def full():
    case = shown_case()
    case.record("correspondence", sender="party-1", receiver="party-2", about="response", sent="2026-05-20", channel="letter", text="It was fine when it left.")
    case.record("correspondence", sender="party-1", receiver="party-2", about="notice", sent="2026-05-06", channel="registered_letter", answer_within="3 months", exhibits=["exhibit-1"])
    case.record("loss_item", head="repair_parts", nature="resulting_damage", text="module", amount="840.00 EUR", tax_rate="20", status="invoiced", exhibits=["exhibit-1"])
    case.record("loss_item", head="rework_cost", nature="rework", text="refit", amount="29.00 EUR", status="invoiced")
    return case


def text(case, which, language="en"):
    given = given_of(case, language)
    return as_text(given, PAPERS[which].make(given))


@pytest.mark.parametrize("which", LETTERS)
def test_an_empty_record_gives_blanks_and_invents_nothing(which):
    given = given_of(coil_case().drop("work_order-1"))
    paper = PAPERS[which].make(given)
    assert paper.missing
    said = as_text(given, paper)
    for blank in paper.missing:
        assert f"({blank})" in " ".join(said.split())


def test_the_demand_names_sum_parts_and_day_from_the_record():
    said = " ".join(text(full(), "demand").split())
    assert "Sum asked for: 1,037.00 EUR" in said  # 840.00 + 20 % + 29.00
    assert "Doing the work again: 29.00 EUR" in said
    assert "Please pay by this day: 6 August 2026." in said  # three months from 6 May 2026
    assert "1,008.00 EUR of it is backed by a paper" in said


def test_days_and_sums_are_those_of_the_language():
    said = " ".join(text(full(), "demand", "es").split())
    assert "1.037,00 EUR" in said
    assert "6 de agosto de 2026" in said
    assert "Suma que se pide" in said


def test_the_answer_to_a_denial_quotes_it_and_goes_point_by_point():
    said = " ".join(text(full(), "answer-to-denial").split())
    assert "You answered on 20 May 2026: “It was fine when it left.”" in said
    for head in ("IT WORKED WHEN IT LEFT US.", "WE WERE NEVER TOLD.", "IT WAS WORN, OLD OR DAMAGED BEFORE."):
        assert head in said
    assert "Correspondence 2, sent 6 May 2026 [Exhibit 1]" in said


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", LETTERS)
def test_every_paper_ends_with_the_caution(which, language):
    assert text(full(), which, language).rstrip().endswith(("rely on it.", "a un abogado."))


# The words to avoid in a notice; common practice, no source. "blame" and "guilt" claim what nobody has found.
HARSH = re.compile(
    r"\b(blame|guilt\w*|fraud\w*|negligen\w*|botch\w*|incompetent\w*|liar|lied|crook\w*|shoddy|prove[nds]*|culpa\w*|fraude|negligen\w*|chapuza)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", LETTERS)
def test_the_tone_is_neutral(which, language):
    assert not HARSH.findall(text(coil_case(), which, language))
    catalogue = "\n".join(_spanish().values() if language == "es" else _spanish().keys())
    assert not HARSH.findall(catalogue)


def prose(language):
    """The sentences of the letters, without what is put into them."""
    messages = [m for m in (_spanish().values() if language == "es" else _spanish()) if m.endswith(".") and "%" not in m]
    return " ".join(messages)


def test_letters_read_easily():
    """Flesch (1948): 60 to 70 is plain English. Fernandez Huerta (1959), the same scale for Spanish: 60 to 70 is plain too."""
    textstat.set_lang("en")
    assert textstat.flesch_reading_ease(prose("en")) >= 70
    textstat.set_lang("es")
    assert textstat.fernandez_huerta(prose("es")) >= 60
    textstat.set_lang("en")


def _spanish():
    found = {}
    for domain in DOMAINS:
        file = LOCALES / "es" / "LC_MESSAGES" / f"{domain}.po"
        if file.exists():
            catalogue = pofile.read_po(io.BytesIO(file.read_bytes()))
            assert not [m.id for m in catalogue if m.fuzzy and m.id]
            found |= {m.id: m.string for m in catalogue if m.id}
    return found


def messages_in_code():
    """What the papers ask of the catalogue: ``t("…")`` and the second argument of ``blank(…, "…")``."""
    for file in sorted(HOME.glob("*.py")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name) or node.func.id not in ("t", "blank"):
                continue
            place = 0 if node.func.id == "t" else 1
            if len(node.args) > place and isinstance(node.args[place], ast.Constant) and isinstance(node.args[place].value, str):
                yield node.args[place].value


def test_no_message_is_missing_in_spanish_and_places_agree():
    known = _spanish()
    asked = set(messages_in_code())
    assert len(asked) > 60
    assert [m for m in asked if m and not known.get(m)] == []
    places = re.compile(r"%\(\w+\)s|\{\w+\}")
    for english, spanish in known.items():
        assert sorted(places.findall(english)) == sorted(places.findall(spanish)), english


def test_the_compiled_catalogue_is_that_of_the_texts():
    for english, spanish in _spanish().items():
        assert Words("es")._messages.gettext(english) == spanish


def test_an_unknown_language_is_refused_with_those_there_are():
    with pytest.raises(NotFound, match="no such language"):
        Words("xx")


@pytest.mark.parametrize("which", LETTERS)
def test_a_letter_becomes_a_pdf_that_other_tools_read(which, tmp_path):
    given = given_of(full(), "es")
    paper = PAPERS[which].make(given)
    one, two = io.BytesIO(), io.BytesIO()
    pages = as_pdf(given, paper, one)
    as_pdf(replace(given), paper, two)
    assert one.getvalue() == two.getvalue()
    file = tmp_path / "letter.pdf"
    file.write_bytes(one.getvalue())
    assert subprocess.run(["qpdf", "--check", str(file)], capture_output=True, check=False).returncode == 0
    said = subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True).stdout
    assert f"Página {pages} de {pages}" in said
    assert paper.title in " ".join(said.split())

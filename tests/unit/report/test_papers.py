"""Papers: filled from the record and from nothing else, in every language, in plain words and a neutral tone."""

import datetime as dt
import io
import re
import subprocess
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from babel.messages import pofile
from evidence.claim.course import course
from evidence.claim.due import due
from evidence.claim.loss.statement import loss_statement
from evidence.errors import NotFound
from evidence.model.when import When
from evidence.report.papers import catalogue
from evidence.report.papers.language import DOMAINS, LANGUAGES, LOCALES, Words
from evidence.report.papers.paper import PaperInput, as_pdf
from evidence.report.papers.plain import as_text
from evidence.report.papers.records import numbered
from evidence.report.papers.registry import PAPERS
from evidence.review.challenges import challenges
from evidence.review.grounds import Grounds

from build import coil_case, packs, shown_case, vocabulary

TODAY = dt.date(2026, 6, 10)
HOME = Path(LOCALES).parent
LETTERS = ("notice", "preservation", "record-request", "demand", "answer-to-denial", "insurer")


_WEIGHED = {}  # by what was entered: most of these tests print one of two cases


def weighed(case):
    from evidence.rules.assess import assess

    if (known := repr(case.entries)) not in _WEIGHED:
        dossier = case.dossier()
        _WEIGHED[known] = dossier, assess(dossier, packs(), vocabulary())
    return _WEIGHED[known]


def given_of(case, language="en", **more):
    dossier, assessment = weighed(case)
    return PaperInput(
        dossier=dossier, assessment=assessment, loss=loss_statement(dossier, assessment), course=course(dossier),
        dues=due(dossier), today=TODAY, language=language, **more,
    )  # fmt: skip


def full():
    case = shown_case()
    case.record("correspondence", sender="party-2", receiver="party-1", about="response", sent="2026-05-20", channel="letter", text="It was fine when it left.")
    case.record("correspondence", sender="party-1", receiver="party-2", about="notice", sent="2026-05-06", channel="registered_letter", answer_within="3 months", exhibits=["exhibit-1"])
    case.record("correspondence", sender="party-1", receiver="party-2", about="demand_letter", sent="2026-05-12", channel="letter", answer_within="3 months")
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
    assert "Please pay by this day: 12 August 2026." in said  # three months from 12 May 2026, as the demand on record gave
    assert "A paper stands behind 1,008.00 EUR of this." in said
    assert "“module” Exhibit 1 840.00 EUR" in said


def test_days_and_sums_are_those_of_the_language():
    said = " ".join(text(full(), "demand", "es").split())
    assert "1.037,00 EUR" in said
    assert "12 de agosto de 2026" in said
    assert "Suma que se pide" in said


def test_the_answer_to_a_denial_quotes_it_and_goes_point_by_point():
    said = " ".join(text(full(), "answer-to-denial").split())
    assert "You answered on 20 May 2026: “It was fine when it left.”" in said
    for head in ("IT WORKED WHEN IT LEFT US.", "WE WERE NEVER TOLD.", "IT WAS WORN, OLD OR DAMAGED BEFORE."):
        assert head in said
    assert "Correspondence 2, sent 6 May 2026 [Exhibit 1]" in said


def test_a_point_on_which_the_record_has_a_gap_is_not_argued_and_the_writer_is_told():
    given = given_of(full())
    weak = replace(given, challenges=challenges(Grounds.of(given.dossier, packs(), vocabulary())))
    assert "notice_missing" not in {c.code for c in weak.challenges}
    assert "inspection_missing" in {c.code for c in weak.challenges}
    paper = PAPERS["answer-to-denial"].make(weak)
    said = " ".join(as_text(weak, paper).split())
    assert "WE HAD NO CHANCE TO LOOK. - On this the record has a gap. We do not claim more than it holds." in said
    assert "WE WERE NEVER TOLD. - Correspondence 2, sent 6 May 2026 [Exhibit 1] WE HAD" in said
    assert any(note.startswith("We had no chance to look:") for note in paper.notes)
    assert not any(note in said for note in paper.notes)


def test_a_notice_does_not_offer_what_is_no_longer_there():
    case = full()
    assert "before anything on it is changed" in " ".join(text(case, "notice").split())
    case.record("intervention", action="refitted", components=["coil-ground-eyelet"], by="party-1", time="2026-05-08")
    said = " ".join(text(case, "notice").split())
    assert "The vehicle no longer stands as it was found: work was done on it [Intervention 1]." in said
    assert "before anything on it is changed" not in said


def test_an_offer_whose_days_have_passed_is_not_made_again():
    case = full()
    offer = {"sender": "party-1", "receiver": "party-2", "about": "inspection_opportunity", "sent": "2026-05-06", "channel": "letter", "text": "any morning"}
    case.record("correspondence", **offer, until="2026-06-09")
    assert "any morning" not in text(case, "notice")
    case.record("correspondence", **offer, until="2026-06-12")
    said = " ".join(text(case, "notice").split())
    assert "When: “any morning” Kept as found until: 12 June 2026" in said


def test_a_day_that_the_writer_sets_stands_in_the_letter():
    for which in ("demand", "record-request", "answer-to-denial", "insurer"):
        given = replace(given_of(full()), answer_by=dt.date(2026, 6, 30))
        assert "30 June 2026" in as_text(given, PAPERS[which].make(given))


def test_what_a_letter_needs_of_the_record_is_told():
    assert PAPERS["demand"].missing(given_of(coil_case()))[-1] == "a notice to the earlier repairer"
    assert PAPERS["demand"].missing(given_of(full())) == ()


@pytest.mark.parametrize(
    ("amount", "currency", "english", "spanish"),
    [
        ("1234.50", "EUR", "1,234.50 EUR", "1.234,50 EUR"), ("12345", "JPY", "12,345 JPY", "12.345 JPY"),
        ("12.345", "KWD", "12.345 KWD", "12,345 KWD"), ("12.345", "IQD", "12.345 IQD", "12,345 IQD"), ("12.50", "RSD", "12.50 RSD", "12,50 RSD"),
    ],
)  # fmt: skip
def test_money_has_the_digits_of_its_currency(amount, currency, english, spanish):
    """ISO 4217, list one: yen without, dinars of Kuwait and Iraq with three, of Serbia with two."""
    for language, expected in (("en", english), ("es", spanish)):
        assert Words(language).money(Decimal(amount), currency).replace("\xa0", " ") == expected


def test_readings_keep_their_digits_in_every_language():
    assert (Words("en").reading("0.210"), Words("es").reading("0.210")) == ("0.210", "0,210")
    assert (Words("en").reading("84409"), Words("es").reading("84409")) == ("84,409", "84.409")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", LETTERS)
def test_every_paper_ends_with_the_caution(which, language):
    assert text(full(), which, language).rstrip().endswith(("rely on it.", "a un abogado."))


# The words to avoid in a letter; common practice, no source. They claim what nobody has found, or hurt.
HARSH = re.compile(
    r"\b(blam\w*|guilt\w*|fraud\w*|negligen\w*|botch\w*|incompeten\w*|liar|lied|lying|crooks?|shoddy|careless\w*|prove[nds]*|fault of yours|"
    r"culpa\w*|fraude\w*|estafa\w*|mentir\w*|mentiros\w*|chapuza\w*|demostrad\w*|probad\w*)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", LETTERS)
def test_the_tone_is_neutral(which, language):
    assert not HARSH.findall(text(full(), which, language))
    assert not HARSH.findall(text(coil_case(), which, language))


def test_no_message_is_harsh_and_the_list_would_find_one():
    for english, spanish in _spanish().items():
        assert not HARSH.findall(english) + HARSH.findall(spanish)
    assert HARSH.findall("You are to blame for this shoddy work, es culpable.") == ["blame", "shoddy", "culpable"]


def prose(which, language):
    """The sentences of one letter as it is printed from a bare record, without blanks, headings and names."""
    given = given_of(coil_case(), language)
    for section in PAPERS[which].make(given).sections:
        for block in section.blocks:
            for sentence in (*getattr(block, "items", ()), getattr(block, "text", "")):
                if sentence.endswith((".", ",")) and "___" not in sentence:
                    yield sentence


# Flesch, "A new readability yardstick", J. Applied Psychology 32 (1948): 60 to 70 is "standard", 80 to 90 "easy".
# Fernandez Huerta, "Medidas sencillas de lecturabilidad", Consigna 214 (1959): the same scale for Spanish. Titles from memory;
# both formulas are those of the library.
PLAIN = 80


@pytest.fixture(scope="module")
def textstat():
    """The import takes two seconds, which only the process that needs it shall pay."""
    import textstat

    return textstat


@pytest.mark.parametrize("which", [w for w in PAPERS if w != "exhibits"])  # a table
def test_every_letter_and_form_reads_easily(which, textstat):
    try:
        textstat.set_lang("en")
        assert textstat.flesch_reading_ease(" ".join(prose(which, "en"))) >= PLAIN
        textstat.set_lang("es")
        assert textstat.fernandez_huerta(" ".join(prose(which, "es"))) >= PLAIN
    finally:
        textstat.set_lang("en")


def test_reading_ease_would_fail_for_the_language_of_the_law(textstat):
    hard = "Notwithstanding the aforementioned stipulations, the undersigned respectfully necessitates comprehensive indemnification."
    assert textstat.flesch_reading_ease(hard) < PLAIN


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
    """What the papers ask of the catalogues, rule packs apart."""
    for file in sorted(HOME.glob("*.py")):
        yield from catalogue.code_messages(file.read_text("utf-8"))
    yield from catalogue.closed_words()
    yield from catalogue.general_texts()
    yield from (c.title for c in vocabulary().components.values())
    yield from (kind.title for kind in PAPERS.values())


def test_no_message_is_missing_in_spanish_and_places_agree():
    known = _spanish()
    asked = set(messages_in_code())
    assert len(asked) > 60
    assert [m for m in asked if m and not known.get(m)] == []
    places = re.compile(r"%\(\w+\)s|\{\w+\}")
    for english, spanish in known.items():
        assert sorted(places.findall(english)) == sorted(places.findall(spanish)), english
        assert re.findall(r"\d+", english) == re.findall(r"\d+", spanish), english


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


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("which", PAPERS)
def test_plain_text_has_72_columns_and_no_box_or_row_of_nothing(which, language):
    for case in (full(), coil_case()):
        for line in text(case, which, language).splitlines():
            assert len(line) <= 72, line
            assert line == line.rstrip()
            assert not re.search(r"☐|\u00a0|; ;|\.\.|^- *$|^[-;, ]+; |: *;", line), line


def test_a_form_to_fill_in_names_each_line_to_write_on():
    said = text(coil_case(), "inspection")
    assert "Name and firm: ____" in said
    assert "  Present: [ ]" in said
    assert "[ ] samples split; each side has its own, sealed" in said
    assert "[ ] allowed" in text(coil_case(), "consent")


def test_miles_stay_miles_and_kilometres_kilometres():
    case = full()
    assert re.search(r"to the first sign: [^\[]*, 40 km \[", " ".join(text(case, "demand").split()))  # 61 044 less 61 004
    onset = next(s for k, s, raw, _ in case.entries if k == "event" and raw["what"] == "onset")
    miles = case.change("work_order-1", odometer_in="37900 mi", odometer_out="37904 mi").change(onset, odometer="37931 mi")
    assert re.search(r"to the first sign: [^\[]*, 27 mi \[", " ".join(text(miles, "demand").split()))
    assert "Odometer then: 37,904 mi" in text(miles, "demand")
    assert " km" not in text(miles, "demand")


def test_runs_of_labels_have_their_plural():
    given = given_of(full())
    assert numbered(given, ["Exhibit 7"]) == "Exhibit 7"
    assert numbered(given, ["Exhibit 9", "Exhibit 7", "Exhibit 8", "Measurement 2", "Measurement 3"]) == "Exhibits 7–9; Measurements 2, 3"
    assert numbered(replace(given, language="es"), ["Exhibit 7", "Exhibit 8", "Work order 1"]) == "Anexos 7, 8; Orden de trabajo 1"
    assert numbered(given, ["a record not held here"]) == "a record not held here"


@pytest.mark.parametrize(
    ("given_as", "english", "spanish"),
    [
        ("2026-05-18", "18 May 2026", "18 de mayo de 2026"),
        ("2026-05-18 08:23", "18 May 2026, 08:23", "18 de mayo de 2026, 08:23"),
        ("2026-05-18T08:23:05Z", "18 May 2026, 08:23:05 UTC", "18 de mayo de 2026, 08:23:05 UTC"),
        ("2026-05-18T08:23+02:00", "18 May 2026, 08:23 UTC+02:00", "18 de mayo de 2026, 08:23 UTC+02:00"),
        ("2026-05", "May 2026", "mayo de 2026"),
        ("2026-05-18 / 2026-05-20", "18 May 2026 – 20 May 2026", "18 de mayo de 2026 – 20 de mayo de 2026"),
    ],
)
def test_moments_are_told_as_they_were_given(given_as, english, spanish):
    moment = When.model_validate({"given": given_as})
    assert (Words("en").moment(moment), Words("es").moment(moment)) == (english, spanish)


def test_the_record_is_asked_where_no_explanation_is_shown():
    """A claim that the owner did it is answered by what is on record, even if no explanation has support."""
    case = coil_case()
    case.record("observation", of="coil-ground-eyelet", aspect="ground_seat", seen="loose", text="Turns by hand.", time="2026-05-05 10:00", state="disturbed", by="party-1")
    given = given_of(case)
    assert given.leading is None
    said = " ".join(as_text(given, PAPERS["demand"].make(given)).split())
    assert "Coil ground eyelet: “Turns by hand” (5 May 2026, after it was taken apart) [Observation" in said
    answer = " ".join(as_text(given, PAPERS["answer-to-denial"].make(given)).split())
    assert "THE OWNER DID IT, OR DROVE ON. The record holds nothing" not in answer

"""The page of the loss, and the sums in letters: every deduction, what is left out, who could be responsible, place with its age."""

import datetime as dt
from decimal import Decimal
from types import SimpleNamespace

import pytest
from evidence.claim.loss.statement import loss_statement
from evidence.claim.place import PlaceRules
from evidence.report import blocks
from evidence.report.pages.loss import loss
from evidence.report.papers.paper import PaperInput
from evidence.report.papers.plain import as_text
from evidence.report.papers.registry import PAPERS
from evidence.rules.assess import assess

from build import packs, shown_case, vocabulary

TODAY = dt.date(2026, 6, 10)
PLACE = PlaceRules.model_validate({
    "format": 1, "name": "Vale",
    "small_claims_ceiling": {"amount": "500.00 EUR", "source": "Act, section 4", "on": "2026-01-02"},
    "betterment": {"text": "Worn parts at the share that was left.", "source": "Court guide", "on": "2026-01-02"},
    "tax": {"rate": "20", "source": "Tax table", "on": "2026-01-02"},
})  # fmt: skip


def rich_case():
    case = shown_case()

    def line(head, nature, text, **more):
        case.record("loss_item", **{"head": head, "nature": nature, "text": text, "status": "invoiced", "exhibits": ["exhibit-1"], **more})

    worn = {"share": "50", "method": "by age", "objection": "It would have lasted the owner's time."}
    line("repair_parts", "resulting_damage", "module", amount="840.00 EUR", tax_rate="20")
    line("repair_parts", "resulting_damage", "battery", amount="100.00 EUR", tax_rate="20", wear=worn)
    line("rework_cost", "rework", "refit", amount="29.00 EUR")
    line("prior_work_refund", "incidental", "price of the job", amount="69.95 EUR")
    line("towing", "incidental", "tow", amount="95.00 EUR", claimed=False, why="paid by the breakdown club")
    line("core_charge", "incidental", "deposit", amount="60.00 EUR", temporary=True)
    line("core_credit", "deduction", "credit", amount="45.00 EUR")
    line("share_of_fault", "deduction", "lamp", percent="10", why="driven on with the lamp on", objection="the lamp came late")
    line("payment", "deduction", "on account", amount="100.00 EUR")
    case.record("event", what="driven_on", text="two miles with the lamp on", time="2026-05-04 06:50", basis="told")
    return case


def page_of(case, place=PLACE):
    dossier = case.dossier()
    assessment = assess(dossier, packs(), vocabulary(), firmness=False)
    at = dt.datetime.combine(TODAY, dt.time(), dt.UTC)
    return loss(SimpleNamespace(dossier=dossier, assessment=assessment, place=place, at=at)).blocks


def said(found):
    for block in found:
        if isinstance(block, blocks.Table):
            yield from (" | ".join(row.cells) for row in block.rows)
        elif isinstance(block, blocks.Bullets):
            yield from block.items
        else:
            yield f"{getattr(block, 'head', '')} {block.text}".strip()


def test_the_page_tells_what_is_left_out_taken_off_and_set_against_it():
    told = "\n".join(said(page_of(rich_case()))).replace("\u202f", " ")
    for words in (
        "Loss item 4, 69.95 EUR, left out beside Loss item 3: the earlier work is paid back and done again. Nobody has said which is claimed; the lower, Loss item 3, stays.",
        "paid by the breakdown club\nNot claimed.",
        "45.00 of it came back: Loss item 7.",
        "Said against it: It would have lasted the owner's time. Habit of the place: Worn parts at the share that was left. Court guide (looked up 2026-01-02, 5 months ago).",
        "share of fault, 10 % of what is left: driven on with the lamp on. Said against it: the lamp came late.",
        "Driven on after a warning. Event 2: two miles with the lamp on.",
        "Core. Deposited 60.00 EUR, credited 45.00 EUR, 15.00 EUR still to come back.",
        "Tax. 20 % on 940.00 EUR is 188.00 EUR: Tax table (looked up 2026-01-02, 5 months ago).",
        "Above the ceiling. 500.00 EUR is the most that a small-claims court of Vale hears: Act, section 4 (looked up 2026-01-02, 5 months ago). The sum claimed is above it by",
        "Old Mill Garage: work of Work order 1",
        "the module died of age",
    ):  # fmt: skip
        assert words in told, words


def test_the_columns_of_the_totals_add_up_on_the_page():
    totals = next(b for b in page_of(rich_case()) if isinstance(b, blocks.Table) and b.columns[1].title == "Lowest reading")
    for place in (1, 2, 3):
        column = [(row.cells[0], Decimal(row.cells[place].split(" ")[0].replace("\u202f", "").replace("−", "-"))) for row in totals.rows]
        end = next(n for n, (words, _) in enumerate(column) if words == "Total")
        assert sum(amount for _, amount in column[:end]) == column[end][1] == sum(amount for _, amount in column[end + 1 :])
        assert len(column[:end]) == 4  # lines, wear, share of fault, payments


def test_amounts_have_the_digits_of_the_currency():
    case = shown_case()
    case.record("loss_item", head="towing", nature="incidental", text="tow", amount="12345 JPY", status="paid", tax_rate="10")
    told = "\n".join(said(page_of(case, place=None))).replace("\u202f", " ")
    assert "Total | 13 580 JPY | 13 580 JPY | 13 580 JPY" in told  # 1 234.5 of tax, half up
    assert ".00" not in told


def test_without_a_habit_of_the_place_that_is_said():
    told = "\n".join(said(page_of(rich_case(), place=None)))
    assert "No habit of the place is on record" in told
    assert "as stated in the lines; no source is on record" in told
    assert "ceiling" not in told


def letter(which, language="en"):
    dossier = rich_case().dossier()
    assessment = assess(dossier, packs(), vocabulary())
    loss = loss_statement(dossier, assessment, PLACE, TODAY)
    given = PaperInput(dossier=dossier, assessment=assessment, loss=loss, course=None, place=PLACE, today=TODAY, language=language)
    paper = PAPERS[which].make(given)
    return given, paper, " ".join(as_text(given, paper).split())


def test_the_demand_adds_up_and_says_why_a_share_is_taken_off():
    given, paper, told = letter("demand")
    rows = next(b for s in paper.sections for b in s.blocks if isinstance(b, blocks.Table) and b.columns[-1].title == "Sum").rows
    assert sum(Decimal(row.cells[-1].split()[0].replace(",", "")) for row in rows) == given.loss.claimed.gross
    assert "price of the job" not in told
    assert "Less a share of fault (“driven on with the lamp on”): -" in told
    assert "Of this: Doing the work again:" in told
    assert "15.00 EUR of this is a deposit that may come back." in told
    heads = next(b for s in paper.sections for b in s.blocks if isinstance(b, blocks.Table) and b.columns[0].title == "Part of the sum").rows
    assert [c.replace("\xa0", " ") for c in heads[0].cells] == ["Doing the work again: 29.00 EUR", "Observation 1", "Old Mill Garage and Bo Finch"]
    assert any("Loss item 4; see 'evidence loss'" in note for note in paper.notes)
    assert not any(note in told for note in paper.notes)


def test_the_brief_tells_every_reading_apart():
    given, paper, told = letter("brief")
    for reading in (given.loss.low, given.loss.claimed, given.loss.high):
        assert given.words.money(reading.left_by_nature["rework"], "EUR").replace("\xa0", " ") in told.replace("\xa0", " ")
    rows = next(b for s in paper.sections for b in s.blocks if isinstance(b, blocks.Table) and "Claimed" in [c.title for c in b.columns]).rows
    assert rows[-1].cells[0] == "Sum, after what is taken off"
    assert "Above the ceiling. A small-claims court of Vale hears at most 500.00 EUR (Act, section 4" in told
    assert "above that by 400.80 EUR" in told


def test_a_spanish_brief_tells_the_ceiling_in_spanish():
    _, _, told = letter("brief", "es")
    assert "Un juzgado de pequeñas causas de «Vale» conoce como máximo de 500,00" in told


@pytest.mark.parametrize(("language", "said"), [("en", "one currency for all loss lines: see 'evidence loss'"), ("es", "una sola moneda para todas las líneas de pérdida: véase 'evidence loss'")])
def test_lines_without_a_sum_are_not_called_missing(language, said):
    dossier = rich_case().dossier()
    given = PaperInput(dossier=dossier, assessment=assess(dossier, packs(), vocabulary()), loss=None, course=None, today=TODAY, language=language)
    assert said in PAPERS["demand"].missing(given)

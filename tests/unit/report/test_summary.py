"""The summary speaks to an owner: no numbers of findings, and where nothing is shown it leads to what to capture."""

import dataclasses
import re

import pytest
from evidence.report.blocks import Bullets, Heading, Para
from evidence.report.outline import outline
from evidence.report.pages.next_steps import BOX, MAKER_RULES
from evidence.report.pdf import build_report
from evidence.report.phrasing import to_owner

from rich_dossier import candidate, given, rich_book

NUMBERS = re.compile(r"\b[FCAGX]\d{1,2}\b")


def summary(*candidates):
    return outline(given(rich_book(), *candidates)).sections[0]


def words(section):
    told = []
    for block in section.blocks:
        if isinstance(block, Bullets):
            told += block.items
        elif isinstance(block, Para):
            told.append(f"{block.head} {block.text}")
        elif isinstance(block, Heading):
            told.append(block.text)
    return "\n".join(told)


def nothing_shown(*, untouched, before=("stains and moisture map first",), steps=9):
    base = candidate()
    step = base.plan[0]
    plan = [dataclasses.replace(step, what=text, undisturbed=True, findings=()) for text in before if untouched]
    plan += [dataclasses.replace(step, what=f"calm step {n}", findings=(f"F{n}",)) for n in range(1, steps + 1)]
    plan = tuple(dataclasses.replace(s, place=n) for n, s in enumerate(plan, 1))
    weight = dataclasses.replace(base.weight, side="neither", band="no support either way")
    findings = tuple(dataclasses.replace(f, answer="not measured", records=()) for f in base.findings)
    return dataclasses.replace(
        base, plan=plan, weight=weight, findings=findings, capture_before=before, contradictions=(),
        ceilings=(dataclasses.replace(base.ceilings[0], reason="not excluded: A1 (owner's own work), F5, G6 (coincidence)", holds=True),),
    )  # fmt: skip


def test_nothing_shown_leads_to_what_to_capture_before_anything_is_touched():
    section = summary(nothing_shown(untouched=True))
    text = words(section)
    assert "What to capture next, before anything is touched." in text
    boxes = [item for b in section.blocks if isinstance(b, Bullets) and b.mark == BOX for item in b.items]
    assert boxes[0] == "Stains and moisture map first."
    assert len(boxes) == 6
    assert boxes[1:] == [f"Calm step {n}." for n in range(1, 6)]
    assert MAKER_RULES in text
    assert "Ignition voltages can kill" in text
    assert text.index("Caution.") < text.index("Stains and moisture map first.")
    assert "Nothing is on record yet" in text


def test_the_before_touch_list_of_the_entry_is_told_once_even_where_the_plan_holds_less():
    base = nothing_shown(untouched=True)
    more = dataclasses.replace(base, capture_before=("stains and moisture map first", "odometer"))
    boxes = [i for b in summary(more).blocks if isinstance(b, Bullets) and b.mark == BOX for i in b.items]
    assert boxes[:2] == ["Stains and moisture map first.", "Odometer."]
    assert len(boxes) == len(set(boxes))


def test_once_touched_the_summary_does_not_speak_of_the_untouched_state():
    text = words(summary(nothing_shown(untouched=False)))
    assert "What to capture next." in text
    assert "before anything is touched" not in text
    assert "Calm step 6" in text
    assert "Calm step 7" not in text


def test_a_supported_explanation_gets_what_would_strengthen_or_refute_it():
    base = candidate()
    steps = tuple(dataclasses.replace(base.plan[0], place=n, what=f"deciding test {n}", findings=()) for n in range(1, 6))
    text = words(summary(dataclasses.replace(base, plan=steps)))
    assert "What would strengthen or refute it." in text
    assert [n for n in range(1, 6) if f"Deciding test {n}" in text] == [1, 2, 3]
    assert "before anything is touched" not in text


@pytest.mark.parametrize(
    ("true", "other", "says"),
    [
        ("cannot be missing", "now and then", "Found, it would strengthen this explanation; missing, it would speak strongly against it."),
        ("normally there", "now and then", "Found, it would strengthen this explanation; missing, it would weaken it."),
        ("about as often as not", "should not be there", "Found, it would strengthen this explanation."),
        ("now and then", "normally there", "Found, it would weaken this explanation."),
    ],
)
def test_a_deciding_step_says_what_its_result_would_do(true, other, says):
    base = candidate()
    findings = tuple(dataclasses.replace(f, if_true=true, if_not=other) if f.id == "F5" else f for f in base.findings)
    assert says in words(summary(dataclasses.replace(base, findings=findings)))


def test_what_separates_nothing_promises_nothing():
    base = candidate()
    findings = tuple(dataclasses.replace(f, if_true="normally there", if_not="normally there") if f.id == "F5" else f for f in base.findings)
    text = words(summary(dataclasses.replace(base, findings=findings)))
    assert "Bench test of the original module." in text
    assert "strengthen this" not in text


def test_no_number_of_a_finding_or_an_alternative_stands_in_the_summary():
    cases = [
        summary(candidate()),
        summary(nothing_shown(untouched=True)),
        summary(nothing_shown(untouched=False)),
        summary(dataclasses.replace(candidate(), plan=(dataclasses.replace(candidate().plan[0], what="pressure fall, only where F1 shows no open joint"),))),
    ]
    assert [NUMBERS.findall(words(s)) for s in cases] == [[], [], [], []]
    assert "“The ground eyelet of the coil rail is off" in to_owner("only where F1 shows nothing", candidate())


def test_numbers_of_codes_and_of_codes_of_faults_are_left_alone():
    assert to_owner("code P0524 stored, bolt M10, fuse F77", candidate()) == "code P0524 stored, bolt M10, fuse F77"


@pytest.mark.parametrize("untouched", [True, False])
def test_the_summary_fits_one_page_at_its_longest(tmp_path, untouched):
    import pdfplumber

    long = "a very long step that goes on and on about where and how the reading is to be taken, " * 4
    full = nothing_shown(untouched=untouched, before=tuple(f"{n} {long}" for n in range(12)), steps=20)
    full = dataclasses.replace(full, cautions=tuple((str(n), f"{n} {long}") for n in range(5)))
    others = [dataclasses.replace(full, mechanism=f"m{n}", title=f"Another explanation {n} with a rather long title") for n in range(6)]
    build_report(given(rich_book(), full, *others), tmp_path / "r.pdf")
    with pdfplumber.open(tmp_path / "r.pdf") as pdf:
        heads = [page.extract_text().split("\n")[1] for page in pdf.pages[1:3]]
    assert heads[0] == "Summary"
    assert heads[1] in ("What to capture next", "Timeline of cause and effect")

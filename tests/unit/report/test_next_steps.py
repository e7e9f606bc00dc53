"""What to capture next stands where it is needed, and explanations without support are printed in short."""

import dataclasses

from evidence.report.blocks import Bullets, Heading, Para, Table
from evidence.report.outline import outline
from evidence.report.pages.findings import SHORT_FORM
from evidence.report.pages.next_steps import BOX, CONSENT, MAKER_RULES

from rich_dossier import candidate, given, rich_book


def titles(report):
    return [s.title for s in report.sections]


def section(report, title):
    return next(s for s in report.sections if s.title == title)


def words(blocks):
    told = []
    for block in blocks:
        if isinstance(block, Bullets):
            told += block.items
        elif isinstance(block, Para):
            told.append(f"{block.head} {block.text}")
        elif isinstance(block, Heading):
            told.append(block.text)
        elif isinstance(block, Table):
            told += [cell for row in block.rows for cell in row.cells]
    return "\n".join(told)


def with_steps(*flags):
    """A leading candidate whose plan has one step for each (undisturbed, alters)."""
    base = candidate()
    step = base.plan[0]
    steps = tuple(
        dataclasses.replace(step, place=n, what=f"step number {n}", undisturbed=u, alters=a, waiting="wait for notice" if a else "")
        for n, (u, a) in enumerate(flags, 1)
    )
    return dataclasses.replace(base, plan=steps)


def test_the_plan_follows_the_summary_while_something_is_untouched():
    report = outline(given(rich_book(), with_steps((True, False), (False, False), (False, True))))
    assert titles(report)[:2] == ["Summary", "What to capture next"]
    assert "step number 1" in words(section(report, "Summary").blocks).lower()


def test_the_plan_follows_the_gaps_once_everything_was_touched():
    report = outline(given(rich_book(), with_steps((False, False), (False, True))))
    order = titles(report)
    assert order.index("What to capture next") == order.index("What is not known") + 1


def test_untouched_first_then_calm_then_altering_with_what_they_wait_for():
    page = words(section(outline(given(rich_book(), with_steps((True, False), (False, False), (False, True)))), "What to capture next").blocks)
    places = [page.lower().index(f"step number {n}") for n in (1, 2, 3)]
    assert places == sorted(places)
    assert page.index("Before anything is touched") < places[0]
    assert page.index("Then, without changing the state") < places[1] < page.index("Last: tests") < places[2]
    assert "This one is not offered yet. Wait: wait for notice." in page
    assert page.count(MAKER_RULES) == 1
    assert page.index(MAKER_RULES) < places[0]
    assert BOX in page


def test_an_explanation_without_support_is_printed_in_short():
    leading = candidate()
    weight = dataclasses.replace(leading.weight, side="neither", band="no support either way")
    other = dataclasses.replace(leading, mechanism="another", title="Another explanation", weight=weight)
    report = outline(given(rich_book(), leading, other))
    findings = section(report, "Findings").blocks
    heading = next(n for n, b in enumerate(findings) if isinstance(b, Heading) and "Another explanation" in b.text)
    after = findings[heading + 1 : heading + 6]
    assert [b.head or b.text for b in after] == [
        "Why it was examined.", "Conclusion.", "Looked for and not there.", "What would settle it.", SHORT_FORM,
    ]  # fmt: skip
    assert after[3].text == "(1) Bench test of the original module. (2) Open the module."
    assert "evidence assess --json" in SHORT_FORM
    assert not any(isinstance(b, Table) and any("Bench test" in c for r in b.rows for c in r.cells) for b in findings[heading:])
    assert "Another explanation" not in words(section(report, "Alternatives considered").blocks)


def test_a_second_supported_explanation_is_printed_in_full():
    leading = candidate()
    other = dataclasses.replace(leading, mechanism="another", title="Another explanation")
    report = outline(given(rich_book(), leading, other))
    assert "Against: Another explanation" in words(section(report, "Alternatives considered").blocks)


def test_what_altering_tests_wait_for_is_said_once_where_it_is_the_same_and_in_the_row_where_it_is_not():
    same = words(section(outline(given(rich_book(), with_steps((False, True), (False, True)))), "What to capture next").blocks)
    assert same.lower().count("wait for notice") == 1
    assert "These are not offered yet. Wait: wait for notice." in same
    assert CONSENT in same
    base = with_steps((False, True), (False, True))
    other = dataclasses.replace(base, plan=(base.plan[0], dataclasses.replace(base.plan[1], waiting="no consent is on record")))
    each = words(section(outline(given(rich_book(), other)), "What to capture next").blocks)
    assert "Wait: wait for notice." in each
    assert "Wait: no consent is on record." in each


def test_every_caution_of_the_entry_and_its_steps_stands_once_before_the_steps():
    base = with_steps((True, False), (False, False))
    hot = (("hot", "hot parts burn"),)
    leading = dataclasses.replace(base, cautions=hot, safety_note="never alone", plan=tuple(dataclasses.replace(s, cautions=hot) for s in base.plan))
    page = words(section(outline(given(rich_book(), leading)), "What to capture next").blocks)
    assert page.count("Hot: hot parts burn.") == 1
    assert page.count("Never alone (A).") == 1
    assert page.index("Hot: hot parts burn.") < page.index("Never alone (A).") < page.lower().index("step number 1")
    assert page.count("Caution: hot.") == 2  # each step names it; the text stands once


def test_every_step_has_an_empty_box_to_tick():
    report = outline(given(rich_book(), with_steps((True, False), (False, False), (False, True))))
    blocks = section(report, "What to capture next").blocks
    rows = [row for b in blocks if isinstance(b, Table) for row in b.rows]
    assert [row.cells[0] for row in rows] == ["A", f"{BOX} 1", f"{BOX} 2", f"{BOX} 3"]

"""What to capture next stands where it is needed, and explanations without support are printed in short."""

import dataclasses

from evidence.report.blocks import Bullets, Heading, Para, Table
from evidence.report.outline import outline
from evidence.report.pages.next_steps import BOX, MAKER_RULES

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
    assert "Wait: Wait for notice" in page
    assert MAKER_RULES in page
    assert BOX in page


def test_an_explanation_without_support_is_printed_in_short():
    leading = candidate()
    weight = dataclasses.replace(leading.weight, side="neither", band="no support either way")
    other = dataclasses.replace(leading, mechanism="another", title="Another explanation", weight=weight)
    report = outline(given(rich_book(), leading, other))
    findings = section(report, "Findings").blocks
    heading = next(n for n, b in enumerate(findings) if isinstance(b, Heading) and "Another explanation" in b.text)
    after = findings[heading + 1 : heading + 4]
    assert all(isinstance(b, Para) for b in after)
    assert "--mechanism another" in after[2].text
    assert "Another explanation" not in words(section(report, "Alternatives considered").blocks)


def test_a_second_supported_explanation_is_printed_in_full():
    leading = candidate()
    other = dataclasses.replace(leading, mechanism="another", title="Another explanation")
    report = outline(given(rich_book(), leading, other))
    assert "Against: Another explanation" in words(section(report, "Alternatives considered").blocks)

"""Laws of selective disclosure, on the demonstration dossiers and on arbitrary dossiers about one mechanism.

A choice is either refused, or no conclusion about the shown part is stronger than about the whole. "Stronger" is measured
here on its own, without the comparison that the refusal uses. And whatever is left out, what is shown can be assessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import pytest
from evidence.bootstrap import demo_dossiers
from evidence.capture.sources import open_handed
from evidence.model.dossier import Dossier, Step, fold
from evidence.model.kinds import KINDS
from evidence.review.disclosing import culprits, gains
from evidence.rules.assess import assess
from evidence.rules.assessment import Assessment, Candidate
from evidence.rules.pack import Pack
from evidence.rules.weighing import BANDS
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_assess_laws import ACTS, acts, ignition, made

from build import packs, vocabulary
from rich_dossier import rich_book

LEVEL = {words: n for n, _, words in BANDS}
quick = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
CEILING_LEVEL = {"candidate only": -1, "no statement": -1, "no support": 0, "weak support": 1, "moderate support": 2}


def without(steps: tuple[Step, ...], withheld: frozenset[str]) -> Dossier:
    return fold("l", (replace(s, body=None, reason="", via="", value=None) if s.subject in withheld else s for s in steps))


def subjects(steps: tuple[Step, ...]) -> list[str]:
    return [s.subject for s in steps if s.action == "record" and s.kind != "dossier"]


def weighed(dossier: Dossier, own: Sequence[Pack]) -> Assessment:
    """Bands alone: what the laws compare, and all that makes a choice refused."""
    return assess(dossier, own, vocabulary(), firmness=False)


def for_it(c: Candidate) -> int:
    """How far the words go for the mechanism; below zero for another cause, or where there is no statement."""
    return -1 if c.weight.side in ("other", "none") else LEVEL.get(c.weight.band, 0)


def for_another(c: Candidate) -> int:
    return LEVEL[c.weight.band.removesuffix(" for some other cause")] if c.weight.side == "other" else 0


def not_stronger(whole: Assessment, part: Assessment) -> None:
    before = {c.mechanism: c for c in whole.candidates}
    for c in part.candidates:
        old = before.get(c.mechanism)
        assert for_it(c) <= (for_it(old) if old else 0)
        assert for_another(c) <= (for_another(old) if old else 0)
        if old is None:
            continue
        assert c.weight.ratio <= old.weight.ratio
        assert {a.id for a in c.alternatives if a.status == "excluded"} <= {a.id for a in old.alternatives if a.status == "excluded"}
        assert {a.id for a in c.alternatives if a.status == "supported"} == {a.id for a in old.alternatives if a.status == "supported"}
        assert {f.id for f in c.findings if f.answer == "met"} <= {f.id for f in old.findings if f.answer == "met"}
        assert {f.id for f in c.findings if f.answer == "not met"} == {f.id for f in old.findings if f.answer == "not met"}
        assert len(c.contradictions) >= len(old.contradictions)
        assert {e.name for e in c.elements if e.complete} <= {e.name for e in old.elements if e.complete}
        kept = {ceiling.code: CEILING_LEVEL[ceiling.at] for ceiling in c.ceilings}
        for ceiling in old.ceilings:
            if ceiling.code != "undisturbed":
                assert kept.get(ceiling.code, 9) <= CEILING_LEVEL[ceiling.at]
        if not any(f.limb == "D" and f.answer == "met" and f.undisturbed for f in old.findings):
            assert not any(f.limb == "D" and f.answer == "met" and f.undisturbed for f in c.findings)
    for mechanism, old in before.items():
        if for_it(old) > 0 or for_another(old) > 0 or old.contradictions:
            assert mechanism in {c.mechanism for c in part.candidates}


@cache
def demo(name: str) -> tuple[tuple[Step, ...], Assessment]:
    """The entries of a demonstration dossier as intake would record them, and the assessment of all of it."""
    import tempfile
    from pathlib import Path

    from evidence.bootstrap import make_workspace, open_desk
    from evidence.usecases.intake import Answers, intake_folder
    from evidence.usecases.pen import need
    from evidence.usecases.pen import steps as steps_of

    from fakes import NoPreviews, quiet

    with tempfile.TemporaryDirectory() as folder:
        make_workspace(Path(folder) / "w", recorder="R", zone="UTC")
        with open_desk(Path(folder) / "w") as desk:
            desk = replace(desk, previews=NoPreviews())
            intake_folder(desk, open_handed(demo_dossiers()[name]), Answers(), quiet)
            with desk.ledgers.reading() as view:
                steps = tuple(steps_of(view, need(view, name)))
    return steps, weighed(fold("l", steps), packs())


@pytest.mark.parametrize("name", sorted(demo_dossiers()))
@quick
@given(data=st.data())
def test_a_choice_from_a_demonstration_is_refused_or_makes_nothing_stronger(name: str, data: st.DataObject) -> None:
    steps, whole = demo(name)
    withheld = data.draw(st.frozensets(st.sampled_from(subjects(steps)), max_size=data.draw(st.sampled_from([1, 2, 5, 40]))))
    part = weighed(without(steps, withheld), packs())
    if not gains(whole, part):
        not_stronger(whole, part)


@quick
@given(acts, st.data())
def test_a_choice_from_any_dossier_is_refused_or_makes_nothing_stronger(names: list[str], data: st.DataObject) -> None:
    """Tests, contradictions, interventions and declarations in any mixture: here a choice often is refused."""
    case = made(names)
    examined = sorted({s for kind, s, _, _ in case.entries if kind not in ("dossier", "party", "vehicle")})
    withheld = data.draw(st.frozensets(st.sampled_from(examined), min_size=1, max_size=6))
    steps = tuple(_steps(case))
    whole = weighed(fold("l", steps), ignition())
    part = weighed(without(steps, withheld), ignition())
    found = gains(whole, part)
    if not found:
        not_stronger(whole, part)
        return

    def gained(some: frozenset[str]) -> tuple[object, ...]:
        return gains(whole, weighed(without(steps, some), ignition()))

    named = culprits(sorted(withheld), gained)  # type: ignore[arg-type]
    assert named.told
    if named.alone:
        assert all(gained(frozenset([s])) for s, _told in named.told)
    else:
        assert gained(frozenset(s for s, _told in named.told))


def _steps(case: object) -> list[Step]:
    seen = [
        Step(
            seq=v.seq, kind=recorded.kind, subject=recorded.subject, action=v.action, recorded_at=v.recorded_at,
            recorded_by=v.recorded_by, via=v.via, reason=v.reason, body=v.body or None,
        )
        for recorded in case.dossier().by_subject.values()  # type: ignore[attr-defined]
        for v in recorded.versions
    ]  # fmt: skip
    return sorted(seen, key=lambda s: s.seq)


def test_the_laws_see_both_refusals_and_leave() -> None:
    case = made(["eyelet off", "eyelet seated", "no pulses", "some pulses", "own work"])
    steps = tuple(_steps(case))
    whole = weighed(fold("l", steps), ignition())
    told = {s: gains(whole, weighed(without(steps, frozenset([s])), ignition())) for s in subjects(steps)}
    assert any(told.values())
    assert not all(told.values())
    assert ACTS


@quick
@given(st.data())
def test_whatever_is_left_out_of_a_rich_dossier_the_rest_is_assessed_and_printed(data: st.DataObject) -> None:
    """Parties, vehicle, instruments, exhibits that others name: "a record not held here", never a crash."""
    from evidence.report.outline import outline

    from rich_dossier import given as report_input

    book = rich_book()
    steps = tuple(book.steps)
    withheld = data.draw(st.frozensets(st.sampled_from(subjects(steps)), min_size=1))
    shown = without(steps, withheld)
    found = assess(shown, packs(), vocabulary())
    report = outline(replace(report_input(book), dossier=shown, assessment=found))
    assert report.sections
    assert {r.subject for r in shown.by_subject.values()} == {s.subject for s in steps if s.kind in KINDS} - withheld

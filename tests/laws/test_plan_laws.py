"""Laws of the capture plan, on arbitrary dossiers: what is answered never comes back, an altering test never stands before
an open other one of its entry, the order of recording does not matter, and one answer more never breaks it.
"""

from functools import cache

from evidence.rules.capture_plan import STAGES
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_assess_laws import ACTS, acts, made

from build import COIL, packs

quick = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@cache
def two_entries():
    """The entry, and another one that asks the same with other grades for a few findings: questions are shared."""
    pack = next(p for p in packs() if p.id == "ignition")
    one = next(m for m in pack.mechanisms if m.id == COIL)
    turned = {"F4": {"if_true": "unlikely"}, "F1": {"if_true": "possible"}}
    findings = tuple(f.model_copy(update=turned.get(f.id, {})) for f in one.findings[:9])
    named = {f.id for f in findings}
    others = tuple(
        a.model_copy(update={"excluded_by": tuple(n for n in a.excluded_by if n in named or n[0] == "C")}) for a in one.alternatives[:4]
    )
    other = one.model_copy(update={"id": "another-entry", "title": "Another entry", "findings": findings, "alternatives": others})
    return (pack.model_copy(update={"mechanisms": (one, other)}),)


def assessed(names):
    return made(names).assess(own=two_entries())


def asked(plan):
    """Mechanism and number of everything that is still asked."""
    return {(a.mechanism, n) for s in plan.steps for a in s.asked_by for n in a.numbers}


def told(plan):
    """The plan without the labels of records, which follow the order of recording."""
    return [
        (s.place, s.stage, s.what, s.bits, s.per_minute, s.minutes, s.asked_by, bool(s.waiting), s.slight) for s in plan.steps
    ]


@quick
@given(acts)
def test_what_is_answered_or_lost_is_not_asked_for(names):
    found = assessed(names)
    still = asked(found.plan)
    for candidate in found.candidates:
        for finding in (*candidate.findings, *candidate.common):
            if finding.answer in ("met", "not met", "not applicable"):
                assert (candidate.mechanism, finding.id) not in still, finding.id
        for rival in candidate.alternatives:
            if rival.status in ("excluded", "supported"):
                assert (candidate.mechanism, rival.id) not in still, rival.id
    for gone in found.plan.lost:
        assert not {(a.mechanism, n) for a in gone.asked_by for n in a.numbers} & still


@quick
@given(acts)
def test_every_open_finding_is_asked_for_lost_or_idle_by_its_own_question(names):
    found = assessed(names)
    spoken = asked(found.plan) | {(a.mechanism, n) for g in (*found.plan.lost, *found.plan.idle) for a in g.asked_by for n in a.numbers}
    for candidate in found.candidates:
        for finding in candidate.findings:
            if finding.answer in ("not measured", "undecided"):
                assert (candidate.mechanism, finding.id) in spoken, finding.id


@quick
@given(acts)
def test_no_altering_test_before_an_open_other_one_of_its_entry(names):
    found = assessed(names)
    unread = {(c.mechanism, f.id) for c in found.candidates for f in c.findings if f.answer == "not measured" and not f.alters}
    for step in found.plan.steps:
        if not step.alters:
            continue
        entries = {a.mechanism for a in step.asked_by}
        before = [s for s in found.plan.steps if not s.alters and s.stage != "papers"]
        assert all(s.place < step.place for s in before if entries & {a.mechanism for a in s.asked_by})
        open_ones = [
            n for s in before for a in s.asked_by if a.mechanism in entries for n in a.numbers if (a.mechanism, n) in unread
        ]  # fmt: skip
        assert step.waiting or not open_ones, open_ones


@quick
@given(acts)
def test_stages_places_and_minutes_run_up(names):
    plan = assessed(names).plan
    stages = list(STAGES)
    assert [s.place for s in plan.steps] == list(range(1, len(plan.steps) + 1))
    assert [stages.index(s.stage) for s in plan.steps] == sorted(stages.index(s.stage) for s in plan.steps)
    for before, after in zip(plan.steps, plan.steps[1:], strict=False):
        assert after.running == before.running + after.minutes
    assert all(s.bits >= 0 and s.minutes > 0 for s in plan.steps)
    assert abs(sum(e.share for e in plan.explanations)) < 1


@quick
@given(acts, st.randoms(use_true_random=False))
def test_the_order_of_recording_does_not_matter(names, random):
    fixed = [n for n in names if n not in ("touched", "after refit")]
    shuffled = list(fixed)
    random.shuffle(shuffled)
    one, other = assessed(fixed).plan, assessed(shuffled).plan
    assert told(one) == told(other)
    assert one.verdict == other.verdict
    assert [(g.what, g.why) for g in one.idle] == [(g.what, g.why) for g in other.idle]


@quick
@given(acts, st.sampled_from(sorted(ACTS)))
def test_one_record_more_asks_nothing_again_that_it_left_answered(names, more):
    before, after = assessed(names), assessed([*names, more])
    open_now = {
        (c.mechanism, f.id) for c in after.candidates for f in (*c.findings, *c.common) if f.answer in ("not measured", "undecided")
    }
    fresh = asked(after.plan) - asked(before.plan)
    assert all(n[0] in "AG" or (m, n) in open_now for m, n in fresh)


@quick
@given(acts)
def test_when_it_says_enough_nothing_is_left_to_do(names):
    plan = assessed(names).plan
    assert plan.matters == bool(plan.steps)
    if all(e.settled for e in plan.explanations):
        assert not any(s.stage == "untouched" and s.lines for s in plan.steps)

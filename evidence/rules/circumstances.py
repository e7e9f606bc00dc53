"""Does a record speak of what is asked, and under the circumstances asked? Fits, near (with the reason), or other.

Components are matched through the vocabulary. What a record does not state does not match; it is listed as near. A state
that the time does not decide takes support away, and leaves an adverse reading its weight.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.repair import Intervention, WorkOrder
from evidence.rules.asks import Taken
from evidence.rules.criteria import Step
from evidence.rules.holdings import Holdings, Item
from evidence.rules.vocabulary import Vocabulary
from evidence.timeline.order import milestone
from evidence.timeline.states import sure_before

BY_WORD = "by a person's word"
_ON_THE_VEHICLE = (None, "original", "claimed")


@dataclass(frozen=True, slots=True)
class Fit:
    """``near`` and ``unusable`` carry why."""

    kind: Literal["fits", "near", "other"]
    why: str = ""
    unusable: str = ""


_FITS = Fit("fits")


def _fits(unusable: str) -> Fit:
    return Fit("fits", unusable=unusable) if unusable else _FITS


@dataclass(frozen=True, kw_only=True)
class Setting:
    """For whom the question is asked: a mechanism's components, and what a person excused in writing."""

    holdings: Holdings
    vocabulary: Vocabulary
    components: tuple[str, ...]
    prior: Recorded[WorkOrder] | None = None  # the prior work order that called the mechanism up
    excused: frozenset[str] = frozenset()  # interventions of which a person says that they cannot matter
    limit_source: str = ""  # where the limits of the rule itself come from
    strict: bool = False  # only what may support is looked at
    bound: frozenset[str] = frozenset()  # records that a person binds to the finding
    unbound: frozenset[str] = frozenset()
    exactly: str | None = None  # one intervention: only the state right after it
    ahead_of: str | None = None  # one intervention: only states from which it is the next
    _related: dict[tuple[str, ...], frozenset[str]] = field(default_factory=dict)

    @cached_property
    def strictly(self) -> Setting:
        """The same, where only what may support is looked at."""
        return replace(self, strict=True)

    def touching(self, components: Iterable[str], actions: tuple[str, ...] | None = None) -> frozenset[str]:
        """Interventions on any of the components, whatever the name they were recorded under."""
        key = (*components, "/", *(actions or ()))
        if key not in self._related:
            self._related[key] = frozenset(
                subject
                for subject, step in self.holdings.states.steps.items()
                if self._touches(step.value, key[: key.index("/")], actions)
            )
        return self._related[key]

    def _touches(self, step: Intervention, components: tuple[str, ...], actions: tuple[str, ...] | None) -> bool:
        if actions and step.action not in actions:
            return False
        return any(self.related(a, b) for a in step.components for b in components)

    def related(self, one: str, other: str) -> bool:
        """Whether one lies in the other or is it."""
        return self.vocabulary.within(one, other) or self.vocabulary.within(other, one)


def fit(item: Item, ask: Taken, setting: Setting) -> Fit:
    """How far the item answers the ask, value apart."""
    if item.subject in setting.unbound:
        return Fit("near", "a person says that it does not answer this")
    plain = _fit(item, ask, setting)
    if item.subject in setting.bound and plain.kind != "fits":
        return Fit("fits", why=BY_WORD, unusable=item.unusable)
    return plain


def _fit(item: Item, ask: Taken, setting: Setting) -> Fit:
    place = _place(item, ask, setting)
    if place.kind != "fits":
        return place
    if why := _which(item, ask) or _when(item, ask) or _given(item, ask, setting):
        return Fit("near", why)
    state = _state(item, ask, setting)
    if state.kind != "fits":
        return state
    return _fits(item.unusable or item.met.contradicted or state.unusable)


def _place(item: Item, ask: Taken, setting: Setting) -> Fit:
    vocabulary = setting.vocabulary
    if not any(vocabulary.within(item.of, wanted) for wanted in ask.of):
        if any(vocabulary.within(wanted, item.of) for wanted in ask.of):
            return Fit("near", f"speaks of the {say(item.of)}, not of the {say(ask.of[0])} itself")
        return Fit("other")
    if ask.to:
        if item.to is None:
            return Fit("near", f"does not state the second test point, {say(ask.to[0])}")
        if not any(vocabulary.within(item.to, wanted) for wanted in ask.to):
            return Fit("near", f"was taken against {say(item.to)}, not {say(ask.to[0])}")
    return _FITS


def _which(item: Item, ask: Taken) -> str:
    wanted = _ON_THE_VEHICLE if ask.which in _ON_THE_VEHICLE else (ask.which,)
    if item.which in wanted:
        return ""
    stated = f"is of the {say(item.which)} part" if item.which else "does not state which part it is of"
    return f"{stated}; asked is {say(ask.which) if ask.which else 'the part on the vehicle'}"


def _when(item: Item, ask: Taken) -> str:
    missing = [c for c in ask.when if c not in item.conditions]
    return f"does not state {', '.join(map(say, missing))}" if missing else ""


def _given(item: Item, ask: Taken, setting: Setting) -> str:
    for circumstance in ask.given:
        reading = item.circumstances.get(circumstance.name)
        if reading is None:
            return f"does not state the {say(circumstance.name)}"
        if not setting.holdings.fixed.meets(reading, circumstance.bound):
            return f"its {say(circumstance.name)} of {reading.words()} does not meet what is asked"
    return ""


def _state(item: Item, ask: Taken, setting: Setting) -> Fit:
    if ask.state and item.state != ask.state:
        if item.state is None:
            return Fit("near", f"does not state that the state was {say(ask.state)}")
        return Fit("near", f"met the state {say(item.state)}; asked is {say(ask.state)}")
    before = _before(item, ask, setting)
    if before.kind != "fits":
        return before
    if ask.before is None and (earlier := _before_the_work(item, setting)):
        return earlier
    if setting.exactly:
        state = _right_after(item, frozenset({setting.exactly}), setting)
    elif ask.after:
        state = _right_after(item, _steps(ask.after, setting), setting)
    elif ask.lasting:
        state = _FITS
    else:
        state = _as_found(item, ask, setting)
    return state if state.kind != "fits" or state.unusable else _fits(before.unusable)


def _steps(step: Step, setting: Setting) -> frozenset[str]:
    return setting.touching(step.on, step.action)


def _before(item: Item, ask: Taken, setting: Setting) -> Fit:
    if ask.before is None:
        return _FITS
    moment = milestone(setting.holdings.dossier, ask.before, setting.prior)
    if moment is None:
        return Fit("fits", unusable=f"the {say(ask.before)} it must precede is not on record")
    if sure_before(moment.span, item.span):
        return Fit("near", f"came after the {say(ask.before)} ({moment.record})")
    if sure_before(item.span, moment.span):
        return _FITS
    return Fit("fits", unusable=f"its time does not show that it came before the {say(ask.before)} ({moment.record})")


def _before_the_work(item: Item, setting: Setting) -> Fit | None:
    """What was read before the prior work was done shows nothing of what that work left."""
    done = milestone(setting.holdings.dossier, "prior_work_closed", setting.prior)
    if done and sure_before(item.span, done.span):
        return Fit("near", f"came before the prior work was finished ({done.record})")
    return None


def _right_after(item: Item, wanted: frozenset[str], setting: Setting) -> Fit:
    """The state that an intervention opened, up to the next intervention of any kind."""
    states = setting.holdings.states
    if not wanted:
        return Fit("other")
    open_now = {s for s in wanted if s in item.met.after and not _later(item, s, setting)}
    if open_now:
        return _FITS
    if possible := {s for s in wanted if s in item.met.after | item.met.unclear}:
        closed_by = {x for s in possible for x in _later(item, s, setting, sure=True)}
        if closed_by:
            return Fit("near", f"met a later state, after {', '.join(states.labels(closed_by))}")
        return Fit("fits", unusable=f"its time does not show that it met the state after {_names(possible, setting)}")
    return Fit("near", f"came before {_names(wanted, setting)}")


def _later(item: Item, step: str, setting: Setting, *, sure: bool = False) -> frozenset[str]:
    """Interventions after ``step`` that the item came after too, or for all we know may have."""
    passed = item.met.after if sure else item.met.after | item.met.unclear
    following = setting.holdings.states.following(step)
    undecided = frozenset() if sure else item.met.unclear - {step}
    return ((passed & following) | undecided) - setting.excused


def _names(steps: Iterable[str], setting: Setting) -> str:
    return " or ".join(setting.holdings.states.labels(steps))


def _as_found(item: Item, ask: Taken, setting: Setting) -> Fit:
    """Before the first intervention on a component of the mechanism, or of the place asked about."""
    states = setting.holdings.states
    touching = setting.touching((*setting.components, *ask.of)) - setting.excused
    if passed := touching & item.met.after:
        said = ", although it is recorded as undisturbed" if item.state == "undisturbed" else ""
        return Fit("near", f"came after {', '.join(states.labels(passed))}{said}")
    if item.state == "after_repair" and ask.state is None:
        return Fit("near", "met the state after repair, not the vehicle as found")
    if ahead := _not_next(item, setting):
        return ahead
    unclear = touching & item.met.unclear
    if unclear and item.state != "undisturbed":
        return Fit("fits", unusable=f"its time does not show that it came before {_names(unclear, setting)}")
    return _FITS


def _not_next(item: Item, setting: Setting) -> Fit | None:
    """For a change: exactly one intervention may lie between the reading before and the reading after."""
    step = setting.ahead_of
    if step is None:
        return None
    states = setting.holdings.states
    if step in item.met.after:
        return Fit("near", f"came after {', '.join(states.labels({step}))}")
    between = {
        s
        for s in states.earlier[step] - setting.excused
        if s in item.met.before or (s in item.met.unclear and item.state != "undisturbed")
    }
    if between:
        return Fit("near", f"{', '.join(states.labels(between))} lies between it and {_names({step}, setting)}")
    return None

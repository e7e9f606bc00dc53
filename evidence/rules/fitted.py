"""Readings as they answer one question, each worked out once: who asks the same in the same situation gets the same answer.

Many mechanisms ask the same of the same reading, each asks it twice (of all that fits, and of what may support), and asks it
again as the record would stand without one of its readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from evidence.rules.asks import Read, Taken
from evidence.rules.assessment import Near
from evidence.rules.circumstances import BY_WORD, Setting, fit
from evidence.rules.holdings import Item
from evidence.rules.replies import Judged, Reply


@dataclass(frozen=True, slots=True)
class Fitted:
    """One reading held to a question: as it answers it, as it does where only support counts, and why it is near."""

    item: Item | None
    strict: Item | None
    near: Near | None  # where it does not answer
    unusable: Near | None  # where it does, and supports nothing


@dataclass(frozen=True, slots=True)
class Question:
    """One ask in one situation. Readings are told apart by identity: the holdings that keep this keep them too."""

    ask: Taken
    fitted: dict[int, Fitted] = field(default_factory=dict)
    # By the readings gone through (kept here, so that they stay who they are) and whether only support counts.
    gathered: dict[tuple[int, bool], tuple[Sequence[Item], list[Item], list[Near]]] = field(default_factory=dict)
    judged: dict[tuple[int, str], Judged | Near] = field(
        default_factory=dict
    )  # by reading and source of the rule's limits
    # By source of the rule's limits, the readings that answer and those that are near.
    replies: dict[tuple[str, tuple[int, ...], tuple[int, ...]], Reply] = field(default_factory=dict)

    def fit(self, item: Item, setting: Setting) -> Fitted:
        """The reading held to the question."""
        known = self.fitted.get(id(item))
        if known is None:
            known = self.fitted[id(item)] = _fitted(item, self.ask, setting)
        return known


def question(ask: Taken, setting: Setting) -> Question:
    """What is known of the readings under this question so far."""
    touching = setting.touching((*setting.components, *ask.of)) - setting.excused
    prior = setting.prior.subject if setting.prior else ""
    situation = (touching, prior, setting.excused, setting.bound, setting.unbound, setting.exactly, setting.ahead_of)
    key = (ask, situation)
    known: Question | None = setting.holdings.questions.get(key)
    if known is None:
        known = setting.holdings.questions[key] = Question(ask)
    return known


def _fitted(item: Item, ask: Taken, setting: Setting) -> Fitted:
    if isinstance(ask, Read) and ask.every_module:
        item = replace(item, of=ask.of[0])  # asked of the whole vehicle: each module counts, whatever 'of' names first
    how = fit(item, ask, setting)
    if how.kind != "fits":
        near = Near(record=item.label, why=how.why or how.unusable) if how.kind == "near" else None
        return Fitted(None, None, near, None)
    # A person's word can make a record answer; it cannot make it one of the undisturbed state.
    by_word = how.why == BY_WORD
    found = item
    if by_word or how.unusable != item.unusable:
        state = None if by_word else item.state
        found = replace(item, unusable=how.unusable, state=state, by_word=by_word)
    if how.unusable:
        return Fitted(found, None, None, Near(record=item.label, why=how.why or how.unusable))
    value = found.value.to_support() if found.value else None
    strict = found if value is found.value else replace(found, value=value)
    return Fitted(found, strict, None, None)

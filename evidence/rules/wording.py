"""Asks in words, for the capture plan and for a reader of a rule."""

from __future__ import annotations

from evidence.model.base import say
from evidence.rules.asks import AllOf, AnyOf, Change, Computed, Document, Feature, Measure, Observe, Read, Taken
from evidence.rules.criteria import Between, Bound, Closed, Number, Relative
from evidence.rules.vocabulary import Vocabulary

_SIGNS = {"<=": "≤", ">=": "≥", "==": "="}
_TAKES = {
    "any": "at any {}", "all": "at every {}", "none": "at no {}", "some": "at some {}s, not all",
    "2+": "at two or more {}s",
}  # fmt: skip
_COMPUTED = {
    "prior_work_in_hand": "the prior work order in hand", "opportunity": "prior work with hands on the part",
    "absent_before": "that the effect was absent before", "latency": "the onset inside the latency window",
    "nobody_else": "that nobody else worked there", "captured_undisturbed": "the departure captured before first touch",
    "instruments_known": "every instrument with its calibration or check", "standard_cited": "the maker's document, by page",
    "damage_on_path": "damage on the causal path only", "cured": "the same test before and after one change",
    "rivals_dealt_with": "every alternative dealt with", "exclusions_hold": "every exclusion finding in order",
}  # fmt: skip


def in_words(ask: Closed, vocabulary: Vocabulary) -> str:
    """What is asked, in one line."""
    if isinstance(ask, AllOf):
        return "; and ".join(in_words(a, vocabulary) for a in ask.every)
    if isinstance(ask, AnyOf):
        return "; or ".join(in_words(a, vocabulary) for a in ask.one)
    if isinstance(ask, Change):
        across = _named(ask.across, vocabulary)
        what = ask.change if isinstance(ask.change, str) else in_words(ask.change, vocabulary)
        return f"{what} again after one change at the {across}, nothing else touched in between"
    if isinstance(ask, Document):
        verb, words = ("says", ask.says) if ask.says else ("carries", ask.carries)
        return f"whether the {say(ask.document)} {verb} {', '.join(map(say, words or ()))}"
    if isinstance(ask, Computed):
        span = f"{ask.computed} from {say(ask.start)} to {say(ask.to)}"
        told = f"{span}: {number_words(ask.held)}" if ask.held else _COMPUTED.get(ask.computed, say(ask.computed))
        return f"{told} ({say(ask.by)})" if ask.by != "anyone" else told
    assert isinstance(ask, Taken)
    return _taken(ask, vocabulary)


def number_words(number: Number) -> str:
    """A criterion in words."""
    unit = "" if getattr(number, "unit", None) in (None, "count") else f" {number.unit}"
    if isinstance(number, Bound):
        words = f"{_SIGNS.get(number.op, number.op)} {number.value}{unit}"
    elif isinstance(number, Between):
        words = f"{number.between[0]} to {number.between[1]}{unit}"
    elif isinstance(number, Relative):
        times = f"{number.times} times " if number.times else ""
        plus = f" plus {number.plus}{unit}" if number.plus else ""
        words = f"{_SIGNS.get(number.op, number.op)} {times}{_of(number.of)}{plus}"
    else:
        words = f"within {number.within}{unit} of {_of(number.of)}"
    figure = getattr(number, "figure", None)
    return f"{words} (the maker's figure goes before)" if figure else words


def _of(reference: str) -> str:
    if reference == "others":
        return "the median of the like parts"
    return f"the maker's figure {say(reference.removeprefix('maker/'))}"


def _taken(ask: Taken, vocabulary: Vocabulary) -> str:
    what, wanted = _what(ask)
    of = _named(ask.of, vocabulary)
    whole = isinstance(ask, Read) and ask.every_module  # said already, as what is itself asked about may be
    bits = [
        (what if whole or of == what else f"{what} of the {of}")
        + (f" to the {_named(ask.to, vocabulary)}" if ask.to else "")
    ]
    bits += [f"{say(ask.which)} part"] if ask.which else []
    bits += [say(c) for c in ask.when]
    bits += [f"{say(g.name)} {number_words(g.bound)}" for g in ask.given]
    bits += [f"{say(ask.state)} state"] if ask.state else []
    bits += [f"before {say(ask.before)}"] if ask.before else []
    bits += [f"after work on the {_named(ask.after.on, vocabulary)}"] if ask.after else []
    if ask.over and ask.over.take:
        bits.append(_TAKES[ask.over.take].format(say(ask.over.every)))
    elif ask.over:
        how = "lowest over highest" if ask.over.reduce == "low/high" else "highest less lowest"
        bits.append(f"{how} over every {say(ask.over.every)}")
    return f"{', '.join(bits)}: {wanted}"


def _what(ask: Taken) -> tuple[str, str]:
    if isinstance(ask, Measure):
        return say(ask.measure), number_words(ask.held)
    if isinstance(ask, Feature):
        return f"{say(ask.feature)} in a trace", number_words(ask.held)
    if isinstance(ask, Observe):
        return say(ask.observe), " or ".join(map(say, ask.held))
    assert isinstance(ask, Read)
    held = " or ".join(map(say, ask.held)) if isinstance(ask.held, tuple) else number_words(ask.held)
    codes = f" {', '.join(ask.codes)}" if ask.codes else ""
    return f"{say(ask.read)}{codes}" + (" in every module" if ask.every_module else ""), held


def _named(components: tuple[str, ...], vocabulary: Vocabulary) -> str:
    return " or ".join(vocabulary.title(c) if c in vocabulary.components else say(c) for c in components)

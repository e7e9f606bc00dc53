"""Which asks are one question, whatever entry puts them.

An ask that names a finding of its entry, or rests on the entry's own components and answers, is equal to another only where
that is equal too.
"""

from __future__ import annotations

from evidence.rules.asks import AllOf, AnyOf, Change, Computed, parts_of, question
from evidence.rules.criteria import Closed
from evidence.rules.pack import Mechanism

# Computed asks that say the same of every entry: they rest on the dossier alone.
_OF_THE_DOSSIER = frozenset({"days", "distance", "instruments_known", "standard_cited"})


def key_of(ask: Closed, mechanism: Mechanism) -> str:
    """The text by which an ask of an entry is equal to another."""
    whole = _spelled_out(ask, mechanism)
    own = any(isinstance(p, Computed) and p.computed not in _OF_THE_DOSSIER for p in parts_of(whole))
    return question(whole) + (f" of {mechanism.id}" if own else "")


def _spelled_out(ask: Closed, mechanism: Mechanism) -> Closed:
    """The ask with findings that it names by id put in full."""
    if isinstance(ask, Change):
        told = {k: _named(v, mechanism) for k, v in (("change", ask.change), ("cured", ask.cured)) if v is not None}
        return ask.model_copy(update=told)
    if isinstance(ask, AllOf):
        return ask.model_copy(update={"every": tuple(_spelled_out(a, mechanism) for a in ask.every)})
    if isinstance(ask, AnyOf):
        return ask.model_copy(update={"one": tuple(_spelled_out(a, mechanism) for a in ask.one)})
    return ask


def _named(part: Closed | str, mechanism: Mechanism) -> Closed | str:
    if not isinstance(part, str):
        return part
    finding = mechanism.finding(part)
    return finding.asks if finding and finding.asks else part

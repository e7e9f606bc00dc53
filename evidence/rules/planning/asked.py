"""The questions that are still open, each once, whoever asks it, and what can no longer be answered."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from evidence.model.base import shorten
from evidence.model.kinds import enumerated
from evidence.rules.asks import AllOf, AnyOf, Change, Computed, Document, Measure, Observe, Read, Taken, parts_of
from evidence.rules.assessment import AlternativeResult
from evidence.rules.assessment import Change as Changing
from evidence.rules.capture_plan import Stage
from evidence.rules.criteria import Closed
from evidence.rules.examine import Examined
from evidence.rules.pack import Alternative, Finding
from evidence.rules.replies import Reply

REQUEST_ONLY = ("HV", "SRS")  # the finding is asked for; no steps are given
PAPERS = ("C1", "C2", "C3", "C4", "C7")  # common findings that a paper or a question settles
STILL_OPEN = ("not measured", "undecided")
_READ_ONCE = frozenset({"gaskets_on_seat", "seal_state", "bead"})


_NUMBER = re.compile(r"\b[A-Z]\d{1,2}\b")
_GENERAL = frozenset(f"G{n}" for n in range(1, 9))


@dataclass(frozen=True)
class Judged:
    """One candidate as it was judged."""

    examined: Examined
    rivals: tuple[AlternativeResult, ...]
    common: Mapping[str, Reply]  # C1 to C10
    band: str
    changes: tuple[Changing, ...]  # results that alone would give another band; looked for where it has some support

    @cached_property
    def id(self) -> str:
        """Of the mechanism."""
        return self.examined.call.mechanism.id

    @cached_property
    def alternatives(self) -> Mapping[str, Alternative]:
        """Its own and the general ones, by number."""
        return {a.id: a for a in self.examined.call.alternatives}

    @property
    def keys(self) -> Mapping[str, str]:
        """The question of each finding and alternative, by number."""
        return self.examined.call.keys


@dataclass
class Asked:
    """One open question with all who ask it; asked for its properties only once everybody has been gathered."""

    key: str
    asks: Closed | None
    findings: list[tuple[Judged, Finding]] = field(default_factory=list)
    alternatives: list[tuple[Judged, Alternative]] = field(default_factory=list)

    @cached_property
    def parts(self) -> tuple[Closed, ...]:
        """Every ask inside it."""
        return parts_of(self.asks) if self.asks else ()

    @cached_property
    def what(self) -> str:
        """In the words of the first who asks."""
        text = self.findings[0][1].statement if self.findings else self.alternatives[0][1].test
        return self.named(text)

    def named(self, text: str) -> str:
        """A text of the first who asks, with what its numbers of findings and alternatives stand for."""
        mechanism = self.askers[0].examined.call.mechanism
        names = {f.id: f.statement for f in mechanism.findings} | {a.id: a.claim for a in mechanism.alternatives}
        return _NUMBER.sub(lambda m: f"“{_clause(names[m[0]])}”" if m[0] in names else m[0], text)

    @cached_property
    def general(self) -> str:
        """The number of the general alternative, where nothing but general alternatives of that number ask."""
        numbers = {a.id for _, a in self.alternatives}
        return next(iter(numbers)) if not self.findings and len(numbers) == 1 and numbers <= _GENERAL else ""

    @cached_property
    def touched(self) -> tuple[str, ...]:
        """The components that it is asked of, or that work must be done on for it."""
        found = (p.across if isinstance(p, Change) else p.of for p in self.parts if isinstance(p, (Taken, Change)))
        return tuple(dict.fromkeys(c for components in found for c in components))

    @cached_property
    def entries(self) -> tuple[tuple[Judged, Finding | Alternative], ...]:
        """Findings and alternatives that ask it, findings first."""
        return (*self.findings, *self.alternatives)

    @cached_property
    def askers(self) -> tuple[Judged, ...]:
        """The candidates that ask, each once."""
        return tuple({j.id: j for j, _ in self.entries}.values())

    @cached_property
    def alters(self) -> bool:
        """Whether answering it changes the state. An alternative does not state it: what it asks tells."""
        return any(f.alters for _, f in self.findings) or (not self.findings and any(map(_changes, self.parts)))

    @cached_property
    def undisturbed(self) -> bool:
        """Whether any touch, or clearing a memory, takes the answer away."""
        return any(isinstance(p, Taken) and _first_touch(p) for p in self.parts)

    @cached_property
    def one_shot(self) -> bool:
        """Whether it can be read once."""
        return any(_once(part, alters=self.alters) for part in self.parts)

    @cached_property
    def request_only(self) -> bool:
        """Whether an entry that asks it works on high voltage or restraints."""
        return any(code in REQUEST_ONLY for j in self.askers for code in j.examined.call.mechanism.safety.codes)

    @cached_property
    def paper(self) -> bool:
        """Whether papers and answers settle it, not the vehicle."""
        return bool(self.parts) and all(isinstance(p, (Document, Computed, AllOf, AnyOf)) for p in self.parts)

    @cached_property
    def stage(self) -> Stage:
        """When it is done."""
        if self.paper:
            return "papers"
        if self.alters:
            return "altering"
        if self.undisturbed:
            return "untouched"
        taken = [p for p in self.parts if isinstance(p, Taken)]
        lasting = not taken or any(p.lasting or p.after for p in taken)
        return "lasting" if lasting else "as_found"

    @cached_property
    def unread(self) -> frozenset[str]:
        """Mechanisms that ask it by a finding of which nothing is on record."""
        return frozenset(j.id for j, f in self.findings if j.examined.replies[f.id].answer == "not measured")


@dataclass(frozen=True)
class Missed:
    """A question that can no longer be answered for a candidate."""

    key: str
    judged: Judged
    number: str
    what: str
    why: str


def gathered(all_judged: Sequence[Judged]) -> tuple[tuple[Asked, ...], tuple[Missed, ...]]:
    """The open questions in the order in which the packs ask them, and what is lost."""
    asked: dict[str, Asked] = {}
    missed: list[Missed] = []
    for judged in all_judged:
        for finding in judged.examined.call.mechanism.findings:
            key = judged.keys[finding.id]
            if judged.examined.replies[finding.id].answer not in STILL_OPEN:
                continue
            why = lost(finding, judged.examined)
            if why:
                missed.append(Missed(key, judged, finding.id, finding.statement, why))
            else:
                asked.setdefault(key, Asked(key, finding.asks)).findings.append((judged, finding))
    for judged in all_judged:
        for alternative, why in _open_alternatives(judged):
            key = judged.keys[alternative.id]
            if why:
                missed.append(Missed(key, judged, alternative.id, alternative.test, why))
                continue
            asked.setdefault(key, Asked(key, alternative.asks)).alternatives.append((judged, alternative))
    return tuple(asked.values()), tuple(missed)


def lost(finding: Finding, examined: Examined) -> str:
    """Why a finding about the vehicle as found can no longer be made, or an empty text."""
    return _lost(finding.asks, examined) if finding.asks else ""


def _lost(asks: Closed, examined: Examined) -> str:
    parts = parts_of(asks)
    taken = [a for a in parts if isinstance(a, Taken)]
    if not taken or any(a.after or a.lasting for a in taken) or any(isinstance(a, Change) for a in parts):
        return ""
    gone: set[str] = set()
    for ask in taken:
        touched = examined.setting.touching((*examined.setting.components, *ask.of)) - examined.setting.excused
        if not touched:
            return ""
        gone |= touched
    return f"{enumerated(examined.setting.holdings.states.labels(gone))} came first; the state as found is gone"


def _open_alternatives(judged: Judged) -> list[tuple[Alternative, str]]:
    """Those whose own test is open, the guarded kinds first, and why it can no longer be made, or an empty text."""
    examined, every = judged.examined, judged.alternatives
    found = []
    for rival in sorted(judged.rivals, key=lambda r: (not r.guarded, r.general)):
        asks = every[rival.id].asks
        if rival.status not in ("open", "less supported") or asks is None:
            continue
        if all(isinstance(a, (Computed, AllOf, AnyOf)) for a in parts_of(asks)):
            continue  # the common papers settle it
        if (reply := examined.ask(asks)).answer in STILL_OPEN:
            found.append((every[rival.id], _lost(asks, examined) if reply.answer == "not measured" else ""))
    return found


def _clause(statement: str) -> str:
    return shorten(statement.partition(";")[0], 70)


def _first_touch(ask: Taken) -> bool:
    return ask.state == "undisturbed" or ask.before == "first_intervention" or "before-reset" in ask.when


def _changes(ask: Closed) -> bool:
    if isinstance(ask, Change):
        return True
    once = isinstance(ask, Measure) and _once(ask, alters=False)
    return once or (isinstance(ask, Taken) and ask.after is not None)


def _once(ask: Closed, *, alters: bool) -> bool:
    if isinstance(ask, Measure):
        return ask.measure == "breakaway_torque"
    if isinstance(ask, Read):
        return ask.read == "codes" and "before-reset" in ask.when
    return isinstance(ask, Observe) and alters and ask.observe in _READ_ONCE

"""What the dossier holds, indexed once by kind, quantity, feature and aspect, so that a question finds its records.

An item is one reading: a measurement, one feature of a trace, an observation, one module of a scan, an answer of an
actuator. It carries where it stands in time and why it may not support anything (no instrument, no time base, no
calibration); such an item takes support away, and never the weight of an adverse reading.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

from evidence.measure.features import of_feature
from evidence.measure.uncertainty import Value, of_measurement, of_reading
from evidence.model.dossier import Dossier, Recorded
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation, Taken
from evidence.model.exhibit import Exhibit
from evidence.model.happening import DossierOpening
from evidence.model.instrument import Instrument
from evidence.model.people import Binding, Resolution
from evidence.model.quantity import DecisionRule, Reading, implied
from evidence.model.references import references
from evidence.model.repair import WorkOrder
from evidence.model.vehicle import MakerFigure, ModuleIdentity, Vehicle
from evidence.model.waveform import Waveform
from evidence.model.when import TimeSpan
from evidence.rules.asks import FEATURES
from evidence.rules.limits import Fixed
from evidence.timeline.clocks import Clocks
from evidence.timeline.devices import originals
from evidence.timeline.stated import stated
from evidence.timeline.states import StateMet, States, sure_before
from evidence.timeline.tightened import Tightened, tighten

# Kinds on which nothing else of the dossier depends.
READINGS = frozenset(
    {"measurement", "waveform", "observation", "code_scan", "actuator_test", "module_identity", "owner_declaration"}
)
_MEASURED_KINDS = ("measurement", "waveform")
_INDEXES = ("measured", "features", "observed", "read")
_NOWHERE = StateMet(after=frozenset(), before=frozenset(), unclear=frozenset())


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One reading of the record, ready to be asked."""

    label: str
    subject: str
    kind: str
    of: str
    to: str | None = None
    position: str | None = None
    which: str | None = None
    conditions: frozenset[str] = frozenset()
    circumstances: Mapping[str, Reading] = field(default_factory=dict)
    state: str | None = None
    met: StateMet = _NOWHERE
    span: TimeSpan | None = None
    value: Value | None = None
    word: str | None = None
    unusable: str = ""  # why it cannot support anything
    codes: tuple[str, ...] = ()
    all_modules: bool | None = None
    by_word: bool = False  # it answers because a person says so


class Holdings:
    """Indexes over one dossier. Standing records only; withdrawn ones answer nothing."""

    def __init__(self, dossier: Dossier) -> None:
        self.dossier = dossier
        self.questions: dict[object, Any] = {}  # what was worked out of the readings: kept for evidence.rules.fitted
        self._rebuilt: dict[str, Holdings] = {}  # without one record, by its subject
        self.states = States.of(dossier)
        self.clocks = Clocks.of(dossier)
        self.exhibits = originals(dossier)
        self.instruments = {i.subject: i for i in dossier.of(Instrument)}
        self.figures: dict[str, tuple[Recorded[MakerFigure], ...]] = {}  # by name, the newest first
        for figure in dossier.of(MakerFigure):
            self.figures[figure.value.figure] = (figure, *self.figures.get(figure.value.figure, ()))
        self.prior_orders = tuple(o for o in dossier.of(WorkOrder) if o.value.side == "prior_repairer")
        self.counts: dict[str, int] = {}
        for vehicle in dossier.of(Vehicle):
            self.counts.update(vehicle.value.counts)
        self.bindings: dict[str, list[Recorded[Binding]]] = defaultdict(list)
        for binding in dossier.of(Binding):
            self.bindings[binding.value.mechanism].append(binding)
        self.resolutions: dict[str, list[Recorded[Resolution]]] = defaultdict(list)
        for resolution in dossier.of(Resolution):
            self.resolutions[resolution.value.mechanism].append(resolution)

    def without(self, subject: str) -> Holdings:
        """The holdings of the same dossier without one record, as if it had been withdrawn.

        A reading leaves everything else as it was, so what is indexed is kept; anything else is read afresh.
        """
        kept = {s: r for s, r in self.dossier.by_subject.items() if s != subject}
        dossier = replace(self.dossier, by_subject=MappingProxyType(kept))
        gone = self.dossier.get(subject)
        if gone is None or gone.kind not in READINGS:
            if subject not in self._rebuilt:
                self._rebuilt[subject] = self._afresh(dossier)
            return self._rebuilt[subject]
        less = copy(self)
        less.dossier = dossier
        less.__dict__["by_subject"] = {s: items for s, items in self.by_subject.items() if s != subject}
        for made in ("measured_subjects", "instrument_labels", "instrument_faults"):
            less.__dict__.pop(made, None)
        for name in _INDEXES:
            index: Mapping[str, tuple[Item, ...]] = getattr(self, name)
            less.__dict__[name] = {k: tuple(i for i in items if i.subject != subject) for k, items in index.items()}
        return less

    def _afresh(self, dossier: Dossier) -> Holdings:
        """Holdings of another state of the record; its readings are the same where what they are made from is."""
        other = Holdings(dossier)
        basis = ("states", "clocks", "exhibits", "instruments", "vin")
        if all(getattr(self, b) == getattr(other, b) for b in basis):
            other.__dict__.update({name: getattr(self, name) for name in _INDEXES})
        if (self.figures, self.decision_rule) == (other.figures, other.decision_rule):
            other.__dict__["fixed"] = self.fixed
        return other

    @cached_property
    def opening(self) -> Recorded[DossierOpening] | None:
        """The record that says what the matter is."""
        return next(iter(self.dossier.of(DossierOpening)), None)

    @cached_property
    def decision_rule(self) -> DecisionRule | None:
        """The rule that the dossier states for its verdicts."""
        return self.opening.value.decision_rule if self.opening else None

    @cached_property
    def fixed(self) -> Fixed:
        """The limits that are the same for every reading."""
        return Fixed(self.figures, self.decision_rule)

    @cached_property
    def by_subject(self) -> Mapping[str, tuple[Item, ...]]:
        """Every item of a record."""
        found: dict[str, list[Item]] = defaultdict(list)
        for index in (self.measured, self.features, self.observed, self.read):
            for items in index.values():
                for item in items:
                    found[item.subject].append(item)
        return {subject: tuple(items) for subject, items in found.items()}

    @cached_property
    def rests_on(self) -> Mapping[str, tuple[str, ...]]:
        """What each record was read with, and the papers and pictures that show it: attack them and it falls."""
        found: dict[str, tuple[str, ...]] = {}
        for subject, record in self.dossier.by_subject.items():
            named = (self.dossier.get(to) for _path, to, _kinds in references(record.value))
            if under := tuple(r.subject for r in named if r and r.kind in ("instrument", "exhibit")):
                found[subject] = under
        return found

    @cached_property
    def measured_subjects(self) -> frozenset[str]:
        """The records that were read with an instrument."""
        return frozenset(s for s, r in self.dossier.by_subject.items() if r.kind in _MEASURED_KINDS)

    @cached_property
    def instrument_labels(self) -> tuple[str, ...]:
        """The labels of everything read with an instrument that has a value."""
        return tuple(dict.fromkeys(i.label for index in self._read_with for found in index.values() for i in found))

    @property
    def _read_with(self) -> tuple[Mapping[str, tuple[Item, ...]], ...]:
        return (self.measured, self.features)

    @cached_property
    def instrument_faults(self) -> Mapping[str, str]:
        """What keeps a reading of an instrument from supporting anything, in words, and the label of the reading."""
        items = (i for index in self._read_with for found in index.values() for i in found)
        return {f"{i.label} {i.unusable}": i.label for i in items if i.unusable}

    @cached_property
    def times(self) -> Tightened:
        """Every time as tight as the record as a whole allows: facts only."""
        return tighten(stated(self.dossier))

    @cached_property
    def vin(self) -> str | None:
        """The vehicle's number by the vehicle record."""
        return next((v.value.vin for v in self.dossier.of(Vehicle) if v.value.vin), None)

    @cached_property
    def measured(self) -> Mapping[str, tuple[Item, ...]]:
        """By quantity."""
        found: dict[str, list[Item]] = defaultdict(list)
        for r in self.dossier.of(Measurement):
            instrument = self.instruments.get(r.value.instrument or "")
            value = of_measurement(r.value, instrument.value if instrument else None, self._span(r.subject, r.value))
            item = self._item(r, r.value, of=r.value.of, to=r.value.to, value=value, needs_instrument=True)
            found[r.value.quantity].append(item)
        return {q: tuple(items) for q, items in found.items()}

    @cached_property
    def features(self) -> Mapping[str, tuple[Item, ...]]:
        """By feature of a trace. Other features of the same trace, or of the same part of it, stand in for circumstances."""
        found: dict[str, list[Item]] = defaultdict(list)
        for r in self.dossier.of(Waveform):
            every = r.value.all_features
            instrument = self.instruments.get(r.value.instrument or "")
            for f in every:
                beside = {
                    str(b.feature): Reading(value=b.value, unit=b.unit)
                    for b in reversed(every)  # what a person read stands before what the program read
                    if b.position is None or b.position == f.position
                }
                value = of_feature(f, FEATURES[f.feature], instrument.value if instrument else None)
                item = self._item(
                    r, r.value, of=f.of, position=f.position, value=value, needs_instrument=True, beside=beside
                )
                found[f.feature].append(item)
        return {name: tuple(items) for name, items in found.items()}

    @cached_property
    def observed(self) -> Mapping[str, tuple[Item, ...]]:
        """By aspect."""
        found: dict[str, list[Item]] = defaultdict(list)
        for r in self.dossier.of(Observation):
            found[r.value.aspect].append(self._item(r, r.value, of=r.value.of, word=r.value.seen))
        return {aspect: tuple(items) for aspect, items in found.items()}

    @cached_property
    def read(self) -> Mapping[str, tuple[Item, ...]]:
        """By what was read: codes, communication, response, coding, vin_stored, distance_since_cleared."""
        found: dict[str, list[Item]] = defaultdict(list)
        for r in self.dossier.of(CodeScan):
            for what, item in self._of_scan(r):
                found[what].append(item)
        for a in self.dossier.of(ActuatorTest):
            found["response"].append(self._item(a, a.value, of=a.value.of, word=a.value.response))
        for m in self.dossier.of(ModuleIdentity):
            for what, item in self._of_identity(m):
                found[what].append(item)
        return {what: tuple(items) for what, items in found.items()}

    def _of_scan(self, scan: Recorded[CodeScan]) -> Iterator[tuple[str, Item]]:
        value = scan.value
        reset = frozenset({"before-reset" if value.before_clearing else "after-reset"})
        for module in value.modules:
            silent = module.result == "no_communication"
            word = "silent" if silent else "answers"
            yield "communication", self._item(scan, value, of=module.module, word=word, more=reset)
            codes = tuple(c.code for c in module.codes)
            yield (
                "codes",
                self._item(
                    scan, value, of=module.module, word=word, more=reset, codes=codes, all_modules=value.all_modules
                ),
            )
        if since := value.distance_since_cleared:
            for module in value.modules:
                read = of_reading(since.value, since.unit)
                yield "distance_since_cleared", self._item(scan, value, of=module.module, value=read, more=reset)

    def _of_identity(self, identity: Recorded[ModuleIdentity]) -> Iterator[tuple[str, Item]]:
        value = identity.value
        taken = Taken(which=value.which, time=value.time, exhibits=value.exhibits)
        if value.coding in ("coded", "not_coded"):
            yield "coding", self._item(identity, taken, of=value.module, word=value.coding)
        if value.vin_stored and self.vin:
            word = "same" if value.vin_stored.upper() == self.vin else "differs"
            yield "vin_stored", self._item(identity, taken, of=value.module, word=word)

    def _item(
        self, recorded: Recorded[Any], taken: Taken, *, of: str, to: str | None = None, position: str | None = None,
        value: Value | None = None, word: str | None = None, needs_instrument: bool = False,
        more: frozenset[str] = frozenset(), beside: Mapping[str, Reading] | None = None,
        codes: tuple[str, ...] = (), all_modules: bool | None = None,
    ) -> Item:  # fmt: skip
        span = self._span(recorded.subject, taken)
        return Item(
            label=recorded.label, subject=recorded.subject, kind=recorded.kind, of=of, to=to,
            position=position or taken.position, which=taken.which, conditions=implied(taken.conditions) | more,
            circumstances={**(beside or {}), **taken.circumstances}, state=taken.state or self._state(taken),
            met=self.states.met_by(taken, span), span=span, value=value, word=word,
            unusable=self._unusable(taken, span, needs_instrument=needs_instrument) or (value.unreliable if value else ""),
            codes=codes, all_modules=all_modules,
        )  # fmt: skip

    def _span(self, subject: str, taken: Taken) -> TimeSpan | None:
        """The record's own time, else what its exhibits say: the recorder first, then the file. Clocks are put right."""
        if taken.time:
            return self.clocks.span(subject, taken.time)
        spans = [span for e in taken.exhibits if e in self.exhibits and (span := self._span_of(self.exhibits[e]))]
        if not spans:
            return None
        return TimeSpan(min(s.earliest for s in spans), max(s.latest for s in spans))

    def _span_of(self, exhibit: Recorded[Exhibit]) -> TimeSpan | None:
        when = exhibit.value.taken or (exhibit.value.read.captured if exhibit.value.read else None)
        return self.clocks.span(exhibit.subject, when) if when else None

    def _state(self, taken: Taken) -> str | None:
        states = {self.exhibits[e].value.state for e in taken.exhibits if e in self.exhibits} - {None}
        return next(iter(states)) if len(states) == 1 else None

    def _unusable(self, taken: Taken, span: TimeSpan | None, *, needs_instrument: bool) -> str:
        if span is None:
            return "has no time base"
        if not needs_instrument:
            return ""
        instrument = self.instruments.get(taken.instrument or "")
        if instrument is None:
            return "names no instrument"
        held = instrument.value
        if not (held.calibrated or held.checked_against or held.calibration_document):
            return f"was read with {instrument.label}, for which no calibration or check is stated"
        if held.calibration_due and sure_before(held.calibration_due.span, span):
            return f"was read with {instrument.label} after its calibration had run out"
        return ""

"""A whole dossier written from a row of the case table: which findings the record answers, and how.

Everything is invented. The story is always the same: a vehicle that was in order goes to a repairer, is brought back by its
owner, the effect sets in, a second shop takes down what it finds, and then puts things right one after another.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

from evidence.rules.asks import AllOf, AnyOf, Change, Computed, Document, Measure, Observe, Read, Taken
from evidence.rules.common import general_alternatives
from numbers_asked import Place, figure, quantity_of, relation, unit_for, written

from build import FINE, Case, vocabulary

CLOSED = dt.datetime(2026, 3, 2, 16)  # noqa: DTZ001 - the prior work; wall-clock times of one place
OUT_KM = 61_000
VIN = "1M8GDM9AXKP042788"
_CALM = ("rattle", "oil-leak", "wind-noise")  # complaints that the prior work order may carry


@dataclass(frozen=True)
class Row:
    """A row of the table."""

    case: str
    met: tuple[str, ...] = ()
    not_met: tuple[str, ...] = ()
    excluded: tuple[str, ...] = ()
    supported: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    expect: tuple[str, ...] = ()
    why: str = ""

    @property
    def mechanism(self):
        return self.case.split("/")[0]

    @property
    def sort(self):
        return self.case.split("/")[1]


class Unwritable(AssertionError):
    """The row asks for something that no record can say."""


@dataclass
class _Slot:
    """A stretch of time in which the state does not change."""

    day: dt.datetime
    step: str | None = None  # the intervention that opened it


@dataclass
class Story:
    """Writes the records; ``case`` can be changed further afterwards."""

    mechanism: object
    row: Row
    case: Case = field(default_factory=Case)

    def written(self):
        m, row = self.mechanism, self.row
        self.statements = {
            "own_work": "none",
            "accessory": "none",
            "other_repairer": "none",
            "condition_before": "none",
        }
        self.order_tags = [t for t in _CALM if t not in m.complaints][:1]
        self.order_parts = []
        self.slots = {}
        self.held = {}
        self.places = {}
        self.not_done = set()  # operations that the prior order must not carry
        self.figures = {}
        self._days()
        self._opening()
        for name in row.met:
            self.answer(self.finding(name).asks, met=True, limb=self.finding(name).limb)
        for name in row.not_met:
            self.answer(self.finding(name).asks, met=False, limb=self.finding(name).limb)
        for name in (*row.excluded, *row.supported):
            ask = self.alternative(name).asks
            if ask is not None:
                self.answer(ask, met=name in row.excluded, limb="X")
        self._closing()
        return self.case

    # --- the frame ------------------------------------------------------------------------------------------------

    def _days(self):
        low, high = (Decimal(x) for x in self.mechanism.latency.days)
        self.onset = CLOSED + dt.timedelta(days=float(min(max((low + high) / 2, Decimal("0.2")), Decimal(700))))
        low, high = (Decimal(x) for x in self.mechanism.latency.km)
        self.onset_km = OUT_KM + int((low + high) / 2)
        self.found = (self.onset + dt.timedelta(days=1)).replace(hour=9, minute=0, second=0, microsecond=0)
        self.as_found = _Slot(self.found)

    def _opening(self):
        c, m = self.case, self.mechanism
        c.record("party", full_name="P1", roles=["present_repairer", "technician"])
        c.record("party", full_name="P2", roles=["prior_repairer"])
        c.record("party", full_name="P3", roles=["owner", "driver"])
        c.record("dossier", title=self.row.case, complaint_tags=[m.complaints[0]])
        counts = dict.fromkeys(vocabulary().counts, 4)
        c.record("vehicle", description="vehicle", vin=VIN, counts=counts)
        c.record("exhibit", caption="order", form="physical", description="order on paper")
        c.record(
            "instrument", description="instrument", serial="1", calibrated="2026-01-10", calibration_due="2029-01-10",
            accuracies=FINE,
        )
        if "C2" not in self.row.without:
            c.record("event", what="last_shown_good", text="in order", time="2026-02-27 10:00", basis="seen")

    def _closing(self):
        c, m = self.case, self.mechanism
        self._numbers_down()
        if "C3" not in self.row.without:
            c.record(
                "event",
                what="onset",
                text="onset",
                time=text(self.onset),
                basis="told",
                odometer=f"{self.onset_km:.1f} km",
            )
        done = [o for o in m.prior_operations if o in vocabulary().operations and o not in self.not_done]
        operation = done[0] if done else "any-operation"
        line = {"operation": operation, "text": operation}
        if operation == "any-operation":
            line = {"text": "work", "components": [m.components[0]]}
        order = {
            "side": "prior_repairer", "repairer": "party-2", "opened": "2026-03-01", "closed": text(CLOSED),
            "odometer_in": f"{OUT_KM - 4} km", "odometer_out": f"{OUT_KM} km", "complaint_tags": self.order_tags,
            "operations": [line], "parts": [{"text": "part", **p} for p in self.order_parts or [{}]],
        }  # fmt: skip
        if "C3" in self.row.without:
            order = {k: v for k, v in order.items() if k not in ("odometer_in", "odometer_out")}
        if "prior_order" not in self.row.without:
            c.record("work_order", **order, exhibits=["exhibit-1"])
        said = dict(self.statements)
        if "C4" in self.row.without:
            said = {k: v for k, v in said.items() if k not in ("own_work", "accessory", "other_repairer")}
        if "C2" in self.row.without:
            said.pop("condition_before", None)
        if said:
            c.record(
                "owner_declaration", given_by="party-3", time=text(self.found - dt.timedelta(hours=1)),
                before_findings_shown=True, signed=True,
                statements=[{"topic": t, "answer": a} for t, a in said.items()],
            )  # fmt: skip
        for name, (value, unit) in self.figures.items():
            c.record("maker_figure", figure=name, value=value, unit=unit, document="D", page="1", valid_on="2025-01-01")

    # --- what is asked --------------------------------------------------------------------------------------------

    def finding(self, name):
        found = self.mechanism.finding(name)
        if found is None:
            raise Unwritable(f"{self.row.case}: there is no {name}")
        return found

    def alternative(self, name):
        every = (*self.mechanism.alternatives, *general_alternatives(self.mechanism.components))
        found = next((a for a in every if a.id == name), None)
        if found is None:
            raise Unwritable(f"{self.row.case}: there is no {name}")
        return found

    def answer(self, ask, *, met, limb, slot=None):
        """Write what answers ``ask`` that way."""
        if isinstance(ask, AnyOf):
            for part in ask.one[:1] if met else ask.one:
                self.answer(part, met=met, limb=limb, slot=slot)
        elif isinstance(ask, AllOf):
            for part in ask.every if met else self._first_to_fail(ask):
                self.answer(part, met=met, limb=limb, slot=slot)
        elif isinstance(ask, Change):
            self._change(ask, met=met, limb=limb)
        elif isinstance(ask, Document):
            self._document(ask, met=met)
        elif isinstance(ask, Computed):
            self._computed(ask, met=met)
        else:
            self._taken(ask, met=met, limb=limb, slot=slot)

    def _first_to_fail(self, ask):
        return [next((p for p in ask.every if isinstance(p, Taken)), ask.every[0])]

    def _change(self, ask, *, met, limb):
        def named(given):
            return self.finding(given).asks if isinstance(given, str) else given

        question, cured = named(ask.change), named(ask.cured) if ask.cured else None
        self.answer(question, met=ask.before == "met", limb=limb)
        slot = self._slot(ask.across[0], None)
        self.answer(question, met=(ask.after == "met") == met, limb=limb, slot=slot)
        if cured is not None:
            self.answer(cured, met=True, limb=limb, slot=slot)

    def _slot(self, component, action):
        key = (component, action)
        if key not in self.slots:
            day = self.found + dt.timedelta(days=1 + len(self.slots))
            step = self.case.record(
                "intervention", action=action or "refitted", components=[component], by="party-1", time=text(day)
            )
            self.slots[key] = _Slot(day, step)
        return self.slots[key]

    def _document(self, ask, *, met):
        if ask.document == "owner_declaration":
            for topic in ask.says:
                self.statements[topic] = ask.held[0] if met else next(a for a in ("some", "none") if a not in ask.held)
        elif ask.document == "prior_work_order":
            stated = ("stated" in ask.held) == met
            if not stated:
                self.not_done |= set(ask.carries or ())
            elif ask.says:
                self.order_tags = [*self.order_tags, ask.says[0]]
            else:
                known = [w for w in ask.carries if w in vocabulary().components]
                self.order_parts.append({"component": known[0]} if known else {})
        else:
            side = "owner" if ask.document == "owner_work_order" else "present_repairer"
            stated = ("stated" in ask.held) == met
            tags = [ask.says[0]] if ask.says and stated else ["rattle"]
            parts = [
                {"text": "p", "component": w} for w in ask.carries or () if stated and w in vocabulary().components
            ]
            self.case.record(
                "work_order", side=side, repairer="party-1", opened=text(self.found), complaint_tags=tags,
                parts=parts or [{"text": "p"}],
            )  # fmt: skip

    def _computed(self, ask, *, met):
        """The frame answers these: nobody else, absent before, captured undisturbed. Only the owner's work is turned."""
        if ask.computed == "nobody_else" and not met:
            self.case.record(
                "owner_declaration", given_by="party-3", time=text(self.found - dt.timedelta(hours=1)),
                before_findings_shown=True, signed=True,
                statements=[{
                    "topic": "other_repairer" if ask.by == "later_repairer" else "own_work", "answer": "some",
                    "components": [self.mechanism.components[0]],
                }],
            )  # fmt: skip
        elif ask.computed in ("distance", "days") and ask.held:
            unit = "km" if ask.computed == "distance" else "d"
            (value,) = Place(None, {}, unit, {None: [(ask.held, met, False)]}).values()[None]
            self._apart(ask, value)
        elif ask.computed == "absent_before" and not met:
            self.order_tags = [*self.order_tags, self.mechanism.complaints[0]]

    def _apart(self, ask, value):
        """Two milestones that far apart: the onset is moved, other events are written."""
        days, km = (dt.timedelta(days=float(value)), 0) if ask.computed == "days" else (dt.timedelta(hours=1), value)
        if (ask.start, ask.to) == ("prior_work_closed", "onset"):
            self.onset = CLOSED + days if ask.computed == "days" else self.onset
            self.onset_km = OUT_KM + km if ask.computed == "distance" else self.onset_km
            return
        first, last = (self.onset, self.onset_km), (self.onset + days, self.onset_km + km)
        for name, (when, odometer) in ((ask.start, first), (ask.to, last)):
            if name not in ("onset", "prior_work_closed"):
                self.case.record(
                    "event", what=name, text=name, time=text(when), basis="seen", odometer=f"{odometer:.1f} km"
                )

    # --- readings -------------------------------------------------------------------------------------------------

    def _taken(self, ask, *, met, limb, slot):
        if ask.before and "prior_order" in self.row.without:
            return  # before what, nobody knows
        if slot is None and ask.after:
            slot = self._slot(ask.after.on[0], ask.after.action[0] if ask.after.action else None)
        here = slot or self.as_found
        for n, position in enumerate([str(i) for i in range(1, 5)] if ask.over else [None]):
            take = ask.over.take if ask.over else None
            right = {"some": n < 2, "none": False}.get(take, True)
            answers = right if met else {"some": True, "none": True}.get(take, False)
            self._one(ask, here, position, n, met=met, answers=answers, limb=limb)

    def _common(self, ask, here, position, limb):
        undisturbed = here is self.as_found and "state" not in self.row.without and (limb == "D" or ask.state)
        raw = {
            "position": position, "which": ask.which, "conditions": list(ask.when),
            "state": ask.state or ("undisturbed" if undisturbed else None),
            "circumstances": {c.name: _inside(c.bound) for c in ask.given},
            "time": text(here.day + dt.timedelta(minutes=30)), "by": "party-1", "instrument": "instrument-1",
        }  # fmt: skip
        if "state" in self.row.without and here is self.as_found and raw["state"] == "undisturbed":
            raw["state"] = None
        if here.step:
            raw["after"] = here.step
            raw["state"] = None
        if ask.before:
            raw["time"] = "2026-02-20 10:00"
        return {k: v for k, v in raw.items() if v not in (None, [], {})}

    def _one(self, ask, here, position, n, *, met, answers, limb):
        common = self._common(ask, here, position, limb)
        of = ask.of[0]
        if isinstance(ask, Observe):
            others = [w for w in vocabulary().aspects[ask.observe][:-1] if w not in ask.held]
            words = ask.held if answers else others
            if not words:
                raise Unwritable(f"{ask.observe} has no word outside {ask.held}")
            key = ("observation", of, ask.observe, position, ask.which, ask.before, here.step)
            if self.held.get(key) in words:
                return
            self.held.setdefault(key, words[0])
            self.case.record("observation", of=of, aspect=ask.observe, seen=words[0], text="seen", **common)
        elif isinstance(ask, Read):
            self._read(ask, common, answers=answers)
        else:
            self._number(ask, common, here, met=met, answers=answers)

    def _read(self, ask, common, *, answers):
        if ask.read == "response":
            word = ask.held[0] if answers else next(w for w in ("no_response", "responded") if w not in ask.held)
            common.pop("instrument", None)
            self.case.record("actuator_test", of=ask.of[0], commanded="on", response=word, **common)
        elif ask.read == "codes":
            wanted = answers != (ask.held.op in ("==", "<=", "<") and ask.held.limit.value < 1)
            names = [c.replace("*", "000"[: 5 - len(c) + 1]) for c in ask.codes][:3] or ["P0100"]
            module = ask.of[0]
            result = {"result": "codes", "codes": [{"code": c} for c in names]} if wanted else {"result": "none_stored"}
            self.case.record(
                "code_scan", modules=[{"module": module, **result}], before_clearing=True, all_modules=True, **common
            )
        elif ask.read in ("coding", "vin_stored"):
            known = ("coded", "not_coded") if ask.read == "coding" else ("same", "differs")
            word = ask.held[0] if answers else next(w for w in known if w not in ask.held)
            raw = {"module": ask.of[0], "time": common["time"], "by": "party-1", "which": ask.which}
            raw |= {"coding": word} if ask.read == "coding" else {"vin_stored": VIN if word == "same" else VIN[::-1]}
            self.case.record("module_identity", **{k: v for k, v in raw.items() if v})
        elif ask.read == "communication":
            word = ask.held[0] if answers else next(w for w in ("answers", "silent") if w not in ask.held)
            result = "no_communication" if word == "silent" else "none_stored"
            self.case.record(
                "code_scan", modules=[{"module": ask.of[0], "result": result}], before_clearing=True, **common
            )
        else:
            raise Unwritable(f"no writer for {ask.read}")

    def _number(self, ask, common, here, *, met, answers):
        position = common.pop("position", None)
        key = (
            quantity_of(ask),
            isinstance(ask, Measure),
            ask.of[0],
            ask.to,
            ask.which,
            ask.when,
            ask.before,
            here.step,
        )
        place = self.places.setdefault(key, Place(ask, common, unit_for(ask)))
        wanted = place.wanted.setdefault(position, [])
        how = relation(ask, met=met)
        if how is None:
            self._figure(ask.held, place.unit)
            wanted.append((ask.held, answers, bool(met and ask.over and ask.over.take == "any")))
        elif how != "alike" and (ask.held, how) not in place.apart:
            place.apart.append((ask.held, how))

    def _numbers_down(self):
        for place in self.places.values():
            for position, values in place.values().items():
                for value in values:
                    self._number_down(place, position, {"value": written(value), "unit": place.unit})

    def _number_down(self, place, position, number):
        ask, common, where = place.ask, place.common, {"position": position} if position else {}
        if isinstance(ask, Measure):
            to = {"to": ask.to[0]} if ask.to else {}
            self.case.record("measurement", quantity=ask.measure, of=ask.of[0], **to, **where, **number, **common)
            return
        feature = {"feature": ask.feature, "of": ask.of[0], "read_by": "P1", **where, **number}
        self.case.record(
            "waveform", trace="exhibit-1", title="t", time_column="t", time_unit="s", features=[feature],
            channels=[{"column": "c", "quantity": "voltage", "unit": "V"}], **common,
        )  # fmt: skip

    def _figure(self, held, unit):
        of = getattr(held, "of", "") or ""
        if of.startswith("maker/"):
            self.figures.setdefault(of.removeprefix("maker/"), (written(figure(held)), unit))


def _inside(bound):
    """A circumstance that holds, as a person writes it."""
    (value,) = Place(None, {}, bound.unit, {None: [(bound, True, False)]}).values()[None]
    return f"{written(value)} {bound.unit}"


def text(moment):
    """A time as a person writes it."""
    return f"{moment:%Y-%m-%d %H:%M}"

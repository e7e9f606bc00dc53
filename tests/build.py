"""Dossiers in memory for tests, folded from entries as the store would. All of it is invented.

case = coil_case()                      # a prior order, a vehicle, instruments, nothing examined yet
case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
case.dossier()
"""

import datetime as dt
from functools import cache

from evidence.capture.packs import load_packs, load_vocabulary
from evidence.model.dossier import Step, fold
from evidence.model.kinds import KINDS
from evidence.model.quantity import QUANTITIES, UNITS
from evidence.rules.assess import assess

START = dt.datetime(2026, 6, 1, 8, 0, tzinfo=dt.UTC)
ZONE = "Europe/Lisbon"
COIL = "ign-coil-ground-left-off"
# An instrument that states its accuracy for everything: half of the last digit, so that a test's numbers may stand close.
FINE = [{"quantity": dict(map(reversed, QUANTITIES.items()))[d], "unit": next(iter(u)), "counts": "0.5"} for d, u in UNITS.items()]


@cache
def vocabulary():
    return load_vocabulary()


@cache
def packs():
    return load_packs(vocabulary())


class Case:
    """Collects entries; every ``record`` returns the subject. ``drop`` and ``change`` make a further case."""

    def __init__(self, entries=()):
        self.entries = list(entries)  # (kind, subject, raw, action)

    def record(self, kind, **raw):
        number = sum(k == kind and action == "record" for k, _, _, action in self.entries) + 1
        subject = f"{kind}-{number}"
        self.entries.append((kind, subject, raw, "record"))
        return subject

    def drop(self, subject):
        """The same case without one subject; the numbers of the others stay."""
        kind = next(k for k, s, _, _ in self.entries if s == subject)
        return Case([*self.entries, (kind, subject, None, "withdraw")])

    def change(self, subject, **changes):
        kind, raw = next((k, r) for k, s, r, a in reversed(self.entries) if s == subject and r is not None)
        whole = {k: v for k, v in {**raw, **changes}.items() if v is not None}
        return Case([*self.entries, (kind, subject, whole, "amend")])

    def dossier(self):
        known = vocabulary()
        context = {
            "zone": ZONE,
            "component": known.component,
            "operation": known.operation,
            "complaint": known.complaint,
        }
        steps = []
        for seq, (kind, subject, raw, action) in enumerate(self.entries, 1):
            body = KINDS[kind].handed_in(raw, context).body() if raw is not None else None
            at = START + dt.timedelta(minutes=seq)
            steps.append(
                Step(
                    seq=seq, kind=kind, subject=subject, action=action, recorded_at=at, recorded_by="party-1", body=body
                )
            )
        return fold("test-ledger", steps)

    def assess(self, own=None, firmness=True):
        return assess(self.dossier(), own or packs(), vocabulary(), firmness=firmness)

    def candidate(self, mechanism=COIL, own=None, firmness=True):
        return next(c for c in self.assess(own, firmness).candidates if c.mechanism == mechanism)

    def answers(self, mechanism=COIL):
        found = self.candidate(mechanism)
        return {f.id: f.answer for f in (*found.findings, *found.common)}

    # --- what a technician does ---------------------------------------------------------------------------------

    def observe(self, of, aspect, seen, **more):
        base = {"time": "2026-05-05 10:00", "state": "undisturbed", "text": f"{aspect} {seen}"}
        return self.record("observation", of=of, aspect=aspect, seen=seen, **{**base, **more})

    def measure(self, quantity, of, value, unit, **more):
        base = {"time": "2026-05-05 10:30", "instrument": "instrument-1", "state": "undisturbed"}
        return self.record("measurement", quantity=quantity, of=of, value=value, unit=unit, **{**base, **more})

    def drops(self, value="4.80", count=4, **more):
        """Voltage drop at each coil ground under lamp load."""
        lamp = {"conditions": ["key-on"], "circumstances": {"lamp_current": "2.1 A"}, "to": "battery-negative"}
        return [
            self.measure("voltage_drop", "coil-ground", value, "V", position=str(n), **{**lamp, **more})
            for n in range(1, count + 1)
        ]

    def trace(self, pulses=("0", "0", "0", "0"), **more):
        """A cranking trace of the coil control, one pulse count a cylinder."""
        features = [
            {
                "feature": "pulses_per_cycle",
                "value": p,
                "unit": "count",
                "of": "coil-control",
                "position": str(n),
                "read_by": "Ann",
            }
            for n, p in enumerate(pulses, 1)
        ]
        features.append(
            {"feature": "engine_speed", "value": "210", "unit": "rpm", "of": "crankshaft-sensor", "read_by": "Ann"}
        )
        base = {
            "time": "2026-05-05 11:00", "instrument": "instrument-1", "state": "undisturbed", "conditions": ["cranking"],
            "trace": "exhibit-1", "title": "cranking", "time_column": "t", "time_unit": "ms",
            "channels": [{"column": "a", "quantity": "signal_voltage", "unit": "V"}], "features": features,
        }  # fmt: skip
        return self.record("waveform", **{**base, **more})

    def bench(self):
        """Original outputs dead, coded replacement live."""
        for which, seen in (("original", "dead"), ("coded_replacement", "live")):
            for n in "1234":
                self.observe(
                    "coil-output-stage", "bench_output", seen, which=which, position=n, state="disturbed",
                    time="2026-05-07 10:00",
                )  # fmt: skip

    def touch(self, component, action="refitted", time="2026-05-06 09:00", **more):
        return self.record("intervention", action=action, components=[component], by="party-1", time=time, **more)

    def declare(self, signed=True, **answers):
        said = {
            "own_work": "none",
            "accessory": "none",
            "other_repairer": "none",
            "condition_before": "none",
            **answers,
        }
        statements = [a if isinstance(a, dict) else {"topic": t, "answer": a} for t, a in said.items()]
        return self.record(
            "owner_declaration", given_by="party-3", time="2026-05-05 09:00", before_findings_shown=True, signed=signed,
            statements=statements,
        )  # fmt: skip


def coil_case(**order):
    """A valve-cover job, two days and 40 km later a crank-no-start; nothing examined yet."""
    case = Case()
    case.record("party", full_name="Ann Teal", roles=["present_repairer", "technician"])
    case.record("party", full_name="Old Mill Garage", roles=["prior_repairer"])
    case.record("party", full_name="Bo Finch", roles=["owner", "driver"])
    case.record("dossier", title="A car that cranks and does not start", complaint_tags=["crank-no-start"])
    case.record(
        "vehicle", description="hatchback", counts={"coil": 4, "cylinder": 4, "injector": 4, "coil-ground-eyelet": 1}
    )
    case.record("exhibit", caption="invoice", form="physical", description="invoice on paper")
    case.record(
        "instrument", description="multimeter and scope", serial="7", calibrated="2026-01-10",
        accuracies=[{"quantity": "voltage", "unit": "V", "percent": "0.5", "counts": "2"}, *(a for a in FINE if a["unit"] != "V")],
    )  # fmt: skip
    case.record(
        "work_order",
        **{
            "side": "prior_repairer", "repairer": "party-2", "opened": "2026-04-30", "closed": "2026-05-02",
            "odometer_in": "61000 km", "odometer_out": "61004 km", "exhibits": ["exhibit-1"],
            "complaint_tags": ["oil-leak"], "operations": [{"operation": "valve-cover", "text": "valve cover resealed"}],
            "parts": [{"text": "gasket"}], **order,
        },
    )  # fmt: skip
    case.record(
        "event", what="onset", text="would not start", time="2026-05-04 07:00", basis="told", odometer="61044 km"
    )
    return case


def shown_case():
    """Eyelet off, no control signal, module dead on the bench, owner heard: the worked sum of 58.8."""
    case = coil_case()
    case.declare()
    case.observe("coil-ground-eyelet", "ground_seat", "off", position="1")
    case.trace()
    case.bench()
    return case

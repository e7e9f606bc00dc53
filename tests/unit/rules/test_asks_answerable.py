"""Every question of every pack can be answered by a record that a person could write, and by its opposite.

For each measured, seen, read or documented ask of the packs a dossier is made with just the records it asks for: it must
be met. The same records with the value or word turned round must not be.
"""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from itertools import chain

import pytest
from evidence.capture.packs import load_packs, load_vocabulary
from evidence.model.base import tidy
from evidence.model.dossier import Step, fold
from evidence.model.kinds import KINDS
from evidence.model.quantity import QUANTITIES, UNITS
from evidence.rules.asks import (
    FEATURES,
    AllOf,
    AnyOf,
    Document,
    Feature,
    Measure,
    Observe,
    Read,
    Taken,
    parts_of,
    question,
)
from evidence.rules.circumstances import Setting
from evidence.rules.criteria import Between, Bound, Relative, Within
from evidence.rules.holdings import Holdings
from evidence.rules.papers import of_document
from evidence.rules.predicates import answer

from build import FINE

VOCABULARY = load_vocabulary()
MECHANISMS = [m for p in load_packs(VOCABULARY) for m in p.mechanisms]
WHEN = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
FIGURE = Decimal(100)  # what the maker states, whatever it is
VIN = "1M8GDM9AXKP042788"


def leaves():
    seen = {}
    for m in MECHANISMS:
        for entry in chain(m.findings, m.alternatives):
            for ask in parts_of(entry.asks) if entry.asks else ():
                if isinstance(ask, Taken | Document):
                    seen.setdefault(question(ask), (m, entry.id, ask))
    return seen.values()


LEAVES = list(leaves())


class Made:
    """A dossier in the making."""

    def __init__(self):
        self.steps = []

    def add(self, kind, name, body):
        KINDS[kind].stored(tidy(body))
        self.steps.append(
            Step(seq=len(self.steps) + 1, kind=kind, subject=name, action="record", recorded_at=WHEN, recorded_by="p",
                 body=tidy(body))
        )  # fmt: skip

    def dossier(self):
        return fold("l", self.steps)


def when(text):
    return (
        KINDS["event"]
        .model_validate({"what": "onset", "text": "x", "time": text, "basis": "seen"}, context={"zone": "UTC"})
        .body()["time"]
    )


def inside(number, unit_of_figures):
    """A value that meets the criterion, and one that does not; both far from the limit."""
    if isinstance(number, Between):
        low, high = map(Decimal, number.between)
        return (low + high) / 2, high + (high - low) * 10, number.unit
    if isinstance(number, Within):
        return FIGURE, FIGURE + Decimal(number.within) * 10, number.unit
    if isinstance(number, Bound):
        limit, unit = number.number, number.unit
    else:
        assert isinstance(number, Relative)
        limit = FIGURE * Decimal(number.times or 1) + Decimal(number.plus or 0)
        unit = number.unit or unit_of_figures
    far = abs(limit) / 2 or Decimal(1)
    exact = number.op == "=="
    met = limit if exact else limit + far if number.op in (">", ">=") else limit - far
    return met, limit + far if exact or number.op in ("<", "<=") else limit - far, unit


def base(made, ask, position):
    body = {
        "position": position, "which": ask.which, "conditions": list(ask.when), "state": ask.state,
        "circumstances": {c.name: dict(zip(("value", "unit"), _plain(inside(c.bound, "")), strict=True)) for c in ask.given},
        "time": when("2026-03-01 12:00"), "by": "p", "instrument": "meter",
    }  # fmt: skip
    if ask.after:
        body["after"] = "step"
    if ask.before:
        body["time"] = when("2026-01-01 12:00")
    return body


def _plain(made):
    value, _, unit = made
    return format(value, "f"), unit


def positions(ask):
    return [str(n) for n in range(1, 5)] if ask.over else [None]


def written(ask, *, met):
    """A dossier whose records answer the ask, one way or the other."""
    made = Made()
    made.add("party", "p", {"full_name": "P", "roles": ["technician"]})
    made.add(
        "vehicle",
        "v",
        {"description": "van", "vin": VIN, "counts": dict.fromkeys([ask.over.every] if ask.over else [], 4)},
    )
    made.add("instrument", "meter", {
        "description": "meter", "serial": "1", "calibrated": when("2026-01-01"), "calibration_due": when("2027-01-01"), "accuracies": FINE,
    })  # fmt: skip
    made.add("party", "first", {"full_name": "First", "roles": ["prior_repairer"]})
    order = {"side": "prior_repairer", "repairer": "first", "opened": when("2026-02-01"), "closed": when("2026-02-02")}
    made.add("work_order", "order", order)
    if ask.after:
        action = ask.after.action[0] if ask.after.action else "refitted"
        step = {"action": action, "components": [ask.after.on[0]], "by": "p", "time": when("2026-02-20 09:00")}
        made.add("intervention", "step", step)
    held = ask.held
    if isinstance(held, Relative | Within) and held.of.startswith("maker/"):
        quantity = ask.measure if isinstance(ask, Measure) else FEATURES[ask.feature]
        figure = {"figure": held.of.removeprefix("maker/"), "value": str(FIGURE), "document": "D"}
        made.add("maker_figure", "figure", {**figure, "unit": held.unit or next(iter(UNITS[QUANTITIES[quantity]]))})
    for n, position in enumerate(positions(ask)):
        add(made, ask, position, n, met=met)
    return made.dossier()


def add(made, ask, position, n, *, met):
    body = base(made, ask, position)
    take = ask.over.take if ask.over else None
    right = {"some": n < 2, "none": False}.get(take, True)  # of several parts, those that answer the criterion
    answers = right if met else {"some": True, "none": True}.get(take, False)
    of = ask.of[0]
    if isinstance(ask, Observe):
        others = [w for w in VOCABULARY.aspects[ask.observe][:-1] if w not in ask.held]
        seen = ask.held[0] if answers else others[0]
        made.add("observation", f"o{n}", {**body, "of": of, "aspect": ask.observe, "seen": seen, "text": "seen"})
        return
    if isinstance(ask, Read):
        reading(made, ask, body, n, answers=answers)
        return
    value = number_for(ask, n, answers=answers, met=met)
    if isinstance(ask, Measure):
        to = ask.to[0] if ask.to else None
        made.add("measurement", f"m{n}", {**body, "quantity": ask.measure, "of": of, "to": to, **value})
    else:
        feature = {"feature": ask.feature, "of": of, "position": position, "read_by": "P", **value}
        trace = {"trace": "x", "title": "t", "time_column": "t", "time_unit": "s", "channels": [
            {"column": "c", "quantity": "voltage", "unit": "V"}]}  # fmt: skip
        made.add("waveform", f"w{n}", {**body, **trace, "features": [feature]})


def number_for(ask, n, *, answers, met):
    quantity = ask.measure if isinstance(ask, Measure) else FEATURES[ask.feature]
    unit = next(iter(UNITS[QUANTITIES[quantity]]))
    if ask.over and ask.over.reduce:  # all alike, or one far below the rest
        asks_alike = (ask.held.op in (">", ">=")) == (ask.over.reduce == "low/high")
        return {"value": "100" if n or met == asks_alike else "10", "unit": unit}
    if isinstance(ask.held, Relative) and ask.held.of == "others":
        apart = n == 0 and met == (ask.held.op in ("<", ">"))  # one stands out, which is what is asked or what may not be
        one, rest = ("10.000", "90.000") if ask.held.op in ("<", ">=") else ("90.000", "10.000")
        return {"value": one if apart else rest, "unit": ask.held.unit or unit}
    good, bad, unit = inside(ask.held, unit)
    return {"value": format(good if answers else bad, "f"), "unit": unit}


def reading(made, ask, body, n, *, answers):
    if ask.read == "response":
        response = {"commanded": "on", "response": "responded" if answers else "no_response"}
        made.add("actuator_test", f"a{n}", {**body, **response, "of": ask.of[0]})
        return
    module = "engine-control-module" if ask.of[0] == "module" else ask.of[0]
    if ask.read in ("coding", "vin_stored"):
        own = {"coding": "coded" if answers == ("coded" in ask.held) else "not_coded"}
        stored = {"vin_stored": VIN if answers == ("same" in ask.held) else VIN[::-1]}
        made.add("module_identity", f"i{n}", {"module": module, "time": body["time"], **own, **stored})
        return
    if ask.read == "communication":
        result = "none_stored" if answers == ("answers" in ask.held) else "no_communication"
        scan = {"modules": [{"module": module, "result": result}], "before_clearing": True}
        made.add("code_scan", f"c{n}", {**body, **scan})
        return
    assert ask.read == "codes"
    wanted = answers != (ask.held.op == "==")  # whether the scan holds codes that are asked about
    names = [c.replace("*", "000"[: 5 - len(c) + 1]) for c in ask.codes][:3] or ["P1000"]
    codes = {"module": module, "result": "codes", "codes": [{"code": c} for c in names]}
    none = {"module": module, "result": "none_stored"}
    scan = {"modules": [codes if wanted else none], "before_clearing": True, "all_modules": True}
    made.add("code_scan", f"c{n}", {**body, **scan})


def reply(ask, mechanism, dossier):
    holdings = Holdings(dossier)
    setting = Setting(
        holdings=holdings, vocabulary=VOCABULARY, components=mechanism.components, prior=holdings.prior_orders[0]
    )
    return answer(ask, setting, outside=of_document, lookup={}.get)


TAKEN = [leaf for leaf in LEAVES if isinstance(leaf[2], Taken)]


@pytest.mark.parametrize("leaf", TAKEN, ids=[f"{m.id}-{e}-{i}" for i, (m, e, _) in enumerate(TAKEN)])
def test_an_ask_is_met_and_not_met(leaf):
    mechanism, _, ask = leaf
    met = reply(ask, mechanism, written(ask, met=True))
    assert met.answer == "met", (question(ask), met.reasons, met.near)
    turned = reply(ask, mechanism, written(ask, met=False))
    assert turned.answer == "not met", (question(ask), turned.reasons, turned.near)


def test_what_lasts_is_answered_after_the_vehicle_was_put_right():
    mechanism = next(m for m in MECHANISMS if m.id == "brk-caliper-bolt-loose")
    ask = mechanism.finding("F2").asks
    assert ask.lasting
    made = Made()
    made.steps = [replace(s) for s in written_steps(ask)]
    step = {"action": "replaced", "components": ["brake-caliper-bolt"], "by": "p", "time": when("2026-02-20 09:00")}
    made.add("intervention", "step", step)
    assert reply(ask, mechanism, made.dossier()).answer == "met"
    bound_to_its_state = ask.model_copy(update={"lasting": False})
    assert reply(bound_to_its_state, mechanism, made.dossier()).answer == "not measured"


def written_steps(ask):
    made = Made()
    made.add("party", "p", {"full_name": "P", "roles": ["technician"]})
    made.add("party", "first", {"full_name": "First", "roles": ["prior_repairer"]})
    order = {"side": "prior_repairer", "repairer": "first", "opened": when("2026-02-01"), "closed": when("2026-02-02")}
    made.add("work_order", "order", order)
    add(made, ask, None, 0, met=True)
    return made.steps


def test_groups_hold_what_was_looked_at():
    groups = [a for m in MECHANISMS for f in m.findings for a in parts_of(f.asks) if isinstance(a, AllOf | AnyOf)]
    assert len(groups) > 20
    kinds = {type(leaf[2]) for leaf in LEAVES}
    assert kinds == {Measure, Feature, Observe, Read, Document}

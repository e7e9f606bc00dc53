"""How papers tell single records, in their own language: what stands in closed words is said, what a person wrote is quoted.

An English paper has a person's words bare where a list or a table shows that they are his; in any other language they
stand in quotation marks, since nobody knows in which language he wrote.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, Final

from evidence.model.base import Record
from evidence.model.dossier import Recorded
from evidence.model.examination import ActuatorTest, CodeScan, Measurement, Observation, Taken
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event
from evidence.model.kinds import many
from evidence.model.people import Consent, Correspondence, CustodyTransfer, OwnerDeclaration
from evidence.model.quantity import Distance
from evidence.model.repair import Intervention, WorkOrder
from evidence.model.vehicle import Vehicle
from evidence.report.papers.language import message
from evidence.report.papers.paper import PaperInput

STATES: Final = MappingProxyType({
    "undisturbed": message("as found, undisturbed"),
    "disturbed": message("disturbed"),
    "after_repair": message("after repair"),
})  # fmt: skip


def numbered(given: PaperInput, labels: Iterable[str]) -> str:
    """Labels by kind, runs drawn together: ``Measurements 2–5, 9; Exhibit 26``, in the paper's language."""
    kinds: dict[str, set[int]] = {}
    others: list[str] = []
    for label in dict.fromkeys(labels):
        kind, _, number = label.rpartition(" ")
        if number.isdecimal():
            kinds.setdefault(kind, set()).add(int(number))
        else:
            others.append(given.words(message("a record not held here")))
    told = [
        f"{given.words(many(kind) if len(numbers) > 1 else kind)} {runs(sorted(numbers))}"
        for kind, numbers in kinds.items()
    ]
    return "; ".join((*told, *dict.fromkeys(others)))


def runs(numbers: list[int]) -> str:
    """Numbers in order, three and more in a row drawn together: ``1–4, 7``."""
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(f"{r[0]}" if len(r) == 1 else f"{r[0]}–{r[-1]}" if len(r) > 2 else f"{r[0]}, {r[1]}" for r in runs)


def exhibits(given: PaperInput, subjects: Iterable[str]) -> str:
    """The numbers of exhibits, for a column of that name; a dash for none."""
    return runs(sorted({found.number for s in subjects if (found := given.dossier.get(s))})) or "–"


def vehicle(given: PaperInput) -> str:
    """The vehicle by description and identity; empty where none is recorded."""
    t, one = given.words, given.vehicle
    if one is None:
        return ""
    plate = t("plate %(plate)s", plate=one.plate) if one.plate else ""
    return "; ".join(filter(None, (t.own(one.description), plate, f"VIN {one.vin}" if one.vin else "")))


def distance(given: PaperInput, road: Distance | None) -> str:
    """A distance as it was read; empty where there is none."""
    return f"{given.words.reading(road.value)} {road.unit}" if road else ""


def measured(given: PaperInput, m: Measurement) -> str:
    """Quantity, points, value: ``voltage drop, coil ground 1 against battery negative: 4.832 V``."""
    t = given.words
    place = given.part(m.of) + m.where()
    if m.to:
        place = t("%(place)s against %(other)s", place=place, other=given.part(m.to))
    return f"{t.word(m.quantity)}, {place}: {reading(given, m)}"


def reading(given: PaperInput, m: Measurement) -> str:
    """Value and unit, with a sign where the instrument was out of range."""
    sign = {"above": "> ", "below": "< "}.get(m.beyond_range or "", "")
    return f"{sign}{given.words.reading(m.value)}" + ("" if m.unit == "count" else f" {m.unit}")


def observed(given: PaperInput, o: Observation) -> str:
    """Component, then what was seen in the words of whoever saw it."""
    return f"{given.part(o.of)}{o.where()}: {given.words.own(o.text.rstrip('.'))}"


def scanned(given: PaperInput, scan: CodeScan) -> str:
    """How many modules answered, which codes, before or after clearing."""
    t = given.words
    codes = ", ".join(dict.fromkeys(c.code for m in scan.modules for c in m.codes)) or t("none stored")
    silent = sum(m.result == "no_communication" for m in scan.modules)
    parts = [t("modules read: %(count)s", count=len(scan.modules)), t("codes: %(codes)s", codes=codes)]
    parts += [t("without communication: %(count)s", count=silent)] if silent else []
    return ", ".join((*parts, t("before clearing") if scan.before_clearing else t("after clearing")))


def _tested(given: PaperInput, test: ActuatorTest) -> str:
    t = given.words
    return f"{given.part(test.of)}{test.where()}: {t.own(test.commanded)}, {t.word(test.response)}"


def taken(given: PaperInput, v: Taken) -> str:
    """What was seen, measured or read, uncut."""
    if isinstance(v, Measurement):
        return measured(given, v)
    if isinstance(v, Observation):
        return observed(given, v)
    return scanned(given, v) if isinstance(v, CodeScan) else given.words.own(v.summary())


def caption(given: PaperInput, e: Exhibit) -> str:
    """An exhibit by its caption, description or file name."""
    return given.words.own((e.caption or e.description or (e.file.name if e.file else "")).rstrip(".")) or given.words(
        "file"
    )


def consented(given: PaperInput, c: Consent) -> str:
    """What was allowed or refused, up to which sum, how and when."""
    t = given.words
    what = t.word(c.to)
    told = t("allowed: %(what)s", what=what) if c.granted else t("refused: %(what)s", what=what)
    limit = t("up to %(sum)s", sum=t.money(c.limit.number, c.limit.currency)) if c.limit else ""
    when = t.moment(c.time, given.zone)
    return ", ".join(filter(None, (told, limit, t.word(c.channel), when)))


def _order(given: PaperInput, order: WorkOrder) -> str:
    t = given.words
    lines = "; ".join(t.own(o.text.rstrip(".")) for o in order.operations[:4])
    number = f" {order.number}" if order.number else ""
    return f"{t('work')}{number}, {given.dossier.party(order.repairer)}: {lines or t('no lines')}"


def _letter(given: PaperInput, c: Correspondence) -> str:
    t = given.words
    told = t(
        "%(what)s from %(sender)s to %(receiver)s, %(channel)s", what=t.word(c.about), channel=t.word(c.channel),
        sender=given.dossier.party(c.sender), receiver=given.dossier.party(c.receiver),
    )  # fmt: skip
    return told + (f": {t.own(c.text.rstrip('.'))}" if c.text else "")


def _event(given: PaperInput, e: Event) -> str:
    road = distance(given, e.odometer)
    return given.words.own(e.text.rstrip(".")) + (f", {road}" if road else "")


def _changed(given: PaperInput, i: Intervention) -> str:
    t = given.words
    parts = ", ".join(map(given.part, i.components))
    return f"{t.word(i.action)}: {parts}" + (f" ({t.own(i.text.rstrip('.'))})" if i.text else "")


def _handed(given: PaperInput, c: CustodyTransfer) -> str:
    t = given.words
    item = given.dossier.get(c.item)
    what = (
        caption(given, item.value)
        if item and isinstance(item.value, Exhibit)
        else t("the vehicle")
        if item and isinstance(item.value, Vehicle)
        else t.own(item.value.summary())
        if item
        else ""
    )
    return t(
        "%(what)s: from %(giver)s to %(taker)s, %(place)s, for: %(purpose)s", what=what, giver=given.dossier.party(c.released_by),
        taker=given.dossier.party(c.received_by), place=t.own(c.place), purpose=t.own(c.purpose),
    )  # fmt: skip


def _declared(given: PaperInput, d: OwnerDeclaration) -> str:
    t = given.words
    when = t("taken before findings were shown") if d.before_findings_shown else t("taken after findings were shown")
    signed = t("signed") if d.signed else t("not signed")
    return ", ".join((t("answers of the owner: %(count)s", count=len(d.statements)), signed, when))


_TELLERS: Final[Mapping[type[Record], Callable[[PaperInput, Any], str]]] = MappingProxyType({
    Measurement: measured, Observation: observed, CodeScan: scanned, ActuatorTest: _tested, Exhibit: caption, Consent: consented,
    WorkOrder: _order, Correspondence: _letter, Event: _event, Intervention: _changed, CustodyTransfer: _handed,
    OwnerDeclaration: _declared,
})  # fmt: skip


def told_record(given: PaperInput, record: Recorded[Any]) -> str:
    """A record in one line, uncut; of a kind that no paper tells, its own summary."""
    tell = _TELLERS.get(type(record.value))
    return tell(given, record.value) if tell else given.words.own(record.value.summary())

"""How the letters tell what the record holds: addresses, the vehicle, readings, labels, in the paper's language.

What a person wrote stays in his words, in quotation marks; the rest is said in the language of the paper.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Final

from evidence.claim.marks import day_of
from evidence.model.dossier import Recorded
from evidence.model.examination import Measurement, Observation
from evidence.model.people import Party
from evidence.model.quantity import KM_PER_MILE
from evidence.model.when import When
from evidence.report.blocks import Block, Facts, Para, Section, Signature
from evidence.report.papers.explaining import capital
from evidence.report.papers.language import message
from evidence.report.papers.paper import Blanks, Paper, PaperInput
from evidence.report.papers.records import caption, distance, numbered, runs, vehicle

Shown = Recorded[Observation] | Recorded[Measurement]

_MOST_POINTS: Final = 40
_STATES: Final = {
    "undisturbed": message("as found"),
    "after_repair": message("after the repair"),
    "disturbed": message("after it was taken apart"),
}


def address(given: PaperInput, party: Party | None, blank: Blanks, whose: str) -> tuple[str, ...]:
    """The lines of an address; ``whose`` is a message that names what is blank."""
    if party is None:
        return (blank(None, whose),)
    name = party.legal_name or party.full_name
    lines = [
        name,
        party.firm if party.firm and party.firm != name else "",
        given.address_of(party) or blank(None, whose),
        party.contact or "",
    ]
    return tuple(line for text in lines if text for line in text.split("\n"))


def vehicle_facts(given: PaperInput, blank: Blanks) -> Facts:
    """Vehicle and earlier work, as the repairer who did it knows them."""
    t, order = given.words, given.prior
    return Facts((
        (t("Vehicle"), blank(vehicle(given), "the vehicle")),
        (t("Your work order"), blank(order and order.number, "the number of the work order")),
        (t("Closed"), day_words(given, order.closed if order else None, blank, message("the day it was closed"))),
        (t("Odometer then"), blank(distance(given, order.odometer_out if order else None), "the odometer reading")),
    ))  # fmt: skip


def day_words(given: PaperInput, when: When | None, blank: Blanks, what: str) -> str:
    """A recorded day in the paper's language, or a blank."""
    return given.words.day(day_of(when)) if when else blank(None, what)


def shown(given: PaperInput, *limbs: str) -> list[Shown]:
    """The readings and observations that meet the findings of these limbs of the leading explanation."""
    findings = given.leading.findings if given.leading else ()
    labels = {x for f in findings if f.limb in limbs and f.answer == "met" for x in f.records}
    return [r for r in taken(given) if r.label in labels]


def seen(given: PaperInput, *limbs: str) -> list[Shown]:
    """What is shown for these limbs; where nothing is, everything that was seen and measured, weighed by nobody."""
    return shown(given, *limbs) or taken(given)


def as_found(given: PaperInput) -> list[Shown]:
    """What is shown of the departure; where nothing is, what was seen and measured with nothing touched, else everything."""
    return shown(given, "D") or [r for r in taken(given) if r.value.state == "undisturbed"] or taken(given)


def taken(given: PaperInput) -> list[Shown]:
    """Everything seen and measured."""
    return [*given.dossier.of(Observation), *given.dossier.of(Measurement)]


def told(given: PaperInput, records: Iterable[Shown]) -> tuple[str, ...]:
    """What was seen and read as points: like things of like parts together, with day, labels and exhibits."""
    t = given.words
    alike: dict[tuple[object, ...], list[Shown]] = {}
    for record in records:
        v = record.value
        own = (v.quantity, v.to, v.unit) if isinstance(v, Measurement) else (v.aspect, v.seen, v.text)
        key = (record.kind, v.of, v.which, v.state, v.after, v.time and day_of(v.time), *own)
        alike.setdefault(key, []).append(record)
    points = []
    for same in list(alike.values())[:_MOST_POINTS]:
        exhibits = numbered(given, [given.dossier.label(e) for r in same for e in r.value.exhibits])
        cited = "; ".join(filter(None, (numbered(given, [r.label for r in same]), exhibits)))
        points.append(f"{_read(given, same)}{_met(given, same[0])} [{cited}]")
    if len(alike) > _MOST_POINTS:
        points.append(t("%(count)s more stand in the report of the dossier.", count=len(alike) - _MOST_POINTS))
    return tuple(points)


def _met(given: PaperInput, record: Shown) -> str:
    """The day and the state that the test met, as far as they are on record."""
    t, v = given.words, record.value
    state = t(_STATES[v.state]) if v.state else ""
    told = ", ".join(filter(None, (t.day(day_of(v.time)) if v.time else "", state)))
    return f" ({told})" if told else ""


def _read(given: PaperInput, same: list[Shown]) -> str:
    t, first = given.words, same[0].value
    place = given.part(first.of) + _positions(same)
    if not isinstance(first, Measurement):
        return f"{capital(place)}: {t.quoted(first.text.rstrip('.'))}"
    read = sorted({r.value.value for r in same if isinstance(r.value, Measurement)}, key=Decimal)
    values = " – ".join(dict.fromkeys(t.reading(v) for v in (read[0], read[-1])))
    if first.to:
        place = t("%(place)s against %(other)s", place=place, other=given.part(first.to))
    unit = "" if first.unit == "count" else f" {first.unit}"
    return f"{capital(t.word(first.quantity))}, {place}: {values}{unit}"


def _positions(same: list[Shown]) -> str:
    """Which of several parts: `` 1–4``, or their names in a row."""
    names = [r.value.position for r in same if r.value.position]
    if names and all(n.isdecimal() for n in names):
        return f" {runs(sorted({int(n) for n in names}))}"
    return f" {', '.join(dict.fromkeys(names))}" if names else ""


def order_in_time(given: PaperInput) -> str:
    """From the close of the earlier work to the first sign, by day and by distance; empty where neither is known."""
    t, order = given.words, given.leading.order if given.leading else None
    if order is None or order.answer != "met" or not (order.days or order.km):
        return ""
    days = t("%(days)s days", days=_span(given, order.days, 1)) if order.days else ""
    driven = f"{_span(given, *_road(given, order.km))}" if order.km else ""
    return t(
        "From the close of the earlier work to the first sign: %(span)s [%(records)s].",
        span=", ".join(filter(None, (days, driven))), records=numbered(given, order.records),
    )  # fmt: skip


def _span(given: PaperInput, ends: tuple[Decimal, Decimal], places: int, unit: str = "") -> str:
    rounded = dict.fromkeys(given.words.reading(f"{end:.{places}f}") for end in ends)
    return " – ".join(rounded) + (f" {unit}" if unit else "")


def _road(given: PaperInput, km: tuple[Decimal, Decimal]) -> tuple[tuple[Decimal, Decimal], int, str]:
    """A stretch of road in the unit in which the odometer was read at the close of the earlier work."""
    order = given.prior
    reading = order and (order.odometer_out or order.odometer_in)
    if reading and reading.unit == "mi":
        return (km[0] / KM_PER_MILE, km[1] / KM_PER_MILE), 0, "mi"
    return km, 0, "km"


def exhibits_of(records: Iterable[Shown]) -> list[str]:
    """The exhibits that readings and observations show."""
    return [e for r in records for e in r.value.exhibits]


def exhibit_list(given: PaperInput, subjects: Iterable[str]) -> Section:
    """The exhibits that a letter goes with, by number."""
    t = given.words
    found = sorted((e for s in dict.fromkeys(subjects) if (e := given.exhibit(s))), key=lambda e: e.number)
    rows = tuple((numbered(given, [e.label]), caption(given, e.value)) for e in found)
    return Section(t("Exhibits"), (Facts(rows),) if rows else ())


def letter(
    given: PaperInput, name: str, kicker: str, title: str, sections: Iterable[Section], blank: Blanks, *,
    sender: Party | None, receiver: Party | None = None, whose: str = message("address of the earlier repairer"), notes: Iterable[str] = (),
    enclosed: Section | None = None,
) -> Paper:  # fmt: skip
    """A letter, closed with a line to sign on; ``whose`` is a message that names the receiver's address.

    ``enclosed``: the list of exhibits, which stands below the signature.
    """
    t = given.words
    signed = sender.full_name if sender else ""
    closing: list[Block] = [Para(t("Yours faithfully,")), Signature((blank(signed, "name and signature"),))]
    head = address(given, sender, blank, message("address of the sender"))
    to = address(given, receiver, blank, whose)
    return Paper(
        id=name, kicker=kicker, title=title, sender=head, receiver=to, day=t.day(given.today),
        sections=(*sections, Section("", tuple(closing)), *((enclosed,) if enclosed and enclosed.blocks else ())), missing=tuple(blank.missing),
        notes=tuple(notes), between=(sender, receiver),
    )  # fmt: skip

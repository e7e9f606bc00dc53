"""Letters to the other side: notice with an opportunity to inspect, requests, the demand, the answer to a denial.

Neutral in tone: what was done, seen and read, and what is asked for. Who owes what is for others to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from evidence.claim.due import Due
from evidence.claim.marks import day_of
from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.examination import Measurement, Observation
from evidence.model.people import Correspondence, Party
from evidence.model.when import When
from evidence.report.blocks import Block, Bullets, Facts, Para, Section, Signature
from evidence.report.papers.paper import Blanks, Kind, Paper, PaperInput


def address(party: Party | None, blank: Blanks, whose: str) -> tuple[str, ...]:
    """The lines of an address; ``whose`` is a message that names what is blank."""
    if party is None:
        return (blank(None, whose),)
    name = party.legal_name or party.full_name
    lines = [
        name,
        party.firm if party.firm and party.firm != name else "",
        party.address or blank(None, whose),
        party.contact or "",
    ]
    return tuple(line for text in lines if text for line in text.split("\n"))


def vehicle_facts(given: PaperInput, blank: Blanks) -> Facts:
    """Vehicle and earlier work, as the other side knows them."""
    t, order, vehicle = given.words, given.prior, given.vehicle
    return Facts((
        (t("Vehicle"), blank(vehicle and vehicle.summary(), "the vehicle")),
        (t("Your work order"), blank(order and order.number, "the number of the work order")),
        (t("Closed"), day_words(given, order.closed if order else None, blank, "the day it was closed")),
        (t("Odometer then"), blank(order and order.odometer_out and order.odometer_out.words(), "the odometer reading")),
    ))  # fmt: skip


def day_words(given: PaperInput, when: When | None, blank: Blanks, what: str) -> str:
    """A recorded day in the paper's language, or a blank."""
    return given.words.day(day_of(when)) if when else blank(None, what)


Shown = Recorded[Observation] | Recorded[Measurement]


def shown(given: PaperInput, *, limb: str) -> list[Shown]:
    """The readings and observations that meet the findings of one limb of the leading explanation."""
    leading = given.leading
    labels = (
        {x for f in leading.findings if f.limb == limb and f.answer == "met" for x in f.records} if leading else set()
    )
    taken: list[Shown] = [*given.dossier.of(Observation), *given.dossier.of(Measurement)]
    return [r for r in taken if r.label in labels]


def told(given: PaperInput, records: Iterable[Shown]) -> tuple[str, ...]:
    """What was seen and read as points: like things of like parts together, with day, labels and exhibits."""
    t = given.words
    alike: dict[tuple[object, ...], list[Shown]] = {}
    for record in records:
        v = record.value
        own = (v.quantity, v.to, v.unit) if isinstance(v, Measurement) else (v.aspect, v.seen, v.text)
        alike.setdefault((record.kind, v.of, v.which, v.state, v.after, v.time and day_of(v.time), *own), []).append(
            record
        )
    points = []
    for same in alike.values():
        first = same[0].value
        when = f" ({t.day(day_of(first.time))})" if first.time else ""
        exhibits = numbered(given, [given.dossier.label(e) for r in same for e in r.value.exhibits])
        cited = ", ".join(filter(None, (numbered(given, [r.label for r in same]), exhibits)))
        points.append(f"{_read(given, same)}{when} [{cited}]")
    return tuple(points)


def _read(given: PaperInput, same: list[Shown]) -> str:
    first = same[0].value
    if not isinstance(first, Measurement):
        return first.text
    t = given.words
    read = sorted((r.value.value for r in same if isinstance(r.value, Measurement)), key=Decimal)
    values = read[0] if len(read) == 1 else t("%(low)s to %(high)s", low=read[0], high=read[-1])
    place = (
        t("%(place)s against %(other)s", place=t(say(first.of)), other=t(say(first.to)))
        if first.to
        else t(say(first.of))
    )
    state = _STATES.get(first.state or "", "")
    return f"{t(say(first.quantity))}, {place}: {values} {first.unit}" + (f", {t(state)}" if state else "")


def numbered(given: PaperInput, labels: Iterable[str]) -> str:
    """Labels by kind, runs drawn together: ``Measurement 2–5, 9; Exhibit 26``, in the paper's language."""
    kinds: dict[str, set[int]] = {}
    for label in labels:
        kind, _, number = label.rpartition(" ")
        kinds.setdefault(kind, set()).add(int(number))
    return "; ".join(f"{given.words(kind)} {_runs(sorted(numbers))}" for kind, numbers in kinds.items())


_STATES: Final = {
    "undisturbed": "as found",
    "after_repair": "after the repair",
    "disturbed": "after it was taken apart",
}


def _runs(numbers: list[int]) -> str:
    runs: list[list[int]] = []
    for n in numbers:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    return ", ".join(f"{r[0]}" if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs)


def _label(given: PaperInput, label: str) -> str:
    return numbered(given, [label])


def exhibit_list(given: PaperInput, subjects: Iterable[str]) -> Section:
    """The exhibits that a letter goes with."""
    t = given.words
    rows = []
    for subject in dict.fromkeys(subjects):
        found = given.exhibit(subject)
        if found:
            rows.append((_label(given, found.label), found.value.summary()))
    return Section(t("Exhibits"), (Facts(tuple(rows)),) if rows else ())


def _exhibits_of(records: Iterable[Shown]) -> list[str]:
    return [e for r in records for e in r.value.exhibits]


def _letter(
    given: PaperInput, name: str, kicker: str, title: str, sections: Iterable[Section], blank: Blanks, *, sender: Party | None,
) -> Paper:  # fmt: skip
    """A letter to the earlier repairer, closed with the sender's name and a line to sign on."""
    t = given.words
    signed = sender.full_name if sender else ""
    closing = Section("", (Para(t("Yours faithfully,")), Signature((blank(signed, "name and signature"),))))
    return Paper(
        id=name, kicker=t(kicker), title=title, sender=address(sender, blank, "address of the sender"),
        receiver=address(given.receiver, blank, "address of the earlier repairer"), day=t.day(given.today),
        sections=(*sections, closing), missing=tuple(blank.missing),
    )  # fmt: skip


def _visit(given: PaperInput) -> Recorded[Correspondence] | None:
    offers = [c for c in given.dossier.of(Correspondence) if c.value.about == "inspection_opportunity"]
    return offers[-1] if offers else None


def notice(given: PaperInput) -> Paper:
    """First notice, with an opportunity to inspect."""
    t, blank = given.words, Blanks(given.words)
    shop = given.party("present_repairer")
    found = shown(given, limb="D")
    points = told(given, found) or (blank(None, "what was found with nothing touched"),)
    visit = _visit(given)
    until = visit.value.until if visit else None
    offer: list[Block] = [
        Para(t("You can look at the vehicle before anything on it is changed. You can take pictures and readings. Please bring somebody who knows the job, if you wish.")),
        Facts((
            (t("Where"), blank(shop and shop.address, "the place where the vehicle stands")),
            (t("When"), blank(visit and visit.value.text, "days and hours of the visit")),
            (t("Kept as found until"), day_words(given, until, blank, "the last day to look at it")),
        )),
        Para(t("Until then nothing will be done that changes what was found. After that day the vehicle may be tested further and repaired.")),
    ]  # fmt: skip
    sections = (
        Section("", (Para(t("You worked on this vehicle. It has come to us since. We write to tell you what we found, so that you can see it for yourself.")), vehicle_facts(given, blank))),
        Section(t("What was found"), (Bullets(points), Para(t("We say what was seen and read. We do not say here who has to answer for it.")))),
        Section(t("Your chance to look"), tuple(offer)),
        Section(t("What we ask of you"), (Bullets((
            t("Tell us in writing whether you will come, and when."),
            t("Keep your order, time records, pictures, scan files and the parts you took off."),
            t("Tell your insurer of this letter."),
        )),)),
        exhibit_list(given, _exhibits_of(found)),
    )  # fmt: skip
    return _letter(
        given,
        "notice",
        "Notice, and offer to inspect",
        t("What was found on the vehicle after your work"),
        sections,
        blank,
        sender=shop,
    )


def preservation(given: PaperInput) -> Paper:
    """Request to preserve parts and records."""
    t, blank = given.words, Blanks(given.words)
    sections = (
        Section("", (Para(t("There is a question about the work below. Please keep everything that can help to answer it, until it is settled.")), vehicle_facts(given, blank))),
        Section(t("Please keep"), (Bullets((
            t("the work order, with all versions of it, and the invoice"),
            t("time records, and who worked on it"),
            t("pictures, videos and messages, as the files that they are"),
            t("scan files and reports, from before and after the work"),
            t("all parts that were taken off, and their packaging"),
            t("the settings and records of the tools used, such as torque tools"),
        )),)),
        Section(t("Why this matters"), (Para(t("What is lost cannot be looked at again. If it is lost after this letter, somebody may ask why.")), Para(t("We keep our own records, pictures and parts in the same way. You can ask to see them.")))),
    )  # fmt: skip
    return _letter(
        given,
        "preservation",
        "Request to keep parts and records",
        t("Please keep parts and records of your work"),
        sections,
        blank,
        sender=given.party("present_repairer"),
    )


def record_request(given: PaperInput) -> Paper:
    """Request for the earlier work order and its photos."""
    t, blank = given.words, Blanks(given.words)
    sections = (
        Section("", (Para(t("I own this vehicle. You worked on it. Please send me copies of the papers below.")), vehicle_facts(given, blank))),
        Section(t("Please send"), (Bullets((
            t("the work order and the invoice, with every line of labour and parts"),
            t("the odometer reading when it came and when it left"),
            t("pictures and videos taken before, during and after the work"),
            t("scan reports from before and after the work"),
            t("the name of whoever did the work, and of any firm that did part of it for you"),
            t("the terms of your repair warranty"),
        )), Para(t("Copies by e-mail will do. Please send them by this day: %(day)s.", day=blank(None, "the day by which you want them"))))),
    )  # fmt: skip
    return _letter(
        given,
        "record-request",
        "Request for the work order",
        t("Please send the papers of your work"),
        sections,
        blank,
        sender=given.party("owner"),
    )


def _answer_day(given: PaperInput) -> Due | None:
    return next((d for d in given.dues if d.what == "answer" and not d.done and d.day and d.day >= given.today), None)


def demand(given: PaperInput) -> Paper:
    """Demand, with exhibits and a date."""
    t, blank, loss = given.words, Blanks(given.words), given.loss
    found = [*shown(given, limb="D"), *shown(given, limb="L"), *shown(given, limb="E")]
    order = given.leading.order.sentence if given.leading else ""
    due = _answer_day(given)
    rows: list[tuple[str, str]] = []
    if loss:
        natures = {
            "rework": t("Doing the work again"),
            "resulting_damage": t("Damage that followed"),
            "diagnosis": t("Finding the cause"),
            "incidental": t("Towing, hire and the like"),
        }
        rows = [(natures[n], t.money(loss.by_nature[n], loss.currency)) for n in natures if n in loss.by_nature]
        taken = loss.claimed.gross - loss.claimed.total
        rows += [(t("Taken off"), t.money(-taken, loss.currency))] if taken else []
        rows.append((t("Sum asked for"), t.money(loss.claimed.total, loss.currency)))
    backed = (
        t(
            "Every line and its paper stand in the list of losses that goes with this letter. %(sum)s of it is backed by a paper.",
            sum=t.money(loss.documented, loss.currency),
        )
        if loss
        else ""
    )
    papers = [e for line in loss.counted for e in line.item.exhibits] if loss else []
    facts: list[Block] = [Bullets(told(given, found))] if found else [Para(blank(None, "what was found"))]
    if order:
        facts.append(Para(t("Order in time: %(words)s.", words=order)))
    sections = (
        Section("", (Para(t("You worked on my vehicle. After that it was damaged. I ask you to make good what this cost me.")), vehicle_facts(given, blank))),
        Section(t("What is on record"), tuple(facts)),
        Section(t("What I ask for"), (
            Facts(tuple(rows)) if rows else Para(blank(None, "the sum, from the loss lines")), *((Para(backed),) if backed else ()),
            Para(t("Please pay by this day: %(day)s.", day=t.day(due.day) if due and due.day else blank(None, "the day by which to pay or answer"))),
            Para(t("How to pay: %(how)s.", how=blank(None, "account, or another way to pay"))),
            Para(t("If you see it differently, please write to me by that day. Say which point you mean, and why.")),
        )),
        exhibit_list(given, [*_exhibits_of(found), *papers]),
    )  # fmt: skip
    return _letter(
        given,
        "demand",
        "Demand",
        t("What the damage after your work has cost"),
        sections,
        blank,
        sender=given.party("owner"),
    )


# What is usually answered, and which alternatives of the rules speak to it.
_DENIALS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType({
    "The owner did it, or drove on.": ("owner_work", "abuse"),
    "Somebody did it after us, or the shop that examined it.": ("later_repairer",),
    "It was worn, old or damaged before.": ("pre_existing", "wear", "wrong_part"),
    "It has nothing to do with our work.": ("unrelated", "water"),
})  # fmt: skip


def denial(given: PaperInput) -> Paper:
    """Answer to a denial, point by point against the record."""
    t, blank = given.words, Blanks(given.words)
    answers = [c for c in given.dossier.of(Correspondence) if c.value.about == "response"]
    last = answers[-1] if answers else None
    said = f"“{last.value.text}”" if last and last.value.text else blank(None, "what they wrote")
    written = day_words(given, last.value.sent if last else None, blank, "the day of their letter")
    sections = (
        Section("", (Para(t("You answered on %(day)s: %(words)s", day=written, words=said)), Para(t("Below is what the record holds on each usual point. Where it holds nothing, it says so.")), vehicle_facts(given, blank))),
        *_points(given),
        Section(t("What would change this"), (Para(t("A paper, a picture or a reading from your side can change it. Please send what you have by this day: %(day)s.", day=blank(None, "the day by which you want it"))),)),
    )  # fmt: skip
    return _letter(
        given,
        "answer-to-denial",
        "Answer, point by point",
        t("Your answer, and what the record holds"),
        sections,
        blank,
        sender=given.party("owner") or given.party("present_repairer"),
    )


def _points(given: PaperInput) -> Iterable[Section]:
    t, leading = given.words, given.leading
    nothing = t("The record holds nothing on this yet.")
    status = {
        "excluded": t("excluded"),
        "supported": t("supported: this speaks for you"),
        "less supported": t("less supported"),
        "open": t("still open"),
    }
    order = [leading.order.sentence] if leading else []
    notices = [
        c
        for c in given.dossier.of(Correspondence)
        if c.value.about in ("notice", "inspection_opportunity", "preservation_letter")
    ]
    sent = [
        t("%(what)s, sent %(day)s", what=_label(given, c.label), day=t.day(day_of(c.value.sent))) + (f" [{numbered(given, map(given.dossier.label, c.value.exhibits))}]" if c.value.exhibits else "")
        for c in notices
    ]  # fmt: skip
    yield Section(t("It worked when it left us."), (Bullets(tuple(order)),) if order else (Para(nothing),))
    for claim, kinds in _DENIALS.items():
        found = [a for a in leading.alternatives if a.kind in kinds] if leading else []
        points = tuple(
            f"{a.claim}: {status.get(a.status, a.status)}" + (f" [{numbered(given, a.records)}]" if a.records else "")
            for a in found
        )
        yield Section(t(claim), (Bullets(points),) if points else (Para(nothing),))
    yield Section(t("We were never told."), (Bullets(tuple(sent)),) if sent else (Para(nothing),))


LETTERS: Final[Mapping[str, Kind]] = MappingProxyType({
    "notice": Kind("Notice to the earlier repairer, and offer to inspect", "shop", notice),
    "preservation": Kind("Request to keep parts and records", "shop", preservation),
    "record-request": Kind("Request for the earlier work order and its pictures", "owner", record_request),
    "demand": Kind("Demand, with exhibits and a day", "owner", demand),
    "answer-to-denial": Kind("Answer to a denial, point by point", "owner", denial),
})  # fmt: skip

"""Letters: notice with an opportunity to inspect, requests, the demand, the report to an insurer.

Neutral in tone: what was done, seen and read, and what is asked for. Who owes what is for others to say.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Final

from evidence.claim.marks import day_of
from evidence.model.dossier import Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.loss import LossItem
from evidence.model.people import Consent, Correspondence
from evidence.model.repair import Intervention
from evidence.report.blocks import Block, Bullets, Facts, Para, Section
from evidence.report.papers.denial import denial
from evidence.report.papers.language import message
from evidence.report.papers.paper import Blanks, Kind, Paper, PaperInput
from evidence.report.papers.reckoning import money_told, papers_of_sum, points_to_look_at
from evidence.report.papers.records import numbered, vehicle
from evidence.report.papers.telling import (
    as_found,
    day_words,
    exhibit_list,
    exhibits_of,
    letter,
    order_in_time,
    seen,
    shown,
    told,
    vehicle_facts,
)
from evidence.review.on_state import ALTERING


def _last(given: PaperInput, *about: str) -> Recorded[Correspondence] | None:
    found = [c for c in given.dossier.of(Correspondence) if c.value.about in about]
    return found[-1] if found else None


def _changed(given: PaperInput) -> list[Recorded[Intervention]]:
    """What was changed on the vehicle since the earlier work, by anybody but the earlier repairer."""
    prior = given.prior.repairer if given.prior else None
    return [i for i in given.dossier.of(Intervention) if i.value.action in ALTERING and i.value.by != prior]


def _complaint(given: PaperInput) -> tuple[str, ...]:
    """The complaint in the owner's words, where nothing that was seen or measured is on record yet."""
    said = given.opening and given.opening.complaint
    return (
        (given.words("The owner's complaint: %(words)s", words=given.words.quoted(said.rstrip("."))),) if said else ()
    )


def _kept(given: PaperInput) -> list[str]:
    return [e.label for e in given.dossier.of(Exhibit) if e.value.form == "physical" and e.value.retained]


def _leave(given: PaperInput) -> Iterator[str]:
    """What stands against writing to the earlier repairer at all."""
    consents = [c for c in given.dossier.of(Consent) if c.value.to == "contact_prior_repairer"]
    if not consents:
        yield given.words("the owner's leave to write to the earlier repairer")
    elif not consents[-1].value.granted:
        yield given.words(
            "the owner has refused leave to write to the earlier repairer [%(record)s]",
            record=numbered(given, [consents[-1].label]),
        )


def notice(given: PaperInput) -> Paper:
    """First notice, with an opportunity to inspect."""
    t, blank = given.words, Blanks(given.words)
    found = as_found(given)
    points = told(given, found) or (*_complaint(given), blank(None, "what was found"))
    sections = (
        Section("", (Para(t("You worked on this vehicle. It has come to us since. We write to tell you what we found, so that you can see it for yourself.")), vehicle_facts(given, blank))),
        Section(t("What was found"), (Bullets(points), Para(t("We say what was seen and read. We do not say here who has to answer for it.")))),
        Section(t("Your chance to look"), tuple(_offer(given, blank))),
        Section(t("What we ask of you"), (Bullets((
            t("Tell us in writing whether you will come, and when."),
            t("Keep your order, time records, pictures, scan files and the parts you took off."),
            t("Tell your insurer of this letter."),
        )),)),
    )  # fmt: skip
    enclosed = exhibit_list(given, exhibits_of(found))
    return letter(
        given, "notice", t("Notice, and offer to inspect"), t("What was found on the vehicle after your work"), sections, blank,
        sender=given.party("present_repairer"), receiver=given.receiver, notes=_already(given, "notice"), enclosed=enclosed,
    )  # fmt: skip


def _offer(given: PaperInput, blank: Blanks) -> Iterator[Block]:
    """The offer to look: at the vehicle as it was found, or at what is left of that where it was changed since."""
    t, shop, changed, kept = given.words, given.party("present_repairer"), _changed(given), _kept(given)
    visit = _last(given, "inspection_opportunity")
    until = visit.value.until if visit and visit.value.until and day_of(visit.value.until) >= given.today else None
    ahead = visit if until else None  # days that have passed are no offer
    if changed:
        yield Para(
            t(
                "The vehicle no longer stands as it was found: work was done on it [%(records)s]. You can look at it, at the parts kept, and at all pictures and readings taken before that. Please bring somebody who knows the job, if you wish.",
                records=numbered(given, [i.label for i in changed]),
            )
        )
    else:
        yield Para(
            t(
                "You can look at the vehicle before anything on it is changed. You can take pictures and readings. Please bring somebody who knows the job, if you wish."
            )
        )
    yield Facts((
        (t("Where"), blank(given.address_of(shop), "the place where the vehicle stands")),
        (t("When"), t.quoted(ahead.value.text) if ahead and ahead.value.text else blank(None, "days and hours of the visit")),
        *(((t("Parts kept"), blank(numbered(given, kept), "the parts that are kept")),) if changed or kept else ()),
        (t("Kept until") if changed else t("Kept as found until"), day_words(given, until, blank, message("the last day to look at it"))),
    ))  # fmt: skip
    yield Para(
        t("Until then the parts kept stay as they are. After that day they may be tested further.")
        if changed
        else t(
            "Until then nothing will be done that changes what was found. After that day the vehicle may be tested further and repaired."
        )
    )


def _already(given: PaperInput, *about: str) -> list[str]:
    sent = _last(given, *about)
    if sent is None:
        return []
    return [
        given.words(
            "the record holds such a letter already: %(record)s, sent %(day)s",
            record=numbered(given, [sent.label]),
            day=given.words.day(day_of(sent.value.sent)),
        )
    ]


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
    return letter(
        given, "preservation", t("Request to keep parts and records"), t("Please keep parts and records of your work"), sections,
        blank, sender=given.party("present_repairer"), receiver=given.receiver, notes=_already(given, "preservation_letter"),
    )  # fmt: skip


def record_request(given: PaperInput) -> Paper:
    """Request for the earlier work order and its photos."""
    t, blank = given.words, Blanks(given.words)
    by = t.day(given.answer_by) if given.answer_by else blank(None, "the day by which you want them")
    sections = (
        Section("", (Para(t("I own this vehicle. You worked on it. Please send me copies of the papers below.")), vehicle_facts(given, blank))),
        Section(t("Please send"), (Bullets((
            t("the work order and the invoice, with every line of labour and parts"),
            t("the odometer reading when it came and when it left"),
            t("pictures and videos taken before, during and after the work"),
            t("scan reports from before and after the work"),
            t("the name of whoever did the work, and of any firm that did part of it for you"),
            t("the terms of your repair warranty"),
        )), Para(t("Copies by e-mail will do. Please send them by this day: %(day)s.", day=by)))),
    )  # fmt: skip
    return letter(
        given, "record-request", t("Request for the work order"), t("Please send the papers of your work"), sections, blank,
        sender=given.party("owner"), receiver=given.receiver, notes=_already(given, "record_request"),
    )  # fmt: skip


def _facts(given: PaperInput, blank: Blanks) -> tuple[Block, ...]:
    """What is on record of departure, link and effect, and the order in time."""
    points = told(given, seen(given, "D", "L", "E"))
    order = order_in_time(given)
    found: Block = Bullets(points or (*_complaint(given), blank(None, "what was found")))
    return (found, *((Para(order),) if order else ()))


def _papers(given: PaperInput) -> list[str]:
    return [
        *exhibits_of(seen(given, "D", "L", "E")),
        *papers_of_sum(given),
    ]


def _pay_by(given: PaperInput) -> str:
    """The day that the writer sets, or that a demand on record gave and that is still to come."""
    if given.answer_by:
        return given.words.day(given.answer_by)
    demands = {c.label for c in given.dossier.of(Correspondence) if c.value.about == "demand_letter"}
    days = [d.day for d in given.dues if d.record in demands and not d.done and d.day and d.day >= given.today]
    return given.words.day(days[0]) if days else ""


def demand(given: PaperInput) -> Paper:
    """Demand, with exhibits and a date."""
    t, blank = given.words, Blanks(given.words)
    sections = (
        Section("", (Para(t("You worked on my vehicle. After that it was damaged. I ask you to make good what this cost me.")), vehicle_facts(given, blank))),
        Section(t("What is on record"), _facts(given, blank)),
        Section(t("What I ask for"), (
            *money_told(given, blank, t("Sum asked for")),
            Para(t("Please pay by this day: %(day)s.", day=blank(_pay_by(given), "the day by which to pay or answer"))),
            Para(t("How to pay: %(how)s.", how=blank(None, "account, or another way to pay"))),
            Para(t("If you see it differently, please write to me by that day. Say which point you mean, and why.")),
        )),
    )  # fmt: skip
    enclosed = exhibit_list(given, _papers(given))
    return letter(
        given, "demand", t("Demand"), t("What the damage after your work has cost"), sections, blank,
        sender=given.party("owner"), receiver=given.receiver, notes=[*_already(given, "demand_letter"), *points_to_look_at(given)], enclosed=enclosed,
    )  # fmt: skip


def insurer(given: PaperInput) -> Paper:
    """Report of the damage to an insurer, with rework and resulting damage apart."""
    t, blank = given.words, Blanks(given.words)
    told_on = _last(given, "notice")
    other = given.receiver
    facts = Facts((
        (t("Vehicle"), blank(vehicle(given), "the vehicle")),
        (t("Number of policy or claim"), blank(None, "number of the policy or claim")),
        (t("Who worked on it before"), blank(other and (other.legal_name or other.full_name), "name of the earlier repairer")),
        (t("Told of it on"), day_words(given, told_on.value.sent if told_on else None, blank, message("the day of the first notice"))),
    ))  # fmt: skip
    by = t.day(given.answer_by) if given.answer_by else blank(None, "the day by which you want an answer")
    sections = (
        Section("", (Para(t("I report damage to my vehicle. It was found after work by the firm below. I ask you to look at the claim.")), facts)),
        Section(t("What is on record"), _facts(given, blank)),
        Section(t("What it has cost"), (Para(t("Doing the work again stands apart from the damage that followed, because insurers treat them apart.")), *money_told(given, blank, t("Sum of the claim")))),
        Section(t("What I ask of you"), (Bullets((
            t("Give me a claim number, and the name of whoever handles it."),
            t("Tell me which papers you still need. The whole record can be sent to you."),
            t("Tell me before %(day)s if you want to see the vehicle or the parts.", day=by),
        )), *((Para(t("These parts are kept: %(parts)s.", parts=numbered(given, kept))),) if (kept := _kept(given)) else ()))),
    )  # fmt: skip
    enclosed = exhibit_list(given, _papers(given))
    whom = given.party("adjuster") or given.party("insurer")
    return letter(
        given, "insurer", t("Report to an insurer"), t("Damage to my vehicle after a repair"), sections, blank,
        sender=given.party("owner"), receiver=whom, whose=message("name and address of the insurer"), notes=points_to_look_at(given),
        enclosed=enclosed,
    )  # fmt: skip


def _found(given: PaperInput) -> Iterator[str]:
    if not shown(given, "D"):
        yield given.words("a finding that the earlier work departed from what it should be: see 'evidence plan'")


def _claimed(given: PaperInput) -> Iterator[str]:
    yield from _found(given)
    if given.loss is None and given.dossier.of(LossItem):  # their currencies differ, or there would be a sum
        yield given.words("one currency for all loss lines: see 'evidence loss'")
    elif given.loss is None:
        yield given.words("loss lines: see 'evidence record loss-item'")


def _demanded(given: PaperInput) -> Iterator[str]:
    yield from _claimed(given)
    if _last(given, "notice") is None:
        yield given.words("a notice to the earlier repairer")


def _answered(given: PaperInput) -> Iterator[str]:
    if _last(given, "response") is None:
        yield given.words("an answer of the other side")


LETTERS: Final[Mapping[str, Kind]] = MappingProxyType({
    "notice": Kind(
        message("Notice to the earlier repairer, and offer to inspect"), "shop", notice, lambda g: (*_leave(g), *_found(g)),
        ("notice", "inspection_opportunity"), "notice",
    ),
    "preservation": Kind(
        message("Request to keep parts and records"), "shop", preservation, lambda g: tuple(_leave(g)), ("preservation_letter",)
    ),
    "record-request": Kind(
        message("Request for the earlier work order and its pictures"), "owner", record_request, about=("record_request",)
    ),
    "demand": Kind(message("Demand, with exhibits and a day"), "owner", demand, lambda g: tuple(_demanded(g)), ("demand_letter",), "demand"),
    "answer-to-denial": Kind(
        message("Answer to a denial, point by point"), "owner", denial, lambda g: tuple(_answered(g)), ("other",)
    ),
    "insurer": Kind(message("Report of the damage to an insurer"), "owner", insurer, lambda g: tuple(_claimed(g)), ("other",)),
})  # fmt: skip

"""The answer to a denial: what is usually said against a claim, point by point against the record.

A point on which the record has a weakness is not argued: the letter says that it is open, and its writer is told why.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Final

from evidence.claim.marks import day_of
from evidence.model.dossier import Recorded
from evidence.model.examination import Measurement
from evidence.model.exhibit import Exhibit
from evidence.model.instrument import Instrument
from evidence.model.people import Correspondence, CustodyTransfer, Party
from evidence.report.blocks import Bullets, Para, Section
from evidence.report.papers.explaining import capital, claim
from evidence.report.papers.language import message
from evidence.report.papers.paper import Blanks, Paper, PaperInput
from evidence.report.papers.records import numbered
from evidence.report.papers.telling import day_words, letter, order_in_time, shown, told, vehicle_facts
from evidence.review.challenge import Challenge, Code
from evidence.rules.assessment import Status

# What is usually said of another cause, and which alternatives of the rules speak to it.
_OTHER_CAUSES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType({
    message("The owner did it, or drove on."): ("owner_work", "abuse"),
    message("Somebody did it after us, or the shop that examined it."): ("later_repairer",),
    message("It was worn, old or damaged before."): ("pre_existing", "wear"),
    message("The part was at fault."): ("wrong_part",),
    message("It has nothing to do with our work."): ("unrelated", "water"),
})  # fmt: skip
_STATUS: Final[Mapping[Status, str]] = MappingProxyType({
    "excluded": message("the record speaks against this"),
    "supported": message("the record supports this: it speaks for you"),
    "less supported": message("the record supports this less than the other explanation"),
    "open": message("still open: nothing on record settles it"),
})  # fmt: skip
_NOTICES: Final = ("notice", "preservation_letter")
_OFFERS: Final = ("inspection_opportunity", "cure_opportunity")


def denial(given: PaperInput) -> Paper:
    """Answer to a denial, point by point against the record."""
    t, blank = given.words, Blanks(given.words)
    ours = {p.subject for p in given.dossier.of(Party) if {"owner", "present_repairer"} & set(p.value.roles)}
    answers = [
        c for c in given.dossier.of(Correspondence) if c.value.about == "response" and c.value.sender not in ours
    ]
    last = answers[-1] if answers else None
    said = t.quoted(last.value.text) if last and last.value.text else blank(None, "what they wrote")
    written = day_words(given, last.value.sent if last else None, blank, message("the day of their letter"))
    by = t.day(given.answer_by) if given.answer_by else blank(None, "the day by which you want it")
    raised = {c.code: c for c in reversed(given.challenges)}  # of one code the worst
    sections = (
        Section("", (
            Para(t("You answered on %(day)s: %(words)s", day=written, words=said)),
            Para(t("Below is what the record holds on each usual point. Where it holds nothing, it says so.")),
            vehicle_facts(given, blank),
        )),
        *_points(given, raised),
        Section(t("What would change this"), (Para(t("A paper, a picture or a reading from your side can change it. Please send what you have by this day: %(day)s.", day=by)),)),
    )  # fmt: skip
    sender = given.party("owner") or given.party("present_repairer")
    weak = [f"{c.said}: {c.sentence}" for c in given.challenges]
    return letter(
        given, "answer-to-denial", t("Answer, point by point"), t("Your answer, and what the record holds"), sections, blank,
        sender=sender, receiver=given.receiver, notes=weak,
    )  # fmt: skip


def _points(given: PaperInput, raised: Mapping[Code, Challenge]) -> Iterator[Section]:
    """One section for each usual point; ``raised`` are the weaknesses of the record by code."""
    order = order_in_time(given)
    yield _point(given, message("It worked when it left us."), [order] if order else [], raised, "outside_window")
    departure = told(given, shown(given, "D"))
    yield _point(
        given,
        message("Nothing shows that our work was at fault."),
        departure,
        raised,
        "contradiction",
        "state_disturbed",
    )
    for said, kinds in _OTHER_CAUSES.items():
        yield _point(given, said, _alternatives(given, kinds), raised)
    for said, tell, codes in _FAIRNESS:
        yield _point(given, said, tell(given), raised, *codes)


def _point(
    given: PaperInput, said: str, points: Iterable[str], raised: Mapping[Code, Challenge], *codes: Code
) -> Section:
    t, items = given.words, tuple(points)
    if any(code in raised for code in codes):
        items = (*items, t("On this the record has a gap. We do not claim more than it holds."))
    return Section(t(said), (Bullets(items),) if items else (Para(t("The record holds nothing on this yet.")),))


def _alternatives(given: PaperInput, kinds: tuple[str, ...]) -> list[str]:
    t = given.words
    if given.argued is None:
        return []
    return [
        f"{capital(claim(given, given.argued, a))}: {t(_STATUS[a.status])}"
        + (f" [{numbered(given, a.records)}]" if a.records else "")
        for a in given.argued.alternatives
        if a.kind in kinds
    ]


def _letters(given: PaperInput, about: tuple[str, ...]) -> list[str]:
    t = given.words
    found: list[Recorded[Correspondence]] = [c for c in given.dossier.of(Correspondence) if c.value.about in about]
    points = []
    for c in found:
        exhibits = numbered(given, map(given.dossier.label, c.value.exhibits))
        line = t("%(what)s, sent %(day)s", what=numbered(given, [c.label]), day=t.day(day_of(c.value.sent)))
        if c.value.received:
            line += t(", received %(day)s", day=t.day(day_of(c.value.received)))
        if c.value.until:
            line += t(", open until %(day)s", day=t.day(day_of(c.value.until)))
        points.append(line + (f" [{exhibits}]" if exhibits else ""))
    return points


def _parts(given: PaperInput) -> list[str]:
    t = given.words
    kept = [e for e in given.dossier.of(Exhibit) if e.value.form == "physical" and e.value.retained]
    moved = [c.label for c in given.dossier.of(CustodyTransfer)]
    points = (
        [t("Kept, and open to your inspection: %(parts)s.", parts=numbered(given, [e.label for e in kept]))]
        if kept
        else []
    )
    return [*points, *([t("Hand-overs on record: %(records)s.", records=numbered(given, moved))] if moved else [])]


def _instruments(given: PaperInput) -> list[str]:
    t = given.words
    used = {m.value.instrument for m in given.dossier.of(Measurement)}
    points = []
    for found in given.dossier.of(Instrument):
        if found.subject in used and found.value.calibrated:
            day = t.day(day_of(found.value.calibrated))
            points.append(
                t(
                    "%(what)s, calibrated on %(day)s [%(record)s]",
                    what=t.quoted(found.value.description),
                    day=day,
                    record=numbered(given, [found.label]),
                )
            )
    return points


_FAIRNESS: Final[tuple[tuple[str, Callable[[PaperInput], list[str]], tuple[Code, ...]], ...]] = (
    (message("We were never told."), lambda g: _letters(g, _NOTICES), ("notice_missing",)),
    (message("We had no chance to look."), lambda g: _letters(g, _OFFERS), ("inspection_missing",)),
    (message("The parts are gone, or nobody knows who had them."), _parts, ("part_scrapped", "custody")),
    (message("Your readings cannot be trusted."), _instruments, ("calibration_absent", "calibration_out_of_date", "instrument_unnamed", "inside_uncertainty")),
)  # fmt: skip

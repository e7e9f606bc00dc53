"""Challenges about single records: instruments, uncertainty, witnesses, clocks, pictures, when they were entered."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator

from evidence.model.base import Record
from evidence.model.dossier import Dossier, Recorded, Version
from evidence.model.examination import Measurement, Taken
from evidence.model.exhibit import Exhibit
from evidence.model.happening import Event
from evidence.model.instrument import Accuracy, Instrument
from evidence.model.kinds import KINDS, enumerated
from evidence.model.people import OwnerDeclaration
from evidence.model.waveform import Waveform
from evidence.model.when import TimeSpan
from evidence.review.challenge import NO_SOURCE, Code, Raised
from evidence.review.grounds import Grounds, added, changed, changing, from_plan, grouped, step_for, striking
from evidence.timeline.clock_signs import signs
from evidence.timeline.clocks import Clocks
from evidence.timeline.states import span_of_record, sure_before

LATE = dt.timedelta(days=7)  # common practice, no source: a record made within the week was made at or near the time
_SOUND = "sound-instrument"
_CONCLUSIONS = ("opinion", "resolution", "binding", "outcome")
_PICTURES = ("photo", "video")
_UNDECIDED = re.compile(r": undecided(?: \(|$)")


def calibration_out_of_date(grounds: Grounds) -> Iterator[Raised]:
    """Readings with an instrument whose calibration, or whose statement of accuracy, had run out by then or did not hold there."""
    for instrument, readings in _by_instrument(grounds):
        if instrument is None:
            continue
        for why, doubtful in grouped((_unreliable(grounds, r), r) for r in readings):
            if why:
                yield _of_instrument(
                    grounds, "calibration_out_of_date", doubtful,
                    f"The accuracy stated for {instrument.label} cannot be relied on: what it read "
                    f"({enumerated(r.label for r in doubtful)}) {why}.",
                    "The document of the calibration that stood then; a check of the instrument against a reference now, under the "
                    "same temperature, stated as made afterwards.",
                )  # fmt: skip
        if not instrument.value.calibration_due:
            continue
        due = instrument.value.calibration_due
        late = [r for r in readings if sure_before(due.span, _span(grounds, r))]
        if late:
            yield _of_instrument(
                grounds, "calibration_out_of_date", late,
                f"{instrument.label} ({instrument.value.summary()}) was due for calibration on {due.given}; "
                f"{enumerated(r.label for r in late)} came later.",
                "A check of the instrument against a reference now, with its result, stated as made afterwards.",
            )  # fmt: skip


def calibration_absent(grounds: Grounds) -> Iterator[Raised]:
    """Readings with an instrument of which no calibration and no check is stated."""
    for instrument, readings in _by_instrument(grounds):
        if instrument is None:
            continue
        held = instrument.value
        if not (held.calibrated or held.checked_against or held.calibration_document):
            yield _of_instrument(
                grounds, "calibration_absent", readings,
                f"No calibration or check is stated for {instrument.label} ({held.summary()}), with which "
                f"{enumerated(r.label for r in readings)} {_were(readings)} read.",
                "The calibration document, or a check against a reference now, stated as made afterwards.",
            )  # fmt: skip


def instrument_unnamed(grounds: Grounds) -> Iterator[Raised]:
    """Readings that name no instrument; instruments without a serial number."""
    for instrument, readings in _by_instrument(grounds):
        if instrument is None:
            yield _of_instrument(
                grounds, "instrument_unnamed", readings,
                f"{enumerated(r.label for r in readings)} {_say(readings)} not with what.",
                "The instrument's type, serial number and calibration, added as an amendment with its reason.",
            )  # fmt: skip
        elif not instrument.value.serial:
            yield Raised(
                code="instrument_unnamed",
                sentence=f"{instrument.label} ({instrument.value.description}) has no serial number on record, so its "
                "calibration cannot be traced to it.",
                answer="A picture of its type plate; the serial number added as an amendment.",
                subjects=(instrument.subject,),
            )  # fmt: skip


def _were(readings: list[Recorded[Taken]]) -> str:
    return "was" if len(readings) == 1 else "were"


def _say(readings: list[Recorded[Taken]]) -> str:
    return "says" if len(readings) == 1 else "say"


def _by_instrument(grounds: Grounds) -> Iterator[tuple[Recorded[Instrument] | None, list[Recorded[Taken]]]]:
    readings = [r for r in grounds.readings if isinstance(r.value, Measurement | Waveform)]
    for subject, found in grouped((r.value.instrument or "", r) for r in readings):
        yield grounds.holdings.instruments.get(subject), found


def _unreliable(grounds: Grounds, reading: Recorded[Taken]) -> str:
    items = grounds.holdings.by_subject.get(reading.subject, ())
    return next((i.value.unreliable for i in items if i.value and i.value.unreliable), "")


def _span(grounds: Grounds, reading: Recorded[Taken]) -> TimeSpan | None:
    items = grounds.holdings.by_subject.get(reading.subject, ())
    return items[0].span if items else (reading.value.time.span if reading.value.time else None)


def _of_instrument(grounds: Grounds, code: Code, readings: list[Recorded[Taken]], sentence: str, answer: str) -> Raised:
    """The assessment gives such readings no support already, so it is held against the same with a sound instrument."""

    def mended() -> Dossier:
        with_one = added(grounds.dossier, _SOUND, _sound_instrument(grounds, readings))
        return changed(with_one, {r.subject: r.value.model_copy(update={"instrument": _SOUND}) for r in readings})

    instrument = readings[0].value.instrument
    subjects = (*([instrument] if instrument else []), *(r.subject for r in readings))
    return Raised(code=code, sentence=sentence, answer=answer, subjects=subjects, mended=mended)


def _sound_instrument(grounds: Grounds, readings: list[Recorded[Taken]]) -> Instrument:
    held = grounds.holdings.instruments.get(readings[0].value.instrument or "")
    base = held.value if held else Instrument(description="an instrument in order")
    holding = tuple(a.model_copy(update={"valid_months": None, "temperature": None}) for a in base.accuracies)
    return base.model_copy(update={"checked_against": "a reference", "calibration_due": None, "accuracies": holding})


def inside_uncertainty(grounds: Grounds) -> Iterator[Raised]:
    """A reading that a finding needs, undecided because limit and value lie within what the instrument can be off."""
    for candidate in grounds.leading:
        for finding in candidate.findings:
            unclear = {
                label: reason for label in finding.records for reason in finding.reasons
                if finding.answer == "undecided" and reason.startswith((f"{label}:", f"{label},"))
                and _UNDECIDED.search(reason)
            }  # fmt: skip
            readings = [r for label in unclear if (r := grounds.labelled(label)) and isinstance(r.value, Measurement)]
            if not readings:
                continue
            step = step_for(candidate, finding.id)
            yield Raised(
                code="inside_uncertainty",
                sentence=f"{finding.id} stays undecided: {'; '.join(unclear[r.label] for r in readings)}.",
                answer="The same reading again, more often or with a finer instrument. " + (from_plan(step) if step else ""),
                subjects=tuple(r.subject for r in readings), mechanism=candidate.mechanism,
                mended=_exactly(grounds, readings),
            )  # fmt: skip


def _exactly(grounds: Grounds, readings: list[Recorded[Record]]) -> Callable[[], Dossier]:
    """The record as it would stand if the instrument were not off at all."""

    def mended() -> Dossier:
        dossier, values = grounds.dossier, {}
        for r in readings:
            assert isinstance(r.value, Measurement)
            held = grounds.holdings.instruments.get(r.value.instrument or "")
            base = (
                held.value if held else Instrument(description="an instrument in order", checked_against="a reference")
            )
            # No person may state an instrument that is never off; this one is only imagined.
            exact = Accuracy.model_construct(quantity=r.value.quantity, unit=r.value.unit, counts="0")
            name = f"{_SOUND} {r.subject}"
            dossier = added(dossier, name, base.model_copy(update={"accuracies": (exact,)}))
            values[r.subject] = r.value.model_copy(update={"instrument": name, "repeats": ()})
        return changed(dossier, values)

    return mended


def single_witness(grounds: Grounds) -> Iterator[Raised]:
    """A finding that counts, or the order in time, rests on what one person says, with nothing to show for it."""
    yield from _one_word(grounds)
    for candidate in grounds.leading:
        for finding in candidate.findings:
            held = [r for label in finding.records if (r := grounds.labelled(label))]
            bare = [r for r in held if isinstance(r.value, Taken) and not _shown(r.value)]
            if finding.answer != "met" or not finding.weighs or not held or len(bare) < len(held):
                continue
            people = {r.value.by for r in bare if isinstance(r.value, Taken)}
            if len(people) > 1:
                continue
            who = grounds.dossier.party(next(iter(people)))
            yield Raised(
                code="single_witness",
                sentence=f"{finding.id} rests on {enumerated(r.label for r in bare)} alone: the word of "
                f"{'one person, not named' if who == 'not stated' else who}, no picture, no printout, no second person.",
                answer="A picture, a printout or a file of it; a second person who saw it; the same reading once more.",
                subjects=tuple(r.subject for r in bare), mechanism=candidate.mechanism,
                without=striking(grounds.dossier, {r.subject for r in bare}),
            )  # fmt: skip


def _shown(record: Record) -> bool:
    """Whether a file or paper stands behind it."""
    return bool(getattr(record, "exhibits", ())) or isinstance(record, Waveform)


def _one_word(grounds: Grounds) -> Iterator[Raised]:
    """Events and declarations without a paper that a common finding rests on, those that share them together."""
    for candidate in grounds.leading:
        resting: list[tuple[tuple[str, ...], str]] = []
        for finding in candidate.common:
            held = [r for label in finding.records if (r := grounds.labelled(label))]
            bare = tuple(
                r.subject for r in held if isinstance(r.value, Event | OwnerDeclaration) and not r.value.exhibits
            )
            if finding.answer == "met" and bare:
                resting.append((bare, finding.id))
        for bare, ids in grouped(resting):
            labels = [grounds.dossier.label(s) for s in bare]
            yield Raised(
                code="single_witness",
                sentence=f"{', '.join(ids)} {'rests' if len(ids) == 1 else 'rest'} on what {enumerated(labels)} "
                f"{'tells' if len(labels) == 1 else 'tell'}, and no paper of it is exhibited.",
                answer="The signed paper, the message or the ticket itself, exhibited; a second person who knows it.",
                subjects=bare, mechanism=candidate.mechanism, without=striking(grounds.dossier, bare),
            )  # fmt: skip


def clock_unreferenced(grounds: Grounds) -> Iterator[Raised]:
    """Times of a device whose clock nothing on record was held against, and times that speak against each other."""
    clocks = Clocks.of(grounds.dossier)
    for device, shots in _by_device(grounds):
        if any(s.subject in clocks.corrections or (s.value.read and s.value.read.gps_time) for s in shots):
            continue
        names = enumerated(s.label for s in shots)
        values = {s.subject: _without_clock(s.value) for s in shots}
        yield Raised(
            code="clock_unreferenced",
            sentence=f"The times of {names} are those of {device}; nothing on record says how far that clock was off.",
            answer="One picture of a reference clock with the same device, now, before its clock is set, recorded as a clock "
            "reference; or an event that another clock recorded too.",
            subjects=tuple(s.subject for s in shots), without=changing(grounds.dossier, values),
        )  # fmt: skip
    for clock in clocks.clocks:
        for stretch in clock.stretches:
            if stretch.contradicting:
                yield Raised(
                    code="clock_unreferenced",
                    sentence=f"{enumerated(stretch.contradicting)} cannot all be right about the clock of {clock.device.name}.",
                    answer="A further reference of that device; the one that is wrong withdrawn with its reason.",
                    labels=stretch.contradicting,
                )  # fmt: skip
    for sign in signs(grounds.dossier, clocks):
        yield Raised(
            code="clock_unreferenced", sentence=sign.words(),
            answer="A clock reference of that device; a statement of whoever used it how its clock was set.", labels=sign.records,
        )  # fmt: skip


def _by_device(grounds: Grounds) -> Iterator[tuple[str, list[Recorded[Exhibit]]]]:
    clocked = [e for e in grounds.dossier.of(Exhibit) if e.value.read and e.value.read.captured]
    for device, shots in grouped(
        ((e.value.read.device if e.value.read else None) or e.value.device, e) for e in clocked
    ):
        yield device or "a device that is not named", shots


def _without_clock(shot: Exhibit) -> Exhibit:
    assert shot.read
    return shot.model_copy(update={"read": shot.read.model_copy(update={"captured": None})})


def capture_time_asserted(grounds: Grounds) -> Iterator[Raised]:
    """Pictures of which the file itself says nothing about when it was taken."""
    bare = [
        e for e in grounds.dossier.of(Exhibit)
        if e.value.read and e.value.read.media in _PICTURES and not e.value.read.captured and not e.value.derived_from
    ]  # fmt: skip
    if bare:
        said = [e.label for e in bare if e.value.taken]
        told = f"for {enumerated(said)} somebody says when" if said else "nobody says when either"
        values = {e.subject: e.value.model_copy(update={"taken": None}) for e in bare}
        yield Raised(
            code="capture_time_asserted",
            sentence=f"{enumerated(e.label for e in bare)} {'carries' if len(bare) == 1 else 'carry'} no time of capture "
            f"in the file; {told}.",
            answer="The original from the device or the card (messages strip the time); a statement of whoever took it.",
            subjects=tuple(e.subject for e in bare), without=changing(grounds.dossier, values),
        )  # fmt: skip


def photo_signs(grounds: Grounds) -> Iterator[Raised]:
    """What was noticed about a picture: each a fact with its limits."""
    for subject, noticed in grounds.signs.items():
        held = grounds.dossier.get(subject)
        if held and not held.withdrawn:
            yield Raised(
                code="photo_signs", sentence=f"{held.label}: {'; '.join(noticed)}.",
                answer="The original from the device with its neighbours before and after; a statement of whoever took it.",
                subjects=(subject,), without=striking(grounds.dossier, {subject}),
            )  # fmt: skip


def recorded_late(grounds: Grounds) -> Iterator[Raised]:
    """Readings entered long after they were taken, with no paper or file from the time behind them."""
    late: list[tuple[dt.timedelta, Recorded[Record]]] = []
    for record in grounds.standing:
        span = span_of_record(record.value)
        if span and not _shown(record.value) and record.kind not in _CONCLUSIONS:
            age = record.versions[0].recorded_at - span.latest
            if age > LATE:
                late.append((age, record))
    if late:
        longest = max(age for age, _ in late)
        records = [r for _, r in late]
        yield Raised(
            code="recorded_late",
            sentence=f"{enumerated(r.label for r in records)} {'was' if len(records) == 1 else 'were'} entered more than "
            f"{LATE.days} days after what {'it tells' if len(records) == 1 else 'they tell'} (up to {longest.days} days), "
            "with nothing from the time behind it.",
            answer="Notes, messages or job sheets from the time, exhibited; a statement why it was entered later. "
            f"The limit of {LATE.days} days is {NO_SOURCE}.",
            subjects=tuple(r.subject for r in records), without=striking(grounds.dossier, {r.subject for r in records}),
        )  # fmt: skip


def amended_late(grounds: Grounds) -> Iterator[Raised]:
    """Evidence changed or withdrawn after an opinion, a notice or a demand was on record."""
    known = [
        v.seq for r in grounds.dossier.by_subject.values() for v in r.versions[:1]
        if r.kind == "opinion" or (r.kind == "correspondence" and v.body.get("about") in ("notice", "demand_letter"))
    ]  # fmt: skip
    if not known:
        return
    for record in grounds.dossier.by_subject.values():
        changes = [v for v in record.versions[1:] if v.seq > min(known)]
        if changes and record.kind not in ("opinion", "correspondence", "party", "dossier", "outcome"):
            word = "withdrawn" if record.withdrawn else "amended"
            yield Raised(
                code="amended_late",
                sentence=f"{record.label} was {word} after the findings were known (entry {changes[-1].seq}): "
                f"{'; '.join(dict.fromkeys(v.reason for v in changes))}.",
                answer="Both versions stand in the record with the reason; a paper or file that bears the reason out.",
                subjects=(record.subject,), without=_as_before(grounds.dossier, record, changes[0]),
            )  # fmt: skip


def _as_before(dossier: Dossier, record: Recorded[Record], change: Version) -> Callable[[], Dossier]:
    """The record with the version that stood before the change."""

    def earlier() -> Dossier:
        body = next(v.body for v in reversed(record.versions) if v.seq < change.seq)
        by_subject = dict(dossier.by_subject)
        by_subject[record.subject] = Recorded(
            kind=record.kind, number=record.number, subject=record.subject,
            value=KINDS[record.kind].stored(body) if body else record.value, versions=record.versions,
        )  # fmt: skip
        return Dossier(ledger=dossier.ledger, size=dossier.size, last_at=dossier.last_at, by_subject=by_subject)

    return earlier

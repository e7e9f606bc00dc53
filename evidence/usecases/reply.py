"""The shop's side of a review: take it in, see what is asked, answer. Answers go the other way with the next bundle."""

from __future__ import annotations

from base64 import b64decode
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.errors import EvidenceError, NotFound, StoreDamaged
from evidence.model.base import Json, Record
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.people import Correspondence, Party
from evidence.model.reviewing import Reviewed, ReviewMark
from evidence.ports import Desk, Source, Taken
from evidence.record.merkle import root_of
from evidence.review.exchange import Sheet, sheet
from evidence.usecases.assess import assess_held
from evidence.usecases.pen import Pen, need, read_dossier
from evidence.usecases.record import Entered, record_one, take_one
from evidence.usecases.review import Received, own_party, own_version, writer_party


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A review that was taken in: where it lies in the dossier, and what it says beside it."""

    title: str
    ledger: str  # of the dossier
    exhibit: str
    correspondence: str
    new: bool  # False: this very file was taken in before
    sheet: Sheet


def accept_review(desk: Desk, received: Received, source: Source) -> Accepted:
    """Take a review in: checked, tied to a head of the dossier's own ledger, kept as exhibit and correspondence."""
    of = _of(received, source)
    with desk.ledgers.reading() as view:
        if of.ledger not in view.ledgers():
            raise NotFound(
                f"speaks of “{of.title}”, a dossier that is not in this workspace", item=source.name,
                advice="Run the command in the workspace from which that bundle was sent.",
            )  # fmt: skip
        sizes = view.stored_sizes()
    _check_own(own_version(desk, of.ledger).leaves, of, source)
    own_party(desk, of.ledger)
    taken = take_one(desk, source, sizes)
    assert taken.file
    exhibit, letter, new = _kept(desk, of.ledger, received, taken)
    held = own_version(desk, of.ledger).dossier
    return Accepted(
        title=held.title, ledger=of.ledger, exhibit=exhibit, correspondence=letter, new=new,
        sheet=sheet(held, assess_held(desk, held), received.dossier),
    )  # fmt: skip


def _of(received: Received, source: Source) -> Reviewed:
    of = received.dossier.opening.reviews
    if of is None:
        raise EvidenceError(
            "holds a dossier, not a review", item=source.name,
            advice="A review is made with 'evidence review BUNDLE --in DIR' and sent with 'evidence review send'.",
        )  # fmt: skip
    return of


def _check_own(leaves: Sequence[bytes], of: Reviewed, source: Source) -> None:
    if len(leaves) < of.entries:
        raise StoreDamaged(
            f"speaks of {of.entries} entries of “{of.title}”; this workspace holds {len(leaves)}", item=source.name,
            advice="The dossier here is older than what was sent, or rolled back: see 'evidence recheck'.",
        )  # fmt: skip
    if root_of(leaves[: of.entries]) != b64decode(of.root):
        raise StoreDamaged(
            f"speaks of another history of “{of.title}”: the first {of.entries} entries here are not those under review",
            item=source.name, advice="See 'evidence recheck', and ask the reviewer which bundle he holds.",
        )  # fmt: skip


def _kept(desk: Desk, ledger: str, received: Received, taken: Taken) -> tuple[str, str, bool]:
    """Labels of the exhibit and the correspondence, and whether they are new."""
    assert taken.file
    review = received.dossier
    with desk.ledgers.writing() as work:
        work.state(ledger)
        held = read_dossier(work, ledger)
        for letter in held.of(Correspondence):
            shown = [held.get(e) for e in letter.value.exhibits]
            if any(_is(e, taken.file.sha256) for e in shown):
                return next(e.label for e in shown if e), letter.label, False
        us = next(s for s in [writer_party(work, ledger, desk.recorder.full_name)] if s)
        pen = Pen(desk, work, ledger, recorded_by=us, via="review")
        sender = _reviewer(review)
        them = writer_party(work, ledger, sender.full_name)
        if them is None:
            them = desk.ids.subject()
            pen.record(sender, them)
        exhibit = desk.ids.subject()
        caption = f"Review by {sender.full_name} as received, {review.size} entries"
        _kind, number = pen.record(Exhibit(caption=caption, file=taken.file, read=taken.facts), exhibit)
        fields: Json = {
            "sender": them, "receiver": us, "about": "response", "channel": "message", "exhibits": [exhibit],
            "sent": f"{review.last_at:%Y-%m-%dT%H:%M:%SZ}", "text": _summary(review),
        }  # fmt: skip
        letter_record = Correspondence.handed_in(fields, {}).model_copy(update={"review": review.ledger})
        _kind, count = pen.record(letter_record, desk.ids.subject())
        pen.put_down()
        work.commit()
    return f"{Exhibit.label} {number}", f"{Correspondence.label} {count}", True


def _is(exhibit: Recorded[Record] | None, sha256: str) -> bool:
    value = exhibit.value if exhibit else None
    return isinstance(value, Exhibit) and value.file is not None and value.file.sha256 == sha256


def _reviewer(review: Dossier) -> Party:
    """Whoever opened the review, as he calls himself there."""
    opener = review.all_of(type(review.opening))[0].versions[0].recorded_by
    found = review.get(opener)
    assert found
    assert isinstance(found.value, Party)
    return found.value.model_copy(update={"name": None})


def _summary(review: Dossier) -> str:
    newest: dict[tuple[str, str, str], str] = {}
    for mark in review.of(ReviewMark):
        newest[mark.value.target] = mark.value.mark
    counts = [(word, list(newest.values()).count(word)) for word in ("accepted", "questioned", "rejected")]
    told = ", ".join(f"{n} {word}" for word, n in counts if n)
    return f"Review with {told}." if told else "Review without marks."


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """A review that a dossier holds: its ledger, the file, and the letter with which it came."""

    ledger: str
    sha256: str
    letter: str


def reviews_in(desk: Desk, dossier: str) -> tuple[str, tuple[TakenIn, ...]]:
    """Ledger of the dossier, and the reviews that it holds: of each the newest file, in order of arrival."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        held = read_dossier(view, ledger)
    found: dict[str, TakenIn] = {}
    for letter in held.of(Correspondence):
        files = [e.value.file for s in letter.value.exhibits if (e := held.get(s)) and isinstance(e.value, Exhibit)]
        if letter.value.review and files and files[0]:
            found.pop(letter.value.review, None)
            found[letter.value.review] = TakenIn(
                ledger=letter.value.review, sha256=files[0].sha256, letter=letter.label
            )
    return ledger, tuple(found.values())


def shop_sheet(desk: Desk, ledger: str, received: Received) -> Sheet:
    """A review that was taken in, beside the dossier as it stands now."""
    held = own_version(desk, ledger).dossier
    return sheet(held, assess_held(desk, held), received.dossier)


def answer(
    desk: Desk, ledger: str, received: Received, mark: int, text: str, *, records: Sequence[str] = (),
    exhibits: Sequence[str] = (),
) -> Entered:  # fmt: skip
    """Answer one mark of a review that was taken in; ``records`` and ``exhibits`` are short names or numbers."""
    marks = {m.number: m for m in received.dossier.of(ReviewMark)}
    if mark not in marks:
        known = ", ".join(map(str, sorted(marks))) or "none"
        raise NotFound(f"the review has no mark {mark}; its marks are: {known}", item=f"review mark {mark}")
    fields: Json = {
        "by": own_party(desk, ledger), "time": f"{desk.clock.now():%Y-%m-%dT%H:%M:%SZ}", "review": received.dossier.ledger,
        "mark": mark, "text": text, "records": list(records), "exhibits": list(exhibits),
    }  # fmt: skip
    return record_one(desk, ledger, "review_answer", {k: v for k, v in fields.items() if v})

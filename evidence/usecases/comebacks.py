"""The comeback register: taking things in, and holding all that is known together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

from evidence.errors import Asked, EvidenceError, Mistake, MistakesFound, NotFound
from evidence.model.base import nearest
from evidence.model.when import utc_text
from evidence.ports import Desk, Progress
from evidence.register.batches import Batch, Content, DossierHead, Sort, body_of, comeback_in
from evidence.register.figures import Register, register
from evidence.register.lines import Comeback
from evidence.register.mapping import OrderMapping
from evidence.usecases.assess import assess_held
from evidence.usecases.dossier_comeback import comeback_of
from evidence.usecases.pen import read_dossier
from evidence.usecases.recheck_book import whole

KEPT_EVERY, MOST_WAITING = dt.timedelta(seconds=5), 100  # what an interruption costs at most; by choice
_STAGE = "judging dossiers that changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The register as of a day, and what a reader must know of how it was counted."""

    held: Register
    dossiers: int  # that speak of a comeback
    silent: int  # dossiers without a prior work order
    demonstrations: int  # left out
    judged: int  # dossiers that had to be judged anew


def counted(desk: Desk, as_of: dt.date, progress: Progress, *, demonstrations: bool = False) -> Counted:
    """Orders, what was entered by hand, and what dossiers say. A dossier that has not changed is not judged again.

    What was judged is kept every few seconds and at the end, also when it is interrupted: the next time goes on from there.
    """
    heads = desk.book.dossiers()
    wanted = [h for h in heads if demonstrations or not h.demonstration]
    known = desk.book.said(desk.judged_by())
    fresh = _judged(desk, [h for h in wanted if (h.ledger, h.leaf) not in known], progress)
    texts = [(known | fresh)[h.ledger, h.leaf] for h in wanted]
    said = [comeback_in(text) for text in texts if text]
    held = register(desk.book.orders(), [*said, *desk.book.comebacks()], as_of)
    return Counted(
        held=held,
        dossiers=len(said),
        silent=len(texts) - len(said),
        demonstrations=len(heads) - len(wanted),
        judged=len(fresh),
    )


def _judged(desk: Desk, missing: Sequence[DossierHead], progress: Progress) -> dict[tuple[str, str], str]:
    """What dossiers say that were not judged yet, as texts of the book."""
    fresh: dict[tuple[str, str], str] = {}
    waiting: dict[tuple[str, str], str] = {}

    def keep() -> None:
        if waiting and desk.book.writable:
            desk.book.keep_said(desk.judged_by(), waiting)
        waiting.clear()

    kept_at = desk.clock.now()
    try:
        for done, head in enumerate(missing):
            progress(_STAGE, done, len(missing))
            with desk.ledgers.reading() as view:
                dossier = read_dossier(view, head.ledger)
            found = comeback_of(dossier, assess_held(desk, dossier, firmness=False), desk.recorder.firm)
            fresh[head.ledger, head.leaf] = waiting[head.ledger, head.leaf] = body_of(found) if found else ""
            if len(waiting) >= MOST_WAITING or desk.clock.now() - kept_at >= KEPT_EVERY:
                keep()
                kept_at = desk.clock.now()
    finally:
        keep()
    if missing:
        progress(_STAGE, len(missing), len(missing))
    return fresh


def take_entry(desk: Desk, comeback: Comeback) -> Batch:
    """Take in one comeback entered by hand; its source is filled in. Raises :class:`MistakesFound`."""
    today = desk.today()
    wrong = _mistakes(comeback, today)
    if wrong:
        raise MistakesFound(wrong)
    number = desk.book.next_number()
    entry = comeback._replace(source=f"entry {number}")
    raw = body_of(entry).encode()
    batch = _batch(desk, number, "entry", raw, comebacks=1)
    desk.book.add(batch, Content(raw=raw, entry=entry))
    return batch


def _mistakes(comeback: Comeback, today: dt.date) -> list[Mistake]:
    found = []
    if comeback.back is None:
        found.append(Mistake("", 0, 0, "back", "the day it came back is missing"))
    elif comeback.back > today.toordinal():
        found.append(Mistake("", 0, 0, "back", f"lies after today ({today.isoformat()})"))
    if comeback.days is not None and comeback.days < 0:
        found.append(Mistake("", 0, 0, "back", "lies before the day of the work"))
    if comeback.distance is not None and comeback.distance < 0:
        found.append(Mistake("", 0, 0, "back-odometer", "is lower than when the vehicle left"))
    if not (comeback.operations or comeback.mechanism or comeback.number):
        found.append(
            Mistake(
                "", 0, 0, "operation", "neither operation, mechanism nor order number is stated: nothing to count it by"
            )
        )
    if comeback.recovered is not None and comeback.own:
        found.append(Mistake("", 0, 0, "recovered", "is of a claim on another firm; name it with --firm"))
    return found


def require_known(desk: Desk, mapping: OrderMapping, file: str) -> None:
    """Refuse a mapping that stands for mechanisms which no pack has: there would be no card for them, and nobody would know why."""
    known = [m.id for pack in desk.packs() for m in pack.mechanisms]
    wrong = [
        Mistake(file, 0, 0, "mapping", f"words: mechanism: {words}: {m!r} is not known{nearest(m, known)}")
        for words, m in mapping.words.mechanism.items()
        if m not in known
    ]
    if wrong:
        raise MistakesFound(wrong, advice="'evidence rules' lists the mechanisms.")


def take_table(
    desk: Desk, batch: Batch, content: Content, mistakes: Sequence[Mistake], *, leave_out_broken: bool = False
) -> Batch:
    """Take in a table that was read under ``batch.number``. Its bytes are kept whole, broken rows with them.

    Raises :class:`MistakesFound` where rows are broken and were not left out knowingly, :class:`Asked` for the same file again.
    """
    digest = sha256(content.raw).hexdigest()
    twin = next((b for b in desk.book.batches() if b.sha256 == digest and b.sort == "table" and not b.withdrawn), None)
    if twin:
        raise Asked(
            f"the same file was imported already, as number {twin.number} on {twin.made_at[:10]}", item=batch.file,
            advice=f"Withdraw that one first, if it is to be read otherwise: evidence comebacks withdraw {twin.number} --reason '…'.",
        )  # fmt: skip
    if mistakes and not leave_out_broken:
        raise MistakesFound(
            mistakes,
            advice="Mend the file, or take the sound rows alone with --leave-out-broken; the file is kept whole either way.",
        )
    if not content.rows:
        raise EvidenceError("holds no order that can be read; nothing was recorded", item=batch.file)
    filled = _batch(
        desk, batch.number, "table", content.raw, file=batch.file, orders=len(content.rows),
        comebacks=sum(r.comeback is not None for r in content.rows), left_out=batch.left_out,
    )  # fmt: skip
    desk.book.add(filled, content)
    return filled


def withdraw_batch(desk: Desk, number: int, reason: str) -> Batch:
    """Withdraw something handed in: it stays in the book with the reason, and counts no more."""
    found = next((b for b in desk.book.batches() if b.number == number), None)
    if found is None or found.sort == "withdrawal":
        raise NotFound(
            "is no import and no entry of the register",
            item=str(number),
            advice="'evidence comebacks book' lists them.",
        )
    if found.withdrawn:
        raise EvidenceError(f"was withdrawn already, by number {found.withdrawn}", item=str(number))
    if not reason.strip():
        raise Asked("why is it withdrawn?", item=str(number), advice="Say it with --reason.")
    batch = _batch(desk, desk.book.next_number(), "withdrawal", b"", of=number, reason=reason.strip())
    desk.book.add(batch, Content())
    return batch


def book_lines(desk: Desk) -> list[list[str]]:
    """Everything handed in, for a list; bytes that are no longer those handed in are told."""
    found = []
    for b in desk.book.batches():
        what = {"table": f"table {b.file}", "entry": "entry by hand", "withdrawal": f"withdraws {b.of}: {b.reason}"}[
            b.sort
        ]
        rows = (
            f"{b.orders} orders, {b.comebacks} comebacks" if b.sort == "table" else "1 comeback" if b.comebacks else ""
        )
        left = f", {b.left_out} rows left out" if b.left_out else ""
        state = "" if whole(desk, b) else "ALTERED: not the bytes that were handed in"
        state = state or (f"withdrawn by {b.withdrawn}" if b.withdrawn else "counts" if b.sort != "withdrawal" else "")
        found.append([str(b.number), b.made_at[:16].replace("T", " "), b.made_by, what, rows + left, state])
    return found


def _batch(desk: Desk, number: int, sort: Sort, raw: bytes, **more: str | int) -> Batch:
    return Batch(
        number=number, sort=sort, made_at=utc_text(desk.clock.now()), made_by=desk.recorder.full_name,
        sha256=sha256(raw).hexdigest(), **more,  # type: ignore[arg-type]
    )  # fmt: skip

"""What a disclosure shows: the entries with what is left out of them, and what is computed from the rest."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import islice

from evidence.errors import EvidenceError, HeadBehind, KeyUnusable, NotFound, StaysReadable, WouldStrengthen
from evidence.model.dossier import Dossier, Step, fold
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import label_of
from evidence.model.when import from_utc_text
from evidence.ports import Desk, Known, Reader
from evidence.record.checkpoint import checkpoint_text, fingerprint, public_pem, sign_text
from evidence.record.entry import Entry, Header, step_of
from evidence.record.head import ORIGIN, Head
from evidence.review.disclosing import Choice, Disclosure, Gain, LeftOut, culprits, gains
from evidence.review.left_readable import LeftReadable, left_readable
from evidence.usecases.assess import assess_held
from evidence.usecases.heads import head_of, seal_head
from evidence.usecases.pen import need

_MOST_REASONS = 3  # told of each record that cannot be withheld


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedText:
    """A text signed by the shop's key, as a note and in the form that OpenSSL takes."""

    note: bytes
    signature: bytes
    pem: bytes
    fingerprint: str


def disclosure(desk: Desk, dossier: str, choice: Choice, at: str = "") -> Disclosure:
    """Gather what is shown of a dossier, after its head is signed. Nothing is written to the ledger.

    A choice that would make a conclusion stronger is refused (:class:`WouldStrengthen`) and the records are named. So is
    one that withholds a file while its record says what is in it (:class:`StaysReadable`), unless that is allowed.
    """
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
    head = _sealed(desk, ledger)
    with desk.ledgers.reading() as view:
        records = {k.subject: k for k in (_record(view, ledger, which) for which in choice.records)}
        exhibits = [_record(view, ledger, which) for which in choice.files]
        allowed = {_record(view, ledger, which).subject for which in choice.text_stays}
        steps, left_out = [], []
        for entry in islice(view.entries(ledger), head.size):
            steps.append(step_of(entry))
            if known := records.get(steps[-1].subject):
                left_out.append(_left_out(entry, known))
    whole, shown = fold(ledger, steps), fold(ledger, _without(steps, frozenset(records)))
    files = {file: label_of(e.kind, e.number) for e in exhibits for file in _files(e, steps)}
    readable = left_readable(shown, files)
    _may_be_read([r for r in readable if r.content and r.subject not in allowed], shown)
    assessment = assess_held(desk, shown)
    if records and gains(total := assess_held(desk, whole, firmness=False), assessment):
        raise _refusal(
            records,
            lambda held: gains(total, assess_held(desk, fold(ledger, _without(steps, held)), firmness=False)),
        )
    return Disclosure(
        head=head, at=_moment(at, whole, dossier), whole=whole, shown=shown, assessment=assessment,
        left_out=tuple(left_out), withheld_files=files, readable=readable,
    )  # fmt: skip


def shown_entries(view: Reader, found: Disclosure) -> Iterator[Entry]:
    """The entries up to the head; the contents of what is withheld are left out, every header stays."""
    left_out = {e.seq for e in found.left_out}
    for seq, entry in enumerate(islice(view.entries(found.head.ledger), found.head.size), 1):
        yield Entry(entry.header, None) if seq in left_out else entry


def head_files(desk: Desk, head: Head) -> dict[int, dict[str, bytes]]:
    """The files of every kept head up to ``head``, by size. One that is not kept is there as its bare text."""
    kept = {
        h.size: {name: desk.shelf.read(h, name) for name in desk.shelf.files(h)} for h in desk.shelf.kept(head.ledger)
    }
    return {
        head.size: {"head.txt": checkpoint_text(head).encode()},
        **{n: f for n, f in kept.items() if n <= head.size},
    }


def signed(desk: Desk, ledger: str, text: str) -> SignedText | str:
    """``text`` signed in the ledger's name; in words why it is not, where the key cannot sign."""
    try:
        public, signature = desk.signer.public(), desk.signer.sign(text.encode())
    except KeyUnusable as err:
        return f"{err}. {err.advice}".strip()
    if signature is None:
        return "the key is locked and there was nobody to ask for its passphrase"
    note = sign_text(text, ORIGIN + ledger, public, lambda _text: signature)
    return SignedText(
        note=note.to_bytes(), signature=signature, pem=public_pem(public), fingerprint=fingerprint(public)
    )


def _sealed(desk: Desk, ledger: str) -> Head:
    with suppress(HeadBehind):  # a full disk here must not keep the bundle from another disk
        return seal_head(desk, ledger).head
    with desk.ledgers.reading() as view:
        return head_of(desk, view, ledger)


def _left_out(entry: Entry, known: Known) -> LeftOut:
    header = Header.read(entry.header)
    return LeftOut(
        seq=header.seq, label=label_of(known.kind, known.number), kind=known.kind, action=header.action,
        replaces=header.replaces,
    )  # fmt: skip


def _without(steps: Sequence[Step], withheld: frozenset[str]) -> Iterator[Step]:
    """The steps as a receiver has them: what stands in a content is gone where it is withheld."""
    return (replace(s, body=None, reason="", via="", value=None) if s.subject in withheld else s for s in steps)


def _may_be_read(unasked: Sequence[LeftReadable], shown: Dossier) -> None:
    """Refuse what nobody said may stay readable."""
    if not unasked:
        return
    said = "\n".join(f"  {r.label} ({_summary(shown, r)}) would still say:\n{r.words()}" for r in unasked)
    leave = " ".join(f"--withhold '{r.label.lower()}'" for r in unasked)
    stay = " ".join(f"--text-stays '{r.label.lower()}'" for r in unasked)
    raise StaysReadable(
        f"the file would be withheld, but its record says what is in it\n{said}",
        advice=f"Leave the whole record out: {leave} (a copy with areas blacked out can stay). Or, if the receiver may read "
        f"it: {stay}. Nothing was written.",
    )


def _summary(shown: Dossier, readable: LeftReadable) -> str:
    record = shown.get(readable.subject)
    return record.value.summary() if record else ""


def _refusal(records: Mapping[str, Known], gained: Callable[[frozenset[str]], Sequence[Gain]]) -> WouldStrengthen:
    found = culprits(tuple(records), gained)
    if found.alone:
        told = "".join(f"\n  {_named(records[subject])}{_reasons(said)}" for subject, said in found.told)
    else:
        names = ", ".join(_named(records[subject]) for subject, _ in found.told)
        told = f"\n  {names}: none of them alone, but together{_reasons(found.told[0][1])}"
    return WouldStrengthen(
        f"leaving this out would make a conclusion stronger than the whole record makes it{told}",
        advice="Show these records, or leave out what rests on them as well. Nothing was written.",
    )


def _named(known: Known) -> str:
    return f"{label_of(known.kind, known.number)} ({known.summary})"


def _reasons(told: Sequence[Gain]) -> str:
    more = f"\n    and {len(told) - _MOST_REASONS} more" if len(told) > _MOST_REASONS else ""
    return "".join(f"\n    {gain}" for gain in told[:_MOST_REASONS]) + more


def _moment(at: str, whole: Dossier, dossier: str) -> dt.datetime:
    try:
        moment = from_utc_text(at) if at else whole.last_at
    except ValueError as err:
        raise EvidenceError(str(err), item="--at", advice="Write it as 2026-03-04T12:00:00Z.") from None
    if moment is None:
        raise EvidenceError("the dossier has no entry", item=dossier)
    return moment


def _record(view: Reader, ledger: str, which: str) -> Known:
    found = view.named(ledger, which)
    if found is None:
        raise NotFound("no such record in this dossier", item=which, advice="'evidence show' lists them.")
    if found.kind == "dossier":
        raise EvidenceError("the opening of a dossier cannot be withheld", item=which)
    return found


def _files(exhibit: Known, steps: Sequence[Step]) -> set[str]:
    """Every file that an exhibit named, in any version."""
    bodies = [s.body for s in steps if s.subject == exhibit.subject and s.body]
    files = {str(body["file"]["sha256"]) for body in bodies if isinstance(body.get("file"), dict)}
    if not files:
        label = label_of(exhibit.kind, exhibit.number)
        raise EvidenceError(f"has no file that could be withheld ({Exhibit.label} records may have one)", item=label)
    return files

"""A second party countersigns a head; the shop keeps what it gave back.

What it shows: by the witness's clock the shop had this head. The witness has not seen the entries, and says nothing of
their content. His key is his by his word: compare its fingerprint with him, on paper or by voice.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from evidence.errors import EvidenceError, KeyUnusable, NotFound
from evidence.ports import Desk, Signer
from evidence.record.checkpoint import Note, checkpoint_text, cosign, cosigned_at, fingerprint, public_pem
from evidence.record.handed import WITNESS, HandedHead, line_of, witness_name, witness_said
from evidence.record.head import ORIGIN, Head
from evidence.usecases.earlier_heads import ProofFound, compare, contradicting
from evidence.usecases.heads import contradiction, keep_other


@dataclass(frozen=True, slots=True, kw_only=True)
class Countersigned:
    """A countersignature: who, of what, when, and the file to give back."""

    head: Head
    witness: str
    fingerprint: str
    at: dt.datetime
    shop: str  # fingerprint of the key that had signed the head, where it came along; else empty
    reply: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A countersignature taken into the shop's keeping."""

    head: Head
    witness: str
    fingerprint: str
    at: dt.datetime
    own: bool  # by a key of this very workspace


def file_names(public: bytes) -> tuple[str, str]:
    """Under which names a countersignature and its key are kept."""
    start = fingerprint(public)[:16]
    return f"witness-{start}.note", f"witness-{start}.pem"


def countersign(
    desk: Desk, given: HandedHead, signer: Signer, proof: ProofFound | None = None, who: str = ""
) -> Countersigned:
    """Countersign a head of somebody else's ledger, unless it contradicts one that was countersigned here before.

    A longer head of a ledger that is known here needs the consistency ``proof`` from the one before, so that nobody
    gets two histories countersigned by the same witness. ``who``: the name to sign under, by default the firm's.
    """
    head, text = given.head, checkpoint_text(given.head)
    shop = _signer_of(given)
    public = signer.public()
    note_name, key_name = file_names(public)
    if note_name in desk.shelf.files(head):
        note = Note.read(desk.shelf.read(head, note_name))
        return _countersigned(given, note, public, shop)
    _refuse_second_history(desk, head, proof)
    name = witness_name(who or desk.recorder.firm or desk.recorder.full_name)
    note = cosign(text, name, public, _signing(signer), int(desk.clock.now().timestamp()))
    handed = {"handed.note": given.note.to_bytes()} if given.note else {}
    desk.shelf.keep(head, {**handed, note_name: note.to_bytes(), key_name: public_pem(public)})
    return _countersigned(given, note, public, shop)


def accept(desk: Desk, given: HandedHead, key: str = "") -> Accepted:
    """Check what a witness gave back and keep it beside the head. ``key``: his fingerprint as he told it, or its start."""
    witness = _witness_in(given)
    assert given.note is not None
    assert given.public is not None
    found = fingerprint(given.public)
    if key and not found.startswith("".join(key.lower().split())):
        raise EvidenceError(
            f"was signed by another key than you were told\n  told:  {key}\n  found: {_fours(found)}", item="countersignature",
            advice="Nothing was kept. Ask the witness for the fingerprint again, by voice.",
        )  # fmt: skip
    compared = compare(desk, given)
    if compared.agreement != "continues":
        raise contradicting(compared)
    note_name, key_name = file_names(given.public)
    desk.shelf.keep(given.head, {note_name: given.note.to_bytes(), key_name: public_pem(given.public)})
    own = any(k.public == given.public for k in desk.keys.known())
    at = cosigned_at(given.note, witness, given.public) or 0
    return Accepted(head=given.head, witness=witness_said(witness), fingerprint=found, at=_time(at), own=own)


def _witness_in(given: HandedHead) -> str:
    """The name of the witness; refused where there is no countersignature, or a wrong one."""
    if given.note is None or given.public is None:
        raise EvidenceError(
            "holds no countersignature with its key", item="countersignature",
            advice="Take the whole file that 'evidence heads witness' wrote.",
        )  # fmt: skip
    for signature in given.note.signatures:
        if signature.name.startswith(WITNESS) and cosigned_at(given.note, signature.name, given.public) is not None:
            return signature.name
    raise EvidenceError(
        "the countersignature is not right", item="countersignature",
        advice="The file was changed on its way, or is of another head. Nothing was kept; ask for it again.",
    )  # fmt: skip


def _signer_of(given: HandedHead) -> str:
    if given.note is None or given.public is None:
        return ""
    if not given.note.by(f"{ORIGIN}{given.head.ledger}", given.public):
        raise EvidenceError(
            "the signature is not right", item="head", advice="Nothing was signed. Ask the shop for the file again."
        )
    return fingerprint(given.public)


def _refuse_second_history(desk: Desk, head: Head, proof: ProofFound | None) -> None:
    try:
        compared = compare(desk, HandedHead(head))
    except NotFound:
        pass
    else:  # a ledger of this workspace: the entries themselves are here
        if compared.agreement != "continues":
            raise contradicting(compared)
        return
    for before in desk.shelf.kept(head.ledger):
        if before.size == head.size and before.root != head.root:
            keep_other(desk, before, head)
            raise contradiction(before, head, "before")
        if before.size != head.size and not _bridged(before, head, proof):
            first, last = sorted((before.size, head.size))
            raise EvidenceError(
                f"a head of {before.size} entries was countersigned here before, and nothing shows that the two belong "
                f"together\n  before: {line_of(before)}\n  now:    {line_of(head)}",
                item=f"ledger {head.ledger[:8]}",
                advice=f"Ask the shop for 'evidence heads proof DOSSIER --from {first} --to {last}' and hand the file over "
                "with --proof.",
            )


def _bridged(before: Head, head: Head, proof: ProofFound | None) -> bool:
    return proof is not None and proof.holds and {before, head} == {proof.earlier, proof.later}


def _signing(signer: Signer) -> Callable[[bytes], bytes]:
    def sign(message: bytes) -> bytes:
        signature = signer.sign(message)
        if signature is None:
            raise KeyUnusable(
                "the key is locked, and there is nobody to ask for its passphrase",
                advice="Run the command at a terminal, or set EVIDENCE_PASSPHRASE.",
            )
        return signature

    return sign


def _countersigned(given: HandedHead, note: Note, public: bytes, shop: str) -> Countersigned:
    name = note.signatures[0].name
    at = cosigned_at(note, name, public) or 0
    return Countersigned(
        head=given.head, witness=witness_said(name), fingerprint=fingerprint(public), at=_time(at), shop=shop,
        reply=HandedHead(given.head, note, public).to_bytes(),
    )  # fmt: skip


def _time(posix: int) -> dt.datetime:
    return dt.datetime.fromtimestamp(posix, dt.UTC)


def _fours(print_of: str) -> str:
    """As fingerprints are printed and read out."""
    return " ".join(print_of[i : i + 4] for i in range(0, len(print_of), 4))

"""Heads that others hold, against the present ledger; and proofs for those who hold two heads and no ledger."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from evidence.errors import EvidenceError, HeadsContradict, NotFound
from evidence.ports import Desk, Reader
from evidence.record.canonical import LARGEST
from evidence.record.checkpoint import fingerprint, read_checkpoint
from evidence.record.handed import HandedHead, read_handed
from evidence.record.head import ORIGIN, Head
from evidence.record.proofs import consistency, continues
from evidence.usecases.heads import contradiction, roots_at
from evidence.usecases.pen import need

FORMAT = 1
Agreement = Literal["continues", "rolled_back", "two_histories"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """An earlier head held against the ledger as it stands."""

    earlier: Head
    present: Head
    agreement: Agreement
    at_that_size: bytes | None  # the ledger's root there; None where it is shorter
    signed_by: str  # fingerprint, where the head came with a signature by a key of this workspace; else empty


def handed(data: bytes, item: str) -> HandedHead:
    """Read what somebody handed over; refused with advice where it is no head."""
    try:
        return read_handed(data)
    except (ValueError, UnicodeDecodeError) as err:
        raise EvidenceError(
            f"is no head: {err}", item=item,
            advice="A head is a file head.note or head.txt, or one line 'evidence-ledger/… SIZE ROOT' as it was sent.",
        ) from None  # fmt: skip


def compare(desk: Desk, given: HandedHead) -> Compared:
    """Hold an earlier head against the present ledger by recomputing its beginning from the entries."""
    head = given.head
    with desk.ledgers.reading() as view:
        if head.ledger not in view.ledgers():
            raise NotFound(
                "no dossier of this workspace has this ledger", item=f"{ORIGIN}{head.ledger}",
                advice="It belongs to another shop's record, or its dossier is gone: 'evidence dossiers' lists what is here.",
            )  # fmt: skip
        roots = _roots(view, head.ledger, {head.size})
    size = max(roots)
    agreement: Agreement = "continues" if roots.get(head.size) == head.root else "two_histories"
    if size < head.size:
        agreement = "rolled_back"
    return Compared(
        earlier=head, present=Head(head.ledger, size, roots[size]), agreement=agreement,
        at_that_size=roots.get(head.size), signed_by=_signed_by(desk, given),
    )  # fmt: skip


def contradicting(compared: Compared) -> HeadsContradict:
    """The refusal for a head that the present ledger does not continue."""
    size = min(compared.present.size, compared.earlier.size)
    here = Head(compared.present.ledger, size, compared.at_that_size or compared.present.root)
    return contradiction(compared.earlier, here, "handed in")


def _signed_by(desk: Desk, given: HandedHead) -> str:
    for key in desk.keys.known():
        if given.note and given.note.by(f"{ORIGIN}{given.head.ledger}", key.public):
            return fingerprint(key.public)
    return ""


def prove(desk: Desk, dossier: str, first: int | Head, size: int | None = None) -> dict[str, Any]:
    """An RFC 9162 consistency proof from an earlier size (or head) to a later one, by default the present, as JSON."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        start = first.size if isinstance(first, Head) else first
        roots = _roots(view, ledger, {start} if size is None else {start, size})
        end = max(roots) if size is None else size
        if not 0 < start <= end or start not in roots or end not in roots:
            raise EvidenceError(
                f"from {start} to {end} there is nothing to prove: the ledger has {max(roots)} entries", item=dossier,
                advice="Name an earlier size of this ledger with --from, above 0.",
            )  # fmt: skip
        if isinstance(first, Head) and (first.ledger, first.root) != (ledger, roots[start]):
            raise EvidenceError(
                "that head is none of this ledger's; there is no proof", item=dossier,
                advice="'evidence heads compare' says what differs.",
            )  # fmt: skip
        path = consistency(view.nodes(ledger), start, end)
    return {
        "format": FORMAT, "kind": "consistency", "ledger": ORIGIN + ledger, "hash": "RFC 9162 section 2.1, SHA-256",
        "from": {"size": start, "root": _text(roots[start])}, "to": {"size": end, "root": _text(roots[end])},
        "proof": [_text(step) for step in path],
    }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofFound:
    """What a proof file turned out to say."""

    earlier: Head
    later: Head
    holds: bool  # the one is the beginning of the other
    reasons: tuple[str, ...]  # why not, or which head handed in is not the one it speaks of


def check_proof(value: Mapping[str, Any], heads: tuple[Head, ...] = ()) -> ProofFound:
    """Check a consistency proof against the heads that somebody holds; ``ValueError`` if it is none."""
    if not isinstance(value, dict) or value.get("kind") != "consistency":
        raise ValueError("is no consistency proof")
    if value.get("format") != FORMAT:
        raise ValueError(f"is of format {value.get('format')}, this program knows {FORMAT}")
    try:
        earlier, later = (_head(value["ledger"], value[end]) for end in ("from", "to"))
        path = [base64.b64decode(step, validate=True) for step in value["proof"]]
    except (KeyError, TypeError, AttributeError, binascii.Error) as err:
        raise ValueError(f"is no consistency proof: {err}") from None
    reasons = []
    if not continues(earlier.size, earlier.root, later.size, later.root, path):
        reasons.append("the proof does not lead from the one root to the other")
    reasons += [
        f"it does not speak of the head of {h.size} entries that you hold" for h in heads if h not in (earlier, later)
    ]
    return ProofFound(earlier=earlier, later=later, holds=not reasons, reasons=tuple(reasons))


def _head(origin: str, end: Mapping[str, Any]) -> Head:
    size, root = end["size"], end["root"]
    if type(size) is not int or not 0 < size < LARGEST or not isinstance(root, str) or not isinstance(origin, str):
        raise TypeError("size or root is none")
    return read_checkpoint(f"{origin}\n{size}\n{root}\n")


def _roots(view: Reader, ledger: str, sizes: set[int]) -> dict[int, bytes]:
    return roots_at((entry.leaf for entry in view.entries(ledger)), sizes)


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()

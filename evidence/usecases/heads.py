"""Signed heads: what the shop's key said of a ledger, and whether that still holds.

What a signature shows: who holds the key said that the ledger had these entries, in this order. It does not show when,
nor that what the entries say is true.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from evidence.errors import EvidenceError, HeadBehind, HeadsContradict, KeyUnusable, StoreDamaged, WorkspaceUnusable
from evidence.ports import Desk, FilePath, Reader
from evidence.record.checkpoint import checkpoint_text, fingerprint, public_pem, read_public_pem, sign_text
from evidence.record.handed import line_of
from evidence.record.head import ORIGIN, Head
from evidence.record.merkle import Frontier

TEXT, SIGNATURE, KEY, NOTE = "head.txt", "head.sig", "key.pem", "head.note"
_LOCKED = "the key is locked and there was nobody to ask for its passphrase"


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedHead:
    """The head of a ledger as it is kept."""

    head: Head
    fingerprint: str  # of the key that signed, in hexadecimal; empty where it is not signed
    files: Mapping[str, FilePath] = field(default_factory=dict)
    problem: str = ""  # why it is not signed, or not kept

    @property
    def signed(self) -> bool:
        """Whether the key has signed it."""
        return bool(self.fingerprint)


def seal_head(desk: Desk, ledger: str) -> SealedHead:
    """Sign the ledger's present head and keep it; signed before, nothing is written.

    With a locked key and nobody to ask it is kept unsigned and signed at the next chance. A ledger that does not
    continue the heads already kept is refused (:class:`HeadsContradict`): a key never signs two histories.
    """
    with desk.ledgers.reading() as view:
        head = head_of(desk, view, ledger)
    if head.size == 0:
        return SealedHead(head=head, fingerprint="", problem="the ledger has no entry")
    unsigned = [h for h in dict.fromkeys([*desk.shelf.kept(ledger), head]) if NOTE not in desk.shelf.files(h)]
    problem = ""
    try:
        for waiting in unsigned:
            files, problem = _signed_files(desk, waiting)
            desk.shelf.keep(waiting, files)
    except WorkspaceUnusable as err:
        return SealedHead(head=head, fingerprint="", problem=_told(err))
    except StoreDamaged:
        raise
    except EvidenceError as err:
        raise HeadBehind(
            f"the entries are recorded, but not their signed head: {err}",
            advice=f"{err.advice} The same command again signs it; nothing has to be entered again.",
        ) from err  # fmt: skip
    there = desk.shelf.files(head)
    signer = fingerprint(read_public_pem(desk.shelf.read(head, KEY))) if NOTE in there else ""
    return SealedHead(head=head, fingerprint=signer, files=there, problem=problem)


def head_of(desk: Desk, view: Reader, ledger: str) -> Head:
    """The ledger's present head, recomputed from its entries and held against every head kept of it."""
    kept = desk.shelf.kept(ledger)
    roots = roots_at((entry.leaf for entry in view.entries(ledger)), {h.size for h in kept})
    size = max(roots)
    present = Head(ledger, size, roots[size])
    for head in kept:
        if roots.get(head.size) != head.root:
            here = Head(ledger, min(size, head.size), roots.get(head.size, roots[size]))
            keep_other(desk, head, here)
            raise contradiction(head, here)
    return present


def keep_other(desk: Desk, kept: Head, other: Head) -> None:
    """Keep a second history as evidence beside the head that it contradicts; where that cannot be, the refusal says all."""
    if kept.size == other.size:
        with suppress(EvidenceError):
            desk.shelf.keep(kept, {f"other-{other.root.hex()[:16]}.txt": checkpoint_text(other).encode()})


def roots_at(leaves: Iterable[bytes], sizes: Iterable[int]) -> dict[int, bytes]:
    """The tree's root at each of ``sizes`` that it reaches, and at its end."""
    wanted, frontier, found = set(sizes), Frontier(), {}
    for leaf in leaves:
        frontier = frontier.append(leaf)
        if frontier.size in wanted:
            found[frontier.size] = frontier.root()
    found[frontier.size] = frontier.root()
    return found


def contradiction(held: Head, present: Head, holder: str = "kept") -> HeadsContradict:
    """The refusal that names both histories. ``holder``: whose the first one is, in a word ("kept", "handed in")."""
    back = present.size < held.size
    what = (
        f"rolled back from {held.size} to {present.size} entries" if back else f"two histories at {held.size} entries"
    )
    width = max(len(holder), len("here"))
    return HeadsContradict(
        f"{what}\n  {holder:{width}}: {line_of(held)}\n  {'here':{width}}: {line_of(present)}",
        item=f"ledger {held.ledger[:8]}",
        advice="Nothing is signed or recorded on such a ledger. Change nothing and keep a copy of the whole folder and of both "
        "heads. Bring back the newest copy of the workspace that has the first of them, or open a new dossier whose first "
        "record names it.",
    )


def _signed_files(desk: Desk, head: Head) -> tuple[dict[str, bytes], str]:
    """The files of a signed head; none, and the reason, where the key cannot sign."""
    text = checkpoint_text(head)
    try:
        public, signature = desk.signer.public(), desk.signer.sign(text.encode())
    except KeyUnusable as err:
        return {}, _told(err)
    if signature is None:
        return {}, _LOCKED
    note = sign_text(text, f"{ORIGIN}{head.ledger}", public, lambda _text: signature)
    return {
        TEXT: text.encode(), SIGNATURE: signature, KEY: public_pem(public), NOTE: note.to_bytes(),
    }, ""  # fmt: skip


def _told(err: EvidenceError) -> str:
    return f"{err}. {err.advice}" if err.advice else str(err)

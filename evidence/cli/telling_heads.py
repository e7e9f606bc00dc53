"""How heads and keys are told: fingerprints in groups of four, a head in one line of words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evidence.cli.common import shown

if TYPE_CHECKING:
    from evidence.usecases.heads import SealedHead


def in_fours(fingerprint: str) -> str:
    """A fingerprint as it is printed on paper and read out: groups of four."""
    return " ".join(fingerprint[i : i + 4] for i in range(0, len(fingerprint), 4))


def head_line(sealed: SealedHead) -> str:
    """A sealed head in words."""
    if sealed.signed:
        return f"head: {sealed.head.size} entries, signed by key {in_fours(sealed.fingerprint[:16])} …"
    return f"head: {sealed.head.size} entries, NOT SIGNED: {shown(sealed.problem)}"


def head_json(sealed: SealedHead) -> dict[str, Any]:
    """A sealed head for programs."""
    return {
        "size": sealed.head.size, "root": sealed.head.root.hex(), "signed": sealed.signed, "key": sealed.fingerprint,
        "problem": sealed.problem,
    }  # fmt: skip

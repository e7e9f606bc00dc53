"""How heads and keys are told: fingerprints in groups of four, a head in one line of words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from evidence.cli.common import shown

if TYPE_CHECKING:
    from evidence.publishing import MadeReport
    from evidence.record.attested import TokenFound
    from evidence.usecases.head_standing import HeadStanding
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


def stamp_words(found: TokenFound) -> str:
    """A time-stamp in words: time, accuracy, authority, and what is not confirmed."""
    if not found.valid or found.time is None:
        return f"DOES NOT STAND: {shown('; '.join(found.reasons))}"
    accuracy = f" ± {found.accuracy}" if found.accuracy else ""
    chain = (
        ""
        if found.chain_trusted
        else " (authority not confirmed: its root certificate is not trusted here; hand it over with --root)"
    )
    return f"{found.time:%Y-%m-%d %H:%M:%S} UTC{accuracy} by {shown(found.authority)}{chain}"


def standing_row(found: HeadStanding) -> list[str]:
    """A row of the list of heads."""
    if found.key and found.key.state == "revoked":
        signed = f"key {in_fours(found.fingerprint[:16])} …, REVOKED as of {found.key.ended}"
    elif found.key:
        signed = f"{found.key.name} key {in_fours(found.fingerprint[:16])} …"
    elif found.fingerprint:
        signed = f"key {in_fours(found.fingerprint[:16])} …, NONE OF THIS WORKSPACE"
    else:
        signed = "NOT SIGNED" if not found.faults else "SIGNATURE NOT RIGHT"
    stamps = [stamp_words(s) for s in found.stamps] or ["waits for the authority" if found.queued else "none"]
    witnesses = [
        f"{shown(w.name)}, {w.at:%Y-%m-%d %H:%M} UTC{' (a key of this workspace)' if w.own else ''}"
        for w in found.witnesses
    ]
    entered = f"{found.last_entry:%Y-%m-%d %H:%M:%S}" if found.last_entry else "not readable"
    return [str(found.head.size), entered, signed, "\n".join(stamps), "\n".join(witnesses) or "none"]


def standing_json(found: HeadStanding) -> dict[str, Any]:
    """A head and what was given for it, for programs."""
    return {
        "size": found.head.size, "root": found.head.root.hex(), "signed_by": found.fingerprint, "queued": found.queued,
        "last_entry": found.last_entry.isoformat() if found.last_entry else None,
        "key_state": found.key.state if found.key else "unknown", "faults": [str(f) for f in found.faults],
        "time_stamps": [
            {
                "valid": s.valid, "time": s.time.isoformat() if s.time else None, "authority": s.authority,
                "accuracy": s.accuracy, "chain_trusted": s.chain_trusted, "reasons": list(s.reasons),
            }
            for s in found.stamps
        ],
        "witnesses": [
            {"name": w.name, "key": w.fingerprint, "at": w.at.isoformat(), "own": w.own} for w in found.witnesses
        ],
        "not_checked": found.not_checked,
    }  # fmt: skip


def signature_words(made: MadeReport) -> str:
    """Whose signature it bears, or why none."""
    if not made.signed_by:
        return f"NOT SIGNED: {made.unsigned}"
    return f"signed; SHA-256 of the certificate: {in_fours(made.signed_by)}"

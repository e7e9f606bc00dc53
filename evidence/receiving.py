"""The receiver's side, wired: a bundle is checked with no workspace, no database and no network."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from evidence.bundle.position import Resumed
from evidence.bundle.reader import check_bytes, open_bundle
from evidence.capture.packs import rule_files, rules_of_files
from evidence.edges.pdf_signature import check_pdf
from evidence.edges.program import program
from evidence.edges.token import certificates, check_token, system_roots
from evidence.errors import SourceUnusable
from evidence.ports import Progress
from evidence.record.chain import Fault
from evidence.review.verdict import BytesFound, Verdict
from evidence.usecases.verify import Judges, verify_bundle


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How a bundle is to be checked. ``head`` is the text of an earlier head; ``budget`` is in seconds, 0 for no end."""

    key: str = ""
    head: str = ""
    quick: bool = False
    both: bool = False
    threads: int = 2
    budget: float = 0.0
    roots: Sequence[bytes] = ()  # certificates of time-stamp authorities that are trusted besides the machine's


def roots_in(files: Iterable[Path]) -> list[bytes]:
    """Certificates that the receiver trusts. Raises :class:`SourceUnusable` where a file cannot be read or holds none."""
    found = []
    for file in files:
        try:
            found.append(file.read_bytes())
        except OSError as err:
            raise SourceUnusable(f"cannot be read: {err.strerror or err}", item=str(file)) from None
        if not certificates(found[-1]):
            raise SourceUnusable(
                "holds no certificate", item=str(file), advice="Name the authority's root certificate, PEM or DER."
            )
    return found


def verify_received(path: Path, asked: Asked, progress: Progress, position: Path | None = None) -> Verdict:
    """Check a bundle. Raises :class:`SourceUnusable` where there is none.

    ``position``: the folder in which an interrupted check is noted, instead of the user's cache folder.
    """
    with open_bundle(path) as bundle:
        total = sum(place.size for name, place in bundle.names.items() if name.startswith("data/"))
        read = 0

        def count(size: int) -> None:
            nonlocal read
            read += size
            progress("reading", min(read, total), total)

        found = check_bytes(
            path, key=asked.key, head=asked.head, quick=asked.quick, both=asked.both, threads=asked.threads,
            progress=count, hashing=Resumed(path, asked.budget, position),
        )  # fmt: skip
        payload = {name for name in found.names if name.startswith("data/")}
        ledger = found.ledger
        entries = len(ledger.leaves) if ledger else 0
        bytes_found = BytesFound(
            faults=tuple(Fault(*fault) for fault in found.faults), newer=tuple(found.newer),
            remarks=tuple(found.remarks), finished=found.finished, ledger=ledger.ledger if ledger else "",
            entries=entries, root=ledger.root(entries) if ledger else "", signer=found.signer,
            key_confirmed=found.key_confirmed, head_confirmed=found.head_confirmed, files=len(payload),
            size=found.bytes_of(payload), files_read=len(found.read), bytes_read=found.bytes_of(found.read), both=found.both,
        )  # fmt: skip
        roots = (*asked.roots, *system_roots())
        judges = Judges(
            rules=rules_of_files, token=lambda token, data: check_token(token, data, roots), pdf=check_pdf,
            version=program(), own_rules=rule_files(),
        )  # fmt: skip
        return verify_bundle(bundle, bytes_found, judges, quick=asked.quick)

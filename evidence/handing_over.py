"""Bundles: what a use case gathered, the PDF and the rules brought together and written. Like :mod:`evidence.bootstrap`."""

from __future__ import annotations

import os
from base64 import b64encode
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from evidence import __version__
from evidence.bootstrap import own_rules, print_report, versions
from evidence.bundle import layout
from evidence.bundle.members import gathered
from evidence.bundle.parts import Member
from evidence.bundle.receiver_notes import receiver_notes, withheld_in_words
from evidence.bundle.writing import write_bundle_to
from evidence.capture.packs import rule_files
from evidence.record.canonical import canonical, sha256
from evidence.record.head import ORIGIN
from evidence.review.disclosing import Choice, Disclosure
from evidence.usecases.disclose import disclosure, head_files, shown_entries, signed
from evidence.usecases.publish import Publication

if TYPE_CHECKING:
    from evidence.ports import Desk, Progress
    from evidence.record.entry import Entry
    from evidence.usecases.review import Review

_PUBLISHED = "published"


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBundle:
    """What was written."""

    size: int
    files: int
    found: Disclosure
    fingerprint: str  # of the key that signed; empty where it is not signed
    problem: str  # why it is not


def write_bundle(
    desk: Desk, folder: Path, dossier: str, choice: Choice, out: Path, progress: Progress, *, at: str = "",
    unpacked: bool = False,
) -> MadeBundle:  # fmt: skip
    """Make the disclosure bundle of a dossier: a zip, or a folder. Writes nothing to the ledger.

    Order: entries, head, findings, PDF, manifests, note. What is made once is kept in ``published/`` of the workspace.
    """
    found = disclosure(desk, dossier, choice, at)
    ledger, size = found.head.ledger, found.head.size
    root = b64encode(found.head.root).decode()
    # Signed once beforehand: a passphrase is asked for now and not after long work, and the README can say how it is.
    trial = signed(desk, ledger, f"{ORIGIN}{ledger}\n{size}\n{root}\n")
    problem = trial if isinstance(trial, str) else ""
    heads, rules = head_files(desk, found.head), rule_files(*own_rules(folder))

    def lines() -> Iterator[Entry]:
        with desk.ledgers.reading() as view:
            yield from shown_entries(view, found)

    def sealing(tag_manifest: str) -> dict[str, bytes]:
        text = layout.disclosed_text(ledger, size, root, tag_manifest)
        note = trial if problem else signed(desk, ledger, text)
        beside = {} if isinstance(note, str) else {
            layout.NOTE: note.note, layout.NOTE_SIGNATURE: note.signature, layout.NOTE_KEY: note.pem,
        }  # fmt: skip
        return {layout.NOTE_TEXT: text.encode(), **beside}

    with _kept_report(desk, folder, found, rules, progress) as report:
        members = gathered(
            found, lines, original=lambda sha256: Path(desk.originals.path(sha256)), rules=rules, programs=versions(),
            heads=heads, report=report,
        )  # fmt: skip
        notes = receiver_notes(found, heads, firm=desk.recorder.firm, signed=not problem)
        members.append(Member.of(layout.README, notes))
        written = write_bundle_to(out, members, _bag_info(desk, found), sealing, progress, folder=unpacked)
    return MadeBundle(
        size=written, files=len(members), found=found, problem=problem,
        fingerprint="" if isinstance(trial, str) else trial.fingerprint,
    )  # fmt: skip


def _bag_info(desk: Desk, found: Disclosure) -> list[tuple[str, str]]:

    return [
        *([("Source-Organization", desk.recorder.firm)] if desk.recorder.firm else []),
        ("External-Identifier", ORIGIN + found.head.ledger),
        ("Bagging-Date", found.at.date().isoformat()),
        ("Bag-Software-Agent", f"evidence {__version__}"),
        ("Evidence-Bundle-Format", str(layout.FORMAT)),
    ]


@contextmanager
def _kept_report(
    desk: Desk, folder: Path, found: Disclosure, rules: Mapping[str, bytes], progress: Progress
) -> Iterator[Path]:
    """The PDF of what a disclosure shows, made once and kept under the hash of everything it is made from."""

    made_from = {
        "head": found.head.line(), "at": found.at.isoformat(), "programs": versions(),
        "withheld": list(found.subjects), "files": sorted(found.withheld_files),
        "rules": {name: sha256(data) for name, data in rules.items()},
    }  # fmt: skip
    name = f"{sha256(canonical(made_from))}.pdf"
    publication = Publication(
        dossier=found.shown, assessment=found.assessment, root=found.head.root, head_known=True, at=found.at
    )
    with ExitStack() as stack:
        place = folder / _PUBLISHED
        try:
            place.mkdir(exist_ok=True)
            kept = os.access(place, os.W_OK)
        except OSError:
            kept = False
        if not kept:  # a workspace that may not be written to
            place = Path(stack.enter_context(TemporaryDirectory()))
        if not (place / name).exists():
            print_report(
                desk,
                publication,
                place / name,
                progress,
                limits=withheld_in_words(found),
                withheld=found.withheld_files,
            )
        yield place / name


def write_review_bundle(desk: Desk, folder: Path, review: Review, out: Path, progress: Progress) -> MadeBundle:
    """Make the bundle of a review; the bundles that it is about stay out, their owner has them."""
    return write_bundle(desk, folder, review.ledger, Choice(files=review.bundles), out, progress)

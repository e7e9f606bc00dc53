"""Bundles: what a use case gathered, the PDF and the rules brought together and written. Like :mod:`evidence.bootstrap`."""

from __future__ import annotations

from base64 import b64encode
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from evidence import __version__
from evidence.bootstrap import own_rules
from evidence.bundle import layout
from evidence.bundle.members import gathered
from evidence.bundle.parts import PART, Member
from evidence.bundle.receiver_notes import receiver_notes
from evidence.bundle.writing import check_place, write_bundle_to
from evidence.capture.packs import rule_files
from evidence.errors import NoRoom, OutputUnusable
from evidence.model.base import say
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import KINDS
from evidence.publishing import MadeReport, ReportOptions, print_publication, versions
from evidence.record.head import ORIGIN
from evidence.review.disclosing import Choice, Disclosure
from evidence.usecases.disclose import disclosure, head_files, shown_entries, signed
from evidence.usecases.publish import Publication

if TYPE_CHECKING:
    from evidence.ports import Desk, Progress
    from evidence.record.entry import Entry
    from evidence.review.exchange import Presented


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBundle:
    """What was written."""

    size: int
    files: int
    found: Disclosure
    fingerprint: str  # of the key that signed; empty where it is not signed
    problem: str  # why it is not
    report: MadeReport


def write_bundle(
    desk: Desk, folder: Path, dossier: str, choice: Choice, out: Path, progress: Progress, *, at: str = "",
    unpacked: bool = False, review: Presented | None = None,
) -> MadeBundle:  # fmt: skip
    """Make the disclosure bundle of a dossier: a zip, or a folder. Writes nothing to the ledger.

    Order: entries, head, findings, PDF, manifests, note. The PDF, with its signature, is made once and kept.
    ``review``: where the dossier is a review, what it is laid beside in print.
    """
    check_place(out, folder=unpacked)
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

    with _report(desk, folder, found, out, lines, review, progress) as (report, about):
        members = gathered(
            found, lines, original=lambda sha256: Path(desk.originals.path(sha256)), rules=rules, programs=versions(),
            heads=heads, report=report,
        )  # fmt: skip
        notes = receiver_notes(found, heads, firm=desk.recorder.firm, signed=not problem)
        members.append(Member.of(layout.README, notes))
        written = write_bundle_to(out, members, _bag_info(desk, found), sealing, progress, folder=unpacked)
    return MadeBundle(
        size=written, files=len(members), found=found, problem=problem, report=about,
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
def _report(
    desk: Desk, folder: Path, found: Disclosure, out: Path, entries: Callable[[], Iterator[Entry]],
    review: Presented | None, progress: Progress,
) -> Iterator[tuple[Path, MadeReport]]:  # fmt: skip
    """The PDF of what a disclosure shows, beside the bundle while that is written. It is signed once and kept."""
    counts = Counter(e.kind for e in found.left_out if e.action == "record")
    publication = Publication(
        dossier=found.shown, assessment=found.assessment, root=found.head.root, at=found.at, entries=entries,
        head_known=found.head in desk.ledgers.heads(), withheld_files=frozenset(found.withheld_files),
        withheld={KINDS[kind].label if kind in KINDS else say(kind): n for kind, n in sorted(counts.items())},
        review=review,
    )  # fmt: skip
    place = out.with_name(f"{PART}{out.name}.pdf")
    try:
        with _told_of_the_bundle(out, found):
            made = print_publication(desk, folder, publication, place, ReportOptions(), progress)
        yield place, made
    finally:
        with suppress(OSError):
            place.unlink(missing_ok=True)


@contextmanager
def _told_of_the_bundle(out: Path, found: Disclosure) -> Iterator[None]:
    """What keeps its PDF from being written is told of the bundle, which is what was asked for."""
    try:
        yield
    except NoRoom as err:
        files = {e.value.file.sha256: e.value.file.size for e in found.shown.of(Exhibit) if e.value.file}
        least = sum(size for digest, size in files.items() if digest not in found.withheld_files)
        raise NoRoom(
            f"the disk is full; the bundle needs more than {least:,} bytes", item=str(out.parent),
            advice="Make room, or name a place on another disk, and run the same command again.",
        ) from err  # fmt: skip
    except OutputUnusable as err:
        raise OutputUnusable(err.message, item=str(out), advice=err.advice) from err

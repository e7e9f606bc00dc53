"""Making a PDF of what is shown of a dossier: gathered here from every adapter, kept, and never made twice.

What is kept is found again by everything that the unsigned file was made from: what is shown, options, versions. So the
same report again is the same file, its signature included.
"""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import asdict, dataclass, replace
from functools import partial
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from evidence.capture.preview_shelf import ALTERED, MISSING
from evidence.edges.document_key import DocumentKeyFile
from evidence.edges.program import program
from evidence.edges.published_shelf import PublishedShelf
from evidence.edges.token import need_seal
from evidence.errors import HeadBehind, WorkspaceUnusable
from evidence.model.exhibit import Exhibit
from evidence.ports import Desk, Progress
from evidence.record.attested import DocumentKey, TokenFound
from evidence.record.head import ORIGIN
from evidence.review.left_readable import uncovered
from evidence.rules.opportunity import opportunities
from evidence.usecases.head_standing import Witnessed, standing
from evidence.usecases.heads import seal_head
from evidence.usecases.photos import signs_of
from evidence.usecases.publish import Publication, publication
from evidence.usecases.standing import place_of

if TYPE_CHECKING:
    from evidence.model.waveform import Waveform
    from evidence.report.blocks import Report
    from evidence.report.given import Integrity, ReportInput, Trace
    from evidence.report.pdf import Finish

KEYS, PUBLISHED = "keys", "published"
_FILE = "report.pdf"
_FORMAT = 1  # of what is kept; raised when the same things would give another file
_LOCKED = "its key is locked and there was nobody to ask for the passphrase (set EVIDENCE_PASSPHRASE)"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOptions:
    """How a report is made. ``at``: RFC 3339 in UTC, empty for the time of the last entry."""

    at: str = ""
    sign: bool = True
    authority: str = ""  # URL of a time-stamp authority for the PDF's signature
    attach_originals: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeReport:
    """What was written. ``unsigned`` says why it is not signed, ``notes`` what else the maker should know."""

    pages: int
    exhibits: int
    size: int
    sha256: str
    signed_by: str  # fingerprint of the certificate, hexadecimal; empty: not signed
    unsigned: str = ""
    kept: bool = False  # made before, and the same again
    notes: tuple[str, ...] = ()


def write_report(
    desk: Desk, folder: Path, dossier: str, out: Path, options: ReportOptions, progress: Progress
) -> MadeReport:  # fmt: skip
    """Make the PDF of a dossier of the workspace in ``folder``. Writes nothing to the ledger; its head is signed."""
    found = publication(desk, dossier, options.at)
    problem = _head_problem(desk, found.dossier.ledger)
    made = print_publication(desk, folder, found, out, options, progress)
    notes = [f"The record's head is NOT SIGNED: {problem}"] if problem else []
    notes += [
        f"{copy} has areas blacked out, and its original, {original}, is printed here as it is. A PDF without it is in a "
        f"bundle: 'evidence disclose {dossier} -o FILE.zip --withhold \"{original.lower()}\"'."
        for copy, original in uncovered(found.dossier, {})
    ]
    return replace(made, notes=(*made.notes, *notes))


def _head_problem(desk: Desk, ledger: str) -> str:
    """Sign the record's head; why it stays unsigned, or nothing."""
    try:
        return seal_head(desk, ledger).problem
    except HeadBehind as err:  # a full disk here must not keep the report from another disk
        return f"{err}. {err.advice}"


def write_page(desk: Desk, dossier: str, out: Path, at: str, progress: Progress) -> int:
    """Make the report as a web page, unsigned: for reading. Writes nothing to the ledger; returns its size in bytes."""
    from evidence.report.page import build_page

    found = publication(desk, dossier, at)
    _prepare(desk, found, progress)
    return build_page(_input(desk, found, ReportOptions(at=at, sign=False), None, "a page is not signed"), out)


def _prepare(desk: Desk, found: Publication, progress: Progress) -> tuple[str, ...]:
    """Make the pictures that are printed; what the maker must know of files that are not as recorded."""
    shown = {
        e.value.file.sha256: e
        for e in found.dossier.of(Exhibit)
        if e.value.file and e.value.file.sha256 not in found.withheld_files
    }
    facts = [(digest, e.value.read) for digest, e in shown.items() if e.value.read]
    bad = {
        digest: why for digest, why in desk.previews.make(facts, progress, "print").items() if why in (MISSING, ALTERED)
    }
    for digest, e in shown.items():
        original = Path(desk.originals.path(digest))
        if not original.exists():
            bad[digest] = MISSING
        elif e.value.file and original.stat().st_size != e.value.file.size:
            bad[digest] = ALTERED
    return tuple(
        f"WARNING: {e.label}: {bad[digest]}; no new picture of it is printed. 'evidence recheck' reads every file."
        for digest, e in shown.items()
        if digest in bad
    )


def print_publication(
    desk: Desk, folder: Path, found: Publication, out: Path, options: ReportOptions, progress: Progress
) -> MadeReport:  # fmt: skip
    """Print what is shown of a dossier, and nothing else of it: its entries are not read again, only the index of photos
    is asked for signs in what is shown. ``options.at`` is not used again.

    A disclosure hands in a :class:`Publication` of its own: the dossier folded from what is shown, its assessment, the
    entries without the contents that are withheld, and how many records and files those are.
    """
    warned = _prepare(desk, found, progress)
    key, unsigned = document_key(desk, folder) if options.sign else (None, "asked for without")
    given = _input(desk, found, options, key, unsigned)
    shelf = PublishedShelf(folder / PUBLISHED)
    make = partial(_make, given, key, options)
    if not shelf.usable():
        about = make(out)
        unkept = "The workspace cannot be written to: the file was not kept there."
        return _made(about, unsigned, kept=False, notes=(*warned, unkept))
    name = _name(found, given, options)
    notes: tuple[str, ...] = ()
    with shelf.place(name) as place:
        about_kept = shelf.about(name)
        if about_kept and _copied(place / _FILE, out, about_kept):
            return _made(about_kept, unsigned, kept=True, notes=warned)
        if about_kept:
            notes = ("The file kept from the last time was damaged. It was made again; its signature is a new one.",)
        about = make(place / _FILE)
        shelf.finish(name, about)
        if not _copied(place / _FILE, out, about):
            notes = ("What was just kept reads back otherwise: the disk fails.",)
    return _made(about, unsigned, kept=False, notes=(*warned, *notes))


def document_key(desk: Desk, folder: Path) -> tuple[DocumentKey | None, str]:
    """The key that signs PDFs, or why there is none to be had; the report is then made unsigned, and says so."""
    from evidence.report import sealing

    if not sealing.available():
        return None, sealing.EXTRA
    need_seal()
    try:
        key = DocumentKeyFile(folder / KEYS, desk.recorder, desk.clock.now).open()
    except WorkspaceUnusable as err:
        return None, str(err)
    return key, "" if key else _LOCKED


def _make(given: ReportInput, key: DocumentKey | None, options: ReportOptions, place: Path) -> dict[str, Any]:
    from evidence.report.pdf import build_report

    about = sealed(key, options.authority, lambda finish: build_report(given, place, finish))
    return {**about, "exhibits": len(given.dossier.of(Exhibit))}


def sealed(key: DocumentKey | None, authority: str, build: Callable[[Finish], int]) -> dict[str, Any]:
    """Build, check, sign and check again, all before anything stands under its name; what is to be known of it.

    ``build`` makes the file, hands it to what it is given, and returns how many pages it has.
    """
    from evidence.report import sealing

    about: dict[str, Any] = {"signed_by": ""}

    def finish(stream: IO[bytes], size: int, digest: str) -> None:
        stream.flush()
        about.update(sha256=digest, unsigned=digest)
        if judge:
            judge.require_archive(Path(stream.name))
        if judge and key:
            signed = judge.seal(stream, size, digest, key, authority)
            about.update(sha256=signed.sha256, signed_by=signed.fingerprint)
        about["size"] = stream.seek(0, 2)

    with sealing.Judge() if sealing.available() else nullcontext() as judge:
        about["pages"] = build(finish)
    return about


def write_pages(
    desk: Desk, folder: Path, pages: Callable[[str], Report], out: Path, *, sign: bool = True
) -> MadeReport:
    """Print pages that are of no one dossier, judged and signed as a report is. They are not kept: each print has its time.

    ``pages`` makes them and is told why they will not be signed; nothing where they will be.
    """
    from evidence.report.pdf import build_pages

    key, unsigned = document_key(desk, folder) if sign else (None, "asked for without")
    report = pages(unsigned)
    about = sealed(key, "", lambda finish: build_pages(report, out, finish))
    return _made({**about, "exhibits": 0}, unsigned, kept=False)


def _copied(kept: Path, out: Path, about: Mapping[str, Any]) -> bool:
    from evidence.report.writing import copied

    return kept.exists() and copied(kept, out, str(about["sha256"]))


def _made(about: Mapping[str, Any], unsigned: str, *, kept: bool, notes: tuple[str, ...] = ()) -> MadeReport:
    return MadeReport(
        pages=about["pages"], exhibits=about["exhibits"], size=about["size"], sha256=about["sha256"],
        signed_by=about["signed_by"], unsigned=unsigned, kept=kept, notes=notes,
    )  # fmt: skip


def _name(found: Publication, given: ReportInput, options: ReportOptions) -> str:
    """The name of everything that the unsigned file is made from."""
    from evidence.rules.assessment_json import as_bytes

    shown = sha256()
    for entry in found.entries():
        shown.update(sha256(entry.header).digest() + sha256(entry.content or b"").digest())
    pictures = [e.value.file.sha256 for e in found.dossier.all_of(Exhibit) if e.value.file]
    made_from = {
        "format": _FORMAT, "shown": shown.hexdigest(), "at": given.at.isoformat(), "integrity": asdict(given.integrity),
        "findings": sha256(as_bytes(found.assessment)).hexdigest(), "options": asdict(replace(options, at="")),
        "signs": [(s.code, s.sentence) for s in given.signs], "withheld": dict(found.withheld),
        "withheld_files": sorted(found.withheld_files),
        "pictures": sorted({s for s in pictures if given.preview(s)}),
        "review": sha256(repr(found.review).encode()).hexdigest() if found.review else "",
    }  # fmt: skip
    return sha256(json.dumps(made_from, sort_keys=True).encode()).hexdigest()[:40]


def _input(
    desk: Desk, found: Publication, options: ReportOptions, key: DocumentKey | None, unsigned: str
) -> ReportInput:  # fmt: skip
    from evidence.bundle.layout import original_name
    from evidence.capture.traces.envelope import read_columns
    from evidence.report.attachments import originals, record_files
    from evidence.report.given import ReportInput

    def original(digest: str) -> Path:
        return Path(desk.originals.path(digest))

    def trace(digest: str, waveform: Waveform) -> Trace | None:
        if digest in found.withheld_files:
            return None
        return read_columns(original(digest), waveform.time_column, [c.column for c in waveform.channels])

    def picture(digest: str) -> Path | None:
        made = None if digest in found.withheld_files else desk.previews.path(digest, "print")
        return Path(made) if made else None

    def named(number: int, media: str) -> str:
        return original_name(number, media).rpartition("/")[2]

    attached = record_files(found.dossier, found.assessment, found.entries, found.at)
    if options.attach_originals:
        given_away = originals(found.dossier, original, named)
        attached += tuple(a for a in given_away if a.digest not in found.withheld_files)
    return ReportInput(
        dossier=found.dossier, assessment=found.assessment, integrity=_integrity(desk, found, options, key, unsigned),
        at=found.at, preview=picture, original=original, trace=trace, attachments=attached, withheld=found.withheld,
        withheld_files=found.withheld_files, signs=signs_of(desk, found.dossier, until=found.at, unread=found.withheld_files),
        review=found.review, place=place_of(desk, found.dossier), opportunities=opportunities(
            found.dossier, found.assessment, desk.vocabulary(), withheld=sum(found.withheld.values())
        ),
    )  # fmt: skip


def _integrity(
    desk: Desk, found: Publication, options: ReportOptions, key: DocumentKey | None, unsigned: str
) -> Integrity:  # fmt: skip
    from evidence.report.given import Integrity

    said = standing(desk, found.head)
    unsigned_head = "; ".join(f.message for f in said.faults) or "the shop key has not signed it yet"
    return Integrity(
        origin=ORIGIN + found.dossier.ledger, entries=found.dossier.size, root_hex=found.root.hex(),
        root_base64=b64encode(found.root).decode(), head_known=found.head_known, head_signed_by=said.fingerprint,
        head_problem="" if said.fingerprint else unsigned_head,
        time_stamps=tuple(_stamp_words(s) for s in said.stamps if s.valid) or ((said.not_checked,) if said.not_checked else ()),
        witnesses=tuple(_witness_words(w) for w in said.witnesses),
        document_signed_by=key.fingerprint if key else "", document_problem=unsigned,
        authority=options.authority if key else "", programs=versions(),
        packs={p.id: p.version for p in found.assessment.packs},
    )  # fmt: skip


def _stamp_words(found: TokenFound) -> str:
    accuracy = f" ± {found.accuracy}" if found.accuracy else ""
    trusted = "" if found.chain_trusted else "; whether the authority can be trusted was not confirmed here"
    return f"{found.authority}: {found.time:%Y-%m-%d %H:%M:%S} UTC{accuracy}{trusted}"


def _witness_words(found: Witnessed) -> str:
    from evidence.report.figures import fours

    own = " (a key of this workspace, no second party)" if found.own else ""
    return f"{found.name}, key {fours(found.fingerprint)}: {found.at:%Y-%m-%d %H:%M:%S} UTC{own}"


def versions() -> dict[str, str]:
    """This program and the libraries on which the bytes of a report depend."""
    libraries = {"ReportLab": "reportlab", "Pillow": "pillow", "NumPy": "numpy", "pypdfium2": "pypdfium2"}
    return {"evidence": program(), **{shown: version(package) for shown, package in libraries.items()}}

"""What goes with the report inside the file: the ledger, the findings, the list of exhibits, on request the originals."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from evidence.model.dossier import Dossier
from evidence.model.exhibit import Exhibit
from evidence.record.entry import Entry
from evidence.report.archive import Attachment, file_chunks
from evidence.rules.assessment import Assessment
from evidence.rules.assessment_json import as_bytes

_FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would compute what begins so
_SHRINK = ("text/", "image/tiff", "image/bmp", "application/json")


def record_files(
    dossier: Dossier, assessment: Assessment, entries: Callable[[], Iterable[Entry]], at: dt.datetime
) -> tuple[Attachment, ...]:
    """Ledger, findings and list of exhibits. ``entries`` is asked once for each file, and streamed."""

    def lines(part: Callable[[Entry], bytes]) -> Callable[[], Iterator[bytes]]:
        return lambda: (part(entry) + b"\n" for entry in entries())

    return (
        Attachment(
            name="exhibits.csv", media="text/csv", relationship="Data", at=at, chunks=lambda: [exhibit_list(dossier)],
            description="Every exhibit: number, SHA-256, size, type, name as given, caption",
        ),
        Attachment(
            name="findings.json", media="application/json", relationship="Data", at=at,
            chunks=lambda: [as_bytes(assessment)],
            description="The assessment that this report prints, for programs",
        ),
        Attachment(
            name="headers.jsonl", media="application/x-ndjson", relationship="Source", at=at,
            chunks=lines(lambda e: e.header),
            description="The ledger: line n is the header of entry n, byte for byte as it was hashed",
        ),
        Attachment(
            name="contents.jsonl", media="application/x-ndjson", relationship="Source", at=at,
            chunks=lines(lambda e: e.content or b""),
            description="The ledger: line n is the content of entry n, byte for byte; empty where it is withheld",
        ),
    )  # fmt: skip


def exhibit_list(dossier: Dossier) -> bytes:
    """The list as CSV (RFC 4180) in UTF-8; what a spreadsheet would take for a formula is set off by an apostrophe."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\r\n")
    table.writerow(("number", "sha256", "bytes", "type", "name", "name_hex", "caption", "withdrawn"))
    for recorded in dossier.all_of(Exhibit):
        v = recorded.value
        file = (v.file.sha256, v.file.size, v.read.type if v.read else "") if v.file else ("", "", "")
        names = (v.file.name, v.file.name_hex or "") if v.file else ("", "")
        texts = map(_plain, (*names, v.caption or v.description or ""))
        table.writerow((recorded.number, *file, *texts, "yes" if recorded.withdrawn else ""))
    return out.getvalue().encode()


def _plain(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def originals(dossier: Dossier, path: Callable[[str], Path], named: Callable[[int, str], str]) -> Iterator[Attachment]:
    """The files of the exhibits, each once, under the number of the first exhibit that has it.

    ``path``: SHA-256 to file; ``named``: number and media type to a safe name.
    """
    seen: set[str] = set()
    for recorded in dossier.all_of(Exhibit):
        file, read = recorded.value.file, recorded.value.read
        if file is None or file.sha256 in seen:
            continue
        seen.add(file.sha256)
        media = read.type if read else "application/octet-stream"
        yield Attachment(
            name=named(recorded.number, media), media=media, relationship="Source",
            at=recorded.versions[0].recorded_at, chunks=file_chunks(path(file.sha256)),
            packed=media.startswith(_SHRINK), digest=file.sha256,
            description=f"{recorded.label}, the file as it was taken in; SHA-256 {file.sha256}",
        )  # fmt: skip

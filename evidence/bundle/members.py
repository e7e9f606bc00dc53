"""From a disclosure to the files of its bundle."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from evidence.bundle import layout
from evidence.bundle.joining import verifier_source
from evidence.bundle.parts import CHUNK, Member
from evidence.errors import StoreDamaged
from evidence.model.exhibit import Exhibit
from evidence.record.canonical import canonical
from evidence.record.entry import Entry
from evidence.review.disclosing import Disclosure
from evidence.rules.assessment_json import as_bytes


def gathered(
    found: Disclosure, entries: Callable[[], Iterable[Entry]], *, original: Callable[[str], Path],
    rules: Mapping[str, bytes], programs: Mapping[str, str], heads: Mapping[int, Mapping[str, bytes]], report: Path,
) -> list[Member]:  # fmt: skip
    """The payload of a bundle but for its README. ``entries`` is asked more than once and streamed each time."""
    withheld = {"format": layout.FORMAT, "subjects": list(found.subjects), "files": sorted(found.withheld_files)}
    return [
        *_record(entries),
        Member.of(layout.WITHHELD, canonical(withheld)),
        Member.of(layout.FINDINGS, as_bytes(found.assessment)),
        Member.of(layout.PROGRAMS, canonical(dict(programs))),
        Member.of(layout.VERIFIER, verifier_source()),
        Member(layout.REPORT, report.stat().st_size, _reader(report, "the report")),
        *(Member.of(f"{layout.RULES}/{name}", data) for name, data in rules.items()),
        *(Member.of(f"{layout.head_folder(n)}/{name}", d) for n, kept in heads.items() for name, d in kept.items()),
        *_originals(found, original),
    ]


def _record(entries: Callable[[], Iterable[Entry]]) -> Iterator[Member]:
    """Headers and contents line by line. Size and hash come first: a bundle taken up again must be of the same record."""
    size, digest = [0, 0], [hashlib.sha256(), hashlib.sha256()]
    for entry in entries():
        for n, line in enumerate((entry.header, entry.content or b"")):
            size[n] += len(line) + 1
            digest[n].update(line + b"\n")
    yield Member(layout.HEADERS, size[0], lambda: (e.header + b"\n" for e in entries()), digest[0].hexdigest())
    yield Member(
        layout.CONTENTS, size[1], lambda: ((e.content or b"") + b"\n" for e in entries()), digest[1].hexdigest()
    )


def _originals(found: Disclosure, original: Callable[[str], Path]) -> Iterator[Member]:
    """Each file once, under the number of the first exhibit that has it; files of earlier versions of a record too."""
    seen = set(found.withheld_files)
    for recorded in found.shown.all_of(Exhibit):
        here = 0
        for version in recorded.versions:
            file, read = version.body.get("file"), version.body.get("read") or {}
            if isinstance(file, dict) and file["sha256"] not in seen:
                seen.add(file["sha256"])
                here += 1
                name = layout.original_name(recorded.number, str(read.get("type", "")), here)
                chunks = _reader(original(file["sha256"]), recorded.label)
                yield Member(name, file["size"], chunks, file["sha256"])


def _reader(path: Path, item: str) -> Callable[[], Iterator[bytes]]:
    def chunks() -> Iterator[bytes]:
        try:
            with path.open("rb") as handle:
                while chunk := handle.read(CHUNK):
                    yield chunk
        except OSError as err:
            raise StoreDamaged(
                f"its file cannot be read, so no bundle was made: {err.strerror}", item=item,
                advice="Run 'evidence recheck'; a file can be left out with --withhold-file.",
            ) from err  # fmt: skip

    return chunks

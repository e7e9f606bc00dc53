"""From a disclosure to the files of its bundle."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

from evidence.bundle import layout
from evidence.bundle.joining import verifier_source
from evidence.bundle.writing import Member
from evidence.model.exhibit import Exhibit
from evidence.record.canonical import canonical
from evidence.record.entry import Entry
from evidence.review.disclosing import Disclosure
from evidence.rules.assessment_json import as_json

_CHUNK = 1 << 20


def gathered(
    found: Disclosure, entries: Callable[[], Iterable[Entry]], *, original: Callable[[str], Path],
    rules: Mapping[str, bytes], programs: Mapping[str, str],
) -> list[Member]:  # fmt: skip
    """The payload of a bundle. ``entries`` may be asked more than once and is streamed each time."""
    sizes = [0, 0]
    for entry in entries():
        sizes[0] += len(entry.header) + 1
        sizes[1] += len(entry.content or b"") + 1
    withheld = {"format": layout.FORMAT, "subjects": list(found.withheld_seqs), "files": sorted(found.withheld_files)}
    return [
        Member(layout.HEADERS, sizes[0], lambda: (e.header + b"\n" for e in entries())),
        Member(layout.CONTENTS, sizes[1], lambda: ((e.content or b"") + b"\n" for e in entries())),
        Member.of(layout.WITHHELD, canonical(withheld)),
        Member.of(layout.FINDINGS, findings_bytes(found)),
        Member.of(layout.PROGRAMS, canonical(dict(programs))),
        Member.of(layout.VERIFIER, verifier_source()),
        *(Member.of(f"{layout.RULES}/{name}", data) for name, data in rules.items()),
        *_originals(found, original),
    ]


def findings_bytes(found: Disclosure) -> bytes:
    """The assessment of what is shown, as it stands in a bundle."""
    return (json.dumps(as_json(found.assessment), ensure_ascii=False, indent=2, sort_keys=True) + "\n").encode()


def _originals(found: Disclosure, original: Callable[[str], Path]) -> Iterator[Member]:
    """Each file once, under the number of the first exhibit that has it; files of earlier versions of a record too."""
    seen = set(found.withheld_files)
    for recorded in found.shown.all_of(Exhibit):
        for version in recorded.versions:
            file, read = version.body.get("file"), version.body.get("read") or {}
            if isinstance(file, dict) and file["sha256"] not in seen:
                seen.add(file["sha256"])
                name = layout.original_name(recorded.number, str(read.get("type", "")))
                yield Member(name, file["size"], _reader(original(file["sha256"])), file["sha256"])


def _reader(path: Path) -> Callable[[], Iterator[bytes]]:
    def chunks() -> Iterator[bytes]:
        with path.open("rb") as handle:
            while chunk := handle.read(_CHUNK):
                yield chunk

    return chunks

"""What a disclosure leaves readable although its file is withheld or blacked out elsewhere.

An entry is one piece: its hash covers the whole content, so what was read from a file when it was taken in can only go
with the whole record. Whoever withholds a file has to be told what of it the record still says.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from evidence.model.base import Json
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.waveform import Waveform

_SHOWN = 200  # characters of a text that are quoted


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftReadable:
    """What the record of a withheld file still says of it. ``content``: text or position, not only outward facts."""

    label: str  # "Exhibit 9"
    subject: str
    content: tuple[str, ...]
    outward: tuple[str, ...]  # name of the file, its camera, number of pages ...; records and copies made from it

    def words(self) -> str:
        """Everything of it, a thing on each line."""
        return "\n".join(f"    {line}" for line in (*self.content, *self.outward))


def left_readable(shown: Dossier, withheld_files: Mapping[str, str]) -> tuple[LeftReadable, ...]:
    """For each record that is shown and whose file, in any version, is withheld: what it says of that file."""
    found = []
    for exhibit in shown.all_of(Exhibit):
        bodies = [v.body for v in exhibit.versions if v.body and _file(v.body).get("sha256") in withheld_files]
        if bodies:
            content = [line for body in bodies for line in _content(body)]
            outward = [line for body in bodies for line in _outward(body)]
            found.append(
                LeftReadable(
                    label=exhibit.label, subject=exhibit.subject, content=tuple(dict.fromkeys(content)),
                    outward=tuple(dict.fromkeys([*outward, *_made_from(shown, exhibit, withheld_files)])),
                )
            )  # fmt: skip
    return tuple(found)


def uncovered(shown: Dossier, withheld_files: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Copies with areas blacked out whose original is handed over whole beside them: labels of copy and original."""
    found = []
    for copy in shown.of(Exhibit):
        original = shown.get(copy.value.derived_from or "")
        file = original.value.file if original and isinstance(original.value, Exhibit) else None
        if original and file and file.sha256 not in withheld_files and _covers(copy.value):
            found.append((copy.label, original.label))
    return tuple(found)


def _covers(copy: Exhibit) -> bool:
    return any(o.do == "black_out" for o in copy.operations)


def _file(body: Json) -> Json:
    file = body.get("file")
    return file if isinstance(file, dict) else {}


def _content(body: Json) -> Iterator[str]:
    read = body.get("read") or {}
    if text := str(read.get("text", "")):
        line = " ".join(text.split())
        cut = f"{line[:_SHOWN]} …" if len(line) > _SHOWN else line
        yield f"text read from it, {len(text):,} characters: “{cut}”"
    if place := read.get("place"):
        yield f"position in the file: {place['latitude']}, {place['longitude']}"
    if columns := read.get("columns"):
        yield f"headings of its columns: {_listed(columns)}"


def _outward(body: Json) -> Iterator[str]:
    read, file = body.get("read") or {}, _file(body)
    yield f"its name “{file.get('name', '')}”, its size, and its SHA-256 (who has the file can tell that it is this one)"
    for key, words in (
        ("captured", "time in the file"),
        ("device", "camera"),
        ("software", "program"),
        ("pages", "pages"),
    ):
        if value := read.get(key):
            yield f"{words}: {value['given'] if isinstance(value, dict) else value}"


def _made_from(shown: Dossier, exhibit: Recorded[Exhibit], withheld_files: Mapping[str, str]) -> Iterator[str]:
    """Other records that hold something of the file."""
    for copy in shown.of(Exhibit):
        file = copy.value.file
        if copy.value.derived_from == exhibit.subject and file and file.sha256 not in withheld_files:
            covered = "with areas blacked out" if _covers(copy.value) else "with NOTHING blacked out"
            yield f"{copy.label} is a copy of it, {covered}, and is shown"
    for trace in shown.of(Waveform):
        if trace.value.trace == exhibit.subject:
            yield f"{trace.label} holds what was read from its trace"


def _listed(words: Sequence[object]) -> str:
    return ", ".join(map(str, words))

"""From a file's bytes to its facts: type by content, then what that type tells of itself.

Whatever the bytes are, the answer is a :class:`FileFacts` with notes in plain words. Only the system's own
refusals (no permission, a disk that cannot be read) come out as ``OSError``, and what is no plain file as
:class:`SourceUnusable`.
"""

from __future__ import annotations

import codecs
import json
from functools import cache
from importlib import metadata
from pathlib import Path, PurePath
from typing import Any, BinaryIO, Final

from evidence.capture.document import read_document
from evidence.capture.limited import available, run_limited
from evidence.capture.photo import read_exif_bytes, read_photo
from evidence.capture.picture import too_large
from evidence.capture.plain_file import PARSER_FAULTS, open_plain
from evidence.capture.scan_text import codes_in
from evidence.capture.traces.layout import Columns, columns_in, rows_in
from evidence.capture.video import read_video
from evidence.capture.wording import LONGEST_TEXT, encoding_of, one_line, searchable
from evidence.errors import SourceUnusable
from evidence.model.exhibit import FileFacts, Media

PICTURES: Final = frozenset({"image/jpeg", "image/png", "image/apng", "image/tiff", "image/webp"})
HEIC: Final = "image/heic"
PDF: Final = "application/pdf"
_UNKNOWN: Final = "application/octet-stream"
_HEAD: Final = 256_000  # bytes that decide about the type
_LARGEST_JSON: Final = 5_000_000
_HEIC_BRANDS: Final = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"heif"})
_MOST_COLUMNS: Final = 200
_ENDINGS: Final = {  # how names of a type end; another type's ending is worth a note
    "image/jpeg": ("jpg", "jpeg", "jpe", "jfif", "mpo"), "image/png": ("png",), "image/apng": ("png", "apng"),
    "image/tiff": ("tif", "tiff", "dng"), "image/webp": ("webp",), HEIC: ("heic", "heif", "hif"),
    "image/avif": ("avif",), "image/gif": ("gif",), "image/bmp": ("bmp",), PDF: ("pdf",),
    "video/mp4": ("mp4", "m4v", "mov", "3gp"), "video/quicktime": ("mov", "qt", "mp4"), "video/x-m4v": ("m4v", "mp4"),
    "video/3gpp": ("3gp", "mp4"), "video/x-msvideo": ("avi",), "video/webm": ("webm",),
    "video/x-matroska": ("mkv", "webm"), "application/zip": ("zip",), "audio/x-wav": ("wav",), "audio/mpeg": ("mp3",),
    "text/csv": ("csv", "tsv", "txt", "asc", "dat"), "text/plain": ("txt", "log", "csv", "tsv", "md", "asc", "dat"),
    "application/json": ("json", "txt", "log"), "text/html": ("html", "htm", "txt"), "text/xml": ("xml", "txt"),
}  # fmt: skip
_KNOWN_ENDINGS: Final = frozenset(e for endings in _ENDINGS.values() for e in endings)


def read_file(path: Path, name: str) -> FileFacts:
    """Read the facts of the file at ``path``, which was handed in as ``name``."""
    try:
        stream = open_plain(path)
    except ValueError as err:
        raise SourceUnusable(str(err), item=one_line(name), advice="Hand in the file itself.") from None
    with stream:
        head = stream.read(64)
        if head.startswith(b"\xff\xd8\xff"):  # by far the most frequent kind, known by its first bytes
            media: Media = "photo"
            type_ = "image/jpeg"
        else:
            head += stream.read(_HEAD - len(head))
            type_ = type_of(head)
            media = _media(type_)
        stream.seek(0)
        fields = _fields(stream, path, type_, head)
    fields.setdefault("media", media)
    fields.setdefault("type", type_)
    fields.setdefault("reader", _sniffer())
    notes: list[str] = fields["notes"]
    ending = PurePath(name).suffix[1:].lower()
    if ending in _KNOWN_ENDINGS and fields["type"] in _ENDINGS and ending not in _ENDINGS[fields["type"]]:
        notes.append(f"the name ends in .{ending}, the content is {fields['type']}")
    fields["notes"] = tuple(dict.fromkeys(notes))
    return FileFacts(**fields)


def type_of(head: bytes) -> str:
    """The media type of a file by its first bytes (a few hundred kilobytes do)."""
    import filetype

    if b"%PDF-" in head[:1024]:
        return PDF
    if head[4:8] == b"ftyp":
        brands = {head[8:12], *(head[at : at + 4] for at in range(16, min(int.from_bytes(head[:4], "big"), 256), 4))}
        if b"avif" in brands or b"avis" in brands:
            return "image/avif"
        if brands & _HEIC_BRANDS:
            return HEIC
    text = _text(head)
    if text is not None:  # before the guess: a text that starts with BM is no bitmap
        return _type_of_text(text)
    try:
        guessed = filetype.guess(head[:8192])
    except PARSER_FAULTS:
        guessed = None
    if guessed:
        return str(guessed.mime)
    return "video/mp4" if head[4:8] == b"ftyp" else _UNKNOWN  # cameras have brands of their own


def _media(type_: str) -> Media:
    family = type_.split("/", 1)[0]
    if family == "image" and "svg" not in type_:
        return "photo"
    if family == "video":
        return "video"
    if family == "audio":
        return "audio"
    documents = ("officedocument", "msword", "ms-excel", "ms-powerpoint", "opendocument", "rtf", "epub")
    if type_ in (PDF, "text/plain", "text/csv", "text/html") or any(d in type_ for d in documents):
        return "document"
    return "other"


def _fields(stream: BinaryIO, path: Path, type_: str, head: bytes) -> dict[str, Any]:
    if not head:
        return {"notes": ["the file is empty", "no preview: the file is empty"], "preview": "none"}
    if type_ in PICTURES:
        fields = read_photo(stream, type_)
        return _sized(fields, type_)
    if type_ == HEIC:
        return _sized(_read_heic(path), type_)
    if type_ == PDF:
        return read_document(path)
    if type_.startswith(("video/", "audio/")):
        return read_video(path)
    text = _text(head)
    if text is not None:
        return _read_text(stream, path, type_, head, text)
    return {"notes": [f"no preview: {type_} is not shown"], "preview": "none"}


def _sized(fields: dict[str, Any], type_: str) -> dict[str, Any]:
    width, height = fields.get("width", 0), fields.get("height", 0)
    if too_large(width, height, type_):
        fields["notes"].append(f"no preview: too large ({width} x {height} pixels)")
        fields["preview"] = "none"
    return fields


def _read_heic(path: Path) -> dict[str, Any]:
    if not available("pillow_heif"):
        note = "HEIC not read: that needs the extra 'media'"
        return {"notes": [note, "no preview: HEIC needs the extra 'media'"], "preview": "none"}
    answer = run_limited("heic_facts", path)
    if answer.problem:
        return {"notes": [f"HEIC not read: {answer.problem}", f"no preview: {answer.problem}"], "preview": "none"}
    fields: dict[str, Any] = {**answer.facts, "notes": []}
    read_exif_bytes(answer.payload, fields)
    if "captured" not in fields and not any("capture time" in n for n in fields["notes"]):
        fields["notes"].append("no capture time in the file")
    return fields


def _text(head: bytes) -> str | None:
    """The text, if the bytes are one: UTF-8, UTF-16 or an older program's, without control characters."""
    encoding = encoding_of(head)
    if encoding == "utf-8-sig" and b"\0" in head[:64]:
        return None
    try:
        text = codecs.getincrementaldecoder(encoding)().decode(head)
    except ValueError:
        if encoding != "utf-8-sig" or not _mostly_ascii(head):
            return None
        text = head.decode("cp1252", "replace")
    return text if text and not _controls(text) else None


def _mostly_ascii(head: bytes) -> bool:
    """An older program's text: a letter with an accent here and there."""
    return sum(b >= 0x80 for b in head[:4096]) * 10 < len(head[:4096])


def _controls(text: str) -> bool:
    return any(ch < " " and ch not in "\t\n\r\f\x1a" for ch in text) or "\x7f" in text


def _type_of_text(text: str) -> str:
    start = text[:1000].lstrip().lower()
    if start.startswith(("<!doctype html", "<html")):
        return "text/html"
    if "<svg" in start:
        return "image/svg+xml"
    if start.startswith("<?xml"):
        return "text/xml"
    if start.startswith("{\\rtf"):
        return "application/rtf"
    return "text/plain"


def _read_text(stream: BinaryIO, path: Path, type_: str, head: bytes, text: str) -> dict[str, Any]:
    notes: list[str] = []
    fields: dict[str, Any] = {"notes": notes, "reader": _ourselves()}
    if (layout := _layout(head)) is not None:
        fields.update(media="waveform", type="text/csv", rows=rows_in(path, layout))
        fields["columns"] = tuple(one_line(n, 100) for n in layout.names[:_MOST_COLUMNS])
        return fields
    if kept := searchable(text):
        fields["text"] = kept
    if len(text) > LONGEST_TEXT:
        notes.append(f"text cut after {LONGEST_TEXT:,} characters")
    if type_ != "text/plain":
        return fields
    if text.lstrip()[:1] in ("{", "[") and _is_json(stream):
        fields.update(type="application/json", media="document")
    elif codes_in(text):
        fields["media"] = "scan_text"
    return fields


def _layout(head: bytes) -> Columns | None:
    try:
        return columns_in(head)
    except ValueError:
        return None


def _is_json(stream: BinaryIO) -> bool:
    raw = stream.read(_LARGEST_JSON + 1)
    try:
        json.loads(raw)
    except (ValueError, RecursionError):
        return False
    return len(raw) <= _LARGEST_JSON


@cache
def _ourselves() -> str:
    try:
        return f"comeback-evidence {metadata.version('comeback-evidence')}"
    except metadata.PackageNotFoundError:  # run from a checkout that is not installed
        return "comeback-evidence"


@cache
def _sniffer() -> str:
    return f"filetype {metadata.version('filetype')}"

"""Every parser of what a shop hands in, and of what others send beside a bundle, and what each may raise: anything else is a crash.

What the program reads in the limited child process (HEIC, films, PDF, content credentials) is read here in the fuzzing
process by the same function, with the same list of what its library may raise.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from typing import Any

from bag_kit import CONTENTS, HEADERS, Files
from evidence.capture import confined, packs
from evidence.capture.credentials import carries
from evidence.capture.folder import open_folder
from evidence.capture.photo import read_exif_bytes
from evidence.capture.photo_marks import read_marks
from evidence.capture.preview import make_preview
from evidence.capture.reading import PICTURES, read_file, type_of
from evidence.capture.scan_text import codes_in
from evidence.capture.traces.layout import columns_of
from evidence.capture.traces.reading import read_trace
from evidence.edges import token
from evidence.errors import EvidenceError, Mistake, MistakesFound
from evidence.model.dossier import Step, fold
from evidence.model.waveform import Engine, Waveform
from evidence.ports import Desk
from evidence.record.canonical import parse
from evidence.record.handed import line_of, read_handed
from evidence.record.statements import read_statement, revocation
from evidence.rules.assess import assess
from evidence.rules.assessment_json import as_bytes
from evidence.usecases import verify
from evidence.usecases.handed_in import names_in, read_folder

from authority import TimeAuthority
from fakes import CountingIds, MemoryOriginals, MemoryShelf, MemorySigner, NoKeys, small_vocabulary
from foreign_files import exif_of, film, pdf, picture
from samples import TEXT
from signed_photos import certificates, signed

MEMORY = Path("/dev/shm") if Path("/dev/shm").is_dir() else None
DESK = Desk(
    ledgers=None, originals=MemoryOriginals(), read_facts=None, previews=None, likeness=None, read_marks=None, read_trace=None,  # type: ignore[arg-type]
    copier=None, clock=None, ids=CountingIds(), recorder=None, zone="UTC", vocabulary=small_vocabulary, packs=tuple,  # type: ignore[arg-type]
    signer=MemorySigner(), shelf=MemoryShelf(), keys=NoKeys(), authority=None, book=None,  # type: ignore[arg-type]
)  # fmt: skip
HEIF_STILL, FILM_KINDS = ("image/heic", "image/avif"), ("video/", "audio/")


@cache
def _folder() -> Path:
    return Path(mkdtemp(prefix="evidence-handed-", dir=MEMORY))


def _file(data: bytes, name: str) -> Path:
    path = _folder() / name
    path.write_bytes(data)
    return path


def dossier(data: bytes) -> None:
    """A dossier folder's own file, from its bytes to records or mistakes with their places."""
    _file(data, "dossier.yaml")
    mistakes: tuple[Mistake, ...] = ()
    with contextlib.suppress(MistakesFound):
        try:
            folder = _Folder(open_folder(_folder()))
            found = read_folder(DESK, folder, {key: f"{n:032x}" for n, key in enumerate(names_in(folder.data))})
            assert all(stated.record.summary().strip() for stated in found.records)
        except MistakesFound as err:
            mistakes = tuple(err.mistakes)
            raise
    assert all(m.line >= 1 and m.column >= 1 and str(m) for m in mistakes)


class _Folder:
    """A dossier folder without any file beside it."""

    def __init__(self, folder: Any) -> None:
        self.title, self.data, self.locate = "dossier.yaml", folder.marked.data, folder.marked.locate

    def resolve(self, name: str) -> Any:
        raise ValueError(f"there is no file {name[:20]!r}")


def photo(data: bytes) -> None:
    """Facts, marks and preview of a picture that is decoded in this process."""
    type_ = type_of(data)
    if type_ not in PICTURES or type_ == "image/tiff":
        return
    path = _file(data, "photo.jpg")
    facts = read_file(path, "photo.jpg")
    assert facts.media == "photo"
    out = _folder() / "preview.jpg"
    out.unlink(missing_ok=True)
    why = make_preview(path, facts, out, box=(64, 48))
    assert bool(why) != out.exists()
    with path.open("rb") as stream:
        marked = carries(stream, type_)
    if not marked:  # those that carry credentials go to the child process
        read_marks(path, facts, None if why else out)


def exif(data: bytes) -> None:
    fields: dict[str, Any] = {"notes": []}
    with contextlib.suppress(*confined.PARSER_FAULTS):
        read_exif_bytes(data, fields)


def text(data: bytes) -> None:
    """A text as handed in: scan reports, tables, JSON, pages."""
    if type_of(data).startswith(("image/jpeg", "image/png", *HEIF_STILL, *FILM_KINDS, "application/pdf")):
        return
    facts = read_file(_file(data, "scan.txt"), "scan.txt")
    codes_in(facts.text or "")
    assert facts.rows is None or 0 <= facts.rows <= data.count(b"\n") + data.count(b"\r") + 1


def trace(data: bytes) -> None:
    """A recorder's table, from its first bytes to features."""
    path = _file(data, "trace.csv")
    try:
        layout = columns_of(path)
    except ValueError:
        return
    wanted = {"column": layout.names[-1], "quantity": "voltage", "unit": "V", "of": "injector-control", "find": ["pulse_count", "pulse_width", "pulse_peak"]}
    with contextlib.suppress(ValueError):
        made = Waveform(trace="x", title="t", time_column=layout.names[0], time_unit="s", channels=[wanted], circumstances={})
        found = read_trace(path, made, Engine(4, ("1", "3", "4", "2")))
        assert found.features or found.not_read


def _confined(job: str, data: bytes, **arguments: object) -> None:
    load, work = confined._JOBS[job]
    load()
    with contextlib.suppress(confined._Problem, MemoryError, *confined._faults()):
        facts, _payload = work(io.BytesIO(data), **arguments)
        json.dumps(facts)


def heic(data: bytes) -> None:
    _confined("heic_facts", data)


def document(data: bytes) -> None:
    _confined("pdf_facts", data)


def video(data: bytes) -> None:
    _confined("film_facts", data)


def credentials(data: bytes) -> None:
    for type_ in ("image/jpeg", "image/png", "image/webp", "image/heic"):
        carries(io.BytesIO(data), type_)
    if data[:2] == b"\xff\xd8" and carries(io.BytesIO(data), "image/jpeg"):
        _confined("credentials", data, type="image/jpeg")


def stamp(data: bytes) -> None:
    """An authority's answer, as it comes over the wire or in a bundle."""
    found = token.check_token(data, b"never stamped", ())
    assert not found.valid
    with contextlib.suppress(*token._unreadable()):
        token.certificates_in(data)
    token.certificates(data)


def handed(data: bytes) -> None:
    """A head by message or letter."""
    with contextlib.suppress(ValueError):
        assert read_handed(read_handed(data).to_bytes()).head == read_handed(data).head


def statement(data: bytes) -> None:
    with contextlib.suppress(ValueError):
        found = read_statement(data.decode())
        assert found.text().encode() == data


def contents(data: bytes) -> None:
    """Records whose chain holds: whoever has a key can seal what he likes. Replayed and weighed as ``verify`` does.

    A line of ``data`` is a JSON list: kind, subject, action, body.
    """
    steps: list[Step] = []
    with contextlib.suppress(EvidenceError, *verify._HOSTILE):
        for seq, line in enumerate(data.split(b"\n"), 1):
            kind, subject, action, body = parse(b'{"x":' + line + b"}")["x"]
            steps.append(Step(seq=seq, kind=str(kind), subject=str(subject), action=str(action), recorded_at=AT, recorded_by="x", body=dict(body)))
    with contextlib.suppress(EvidenceError, *verify._HOSTILE):
        as_bytes(assess(fold("x" * 26, steps), *_rules()))


@cache
def _rules() -> tuple[Any, Any]:
    vocabulary = packs.load_vocabulary()
    return packs.load_packs(vocabulary)[:4], vocabulary


HANDED: dict[str, Callable[[bytes], None]] = {
    "dossier": dossier, "photo": photo, "exif": exif, "text": text, "trace": trace, "heic": heic, "document": document, "video": video,
    "credentials": credentials, "stamp": stamp, "handed": handed, "statement": statement, "contents": contents,
}  # fmt: skip


def sound_handed(files: Files) -> dict[str, list[bytes]]:
    """Sound input for each parser, to start from; ``files``: of a bundle, for its records."""
    credentials_inside = signed(picture(), certificates())
    block = exif_of(ifd0={271: "Maker", 272: "Model", 274: 6, 305: "Editor"}, exif={0x9003: "2026:03:02 14:30:00", 0x9011: "+01:00", 0x9291: "045"}, gps=GPS)
    with TemporaryDirectory(dir=MEMORY) as folder:
        film(Path(folder) / "f.mp4", creation_time="2026-03-02T14:30:00Z", location="+44.8504+034.9766+029.1/")
        filmed = (Path(folder) / "f.mp4").read_bytes()
        stamped = TimeAuthority(Path(folder) / "authority").stamp(b"a head")
    head = next(d for n, d in files.items() if n.endswith("head.note"))
    return {
        "dossier": [TEXT.encode()], "photo": [picture(exif=block), picture("PNG", exif=block), picture("WEBP", exif=block), picture("JPEG", progressive=True), picture("GIF", mode="L"), picture("BMP")],
        "exif": [block.tobytes()], "text": [SCAN, TRACE, b'{"codes": ["P0351"]}', SCAN.decode().encode("utf-16")], "trace": [TRACE, TRACE.replace(b",", b";").replace(b".", b",")],
        "heic": [_heic()], "document": [pdf("Order 12", "P0351"), pdf("x", script=True)], "video": [filmed], "credentials": [credentials_inside, picture("PNG"), picture("WEBP")],
        "stamp": [stamped], "handed": [head, line_of(read_handed(head).head).encode()], "statement": [revocation(bytes(32), lambda _: bytes(64), AT.date(), "lost").text.encode()],
        "contents": _records(files),
    }  # fmt: skip


AT = dt.datetime(2026, 3, 2, 14, 30, tzinfo=dt.UTC)
GPS = {1: "N", 2: (44.0, 51.0, 1.7), 3: "E", 4: (34.0, 58.0, 35.9), 7: (12.0, 30.0, 1.0), 29: "2026:03:02"}
SCAN = b"Engine control module\r\nVIN 1M8GDM9AXKP042788\r\nP0351 - Ignition coil A, circuit: confirmed\r\nP0300  pending\r\n"
TRACE = b"Recorder 3\ntime (s),control (V)\n" + b"".join(b"%.3f,%.2f\n" % (n / 100, 12.4 if n % 10 else 0.3) for n in range(60))


def _heic() -> bytes:
    import pillow_heif
    from PIL import Image

    out = io.BytesIO()
    pillow_heif.from_pillow(Image.open(io.BytesIO(picture()))).save(out, exif=exif_of(exif={0x9003: "2026:03:02 14:30:00"}).tobytes())
    return out.getvalue()


def _records(files: Files) -> list[bytes]:
    lines: list[bytes] = []
    for header, content in zip(files[HEADERS].split(b"\n"), files[CONTENTS].split(b"\n"), strict=True):
        if header and content:
            head, body = json.loads(header), json.loads(content)
            lines.append(json.dumps([head["kind"], head["subject"], head["action"], body["body"]], ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode())
    return [lines[0] + b"\n" + b"\n".join(lines[at : at + 3]) for at in range(1, len(lines), 3)]

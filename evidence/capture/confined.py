"""The jobs that run inside the limited child process. Nothing here trusts the file, and nobody trusts this process.

Each job takes an open file and answers with plain facts and bytes. One line of JSON comes in for a job, one
goes out, followed by the bytes.
"""

from __future__ import annotations

import importlib.util
import json
import os
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO, Final

from evidence.capture import picture
from evidence.capture.plain_file import PARSER_FAULTS, open_plain
from evidence.capture.wording import one_line

_CPU_SECONDS: Final = 20  # in case the parent died and nobody else stops us
_LONGEST_TEXT: Final = 20_000  # characters of a document
_TEXT_SECONDS: Final = 5.0
_SEARCHED: Final = 20_000_000  # bytes of a PDF looked through for scripts
# Containers of cameras, phones and recorders. Play lists and the like, which make the library open other
# files and addresses, are left out.
_FILMS: Final = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,asf,flv,mpeg,mpegts,ogg,wav,mp3,flac,aac"

Found = tuple[dict[str, Any], bytes]


class _Problem(Exception):
    """Why a job has no result, in words."""


def serve() -> None:
    """Answer jobs until the input ends."""
    answers = os.fdopen(os.dup(1), "wb")
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)  # a library that prints must not speak between the answers
    warnings.simplefilter("ignore")
    for line in sys.stdin.buffer:
        facts, payload, problem = _run(json.loads(line))
        head = json.dumps({"facts": facts, "size": len(payload), "problem": problem}).encode()
        answers.write(head + b"\n" + payload)
        answers.flush()


def _run(request: dict[str, Any]) -> tuple[dict[str, Any], bytes, str]:
    job = _JOBS[request["job"]]
    arguments = {k: v for k, v in request.items() if k not in ("job", "path", "megabytes")}
    path = Path(os.fsdecode(bytes.fromhex(request["path"])))
    try:
        import_of, work = job
        import_of()
        limit(int(request["megabytes"]))
        with open_plain(path) as stream:
            return (*work(stream, **arguments), "")
    except _Problem as err:
        return {}, b"", str(err)
    except MemoryError:
        return {}, b"", "too large"
    except _faults() as err:
        return {}, b"", f"damaged: {one_line(getattr(err, 'strerror', None) or err, 150) or type(err).__name__}"


def limit(megabytes: int) -> None:
    """Bound what this process may take from now on: address space, processor time, and no dump of a crash."""
    try:
        import resource
    except ImportError:  # not a Unix: the parent's clock is the limit there
        return
    used = _address_space()
    if used:
        _bound(resource, resource.RLIMIT_AS, used + megabytes * 1_000_000)
    spent = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    _bound(resource, resource.RLIMIT_CPU, int(spent) + _CPU_SECONDS)
    _bound(resource, resource.RLIMIT_CORE, 0)


def _bound(resource: Any, what: int, value: int) -> None:
    hard = resource.getrlimit(what)[1]
    resource.setrlimit(what, (value if hard == resource.RLIM_INFINITY else min(value, hard), hard))


def _address_space() -> int:
    """Bytes of address space now, or 0 where the system does not tell."""
    try:
        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError):
        return 0


def _faults() -> tuple[type[Exception], ...]:
    """What a library may raise over a hostile file; the film library has a family of its own."""
    av, c2pa = sys.modules.get("av"), sys.modules.get("c2pa")
    own = [av.error.FFmpegError] if av else []
    return (*PARSER_FAULTS, *own, *([c2pa.C2paError] if c2pa else []))


def _load_pillow() -> None:
    from PIL import Image

    Image.preinit()


def _load_heif() -> None:
    import pillow_heif

    _load_pillow()
    pillow_heif.options.DECODE_THREADS = 1


def _load_pdf() -> None:
    import pypdfium2  # noqa: F401 - loaded before the limit is set

    _load_pillow()


def _load_av() -> None:
    import av

    _load_pillow()
    av.logging.set_level(None)


def _load_credentials() -> None:
    import c2pa  # noqa: F401 - loaded before the limit is set


def _picture_preview(stream: BinaryIO, *, type: str, box: list[int], orientation: int) -> Found:  # noqa: A002
    return {}, picture.jpeg_of(picture.open_head(stream, type), (box[0], box[1]), orientation)


def _heif(stream: BinaryIO) -> Any:
    import pillow_heif

    return pillow_heif.open_heif(stream)


def _heic_facts(stream: BinaryIO) -> Found:
    import pillow_heif

    image = _heif(stream)
    exif = image.info.get("exif") or b""
    facts = {"width": image.size[0], "height": image.size[1], "reader": f"pillow-heif {pillow_heif.__version__}"}
    return facts, bytes(exif)


def _heic_preview(stream: BinaryIO, *, box: list[int]) -> Found:
    image = _heif(stream)
    if picture.too_large(image.size[0], image.size[1], "image/heic"):
        raise _Problem("too large")
    # The library has turned the picture as the container says; the EXIF orientation must not turn it again.
    return {}, picture.jpeg_of(image.to_pillow(), (box[0], box[1]))


def _pdf(stream: BinaryIO) -> Any:
    import pypdfium2
    from pypdfium2 import raw

    try:
        return pypdfium2.PdfDocument(stream)
    except pypdfium2.PdfiumError as err:
        words = {raw.FPDF_ERR_PASSWORD: "encrypted", raw.FPDF_ERR_SECURITY: "encrypted in a way that is not known here"}
        raise _Problem(words.get(err.err_code, "damaged: not a PDF that can be read")) from None


def _pdf_facts(stream: BinaryIO) -> Found:
    import pypdfium2
    from pypdfium2 import raw

    notes = _outside_of_pdf(stream)
    document = _pdf(stream)
    if raw.FPDF_GetSecurityHandlerRevision(document) != -1:
        notes.append("encrypted, but readable without a password")
    if raw.FPDFDoc_GetJavaScriptActionCount(document) > 0 and _SCRIPT not in notes:
        notes.append(_SCRIPT)
    if attached := raw.FPDFDoc_GetAttachmentCount(document):
        notes.append(f"holds {attached} attached file{'s' if attached > 1 else ''}, not opened")
    text, cut = _pdf_text(document)
    if cut:
        notes.append(cut)
    version = f"pypdfium2 {pypdfium2.version.PYPDFIUM_INFO.version}"
    return {"pages": len(document), "text": text, "notes": notes, "reader": version}, b""


_SCRIPT: Final = "holds a script, which is never run"


def _outside_of_pdf(stream: BinaryIO) -> list[str]:
    """Notes that need no parser. Scripts in compressed parts are found by the library."""
    notes = []
    start = stream.read(_SEARCHED)
    if b"/JavaScript" in start or b"/JS" in start:
        notes.append(_SCRIPT)
    stream.seek(max(0, stream.seek(0, os.SEEK_END) - 2048))
    if b"%%EOF" not in stream.read():
        notes.append("the end of the file is missing")
    stream.seek(0)
    return notes


def _pdf_text(document: Any) -> tuple[str, str]:
    parts: list[str] = []
    room, stop = _LONGEST_TEXT, time.monotonic() + _TEXT_SECONDS
    for number in range(len(document)):
        page = document[number].get_textpage()
        text = page.get_text_range(count=min(room + 1, page.count_chars())) if page.count_chars() else ""
        parts.append(text[:room])
        room -= len(text) + 1
        if room <= 0:
            return "\n".join(parts)[:_LONGEST_TEXT], f"text cut after {_LONGEST_TEXT:,} characters"
        if time.monotonic() > stop:
            return "\n".join(parts), f"text of the first {number + 1} pages only"
    return "\n".join(parts), ""


def _pdf_preview(stream: BinaryIO, *, box: list[int], number: int = 0) -> Found:
    document = _pdf(stream)
    if not len(document):
        raise _Problem("no page in it")
    if number >= len(document):
        raise _Problem(f"it has {len(document)} pages")
    page = document[number]
    width, height = page.get_size()
    if not (0 < width < 1e6 and 0 < height < 1e6):
        raise _Problem(
            "the page has no size that can be drawn" if number else "the first page has no size that can be drawn"
        )
    limits = (max(box), min(box)) if width >= height else (min(box), max(box))
    scale = min(limits[0] / width, limits[1] / height, 300 / 72)
    drawn = page.render(scale=scale).to_pil()
    return {}, picture.jpeg_of(drawn, (box[0], box[1]))


def _film(stream: BinaryIO) -> Any:
    import av

    return av.open(stream, options={"format_whitelist": _FILMS}, metadata_errors="replace")


def _film_facts(stream: BinaryIO) -> Found:
    import av

    with _film(stream) as film:
        told = {str(k)[:100]: str(v)[:500] for k, v in list(film.metadata.items())[:200]}
        facts: dict[str, Any] = {"reader": f"av {av.__version__}", "metadata": told}
        if film.duration and film.duration > 0:
            facts["microseconds"] = film.duration * 1_000_000 // av.time_base
        if film.streams.video:
            context = film.streams.video[0].codec_context
            facts["width"], facts["height"] = context.width, context.height
    return facts, b""


def _film_preview(stream: BinaryIO, *, box: list[int]) -> Found:
    with _film(stream) as film:
        if not film.streams.video:
            raise _Problem("no picture in it")
        video = film.streams.video[0]
        video.codec_context.thread_count = 1
        if picture.too_large(video.codec_context.width, video.codec_context.height, "video"):
            raise _Problem("too large")
        if film.duration and film.duration > 2_000_000:
            film.seek(film.duration // 2)
        frame = next(film.decode(video), None)
        if frame is None:
            raise _Problem("damaged: no frame can be decoded")
        upright = {90: 8, 180: 3, -180: 3, -90: 6, 270: 6}.get(round(frame.rotation), 1)
        return {}, picture.jpeg_of(frame.to_image(), (box[0], box[1]), upright)


def _copy(stream: BinaryIO, *, type: str, orientation: int, operations: list[Any], form: str, font: str) -> Found:  # noqa: A002
    from evidence.capture import copies  # not for every job: the models cost time to import
    from evidence.model.copies import Operation

    wanted = [Operation.model_validate(o) for o in operations]
    try:
        image = copies.copied(stream, type, orientation, wanted, font)
    except ValueError as err:
        raise _Problem(one_line(err, 300)) from None
    facts = {
        "width": image.width, "height": image.height, "pixels": copies.pixel_hash(image),
        "program": copies.program_words(type, form),
    }  # fmt: skip
    return facts, copies.encoded(image, form)


# Nothing is fetched, and no list of trusted signers is asked: who signed is told, not vouched for.
_OFFLINE: Final = {"verify": {"remote_manifest_fetch": False, "ocsp_fetch": False, "verify_trust": False}}


def _credentials(stream: BinaryIO, *, type: str) -> Found:  # noqa: A002
    import c2pa

    with (
        c2pa.Context(c2pa.Settings.from_dict(_OFFLINE)) as context,
        c2pa.Reader(type, stream, context=context) as reader,
    ):
        state, told = reader.get_validation_state(), json.loads(reader.json())
    manifest = told["manifests"][told["active_manifest"]]
    signature = manifest.get("signature_info") or {}
    makers = manifest.get("claim_generator_info") or [{}]
    failed = ((told.get("validation_results") or {}).get("activeManifest") or {}).get("failure") or []
    done = [
        str(action.get("action", "")).rpartition(".")[2].replace("_", " ")
        for assertion in manifest.get("assertions") or []
        if str(assertion.get("label", "")).startswith("c2pa.actions")
        for action in (assertion.get("data") or {}).get("actions") or []
    ]
    facts = {
        "valid": state in ("Valid", "Trusted"),
        "signer": ", ".join(str(signature[k]) for k in ("common_name", "issuer") if signature.get(k)),
        "producer": " ".join(str(makers[0][k]) for k in ("name", "version") if makers[0].get(k)),
        "actions": done[:20],
        "detail": str(failed[0].get("code") or "") if failed else "",
    }
    return facts, b""


def _load_all() -> None:
    for load in (_load_pillow, _load_pdf, *([_load_heif] if importlib.util.find_spec("pillow_heif") else [])):
        load()


_JOBS: Final[dict[str, tuple[Callable[[], None], Callable[..., Found]]]] = {
    "copy": (_load_all, _copy),
    "picture_preview": (_load_pillow, _picture_preview),
    "heic_facts": (_load_heif, _heic_facts),
    "heic_preview": (_load_heif, _heic_preview),
    "pdf_facts": (_load_pdf, _pdf_facts),
    "pdf_preview": (_load_pdf, _pdf_preview),
    "film_facts": (_load_av, _film_facts),
    "film_preview": (_load_av, _film_preview),
    "credentials": (_load_credentials, _credentials),
}

"""The floors: what the machine and plain libraries need for the same work, in the same run, on the same files."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa
from timing import EVENTS, each, peak_mb, timed, warm

if TYPE_CHECKING:
    from evidence.ports import DocumentKey

_LINE = b"x" * 249 + b"\n"


def hash_copy_sync(folder: Path, work: Path) -> dict[str, float]:
    """F: ``openssl dgst -sha256``, ``cp -r``, ``sync -f``."""
    files = [p for p in sorted(folder.rglob("*")) if p.is_file()]
    warm(files)
    names = b"\0".join(os.fsencode(p) for p in files)
    quiet = {"check": True, "stdout": subprocess.DEVNULL}
    with timed() as found:
        subprocess.run(["xargs", "-0", "openssl", "dgst", "-sha256", "-r"], input=names, **quiet)
        subprocess.run(["cp", "-r", folder, work / "copy"], **quiet)
        subprocess.run(["sync", "-f", work], **quiet)
    return found


def pillow_exif(photos: list[Path]) -> dict[str, float]:
    """Pillow: open and ``getexif`` with the two parts that hold time and place."""
    from PIL import Image

    Image.open(photos[0]).close()
    warm(photos)
    with timed() as found:
        for photo in photos:
            with Image.open(photo) as image:
                exif = image.getexif()
                dict(exif.get_ifd(0x8769)), dict(exif.get_ifd(0x8825))
    return found


def reportlab_alone(photos: list[Path], out: Path) -> dict[str, float]:
    """reportlab in one thread: two photos a page at 1600 px with a caption line each."""
    from reportlab import rl_config
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    rl_config.useA85 = 0  # the library's default filter costs 40 times as much
    warm(photos)
    with timed() as found:
        canvas = Canvas(str(out), pagesize=(595, 842), invariant=1)
        for number, photo in enumerate(photos):
            foot = 50 if number % 2 else 440
            canvas.drawImage(ImageReader(_fitted(photo)), 60, foot + 20, 475, 356)
            canvas.setFont("Helvetica", 8)
            canvas.drawString(60, foot, f"{number + 1}. {photo.name}  sha256 {'0' * 64}")
            if number % 2:
                canvas.showPage()
        canvas.save()
    return {**found, "peak_mb": peak_mb(), "megabytes": out.stat().st_size / 1e6}


def _fitted(photo: Path) -> io.BytesIO:
    from PIL import Image

    with Image.open(photo) as image:
        image.draft("RGB", (1600, 1200))  # decodes a 12 MP photo at half scale
        image.thumbnail((1600, 1600), Image.Resampling.BICUBIC, reducing_gap=2.0)
        out = io.BytesIO()
        image.save(out, "JPEG", quality=80)
    out.seek(0)
    return out


def pyhanko_sign(unsigned: Path, work: Path, key: DocumentKey) -> dict[str, float]:
    """pyHanko alone: sign in place, then validate, with its own settings throughout; the same key."""
    from asn1crypto import keys, x509
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign import fields, signers, validation
    from pyhanko_certvalidator import ValidationContext
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    certificate = x509.Certificate.load(key.certificate)
    signer = signers.SimpleSigner(certificate, keys.PrivateKeyInfo.load(key.private), SimpleCertificateStore())
    meta = signers.PdfSignatureMetadata(field_name="S1", md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES)
    out = work / "signed.pdf"
    shutil.copy(unsigned, out)
    warm([out])
    with timed() as found:
        with out.open("r+b") as stream:
            signers.sign_pdf(IncrementalPdfFileWriter(stream), meta, signer=signer, in_place=True)
        with out.open("rb") as stream:
            context = ValidationContext(trust_roots=[certificate], allow_fetching=False)
            status = validation.validate_pdf_signature(PdfFileReader(stream).embedded_signatures[0], context)
    assert status.bottom_line
    return found


def append_flushed(work: Path) -> dict[str, float]:
    """250 bytes appended to a file and ``fdatasync``, once for each event."""
    with (work / "log").open("ab", buffering=0) as log:

        def append(_number: int) -> None:
            log.write(_LINE)
            os.fdatasync(log.fileno())

        return each(EVENTS, append)


def orm_row(engine: sa.Engine) -> Callable[[int], object]:
    """A table of a plain ORM class, made in the database; returns what makes row after row."""
    from sqlalchemy.orm import DeclarativeBase, mapped_column

    class Base(DeclarativeBase):
        pass

    class Row(Base):
        __tablename__ = "bench_row"
        id = mapped_column(sa.Integer, primary_key=True)
        sha256 = mapped_column(sa.String(64), index=True)
        name = mapped_column(sa.String(200))
        size = mapped_column(sa.BigInteger)
        taken = mapped_column(sa.String(32))
        note = mapped_column(sa.Text)
        previous = mapped_column(sa.String(64))

    Base.metadata.create_all(engine)
    fields = {
        "name": "IMG_0001.JPG",
        "taken": "2025:03:03 08:00:00",
        "note": "photo of ground stud",
        "previous": "0" * 64,
    }
    return lambda number: Row(sha256=f"{number:064x}", size=3_000_000 + number, **fields)


def orm_commit(url: str) -> dict[str, float]:
    """One row through the ORM of SQLAlchemy and a commit, once for each event, on PostgreSQL."""
    from sqlalchemy.orm import Session

    engine = sa.create_engine(url)
    made = orm_row(engine)
    with Session(engine) as session:

        def commit(number: int) -> None:
            session.add(made(number))
            session.commit()

        found = each(EVENTS, commit)
    engine.dispose()
    return found

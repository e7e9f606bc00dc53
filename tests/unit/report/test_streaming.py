"""The streamed canvas: same bytes, whole files, pictures as they are, embedded fonts."""

import datetime as dt
import errno
import os
import shutil
import subprocess
import sys

import pikepdf
import pytest
from evidence.errors import NoRoom, OutputUnusable, StoreDamaged
from evidence.report import fonts
from evidence.report.streaming import ReportCanvas, read_picture
from evidence.report.writing import PART_PREFIX, whole_file
from PIL import Image


def jpeg(path, size=(320, 240), colour=(120, 60, 20), **options):
    Image.new("RGB", size, colour).save(path, "JPEG", **options)
    return path


def write(out, pictures):
    with whole_file(out) as stream:
        canvas = ReportCanvas(stream, pagesize=(595, 842))
        canvas.dated(dt.datetime(2026, 3, 2, 14, 30, tzinfo=dt.UTC))
        for path in pictures:
            canvas.draw_picture(read_picture(path), 60, 400, 300, 225)
            canvas.setFont(fonts.MONO, 9)
            canvas.drawString(60, 380, "Ελένη Юлія Ω ±")
            canvas.draw_later(
                60, 30, 80, 12, lambda c, pages: (c.setFont(fonts.SANS, 8), c.drawString(0, 0, f"of {pages}"))
            )
            canvas.showPage()
        canvas.save()
    return out


def test_same_input_same_bytes_whatever_the_environment(tmp_path, monkeypatch):
    picture = jpeg(tmp_path / "a.jpg")
    first = write(tmp_path / "1.pdf", [picture]).read_bytes()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    assert write(tmp_path / "2.pdf", [picture]).read_bytes() == first


def test_the_picture_in_the_file_is_the_file(tmp_path):
    pictures = [jpeg(tmp_path / "a.jpg"), jpeg(tmp_path / "b.jpg", colour=(0, 80, 10), progressive=True)]
    grey = tmp_path / "g.jpg"
    Image.new("L", (50, 60), 99).save(grey, "JPEG")
    out = write(tmp_path / "r.pdf", [*pictures, grey])
    with pikepdf.open(out) as pdf:
        raw = [image.read_raw_bytes() for page in pdf.pages for image in page.get_images().values()]
        assert raw == [p.read_bytes() for p in [*pictures, grey]]
        assert pdf.docinfo["/CreationDate"] == "D:20260302143000+00'00'"


@pytest.mark.skipif(not shutil.which("qpdf"), reason="qpdf is not installed")
def test_qpdf_finds_nothing_wrong(tmp_path):
    out = write(tmp_path / "r.pdf", [jpeg(tmp_path / "a.jpg")])
    done = subprocess.run(["qpdf", "--check", out], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.skipif(not shutil.which("pdffonts"), reason="poppler-utils is not installed")
def test_every_font_is_embedded(tmp_path):
    out = write(tmp_path / "r.pdf", [jpeg(tmp_path / "a.jpg")])
    lines = subprocess.run(["pdffonts", out], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    assert lines
    assert all(line.split()[-5] == "yes" for line in lines), lines  # columns: emb sub uni object ID


def test_what_no_font_can_draw_is_named():
    assert fonts.drawable("Ελένη Юлія Ćwikła → Ω") == "Ελένη Юлія Ćwikła → Ω"
    assert fonts.drawable("a\u202eb\u5c71") == "a‹U+202E›b‹U+5C71›"


def test_a_full_disk_leaves_the_old_file_and_no_part(tmp_path):
    out = tmp_path / "r.pdf"
    out.write_bytes(b"old")

    def fill():
        with whole_file(out) as stream:
            stream.write(b"new")
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(NoRoom) as caught:
        fill()
    assert str(out) in str(caught.value)
    assert out.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [out]


def test_a_file_size_limit_set_by_the_system_is_told_the_same_way(tmp_path):
    script = (
        "import resource, signal, sys, pathlib; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "from evidence.report.writing import whole_file\n"
        "with whole_file(pathlib.Path(sys.argv[1])) as out: out.write(b'x' * 100000)\n"
    )
    done = subprocess.run([sys.executable, "-c", script, tmp_path / "r.pdf"], capture_output=True, text=True)
    assert "NoRoom" in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(OutputUnusable), whole_file(tmp_path / "nowhere" / "r.pdf"):
        pass


def test_a_picture_that_changes_meanwhile_stops_the_report(tmp_path):
    picture = jpeg(tmp_path / "a.jpg")
    known = read_picture(picture)

    def build():
        with whole_file(tmp_path / "r.pdf") as stream:
            canvas = ReportCanvas(stream)
            canvas.draw_picture(known, 0, 0, 10, 10)
            picture.write_bytes(picture.read_bytes() + b"x")
            canvas.save()

    with pytest.raises(StoreDamaged):
        build()
    assert not (tmp_path / "r.pdf").exists()
    assert not list(tmp_path.glob(PART_PREFIX + "*"))



"""Files that are not as recorded (fault matrix, rows 9 and 10): no picture is made of them, and the maker is told which."""

import shutil
import subprocess
from pathlib import Path

import pytest
from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.publishing import ReportOptions, write_report
from evidence.usecases.intake import Answers, intake_folder

from fakes import quiet

SHORT = "wet-footwell"
PHOTO = "Exhibit 3"


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """A workspace with a demonstration dossier of which no report was made yet."""
    folder = tmp_path_factory.mktemp("template") / "workspace"
    make_workspace(folder, recorder="Marta Quill", zone="Europe/Dublin")
    with open_desk(folder) as desk:
        intake_folder(desk, open_handed(demo_dossiers()[SHORT]), Answers(), quiet)
    return folder


def flipped(photo: Path) -> None:
    data = bytearray(photo.read_bytes())
    data[len(data) // 2] ^= 1
    photo.write_bytes(data)


DAMAGE = {
    "flipped": (flipped, "the file is not the one that was recorded"),
    "cut": (lambda photo: photo.write_bytes(photo.read_bytes()[:1000]), "the file is not the one that was recorded"),
    "empty": (lambda photo: photo.write_bytes(b""), "the file is not the one that was recorded"),
    "missing": (Path.unlink, "the file is missing"),
}


@pytest.mark.parametrize("how", DAMAGE)
def test_no_picture_of_another_file_is_printed_and_the_exhibit_is_named(template, tmp_path, how):
    workspace = shutil.copytree(template, tmp_path / "workspace")
    sound = pictures(workspace, tmp_path / "sound.pdf")
    assert sound[0] == ()
    workspace = shutil.copytree(template, tmp_path / "damaged")
    with open_desk(workspace) as desk:
        photo = next(f for f in (workspace / "originals").rglob("*") if f.is_file() and f.read_bytes()[:2] == b"\xff\xd8")
        assert Path(desk.originals.path(photo.name)) == photo
    photo.chmod(0o600)
    damage, why = DAMAGE[how]
    damage(photo)
    notes, shown = pictures(workspace, tmp_path / "damaged.pdf")
    assert notes == (f"WARNING: {PHOTO}: {why}; no new picture of it is printed. 'evidence recheck' reads every file.",)
    assert shown < sound[1]  # its picture is gone, the others are there
    assert shown > 0


def pictures(workspace: Path, out: Path) -> tuple[tuple[str, ...], int]:
    """The notes of a report, and how many pictures are in it."""
    with open_desk(workspace) as desk:
        made = write_report(desk, workspace, SHORT, out, ReportOptions(sign=False), quiet)
    listed = subprocess.run(["pdfimages", "-list", str(out)], capture_output=True, text=True, check=True).stdout
    return made.notes, len(listed.splitlines()) - 2

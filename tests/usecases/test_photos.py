"""Signs in the photos of a workspace, from intake to report; on real files and both databases where it matters."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from evidence.bootstrap import make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.errors import NotFound
from evidence.usecases.challenge import challenge_dossier
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.looking import detail
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.photos import photo_signs, signs_of
from PIL import Image

from fakes import quiet
from foreign_files import exif_of
from scenes import drawn

SECRET = "Ostrava Klem's van, private"


def jpeg(image: Image.Image, quality: int = 95, **tags: object) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, **({"exif": exif_of(**tags)} if tags else {}))  # type: ignore[arg-type]
    return out.getvalue()


def shot(number: int, minute: int, **ifd0: str) -> bytes:
    tags = {0x010F: "Nimbus", 0x0110: "N5", **({0x0131: ifd0["software"]} if "software" in ifd0 else {})}
    return jpeg(drawn(number), ifd0=tags.items(), exif={0x9003: f"2026:03:02 10:{minute:02d}:00"}.items())


def folder(where: Path, name: str, title: str, files: dict[str, bytes]) -> Path:
    where.mkdir(parents=True)
    lines = [f"format: 1\ndossier: {name}\ntitle: {title}\nzone: Europe/Lisbon\nrecorder: me\nparties:\n  - name: me\n    full_name: M. Quill\n    roles: [technician]\nexhibits:\n"]
    for n, (file, raw) in enumerate(files.items()):
        (where / file).write_bytes(raw)
        lines.append(f"  - name: p{n}\n    file: {file}\n    caption: Picture {n}\n")
    (where / "dossier.yaml").write_text("".join(lines))
    return where


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    make_workspace(tmp_path / "workspace", recorder="M. Quill", zone="Europe/Lisbon")
    return tmp_path / "workspace"


@pytest.fixture
def two(workspace: Path, tmp_path: Path) -> Path:
    """A private dossier, and one that uses a picture of it again, made smaller and cropped, and one of its files."""
    old = {"a.jpg": jpeg(drawn(1)), "b.jpg": jpeg(drawn(2))}
    used = drawn(1).crop((30, 0, 800, 600)).resize((400, 300))
    new = {"IMG_0012.JPG": shot(3, 0), "IMG_0016.JPG": shot(4, 1, software="Photo editor"), "again.jpg": jpeg(used, 60), "same.jpg": old["b.jpg"]}
    with open_desk(workspace) as desk:
        intake_folder(desk, open_handed(folder(tmp_path / "old", "private", SECRET, old)), Answers(), quiet)
        intake_folder(desk, open_handed(folder(tmp_path / "new", "van", "A van", new)), Answers(), quiet)
    return workspace


def test_signs_of_a_dossier_and_where_else_a_picture_is(two: Path) -> None:
    with open_desk(two) as desk:
        found = photo_signs(desk, "van")
        assert [(s.code, s.exhibits) for s in found] == [
            ("same_file", ("Exhibit 4",)), ("same_picture", ("Exhibit 3",)), ("edited_with", ("Exhibit 2",)),
            ("no_camera_data", ("Exhibit 3", "Exhibit 4")), ("numbers_missing", ("Exhibit 1", "Exhibit 2")),
        ]  # fmt: skip
        assert found[0].elsewhere == (f"Exhibit 2 of {SECRET} (private)",)
        assert found[1].elsewhere == (f"Exhibit 1 of {SECRET} (private)",)
        assert [s.code for s in photo_signs(desk, "van", exhibit="exhibit 1")] == ["numbers_missing"]
        with pytest.raises(NotFound):
            photo_signs(desk, "van", exhibit="exhibit 9")


def test_nothing_of_other_dossiers_leaves_with_a_report(two: Path, tmp_path: Path) -> None:
    import pdfplumber
    from evidence.publishing import ReportOptions, write_report

    with open_desk(two) as desk:
        write_report(desk, two, "van", tmp_path / "r.pdf", ReportOptions(sign=False), quiet)
    with pdfplumber.open(tmp_path / "r.pdf") as report:
        text = "\n".join(page.extract_text() for page in report.pages)
        cover = report.pages[0].extract_text()
    assert "also in another dossier of this workspace" in " ".join(text.split())
    assert "Photo editor" in text
    assert "Can also mean:" in text
    assert "Ostrava" not in text
    assert "private)" not in text
    assert b"Ostrava" not in (tmp_path / "r.pdf").read_bytes()
    assert "Photo editor" not in cover


def test_a_report_stays_the_same_when_another_dossier_comes_later(two: Path, tmp_path: Path) -> None:
    with open_desk(two) as desk:
        with desk.ledgers.reading() as view:
            held = read_dossier(view, need(view, "private"))
        assert signs_of(desk, held, until=held.last_at) == tuple(s for s in signs_of(desk, held) if s.code == "no_camera_data")
        assert {"same_file", "same_picture"} < {s.code for s in signs_of(desk, held)}


def test_signs_stand_beside_an_exhibit_and_among_the_challenges(two: Path) -> None:
    with open_desk(two) as desk:
        assert any("Photo editor" in s for s in detail(desk, "van", "exhibit 2").signs)
        assert detail(desk, "van", "party 1").signs == ()
        _, challenges = challenge_dossier(desk, "van")
        said = [c.sentence for c in challenges if c.code == "photo_signs"]
        assert len(said) == 3
        assert not any("Ostrava" in s for s in said)


def test_files_that_are_withheld_are_not_asked(two: Path) -> None:
    with open_desk(two) as desk:
        with desk.ledgers.reading() as view:
            held = read_dossier(view, need(view, "van"))
        editor = next(r.value.file.sha256 for r in held.by_subject.values() if r.label == "Exhibit 2")  # type: ignore[attr-defined]
        assert "edited_with" not in {s.code for s in signs_of(desk, held, unread=frozenset({editor}))}


@pytest.mark.parametrize("harm", ["gone", "cut", "scrambled", "half"])
def test_a_lost_or_damaged_index_is_made_again_when_it_is_asked(two: Path, harm: str) -> None:
    with open_desk(two) as desk:
        whole = photo_signs(desk, "van")
    for name in ("likeness.rows", "likeness.grey"):
        path = two / "previews" / name
        raw = path.read_bytes()
        if harm == "gone" or (harm == "half" and name == "likeness.grey"):
            path.unlink()
        elif harm == "cut":
            path.write_bytes(raw[: len(raw) // 2 + 7])
        elif harm == "scrambled":
            path.write_bytes(raw[:200] + bytes(b ^ 0x5A for b in raw[200:]))
    with open_desk(two) as desk:
        assert photo_signs(desk, "van") == whole


@pytest.mark.parametrize(("file", "row"), [("likeness.rows", 144), ("likeness.grey", 576)])
@pytest.mark.parametrize("whose", ["the picture asked about", "its twin in another dossier"])
def test_one_changed_bit_in_the_index_hides_nothing_and_is_told(two: Path, file: str, row: int, whose: str) -> None:
    from evidence.cli.main import app
    from typer.testing import CliRunner

    with open_desk(two) as desk:
        whole = photo_signs(desk, "van")
        pair = next(s for s in whole if s.code == "same_picture")
        with desk.ledgers.reading() as view:
            dossiers = [read_dossier(view, need(view, name)) for name in ("van", "private")]
    assert pair.elsewhere == (f"Exhibit 1 of {SECRET} (private)",)
    held = dossiers["twin" in whose]
    label = "Exhibit 1" if "twin" in whose else pair.exhibits[0]
    sha = next(r.value.file.sha256 for r in held.by_subject.values() if r.label == label)  # type: ignore[attr-defined]
    raw = (two / "previews" / "likeness.rows").read_bytes()
    place = next(n for n in range(0, len(raw), 144) if raw[n : n + 32].hex() == sha) // 144
    spoiled = bytearray((two / "previews" / file).read_bytes())
    spoiled[place * row + 100] ^= 4
    (two / "previews" / file).write_bytes(spoiled)
    run = CliRunner().invoke(app, ["--workspace", str(two), "photos", "van"])
    assert run.exit_code == 0, run.output
    assert "The index of like pictures had 1 damaged row: made anew from the pictures." in run.stderr
    assert f"in this workspace: Exhibit 1 of {SECRET} (private)" in run.stdout
    again = CliRunner().invoke(app, ["--workspace", str(two), "photos", "van"])
    assert again.stderr == ""
    with open_desk(two) as desk:
        assert photo_signs(desk, "van") == whole


def test_a_preview_that_was_cut_off_is_made_again_and_hides_nothing(two: Path) -> None:
    with open_desk(two) as desk:
        whole = photo_signs(desk, "van")
    for path in (two / "previews").iterdir():
        path.write_bytes(path.read_bytes()[:90]) if path.suffix == ".jpg" else path.unlink()
    with open_desk(two) as desk:
        assert photo_signs(desk, "van") == whole


def test_previews_and_index_lost_together_are_both_made_again(two: Path) -> None:
    with open_desk(two) as desk:
        whole = photo_signs(desk, "van")
    for path in (two / "previews").iterdir():
        path.unlink()
    with open_desk(two) as desk:
        assert photo_signs(desk, "van") == whole


def test_a_missing_file_keeps_no_other_from_being_asked(two: Path) -> None:
    with open_desk(two) as desk:
        with desk.ledgers.reading() as view:
            held = read_dossier(view, need(view, "van"))
        editor = next(r.value.file.sha256 for r in held.by_subject.values() if r.label == "Exhibit 2")  # type: ignore[attr-defined]
        Path(desk.originals.path(editor)).unlink()
        assert {s.code for s in photo_signs(desk, "van")} == {"same_file", "same_picture", "no_camera_data"}


def test_the_command_line_names_the_other_dossier_and_json_is_stable(two: Path) -> None:
    from evidence.cli.main import app
    from typer.testing import CliRunner

    run = CliRunner().invoke(app, ["--workspace", str(two), "photos", "van"])
    assert run.exit_code == 0, run.output
    assert f"in this workspace: Exhibit 2 of {SECRET} (private)" in run.output
    assert "not an accusation" in run.output
    run = CliRunner().invoke(app, ["--workspace", str(two), "photos", "van", "exhibit 2", "--json"])
    told = json.loads(run.stdout)
    assert [t["code"] for t in told] == ["edited_with", "numbers_missing"]
    assert all(t["can_also_mean"] and t["cannot_show"] for t in told)

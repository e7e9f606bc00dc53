import os
import socket

import pytest
from evidence.capture.folder import alike, name_of, open_folder, shown, walk
from evidence.capture.plain_file import open_plain
from evidence.errors import MistakesFound


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "dossier"
    (home / "photos").mkdir(parents=True)
    (home / "dossier.yaml").write_text("title: van\n")
    (home / "photos" / "eyelet.jpg").write_bytes(b"x")
    (tmp_path / "outside.jpg").write_bytes(b"secret")
    return home


def test_a_file_inside_is_found(folder):
    opened = open_folder(folder)
    assert opened.marked.data == {"title": "van"}
    assert opened.resolve("photos/eyelet.jpg") == folder / "photos" / "eyelet.jpg"
    assert opened.resolve("./photos//eyelet.jpg").read_bytes() == b"x"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "empty"),
        ("/etc/passwd", "absolute"),
        ("C:\\photos\\a.jpg", "absolute"),
        ("\\\\server\\a.jpg", "absolute"),
        ("~/a.jpg", "absolute"),
        ("../outside.jpg", "leaves this folder"),
        ("photos/../../outside.jpg", "leaves this folder"),
        ("photos\\..\\a.jpg", "leaves this folder"),
        ("a\0b", "NUL"),
        ("photos", "a folder"),
        ("photos/", "a folder"),
        ("photos/eyelet.jpg/more", "not a folder"),
        ("photos/eyelit.jpg", "did you mean 'photos/eyelet.jpg'?"),
        ("eyelet.jpg", "did you mean 'photos/eyelet.jpg'?"),
        ("PHOTOS/eyelet.jpg", "did you mean 'photos/eyelet.jpg'?"),
        ("x" * 300, "there is no file"),
    ],
)
def test_other_names_are_refused_with_advice(folder, name, words):
    with pytest.raises(ValueError) as caught:
        open_folder(folder).resolve(name)
    assert words in str(caught.value)


def test_links_are_never_followed(folder, tmp_path):
    (folder / "link.jpg").symlink_to(tmp_path / "outside.jpg")
    (folder / "linked").symlink_to(folder / "photos", target_is_directory=True)
    opened = open_folder(folder)
    with pytest.raises(ValueError, match="symbolic link"):
        opened.resolve("link.jpg")
    with pytest.raises(ValueError, match="symbolic link"):
        opened.resolve("linked/eyelet.jpg")
    with pytest.raises(ValueError, match="symbolic link"):
        open_plain(folder / "link.jpg")


def test_pipes_sockets_and_devices_are_never_opened(folder):
    os.mkfifo(folder / "pipe.jpg")
    with pytest.raises(ValueError, match="named pipe"):
        open_folder(folder).resolve("pipe.jpg")
    with pytest.raises(ValueError, match="named pipe"):
        open_plain(folder / "pipe.jpg")  # opening it for reading would wait for ever
    from pathlib import Path

    with pytest.raises(ValueError, match="device"):
        open_plain(Path("/dev/zero"))


def test_a_name_in_another_unicode_form_is_found(folder):
    (folder / "photos" / "Masse\u0301.jpg").write_bytes(b"nfd")
    assert open_folder(folder).resolve("photos/Mass\u00e9.jpg").read_bytes() == b"nfd"
    (folder / "photos" / "Mass\u00e9.jpg").write_bytes(b"nfc")
    assert open_folder(folder).resolve("photos/Mass\u00e9.jpg").read_bytes() == b"nfc"


def test_without_dossier_file_the_likely_one_is_named(tmp_path):
    (tmp_path / "Dossier.YAML").write_text("a: b\n")
    with pytest.raises(MistakesFound, match=r"rename 'Dossier\.YAML' to 'dossier\.yaml'"):
        open_folder(tmp_path)
    with pytest.raises(MistakesFound, match="cannot be opened"):
        open_folder(tmp_path / "nowhere")
    with pytest.raises(MistakesFound, match="is not a folder"):
        open_folder(tmp_path / "Dossier.YAML")


def test_dossier_file_that_is_a_link_or_a_pipe(tmp_path, folder):
    for number, make in enumerate((lambda p: p.symlink_to(folder / "dossier.yaml"), os.mkfifo)):
        home = tmp_path / f"home{number}"
        home.mkdir()
        make(home / "dossier.yaml")
        with pytest.raises(MistakesFound, match="never"):
            open_folder(home)


def test_a_heap_is_listed_in_order_with_what_is_left_out(folder, tmp_path):
    os.mkfifo(folder / "pipe")
    (folder / "link").symlink_to(folder / "photos")
    (folder / "loop").symlink_to(folder)
    with socket.socket(socket.AF_UNIX) as plug:
        plug.bind(str(folder / "sock"))
        os.link(folder / "photos" / "eyelet.jpg", folder / "photos" / "again.jpg")
        files, skipped = walk([folder, folder / "dossier.yaml", tmp_path / "nowhere"])
    assert [str(f.relative_to(folder)) for f in files] == ["dossier.yaml", "photos/again.jpg", "photos/eyelet.jpg"]
    assert {s.path.name: s.reason for s in skipped} == {
        "link": "a symbolic link, which is never followed",
        "loop": "a symbolic link, which is never followed",
        "pipe": "a named pipe, which is never opened",
        "sock": "a socket, which is never opened",
        "nowhere": "does not exist",
    }


def test_names_that_are_not_utf8_keep_their_bytes(tmp_path):
    raw = b"caf\xe9.jpg"
    (tmp_path / os.fsdecode(raw)).write_bytes(b"x")
    (path,), skipped = walk([tmp_path])
    assert skipped == []
    assert name_of(path) == ("caf\\xe9.jpg", raw.hex())
    long = tmp_path / ("ü" * 127 + "x")  # 255 bytes, the longest name that disks hold
    long.write_bytes(b"x")
    assert name_of(long) == (long.name, None)


def test_what_is_shown_cannot_act():
    assert shown("photo\u202egpj.exe") == "photo\\u{202e}gpj.exe"
    assert shown("a\nb\x1b[31m\x7f\u200b\u2028") == "a\\u{a}b\\u{1b}[31m\\u{7f}\\u{200b}\\u{2028}"
    assert shown("Ωhm 日本 é") == "Ωhm 日本 é"
    assert shown("\udce9") == "\\u{dce9}"


def test_names_that_some_systems_take_for_one():
    nfc, nfd = "caf\u00e9.jpg", "cafe\u0301.jpg"
    assert alike([nfc, "b.jpg", nfd]) == [((nfd, nfc), "differ only in Unicode form")]
    assert alike(["A.jpg", "a.jpg"]) == [(("A.jpg", "a.jpg"), "differ only in capital letters")]
    assert alike(["a.jpg", "a.jpg", "b.jpg"]) == []
    ((group, why),) = alike([nfd, "CAF\u00c9.JPG"])
    assert len(group) == 2
    assert why == "differ only in capital letters and Unicode form"


def test_a_name_that_could_be_two_files_is_refused(folder):
    (folder / "\u00c5.jpg").write_bytes(b"composed")
    (folder / "A\u030a.jpg").write_bytes(b"decomposed")
    with pytest.raises(ValueError, match="any of 2 files"):
        open_folder(folder).resolve("\u212b.jpg")  # the ångström sign: a third way to write the same


def test_unreadable_files_and_folders_are_told(folder, monkeypatch):
    """Permissions do not bind the administrator, under whom tests may run: the system's answers are put in."""
    from pathlib import Path

    opened = open_folder(folder)
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(ValueError, match="may not be read"):
        opened.resolve("photos/eyelet.jpg")
    assert walk([folder / "dossier.yaml"])[1][0].reason == "unreadable: permission denied"

    def refused(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refused)
    files, skipped = walk([folder])
    assert files == []
    assert [(s.path, s.reason) for s in skipped] == [(folder, "unreadable: permission denied")]
    with pytest.raises(MistakesFound, match="cannot be opened: Permission denied"):
        open_folder(folder)

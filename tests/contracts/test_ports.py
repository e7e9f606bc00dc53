"""What every adapter of a port promises; the fake of each stands the same tests as the real one."""

from __future__ import annotations

import datetime as dt
import errno
import hashlib
import os
import re
from pathlib import Path

import pytest
from evidence.capture.likeness_index import LikenessIndex
from evidence.capture.preview_shelf import PreviewShelf
from evidence.capture.sources import open_handed
from evidence.edges.authorities import Authorities
from evidence.edges.head_shelf import DiskHeadShelf
from evidence.edges.keys import KeyFile
from evidence.edges.system import RandomIds, SystemClock
from evidence.errors import AuthorityFailed, StoreDamaged
from evidence.model.exhibit import FileFacts
from evidence.ports import Clock, Folder, HeadShelf, Ids, Likeness, Originals, Previews, Signer, Source, TimeAuthority
from evidence.record.attested import Waiting
from evidence.record.checkpoint import right
from evidence.record.head import Head
from evidence.review.photo_marks import Alike
from evidence.store.originals_disk import DiskOriginals, make_shelves

from authority import TimeAuthority as OpensslAuthority
from fakes import (
    CountingIds,
    FixedClock,
    MemoryAuthority,
    MemoryFolder,
    MemoryLikeness,
    MemoryOriginals,
    MemoryShelf,
    MemorySigner,
    NoPreviews,
    plain_facts,
    quiet,
)
from scenes import drawn


@pytest.fixture(params=["real", "fake"])
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def originals(kind: str, tmp_path: Path) -> Originals:
    if kind == "fake":
        return MemoryOriginals()
    make_shelves(tmp_path / "originals")
    return DiskOriginals(tmp_path / "originals")


@pytest.mark.parametrize("clock", [SystemClock(), FixedClock()])
def test_a_clock_tells_utc_and_never_less(clock: Clock) -> None:
    first, second = clock.now(), clock.now()
    assert first.utcoffset() == dt.timedelta(0)
    assert second >= first


@pytest.mark.parametrize("ids", [RandomIds(), CountingIds()])
def test_ids_have_128_bits_and_never_repeat(ids: Ids) -> None:
    subjects = [ids.subject() for _ in range(200)]
    ledgers = [ids.ledger() for _ in range(200)]
    assert all(re.fullmatch("[0-9a-f]{32}", s) for s in subjects)
    assert all(re.fullmatch("[a-z2-7]{26}", name) for name in ledgers)
    assert len({*subjects, *ledgers}) == 400


def _source(path: Path) -> Source:
    return Source(path, path.name, None, path.lstat().st_size if path.is_symlink() or path.exists() else 0)


def test_originals_keep_bytes_once_under_their_hash(originals: Originals, tmp_path: Path) -> None:
    for name, data in (("a.txt", b"abc"), ("b.txt", b"abc"), ("empty", b"")):
        (tmp_path / name).write_bytes(data)
    sources = [_source(tmp_path / n) for n in ("a.txt", "b.txt", "empty")]
    taken = list(originals.take(sources, known_sizes=frozenset(), read_facts=plain_facts, progress=quiet))
    assert [t.source.name for t in taken] == ["a.txt", "b.txt", "empty"]
    # FIPS 180-4: SHA-256 of "abc" and of nothing.
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    nothing = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert [(t.file.sha256, t.file.size) for t in taken if t.file] == [(abc, 3), (abc, 3), (nothing, 0)]
    assert list(originals.check({abc: 3, nothing: 0}, quiet)) == []
    assert sorted(originals.unreferenced(frozenset({abc}))) == [f"{nothing[:2]}/{nothing}"]


def test_originals_refuse_what_is_no_plain_file_and_take_the_rest(originals: Originals, tmp_path: Path) -> None:
    (tmp_path / "good").write_bytes(b"good")
    (tmp_path / "link").symlink_to(tmp_path / "good")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    names = ["link", "pipe", "folder", "gone", "good"]
    taken = list(
        originals.take([_source(tmp_path / n) for n in names], known_sizes=frozenset(), read_facts=plain_facts, progress=quiet)
    )
    assert [t.problem for t in taken] == [
        "is a symbolic link, which is never followed; hand in the file itself",
        "is not a plain file (a folder, pipe or device)",
        "is not a plain file (a folder, pipe or device)",
        "does not exist",
        "",
    ]
    assert [bool(t.file) for t in taken] == [False, False, False, False, True]


def test_originals_tell_missing_short_and_altered(originals: Originals, tmp_path: Path) -> None:
    for name in ("one", "two", "three"):
        (tmp_path / name).write_bytes(name.encode() * 100)
    files = [t.file for t in originals.take([_source(tmp_path / n) for n in ("one", "two", "three")],
             known_sizes=frozenset(), read_facts=plain_facts, progress=quiet)]  # fmt: skip
    hashes = {f.sha256: f.size for f in files if f}
    first, second, third = hashes
    other = hashlib.sha256(b"x" * hashes[third]).hexdigest()
    if isinstance(originals, MemoryOriginals):
        del originals.files[first]
        originals.files[second] = originals.files[second][:10]
        originals.files[third] = b"x" * hashes[third]
    else:
        Path(originals.path(first)).unlink()
        for sha256, data in ((second, b"two" * 3 + b"t"), (third, b"x" * hashes[third])):
            Path(originals.path(sha256)).chmod(0o600)
            Path(originals.path(sha256)).write_bytes(data)
    found = {b.sha256: (b.problem, b.found) for b in originals.check(hashes, quiet)}
    assert found == {
        first: ("missing", ""),
        second: (f"short: 10 bytes of {hashes[second]}", hashlib.sha256(b"twotwotwot").hexdigest()),
        third: ("altered", other),
    }


def test_a_folder_knows_its_text_its_places_and_its_files(kind: str, tmp_path: Path) -> None:
    text = "dossier: van\ntitle: A van\nexhibits:\n  - name: eyelet\n    file: eyelet.txt\n"
    (tmp_path / "dossier.yaml").write_text(text)
    (tmp_path / "eyelet.txt").write_bytes(b"abc")
    folder: Folder = open_handed(tmp_path) if kind == "real" else MemoryFolder(text, tmp_path)
    assert folder.data["exhibits"] == [{"name": "eyelet", "file": "eyelet.txt"}]
    assert folder.locate(("exhibits", 0, "file")) == (5, 11)
    assert folder.locate(("exhibits", 0, "no such field"))[0] == 4
    assert (folder.resolve("eyelet.txt").name, folder.resolve("eyelet.txt").size) == ("eyelet.txt", 3)
    with pytest.raises(ValueError, match=r"there is no file 'other.txt' in this folder"):
        folder.resolve("other.txt")


def test_a_preview_shelf_makes_nothing_where_a_file_has_none(kind: str, tmp_path: Path, originals: Originals) -> None:
    shelf: Previews = PreviewShelf(tmp_path / "previews", originals) if kind == "real" else NoPreviews()
    assert shelf.make([("0" * 64, plain_facts(tmp_path, "x"))], quiet) == {}
    assert shelf.path("0" * 64) is None


def test_an_index_knows_what_was_added_and_finds_only_that(kind: str, tmp_path: Path, originals: Originals) -> None:
    photo = FileFacts(media="photo", type="image/jpeg", reader="test")
    shelf = PreviewShelf(tmp_path / "previews", originals)
    index: Likeness = LikenessIndex(tmp_path / "previews", shelf)
    one, twin, other = ("1" * 64, "2" * 64, "3" * 64)
    if kind == "fake":
        index = MemoryLikeness([Alike(sha256=one, other=twin, bits=0, likeness=1.0)])
    (tmp_path / "previews").mkdir()
    for name, scene in ((one, 1), (twin, 1), (other, 2)):
        drawn(scene, (400, 300)).save(tmp_path / "previews" / f"{name}-screen.jpg")
    assert index.unknown(frozenset({one, twin})) == {one, twin}
    assert index.alike([one]) == []
    index.add([(one, photo), (other, photo)], quiet)
    assert index.unknown(frozenset({one, twin, other})) == {twin}
    assert index.alike([one, other]) == []
    index.add([(one, photo), (twin, photo)], quiet)
    assert [(p.sha256, p.other) for p in index.alike([one, twin, other])] == [(one, twin)]
    assert index.alike([other]) == []


def test_a_stored_copy_that_cannot_be_read_for_its_facts_is_the_stores_fault(tmp_path: Path) -> None:
    make_shelves(tmp_path / "originals")
    (tmp_path / "a.txt").write_bytes(b"abc")

    def fails(_path: object, _name: str) -> FileFacts:
        raise OSError(errno.EIO, "Input/output error")

    taking = DiskOriginals(tmp_path / "originals").take([_source(tmp_path / "a.txt")], known_sizes=frozenset(), read_facts=fails, progress=quiet)
    with pytest.raises(StoreDamaged, match=r"a\.txt: the stored copy cannot be read back"):
        list(taking)


def _locked_key(folder: Path, monkeypatch: pytest.MonkeyPatch) -> KeyFile:
    monkeypatch.setenv("EVIDENCE_PASSPHRASE", "correct horse battery staple")
    KeyFile(folder).public()
    monkeypatch.delenv("EVIDENCE_PASSPHRASE")
    return KeyFile(folder, ask=lambda _what: None)


def test_a_signer_signs_alike_each_time_and_for_its_public_key(kind: str, tmp_path: Path) -> None:
    signer: Signer = KeyFile(tmp_path / "keys") if kind == "real" else MemorySigner()
    signature = signer.sign(b"head")
    assert signature == signer.sign(b"head")
    assert signature is not None
    assert right(signer.public(), b"head", signature)
    assert not right(signer.public(), b"other", signature)


def test_a_locked_signer_knows_its_public_key_and_signs_nothing(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    signer: Signer = _locked_key(tmp_path / "keys", monkeypatch) if kind == "real" else MemorySigner(locked=True)
    assert len(signer.public()) == 32
    assert signer.sign(b"head") is None


def test_a_shelf_keeps_heads_in_order_and_never_changes_a_file(kind: str, tmp_path: Path) -> None:
    shelf: HeadShelf = DiskHeadShelf(tmp_path / "checkpoints") if kind == "real" else MemoryShelf()
    heads = [Head("a" * 26, size, bytes([size]) * 32) for size in (2, 10, 100)]
    assert shelf.kept("a" * 26) == []
    assert shelf.files(heads[0]) == {}
    for head in reversed(heads):
        shelf.keep(head, {"head.sig": b"s" * 64})
    shelf.keep(Head("b" * 26, 1, bytes(32)), {})
    assert shelf.kept("a" * 26) == heads
    shelf.keep(heads[1], {"head.sig": b"s" * 64, "token-1.tsr": b"token"})
    assert sorted(shelf.files(heads[1])) == ["head.sig", "head.txt", "token-1.tsr"]
    assert shelf.read(heads[1], "token-1.tsr") == b"token"
    with pytest.raises(StoreDamaged, match="is kept already with other content"):
        shelf.keep(heads[1], {"head.sig": b"t" * 64})
    with pytest.raises(StoreDamaged, match="is kept already with other content"):
        shelf.keep(Head("a" * 26, 10, bytes(32)), {})  # another root at the same size
    assert shelf.read(heads[1], "head.sig") == b"s" * 64


def test_a_queue_of_time_stamps_keeps_order_and_forgets_what_is_done(kind: str, tmp_path: Path) -> None:
    def opened() -> TimeAuthority:
        return Authorities(tmp_path / "authorities", "https://authority.example/") if kind == "real" else fake

    fake = MemoryAuthority("https://authority.example/")
    first, second, third = (
        Waiting(Head(ledger * 26, size, bytes(32)), "http://127.0.0.1:9/") for ledger, size in (("a", 9), ("a", 10), ("b", 1))
    )
    assert opened().waiting() == []
    for waiting in (third, second, first, second):
        opened().wait(waiting)
    assert opened().waiting() == [first, second, third]
    opened().done(second)
    opened().done(second)
    assert opened().waiting() == [first, third]
    assert opened().url == "https://authority.example/"
    with pytest.raises(AuthorityFailed, match="could not be reached"):
        opened().ask("http://127.0.0.1:9/", b"head")  # nobody listens on the port for discarding
    assert opened().trust(OpensslAuthority(tmp_path / "tsa").root_pem) == 1

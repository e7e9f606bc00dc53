"""Heads signed at the end of an intake, kept unsigned where the key is locked, and never for two histories."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from evidence.capture.sources import open_handed
from evidence.edges.keys import KeyFile
from evidence.errors import HeadBehind, HeadsContradict, NoRoom, StoreDamaged
from evidence.ports import Desk
from evidence.record.checkpoint import Note, checkpoint_text, fingerprint, read_checkpoint
from evidence.record.handed import line_of
from evidence.record.head import ORIGIN, Head
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, IntakeResult, intake_folder
from evidence.usecases.record import record_one

from conftest import still_desk
from fakes import MemoryShelf, MemorySigner, quiet
from samples import RECORDS, small_folder


def take_in(desk: Desk, folder: Path) -> IntakeResult:
    return intake_folder(desk, open_handed(folder), Answers(), quiet)


def one_event(desk: Desk, text: str) -> None:
    record_one(desk, "van", "event", {"what": "tow", "text": text, "time": "2026-03-01", "basis": "told"})


@pytest.fixture
def folder(quick_path: Path) -> Path:
    return small_folder(quick_path / "folder")


def test_an_intake_ends_with_a_signed_head(desk: Desk, folder: Path) -> None:
    shelf, signer = MemoryShelf(), MemorySigner()
    desk = replace(desk, shelf=shelf, signer=signer)
    result = take_in(desk, folder)
    sealed = result.head
    assert (sealed.head.ledger, sealed.head.size, sealed.problem) == (result.ledger, RECORDS, "")
    assert sealed.head == desk.ledgers.heads()[-1]
    assert sorted(sealed.files) == ["head.note", "head.sig", "head.txt", "key.pem"]
    assert sealed.fingerprint == fingerprint(signer.public())
    note = Note.read(shelf.read(sealed.head, "head.note"))
    assert note.by(ORIGIN + result.ledger, signer.public())
    assert read_checkpoint(note.text) == sealed.head
    assert signer.signed == [note.text.encode()]
    assert take_in(desk, folder).head == sealed  # nothing new: nothing is signed again
    assert len(signer.signed) == 1


def test_a_locked_key_leaves_the_head_unsigned_until_the_next_chance(desk: Desk, folder: Path) -> None:
    shelf = MemoryShelf()
    locked = replace(desk, shelf=shelf, signer=MemorySigner(locked=True))
    first = take_in(locked, folder).head
    assert not first.signed
    assert list(first.files) == ["head.txt"]
    assert "locked" in first.problem
    later = seal_head(replace(desk, shelf=shelf, signer=MemorySigner()), first.head.ledger)
    assert (later.head, later.signed, later.problem) == (first.head, True, "")
    assert sorted(later.files) == ["head.note", "head.sig", "head.txt", "key.pem"]


def test_openssl_verifies_what_the_real_key_signed(sqlite_workspace: Path, folder: Path) -> None:
    with still_desk(sqlite_workspace) as desk:
        sealed = take_in(desk, folder).head
    place = sqlite_workspace / "checkpoints" / sealed.head.ledger / str(RECORDS)
    assert {p.name: p.stat().st_mode & 0o777 for p in place.iterdir()} == dict.fromkeys(sealed.files, 0o444)
    assert (place / "head.txt").read_text() == checkpoint_text(sealed.head)
    command = "openssl pkeyutl -verify -pubin -inkey key.pem -rawin -in head.txt -sigfile head.sig"
    assert subprocess.run(command.split(), cwd=place, capture_output=True).returncode == 0
    (place / "other.txt").write_text(checkpoint_text(replace(sealed.head, size=RECORDS - 1)))
    assert subprocess.run(command.replace("head.txt", "other.txt").split(), cwd=place, capture_output=True).returncode == 1


def test_a_rolled_back_ledger_is_neither_signed_nor_written_to(sqlite_workspace: Path, folder: Path, quick_path: Path) -> None:
    with still_desk(sqlite_workspace) as desk:
        early = take_in(desk, folder).head
    old = shutil.copy(sqlite_workspace / "record.sqlite", quick_path / "old.sqlite")
    with still_desk(sqlite_workspace, 500) as desk:
        one_event(desk, "towed")
        late = seal_head(desk, early.head.ledger)
    assert late.signed
    shutil.copy(old, sqlite_workspace / "record.sqlite")
    with still_desk(sqlite_workspace, 900) as desk:
        with pytest.raises(HeadsContradict) as err:
            seal_head(desk, early.head.ledger)
        assert f"rolled back from {late.head.size} to {early.head.size} entries" in err.value.message
        assert line_of(early.head) in err.value.message
        assert line_of(late.head) in err.value.message
        with pytest.raises(HeadsContradict):
            take_in(desk, folder)
        one_event(desk, "another story")
        one_event(desk, "and its end")
        with pytest.raises(HeadsContradict, match=f"two histories at {late.head.size} entries") as two:
            seal_head(desk, early.head.ledger)
    assert str(line_of(late.head)) in two.value.message
    assert two.value.message.count(ORIGIN) == 2
    (other,) = (sqlite_workspace / "checkpoints" / early.head.ledger / str(late.head.size)).glob("other-*.txt")
    assert line_of(read_checkpoint(other.read_text())) in two.value.message  # kept as evidence beside the first
    kept = sorted(p.name for p in (sqlite_workspace / "checkpoints" / early.head.ledger).iterdir())
    assert kept == sorted([str(early.head.size), str(late.head.size)])


def test_keys_open_to_others_sign_nothing_and_the_intake_stands(sqlite_workspace: Path, folder: Path) -> None:
    KeyFile(sqlite_workspace / "keys").public()
    (sqlite_workspace / "keys" / "shop.key").chmod(0o644)
    with still_desk(sqlite_workspace) as desk:
        result = take_in(desk, folder)
        assert len(result.recorded) > 3
        assert not result.head.signed
        assert "others on this machine can read or change it (permissions 644)" in result.head.problem
        assert "chmod 600" in result.head.problem
        (sqlite_workspace / "keys" / "shop.key").chmod(0o600)
        (sqlite_workspace / "keys").chmod(0o755)
        assert "chmod 700" in seal_head(desk, result.ledger).problem
        (sqlite_workspace / "keys").chmod(0o700)
        assert seal_head(desk, result.ledger).signed


def test_no_room_for_the_signed_head_is_unfinished_work(desk: Desk, folder: Path) -> None:
    class FullShelf(MemoryShelf):
        def keep(self, head: Head, files: object) -> None:
            raise NoRoom("the disk is full, the signed head could not be kept", advice="Make room.")

    with pytest.raises(HeadBehind, match="the entries are recorded, but not their signed head: the disk is full"):
        take_in(replace(desk, shelf=FullShelf()), folder)
    again = take_in(replace(desk, shelf=MemoryShelf()), folder)
    assert again.recorded == ()
    assert again.head.signed


def test_a_kept_head_that_was_changed_is_no_ground_to_sign_on(sqlite_workspace: Path, folder: Path) -> None:
    with still_desk(sqlite_workspace) as desk:
        sealed = take_in(desk, folder).head
        text = sqlite_workspace / "checkpoints" / sealed.head.ledger / str(RECORDS) / "head.txt"
        text.chmod(0o600)
        text.write_text(text.read_text().replace(f"\n{RECORDS}\n", "\n1\n"))
        with pytest.raises(StoreDamaged, match="is not the head that was kept here"):
            seal_head(desk, sealed.head.ledger)

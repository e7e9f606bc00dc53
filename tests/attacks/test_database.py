"""Damage to the database's own files (fault matrix, rows 7 and 8): a flipped bit, a damaged or cut log, an older copy.

The database notices little of it by itself; the record is computed anew from its entries and held against the head
file, so nothing that is signed changes unseen. What is no part of the record (lists, the text index, free space) may be
damaged without a word from the hashes; the lists are compared with the entries, and made anew from them.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections import Counter
from pathlib import Path

import pytest
from evidence.errors import EvidenceError
from evidence.record.merkle import Frontier
from evidence.usecases.recheck import _check_state, recheck
from evidence.usecases.record import open_dossier, record_one

from conftest import still_desk
from fakes import quiet

Entries = list[tuple[bytes, bytes | None]]
EVENTS = 60


def _fill(workspace: Path, count: int) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "Van", "name": "van"})
        for number in range(count):
            record_one(desk, "van", "event", {"what": "tow", "text": f"towed, {number}", "time": "2026-03-01", "basis": "told"})


def _judged(workspace: Path) -> tuple[str, Entries]:
    """What the recheck says (an empty text: sound), and the entries as they can be read."""
    try:
        with still_desk(workspace) as desk:
            result = recheck(desk, None, quiet, mend=False)
            said = "; ".join(str(f) for f in (*result.faults, *(f for v in result.ledgers for f in v.faults)))
            with desk.ledgers.reading() as view:
                found = [(e.header, e.content) for ledger in view.ledgers() for e in view.entries(ledger)]
    except EvidenceError as err:
        return f"refused: {err}", []
    return said, found


@pytest.fixture(scope="module")
def filled(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Entries]:
    workspace = shutil.copytree(sqlite_template, tmp_path_factory.mktemp("filled") / "workspace")
    _fill(workspace, EVENTS)
    with sqlite3.connect(workspace / "record.sqlite") as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    said, entries = _judged(workspace)
    assert said == ""
    assert len(entries) == EVENTS + 2
    return workspace, entries


def _flip(filled: tuple[Path, Entries], home: Path, places: int, seed: int) -> Counter[str]:
    """Flip one bit at each place, half of them inside the pages that hold entries; nothing signed may change unseen."""
    source, entries = filled
    whole = (source / "record.sqlite").read_bytes()
    signed = [at for header, content in entries for part in (header, content or b"") if (at := whole.find(part[:120])) >= 0]
    assert len(signed) > EVENTS
    chance = random.Random(seed)
    found: Counter[str] = Counter()
    for number in range(places):
        at = chance.randrange(len(whole)) if number % 2 else chance.choice(signed) + chance.randrange(120)
        bit = 1 << chance.randrange(8)
        workspace = shutil.copytree(source, home / "flipped")
        damaged = bytearray(whole)
        damaged[at] ^= bit
        (workspace / "record.sqlite").write_bytes(damaged)
        said, now = _judged(workspace)
        shutil.rmtree(workspace)
        assert said or now == entries, f"seed {seed}: byte {at}, bit {bit} changed what is signed and nothing was said"
        found["told" if said else "nothing of the record"] += 1
    return found


def test_no_flipped_bit_changes_the_record_unseen(filled: tuple[Path, Entries], quick_path: Path) -> None:
    found = _flip(filled, quick_path, 40, 7)
    assert found["told"] >= 20, found


@pytest.mark.campaign
@pytest.mark.parametrize(("places", "seed"), [(600, 71), (2500, 72)])
def test_no_flipped_bit_of_very_many_does(filled: tuple[Path, Entries], quick_path: Path, places: int, seed: int) -> None:
    found = _flip(filled, quick_path, places, seed)
    print(f"\n{places} single bits in the database: {dict(found)}")
    assert found["told"] >= places // 2, found


@pytest.mark.parametrize("what", [b"CREATE TABLE", b"CREATE INDEX", b"CREATE UNIQUE INDEX"])
def test_a_schema_that_is_no_text_is_a_damaged_database(filled: tuple[Path, Entries], quick_path: Path, what: bytes) -> None:
    """Found by flipping single bits: SQLite quotes the broken word in its message, and the driver cannot read that."""
    workspace = shutil.copytree(filled[0], quick_path / "damaged")
    whole = bytearray((workspace / "record.sqlite").read_bytes())
    at = whole.find(what) + what.index(b" ") - 2
    whole[at] = 0xC2
    (workspace / "record.sqlite").write_bytes(whole)
    said, _ = _judged(workspace)
    assert "the database file is damaged" in said


def test_a_ledger_that_only_an_index_names_is_a_fault(filled: tuple[Path, Entries]) -> None:
    """Found by flipping single bits: an index that names a ledger of which there is no entry."""
    with still_desk(filled[0]) as desk, desk.ledgers.reading() as view:
        assert [f.check for f in _check_state(view, "x" * 26, [], Frontier())] == ["P1"]


@pytest.mark.parametrize("deed", ["damaged", "cut", "gone"])
def test_a_log_that_lost_acknowledged_entries_is_rolled_back_from_n_to_m(sqlite_workspace: Path, quick_path: Path, deed: str) -> None:
    """Row 8: the write-ahead log with the newest transactions is damaged, cut or taken away; the database says it is well."""
    with sqlite3.connect(sqlite_workspace / "record.sqlite") as held:  # an open reader keeps the log from being emptied
        held.execute("SELECT count(*) FROM entries").fetchone()
        _fill(sqlite_workspace, EVENTS)
        copy = shutil.copytree(sqlite_workspace, quick_path / "copy")
    held.close()
    assert _judged(shutil.copytree(copy, quick_path / "sound"))[0] == ""
    log = copy / "record.sqlite-wal"
    data = bytearray(log.read_bytes())
    assert len(data) > 100_000
    middle = len(data) // 2
    if deed == "damaged":
        data[middle : middle + 64] = bytes(b ^ 0x55 for b in data[middle : middle + 64])
    (copy / "record.sqlite-shm").unlink(missing_ok=True)
    log.write_bytes(b"" if deed == "gone" else bytes(data[:middle]) if deed == "cut" else bytes(data))
    said, entries = _judged(copy)
    assert len(entries) < EVENTS + 2
    assert f"rolled back: {EVENTS + 2} entries were acknowledged, " in said
    assert (f"{len(entries)} are there" if entries else "the ledger is gone") in said
    with sqlite3.connect(copy / "record.sqlite") as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()

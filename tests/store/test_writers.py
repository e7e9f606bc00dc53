"""More than one process at a time (fault matrix, row 19): serial numbers, nothing lost, waiting in words."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from evidence.bootstrap import _url
from evidence.capture.sources import open_handed
from evidence.errors import Busy, ChangedMeanwhile, EvidenceError
from evidence.ports import Known, Reader
from evidence.store import database
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, open_dossier, record_one

from conftest import still_desk
from fakes import MemoryOriginals, quiet
from samples import FILES, RECORDS, TEXT, small_folder

EVENT = {"what": "tow", "time": "2026-03-01", "basis": "told"}


def events_in(view: Reader, ledger: str) -> list[Known]:
    """Events by their numbers, until one is missing."""
    found: list[Known] = []
    while event := view.named(ledger, f"event {len(found) + 1}"):
        found.append(event)
    return found


def in_processes(*works: Callable[[], None]) -> list[int]:
    """Run each in a process of its own, all started together; exit codes (99: not an error in words)."""
    start, go = os.pipe()
    children = []
    for work in works:
        child = os.fork()
        if not child:
            code = 99
            try:
                os.close(go)
                os.read(start, 1)
                work()
                code = 0
            except EvidenceError as err:
                code = int(err.exit_code)
            except BaseException:  # noqa: BLE001 - shown in the test's output
                import traceback

                traceback.print_exc()
            finally:
                os._exit(code)
        children.append(child)
    os.close(start)
    os.close(go)  # all of them read the end of the pipe at once
    return [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]


@pytest.mark.parametrize("processes", [2, 8])
def test_processes_in_one_dossier_lose_nothing(workspace: Path, processes: int) -> None:
    each = 50 // processes
    everybody = range(1, processes + 1)
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})

    def write(who: int) -> Callable[[], None]:
        def work() -> None:
            with still_desk(workspace, 1000 * who) as desk:
                for number in range(each):
                    record_one(desk, "van", "event", {**EVENT, "text": f"process {who}, event {number}"})

        return work

    assert in_processes(*map(write, everybody)) == [0] * processes
    with still_desk(workspace) as desk:
        assert recheck(desk, None, quiet).sound
        assert recheck(desk, None, quiet).ledgers[0].head == "agrees with its newest head line"
        with desk.ledgers.reading() as view:
            (ledger,) = view.ledgers()
            events = events_in(view, ledger)
    assert [e.number for e in events] == list(range(1, processes * each + 1))
    assert [e.seq for e in events] == list(range(3, processes * each + 3))  # after recorder and opening: serial, no gap
    for who in everybody:
        own = [e.summary for e in events if e.summary.startswith(f"process {who},")]
        assert own == [f"process {who}, event {n}" for n in range(each)]


def test_two_processes_take_in_the_same_new_folder(workspace: Path, tmp_path: Path) -> None:
    """One of them records it; the other finds it recorded. One dossier, one file for each exhibit."""
    folder = small_folder(tmp_path / "folder")

    def work(who: int) -> Callable[[], None]:
        def take() -> None:
            with still_desk(workspace, 1000 * who) as desk:
                intake_folder(desk, open_handed(folder), Answers(), quiet)

        return take

    assert in_processes(work(1), work(2), work(3)) == [0, 0, 0]
    with still_desk(workspace) as desk:
        result = recheck(desk, None, quiet)
        assert result.sound
        assert [(v.entries, v.files) for v in result.ledgers] == [(RECORDS, len(FILES))]
    assert sum(f.is_file() for f in (workspace / "originals").rglob("*")) == len(FILES)


def test_two_processes_take_in_the_same_file_into_two_dossiers(workspace: Path, tmp_path: Path) -> None:
    folders = [small_folder(tmp_path / n, TEXT.replace("dossier: van", f"dossier: {n}")) for n in ("van-1", "van-2")]

    def work(who: int) -> Callable[[], None]:
        def take() -> None:
            with still_desk(workspace, 1000 * who) as desk:
                intake_folder(desk, open_handed(folders[who - 1]), Answers(), quiet)

        return take

    assert in_processes(work(1), work(2)) == [0, 0]
    with still_desk(workspace) as desk:
        result = recheck(desk, None, quiet)
        assert result.sound
        assert sorted(v.entries for v in result.ledgers) == [RECORDS, RECORDS]
    assert sum(f.is_file() for f in (workspace / "originals").rglob("*")) == len(FILES)


def test_a_name_taken_between_comparing_and_writing_starts_the_intake_over(workspace: Path, tmp_path: Path) -> None:
    """The other process is let in at the moment when the files are stored and nothing is written yet."""
    folder = small_folder(tmp_path / "folder")
    with still_desk(workspace) as first, still_desk(workspace, 1000) as second:

        class Interrupted(MemoryOriginals):
            def take(self, *args, **kwargs):  # type: ignore[no-untyped-def]
                if not self.files:
                    intake_folder(second, open_handed(folder), Answers(), quiet)
                return super().take(*args, **kwargs)

        from dataclasses import replace

        result = intake_folder(replace(first, originals=Interrupted()), open_handed(folder), Answers(), quiet)
        assert (result.recorded, result.amended, result.unchanged) == ((), (), RECORDS - 1)
        with first.ledgers.reading() as view:
            assert len(view.ledgers()) == 1


def test_a_record_amended_by_two_is_amended_by_one(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        record_one(desk, "van", "event", {**EVENT, "text": "first", "name": "tow"})
        with desk.ledgers.reading() as view:
            stale = view.named(view.ledgers()[0], "tow")
        assert stale
        amend_one(desk, "van", "tow", {"text": "second"}, "misheard")
        from evidence.model.happening import Event
        from evidence.usecases.pen import Pen

        with desk.ledgers.writing() as work:
            pen = Pen(desk, work, stale.ledger, recorded_by="0" * 32, via="test")
            with pytest.raises(ChangedMeanwhile, match="first: changed meanwhile by another entry"):
                pen.amend(stale, Event.handed_in({**EVENT, "text": "third"}, {}), "also misheard")


def _hold(workspace: Path, seconds: float) -> threading.Thread:
    """Hold the database's write lock for a while, as another program would."""
    held = threading.Event()

    def hold() -> None:
        url = _url(workspace)
        engine = sa.create_engine(url)
        with engine.connect() as db:
            if url.startswith("sqlite"):
                db.connection.driver_connection.isolation_level = None  # type: ignore[union-attr]
                db.exec_driver_sql("BEGIN IMMEDIATE")
            else:
                db.execute(sa.text("SELECT ledger FROM ledgers FOR UPDATE"))
            held.set()
            time.sleep(seconds)
            db.rollback()
        engine.dispose()

    thread = threading.Thread(target=hold)
    thread.start()
    held.wait(5)
    return thread


def test_a_waiting_writer_succeeds_when_the_other_is_done(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        thread = _hold(workspace, 0.4)
        assert record_one(desk, "van", "event", {**EVENT, "text": "waited"}).label == "Event 1"
        assert not thread.is_alive() or thread.join(5) is None


def test_a_writer_that_waits_too_long_says_busy_and_records_nothing(workspace: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
    monkeypatch.setattr(database, "WAIT_SECONDS", 0.2)
    with still_desk(workspace, 1000) as desk:
        thread = _hold(workspace, 1.5)
        began = time.monotonic()
        with pytest.raises(Busy, match=r"another program has held the database for more than 0.2 s") as err:
            record_one(desk, "van", "event", {**EVENT, "text": "too long"})
        assert 0.15 < time.monotonic() - began < 1.4
        assert "nothing was recorded" in err.value.advice
        with desk.ledgers.reading() as view:  # readers never wait
            assert events_in(view, view.ledgers()[0]) == []
        thread.join()
        assert record_one(desk, "van", "event", {**EVENT, "text": "now"}).label == "Event 1"


def test_a_reader_sees_one_state_from_beginning_to_end(workspace: Path) -> None:
    with still_desk(workspace) as desk, still_desk(workspace, 1000) as other:
        open_dossier(desk, {"title": "A van", "name": "van"})
        with desk.ledgers.reading() as view:
            (ledger,) = view.ledgers()
            before = list(view.entries(ledger))
            record_one(other, "van", "event", {**EVENT, "text": "meanwhile"})
            assert list(view.entries(ledger)) == before
            assert view.batches(ledger) == [1]
            assert events_in(view, ledger) == []
            assert view.search("meanwhile", None) == []
        with desk.ledgers.reading() as view:
            assert len(list(view.entries(ledger))) == len(before) + 1


def test_a_recheck_judges_the_state_it_began_with(workspace: Path, tmp_path: Path) -> None:
    """Fault matrix, row 20: another process records and signs while the files are read. That is no rolling back."""
    with still_desk(workspace) as desk, still_desk(workspace, 1000) as other:
        intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet)
        done: list[str] = []

        def meanwhile(*_progress: object) -> None:
            if not done:
                done.append(record_one(other, "van", "event", {**EVENT, "text": "one"}).label)
                done.append(record_one(other, "van", "event", {**EVENT, "text": "another"}).label)
                with other.ledgers.reading() as view:
                    assert seal_head(other, view.ledgers()[0]).signed

        result = recheck(desk, None, meanwhile)
        assert done == ["Event 1", "Event 2"]
        assert (result.sound, [(v.entries, v.head) for v in result.ledgers]) == (True, [(RECORDS, "agrees with its newest head line")])
        assert [v.entries for v in recheck(desk, None, quiet).ledgers] == [RECORDS + 3]  # the two, and who recorded them


@pytest.mark.parametrize("moment", [1, 2])
def test_transactions_of_others_as_the_recheck_begins_are_no_fault(workspace: Path, monkeypatch: pytest.MonkeyPatch, moment: int) -> None:
    """Between the first reading of the head lines and that of the entries (then they would look like an old head file), and
    before the second (then like a rolled back ledger)."""
    with still_desk(workspace) as desk, still_desk(workspace, 1000) as other:
        open_dossier(desk, {"title": "A van", "name": "van"})
        heads, asked = desk.ledgers.heads, []

        def and_others_write() -> object:
            asked.append(heads())
            if len(asked) == moment:
                for text in ("one", "two", "three"):
                    record_one(other, "van", "event", {**EVENT, "text": text})
            return asked[-1] if moment == 1 else heads()

        monkeypatch.setattr(desk.ledgers, "heads", and_others_write)
        result = recheck(desk, None, quiet)
        assert len(asked) == 2
        assert (result.sound, result.ledgers[0].head) == (True, "agrees with its newest head line")


def test_a_transaction_that_is_not_committed_leaves_nothing(workspace: Path) -> None:
    from evidence.model.happening import Event
    from evidence.usecases.pen import Pen

    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        with desk.ledgers.reading() as view:
            (ledger,) = view.ledgers()
        heads = (workspace / "heads.log").read_bytes()
        with desk.ledgers.writing() as work:
            pen = Pen(desk, work, ledger, recorded_by="0" * 32, via="test")
            pen.record(Event.handed_in({**EVENT, "text": "never"}, {}), desk.ids.subject())
            pen.put_down()

        def fail_on_the_way() -> None:
            with desk.ledgers.writing() as work:
                pen = Pen(desk, work, ledger, recorded_by="0" * 32, via="test")
                pen.record(Event.handed_in({**EVENT, "text": "never"}, {}), desk.ids.subject())
                pen.put_down()
                raise RuntimeError("on the way")

        with pytest.raises(RuntimeError, match="on the way"):
            fail_on_the_way()
        with desk.ledgers.reading() as view:
            assert len(list(view.entries(ledger))) == 2
            assert view.search("never", None) == []
        assert (workspace / "heads.log").read_bytes() == heads


def test_the_embedded_database_has_one_writer_and_flushes_everything(sqlite_workspace: Path) -> None:
    engine = database.open_engine(_url(sqlite_workspace))
    with engine.connect() as db:
        found = [db.exec_driver_sql(f"PRAGMA {p}").scalar() for p in ("journal_mode", "synchronous", "foreign_keys")]
    engine.dispose()
    assert found == ["wal", 2, 1]  # 2: FULL
    assert sqlite3.sqlite_version_info >= (3, 37)

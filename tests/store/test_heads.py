"""The database against the head file: every row of the table of verdicts, on both databases."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa
from evidence.bootstrap import _url
from evidence.ports import Desk, Known
from evidence.record.canonical import canonical, parse, sha256
from evidence.record.entry import NO_ENTRY
from evidence.record.merkle import leaf_hash
from evidence.store import database
from evidence.usecases.recheck import RecheckResult, recheck
from evidence.usecases.record import amend_one, open_dossier, record_one, withdraw_one

from conftest import still_desk
from fakes import quiet

EVENT = {"what": "tow", "time": "2026-03-01", "basis": "told"}
BEHIND = "one transaction behind the database (a crash before the flush); the line is moved up"


def write(workspace: Path, first_id: int, *texts: str) -> None:
    with still_desk(workspace, first_id) as desk:
        for text in texts:
            record_one(desk, "van", "event", {**EVENT, "text": text})


@pytest.fixture
def started(workspace: Path) -> Path:
    """A dossier of two entries by one transaction, then three more, each by its own."""
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
    write(workspace, 1000, "one", "two", "three")
    return workspace


def checked(workspace: Path) -> RecheckResult:
    with still_desk(workspace, 5000) as desk:
        return recheck(desk, None, quiet)


def said(result: RecheckResult) -> list[str]:
    return [str(f) for f in (*(f for v in result.ledgers for f in v.faults), *result.faults)]


def events_in(desk: Desk) -> list[Known]:
    with desk.ledgers.reading() as view:
        found = [view.named(view.ledgers()[0], f"event {n}") for n in range(1, 10)]
        return [event for event in found if event]


def edit(workspace: Path, *statements: str, **values: object) -> None:
    """What somebody with the database's password, or a faulty disk, could do: the triggers are in his way no longer."""
    engine = database.open_engine(_url(workspace))
    with engine.begin() as db:
        if db.dialect.name == "sqlite":
            for name in ("update", "delete", "replace"):
                db.exec_driver_sql(f"DROP TRIGGER IF EXISTS entries_refuse_{name}")
        else:
            db.exec_driver_sql("DROP TRIGGER IF EXISTS entries_refuse ON entries")
        for statement in statements:
            db.execute(sa.text(statement), values if ":" in statement else {})
    engine.dispose()


def roll_back(workspace: Path, kept: int) -> None:
    """Put the database back to its first ``kept`` entries, lists and all, as a restored older copy is."""
    edit(workspace, f"DELETE FROM entries WHERE seq > {kept}")
    with still_desk(workspace) as desk:
        desk.ledgers.rebuild()


def test_a_sound_workspace(started: Path) -> None:
    result = checked(started)
    assert said(result) == []
    unsigned = ("the newest 5 entries are under no signed head yet; 'evidence heads sign' makes one",)
    assert [(v.title, v.entries, v.head, v.remarks) for v in result.ledgers] == [("A van", 5, "agrees with its newest head line", unsigned)]
    assert result.remarks == ()


def test_one_transaction_ahead_of_the_head_line_is_moved_up_and_told(started: Path) -> None:
    heads = started / "heads.log"
    lines = heads.read_text().splitlines(keepends=True)
    assert len(lines) == 4
    heads.write_text("".join(lines[:-1]))
    with still_desk(started) as desk:
        first = recheck(desk, None, quiet, mend=False)
    assert (said(first), first.ledgers[0].head) == ([], BEHIND)
    assert heads.read_text() == "".join(lines[:-1])  # nothing is mended unasked
    assert (said(checked(started)), heads.read_text()) == ([], "".join(lines))
    assert checked(started).ledgers[0].head == "agrees with its newest head line"


def test_more_than_one_transaction_ahead_is_an_old_head_file(started: Path) -> None:
    heads = started / "heads.log"
    lines = heads.read_text().splitlines(keepends=True)
    heads.write_text("".join(lines[:2]))
    ledger = checked(started).ledgers[0].ledger[:8]
    assert said(checked(started)) == [f"H3 ledger {ledger}: head file is old: it is 2 transactions behind"]
    assert heads.read_text() == "".join(lines[:2])


def test_a_database_put_back_is_rolled_back_from_n_to_m(started: Path) -> None:
    roll_back(started, 3)
    result = checked(started)
    ledger = result.ledgers[0].ledger[:8]
    assert said(result) == [f"H1 ledger {ledger}: rolled back: 5 entries were acknowledged, 3 are there"]
    assert result.ledgers[0].head == "rolled back from 5 to 3"
    write(started, 6000, "after", "and again")  # as many entries again, but others
    result = checked(started)
    assert result.ledgers[0].head == "two histories"
    assert [f.split(":")[0] for f in said(result)] == [f"H2 ledger {ledger}"]


def test_a_ledger_that_is_gone_altogether_is_missed(started: Path) -> None:
    ledger = checked(started).ledgers[0].ledger[:8]
    roll_back(started, 0)
    edit(started, "DELETE FROM ledgers", "DELETE FROM dossiers", "DELETE FROM records")
    assert said(checked(started)) == [f"H1 ledger {ledger}: rolled back: 5 entries were acknowledged, the ledger is gone"]


def _forge(workspace: Path, at: int) -> None:
    """Change one entry and compute everything after it anew, as a careful forger would."""
    engine = database.open_engine(_url(workspace))
    with engine.connect() as db:
        rows = db.execute(sa.text("SELECT seq, header, content FROM entries ORDER BY seq")).all()
    engine.dispose()
    previous = NO_ENTRY
    for seq, header, content in rows:
        raw, content = parse(bytes(header)), bytes(content)
        if seq == at:
            inner = parse(content)
            content = canonical({**inner, "body": {**inner["body"], "text": "forged"}})
        raw |= {"content": sha256(content), "previous": previous}
        header = canonical(raw)
        previous = leaf_hash(header).hex()
        edit(workspace, f"UPDATE entries SET header = :header, content = :content WHERE seq = {seq}", header=header, content=content)
    with still_desk(workspace) as desk:
        desk.ledgers.rebuild()


def test_a_ledger_chained_anew_is_two_histories_with_both_printed(started: Path) -> None:
    before = checked(started).ledgers[0]
    _forge(started, 4)
    after = checked(started).ledgers[0]
    assert said(checked(started)) == [
        f"H2 ledger {after.ledger[:8]}: two histories at 4 entries: head line {_root(started, 4)}…, database {_computed(started, 4)}…"
    ]
    assert before.root != after.root
    assert after.head == "two histories"


def _root(workspace: Path, size: int) -> str:
    from evidence.store.heads_file import HeadsFile

    return next(h.root.hex()[:16] for h in HeadsFile(workspace / "heads.log").lines() if h and h.size == size)


def _computed(workspace: Path, size: int) -> str:
    from evidence.record.merkle import root_of

    with still_desk(workspace) as desk, desk.ledgers.reading() as view:
        return root_of(e.leaf for e in list(view.entries(view.ledgers()[0]))[:size]).hex()[:16]


def test_no_head_file_is_no_head_on_record(started: Path) -> None:
    (started / "heads.log").unlink()
    ledger = checked(started).ledgers[0]
    assert ledger.head == "no head on record"
    assert said(checked(started)) == [f"H3 ledger {ledger.ledger[:8]}: has entries and no head line"]


def test_a_first_transaction_without_its_head_line_is_a_crash_and_not_an_attack(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
    (workspace / "heads.log").write_bytes(b"")
    assert [v.head for v in checked(workspace).ledgers] == [BEHIND]
    (workspace / "heads.log").unlink()
    assert [v.head for v in checked(workspace).ledgers] == ["no head on record"]


def test_a_torn_head_line_is_told_and_passed_over(started: Path) -> None:
    heads = started / "heads.log"
    whole = heads.read_bytes()
    heads.write_bytes(whole[:-30])
    result = checked(started)
    assert said(result) == []
    assert result.ledgers[0].head == BEHIND
    assert result.remarks == ("1 torn line in the head file (a crash in the middle of it)",)
    again = checked(started)
    assert again.ledgers[0].head == "agrees with its newest head line"
    assert heads.read_bytes().startswith(whole[:-30] + b"\n")
    write(started, 6000, "after")
    assert checked(started).ledgers[0].head == "agrees with its newest head line"


def test_garbage_in_the_head_file_is_no_head(started: Path) -> None:
    heads = started / "heads.log"
    heads.write_bytes(b"\xff\xfe\x00 garbage \n\n\r\n" + heads.read_bytes() + b"evidence-ledger/x 1 AA== 0000000000000000\n")
    result = checked(started)
    assert said(result) == []
    assert result.remarks == ("2 torn lines in the head file (a crash in the middle of it)",)


@pytest.mark.parametrize(
    ("statements", "checks"),
    [
        (["UPDATE entries SET content = :other WHERE seq = 4"], {"R4 entry 4"}),
        (["DELETE FROM entries WHERE seq = 3"], {"R2 entry 3", "R3 entry 3"}),
        (["UPDATE entries SET seq = 90 WHERE seq = 3", "UPDATE entries SET seq = 3 WHERE seq = 4", "UPDATE entries SET seq = 4 WHERE seq = 90"],
         {"R2 entry 3", "R2 entry 4", "R3 entry 3", "R3 entry 4", "R3 entry 5"}),
        (["UPDATE entries SET header = :other WHERE seq = 2"], {"R1 entry 2", "R3 entry 3"}),
        (["INSERT INTO entries SELECT ledger, 6, header, content, 6 FROM entries WHERE seq = 5"], {"R2 entry 6", "R3 entry 6", "R6 entry 6"}),
    ],
    ids=["content", "dropped", "swapped", "header", "duplicated"],
)  # fmt: skip
def test_what_is_done_to_entries_is_found_where_it_was_done(started: Path, statements: list[str], checks: set[str]) -> None:
    edit(started, *statements, other=b'{"body":{"text":"other"},"salt":"0","via":"x"}')
    found = {line.split(":")[0] for line in said(checked(started))}
    assert checks <= found


def test_what_rests_on_a_withdrawn_record_is_remarked(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        record_one(desk, "van", "exhibit", {"form": "physical", "description": "an eyelet", "name": "bag"})
        record_one(desk, "van", "event", {**EVENT, "text": "found", "exhibits": ["bag"]})
        entered = withdraw_one(desk, "van", "bag", "not ours")
    assert entered.notes == ("rests on it: Event 1",)
    assert [v.remarks[0] for v in checked(workspace).ledgers] == ["Event 1 rests on Exhibit 1, which is withdrawn"]


def test_files_that_an_amended_exhibit_named_before_are_still_checked(sqlite_workspace: Path, tmp_path: Path) -> None:
    """An amendment replaces nothing: the earlier file is evidence of what was there."""
    from evidence.capture.sources import open_handed
    from evidence.usecases.intake import Answers, intake_folder

    from samples import TEXT, small_folder

    folder = small_folder(tmp_path / "folder")
    with still_desk(sqlite_workspace) as desk:
        intake_folder(desk, open_handed(folder), Answers(), quiet)
        old = sha256((folder / "invoice.pdf").read_bytes())
        (folder / "invoice.pdf").write_bytes(b"a better scan")
        intake_folder(desk, open_handed(folder), Answers(reason="scanned again"), quiet)
        result = recheck(desk, None, quiet)
        assert (said(result), result.remarks, result.ledgers[0].files) == ([], (), 4)
        (sqlite_workspace / "originals" / old[:2] / old).unlink()
        assert said(recheck(desk, None, quiet)) == ["F1 Exhibit 3 (before it was amended): missing"]
        assert "invoice" in TEXT


def test_a_damaged_list_of_ledgers_does_not_start_a_wrong_chain(started: Path) -> None:
    """The next entry continues the entries themselves, whatever the lists say."""
    from evidence.errors import StoreDamaged

    edit(started, "UPDATE ledgers SET last_leaf = :leaf", leaf="ab" * 32)
    with pytest.raises(StoreDamaged, match="the lists do not agree with the entries") as err:
        write(started, 6000, "after")
    assert "--rebuild" in err.value.advice
    assert checked(started).ledgers[0].entries == 5
    with still_desk(started) as desk:
        desk.ledgers.rebuild()
    write(started, 6000, "after")
    assert said(checked(started)) == []


@pytest.mark.parametrize("column", ["size = size + 1", "size = size - 1", "frontier = :wrong", "last_leaf = 'ff'"])
def test_a_wrong_state_of_a_ledger_is_a_fault_of_the_lists(started: Path, column: str) -> None:
    edit(started, f"UPDATE ledgers SET {column}" + (" WHERE size > :least" if ":" not in column else ""), wrong=b"\0" * 64, least=0)
    found = said(checked(started))
    assert found == ["P1 ledger state: the list does not agree with the entries; 'evidence workspace --rebuild' makes it anew"]


def test_the_clock_may_go_back_and_the_order_stays(workspace: Path) -> None:
    from dataclasses import replace

    from fakes import FixedClock

    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
        early = replace(desk, clock=FixedClock(dt.datetime(2020, 1, 1, tzinfo=dt.UTC)))
        record_one(early, "van", "event", {**EVENT, "text": "recorded by a wrong clock"})
        amend_one(desk, "van", "event 1", {"text": "recorded by a right clock"}, "clock")
        now = desk.clock.now()
        for back in (1, 2, 90 * 60):
            now -= dt.timedelta(seconds=back)
            record_one(replace(desk, clock=FixedClock(now)), "van", "event", {**EVENT, "text": f"{back} seconds earlier"})
        assert [k.summary for k in events_in(desk)] == ["recorded by a right clock", *(f"{n} seconds earlier" for n in (1, 2, 5400))]
    result = checked(workspace)
    assert said(result) == []
    told = [r for r in result.ledgers[0].remarks if "clock" in r]
    assert [r.partition(";")[0] for r in told] == [
        f"the recorder's clock went back by {by} before entry {seq}"
        for by, seq in (("2252 days", 3), ("2 seconds", 6), ("90 minutes", 7))
    ]


def test_another_copy_of_the_workspace_has_the_same_verdict(sqlite_workspace: Path, tmp_path: Path) -> None:
    with still_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "A van", "name": "van"})
    copy = shutil.copytree(sqlite_workspace, tmp_path / "elsewhere")
    assert checked(copy).ledgers == checked(sqlite_workspace).ledgers

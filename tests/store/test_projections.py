"""Lists are projections: made anew from the entries they equal those that grew with them, on both databases."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from evidence.bootstrap import _url
from evidence.capture.sources import open_handed
from evidence.errors import EvidenceError
from evidence.ports import Desk, Reader
from evidence.record.merkle import root_of
from evidence.record.proofs import consistency, continues, includes, inclusion, nodes_of
from evidence.store import database
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, open_dossier, record_one, withdraw_one
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conftest import Cluster, still_desk
from fakes import quiet
from samples import small_folder

TABLES = ("ledgers", "dossiers", "records", "files", "branches")


def listed(workspace: Path) -> dict[str, list[Any]]:
    engine = database.open_engine(_url(workspace))
    with engine.connect() as db:
        found = {t: sorted(map(tuple, db.execute(sa.text(f"SELECT * FROM {t}")).all())) for t in TABLES}
        places = (("rowid", "search"), ('"row"', "search_new")) if db.dialect.name == "sqlite" else (("row", "search"),)
        words = (db.execute(sa.text(f"SELECT {key}, ledger, subject, words FROM {place}")).all() for key, place in places)
        found["search"] = sorted(tuple(row) for rows in words for row in rows)
    engine.dispose()
    return found


KINDS = ["event", "party", "vehicle", "exhibit"]
FIELDS: dict[str, dict[str, Any]] = {
    "event": {"what": "tow", "text": "towed away", "time": "2026-03-01", "basis": "told"},
    "party": {"full_name": "Somebody", "roles": ["owner"]},
    "vehicle": {"description": "a van"},
    "exhibit": {"form": "physical", "description": "an eyelet in a bag"},
}
CHANGES = {
    "event": {"text": "pushed away"},
    "party": {"full_name": "Somebody else", "firm": "A firm"},
    "vehicle": {"plate": "11-BB-11"},
    "exhibit": {"description": "two eyelets", "serial": "7"},
    "dossier": {"title": "Another title", "complaint": "it clicks"},
}
deeds = st.lists(
    st.tuples(st.sampled_from(["record", "record", "amend", "withdraw"]), st.sampled_from([*KINDS, "dossier"]), st.integers(1, 4),
              st.booleans()),
    max_size=12,
)  # fmt: skip


def do(desk: Desk, wanted: list[tuple[str, str, int, bool]]) -> int:
    """Do what can be done of ``wanted``; what is refused changes nothing. Returns how much was done."""
    done = 0
    for action, kind, number, named in wanted:
        try:
            if action == "record" and kind != "dossier":
                name = {"name": f"{kind}-{number}"} if named else {}
                record_one(desk, "van", kind, {**FIELDS[kind], **name})
            elif action == "amend":
                amend_one(desk, "van", f"{kind} {number}", {**CHANGES[kind], **({"name": f"new-{number}"} if named and kind != "dossier" else {})}, "misread")
            elif action == "withdraw":
                withdraw_one(desk, "van", f"{kind} {number}", "not ours")
            done += 1
        except EvidenceError:
            continue
    return done


def _holds(template: Path, url: str, wanted: list[tuple[str, str, int, bool]]) -> None:
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as made:
        workspace = shutil.copytree(template, Path(made) / "workspace", ignore=shutil.ignore_patterns("[0-9a-f][0-9a-f]"))
        if url:
            (workspace / "settings.toml").write_text((workspace / "settings.toml").read_text() + f'\ndatabase = "{url}"\n')
        with still_desk(workspace) as desk:
            open_dossier(desk, {"title": "A van", "name": "van", "zone": "Europe/Lisbon"})
            do(desk, wanted)
            grown = listed(workspace)
            with desk.ledgers.reading() as view:
                entries = sum(1 for ledger in view.ledgers() for _ in view.entries(ledger))
            assert desk.ledgers.rebuild() == entries
            assert listed(workspace) == grown
            result = recheck(desk, None, quiet)
            assert result.sound, result


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(wanted=deeds)
def test_lists_made_anew_are_those_that_grew(sqlite_template: Path, wanted: list[tuple[str, str, int, bool]]) -> None:
    _holds(sqlite_template, "", wanted)


@pytest.mark.postgres
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(wanted=deeds)
def test_lists_made_anew_are_those_that_grew_on_postgresql(
    sqlite_template: Path, cluster: Cluster, postgresql_template: str, wanted: list[tuple[str, str, int, bool]]
) -> None:
    name = cluster.fresh(postgresql_template)
    _holds(sqlite_template, cluster.url(name), wanted)
    cluster.execute(f"DROP DATABASE {name}")


def test_lists_of_a_whole_folder_made_anew(workspace: Path, tmp_path: Path) -> None:
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet)
        amend_one(desk, "van", "photo-rail", {"caption": "The rail, cropped"}, "caption was missing")
        withdraw_one(desk, "van", "measurement 1", "wrong range")
        grown = listed(workspace)
        assert (len(grown["records"]), len(grown["files"]), len(grown["search"])) == (10, 3, 10)
        assert desk.ledgers.rebuild() == 12
    assert listed(workspace) == grown


@pytest.mark.parametrize(
    ("deed", "label"),
    [
        ("UPDATE records SET name = 'forged' WHERE kind = 'measurement'", "Measurement 1"),
        ("UPDATE records SET number = 7 WHERE kind = 'vehicle'", "Vehicle 1"),
        ("DELETE FROM records WHERE kind = 'work_order'", "Work order 1"),
        ("UPDATE records SET withdrawn = :yes WHERE kind = 'vehicle'", "Vehicle 1"),
    ],
)
def test_a_list_that_differs_from_the_entries_is_a_fault_that_rebuilding_mends(workspace: Path, tmp_path: Path, deed: str, label: str) -> None:
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet)
        engine = database.open_engine(_url(workspace))
        with engine.begin() as db:
            db.execute(sa.text(deed), {"yes": True} if ":yes" in deed else {})
        engine.dispose()
        found = [str(f) for v in recheck(desk, None, quiet).ledgers for f in v.faults]
        assert found == [f"P1 {label}: the list does not agree with the entries; 'evidence workspace --rebuild' makes it anew"]
        desk.ledgers.rebuild()
        assert recheck(desk, None, quiet).sound


def _found(desk: Desk, query: str) -> list[str]:
    with desk.ledgers.reading() as view:
        return [f"{k.kind} {k.number}" for k in view.search(query, None)]


def _proofs_hold(view: Reader, ledger: str) -> None:
    """From kept branches and headers come the same proofs as from all leaves."""
    leaves = [entry.leaf for entry in view.entries(ledger)]
    node, size, root = view.nodes(ledger), len(leaves), root_of(leaves)
    assert [(b.level, b.index) for b in view.branches(ledger)] == [(8, 0)]
    for at in (0, 1, 255, 256, 270, size - 1):
        assert inclusion(node, at, size) == inclusion(nodes_of(leaves), at, size)
        assert includes(leaves[at], at, size, inclusion(node, at, size), root)
        assert continues(at + 1, root_of(leaves[: at + 1]), size, root, consistency(node, at + 1, size))


def test_what_waits_for_the_index_is_found_like_what_is_in_it(workspace: Path) -> None:
    """SQLite's index is filled in bulk: before, at and after each filling every event is found once."""
    url = _url(workspace)
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "Van", "name": "van"})
        for number in range(270):
            record_one(desk, "van", "event", {"what": "tow", "text": f"towed away {number:03} Größe", "time": "2026-03-01", "basis": "told"})
        if url.startswith("sqlite"):
            engine = database.open_engine(url)
            with engine.connect() as db:
                counts = [db.execute(sa.text(f"SELECT count(*) FROM {t}")).scalar() for t in ("search", "search_new")]
            engine.dispose()
            assert min(counts) > 0
            assert sum(counts) == 272
        with desk.ledgers.reading() as view:
            assert len(view.search("towed GROSSE", None)) == 270
            for number in (0, 100, 252, 253, 254, 269):
                assert [k.number for k in view.search(f"grosse {number:03}", None)] == [number + 1]
            assert len(view.search("tow 26", None)) == 10
            assert view.search("owed", None) == []
            _proofs_hold(view, view.ledgers()[0])


def test_search_finds_words_in_every_text_of_a_record(workspace: Path, tmp_path: Path) -> None:
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet)
        record_one(desk, "van", "event", {"what": "tow", "text": "Schlüssel gedreht: ΚΛΙΚ, щелчок, naïve", "time": "2026-03-01", "basis": "told"})
        assert _found(desk, "eyelet") == ["exhibit 1"]
        assert _found(desk, "EYELET") == ["exhibit 1"]
        assert _found(desk, "eyel") == ["exhibit 1"]  # the start of a word is enough
        assert _found(desk, "gasket cylinder") == ["work_order 1"]  # every word, in any order
        assert _found(desk, "gasket eyelet") == []
        assert _found(desk, "rail.jpg") == ["exhibit 2"]
        assert _found(desk, "schlüssel") == ["event 1"]
        assert _found(desk, "щелчок") == ["event 1"]
        assert _found(desk, "κλικ") == ["event 1"]
        assert _found(desk, "naive schlussel") == ["event 1"]  # accents left out
        assert _found(desk, "Schlu\u0308ssel") == ["event 1"]  # the other Unicode form
        assert _found(desk, "battery-negative 3.10") == ["measurement 1"]
        assert _found(desk, "00-aa") == ["vehicle 1"]
        assert _found(desk, "") == []
        amend_one(desk, "van", "event 1", {"text": "Nothing more"}, "wrong note")
        assert _found(desk, "schlüssel") == []
        assert _found(desk, "nothing") == ["event 1"]
        with desk.ledgers.reading() as view:
            assert [d.name for d in view.dossiers("gasket")] == ["van"]
            assert [d.name for d in view.dossiers("gaskets")] == []
            assert [(d.name, d.entries, d.exhibits, d.vehicle) for d in view.dossiers("")] == [
                ("van", 12, 3, "delivery van, four cylinders, plate 00-AA-00, VIN not stated")
            ]


@pytest.mark.parametrize(
    "query",
    ['"', "'", "a OR b", "NEAR(", "*", "-", "a:b", "!", "&", "|", "(", "x & !y", "\\", "%", ":*", "a' OR 1=1 --", "\0", "words:x", "🙂", "_", "__", "\ud800"],
)
def test_no_query_is_a_program(workspace: Path, tmp_path: Path, query: str) -> None:
    """Operators of either search language are words or nothing, never syntax."""
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet)
        assert _found(desk, query) in ([], _found(desk, "".join(c if c.isalnum() else " " for c in query)))
        with desk.ledgers.reading() as view:
            assert view.dossiers(query + " zzz") == []


def test_records_are_named_by_short_name_number_or_start_of_subject(workspace: Path, tmp_path: Path) -> None:
    with still_desk(workspace) as desk:
        ledger = intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet).ledger
        with desk.ledgers.reading() as view:
            rail = view.named(ledger, "photo-rail")
            assert rail is not None
            for word in ("exhibit 2", "Exhibit 2", "EXHIBIT 2", "exhibit-2", "exhibit_2", " exhibit 2 ", rail.subject, rail.subject[:8]):
                assert view.named(ledger, word) == rail, word
            order = view.named(ledger, "Work order 1")
            assert getattr(order, "name", "") == "head-gasket"
            for word in ("exhibit 9", "exhibit", "2", "", "photo", rail.subject[:7], "exhibit 99999999999999999999", "%", "photo_rail", "\ud800", "\0"):
                assert view.named(ledger, word) is None, word
            assert view.find("van") == view.find(ledger) == view.find(ledger[:6]) == ledger
            for word in (ledger[:5], "", "va", "%", "______", "other", "\ud800", "\0"):
                assert view.find(word) is None, word


def test_an_event_does_not_read_what_is_recorded_before_it(sqlite_workspace: Path) -> None:
    """SQLite keeps no statistics here: that it finds things by their keys is seen in its plan, not in its answer."""
    asked: list[tuple[str, Any]] = []
    with still_desk(sqlite_workspace) as desk:
        ledger, _ = open_dossier(desk, {"title": "Held", "name": "held"})
        sa.event.listen(desk.ledgers._engine, "before_cursor_execute", lambda *a: asked.append((a[2], a[3])))
        record_one(desk, "held", "event", {"what": "other", "text": "called", "time": "2026-03-02 10:00", "basis": "told"})
        with desk.ledgers.reading() as view:
            view.opening_and_parties(ledger)
    with sqlite3.connect(sqlite_workspace / "record.sqlite") as db:
        plans = [
            row[3] for text, values in asked if text.startswith("SELECT") for row in db.execute("EXPLAIN QUERY PLAN " + text, values)
        ]
    assert sum("records USING INDEX ix_records_ledger_kind_number (ledger=? AND kind=?" in step for step in plans) >= 3
    assert [step for step in plans if step.startswith("SCAN") or (step.endswith("PRIMARY KEY (ledger=?)") and "records" in step)] == []

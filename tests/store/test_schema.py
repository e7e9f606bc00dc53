"""The migrated schema, on both databases: equal to the tables of the code, append-only, and of this version alone."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from evidence.bootstrap import _url, make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.errors import WorkspaceUnusable
from evidence.store import database
from evidence.store.tables import metadata
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.record import record_one

from conftest import Cluster, still_desk
from fakes import quiet
from samples import small_folder


def _include(name: str | None, kind: str, _parents: object) -> bool:
    return not (kind == "table" and name is not None and name.startswith("search"))


def test_the_migrated_schema_is_that_of_the_code(workspace: Path) -> None:
    engine = database.open_engine(_url(workspace))
    with engine.connect() as db:
        context = MigrationContext.configure(db, opts={"include_name": _include, "compare_type": True})
        assert compare_metadata(context, metadata) == []
    engine.dispose()


def test_a_table_that_the_migrations_do_not_make_would_be_noticed(sqlite_workspace: Path) -> None:
    engine = database.open_engine(_url(sqlite_workspace))
    other = sa.MetaData()
    for table in metadata.tables.values():
        table.to_metadata(other)
    sa.Table("forgotten", other, sa.Column("x", sa.Text))
    other.tables["files"].append_column(sa.Column("forgotten", sa.Text))
    with engine.connect() as db:
        found = compare_metadata(MigrationContext.configure(db, opts={"include_name": _include}), other)
    assert [diff[0] for diff in found] == ["add_table", "add_column"]
    engine.dispose()


def test_the_version_in_the_code_is_the_newest_script() -> None:
    config = Config()
    config.set_main_option("script_location", str(database.scripts()))
    scripts = ScriptDirectory.from_config(config)
    assert scripts.get_heads() == [database.REVISION]


@pytest.fixture
def filled(workspace: Path, tmp_path: Path) -> Path:
    with still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(tmp_path / "folder")), Answers(), quiet)
    return workspace


@pytest.mark.parametrize(
    "deed",
    [
        "UPDATE entries SET content = NULL",
        "UPDATE entries SET seq = seq + 100",
        "UPDATE entries SET batch = 7 WHERE seq = 1",
        "DELETE FROM entries",
        "DELETE FROM entries WHERE seq = 1",
        "TRUNCATE entries",
        "INSERT OR REPLACE INTO entries SELECT ledger, seq, header, NULL, batch FROM entries WHERE seq = 1",
    ],
)
def test_entries_refuse_to_be_changed(filled: Path, deed: str) -> None:
    engine = database.open_engine(_url(filled))
    only = {"TRUNCATE": "postgresql", "INSERT": "sqlite"}.get(deed.split(maxsplit=1)[0], engine.dialect.name)
    if engine.dialect.name != only:
        pytest.skip(f"{deed.split(maxsplit=1)[0]} is a word of {only}")
    with engine.connect() as db:
        before = db.execute(sa.text("SELECT * FROM entries ORDER BY seq")).all()
        with pytest.raises(sa.exc.DBAPIError, match="entries are append-only"):
            db.execute(sa.text(deed))
        db.rollback()
        assert db.execute(sa.text("SELECT * FROM entries ORDER BY seq")).all() == before
        assert len(before) == 9
    engine.dispose()


def test_a_database_of_a_newer_version_is_refused_and_left_unchanged(filled: Path) -> None:
    engine = database.open_engine(_url(filled))
    with engine.begin() as db:
        db.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    before = _state(filled)
    message = rf"the database is of a newer version \(9999; this program knows {database.REVISION}\)"
    with pytest.raises(WorkspaceUnusable, match=message) as err, open_desk(filled):
        pass
    assert err.value.advice == "Use the newer program. Nothing was changed."
    with pytest.raises(WorkspaceUnusable, match=message):
        make_workspace(filled, recorder="R")
    assert _state(filled) == before


def _state(workspace: Path) -> object:
    file = workspace / "record.sqlite"
    if file.exists():
        return hashlib.sha256(file.read_bytes()).hexdigest()
    engine = database.open_engine(_url(workspace))
    with engine.connect() as db:
        found = [db.execute(sa.text(f"SELECT * FROM {t} ORDER BY 1, 2")).all() for t in ("entries", "records", "ledgers")]
        found.append(db.execute(sa.text("SELECT version_num FROM alembic_version")).all())
    engine.dispose()
    return found


def test_an_empty_database_says_what_to_do(sqlite_workspace: Path) -> None:
    (sqlite_workspace / "record.sqlite").unlink()
    with pytest.raises(WorkspaceUnusable, match="empty or of an older version") as err, open_desk(sqlite_workspace):
        pass
    assert "evidence workspace" in err.value.advice


@pytest.mark.postgres
def test_a_server_that_does_not_answer_is_told(sqlite_workspace: Path, cluster: Cluster) -> None:
    settings = sqlite_workspace / "settings.toml"
    settings.write_text(settings.read_text() + f'\ndatabase = "{cluster.url("no_such_database")}"\n')
    with pytest.raises(WorkspaceUnusable, match=r'database "no_such_database" does not exist') as err, open_desk(sqlite_workspace):
        pass
    assert err.value.advice == "Check the database line in settings.toml."


def test_a_file_that_is_no_database_is_told(sqlite_workspace: Path) -> None:
    from evidence.errors import StoreDamaged

    (sqlite_workspace / "record.sqlite").write_bytes(b"this is no database at all, whatever its name says" * 100)
    with pytest.raises(StoreDamaged, match="the database file is damaged"), open_desk(sqlite_workspace):
        pass


def test_an_older_database_is_brought_up_to_date_and_its_lists_made_again(filled: Path) -> None:
    """As one of version 0001 was left: without the list of marks and without a register."""
    with open_desk(filled) as desk:
        with desk.ledgers.reading() as view:
            name = view.dossiers("")[0].name
        record_one(desk, name, "due_date", {"what": "hearing", "day": "2026-07-01", "text": "Hearing", "source": "summons"})
        with desk.ledgers.reading() as view:
            wanted = list(view.marks(None))
    engine = database.open_engine(_url(filled))
    with engine.begin() as db:
        for table in ("marks", "register_batches", "register_orders", "register_comebacks", "register_dossiers"):
            db.execute(sa.text(f"DROP TABLE {table}"))
        if db.dialect.name == "postgresql":
            db.execute(sa.text("DROP FUNCTION register_refuse"))
        db.execute(sa.text("UPDATE alembic_version SET version_num = '0001'"))
    engine.dispose()
    with pytest.raises(WorkspaceUnusable, match="older version"), open_desk(filled):
        pass
    assert make_workspace(filled, recorder="Ann", firm="", zone="UTC") is False
    with open_desk(filled) as desk, desk.ledgers.reading() as view:
        assert list(view.marks(None)) == wanted != []

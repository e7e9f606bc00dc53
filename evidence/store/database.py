"""Opening the database: pragmas, migrations, read-only media, and errors in words."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, OperationalError

from evidence.errors import Busy, EvidenceError, NoRoom, StoreDamaged, WorkspaceUnusable

REVISION = "0003"  # the newest migration; a test holds it against the scripts
WAIT_SECONDS = 15
_LEAST_ROOM = 98_304  # bytes: the shared index of a write-ahead log (32 KiB) and a small transaction


def sqlite_url(file: Path) -> str:
    """The URL of an embedded database."""
    return f"sqlite:///{file}"


def open_engine(url: str, *, writable: bool = True) -> Engine:
    """An engine for ``url``. SQLite gets WAL, full synchronisation and our own transactions."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite":
        wait = {"connect_timeout": WAIT_SECONDS, "options": f"-c lock_timeout={int(WAIT_SECONDS * 1000)}"}
        return create_engine(parsed, connect_args=wait)
    file = Path(parsed.database or "")
    engine = create_engine(url, connect_args=_connect_args()) if writable else _reading_engine(file)
    event.listen(engine, "connect", _pragmas if writable else _reading_pragmas)
    return engine


def _connect_args() -> dict[str, float | None]:
    return {"timeout": WAIT_SECONDS, "isolation_level": None}


def _reading_engine(file: Path) -> Engine:
    """An engine that writes nothing beside the file.

    A write-ahead log that is left over holds acknowledged entries: then the file must not be called immutable. Where
    the log's index is missing too, and cannot be made here, file and log are read from a private copy.
    """
    mode, copy = "immutable=1", None
    if _left_over(file):
        mode = "mode=ro"
        if not _beside(file, "-shm").exists():
            copy = TemporaryDirectory(prefix="evidence-")
            for part in (file, _beside(file, "-wal")):
                copyfile(part, Path(copy.name) / part.name)
            file, mode = Path(copy.name) / file.name, "mode=rw"
    engine = create_engine(f"sqlite:///file:{file}?{mode}&uri=true", connect_args=_connect_args())
    if copy:
        event.listen(engine, "engine_disposed", lambda _engine: copy.cleanup())
    return engine


def _beside(file: Path, ending: str) -> Path:
    return file.with_name(file.name + ending)


def _left_over(file: Path) -> bool:
    wal = _beside(file, "-wal")
    return wal.exists() and wal.stat().st_size > 0


def _pragmas(connection: object, _record: object) -> None:
    cursor = connection.cursor()  # type: ignore[attr-defined]
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _reading_pragmas(connection: object, _record: object) -> None:
    connection.execute("PRAGMA query_only = ON")  # type: ignore[attr-defined]


@contextmanager
def in_words(place: str) -> Iterator[None]:
    """Turn what a database driver says into an error that a person can act on."""
    try:
        yield
    except DBAPIError as err:
        raise _words(err, place) from err
    except UnicodeDecodeError as err:  # where a bit of the schema flipped, SQLite quotes it in its message as it is
        raise StoreDamaged("the database file is damaged (its schema is no text)", item=place, advice=_RESTORE) from err


_RESTORE = "Keep it as it is; restore a copy and run recheck."


def _words(err: DBAPIError, place: str) -> EvidenceError:
    said = str(err.orig)
    low = said.lower()
    if "locked" in low or getattr(err.orig, "sqlstate", "") == "55P03":  # lock_not_available
        return Busy(
            f"another program has held the database for more than {WAIT_SECONDS} s", item=place,
            advice="Wait until it is done, or end it; nothing was recorded. Then run the same command again.",
        )  # fmt: skip
    if "disk is full" in low or "no space left" in low or ("disk i/o" in low and _free(Path(place)) < _LEAST_ROOM):
        return _full(place)
    if "disk i/o" in low:
        return WorkspaceUnusable(
            "the disk reported an error while the record was read or written", item=place,
            advice="Check the disk before going on. Then run 'evidence recheck' and the same command again: "
            "what this step recorded, if anything, is seen and not recorded twice.",
        )  # fmt: skip
    if "readonly" in low or "read-only" in low:
        return WorkspaceUnusable(
            "the workspace is read-only", item=place, advice="Reading commands work; to record, use a writable copy."
        )
    if "malformed" in low or "not a database" in low:
        return StoreDamaged(
            f"the database file is damaged ({said})",
            item=place,
            advice=_RESTORE,
        )
    if isinstance(err, OperationalError):
        return WorkspaceUnusable(
            f"the database cannot be used: {said.strip()}",
            item=place,
            advice="Check the database line in settings.toml.",
        )
    raise err


def version_of(db: Connection) -> str | None:
    """The migration the database stands at; None for an empty one."""
    if not db.dialect.has_table(db, "alembic_version"):
        return None
    return db.execute(text("SELECT version_num FROM alembic_version")).scalar()


def require_version(engine: Engine, place: str) -> None:
    """Refuse a database that is not of this version, saying which way it differs."""
    with in_words(place), engine.connect() as db:
        found = version_of(db)
    if found == REVISION:
        return
    if found is None or found < REVISION:
        raise WorkspaceUnusable(
            "the database is empty or of an older version", item=place,
            advice="Run 'evidence workspace' on this folder once; it brings the database up to date.",
        )  # fmt: skip
    raise _newer(found, place)


def _newer(found: str, place: str) -> WorkspaceUnusable:
    return WorkspaceUnusable(
        f"the database is of a newer version ({found}; this program knows {REVISION})", item=place,
        advice="Use the newer program. Nothing was changed.",
    )  # fmt: skip


def migrate(engine: Engine, place: str) -> bool:
    """Bring the database to the newest version, in one transaction; one of a newer version is refused.

    Returns whether it was of an older version, so that its lists have to be made again.
    """
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(scripts()))
    with engine.connect() as db, db.begin():
        if db.dialect.name == "sqlite":
            db.exec_driver_sql("BEGIN IMMEDIATE")
        if (found := version_of(db)) and found > REVISION:
            raise _newer(found, place)
        config.attributes["connection"] = db
        command.upgrade(config, "head")
    return found is not None and found < REVISION


def scripts() -> Path:
    """The migration scripts: inside the installed package, else beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "migrations"
    return inside if inside.is_dir() else package.parent / "migrations"


def refusal(folder: Path) -> EvidenceError | None:
    """Why nothing can be recorded in this workspace at present; None where it can.

    With no room even for the database's shared index it is opened as read-only media are, so that it can still be checked.
    """
    if not os.access(folder, os.W_OK):
        return WorkspaceUnusable(
            "the workspace is read-only",
            item=str(folder),
            advice="Reading commands work; to record, use a writable copy.",
        )
    if _free(folder) < _LEAST_ROOM:
        return _full(str(folder))
    return None


def _free(folder: Path) -> int:
    status = os.statvfs(folder)
    return status.f_bavail * status.f_frsize


def _full(place: str) -> NoRoom:
    return NoRoom(
        "the disk is full, so the record could not be written", item=place,
        advice="Make room on that disk and run the same command again; nothing of this step was recorded.",
    )  # fmt: skip

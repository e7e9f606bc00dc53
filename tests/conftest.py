"""Workspaces to test in: SQLite as embedded, and PostgreSQL in a cluster that the tests start themselves.

The cluster runs as a user that is not root (``initdb`` refuses root), listens on a socket in a temporary
folder alone, and does not flush: its data lives as long as the run.
"""

from __future__ import annotations

import gc
import itertools
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from evidence.bootstrap import make_workspace, open_desk
from evidence.ports import Desk
from evidence.report import sealing
from hypothesis import HealthCheck, settings

from fakes import CountingIds, FixedClock, NoPreviews, plain_facts, small_vocabulary
from made_once import VARIABLE, made_once
from signing import JudgeHere

settings.register_profile("suite", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("suite")


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder of :mod:`made_once` in the process that starts the run.

    Processes that tests start keep what they compile of the program, also where the machine does not by itself: compiling
    it anew is a third of the time of a command.
    """
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    if not hasattr(config, "workerinput"):
        held = tempfile.TemporaryDirectory(prefix="made-")
        os.environ[VARIABLE] = held.name
        config.add_cleanup(held.cleanup)


def pytest_collection_finish() -> None:
    """Leave thousands of collected tests out of every later search for unreachable objects, and search less often."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


_SERVER_USER = "postgres"
_DEBIAN = Path("/usr/lib/postgresql/15/bin")


@dataclass(frozen=True)
class Cluster:
    """A running PostgreSQL; ``fresh`` makes a database with the schema of this version."""

    socket: Path
    numbers: Iterator[int]

    def url(self, name: str) -> str:
        return f"postgresql+psycopg://tester@/{name}?host={self.socket}"

    def execute(self, statement: str, database: str = "postgres") -> list[tuple[object, ...]]:
        import psycopg

        with psycopg.connect(f"host={self.socket} user=tester dbname={database}", autocommit=True) as db:
            cursor = db.execute(statement)
            return list(cursor.fetchall()) if cursor.description else []

    def fresh(self, template: str = "template0") -> str:
        name = f"t{next(self.numbers)}"
        self.execute(f"CREATE DATABASE {name} TEMPLATE {template} ENCODING 'UTF8'")
        return name


def _server_program(name: str) -> str | None:
    return str(_DEBIAN / name) if (_DEBIAN / name).exists() else shutil.which(name)


def _as_server(*command: str) -> list[str]:
    return ["runuser", "-u", _SERVER_USER, "--", *command] if os.geteuid() == 0 else list(command)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL cluster for this run."""
    initdb, server = _server_program("initdb"), _server_program("postgres")
    if not initdb or not server:
        pytest.skip("the PostgreSQL server programs are not installed (Debian: postgresql-15)")
    home = Path(tempfile.mkdtemp(prefix="pg-"))
    home.chmod(0o755)  # some tests connect as somebody else
    if os.geteuid() == 0:
        shutil.chown(home, _SERVER_USER)
    running = None
    try:
        subprocess.run(
            _as_server(initdb, "-D", str(home / "data"), "-U", "tester", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8",
                       "--no-sync"),
            check=True, capture_output=True, cwd="/",
        )  # fmt: skip
        with (home / "log").open("wb") as log:
            running = subprocess.Popen(
                _as_server(server, "-D", str(home / "data"), "-k", str(home), "-c", "listen_addresses=", "-c", "fsync=off",
                           "-c", "full_page_writes=off", "-c", "max_connections=40"),
                stdout=log, stderr=log, cwd="/",
            )  # fmt: skip
        made = Cluster(home, itertools.count(1))
        _wait_for(made, running, home / "log")
        yield made
    finally:
        if running:
            running.terminate()
            running.wait(30)
        shutil.rmtree(home, ignore_errors=True)


def _wait_for(cluster: Cluster, running: subprocess.Popen[bytes], log: Path) -> None:
    import time

    import psycopg

    for _attempt in range(200):
        try:
            cluster.execute("SELECT 1")
        except psycopg.OperationalError:
            assert running.poll() is None, log.read_text(errors="replace")
            time.sleep(0.05)
        else:
            return
    raise AssertionError(log.read_text(errors="replace"))


@pytest.fixture
def quick_path() -> Iterator[Path]:
    """A folder in memory where there is one: making and removing hundreds of workspaces is slow on a disk."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(prefix="evidence-", dir=memory if os.access(memory, os.W_OK) else None) as made:
        yield Path(made)


@pytest.fixture(scope="session")
def sqlite_template() -> Path:
    """A workspace made once; tests work in copies of it."""
    return made_once("sqlite", lambda folder: make_workspace(folder, recorder="R. Ecorder", firm="Test Shop", zone="Europe/Lisbon"))


@pytest.fixture(scope="session")
def postgresql_template(cluster: Cluster, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A migrated database made once; tests work in copies of it."""
    name = cluster.fresh()
    make_workspace(tmp_path_factory.mktemp("pg") / "workspace", recorder="R", postgresql=cluster.url(name))
    return name


@pytest.fixture
def sqlite_workspace(sqlite_template: Path, quick_path: Path) -> Path:
    """A fresh workspace with the embedded database."""
    return shutil.copytree(sqlite_template, quick_path / "workspace", symlinks=True)


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def workspace(request: pytest.FixtureRequest, sqlite_workspace: Path) -> Path:
    """A fresh workspace, once for each database."""
    if request.param == "postgresql":
        cluster: Cluster = request.getfixturevalue("cluster")
        url = cluster.url(cluster.fresh(request.getfixturevalue("postgresql_template")))
        settings_file = sqlite_workspace / "settings.toml"
        settings_file.write_text(settings_file.read_text() + f'\ndatabase = "{url}"\n')
        (sqlite_workspace / "record.sqlite").unlink()
    return sqlite_workspace


@pytest.fixture
def signing_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """PDFs are judged and signed in this process."""
    monkeypatch.setattr(sealing, "Judge", JudgeHere)


@contextmanager
def still_desk(folder: Path, first_id: int = 0) -> Iterator[Desk]:
    """The real store of a workspace with a clock that stands, ids that count, and no reading of pictures."""
    with open_desk(folder) as opened:
        yield replace(
            opened, clock=FixedClock(), ids=CountingIds(first_id), vocabulary=small_vocabulary, read_facts=plain_facts,
            previews=NoPreviews(), packs=tuple,
        )  # fmt: skip


@pytest.fixture
def desk(workspace: Path) -> Iterator[Desk]:
    """A desk over a fresh workspace, once for each database."""
    with still_desk(workspace) as opened:
        yield opened

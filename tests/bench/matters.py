"""Where 5,000 matters stand: the marks of the demonstration van under as many names, with a place that has holidays."""

from __future__ import annotations

import datetime as dt
import hashlib
import resource
import shutil
import subprocess
import sys
from pathlib import Path

from ours import _silent, make_measured_workspace
from registers import _list_dossiers, installed
from timing import timed

DOSSIERS = 5_000


def filled(work: Path, database: str = "") -> Path:
    """A workspace with the van taken in, and its marks copied for the others, each some days later than the one before.

    The copies are written past the use cases: their making is measured elsewhere.
    """
    from evidence.bootstrap import _url, demo_dossiers, open_desk
    from evidence.capture.sources import open_handed
    from evidence.store import database as db_of
    from evidence.store import tables
    from evidence.usecases.intake import Answers, intake_folder
    from sqlalchemy import insert, select

    workspace = make_measured_workspace(work, database)
    with open_desk(workspace) as desk:
        intake_folder(desk, open_handed(demo_dossiers()["van-no-start"]), Answers(), _silent)
    shutil.copytree(demo_dossiers()["van-no-start"].parent / "places", workspace / "places")
    ledgers = [hashlib.sha256(b"%d" % n).hexdigest()[:26] for n in range(DOSSIERS - 1)]
    _list_dossiers(workspace, [(ledger, f"van-{n}", "00" * 32) for n, ledger in enumerate(ledgers)])
    engine = db_of.open_engine(_url(workspace))
    with engine.begin() as db:
        rows = [dict(row._mapping) for row in db.execute(select(tables.marks))]
        assert {row["sort"] for row in rows} >= {"step", "skip", "due", "place"}, "the van has a course to copy"
        for n, ledger in enumerate(ledgers):
            db.execute(insert(tables.marks), [{**row, "ledger": ledger, "day": _later(row["day"], n % 400)} for row in rows])
    engine.dispose()
    return workspace


def _later(day: str, days: int) -> str:
    return (dt.date.fromisoformat(day[:10]) + dt.timedelta(days=days)).isoformat() + day[10:] if day else ""


def told(work: Path, database: str = "") -> dict[str, float]:
    """The status of all from opening the workspace; and the CPU time of the command, table and JSON, beyond that of one matter."""
    from evidence.bootstrap import open_desk
    from evidence.usecases.standing import matters

    workspace = filled(work, database)
    day = dt.date(2026, 6, 20)
    with timed() as found, open_desk(workspace) as desk:
        every = matters(desk, "", day)
    assert len(every) == DOSSIERS
    assert all(m.standing.course.here and m.standing.dues and m.place for m in every)
    command = [sys.executable, "-m", "evidence.cli.main", "-w", str(workspace), "status", "--on", day.isoformat()]
    env = installed(work)
    one = _cpu([*command, "van-no-start"], env)
    return {**found, "start": one, "command": _cpu(command, env) - one, "json": _cpu([*command, "--json"], env) - one}


def _cpu(command: list[str], env: dict[str, str]) -> float:
    """CPU seconds of a command, the lower of two runs after one that compiles what it imports."""
    spent = []
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=env)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(spent[1:])

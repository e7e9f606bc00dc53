"""SIGKILL at every step of what is done by command, and a disk that refuses it: take in, record, amend, withdraw, make a
workspace, hand over (rows 1 to 5).

On both databases. After each kill or refusal the recheck passes, nothing acknowledged is lost, and the same command
completes. The default suite walks some steps; ``-m campaign`` walks all, again and again, until a thousand kills are done.
"""

from __future__ import annotations

import re
import secrets
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest
from evidence.bootstrap import make_workspace
from evidence.bundle.alone.verify import check
from evidence.capture.sources import open_handed
from evidence.errors import ExitCode, WorkspaceUnusable
from evidence.handing_over import write_bundle
from evidence.report import sealing
from evidence.review.disclosing import Choice
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, record_one, withdraw_one
from test_kill import recorded

from conftest import Cluster, still_desk
from fakes import quiet
from samples import RECORDS, TEXT, small_folder
from signing import JudgeHere
from tracing import counts, makes, needs_strace, one_thread, traced

pytestmark = needs_strace

CHANGING = ("openat", "write", "pwrite64", "sendto", "fsync", "fdatasync", "rename", "unlink", "ftruncate", "fchmod")
DOSSIER = "van"
SECOND = "handed-in"  # a folder of another dossier, not taken in yet


def _ids() -> int:
    """Each run gives its records ids of its own; a forked child too."""
    return secrets.randbelow(10**9)


EVENT = {"what": "tow", "text": "towed to the yard", "time": "2026-03-01", "basis": "told"}


@dataclass(frozen=True)
class Deed:
    """Something done in a workspace by one command; ``entries`` it adds, and what must hold of its output."""

    do: Callable[[Path], None]
    entries: int
    once: bool = False  # done a second time it adds nothing
    whole: Callable[[Path], bool] = lambda _workspace: True


def _with_desk(work: Callable[..., object]) -> Callable[[Path], None]:
    def do(workspace: Path) -> None:
        with one_thread(), still_desk(workspace, _ids()) as desk:
            work(desk)

    return do


def _take_in(workspace: Path) -> None:
    with one_thread(), still_desk(workspace, _ids()) as desk:
        intake_folder(desk, open_handed(workspace / SECOND), Answers(), quiet)


def _hand_over(workspace: Path) -> None:
    with one_thread(), still_desk(workspace, _ids()) as desk:
        write_bundle(desk, workspace, DOSSIER, Choice(), workspace / "out.zip", quiet)


def _bundle_whole(workspace: Path) -> bool:
    out = workspace / "out.zip"
    return not out.exists() or check(str(out)).faults == []


DEEDS = {
    "intake": Deed(_take_in, RECORDS, once=True),
    "record": Deed(_with_desk(lambda desk: record_one(desk, DOSSIER, "event", EVENT)), 1),
    "amend": Deed(
        _with_desk(lambda desk: amend_one(desk, DOSSIER, "exhibit 1", {"caption": "seen again"}, "misread")), 1
    ),
    "withdraw": Deed(_with_desk(lambda desk: withdraw_one(desk, DOSSIER, "event 1", "not ours")), 1, once=True),
    "disclose": Deed(_hand_over, 0, whole=_bundle_whole),
    "workspace": Deed(lambda workspace: make_workspace(workspace, recorder="R") and None, 0),
}


Stored = tuple[bytes, bytes | None]  # header and content of an entry


@dataclass
class Start:
    """A workspace with a dossier in it, to be copied for each kill."""

    workspace: Path
    cluster: Cluster | None
    template: str

    def copy(self, home: Path, deed: str) -> Path:
        """A fresh copy; for "workspace" one that is not made yet, or whose database is still empty."""
        target = home / "workspace"
        shutil.rmtree(target, ignore_errors=True)
        if deed == "workspace" and self.cluster is None:
            return target
        shutil.copytree(self.workspace, target)
        if self.cluster is not None:
            url = self.cluster.url(self.cluster.fresh("template0" if deed == "workspace" else self.template))
            lines = [
                line for line in (target / "settings.toml").read_text().splitlines() if not line.startswith("database")
            ]
            if deed == "workspace":
                shutil.rmtree(target)
                target.mkdir()
            (target / "settings.toml").write_text("\n".join([*lines, f'database = "{url}"', ""]))
        return target


@pytest.fixture(scope="module", params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def start(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Start:
    home = tmp_path_factory.mktemp("deeds")
    workspace = shutil.copytree(sqlite_template, home / "workspace")
    made = Start(workspace, None, "")
    if request.param == "postgresql":
        cluster: Cluster = request.getfixturevalue("cluster")
        name = cluster.fresh(request.getfixturevalue("postgresql_template"))
        with (workspace / "settings.toml").open("a") as settings:
            settings.write(f'\ndatabase = "{cluster.url(name)}"\n')
        (workspace / "record.sqlite").unlink()
        made = Start(workspace, cluster, name)
    with one_thread(), still_desk(workspace) as desk:
        intake_folder(desk, open_handed(small_folder(home / "folder")), Answers(), quiet)
        record_one(desk, DOSSIER, "event", {**EVENT, "text": "acknowledged before"})
    small_folder(workspace / SECOND, TEXT.replace("dossier: van", "dossier: second"))
    return made


def _steps(start: Start, deed: str, home: Path) -> list[tuple[str, int]]:
    """Every call of an undisturbed run that can change something, by name and number."""
    DEEDS[deed].do(start.copy(home, deed))  # what is imported late is imported now
    workspace = start.copy(home, deed)
    outcome = traced(lambda: DEEDS[deed].do(workspace), home, "-e", f"trace={','.join(CHANGING)}")
    assert (outcome.killed, outcome.code, outcome.said) == (False, 0, "")
    counted = counts(outcome.trace, CHANGING)
    return [(call, at) for call in CHANGING for at in (makes(outcome.trace) if call == "openat" else range(1, counted[call] + 1))]


def _kill_and_do_again(start: Start, deed: str, home: Path, call: str, at: int) -> str:
    where = f"{deed} killed before {call} number {at}"
    workspace = start.copy(home, deed)
    before = recorded(workspace) if deed != "workspace" else []
    outcome = traced(
        lambda: DEEDS[deed].do(workspace), home, "-e", f"trace={call}", "-e", f"inject={call}:signal=KILL:when={at}"
    )
    if not outcome.killed and outcome.code == 0:  # the number of writes to a server may differ by one
        return "not reached"
    # A helper process that judges and signs the PDF is killed like any other; that is told, and nothing is written.
    assert outcome.killed or re.search("could not be (judged|signed)", outcome.said), (where, outcome.said)
    return "recorded" if _sound_and_done(deed, workspace, before, where) else "nothing recorded"


def _sound_and_done(deed: str, workspace: Path, before: list[Stored], where: str) -> int:
    """Recheck what was left behind, do the deed again, recheck that. Returns how many entries the broken deed left."""
    assert DEEDS[deed].whole(workspace), where
    if deed == "workspace":
        DEEDS[deed].do(workspace)
    _recheck(workspace, where)
    after = recorded(workspace)
    left = len(after) - len(before)
    assert [entry for entry in after if entry in before] == before, where
    assert left in (0, DEEDS[deed].entries), where
    if deed != "withdraw" or not left:  # what is withdrawn cannot be withdrawn again
        with mock.patch.object(sealing, "Judge", JudgeHere):  # the deed that was broken had the program's own
            DEEDS[deed].do(workspace)
    assert DEEDS[deed].whole(workspace), where
    assert len(recorded(workspace)) == len(before) + DEEDS[deed].entries + (0 if DEEDS[deed].once else left), where
    _recheck(workspace, where)
    return left


def _recheck(workspace: Path, where: str) -> None:
    with still_desk(workspace) as desk:
        result = recheck(desk, None, quiet)
    assert result.sound, (where, result)


def _refuse_and_do_again(start: Start, deed: str, home: Path, call: str, error: str, at: int) -> str:
    """One call of the deed fails: it is told in words, what is acknowledged stands, and the same command completes."""
    where = f"{deed}: {error} at {call} number {at}"
    workspace = start.copy(home, deed)
    before = recorded(workspace) if deed != "workspace" else []
    outcome = traced(
        lambda: DEEDS[deed].do(workspace), home, "-e", f"trace={call}", "-e", f"inject={call}:error={error}:when={at}"
    )
    if "(INJECTED)" not in outcome.trace:
        return "not reached"
    assert not outcome.killed, where
    assert outcome.code in (ExitCode.DONE, ExitCode.REFUSED, ExitCode.UNFINISHED, ExitCode.DAMAGED), (where, outcome.said)
    left = _sound_and_done(deed, workspace, before, where)
    if outcome.code in (ExitCode.DONE, ExitCode.UNFINISHED) and deed != "disclose":  # acknowledged
        assert left == DEEDS[deed].entries, (where, outcome.said)
    return "done" if outcome.code == ExitCode.DONE else "told"


@pytest.mark.parametrize("deed", DEEDS)
def test_some_steps(start: Start, deed: str, quick_path: Path) -> None:
    steps = _steps(start, deed, quick_path)
    found = Counter(_kill_and_do_again(start, deed, quick_path, *step) for step in steps[:: max(1, len(steps) // 8)])
    assert found["nothing recorded"] + found["recorded"] >= 3, (steps, found)


@pytest.mark.campaign
def test_every_step_until_a_thousand(start: Start, quick_path: Path) -> None:
    """About five hundred kills on each database, every step of every deed at least once."""
    found: Counter[str] = Counter()
    plan = [(deed, *step) for deed in DEEDS for step in _steps(start, deed, quick_path)]
    while sum(found.values()) < 500:
        for deed, call, at in plan:
            found[f"{deed}: {_kill_and_do_again(start, deed, quick_path, call, at)}"] += 1
    print(f"\n{sum(found.values())} kills, {len(plan)} steps: {dict(found)}")
    assert sum(n for what, n in found.items() if not what.endswith("not reached")) >= 450


REFUSALS = [("write", "ENOSPC"), ("pwrite64", "ENOSPC"), ("fsync", "EIO"), ("fdatasync", "EIO"), ("rename", "EIO"), ("ftruncate", "EIO")]


def _walk(start: Start, deed: str, home: Path, *, every: bool) -> Counter[str]:
    """Refuse each call in turn, or one of each kind, another one for each deed."""
    steps, number = _steps(start, deed, home), list(DEEDS).index(deed)
    found: Counter[str] = Counter()
    for call, error in REFUSALS:
        at = [n for name, n in steps if name == call]
        for which in at if every else at[number % max(1, len(at)) :][:1]:
            found[_refuse_and_do_again(start, deed, home, call, error, which)] += 1
    return found


@pytest.mark.parametrize("deed", [d for d in DEEDS if d != "disclose"])  # that: test_bundle_faults.py
def test_a_disk_that_refuses_some_calls(start: Start, deed: str, quick_path: Path) -> None:
    found = _walk(start, deed, quick_path, every=False)
    assert found["told"] >= 1, found


@pytest.mark.campaign
@pytest.mark.parametrize("deed", DEEDS)
def test_a_disk_that_refuses_every_call(start: Start, deed: str, quick_path: Path) -> None:
    found = _walk(start, deed, quick_path, every=True)
    print(f"\n{deed}: {sum(found.values())} calls refused: {dict(found)}")
    assert found["told"] >= 1, found


def test_a_workspace_that_was_not_finished_says_what_to_do(tmp_path: Path) -> None:
    make_workspace(tmp_path / "w", recorder="R")
    (tmp_path / "w" / "record.sqlite").unlink()
    with pytest.raises(WorkspaceUnusable, match="empty or of an older version"), still_desk(tmp_path / "w"):
        pass

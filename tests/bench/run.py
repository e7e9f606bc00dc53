"""Measure the project against its floors: ``python tests/bench/run.py``.

Every figure is a ratio between medians of the same run, on the same files, each part in a process of its own.
A target is met when its ratio, or its value where there is no floor, is at most the pass value.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import cluster  # noqa: E402
import corpus  # noqa: E402
import floors  # noqa: E402
import matters  # noqa: E402
import ours  # noqa: E402
import pictures  # noqa: E402
import received  # noqa: E402
import registers  # noqa: E402
import times  # noqa: E402
import traces  # noqa: E402
import trees  # noqa: E402

Found = dict[str, list[dict[str, float]]]  # measure -> one result for each round
PDF_SIZES = (50, 200, 800)
SIGNED_SIZES = (44, 586)  # MB
_A_PHOTO = 3.0  # MB, about


@dataclass
class Bench:
    """Where a run works, with what."""

    folder: Path
    photos: int
    small: bool
    database: str = ""

    def pictures(self, count: int) -> list[Path]:
        """The first ``count`` photos of the corpus."""
        return sorted((self.folder / "corpus").iterdir())[:count]

    def dossier(self, count: int) -> Path:
        """A dossier folder of ``count`` photos."""
        folder = self.folder / f"dossier-{count}"
        return folder if folder.exists() else corpus.photo_folder(folder, self.pictures(count))

    def sizes(self) -> tuple[int, ...]:
        """Numbers of photos for the growth of the PDF's memory."""
        return tuple(max(2, n // 40) for n in PDF_SIZES) if self.small else PDF_SIZES

    def unsigned(self, which: int) -> Path:
        """A PDF of about so many MB, made once."""
        made = self.folder / f"unsigned-{SIGNED_SIZES[which]}.pdf"
        if not made.exists():
            ours.unsigned_report(self.pictures(self.attached(which)), made)
        return made

    def attached(self, which: int) -> int:
        """How many photos that is."""
        return 2 if self.small else round(SIGNED_SIZES[which] / _A_PHOTO)

    @contextmanager
    def empty(self) -> Iterator[Path]:
        """An empty folder for one measurement."""
        work = self.folder / "work"
        work.mkdir()
        try:
            yield work
        finally:
            shutil.rmtree(work)


def _report_of(which: int) -> Callable[[Bench, Path], dict[str, float]]:
    return lambda b, work: ours.report(b.dossier(b.sizes()[which]), work)


MEASURES: dict[str, Callable[[Bench, Path], dict[str, float]]] = {
    "F": lambda b, work: floors.hash_copy_sync(b.dossier(b.photos), work),
    "intake": lambda b, work: ours.intake(b.dossier(b.photos), work),
    "pillow exif": lambda b, _: floors.pillow_exif(b.pictures(b.photos)),
    "exif": lambda b, _: ours.exif(b.pictures(b.photos)),
    "reportlab": lambda b, work: floors.reportlab_alone(b.pictures(b.sizes()[1]), work / "plain.pdf"),
    "report 50": _report_of(0),
    "report 200": _report_of(1),
    "report 800": _report_of(2),
    "sign 44": lambda b, work: ours.sign(b.unsigned(0), work),
    "sign 586": lambda b, work: ours.sign(b.unsigned(1), work),
    "pyhanko 44": lambda b, work: floors.pyhanko_sign(b.unsigned(0), work, ours.document_key(work)),
    "pyhanko 586": lambda b, work: floors.pyhanko_sign(b.unsigned(1), work, ours.document_key(work)),
    "append": lambda _, work: floors.append_flushed(work),
    "events": lambda _, work: ours.events(work),
    "after 1e3": lambda _, work: trees.append_after(work, 1_000),
    "after 1e6": lambda _, work: trees.append_after(work, 1_000_000),
    "orm": lambda b, _: floors.orm_commit(cluster.empty_database(b.database)),
    "events postgresql": lambda b, work: ours.events(work, cluster.empty_database(b.database)),
    "flushes exhibits": lambda b, work: ours.flushes_of_exhibits((b.dossier(8), b.dossier(24)), work),
    "flushes events": lambda _, work: ours.flushes_of_events(work),
    "bulk": lambda _, work: trees.bulk(work),
    "orm bulk": lambda _, work: trees.orm_bulk(f"sqlite:///{work / 'plain.sqlite'}"),
    "bulk postgresql": lambda b, work: trees.bulk(work, cluster.empty_database(b.database)),
    "orm bulk postgresql": lambda b, _: trees.orm_bulk(cluster.empty_database(b.database)),
    "tree": lambda _, work: trees.tree(work),
    "leaf": lambda _, work: trees.leaf(work),
    "assess": lambda _, work: ours.assess(work),
    "assess many": lambda _, work: ours.assess_many(work),
    "assess 250": lambda _, work: ours.assess_many(work, 250),
    "assess 4000": lambda _, work: ours.assess_many(work, 4000),
    "register": lambda _, work: registers.told(work),
    "status": lambda _, work: matters.told(work),
    "status postgresql": lambda b, work: matters.told(work, cluster.empty_database(b.database)),
    "network 500": lambda _b, _w: times.network(times.SIZES[0]),
    "network 2000": lambda _b, _w: times.network(times.EVENTS),
    "network 8000": lambda _b, _w: times.network(times.SIZES[1]),
    "contradiction": lambda _b, _w: times.contradiction(times.EVENTS),
    "first plan": lambda _, work: ours.first_plan(work),
    "first plan, every": lambda _, work: ours.first_plan(work, every=True),
    "trace 2.5M": lambda _, work: traces.features(work, traces.SIZES[0]),
    "trace 10M": lambda _, work: traces.features(work, traces.SIZES[1]),
    "polars 10M": lambda _, work: traces.library(work, traces.SIZES[1]),
    "likeness": lambda _, work: pictures.query(work),
    "marks": lambda b, _: pictures.marks(b.pictures(b.photos)),
    "H": lambda b, _: received.hashing(b.folder),
    "folder, 1 thread": lambda b, _: received.checked(b.folder / "disclosure", 1),
    "folder, 2 threads": lambda b, _: received.checked(b.folder / "disclosure", 2),
    "folder, 1 thread, both": lambda b, _: received.checked(b.folder / "disclosure", 1, both=True),
    "folder, 2 threads, both": lambda b, _: received.checked(b.folder / "disclosure", 2, both=True),
    "zip, 1 thread": lambda b, _: received.checked(b.folder / "bundle.zip", 1),
    "zip, 2 threads": lambda b, _: received.checked(b.folder / "bundle.zip", 2),
    "quick": lambda b, _: received.checked(b.folder / "disclosure", 1, quick=True),
    "verify": lambda b, work: received.verified(b.folder / "bundle.zip", work),
    "bagit 1": lambda b, _: received.bagit_validates(b.folder / "disclosure", 1),
    "bagit 2": lambda b, _: received.bagit_validates(b.folder / "disclosure", 2),
    "bagit fast": lambda b, _: received.bagit_validates(b.folder / "disclosure", 1, fast=True),
    "sha256sum": lambda b, _: received.sha256sum_checks(b.folder / "disclosure"),
    "first byte": lambda b, _: received.to_first_byte(b.folder),
    "python": lambda _b, _w: received.python_start(),
    "version": lambda _b, _w: ours.start("--version"),
    "help": lambda _b, _w: ours.start("--help"),
}
OF_BUNDLES = {"H", "quick", "verify", "sha256sum", "first byte"}  # and all whose name says so
ONCE = {"after 1e6", "report 50", "report 800", "flushes exhibits", "flushes events"}  # counts and memory hardly vary


@dataclass(frozen=True)
class Target:
    """One line of the table."""

    number: str
    what: str
    ours: tuple[str, str]  # measure, figure
    floor: tuple[str, str] | None
    most: float
    unit: str = "s"
    exact: bool = False

    def line(self, found: Found) -> dict[str, object]:
        """The figures and whether they pass. What could not be measured is NaN, which passes nothing."""
        value = self._value(found, self.ours)
        floor = self._value(found, self.floor) if self.floor else None
        ratio = self._ratio(value, floor)
        met = math.isclose(ratio, self.most, abs_tol=0.051) if self.exact else ratio <= self.most
        return {
            "target": self.number, "what": self.what, "ours": value, "floor": floor, "unit": self.unit,
            "ratio": ratio if floor else None, "pass": self.most, "met": met,
        }  # fmt: skip

    def _ratio(self, value: float, floor: float | None) -> float:
        return value / floor if floor else value

    def _value(self, found: Found, where: tuple[str, str]) -> float:
        values = [one[where[1]] for one in found[where[0]]]
        return statistics.median(values) if values else math.nan


@dataclass(frozen=True)
class Growth(Target):
    """The exponent of a figure between two sizes: 0 is constant, 1 is proportional."""

    sizes: tuple[int, int] = (PDF_SIZES[0], PDF_SIZES[2])

    def _ratio(self, value: float, floor: float | None) -> float:
        assert floor
        return math.log(value / floor) / math.log(self.sizes[1] / self.sizes[0])


TARGETS: Sequence[Target] = (
    Target("1", "intake until acknowledged: hash, copy, flush, record (F)", ("intake", "acknowledged"), ("F", "seconds"), 1.0),
    Target("2", "intake with EXIF and previews (F)", ("intake", "seconds"), ("F", "seconds"), 4.5),
    Target("3", "EXIF of all photos (Pillow open + getexif)", ("exif", "seconds"), ("pillow exif", "seconds"), 2.0),
    Target("4", "bundle as a folder, all of it, 2 threads (H)", ("folder, 2 threads", "seconds"), ("H", "seconds"), 0.75),
    Target("4", "the same, 1 thread (H)", ("folder, 1 thread", "seconds"), ("H", "seconds"), 1.2),
    Target("5", "both lists of hashes, 1 worker (bagit)", ("folder, 1 thread, both", "seconds"), ("bagit 1", "seconds"), 1.0),
    Target("5", "both lists of hashes, 2 workers (bagit)", ("folder, 2 threads, both", "seconds"), ("bagit 2", "seconds"), 1.0),
    Target("6", "SHA-256 list, 1 thread (sha256sum -c), report only", ("folder, 1 thread", "seconds"), ("sha256sum", "seconds"), math.inf),
    Target("7", "bundle as a zip, 1 thread (H)", ("zip, 1 thread", "seconds"), ("H", "seconds"), 1.6),
    Target("7", "bundle as a zip, 2 threads (H)", ("zip, 2 threads", "seconds"), ("H", "seconds"), 0.9),
    Target("7", "with assessment and PDF, 2 threads (H), report only", ("verify", "seconds"), ("H", "seconds"), math.inf),
    Target("7", "peak memory of that", ("verify", "peak_mb"), None, 150, "MB"),
    Target("8", "quick check (bagit --fast)", ("quick", "seconds"), ("bagit fast", "seconds"), 2.0),
    Target("9", "stand-alone verifier, start to first byte (Python start)", ("first byte", "each"), ("python", "each"), 4.0, "ms"),
    Target("10", "first PDF, 200 photos at 1600 px (reportlab, 1 thread)", ("report 200", "seconds"), ("reportlab", "seconds"), 0.60),
    Target("11", "the same again, identical bytes (first PDF)", ("report 200", "again"), ("report 200", "seconds"), 0.10),
    Target("12", "peak memory of that (reportlab)", ("report 200", "peak_mb"), ("reportlab", "peak_mb"), 0.35, "MB"),
    Growth("12", "growth of peak memory, 50 to 800 photos (exponent)", ("report 800", "peak_mb"), ("report 50", "peak_mb"), 0.2, "MB"),
    Target("13", "sign and check 44 MB (pyHanko sign + validate)", ("sign 44", "seconds"), ("pyhanko 44", "seconds"), 1.2),
    Target("13", "sign and check 586 MB (pyHanko sign + validate)", ("sign 586", "seconds"), ("pyhanko 586", "seconds"), 1.2),
    Target("14", "one durable event, SQLite (append + fdatasync)", ("events", "each"), ("append", "each"), 4.0, "ms"),
    Target("14", "one durable event, PostgreSQL (ORM commit)", ("events postgresql", "each"), ("orm", "each"), 1.6, "ms"),
    Growth("14", "growth of that, after 1,000 and after 1,000,000 events (exponent)", ("after 1e6", "each"), ("after 1e3", "each"), 0.05, "ms", sizes=(1_000, 1_000_000)),
    Target("15", "flushes for each exhibit, without the commit", ("flushes exhibits", "each"), None, 3, ""),
    Target("15", "commits for each event", ("flushes events", "database"), None, 1, "", exact=True),
    Target("15", "head lines flushed for each event", ("flushes events", "head"), None, 1, "", exact=True),
    Target("15", "other flushes for each event", ("flushes events", "other"), None, 0, "", exact=True),
    Target("16", "50,000 events in one transaction, SQLite (ORM)", ("bulk", "seconds"), ("orm bulk", "seconds"), 2.0),
    Target("16", "the same, PostgreSQL (ORM)", ("bulk postgresql", "seconds"), ("orm bulk postgresql", "seconds"), 2.0),
    Target("17", "proof among 1,000,000 events: hashes", ("tree", "hashes"), None, 20, ""),
    Target("17", "the same as JSON, bytes", ("tree", "bytes"), None, 1800, "B"),
    Target("17", "made from what the database keeps", ("tree", "make"), None, 0.002, "ms"),
    Target("17", "checked", ("tree", "check"), None, 0.0001, "ms"),
    Target("18", "keeping the tree, for each event", ("tree", "append"), None, 0.00002, "ms"),
    Target("18", "tree of 1,000,000 made anew (plain, level by level)", ("tree", "seconds"), ("leaf", "seconds"), 1.5),
    Target("assess", "read, fold and assess 1,000 records, CPU", ("assess", "cpu"), None, 0.5),
    Target("assess", "1,000 records against every pack three times over (282 mechanisms), CPU", ("assess many", "cpu"), None, 0.3),
    Growth("assess", "growth of that, 250 to 4,000 records (exponent)", ("assess 4000", "cpu"), ("assess 250", "cpu"), 1.15, sizes=(250, 4000)),
    Target("register", "every table over 100,000 orders and 5,000 dossiers", ("register", "seconds"), None, 2.0),
    Target("register", "the same, CPU", ("register", "cpu"), None, 2.0),
    Target("register", "evidence comebacks over them as a command, start and imports included", ("register", "command"), None, 2.0),
    Target("register", "a table of 100,000 orders read, checked and taken in (once)", ("register", "import"), None, 10),
    Target("register", "a dossier judged for it, once after each change", ("register", "judging"), None, 0.1, "ms"),
    Target("status", "where 5,000 matters stand, from opening the workspace, SQLite", ("status", "seconds"), None, 1.0),
    Target("status", "the same, PostgreSQL", ("status postgresql", "seconds"), None, 1.0),
    Target("status", "evidence status of all, printed, CPU beyond that of one matter", ("status", "command"), None, 1.0),
    Target("status", "evidence status --json of all, CPU beyond that of one matter", ("status", "json"), None, 1.0),
    Target("status", "evidence status of one of them: start, imports and all, CPU, report only", ("status", "start"), None, math.inf),
    Target("time", "tightest spans of 2,000 events with their reasons, CPU", ("network 2000", "cpu"), None, 1.0),
    Growth("time", "growth of that, 500 to 8,000 events (exponent)", ("network 8000", "cpu"), ("network 500", "cpu"), 1.5, sizes=times.SIZES),
    Target("time", "2,000 events and a smallest contradicting set, CPU", ("contradiction", "cpu"), None, 1.0),
    Target("plan", "first plan from a complaint and a prior order, CPU", ("first plan", "cpu"), None, 1),
    Target("plan", "the same with every mechanism called up, CPU", ("first plan, every", "cpu"), None, 1),
    Target("traces", "10,000,000 rows of a waveform to features, CPU", ("trace 10M", "cpu"), None, 6.0),
    Target("traces", "the same, CPU (polars reads it whole, no more), report only", ("trace 10M", "cpu"), ("polars 10M", "cpu"), math.inf),
    Target("traces", "the same, peak memory of the process", ("trace 10M", "peak"), None, 500, "MB"),
    Growth("traces", "growth of the CPU time, 2.5 to 10 million rows (exponent)", ("trace 10M", "cpu"), ("trace 2.5M", "cpu"), 1.15, sizes=traces.SIZES),
    Growth("traces", "growth of the peak memory (exponent)", ("trace 10M", "peak"), ("trace 2.5M", "peak"), 0.15, "MB", sizes=traces.SIZES),
    Target("photos", "like pictures among 1,000,000, one query", ("likeness", "each"), None, 0.05, "ms"),
    Target("photos", "marks of a photo, as signs are computed", ("marks", "each"), None, 0.01, "ms"),
    Target("start", "evidence --version, CPU", ("version", "cpu"), None, 0.3),
    Target("start", "evidence --help, CPU", ("help", "cpu"), None, 0.3),
)  # fmt: skip


def needed(targets: Sequence[Target]) -> list[str]:
    """The measures behind ``targets``, each once, floors beside what stands against them."""
    named = [where[0] for t in targets for where in (t.floor, t.ours) if where]
    return list(dict.fromkeys(named))


def measure(bench: Bench, names: Sequence[str], rounds: int) -> Found:
    """All rounds; the parts take turns, so that a busy minute meets both sides."""
    found: Found = {name: [] for name in names}
    for round_ in range(rounds):
        for name in names:
            if round_ and name in ONCE:
                continue
            print(f"round {round_ + 1} of {rounds}: {name}", file=sys.stderr)
            found[name] += _in_own_process(bench, name)
    return found


def _in_own_process(bench: Bench, name: str) -> list[dict[str, float]]:
    """The result of one measure, made by a new interpreter; none where it failed (it has said why)."""
    given = {"folder": str(bench.folder), "photos": bench.photos, "small": bench.small, "database": bench.database}
    command = [sys.executable, __file__, "--part", name, json.dumps(given)]
    answer = subprocess.run(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    return [json.loads(answer.stdout.splitlines()[-1])] if answer.returncode == 0 else []


def _part(name: str, given: str) -> None:
    raw = json.loads(given)
    bench = Bench(Path(raw["folder"]), raw["photos"], raw["small"], raw["database"])
    with bench.empty() as work:
        print(json.dumps(MEASURES[name](bench, work)))


def machine(folder: Path) -> str:
    """One line on what this was measured on."""
    cpu = dict(
        re_line for line in Path("/proc/cpuinfo").read_text().splitlines() if len(re_line := line.split("\t: ")) == 2
    )
    family = next((v for k, v in cpu.items() if k.strip() == "cpu family"), "?")
    vendor = next((v for k, v in cpu.items() if k.strip() == "vendor_id"), platform.machine())
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    df = subprocess.run(["df", "--output=fstype", folder], check=True, capture_output=True, text=True)
    system = df.stdout.split()[-1]
    libraries = ", ".join(f"{name} {version(name)}" for name in ("Pillow", "reportlab", "pyHanko", "SQLAlchemy", "pydantic"))
    return (
        f"{os.cpu_count()} cores, {vendor} family {family}, {memory:.0f} GB, {system}, {platform.system()} "
        f"{platform.release()}, load {os.getloadavg()[0]:.1f}, Python {platform.python_version()}, {libraries}"
    )


def show(lines: Sequence[dict[str, object]]) -> Iterator[str]:
    """The table as text."""
    yield f"{'target':7} {'what':58} {'ours':>12} {'floor':>12} {'ratio':>7} {'pass':>7}  met"
    for line in lines:
        ours_, floor = (_figure(line[key], str(line["unit"])) for key in ("ours", "floor"))
        ratio = f"{line['ratio']:.2f}" if line["ratio"] is not None else "-"
        yield (
            f"{line['target']:7} {line['what']:58} {ours_:>12} {floor:>12} {ratio:>7} "
            f"{'= ' if line['pass'] in (0, 1) and not line['floor'] else '<= '}{line['pass']:<4g}  {'yes' if line['met'] else 'NO'}"
        )


def _notes(found: Found) -> Iterator[str]:
    """What the table alone would leave out."""
    if found.get("assess"):
        first = {k: statistics.median(one[k] for one in found["assess"]) for k in ("importing", "loading")}
        yield (
            f"assess: before that, CPU for imports {first['importing']:.2f} s, for vocabulary and packs {first['loading']:.2f} s"
        )
    if found.get("events") and found.get("append"):
        ours_, floor = (statistics.median(one["each"] for one in found[name]) for name in ("events", "append"))
        cpu = statistics.median(one["cpu"] for one in found["events"])
        yield (
            f"14: an event is flushed twice (commit, head line): against two appends {ours_ / floor / 2:.2f}; "
            f"processor time of an event {cpu * 1000:.2f} ms"
        )


def _figure(value: object, unit: str) -> str:
    if value is None:
        return "-"
    number = float(value) * 1000 if unit == "ms" else float(value)  # type: ignore[arg-type]
    return f"{number:.3g} {unit}".strip() if number < 1000 else f"{number:.0f} {unit}"


def main() -> int:
    """Parse, run, print; 0 when every target is met."""
    if sys.argv[1:2] == ["--part"]:
        _part(*sys.argv[2:4])
        return 0
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--photos", type=int, default=500, help="photos of the intake (default 500, about 3 MB each)")
    parser.add_argument("--rounds", type=int, default=5, help="rounds of which the median counts (default 5)")
    parser.add_argument("--only", default="", help="targets, such as 1,2,14,assess,start")
    parser.add_argument(
        "--folder", type=Path, help="where to work: a folder on the disk to measure (default: the system's)"
    )
    parser.add_argument(
        "--small", action="store_true", help="tiny pictures, to try the scripts; the figures mean nothing"
    )
    parser.add_argument("--out", type=Path, help="write everything measured to this JSON file as well")
    asked = parser.parse_args()
    only = set(filter(None, asked.only.split(",")))
    targets = [t for t in TARGETS if not only or t.number in only]
    names = needed(targets)
    folder = Path(tempfile.mkdtemp(prefix="evidence-bench-", dir=asked.folder))
    try:
        folder.chmod(0o711)  # the database server is another user
        bench = Bench(folder, asked.photos, asked.small)
        _prepare(bench, names)
        print(machine(folder))
        with _database(bench, names):
            found = measure(bench, names, asked.rounds)
    finally:
        shutil.rmtree(folder)
    lines = [target.line(found) for target in targets]
    print("\n".join(show(lines)))
    print("\n".join(_notes(found)))
    if asked.out:
        asked.out.write_text(json.dumps({"lines": lines, "found": found}, indent=1))
    return 0 if all(line["met"] for line in lines) else 1


def _prepare(bench: Bench, names: Sequence[str]) -> None:
    """Make the corpus once, as large as anything needs it."""
    of_bundles = any(name in OF_BUNDLES or name.startswith(("folder,", "zip,", "bagit")) for name in names)
    most = {
        "F": bench.photos,
        "pillow exif": bench.photos,
        "reportlab": bench.sizes()[1],
        "report 800": bench.sizes()[2],
        "report 200": bench.sizes()[1],
        "sign 44": bench.attached(0),
        "sign 586": bench.attached(1),
    }
    wanted = max([most.get(name, 24) for name in names])
    if any(name in most or name == "flushes exhibits" for name in names):
        print(f"making {wanted} photos", file=sys.stderr)
        corpus.make_photos(bench.folder / "corpus", wanted, small=bench.small)
        for count in {bench.photos, 8, 24, *bench.sizes()} - {0}:
            if count <= wanted:
                bench.dossier(count)
    if of_bundles:
        print("making a bundle", file=sys.stderr)
        if not (bench.folder / "corpus").exists():
            corpus.make_photos(bench.folder / "corpus", bench.photos, small=bench.small)
        received.make_bundles(bench.dossier(bench.photos), bench.folder)


@contextmanager
def _database(bench: Bench, names: Sequence[str]) -> Iterator[None]:
    if not any(name.endswith("postgresql") for name in names):
        yield
        return
    with cluster.cluster(bench.folder / "cluster") as url:
        bench.database = url
        yield


if __name__ == "__main__":
    sys.exit(main())

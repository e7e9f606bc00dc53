"""What is measured of the project. Every function runs in a process of its own and works on a new workspace."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import re
import shutil
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from corpus import first_folder, record_folder
from timing import EVENTS, each, peak_mb, timed, warm

if TYPE_CHECKING:
    from evidence.ports import DocumentKey


def _silent(_stage: str, _done: int, _of: int) -> None:
    """Nobody watches."""


def make_measured_workspace(work: Path, database: str = "") -> Path:
    """A new workspace in ``work``."""
    from evidence.bootstrap import make_workspace

    folder = work / "workspace"
    make_workspace(folder, recorder="Marta Quill", zone="Europe/Lisbon", postgresql=database)
    return folder


def intake(folder: Path, work: Path) -> dict[str, float]:
    """A dossier folder: until everything in it is durable and acknowledged, and until its previews are made."""
    from evidence.bootstrap import open_desk
    from evidence.capture.sources import open_handed
    from evidence.usecases.intake import Answers, intake_folder

    workspace = make_measured_workspace(work)
    acknowledged: list[float] = []

    def progress(stage: str, done: int, of: int) -> None:
        if stage == "previews" and not acknowledged:  # told once, when the entries are committed and the head is noted
            acknowledged.append(time.perf_counter())

    with open_desk(workspace) as desk:
        warm(p for p in folder.rglob("*") if p.is_file())
        begun = time.perf_counter()
        with timed() as found:
            result = intake_folder(desk, open_handed(folder), Answers(), progress)
    photos = len(list(folder.glob("photos/*")))
    assert len(result.recorded) >= photos, f"{photos} photos, {len(result.recorded)} records"
    return {**found, "acknowledged": acknowledged[0] - begun, "recorded": len(result.recorded)}


def exif(photos: list[Path]) -> dict[str, float]:
    """The facts of every photo, as an intake reads them."""
    from evidence.capture.reading import read_file

    read_file(photos[0], photos[0].name)
    warm(photos)
    with timed() as found:
        facts = [read_file(photo, photo.name) for photo in photos]
    assert all(f.width for f in facts)
    return found


def report(folder: Path, work: Path) -> dict[str, float]:
    """The first PDF of a dossier of photos: pictures made ready for printing, pages, file, check, signature; a key is
    made for it. Then the same again, by a newly opened workspace. Intake is not counted.
    """
    from evidence.bootstrap import open_desk
    from evidence.publishing import ReportOptions, write_report

    workspace = work / "workspace"
    subprocess.run([sys.executable, __file__, "intake", str(folder), str(work)], check=True, stdout=subprocess.DEVNULL)
    for preview in (workspace / "previews").rglob("*-print.jpg"):
        preview.unlink()  # the first build makes them; those for the screen are the intake's
    out, again = work / "report.pdf", work / "again.pdf"
    name = folder_name(folder)
    with open_desk(workspace) as desk:
        warm((workspace / "originals").rglob("*/*"))
        with timed() as found:
            made = write_report(desk, workspace, name, out, ReportOptions(), _silent)
    peak = peak_mb()
    os.sync()
    with open_desk(workspace) as desk, timed() as second:
        write_report(desk, workspace, name, again, ReportOptions(), _silent)
    assert made.signed_by, "not signed"
    assert again.read_bytes() == out.read_bytes(), "not the same file"
    return {
        **found, "again": second["seconds"], "peak_mb": peak, "megabytes": out.stat().st_size / 1e6, "pages": made.pages,
    }  # fmt: skip


def sign(unsigned: Path, work: Path) -> dict[str, float]:
    """A PDF signed in its place and checked, by the library and by the own lines; the hash that is taken while a file is
    written is counted too.
    """
    import pyhanko.pdf_utils.incremental_writer
    import pyhanko.sign.signers
    import pyhanko.sign.validation  # noqa: F401 - imports count on neither side
    from evidence.report.sealing import seal

    key = document_key(work)
    size, digest = _hashed(unsigned)
    out = work / "signed.pdf"
    shutil.copy(unsigned, out)
    warm([out])
    with out.open("r+b") as stream, timed() as found:
        _hashed(out)
        seal(stream, size, digest, key)
    return found


def _hashed(path: Path) -> tuple[int, str]:
    with path.open("rb") as stream:
        return path.stat().st_size, hashlib.file_digest(stream, "sha256").hexdigest()


def document_key(work: Path) -> DocumentKey:
    """A key for PDFs, as a workspace makes it."""
    from evidence.edges.document_key import DocumentKeyFile
    from evidence.edges.system import SystemClock
    from evidence.ports import Recorder

    key = DocumentKeyFile(work / "keys", Recorder(full_name="Marta Quill"), SystemClock().now).open()
    assert key, "the key is locked"
    return key


def unsigned_report(photos: list[Path], out: Path) -> Path:
    """A PDF as the report writes it, with photos attached as they are."""
    from evidence.report.archive import Attachment, file_chunks
    from evidence.report.streaming import ReportCanvas

    at = dt.datetime(2026, 3, 12, tzinfo=dt.UTC)
    with out.open("wb") as stream:
        canvas = ReportCanvas(stream, pagesize=(595, 842))
        canvas.dated(at)
        canvas.attachments = [
            Attachment(name=p.name, description=p.name, media="image/jpeg", relationship="Source", at=at,
                       chunks=file_chunks(p), packed=False)
            for p in photos
        ]  # fmt: skip
        canvas.drawString(60, 700, "Measured")
        canvas.save()
    return out


def folder_name(folder: Path) -> str:
    """The short name of the dossier in a folder."""
    return re.search(r"^dossier: (\S+)$", (folder / "dossier.yaml").read_text(), re.MULTILINE)[1]


def event(number: int) -> dict[str, str]:
    """An event as a person enters it."""
    return {
        "what": "other",
        "text": f"Customer called again, call {number}",
        "time": "2026-03-02 10:00",
        "basis": "told",
    }


def events(work: Path, database: str = "", count: int = EVENTS) -> dict[str, float]:
    """Events recorded one by one through the service layer, each durable before the next."""
    from evidence.bootstrap import open_desk
    from evidence.usecases.record import open_dossier, record_one

    workspace = make_measured_workspace(work, database)
    with open_desk(workspace) as desk:
        open_dossier(desk, {"title": "Measured", "name": "measured"})
        for number in range(20):  # what is read once and kept: vocabulary, compiled statements
            record_one(desk, "measured", "event", event(number))
        return each(count, lambda number: record_one(desk, "measured", "event", event(number)))


def assess(work: Path, records: int = 1000) -> dict[str, float]:
    """A dossier of many records: processor time to import, to load the rules, and to read, fold and assess."""
    folder = record_folder(work / "folder", records)
    subprocess.run([sys.executable, __file__, "intake", str(folder), str(work)], check=True, stdout=subprocess.DEVNULL)
    with timed() as importing:
        from evidence.bootstrap import open_desk
        from evidence.usecases.assess import assess_dossier
    with open_desk(work / "workspace") as desk:
        with timed() as loading:
            desk.packs(), desk.vocabulary()
        with timed() as found:
            result = assess_dossier(desk, folder_name(folder))
    assert result.entries >= records
    return {"cpu": found["cpu"], "importing": importing["cpu"], "loading": loading["cpu"]}


def assess_many(work: Path, records: int = 1000, times: int = 3) -> dict[str, float]:
    """Processor time to assess a dossier of many records by every pack ``times`` over, under other names: nearly 300 mechanisms."""
    folder = record_folder(work / "folder", records)
    subprocess.run([sys.executable, __file__, "intake", str(folder), str(work)], check=True, stdout=subprocess.DEVNULL)
    from evidence.bootstrap import open_desk
    from evidence.rules.assess import assess as judged
    from evidence.usecases.pen import need, read_dossier

    with open_desk(work / "workspace") as desk, desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, folder_name(folder)))
        packs, vocabulary = desk.packs(), desk.vocabulary()
    many = [
        p.model_copy(update={"id": f"{p.id}-{n}", "mechanisms": tuple(
            m.model_copy(update={"id": f"{m.id}-{n}"}) for m in p.mechanisms)})
        for n in range(times) for p in packs
    ]  # fmt: skip
    with timed() as found:
        result = judged(held, many, vocabulary)
    assert result.candidates
    assert len(result.candidates) % times == 0
    return {**found, "mechanisms": sum(len(p.mechanisms) for p in many), "called": len(result.candidates)}


def first_plan(work: Path, *, every: bool = False) -> dict[str, float]:
    """Processor time of the first capture plan, from a complaint and a prior work order alone; ``every``: one that calls up
    every mechanism of the packs at once.
    """
    from evidence.bootstrap import rules_of

    tags, operations = ["crank-no-start"], ["cylinder-head"]
    if every:
        entries = [m for pack in rules_of(None)[1] for m in pack.mechanisms]
        tags = sorted({t for m in entries for t in m.complaints})
        operations = sorted({o for m in entries for o in m.prior_operations} - {"any-operation"})
    folder = first_folder(work / "folder", tags, operations)
    subprocess.run([sys.executable, __file__, "intake", str(folder), str(work)], check=True, stdout=subprocess.DEVNULL)
    from evidence.bootstrap import open_desk
    from evidence.usecases.plan import plan_dossier

    with open_desk(work / "workspace") as desk:
        desk.packs(), desk.vocabulary()
        with timed() as found:
            plan = plan_dossier(desk, "first-call").plan
    assert plan.matters, plan.verdict
    assert plan.steps[0].place == 1
    return {**found, "explanations": len(plan.explanations), "steps": len(plan.steps)}


def start(*arguments: str) -> dict[str, float]:
    """Processor time of a command that only answers."""
    with timed() as found:
        subprocess.run([sys.executable, "-m", "evidence.cli.main", *arguments], check=True, stdout=subprocess.DEVNULL)
    return found


_FLUSH = re.compile(r"\b(fsync|fdatasync|msync|sync_file_range|syncfs)\(\d+<([^>]*)>")


def flushes(work: Path, arguments: list[str]) -> Counter[str]:
    """Flushes of one run of this file by what they were of, counted by strace."""
    trace = work / "trace"
    command = ["strace", "-f", "-y", "-e", "trace=fsync,fdatasync,msync,sync_file_range,syncfs", "-o", str(trace)]
    subprocess.run([*command, sys.executable, __file__, *arguments], check=True, stdout=subprocess.DEVNULL)
    found: Counter[str] = Counter()
    for _call, path in _FLUSH.findall(trace.read_text()):
        found[_what(Path(path))] += 1
    return found


def _what(path: Path) -> str:
    if path.name == "heads.log":
        return "head line"
    if path.name.startswith("record.sqlite"):
        return "database"
    return "originals" if "originals" in path.parts else "other"


def flushes_of_exhibits(folders: tuple[Path, Path], work: Path) -> dict[str, float]:
    """Flushes of an intake: for each exhibit, and for the transaction. Two sizes are compared."""
    few, many = (_flushes_of(work, n, ["intake", str(folder)]) for n, folder in enumerate(folders))
    photos = [len(list((folder / "photos").iterdir())) for folder in folders]
    more = photos[1] - photos[0]
    return {
        "each": (many.total() - few.total()) / more,
        "each_originals": (many["originals"] - few["originals"]) / more,
        "commit": many["database"] - few["database"],
        "head": many["head line"] - few["head line"],
    }


def flushes_of_events(work: Path) -> dict[str, float]:
    """Flushes of one event. Two numbers of events are compared, so that opening does not count."""
    few, many = (_flushes_of(work, n, ["events"], str(count)) for n, count in enumerate((10, 30)))
    return {
        "database": (many["database"] - few["database"]) / 20,
        "head": (many["head line"] - few["head line"]) / 20,
        "other": (many["originals"] + many["other"] - few["originals"] - few["other"]) / 20,
    }


def _flushes_of(work: Path, run: int, arguments: list[str], *more: str) -> Counter[str]:
    here = work / f"run-{run}"
    here.mkdir()
    return flushes(here, [*arguments, str(here), *more])


if __name__ == "__main__":  # a run of its own, for the functions above that need one
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    match sys.argv[1:]:
        case ["intake", folder, work]:
            intake(Path(folder), Path(work))
        case ["events", work, count]:
            events(Path(work), count=int(count))

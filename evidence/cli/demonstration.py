"""The whole job on the demonstration dossiers, step by step, as a shop would run it by hand."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.cli.comebacks import take_in
from evidence.errors import EvidenceError, NotFound
from evidence.model.base import nearest
from evidence.ports import Desk, Progress
from evidence.publishing import ReportOptions, write_report
from evidence.report.phrasing import to_owner
from evidence.usecases.assess import assess_dossier
from evidence.usecases.intake import Answers, intake_folder


def run_demo(folder: Path, which: str, progress: Progress) -> Iterator[str]:
    """Make a workspace in ``folder`` with one or all demonstration dossiers and their PDFs; yields what was done."""
    known = demo_dossiers()
    if which and which not in known:
        raise NotFound(f"no such demonstration dossier{nearest(which, known)}", item=which)
    if folder.exists() and any(folder.iterdir()):
        raise EvidenceError("this folder is not empty", item=str(folder), advice="Name a new folder: evidence demo DIR")
    make_workspace(folder, recorder="Demonstration", firm="an invented shop", zone="UTC")
    for places in {source.parent / "places" for source in known.values()}:
        shutil.copytree(places, folder / "places")
    yield f"workspace {folder}: made (everything in it is invented)"
    with open_desk(folder) as desk:
        for name, source in known.items():
            if which and name != which:
                continue
            handed = folder / "handed-in" / name
            shutil.copytree(source, handed)
            result = intake_folder(desk, open_handed(handed), Answers(), progress)
            yield f"{name}: {len(result.recorded)} records taken in from {handed}"
            best = assess_dossier(desk, name).candidates[:1]
            for candidate in best:
                yield f"  {to_owner(candidate.conclusion, candidate, 110)}"
            pdf = folder / f"{name}.pdf"
            made = write_report(desk, folder, name, pdf, ReportOptions(), progress)
            yield f"  PDF: {pdf} ({made.pages} pages, {made.exhibits} exhibits)"
        if not which:
            yield _own_orders(desk, folder)
    yield f"Go on with: evidence --workspace {folder} dossiers"


def _own_orders(desk: Desk, folder: Path) -> str:
    """The shop's own table of orders, for the register of comebacks."""
    source = next(iter(demo_dossiers().values())).parent / "own-orders"
    handed = folder / "handed-in" / "own-orders"
    shutil.copytree(source, handed)
    taken, _ = take_in(desk, handed / "orders.csv", handed / "mapping.yaml")
    return f"own-orders: {taken.orders} orders, {taken.comebacks} of them comebacks, taken in from {handed}"

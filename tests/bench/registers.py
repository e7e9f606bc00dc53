"""The comeback register at full size: 100,000 work orders and 5,000 dossiers."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import random
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from ours import _silent, make_measured_workspace
from timing import timed

ORDERS, DOSSIERS, JUDGED = 100_000, 5_000, 20
_OPERATIONS = ("valve-cover", "spark-plug", "oil-service", "brake-pads-discs", "clutch", "tyres", "timing-belt", "coolant-fill")
_MAPPING = b"""format: 1
currency: EUR
columns: {number: Job, closed: Done, vehicle: Plate, operations: Work, technician: By, part_origin: Part, odometer: Km, comeback_of: Redoes, cost: Cost}
"""


def table(count: int) -> bytes:
    """A shop's table of ``count`` orders over ten years, every thirtieth a comeback of an earlier one."""
    rng = random.Random(5)
    lines = ["Job,Done,Plate,Work,By,Part,Km,Redoes,Cost"]
    first = dt.date(2016, 1, 4)
    for n in range(1, count + 1):
        redoes = n - rng.randrange(1, 200) if n % 30 == 0 and n > 200 else 0
        day = first + dt.timedelta(days=n * 3650 // count)
        of = redoes or n
        lines.append(
            f"{n},{day},P{of % 9000},{_OPERATIONS[of % 8]},T{of % 11},{('maker_new', 'other_new', 'used')[of % 3]},"
            f"{20_000 + n},{redoes or ''},{'%.2f' % (40 + n % 700) if redoes else ''}"
        )
    return "\n".join(lines).encode()


def filled(work: Path) -> Path:
    """A workspace with the table and the dossiers, each with what makes a comeback; all but a few known as judged already.

    Dossiers are written past the use cases: their making is measured elsewhere.
    """
    from evidence.bootstrap import open_desk
    from evidence.capture.order_table import read_mapping, read_orders
    from evidence.register.batches import Batch, Content, body_of
    from evidence.register.lines import Comeback
    from evidence.usecases.comebacks import take_table
    from evidence.usecases.record import open_dossier, record_one

    workspace = make_measured_workspace(work)
    with open_desk(workspace) as desk:
        raw = table(ORDERS)
        begun = time.perf_counter()
        read = read_orders(raw, "orders.csv", read_mapping(_MAPPING, "m.yaml"), "import 1")
        batch = Batch(number=1, sort="table", made_at="", made_by="", file="orders.csv")
        take_table(desk, batch, Content(raw=raw, mapping=_MAPPING, rows=read.rows), read.mistakes)
        (work / "import").write_text(str(time.perf_counter() - begun))
        for n in range(JUDGED):
            name = f"van-{n}"
            open_dossier(desk, {"title": f"Van {n}", "name": name})
            record_one(desk, name, "party", {"full_name": "Kai Rook", "firm": "Vell Motors", "roles": ["prior_repairer"]})
            order: dict[str, Any] = {"side": "prior_repairer", "number": f"R {n}", "repairer": "party 2", "closed": "2025-03-05", "operations": [{"operation": "valve-cover", "text": "valve cover"}]}
            record_one(desk, name, "work_order", order)
            record_one(desk, name, "work_order", {**order, "side": "present_repairer", "repairer": "party 1", "closed": "2025-04-05", "opened": "2025-04-01"})
            record_one(desk, name, "loss_item", {"head": "towing", "nature": "incidental", "text": "Tow", "amount": "95.00 EUR", "status": "paid"})
        day = dt.date(2025, 4, 1).toordinal()
        rows, said = [], {}
        for n in range(DOSSIERS - JUDGED):
            ledger, leaf = hashlib.sha256(b"%d" % n).hexdigest()[:26], hashlib.sha256(b"leaf %d" % n).hexdigest()
            rows.append((ledger, f"car-{n}", leaf))
            came = Comeback(f"dossier car-{n}", firm=f"Firm {n % 40}", number=str(n), vehicle=f"X{n}", operations=(_OPERATIONS[n % 8],), worked=day - n % 300, back=day, currency="EUR", mechanism="ign-coil-ground-left-off")
            said[ledger, leaf] = body_of(came)
        desk.book.keep_said(desk.judged_by(), said)
    _list_dossiers(workspace, rows)
    return workspace


def _list_dossiers(workspace: Path, rows: list[tuple[str, str, str]]) -> None:
    from evidence.bootstrap import _url
    from evidence.store import database, tables
    from sqlalchemy import insert

    engine = database.open_engine(_url(workspace))
    with engine.begin() as db:
        fixed = {"title": "Car", "opened_at": "2025-04-01T00:00:00Z", "demonstration": False, "vehicle": "a car"}
        db.execute(insert(tables.dossiers), [{**fixed, "ledger": ledger, "name": name} for ledger, name, _ in rows])
        state = {"size": 12, "frontier": b"", "counts": "{}", "changed_at": "2025-04-01T00:00:00Z"}
        db.execute(insert(tables.ledgers), [{**state, "ledger": ledger, "last_leaf": leaf} for ledger, _, leaf in rows])
    engine.dispose()


def installed(work: Path) -> dict[str, str]:
    """The environment of a command that runs as one that is installed: compiled once."""
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return env | {"PYTHONPATH": str(Path(__file__).resolve().parents[2]), "PYTHONPYCACHEPREFIX": str(work / "compiled")}


def told(work: Path) -> dict[str, float]:
    """Every table of the register, from opening the workspace; and, apart, what is done once: the import and a dossier judged."""
    import scipy.stats  # noqa: F401  (what the import costs is in the row of the command)
    from evidence.bootstrap import open_desk
    from evidence.usecases.comeback_views import paper_views
    from evidence.usecases.comebacks import counted

    workspace = filled(work)
    day = dt.date(2026, 1, 31)
    with open_desk(workspace) as desk, timed() as first:
        desk.packs()
        found = counted(desk, day, _silent)
    assert found.judged == JUDGED
    env = installed(work)
    command = [sys.executable, "-m", "evidence.cli.main", "-w", str(workspace), "comebacks", "--on", day.isoformat()]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=env)
    with timed() as whole:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=env)
    with timed() as measured, open_desk(workspace) as desk:
        again = counted(desk, day, _silent)
        views = paper_views(desk, again.held, names=False)
    assert again.judged == 0
    assert (len(again.held.orders), again.dossiers) == (ORDERS, DOSSIERS)
    assert all(v.rows for v in views)
    return {**measured, "command": whole["seconds"], "import": float((work / "import").read_text()), "judging": first["seconds"] / JUDGED}

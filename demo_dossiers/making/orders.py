"""A shop's own table of work orders, as its order program might write it: two years, every order invented, a few of them comebacks."""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
from pathlib import Path

HEADING = ["Auftrag", "Fertig am", "Kennzeichen", "Arbeit", "Monteur", "Teile", "km", "Nacharbeit zu", "Grund", "Kosten"]
FIRST, DAYS, ORDERS, VEHICLES = dt.date(2024, 7, 1), 715, 330, 140
MECHANICS = ("Ansel Brook", "Dita Marren", "Pell Oswin", "Rune Tarvik")
PARTS = ("Original", "Zubehör", "gebraucht", "")
# The table's own words for the work, how many of a hundred orders are of it, and what of it came back: reason, cost, chance.
WORK = {
    "Ölwechsel": (33, (("Ablassschraube undicht", 85.5, 0.03), ("Dichtring doppelt", 310.0, 0.01))),
    "Ventildeckeldichtung": (15, (("Masse Zündspulen lose", 184.0, 0.17), ("Öl im Kerzenschacht", 96.0, 0.03))),
    "Bremsbeläge vorn": (17, (("Rost unter Scheibe", 142.0, 0.05),)),
    "Räderwechsel": (19, (("Radmuttern nicht nachgezogen", 38.0, 0.03),)),
    "Kühlmittel": (9, (("nicht entlüftet", 74.25, 0.08),)),
    "Anlasser": (7, (("Kabelschuh lose", 61.0, 0.05),)),
}  # fmt: skip


def rows() -> list[list[str]]:
    """The rows of the table without its heading; the same on every machine, for only plain draws are used."""
    rng = random.Random(2026)
    kinds = [kind for kind, (share, _) in WORK.items() for _ in range(share)]
    found: list[list[str]] = []
    due: list[tuple[dt.date, list[str]]] = []
    for n in range(ORDERS):
        day = FIRST + dt.timedelta(days=n * DAYS // ORDERS)
        due.sort(key=lambda pair: pair[0])
        while due and due[0][0] <= day:
            found.append([_number(len(found)), *due.pop(0)[1]])
        vehicle, kind = int(rng.random() * VEHICLES), kinds[int(rng.random() * len(kinds))]
        work = kind if rng.random() < 0.85 else f"{kind} + Probefahrt"
        who, part = MECHANICS[int(rng.random() ** 1.4 * 4)], PARTS[int(rng.random() ** 2 * 4)]
        km = 20_000 + vehicle * 811 + (day - FIRST).days * (20 + vehicle % 37)
        number = _number(len(found))
        found.append([number, _day(day), _plate(vehicle), work, who, part, _km(km), "", "", ""])
        for reason, cost, chance in WORK[kind][1]:
            if rng.random() < chance:
                later = 2 + int(120 * rng.random() ** 2)
                back, driven = day + dt.timedelta(days=later), km + later * (20 + vehicle % 37)
                money = f"{cost * (0.8 + 0.5 * rng.random()):.2f}".replace(".", ",")
                redone = [_day(back), _plate(vehicle), "Nacharbeit", MECHANICS[int(rng.random() * 4)], "", _km(driven), number, reason, money]
                due.append((back, redone))
    return found


def _number(n: int) -> str:
    return f"DEMO-{n + 1:04}"


def _day(day: dt.date) -> str:
    return f"{day:%d.%m.%Y}"


def _plate(vehicle: int) -> str:
    return f"DM {chr(65 + vehicle % 26)}{chr(65 + vehicle // 26)} {100 + vehicle}"


def _km(km: int) -> str:
    return f"{km:,}".replace(",", ".")


def make(folder: Path) -> None:
    """Write ``orders.csv`` as such a program would: semicolons, comma for decimals, windows-1252."""
    folder.mkdir(parents=True, exist_ok=True)
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\r\n").writerows([HEADING, *rows()])
    (folder / "orders.csv").write_bytes(out.getvalue().encode("cp1252"))

"""The comebacks as plain rows for other programs; names of firms, technicians, vehicles and dossiers only where wanted."""

from __future__ import annotations

from typing import Final

from evidence.register.figures import Register
from evidence.register.lines import Comeback
from evidence.register.views import Names

# Column -> how it is typed in a Parquet file. Money is text in plain decimals: no floating point touches it.
COLUMNS: Final[dict[str, str]] = {
    "source": "text", "firm": "text", "technician": "text", "order": "text", "operations": "text", "part_origins": "text",
    "work_day": "day", "back_day": "day", "days": "whole", "km": "whole", "mechanism": "text", "cost": "text", "currency": "text",
    "recovered": "text", "ended": "text",
}  # fmt: skip
NAMED: Final[dict[str, str]] = {"vehicle": "text"}  # further columns with names


def export_rows(held: Register, *, names: bool) -> tuple[dict[str, str], list[dict[str, str | int | None]]]:
    """Columns with their types, and a row for each comeback, the latest first; what is not stated is ``None``.

    Without ``names``, firms and technicians are numbered and the numbers of orders are left out with them.
    """
    called = Names(held, shown=names)
    columns = {k: v for k, v in (COLUMNS | (NAMED if names else {})).items() if names or k != "order"}
    ordered = sorted(held.comebacks, key=lambda c: (-(c.back or 0), c.source))
    return columns, [{k: v for k, v in _row(c, called).items() if k in columns} for c in ordered]


def _row(c: Comeback, called: Names) -> dict[str, str | int | None]:
    return {
        "source": called.source(c.source), "firm": called.firm(c.firm), "technician": called.technician(c.technician) or None,
        "order": c.number or None, "operations": "; ".join(c.operations) or None, "part_origins": "; ".join(c.origins) or None,
        "work_day": c.worked, "back_day": c.back, "days": c.days, "km": c.distance, "mechanism": c.mechanism or None,
        "cost": None if c.cost is None else f"{c.cost:f}", "currency": c.currency or None,
        "recovered": None if c.recovered is None else f"{c.recovered:f}", "ended": c.ended or None, "vehicle": c.vehicle or None,
    }  # fmt: skip

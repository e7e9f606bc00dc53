"""Files of the register: its cards as text, and its rows as CSV or Parquet; each appears whole or not at all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from evidence.errors import EvidenceError
from evidence.report.writing import whole_file


def write_text(text: str, out: Path) -> None:
    """Write plain text, UTF-8."""
    with whole_file(out) as stream:
        stream.write(text.encode())


def write_rows(columns: Mapping[str, str], rows: Sequence[Mapping[str, Any]], out: Path) -> None:
    """Rows by the ending of the name, ``.csv`` or ``.parquet``. Days are ordinals in ``rows`` and dates in the file.

    A CSV cell that a spreadsheet would run as a formula is written behind an apostrophe.
    """
    import polars as pl

    kinds: dict[str, Any] = {"text": pl.String, "whole": pl.Int64, "day": pl.Date}
    days = [name for name, kind in columns.items() if kind == "day"]
    held = [{**row, **{d: row[d] and dt.date.fromordinal(row[d]) for d in days}} for row in rows]
    frame = pl.DataFrame(held, schema={name: kinds[kind] for name, kind in columns.items()})
    ending = out.suffix.lower()
    if ending not in (".csv", ".parquet"):
        raise EvidenceError("is written by the ending of its name: .csv or .parquet", item=str(out))
    with whole_file(out) as stream:
        if ending == ".parquet":
            frame.write_parquet(stream)
        else:
            text = [n for n, kind in columns.items() if kind == "text"]
            guarded = frame.with_columns(pl.col(text).str.replace(r"^([=+\-@\t\r])", "'$1"))
            guarded.write_csv(stream)

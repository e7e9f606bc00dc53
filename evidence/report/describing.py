"""What a drawing shows, in words: for who cannot see it."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.model.when import TimeSpan
from evidence.report.blocks import Happening, Matrix, Plot, Reach
from evidence.report.curve_marks import marks_words
from evidence.report.figures import three_digits


def timeline_words(happenings: Sequence[Happening]) -> str:
    """Every bar in its order with its day, then the arrows."""
    days = [f"{h.span.earliest:%Y-%m-%d}" for h in happenings] + [f"{h.span.latest:%Y-%m-%d}" for h in happenings]
    here = {h.key for h in happenings}
    arrows = [f"{cause} to {h.key}" for h in happenings for cause in h.causes if cause in here]
    bars = "; ".join(f"{h.key}, {_days(h.span)}" for h in happenings)
    led = f" Arrows lead from {enumerated_text(arrows)}." if arrows else ""
    count = "one bar" if len(happenings) == 1 else f"{len(happenings)} bars"
    return f"Timeline from {min(days)} to {max(days)} with {count}, from top to bottom: {bars}.{led}"


def _days(span: TimeSpan) -> str:
    first, last = f"{span.earliest:%Y-%m-%d}", f"{span.latest:%Y-%m-%d}"
    return first if first == last else f"{first} to {last}"


def enumerated_text(items: Sequence[str]) -> str:
    """``a, b and c``."""
    return " and ".join(filter(None, (", ".join(items[:-1]), items[-1]))) if items else ""


def plot_words(plot: Plot) -> str:
    """Each curve with the range of its values, over which time."""
    span = f"{three_digits(plot.times[0])} to {three_digits(plot.times[-1])} {plot.time_unit}"
    curves = "; ".join(
        f"{p.name} between {three_digits(min(p.low))} and {three_digits(max(p.high))} {p.unit}" for p in plot.panels
    )
    count = "one curve" if len(plot.panels) == 1 else f"{len(plot.panels)} curves"
    return f"Plot of {count} over time, {span}: {curves}.{marks_words(plot)}"


def matrix_words(block: Matrix) -> str:
    """Each line with its stretches, after what bounds the window."""
    good = (
        f"{block.good[0]}, which shows the part in order, {_days(block.good[1])}" if block.good else "an unknown time"
    )
    lines = "; ".join(_line_words(r) for r in block.rows)
    until = f"{block.bad[0]}, which shows it otherwise, {_days(block.bad[1])}"
    return f"Matrix of who had the vehicle from {good}, to {until}. From top to bottom: {lines}."


def _line_words(row: Reach) -> str:
    surely = enumerated_text([_days(s) for s in row.sure]) or "at no time"
    maybe = enumerated_text([_days(s) for s in row.possible]) or "at no time"
    worked = f", worked on the part {enumerated_text([_days(s) for s in row.work])}" if row.work else ""
    return f"{row.name}, surely {surely}, possibly {maybe}{worked}, {'open' if row.open else 'not open'}"

"""The waveforms: each trace drawn with its marks, its channels, and what was read from it, by a person or by the program."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.dossier import Recorded
from evidence.model.exhibit import Exhibit
from evidence.model.waveform import Channel, Feature, NotRead, Waveform
from evidence.report.blocks import Block, Column, Heading, Mark, Panel, Para, Plot, Row, Section, Table
from evidence.report.figures import thousands
from evidence.report.given import ReportInput, Trace
from evidence.report.pages.readings import circumstances, taken_words
from evidence.report.phrasing import NOT_STATED, first_up, joined
from evidence.report.words import title


def waveforms(given: ReportInput) -> Section:
    """Each trace drawn, with its channels and what was read from it."""
    blocks: list[Block] = []
    for recorded in given.dossier.all_of(Waveform):
        blocks += _waveform(given, recorded)
    return Section("Waveforms", tuple(blocks))


def _waveform(given: ReportInput, recorded: Recorded[Waveform]) -> list[Block]:
    dossier, w = given.dossier, recorded.value
    exhibit = dossier.get(w.trace)
    file = exhibit.value.file if exhibit and isinstance(exhibit.value, Exhibit) else None
    trace, why = None, "the file is not held here"
    if file:
        try:
            trace = given.trace(file.sha256, w)
        except (ValueError, OSError) as err:  # what the file holds is no table, or cannot be read now
            why = str(err)
    names = {c.column: _channel_name(c) for c in w.channels}
    blocks: list[Block] = [Heading(f"{recorded.label}: {w.title}")]
    if trace is not None and trace.times:
        blocks.append(_plot(trace, w, names))
    columns = (
        Column("No., file", 1.35),
        Column("Channels", 5.7),
        Column("State and conditions", 2.2),
        Column("When, who, instrument", 2.2),
    )
    blocks.append(Table(columns, (Row((f"{title(recorded)}\n{dossier.label(w.trace)}", "\n".join(names.values()),
                                       circumstances(given, w), taken_words(given, w)), key=recorded.label,
                                      faded=recorded.withdrawn),)))  # fmt: skip
    if trace is None:
        blocks.append(Para(f"No plot: {why}.", tone="muted"))
    else:
        bad = f"; {trace.bad_rows} rows could not be read as numbers and are left out" if trace.bad_rows else ""
        said = f"Drawn from {thousands(trace.rows)} rows: lowest and highest value of each step, so that no spike is lost{bad}."
        blocks.append(Para(said, tone="small"))
    blocks += _features(w)
    return blocks


def _features(w: Waveform) -> list[Block]:
    """What was read, by whom and how; then what could not be read, and why."""
    rows = [Row(_read(f)) for f in w.all_features]
    rows += [Row(_refused(n, w.read.program)) for n in (w.read.not_read if w.read else ()) if w.read]
    if not rows:
        return []
    columns = (Column("Read from the trace", 1.6), Column("Value", 1.1, "right"), Column("Uncertainty", 1.0, "right"),
               Column("At", 1.4), Column("How", 2.9), Column("Read by", 1.4))  # fmt: skip
    blocks: list[Block] = [Table(columns, tuple(rows))]
    if w.read:
        blocks.append(Para(
            "Read by the program: limits of error from noise, sampling, digits and a clock good to 1 in 10,000. What probe "
            "and recorder may be off by stands with the instrument, and is added where a finding is judged.", tone="small",
        ))  # fmt: skip
    return blocks


def _read(f: Feature) -> tuple[str, ...]:
    exact = "exact" if f.unit == "count" and f.value.isdigit() else NOT_STATED
    unit = "" if f.unit == "count" else f" {f.unit}"
    off = f"± {f.uncertainty}{unit}" if f.uncertainty else exact
    return (first_up(f.feature), f.value + unit, off, say(joined([f.of, f.position], " ")), f.note or "", f.read_by)


def _refused(n: NotRead, program: str) -> tuple[str, ...]:
    return (first_up(n.feature), "cannot be read", "", say(joined([n.of, n.position], " ")), n.why, program)


def _channel_name(c: Channel) -> str:
    scale = f", × {c.scale}" if c.scale else ""
    return joined(
        [joined([first_up(c.quantity), c.of and say(c.of)], ", "), c.position, f"(column {c.column}{scale})"], " "
    )


def _plot(trace: Trace, w: Waveform, names: dict[str, str]) -> Plot:
    """The curves that the record speaks of, in its units; a scale of the record is applied."""
    by_column = {c.column: c for c in w.channels}
    panels = []
    for curve in trace.channels:
        if (channel := by_column.get(curve.name)) is None:
            continue
        scale = float(channel.scale) if channel.scale else 1.0
        low, high = (tuple(v * scale for v in side) for side in (curve.low, curve.high))
        if scale < 0:
            low, high = high, low
        panels.append(Panel(names[curve.name], channel.unit, low, high, _marks(w, curve.name, scale)))
    return Plot(tuple(trace.times), w.time_unit, tuple(panels))


def _marks(w: Waveform, column: str, scale: float) -> tuple[Mark, ...]:
    """Where the program read something on this column."""
    marked = w.read.marked if w.read else ()
    return tuple(
        Mark(m.what, tuple(float(at) * (scale if m.what == "level" else 1.0) for at in m.at), m.more or 0)
        for m in marked
        if m.column == column
    )

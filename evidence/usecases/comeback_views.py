"""What the register tells, as tables; and the cards that follow from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Final, Literal, get_args

from evidence.model.base import Json, say
from evidence.ports import Desk
from evidence.register.cards import CheckCard, cardless, check_cards
from evidence.register.export import export_rows
from evidence.register.figures import Register
from evidence.register.views import (
    Names,
    View,
    cost_view,
    lasting_views,
    list_view,
    money_view,
    rate_view,
    trend_view,
)
from evidence.usecases.comebacks import Counted

Wanted = Literal["overview", "list", "operation", "technician", "firm", "origin", "lasting", "cost", "trend", "claims"]
VIEWS: Final[tuple[Wanted, ...]] = get_args(Wanted)
MOST_ON_PAPER: Final = 200  # comebacks listed one by one
_ON_PAPER: Final[tuple[Wanted, ...]] = (
    "claims", "operation", "technician", "firm", "origin", "lasting", "cost", "trend",
)  # fmt: skip


def views(desk: Desk, held: Register, wanted: Wanted, operation: str = "", *, names: bool) -> tuple[View, ...]:
    """The tables of a view. Raises :class:`ExtraMissing` where scipy is needed and missing."""
    return _views(desk, held, wanted, Names(held, shown=names), operation)


def _views(desk: Desk, held: Register, wanted: Wanted, called: Names, operation: str = "") -> tuple[View, ...]:
    if wanted in ("operation", "technician", "firm", "origin"):
        return (rate_view(held, wanted, called),)
    if wanted == "lasting":
        return lasting_views(held, operation)
    if wanted == "cost":
        return (cost_view(held, False, titles(desk)), cost_view(held, True))
    if wanted == "trend":
        return (trend_view(held),)
    if wanted == "claims":
        return (money_view(held),)
    if wanted == "list":
        return (list_view(held, called, titles(desk)),)
    return (rate_view(held, "operation", called), *lasting_views(held, operation), money_view(held))


def paper_views(desk: Desk, held: Register, *, names: bool) -> tuple[View, ...]:
    """Every table, and the latest comebacks one by one."""
    called = Names(held, shown=names)
    tables = tuple(view for wanted in _ON_PAPER for view in _views(desk, held, wanted, called))
    return (*tables, list_view(held, called, titles(desk), MOST_ON_PAPER))


def titles(desk: Desk) -> Callable[[str], str]:
    """What a mechanism is called in a line: its title up to what it led to."""
    known = {m.id: m.title.partition(":")[0] for pack in desk.packs() for m in pack.mechanisms}
    return lambda mechanism: known.get(mechanism, say(mechanism))


def counted_words(told: Counted, as_of: dt.date) -> tuple[str, ...]:
    """What is in the figures and what is not, one sentence each."""
    held = told.held
    first = (
        f"Up to {as_of.isoformat()}: {len(held.orders):,} orders, {_some(len(held.comebacks), 'comeback')}, "
        f"{told.dossiers:,} of them told by dossiers."
    )
    found = [first]
    if held.untied:
        found.append(
            f"{_some(held.untied, 'comeback')} from orders that are not known here: in lists and costs, in no rate."
        )
    if held.doubled:
        found.append(f"{_some(held.doubled, 'comeback')} told by more than one source: counted once.")
    if told.silent:
        found.append(
            f"{_some(told.silent, 'dossier')} without an earlier work order from before the vehicle came back: not counted."
        )
    if told.demonstrations:
        found.append(f"{_some(told.demonstrations, 'demonstration dossier')} left out (--demonstrations counts them).")
    return tuple(found)


def _some(count: int, what: str) -> str:
    return f"{count:,} {what}" + ("" if count == 1 else "s")


def cards(desk: Desk, held: Register) -> tuple[tuple[CheckCard, ...], int]:
    """The check cards of this shop's own comebacks, and how many own comebacks have none."""
    found = check_cards(held.comebacks, desk.packs(), desk.vocabulary().cautions)
    return found, cardless(held.comebacks, found)


def views_json(shown: tuple[View, ...], told: Counted, as_of: dt.date, *, names: bool) -> Json:
    """Tables as shown, and each comeback as a plain row."""
    columns, rows = export_rows(told.held, names=names)
    days = {name for name, kind in columns.items() if kind == "day"}
    plain = [{k: _plain(v, day=k in days) for k, v in row.items()} for row in rows]
    return {
        "format": 1, "as_of": as_of.isoformat(), "counted": list(counted_words(told, as_of)),
        "tables": [_table(v) for v in shown],
        "comebacks": plain,
    }  # fmt: skip


def _table(view: View) -> Json:
    rows = [list(r) for r in view.rows]
    return {"title": view.title, "columns": list(view.columns), "rows": rows, "notes": list(view.notes)}


def _plain(value: str | int | None, *, day: bool) -> str | int | None:
    return dt.date.fromordinal(value).isoformat() if day and isinstance(value, int) else value

"""Reasons that say the same of several records become one: ``Measurements 2 to 5, coils 1 to 4: …``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from evidence.model.kinds import enumerated
from evidence.rules.assessment import Near

_REASON = re.compile(r"(?:(?P<of>[A-Z]\d+): )?(?P<label>[A-Z][a-z' ]* \d+)(?:, (?P<part>[^:]+))?: (?P<text>.+)")
_READ = re.compile(
    r"(?P<what>[a-z][^<>≤≥=]*?) (?P<value>[-−]?\d[\d.]*(?: \S+)?(?: ± [\d.]+(?: \S+)?)?) (?P<test>(?:is|lies|cannot be|may lie) .+)"
)
_MOST_VALUES = 12


@dataclass(slots=True)
class _Group:
    """Reasons that differ in record, place and value alone."""

    of: str
    what: str
    test: str = ""
    labels: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)
    values: list[str] = field(default_factory=list)

    def words(self) -> str:
        """One line for all of them."""
        who = enumerated(self.labels)
        where = f", {enumerated(self.places)}" if self.places else ""
        of = f"{self.of}: " if self.of else ""
        return f"{of}{who}{where}: {self.what}{self._values()}"

    def _values(self) -> str:
        values = list(dict.fromkeys(self.values))
        if not values:
            return ""
        more = f" and {len(values) - _MOST_VALUES} more" if len(values) > _MOST_VALUES else ""
        return f" {', '.join(values[:_MOST_VALUES])}{more}{'; each' if len(values) > 1 else ''} {self.test}"


def gathered(reasons: Iterable[str]) -> list[str]:
    """The reasons in the order of their first record; values and uncertainties are kept as they stand."""
    groups: dict[tuple[str, ...], _Group | str] = {}
    for reason in reasons:
        if (match := _REASON.fullmatch(reason)) is None:
            groups.setdefault((reason,), reason)
            continue
        place = match["part"] or ""
        sort = re.sub(r" \d+$", "", place)  # coil 1 and coil 2 go together
        read = _READ.fullmatch(match["text"])
        what, test = (read["what"], read["test"]) if read else (match["text"], "")
        key = (match["of"] or "", match["label"].rpartition(" ")[0], sort, what, test)
        group = groups.setdefault(key, _Group(match["of"] or "", what, test))
        assert isinstance(group, _Group)
        group.labels.append(match["label"])
        group.places += [place] if place else []
        group.values += [read["value"]] if read else []
    return [g if isinstance(g, str) else g.words() for g in groups.values()]


def gathered_near(near: Iterable[Near]) -> list[str]:
    """Records that come near an ask, those with the same obstacle together."""
    by_reason: dict[str, list[str]] = {}
    for n in near:
        by_reason.setdefault(n.why, []).append(n.record)
    return [
        f"{enumerated(found)} {'comes' if len(set(found)) == 1 else 'come'} near: {why}."
        for why, found in by_reason.items()
    ]


def unnamed(records: Iterable[str], reasons: Iterable[str]) -> list[str]:
    """The records that no reason speaks of."""
    spoken = {match["label"] for reason in reasons if (match := _REASON.fullmatch(reason))}
    return [record for record in records if record not in spoken]

"""The table of cases: reading it, and what comes out for a row."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import yaml
from evidence.rules.assess import assess
from story import Row, Story

from build import packs, vocabulary

TABLE = Path(__file__).parent / "table"
# From what speaks most for the mechanism to what speaks most against it.
BANDS = (
    "strong support", "moderately strong support", "moderate support", "weak support", "no support either way",
    "candidate only", "no statement until resolved", "weak support for some other cause",
    "moderate support for some other cause", "moderately strong support for some other cause",
    "strong support for some other cause",
)  # fmt: skip
SPEAKS_FOR = BANDS[:4]


@dataclass(frozen=True)
class Came:
    """What came out."""

    row: Row
    candidate: object

    @property
    def band(self):
        return self.candidate.weight.band

    @property
    def judged(self):
        """right, false accusation, wrongly strong, wrongly weak."""
        if self.band in self.row.expect:
            return "right"
        if self.band in SPEAKS_FOR and not set(self.row.expect) & set(SPEAKS_FOR):
            return "false accusation"
        return "wrongly strong" if BANDS.index(self.band) < min(map(BANDS.index, self.row.expect)) else "wrongly weak"


@cache
def rows():
    raws = (raw for file in sorted(TABLE.glob("*.yaml")) for raw in yaml.load(file.read_bytes(), yaml.CSafeLoader))
    return tuple(Row(**{k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}) for raw in raws)


@cache
def mechanisms():
    return {m.id: (p, m) for p in packs() for m in p.mechanisms}


def alone(mechanism):
    """The pack of a mechanism with nothing else in it."""
    pack, found = mechanisms()[mechanism]
    return [pack.model_copy(update={"mechanisms": (found,)})]


def written(row):
    """The case of a row, to be changed further."""
    return Story(mechanisms()[row.mechanism][1], row).written()


def outcome(row, case=None, own=None, *, firmness=False):
    """The candidate of the row's mechanism, weighed against the others of ``own`` (its own alone where not said)."""
    dossier = (case or written(row)).dossier()
    found = assess(dossier, own or alone(row.mechanism), vocabulary(), firmness=firmness)
    return came(row, found)


def came(row, found):
    """The candidate of the row's mechanism in an assessment."""
    return Came(row, next(c for c in found.candidates if c.mechanism == row.mechanism))


def summary(all_came):
    """Counts by what they are, and the share that is right."""
    told = dict.fromkeys(("right", "false accusation", "wrongly strong", "wrongly weak"), 0)
    for c in all_came:
        told[c.judged] += 1
    return told


if __name__ == "__main__":
    done = [outcome(row, own=packs()) for row in rows()]
    for c in done:
        if c.judged != "right":
            w = c.candidate.weight
            print(f"{c.judged:17} {c.row.case:55} {c.band!r}, expected {' or '.join(c.row.expect)}; {w.printed}")
    print(summary(done))

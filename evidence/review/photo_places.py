"""Signs of places: a photo's own position against the others of its shoot and against the place that was stated.

Distances are geodesics on the ellipsoid of WGS 84 (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013),
through the library of their author. The limits are common practice, no source: a phone indoors can be a kilometre off.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from evidence.review.photo_metadata import lapse, moment
from evidence.review.photo_sign import Photo, Sign, sign_of

STATED_METRES: Final = 1_000.0  # from the place stated
SHOOT_METRES: Final = 5_000.0  # from every other photo of the shoot
_TOGETHER: Final = 1_000.0  # those others among themselves
_SHOOT: Final = dt.timedelta(hours=3)
_FASTEST: Final = 250.0 / 3.6  # metres a second on the ground
_FAR: Final = 2_000.0  # metres; nearer, positions are too coarse for a speed


class Position(NamedTuple):
    """Degrees north and east on WGS 84."""

    latitude: float
    longitude: float


def distance(one: Position, other: Position) -> float:
    """Metres along the shortest line on the ellipsoid."""
    from geographiclib.geodesic import Geodesic

    found = Geodesic.WGS84.Inverse(*one, *other, Geodesic.DISTANCE)
    return float(found["s12"])


def position_in(text: str) -> Position | None:
    """The coordinates in a place that a person stated ("38.72, -9.14"; "38°43'12\\"N 9°8'24\\"W"); None where it has none."""
    for pattern in (_DECIMAL, _ANGLES):
        match = pattern.search(text)
        if match:
            halves = _half(match, "a"), _half(match, "b")
            if halves[0] is not None and halves[1] is not None and abs(halves[0]) <= 90 and abs(halves[1]) <= 180:
                return Position(*halves)  # type: ignore[arg-type]
    return None


_DECIMAL: Final = re.compile(
    r"(?<![\d.])(?P<a>[-+−]?\d{1,2}\.\d{2,})\s*°?\s*(?P<ah>[NS])?\s*[,;\s]\s*(?P<b>[-+−]?\d{1,3}\.\d{2,})\s*°?\s*(?P<bh>[EW])?(?![\d.])"
)
_ANGLES: Final = re.compile(
    r"(?P<a>\d{1,2})°\s*(?P<am>\d{1,2})['′](?:\s*(?P<as>\d{1,2}(?:\.\d+)?)[\"″])?\s*(?P<ah>[NS])[,;\s]*"
    r"(?P<b>\d{1,3})°\s*(?P<bm>\d{1,2})['′](?:\s*(?P<bs>\d{1,2}(?:\.\d+)?)[\"″])?\s*(?P<bh>[EW])"
)


def _half(match: re.Match[str], which: str) -> float | None:
    parts = match.groupdict()
    value = float((parts[which] or "").replace("−", "-"))
    if minutes := parts.get(f"{which}m"):
        seconds = float(parts.get(f"{which}s") or 0)
        if float(minutes) >= 60 or seconds >= 60:
            return None
        value += float(minutes) / 60 + seconds / 3600
    side = parts[f"{which}h"]
    return -abs(value) if side in ("S", "W") else value


def place_signs(photos: Sequence[Photo]) -> Iterator[Sign]:
    """Signs of all photos together."""
    located = [(p, here) for p in photos if (here := _position(p)) is not None]
    for photo, here in located:
        stated = position_in(photo.exhibit.value.place or "")
        if stated and (metres := distance(here, stated)) > STATED_METRES:
            yield sign_of(
                "place_not_stated_one", photo,
                f"the position in the file ({told(here)}) lies {length(metres)} from the place stated "
                f"({told(stated)}); up to {length(STATED_METRES)} is let pass",
            )  # fmt: skip
    timed = sorted(
        ((at, p, here) for p, here in located if p.marks and (at := moment(p.marks.taken))),
        key=lambda t: (t[0], t[1].label),
    )
    apart: set[str] = set()
    for at, photo, here in timed:
        others = [there for when, p, there in timed if p is not photo and abs(when - at) <= _SHOOT]
        if len(others) < 2 or any(distance(others[0], o) > _TOGETHER for o in others[1:]):
            continue
        nearest = min(distance(here, o) for o in others)
        if nearest > SHOOT_METRES:
            apart.add(photo.label)
            yield sign_of(
                "place_apart", photo,
                f"the position in the file ({told(here)}) lies {length(nearest)} from the nearest of the {len(others)} other "
                f"photos taken within {lapse(_SHOOT)} of it, which lie together",
            )  # fmt: skip
    yield from _speeds([t for t in timed if t[1].label not in apart])


def _speeds(timed: Sequence[tuple[dt.datetime, Photo, Position]]) -> Iterator[Sign]:
    by_camera: dict[str, list[tuple[dt.datetime, Photo, Position]]] = {}
    for one in timed:
        by_camera.setdefault(one[1].marks.camera if one[1].marks else "", []).append(one)
    for camera, shots in by_camera.items():
        for (first, a, here), (second, b, there) in pairwise(shots) if camera else ():
            metres = distance(here, there)
            if metres > _FAR and metres > _FASTEST * (second - first).total_seconds():
                yield Sign(
                    code="too_far_too_soon",
                    sentence=f"{a.label} and {b.label}: {length(metres)} between the positions in the files and "
                    f"{lapse(second - first)} between the times, by the same camera.",
                    exhibits=(a.label, b.label), subjects=(a.exhibit.subject, b.exhibit.subject),
                )  # fmt: skip


def _position(photo: Photo) -> Position | None:
    read = photo.exhibit.value.read
    return Position(float(read.place.latitude), float(read.place.longitude)) if read and read.place else None


def told(position: Position) -> str:
    """Degrees with five places, about a metre."""
    return f"{position.latitude:.5f}, {position.longitude:.5f}"


def length(metres: float) -> str:
    """Metres below one kilometre, else kilometres; no more digits than a position is good for."""
    if metres < 995:
        return f"{round(metres, -1):.0f} m"
    return f"{metres / 1000:.1f} km" if metres < 99_950 else f"{metres / 1000:.0f} km"

"""Gaps and turns in a camera's own numbering, by file names (DCF, CIPA DC-009) or by the number in the metadata."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from evidence.review.photo_metadata import moment, shown
from evidence.review.photo_sign import Photo, Sign

# DCF: four free characters and four digits, 0001 to 9999, then 0001 again; cameras and phones also use longer or shorter words.
_NAMED: Final = re.compile(r"([A-Z0-9_]{4}|[A-Z]{2,8}[_-]?)(\d{4})", re.ASCII | re.IGNORECASE)
_LAST: Final = 9999
_WIDEST: Final = 99  # numbers between; more says nothing of one shoot
_WIDEST_UNTIMED: Final = 20  # where no time says that they belong together
_PAUSE: Final = dt.timedelta(hours=2)  # a longer one ends a shoot
_NEAR_WRAP: Final = 100


@dataclass(frozen=True, slots=True)
class _Shot:
    photo: Photo
    prefix: str
    number: int
    at: dt.datetime | None

    @property
    def told(self) -> str:
        name = f"{self.prefix}{self.number:04d}" if self.prefix else f"number {self.number}"
        return f"{self.photo.label} ({name})"


def sequence_signs(photos: Sequence[Photo], names: Collection[str]) -> Iterator[Sign]:
    """Signs of all photos together. ``names`` are the names of every file in the record, films among them: a camera
    counts those as well."""
    held = {(m[1].upper(), int(m[2])) for m in (_named(n) for n in names) if m}
    cameras: dict[tuple[str, str], list[_Shot]] = {}
    for photo in photos:
        if (shot := _shot(photo)) is not None:
            marks = photo.marks
            cameras.setdefault((marks.camera if marks else "", shot.prefix), []).append(shot)
    for (_camera, prefix), shots in cameras.items():
        there = {n for p, n in held if p == prefix} if prefix else set()
        yield from _signs(shots, there | {s.number for s in shots})


def numbers_between(first: int, second: int, *, wraps: bool) -> list[int]:
    """The numbers from one to the other, both left out. After 9999 comes 1 where ``wraps``."""
    if second > first:
        return list(range(first + 1, second))
    if wraps and first > _LAST - _NEAR_WRAP and second < _NEAR_WRAP:
        return [*range(first + 1, _LAST + 1), *range(1, second)]
    return []


def _named(name: str) -> re.Match[str] | None:
    stem = name.replace("\\", "/").rpartition("/")[2].rpartition(".")[0]
    match = _NAMED.fullmatch(stem)
    return match if match and not match[1].isdigit() else None  # 20260304 is a date


def _shot(photo: Photo) -> _Shot | None:
    at = moment(photo.marks.taken) if photo.marks else None
    if photo.marks and photo.marks.number:
        return _Shot(photo, "", photo.marks.number, at)
    match = _named(photo.exhibit.value.file.name if photo.exhibit.value.file else "")
    return _Shot(photo, match[1].upper(), int(match[2]), at) if match else None


def _signs(shots: Sequence[_Shot], there: set[int]) -> Iterator[Sign]:
    timed = all(s.at for s in shots)
    ordered = sorted(shots, key=lambda s: (s.at or dt.datetime.min, s.number))  # noqa: DTZ901 - the clock has no zone
    gaps: list[tuple[_Shot, _Shot, list[int]]] = []
    told: set[int] = set()  # of this shoot: where the numbers go back, more than one pair spans the same gap
    for one, next_ in pairwise(ordered):
        pause = next_.at - one.at if one.at and next_.at else None
        if pause is not None and pause > _PAUSE:
            yield from _told(gaps)
            gaps, told = [], set()
        if next_.number == one.number:
            if next_.photo.sha256 != one.photo.sha256:
                yield _sign(
                    "number_twice", one, next_, f"{one.told} and {next_.told} are different photos with the same number"
                )
            continue
        between = numbers_between(one.number, next_.number, wraps=bool(one.prefix))
        if next_.number < one.number and not between and not _wrapped(one, next_):
            if timed and pause:
                assert one.at
                assert next_.at
                yield _sign(
                    "numbers_backwards", one, next_,
                    f"{one.told} was taken {shown(one.at)} and {next_.told} {shown(next_.at)} by the camera's clock, "
                    "but carries the lower number",
                )  # fmt: skip
            continue
        missing = [n for n in between if n not in there and n not in told]
        widest = _WIDEST_UNTIMED if pause is None else _WIDEST if pause <= _PAUSE else 0
        if missing and len(between) <= widest:
            gaps.append((one, next_, missing))
            told.update(missing)
    yield from _told(gaps)


def _wrapped(one: _Shot, next_: _Shot) -> bool:
    return bool(one.prefix) and one.number > _LAST - _NEAR_WRAP and next_.number < _NEAR_WRAP


def _told(gaps: Sequence[tuple[_Shot, _Shot, list[int]]]) -> Iterator[Sign]:
    """The gaps of one shoot as one sign."""
    if not gaps:
        return
    first, last = gaps[0][0], gaps[-1][1]
    missing = [n for _, _, between in gaps for n in between]
    count = f"{len(missing)} number{'s' if len(missing) != 1 else ''}"
    runs = ", ".join(_runs([between for _, _, between in gaps]))
    verb = "are" if len(missing) != 1 else "is"
    whence = "the names of the files" if first.prefix else "the camera's count in the files"
    yield _sign(
        "numbers_missing",
        first,
        last,
        f"{count} between {first.told} and {last.told} {verb} not in the record, by {whence}: {runs}",
    )


def _runs(gaps: Sequence[Sequence[int]]) -> Iterator[str]:
    for gap in gaps:
        start = before = gap[0]
        for number in [*gap[1:], None]:
            if number is not None and number == before + 1:
                before = number
                continue
            yield f"{start:04d}" if start == before else f"{start:04d} to {before:04d}"
            if number is not None:
                start = before = number


def _sign(code: str, one: _Shot, other: _Shot, fact: str) -> Sign:
    return Sign(
        code=code,  # type: ignore[arg-type]
        sentence=f"{fact[0].upper()}{fact[1:]}.",
        exhibits=(one.photo.label, other.photo.label),
        subjects=(one.photo.exhibit.subject, other.photo.exhibit.subject),
    )

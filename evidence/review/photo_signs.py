"""Signs of alteration or reuse in photos: facts about files in, signs out. Nothing is read here and nothing is judged.

Every sign is a fact that anyone can find again in the same files. The limits that decide whether one is worth telling
are common practice, no source, where no standard is named beside them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from evidence.model.dossier import Dossier
from evidence.model.exhibit import Exhibit
from evidence.model.kinds import enumerated
from evidence.review.photo_marks import Alike, PhotoMarks, Tables
from evidence.review.photo_metadata import metadata_signs
from evidence.review.photo_places import place_signs
from evidence.review.photo_sequence import sequence_signs
from evidence.review.photo_sign import MEANINGS, Code, Photo, Sign, sign_of

LOW_QUALITY: Final = 85  # cameras compress less; message services about as much, or more
_FEW: Final = 3  # photos of a camera that carry the same tables, before another stands out among them
_ORDER: Final = {code: place for place, code in enumerate(MEANINGS)}
_ELSEWHERE: Final = "also in another dossier of this workspace"


def signs_in(
    dossier: Dossier, marks: Mapping[str, PhotoMarks], *,
    alike: Sequence[Alike] = (), elsewhere: Mapping[str, tuple[str, ...]] | None = None,
) -> tuple[Sign, ...]:  # fmt: skip
    """All signs of a dossier's photos, in a fixed order.

    ``marks`` is by SHA-256 of a file; a photo without marks (its file is not held) is asked for what its record says.
    ``elsewhere`` says where other dossiers hold a file, by SHA-256, in words for the shop alone.
    """
    photos = photos_of(dossier, marks)
    standing = [p for p in photos if not p.exhibit.withdrawn]
    originals = [p for p in standing if not p.exhibit.value.derived_from]
    names = [e.value.file.name for e in dossier.all_of(Exhibit) if e.value.file]
    found = [
        *_same_files(standing, elsewhere or {}),
        *_same_pictures(standing, alike, elsewhere or {}),
        *_together([*(sign for photo in originals for sign in metadata_signs(photo)), *_tables(originals)]),
        *_bare(originals),
        *place_signs(originals),
        *sequence_signs([p for p in photos if not p.exhibit.value.derived_from], names),
    ]
    place = {p.label: p.exhibit.number for p in photos}
    return tuple(sorted(found, key=lambda s: (_ORDER[s.code], [place[e] for e in s.exhibits], s.sentence)))


def photos_of(dossier: Dossier, marks: Mapping[str, PhotoMarks]) -> list[Photo]:
    """Exhibits that are photos by what was read from the file, withdrawn ones included."""
    return [
        Photo(e, marks.get(e.value.file.sha256))
        for e in dossier.all_of(Exhibit)
        if e.value.file and e.value.read and e.value.read.media == "photo"
    ]


def _same_files(photos: Sequence[Photo], elsewhere: Mapping[str, tuple[str, ...]]) -> Iterator[Sign]:
    by_hash: dict[str, list[Photo]] = {}
    for photo in photos:
        by_hash.setdefault(photo.sha256, []).append(photo)
    for sha256, same in by_hash.items():
        others = elsewhere.get(sha256, ())
        labels = enumerated(p.label for p in same)
        if len(same) > 1:
            fact = f"{labels} are the same file, byte for byte" + (f"; it is {_ELSEWHERE}" if others else "")
        elif others:
            fact = f"{labels}: the same file, byte for byte, is {_ELSEWHERE}"
        else:
            continue
        yield _of("same_file", same, fact, others)


def _same_pictures(
    photos: Sequence[Photo], alike: Sequence[Alike], elsewhere: Mapping[str, tuple[str, ...]]
) -> Iterator[Sign]:
    by_hash: dict[str, Photo] = {}
    for photo in photos:
        by_hash.setdefault(photo.sha256, photo)
    outside: dict[str, list[Alike]] = {}
    inside: list[tuple[set[str], list[Alike]]] = []  # files that belong together, by what pairs
    for pair in alike:
        one, other = by_hash.get(pair.sha256), by_hash.get(pair.other)
        if one and other:
            if not _copy(one, other):
                touching = [g for g in inside if g[0] & {pair.sha256, pair.other}]
                inside = [g for g in inside if g not in touching]
                files = {pair.sha256, pair.other}.union(*(g[0] for g in touching))
                inside.append((files, [pair, *(p for g in touching for p in g[1])]))
            continue
        for here, there in ((one, pair.other), (other, pair.sha256)):
            if here and elsewhere.get(there):
                outside.setdefault(here.sha256, []).append(
                    Alike(sha256=here.sha256, other=there, bits=pair.bits, likeness=pair.likeness)
                )
    for files, pairs in inside:
        same = sorted((by_hash[f] for f in files), key=lambda p: p.exhibit.number)
        worst = Alike(sha256="", other="", bits=max(p.bits for p in pairs), likeness=min(p.likeness for p in pairs))
        what = "the same or nearly the same picture"
        many = "" if len(same) == 2 else ", each as another of them: at most "
        told = f"{what} ({_measured(worst)})" if not many else f"{what}{many}{_measured(worst)} at least"
        yield _of("same_picture", same, f"{enumerated(p.label for p in same)} show {told}")
    for sha256, pairs in outside.items():
        nearest = min(pairs, key=lambda p: (p.bits, p.other))
        others = tuple(dict.fromkeys(name for p in pairs for name in elsewhere[p.other]))
        photo = by_hash[sha256]
        yield _of(
            "same_picture",
            [photo],
            f"{photo.label}: the same or nearly the same picture is {_ELSEWHERE} ({_measured(nearest)})",
            others,
        )


def _together(signs: Sequence[Sign]) -> Iterator[Sign]:
    """The same fact about several photos as one sign."""
    facts: dict[tuple[Code, str], list[Sign]] = {}
    for sign in signs:
        facts.setdefault((sign.code, sign.sentence.removeprefix(f"{sign.exhibits[0]}: ")), []).append(sign)
    for (code, fact), same in facts.items():
        labels = tuple(s.exhibits[0] for s in same)
        yield Sign(
            code=code,
            sentence=f"{enumerated(labels)}: {fact}",
            exhibits=labels,
            subjects=tuple(s.subjects[0] for s in same),
        )


def _copy(one: Photo, other: Photo) -> bool:
    """Whether one is said to be made from the other, or both from a third: no news then."""
    roots = {p.exhibit.value.derived_from or p.exhibit.subject for p in (one, other)}
    return len(roots) == 1


def _measured(pair: Alike) -> str:
    return f"{pair.bits} of 128 bits of their fingerprints differ, likeness {pair.likeness:.2f} of 1"


def _bare(photos: Sequence[Photo]) -> Iterator[Sign]:
    bare = [p for p in photos if p.marks and not p.marks.problems and not p.marks.camera and not p.marks.taken]
    if bare:
        carries = "carries" if len(bare) == 1 else "carry"
        yield _of(
            "no_camera_data",
            bare,
            f"{enumerated(p.label for p in bare)} {carries} no camera, no model and no time of capture",
        )


def _tables(photos: Sequence[Photo]) -> Iterator[Sign]:
    cameras: dict[str, list[tuple[Photo, Tables, int | None]]] = {}
    for photo in photos:
        if photo.marks and photo.marks.tables and photo.marks.make + photo.marks.model:
            cameras.setdefault(f"{photo.marks.make} {photo.marks.model}".strip(), []).append(
                (photo, photo.marks.tables, photo.marks.quality)
            )
    for camera, shots in cameras.items():
        usual, count = Counter(tables for _, tables, _ in shots).most_common(1)[0]
        told: set[str] = set()
        if count >= _FEW and count * 3 >= len(shots) * 2:
            for photo, tables, quality in shots:
                if tables != usual:
                    told.add(photo.label)
                    about = f"; its own are the example tables of T.81 at quality {quality}" if quality else ""
                    yield sign_of(
                        "tables_apart",
                        photo,
                        f"compressed with other tables than {count} other photos by the {camera}{about}",
                    )
        for photo, _, quality in shots:
            if quality is not None and quality <= LOW_QUALITY and photo.label not in told:
                yield sign_of(
                    "tables_of_software", photo,
                    f"compressed with the example tables of ITU-T T.81, Annex K, at quality {quality}, in a file that "
                    f"names a camera ({camera})",
                )  # fmt: skip


def _of(code: str, photos: Sequence[Photo], fact: str, elsewhere: tuple[str, ...] = ()) -> Sign:
    return Sign(
        code=code,  # type: ignore[arg-type]
        sentence=f"{fact}.", exhibits=tuple(p.label for p in photos),
        subjects=tuple(p.exhibit.subject for p in photos), elsewhere=elsewhere,
    )  # fmt: skip

"""Signs in a dossier's photos: every stored file is asked what it carries, and the workspace which pictures look alike."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from evidence.errors import NotFound
from evidence.model.dossier import Dossier, Recorded
from evidence.model.exhibit import Exhibit, FileFacts
from evidence.ports import Desk, Progress, Reader
from evidence.review.photo_marks import PhotoMarks
from evidence.review.photo_sign import Sign
from evidence.review.photo_signs import photos_of, signs_in
from evidence.usecases.pen import need, read_dossier

# Good news, no news, and what most cameras and message services do.
_NOT_HELD_AGAINST = (
    "credentials_valid", "credentials_present", "no_camera_data", "tables_of_software", "tables_apart", "maker_incomplete",
)  # fmt: skip


def photo_signs(
    desk: Desk, dossier: str, progress: Progress | None = None, *, exhibit: str = ""
) -> tuple[Sign, ...]:  # fmt: skip
    """Signs in the photos of a dossier as recorded now, or those about one exhibit; ``elsewhere`` of a sign names other
    dossiers of the workspace."""
    with desk.ledgers.reading() as view:
        ledger = need(view, dossier)
        held = read_dossier(view, ledger)
        known = view.named(ledger, exhibit) if exhibit else None
    if exhibit and (known is None or known.kind != Exhibit.kind):
        raise _no_exhibit(exhibit)
    found = signs_of(desk, held, progress=progress)
    return tuple(s for s in found if known.subject in s.subjects) if known else found


def signs_about(signs: Sequence[Sign], held: Dossier, exhibit: str) -> tuple[Sign, ...]:
    """Those of the signs that are about one exhibit, named by short name or number; all where none is named."""
    if not exhibit:
        return tuple(signs)
    found = next((e for e in held.all_of(Exhibit) if exhibit.casefold() in (e.label.casefold(), e.name)), None)
    if found is None:
        raise _no_exhibit(exhibit)
    return tuple(s for s in signs if found.subject in s.subjects)


def _no_exhibit(word: str) -> NotFound:
    return NotFound(
        "no such exhibit in this dossier", item=word,
        advice="Name it by its short name or its number, such as 'exhibit 7'; 'evidence show' lists them.",
    )  # fmt: skip


def signs_of(
    desk: Desk, held: Dossier, *, until: dt.datetime | None = None, unread: frozenset[str] = frozenset(),
    progress: Progress | None = None,
) -> tuple[Sign, ...]:  # fmt: skip
    """Signs in the photos of a dossier that is folded already. What other dossiers recorded after ``until`` is passed
    over, so that the same report stays the same; files in ``unread``, by SHA-256, are not asked.
    """
    shower = progress or _silent
    files = _files([p.exhibit for p in photos_of(held, {})])
    _index(desk, files, shower)
    own = [sha256 for sha256 in files if sha256 not in unread]
    alike = desk.likeness.alike(own)
    if desk.likeness.damaged:  # found by comparing alone
        _index(desk, files, shower)
        alike = desk.likeness.alike(own)
    asked = dict.fromkeys([*own, *(s for pair in alike for s in (pair.sha256, pair.other))])
    with desk.ledgers.reading() as view:
        elsewhere = _elsewhere(view, held.ledger, asked, until)
    return signs_in(held, _marks(desk, files, own, shower), alike=alike, elsewhere=elsewhere)


def signs_by_exhibit(signs: Iterable[Sign]) -> dict[str, tuple[str, ...]]:
    """What an opponent would hold against a photo, by its subject: sentences without label and full stop. What is said of
    several stands once, with the one recorded last."""
    found: dict[str, list[str]] = {}
    for sign in signs:
        if sign.code not in _NOT_HELD_AGAINST:
            sentence = sign.sentence.removeprefix(f"{sign.exhibits[-1]}: ").removesuffix(".")
            found.setdefault(sign.subjects[-1], []).append(sentence)
    return {subject: tuple(sentences) for subject, sentences in found.items()}


def _files(exhibits: Iterable[Recorded[Exhibit]]) -> dict[str, FileFacts]:
    return {e.value.file.sha256: e.value.read for e in exhibits if e.value.file and e.value.read}


def _index(desk: Desk, files: Mapping[str, FileFacts], progress: Progress) -> None:
    """Bring the index up to what is recorded: an intake that was interrupted, or damage, leaves it behind."""
    own = list(files.items())
    desk.previews.make(own, progress)
    desk.likeness.add(own, progress)
    with desk.ledgers.reading() as view:
        if not desk.likeness.unknown(view.stored_hashes()):
            return
        dossiers = [read_dossier(view, ledger) for ledger in view.ledgers()]
    for dossier in dossiers:
        found = list(_files(dossier.all_of(Exhibit)).items())
        desk.previews.make(found, progress)
        desk.likeness.add(found, progress)


def _marks(
    desk: Desk, files: Mapping[str, FileFacts], own: Sequence[str], progress: Progress
) -> dict[str, PhotoMarks]:  # fmt: skip
    found = {}
    for done, sha256 in enumerate(own, 1):
        try:
            found[sha256] = desk.read_marks(desk.originals.path(sha256), files[sha256], desk.previews.path(sha256))
        except OSError:  # missing or unreadable: 'evidence recheck' tells that, and what is recorded speaks for itself
            continue
        progress("photos", done, len(own))
    return found


def _elsewhere(
    view: Reader, ledger: str, asked: Iterable[str], until: dt.datetime | None
) -> dict[str, tuple[str, ...]]:  # fmt: skip
    """Where other dossiers hold a file, in words for the shop: by SHA-256."""
    folded: dict[str, Dossier] = {}
    found: dict[str, list[str]] = {}
    for sha256 in asked:
        for known in view.holders(sha256):
            if known.ledger == ledger or known.withdrawn:
                continue
            if known.ledger not in folded:
                folded[known.ledger] = read_dossier(view, known.ledger)
            other = folded[known.ledger]
            exhibit = other.get(known.subject)
            if exhibit and (until is None or exhibit.versions[0].recorded_at <= until):
                name = f" ({other.opening.name})" if other.opening.name else f" ({known.ledger[:8]})"
                found.setdefault(sha256, []).append(f"{exhibit.label} of {other.title}{name}")
    return {sha256: tuple(names) for sha256, names in found.items()}


def _silent(_stage: str, _done: int, _of: int) -> None:
    """Progress that nobody watches."""

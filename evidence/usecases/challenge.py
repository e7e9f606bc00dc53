"""What an opponent would raise against a dossier. Nothing is written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evidence.model.dossier import Dossier
from evidence.ports import Desk
from evidence.review.challenge import Challenge
from evidence.review.challenges import challenges
from evidence.review.grounds import Grounds
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.usecases.pen import need, read_dossier
from evidence.usecases.photos import signs_by_exhibit, signs_of


def challenge_dossier(desk: Desk, dossier: str) -> tuple[str, tuple[Challenge, ...]]:
    """Title and challenges of a dossier as recorded now, worst first."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    signs = signs_by_exhibit(signs_of(desk, held))
    return held.title, challenge_held(held, desk.packs(), desk.vocabulary(), signs=signs)


def challenge_held(
    held: Dossier, packs: Sequence[Pack], vocabulary: Vocabulary, withheld: Sequence[str] = (), *,
    signs: Mapping[str, tuple[str, ...]] | None = None,
) -> tuple[Challenge, ...]:  # fmt: skip
    """Challenges of a dossier that is already folded, such as that of a bundle; ``withheld`` are labels, ``signs`` what
    was noticed in the files of photos, by the subject of their exhibit."""
    return challenges(Grounds.of(held, packs, vocabulary, signs=signs, withheld=withheld))

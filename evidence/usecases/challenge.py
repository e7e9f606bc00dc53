"""What an opponent would raise against a dossier. Nothing is written."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.model.dossier import Dossier
from evidence.ports import Desk
from evidence.review.challenge import Challenge
from evidence.review.challenges import challenges
from evidence.review.grounds import Grounds
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.usecases.pen import need, read_dossier


def challenge_dossier(desk: Desk, dossier: str) -> tuple[str, tuple[Challenge, ...]]:
    """Title and challenges of a dossier as recorded now, worst first."""
    with desk.ledgers.reading() as view:
        held = read_dossier(view, need(view, dossier))
    return held.title, challenge_held(held, desk.packs(), desk.vocabulary())


def challenge_held(
    held: Dossier, packs: Sequence[Pack], vocabulary: Vocabulary, withheld: Sequence[str] = ()
) -> tuple[Challenge, ...]:
    """Challenges of a dossier that is already folded, such as that of a bundle; ``withheld`` are labels."""
    return challenges(Grounds.of(held, packs, vocabulary, withheld=withheld))

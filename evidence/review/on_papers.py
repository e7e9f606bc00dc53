"""Challenges about fairness, money and opinions: notice, inspection, bills, what was left out, who says so."""

from __future__ import annotations

from collections.abc import Iterator

from evidence.model.dossier import Recorded
from evidence.model.kinds import KINDS, enumerated
from evidence.model.loss import LossItem
from evidence.model.people import Correspondence, Opinion, Party
from evidence.model.repair import Intervention
from evidence.review.challenge import Raised
from evidence.review.grounds import Grounds
from evidence.review.on_state import ALTERING
from evidence.timeline.states import sure_before

_SIDES = ("owner", "driver", "present_repairer", "prior_repairer", "later_repairer", "technician")
_NO_INTEREST = frozenset({"none", "no interest", "none stated", "no"})


def notice_missing(grounds: Grounds) -> Iterator[Raised]:
    """The prior repairer was not told, or was told when nothing could be looked at any more."""
    sent = _letters(grounds, "notice")
    answer = (
        "Notice now: what was found, what will be done and when, which parts are kept, with a date for looking at them; "
        "proof of dispatch exhibited."
    )
    if not sent:
        yield Raised(
            code="notice_missing", sentence="No notice to the prior repairer is on record.", answer=answer,
            element="custody and notice",
        )  # fmt: skip
    elif early := _altered_before(grounds, sent):
        yield Raised(
            code="notice_missing",
            sentence=f"{enumerated(s.label for s in early)} altered the vehicle before the first notice "
            f"({enumerated(c.label for c in sent)}) went out.",
            answer="What was captured before that, and the parts kept, laid open to the other side.",
            subjects=(*(s.subject for s in early), *(c.subject for c in sent)),
        )  # fmt: skip


def inspection_missing(grounds: Grounds) -> Iterator[Raised]:
    """The prior repairer was offered no look, or only afterwards."""
    offered = _letters(grounds, "inspection_opportunity")
    if not offered:
        yield Raised(
            code="inspection_missing", sentence="No offer to the prior repairer to inspect is on record.",
            answer="An offer with date, place and conditions, for the vehicle or for the parts kept; a refusal is recorded too.",
            element="custody and notice",
        )  # fmt: skip
    elif early := _altered_before(grounds, offered):
        yield Raised(
            code="inspection_missing",
            sentence=f"{enumerated(s.label for s in early)} altered the vehicle before the other side was offered a look "
            f"({enumerated(c.label for c in offered)}).",
            answer="The parts kept and the originals of what was captured before, offered for inspection.",
            subjects=(*(s.subject for s in early), *(c.subject for c in offered)),
        )  # fmt: skip


def _letters(grounds: Grounds, about: str) -> list[Recorded[Correspondence]]:
    return [c for c in grounds.dossier.of(Correspondence) if c.value.about == about]


def _altered_before(grounds: Grounds, letters: list[Recorded[Correspondence]]) -> list[Recorded[Intervention]]:
    """Altering work surely earlier than every one of the letters."""
    return [
        s for s in grounds.holdings.states.steps.values()
        if s.value.action in ALTERING and all(sure_before(s.value.time.span, c.value.sent.span) for c in letters)
    ]  # fmt: skip


def cost_without_document(grounds: Grounds) -> Iterator[Raised]:
    """Lines of the loss without a paper, or that are only an estimate."""
    bare = [i for i in grounds.dossier.of(LossItem) if i.value.needs_paper and not i.value.exhibits]
    if bare:
        told = "; ".join(f"{i.label} ({i.value.summary()})" for i in bare)
        yield Raised(
            code="cost_without_document", sentence=f"No paper stands behind {told}.",
            answer="Invoice, receipt or a written estimate, exhibited and named by the line.",
            subjects=tuple(i.subject for i in bare), element="loss",
        )  # fmt: skip
    if not grounds.dossier.of(LossItem):
        yield Raised(
            code="cost_without_document", sentence="No loss is on record: there is nothing to pay.",
            answer="One line for each cost, with its kind, its basis and its paper.", element="loss",
        )  # fmt: skip


def opinion_without_basis(grounds: Grounds) -> Iterator[Raised]:
    """An opinion that names nothing that still stands and was seen, measured or written down."""
    for opinion in grounds.dossier.of(Opinion):
        held = [grounds.dossier.get(s) for s in opinion.value.basis]
        good = [r for r in held if r and not r.withdrawn and r.kind not in ("opinion", "party", "dossier")]
        if not good:
            why = "nothing" if not held else "only what is withdrawn, not held here, or opinion itself"
            yield Raised(
                code="opinion_without_basis",
                sentence=f"{opinion.label} of {grounds.dossier.party(opinion.value.by)} names {why} as its basis.",
                answer="The readings, pictures and papers that it rests on, named one by one.", subjects=(opinion.subject,),
            )  # fmt: skip


def opinion_interested(grounds: Grounds) -> Iterator[Raised]:
    """Every opinion is by somebody who gains or loses by the result, and nobody else has read it."""
    opinions = grounds.dossier.of(Opinion)
    if opinions and all(_interested(grounds, o) for o in opinions):
        told = "; ".join(f"{grounds.dossier.party(o.value.by)} ({_interest(grounds, o)})" for o in opinions)
        yield Raised(
            code="opinion_interested", sentence=f"{enumerated(o.label for o in opinions)}: only by {told}.",
            answer="A second reader without interest in the result, named in the opinion; the interest stays stated.",
            subjects=tuple(o.subject for o in opinions),
        )  # fmt: skip


def _interested(grounds: Grounds, opinion: Recorded[Opinion]) -> bool:
    reader = grounds.dossier.get(opinion.value.second_reader or "")
    if reader and isinstance(reader.value, Party) and _without_interest(reader.value):
        return False
    author = grounds.dossier.get(opinion.value.by)
    stated = opinion.value.interest.strip().lower() not in _NO_INTEREST
    return stated or not (author and isinstance(author.value, Party) and _without_interest(author.value))


def _without_interest(party: Party) -> bool:
    stated = party.interest and party.interest.strip().lower() not in _NO_INTEREST
    return not stated and not set(party.roles) & set(_SIDES)


def _interest(grounds: Grounds, opinion: Recorded[Opinion]) -> str:
    author = grounds.dossier.get(opinion.value.by)
    stated = author.value.interest if author and isinstance(author.value, Party) else None
    interest = stated or opinion.value.interest
    return "a party to the matter" if interest.strip().lower() in _NO_INTEREST else interest


def withheld(grounds: Grounds) -> Iterator[Raised]:
    """Records that are not shown: numbers that are missing, or what a bundle says it leaves out."""
    labels = tuple(dict.fromkeys((*grounds.withheld, *_missing_numbers(grounds))))
    if labels:
        held = "What it holds" if len(labels) == 1 else "What they hold"
        yield Raised(
            code="withheld", sentence=f"Not shown here: {enumerated(labels)}. {held} is not known to the reader.",
            answer="The records themselves, or for each the reason why it is left out; the headers stay and can be matched later.",
            labels=labels,
        )  # fmt: skip


def _missing_numbers(grounds: Grounds) -> Iterator[str]:
    """Numbers of a kind that should be there: headers give them, contents were withheld."""
    held: dict[str, set[int]] = {}
    for record in grounds.dossier.by_subject.values():
        held.setdefault(record.kind, set()).add(record.number)
    for kind, numbers in held.items():
        for number in range(1, max(numbers) + 1):
            if number not in numbers and kind in KINDS:
                yield f"{KINDS[kind].label} {number}"

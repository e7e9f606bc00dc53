"""Challenges about who had the vehicle and the parts: gaps and clashes in the chain, parts that are not there any more."""

from __future__ import annotations

from collections.abc import Iterator

from evidence.model.base import say
from evidence.model.exhibit import Exhibit
from evidence.model.people import CustodyTransfer
from evidence.model.repair import WorkOrder
from evidence.review.challenge import NO_SOURCE, Raised
from evidence.review.grounds import Grounds, grouped, striking
from evidence.timeline.custody import CustodyFault, chains, doubts_of, faults_of

_GONE = ("scrapped", "returned_as_core")
_ANSWERS = {
    "gap": "A hand-over record for that time: from whom to whom, when, where, in which container with which seal; or a "
    "statement of whoever had it.",
    "seal_changed": "A record of who opened the seal, when and why, and of the new seal.",
    "seal_unknown": "A record of who put that seal on, and when; a picture that shows its number.",
    "seal_used_again": "Pictures of both seals with their numbers; the seals themselves, kept.",
    "examined_sealed": "A record of who opened the seal for it, when, and of the new seal; or that it was looked at through its "
    "container.",
    "container_changed": "A record of who packed it anew, when and why.",
}
_ANSWER = "A statement of those named how it came from one to the other; the paper of the carrier or of the store."


def custody(grounds: Grounds) -> Iterator[Raised]:
    """What does not fit in the chain of custody of an item, and what cannot be told; by item."""
    found = chains(grounds.dossier)
    certain, doubtful = faults_of(found), doubts_of(found)
    every = (*certain, *doubtful)
    by_item = [(tuple(f.code for f in every if f.item == i), i) for i in dict.fromkeys(f.item for f in every)]
    for _codes, items in grouped(by_item):  # things of which the same is to be said stand together
        yield _of_items(grounds, items, certain, doubtful)


def _of_items(
    grounds: Grounds, items: list[str], certain: tuple[CustodyFault, ...], doubtful: tuple[CustodyFault, ...]
) -> Raised:
    faults = [f for f in certain if f.item in items]
    doubts = [f for f in doubtful if f.item in items]
    told = [f.sentence for f in faults] + [f"Open: {f.sentence}" for f in doubts]
    held = [r.subject for item in items if (r := grounds.labelled(item))]
    named = [r.subject for f in (*faults, *doubts) for label in f.records if (r := grounds.labelled(label))]
    answers = dict.fromkeys(_ANSWERS.get(f.code, _ANSWER) for f in (*faults, *doubts))
    on_it = {r.subject for r in grounds.readings if set(held) & {r.value.item, *r.value.exhibits}}
    return Raised(
        code="custody", sentence=" ".join(told), answer="\n".join(answers), subjects=tuple(dict.fromkeys((*held, *named))),
        without=striking(grounds.dossier, on_it) if on_it and faults else None,
    )  # fmt: skip


def part_scrapped(grounds: Grounds) -> Iterator[Raised]:
    """A part that a leading candidate speaks of, or that was put forward, is not there any more."""
    wanted = tuple(dict.fromkeys(c for candidate in grounds.leading for c in candidate.components))
    for order in grounds.dossier.of(WorkOrder):
        gone = [
            p for p in order.value.parts
            if p.old_part in _GONE and p.component and any(grounds.related(p.component, c) for c in wanted)
        ]  # fmt: skip
        if gone and order.value.side != "prior_repairer":
            told = "; ".join(f"{p.text} ({say(p.old_part or '')})" for p in gone)
            yield Raised(
                code="part_scrapped", sentence=f"By {order.label} the old part is not there any more: {told}.",
                answer="Pictures and readings of the part with its number, taken before it went; the supplier's strip report; "
                f"a witness who saw it ({NO_SOURCE}).",
                subjects=(order.subject,),
                without=striking(grounds.dossier, _of_part(grounds, [p.component or "" for p in gone])),
            )  # fmt: skip
    for thing in grounds.dossier.of(Exhibit):
        last = [
            t for t in grounds.dossier.of(CustodyTransfer) if t.value.item == thing.subject and t.value.fate in _GONE
        ]
        if thing.value.form == "physical" and (thing.value.retained is False or last):
            how = f"is {say(last[-1].value.fate or '')} by {last[-1].label}" if last else "was not retained"
            why = last[-1].value.knowing if last else thing.value.knowing
            yield Raised(
                code="part_scrapped",
                sentence=f"{thing.label} ({thing.value.summary()}) {how}{f'; the reason given: {why}' if why else ''}.",
                answer="Pictures with its number and the receipt of whoever took it.",
                subjects=(thing.subject, *(t.subject for t in last)),
                without=striking(
                    grounds.dossier, {thing.subject, *(r.subject for r in grounds.readings if r.value.item == thing.subject)}
                ),
            )  # fmt: skip


def _of_part(grounds: Grounds, components: list[str]) -> set[str]:
    """Readings of the part once it was off the vehicle: nobody can repeat them."""
    steps = grounds.holdings.states.steps.items()
    off = {s for s, step in steps if step.value.action in ("removed", "replaced", "opened")}
    return {
        subject for subject, items in grounds.holdings.by_subject.items()
        if any(off & i.met.after and any(grounds.related(i.of, c) for c in components) for i in items)
    }  # fmt: skip

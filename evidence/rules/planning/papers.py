"""Papers and questions: what settles an open point without a hand on the vehicle. One paper is one step."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from evidence.model.people import Consent, Correspondence, Party
from evidence.rules.asks import Document
from evidence.rules.holdings import Holdings
from evidence.rules.planning.asked import PAPERS, STILL_OPEN, Asked, Judged

# What to get, what it does, and the minutes it usually takes: common practice, no source.
_COMMON: dict[str, tuple[str, str, int]] = {
    "C1": (
        "Get the prior work order: date, odometer in and out, labour lines, parts.",
        "Without it the mechanism stays a candidate and nothing is said.", 10,
    ),
    "C2": (
        "Get what shows how the vehicle was before: earlier complaint, drive-in record, pre-scan, or the owner's statement.",
        "It decides whether the effect was there before; not met, it leaves no support.", 10,
    ),
    "C4": (
        "Take the owner's signed declaration before findings are shown: who else worked there; get those work orders.",
        "It excludes the owner's own work and a later repairer, who hold the statement at moderate.", 15,
    ),
    "C3": (
        "Ask the owner when and at what odometer reading the complaint first appeared.",
        "It places the onset inside or outside the latency window, by date and by odometer.", 5,
    ),
    "C7": (
        "Get the maker's document for that work, as it stood on that date, by number and page.",
        "It gives the standard of work, and the maker's figures that replace the defaults.", 20,
    ),
}  # fmt: skip
_OF_DOCUMENT = {"prior_work_order": "C1", "owner_declaration": "C4"}
_DOCUMENTS: dict[str, tuple[str, int]] = {
    "owner_work_order": ("Get the owner's other invoices and work orders, and look in them.", 10),
    "present_work_order": ("Look in the present work order.", 2),
}
_CONSENT = "Ask the owner in writing for consent to the tests that alter the state, and record the answer."
_NOTICE = "Give the prior repairer notice in writing, with a date on which he may look before anything is altered."
TEXTS: tuple[str, ...] = (  # what a step may say
    *(what for what, _, _ in _COMMON.values()), *(what for what, _ in _DOCUMENTS.values()), _CONSENT, _NOTICE,
)  # fmt: skip


@dataclass
class Paper:
    """One paper to get or question to put, with all that it answers."""

    what: str
    effect: str
    minutes: Decimal
    askers: list[tuple[Judged, str]] = field(default_factory=list)  # who asks, by which number
    asked: list[Asked] = field(default_factory=list)
    keys: list[str] = field(default_factory=list)
    so_far: list[str] = field(default_factory=list)


def papers(all_judged: Sequence[Judged], open_questions: Sequence[Asked]) -> tuple[Paper, ...]:
    """The common papers, those that findings and alternatives ask for, each paper once."""
    found: dict[str, Paper] = {}
    for name in PAPERS:
        what, effect, minutes = _COMMON[name]
        for judged in all_judged:
            reply = judged.common[name]
            if reply.answer in STILL_OPEN:
                paper = found.setdefault(name, Paper(what, effect, Decimal(minutes), keys=[name]))
                paper.askers.append((judged, name))
                paper.so_far += [r for r in reply.reasons if r not in paper.so_far]
    for asked in open_questions:
        if asked.stage == "papers":
            _add(asked, found)
    return tuple(found.values())


def _add(asked: Asked, found: dict[str, Paper]) -> None:
    documents = [p.document for p in asked.parts if isinstance(p, Document)]
    name = documents[0] if documents else asked.key
    common = _OF_DOCUMENT.get(name, name)
    if common not in found:
        if common in _COMMON:
            what, effect, minutes = _COMMON[common]
        else:
            what, minutes = _DOCUMENTS.get(name, (_first_statement(asked), 5))
            effect = ""
        found[common] = Paper(what, effect, Decimal(minutes))
    paper = found[common]
    paper.asked.append(asked)
    paper.keys.append(asked.key)
    paper.askers += [(j, x.id) for j, x in asked.entries]


def _first_statement(asked: Asked) -> str:
    if asked.findings:
        return asked.findings[0][1].statement
    return asked.alternatives[0][1].test


@dataclass(frozen=True)
class Permission:
    """Consent or notice that altering tests wait for."""

    what: str
    effect: str
    minutes: Decimal
    lacking: str  # as a reason for waiting


def permissions(holdings: Holdings) -> Iterator[Permission]:
    """What must be asked and told before anything is altered, as far as it is not on record."""
    given = [c.value for c in holdings.dossier.of(Consent) if c.value.to == "altering_tests"]
    if not (given and given[-1].granted):
        yield Permission(
            what=_CONSENT,
            effect="Without it no altering test is offered.", minutes=Decimal(10),
            lacking="no consent of the owner to altering tests is on record",
        )  # fmt: skip
    if not any(c.value.about in ("notice", "inspection_opportunity") for c in holdings.dossier.of(Correspondence)):
        yield Permission(
            what=_NOTICE,
            effect="It keeps the findings open to the other side; in some places a claim fails without it. Ask there; this "
            "program gives no legal advice.", minutes=Decimal(15),
            lacking="no notice to the prior repairer is on record",
        )  # fmt: skip


def to_invite(holdings: Holdings) -> tuple[str, ...]:
    """Who should be able to watch a test that can be done once."""
    found: Mapping[str, list[str]] = {role: [] for role in ("owner", "prior_repairer", "insurer")}
    for party in holdings.dossier.of(Party):
        for role in party.value.roles:
            role = "insurer" if role == "adjuster" else role
            if role in found and party.value.full_name not in found[role]:
                found[role].append(party.value.full_name)
    usual = {"owner": "the owner", "prior_repairer": "the prior repairer", "insurer": "the insurer, where one pays"}
    return tuple(f"{usual[role]} ({', '.join(names)})" if names else usual[role] for role, names in found.items())

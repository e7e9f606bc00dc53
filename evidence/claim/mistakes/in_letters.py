"""Mistakes in what was written: to whom, in which words, and what stands among the evidence that should not."""

from __future__ import annotations

import re
from collections.abc import Iterator

from evidence.claim.mistakes.ground import Made, at
from evidence.model.course import CourseStep
from evidence.model.dossier import Dossier, Recorded
from evidence.model.people import CallNote, Consent, Correspondence, Opinion, Party

# Words by which people offer and haggle, in the languages of the papers. Own lists: a word too many asks for a reason, a word
# too few lets one through. Nobody says in which language a record is written, so every list is held against every record.
_TALK = re.compile(
    r"\b(without prejudice|settlement|settle (?:this|the|it|for)|full and final|(?:offer|offers|offered|willing) to (?:pay|settle)|"
    r"meet (?:you|us|me) half ?way|as a gesture of good ?will|out of court|"
    r"transacci[oó]n extrajudicial|transigir|(?:ofrec|propon|propus)\w* (?:pagar|abonar|un pago|un acuerdo)|"
    r"(?:dispuest[oa]s?|disponible) a (?:pagar|abonar|negociar|llegar a un acuerdo)|lleg\w* a un (?:acuerdo|arreglo)|"
    r"arregl\w* (?:esto |el asunto )?(?:entre nosotros|por las buenas)|acuerdo (?:amistoso|extrajudicial)|"
    r"gesto de buena voluntad|como gesto comercial|finiquito|pago (?:total y )?definitivo|partir la diferencia|"
    r"(?:vernos|encontrarnos) a medio camino)\b",
    re.IGNORECASE,
)
# Words that accuse or insult; own lists.
_HARSH = re.compile(
    r"\b(frau\w+|crooks?|swindl\w*|criminal\w*|liars?|lied|lying|cheat\w*|incompeten\w*|idiot\w*|botch\w*|cowboys?|negligen\w*|"
    r"guilty|to blame|scam\w*|thie(?:f|ves)|sabotag\w*|disgrace\w*|"
    r"estafa\w*|timo|timos|timad\w*|delincuente\w*|mentir\w*|mentiros\w*|mient\w*|engañ\w*|inept\w*|"
    r"chapuz\w*|chapucer\w*|culpables?|la culpa es|tienen? la culpa|ladr[oó]n(?:es)?|sinverg[uü]enzas?|caradura\w*|sabote\w*|vergonzos\w*|"
    r"desastros\w*|imb[eé]cil\w*)\b",
    re.IGNORECASE,
)
_NONE = frozenset(
    {"", "none", "no", "nil", "no interest", "-", "nothing", "ninguno", "ningún interés", "nada", "sin interés"}
)


def talk_among_evidence(dossier: Dossier) -> Iterator[Made]:
    """An offer or a talk about settling, written down where papers carry it."""
    for letter in dossier.of(Correspondence):
        if words := _talk_in(letter.label, letter.value.text):
            yield at(letter, "talk_among_evidence", words)
    for step in dossier.of(CourseStep):
        if words := _talk_in(step.label, step.value.text):
            yield at(step, "talk_among_evidence", words)


def _talk_in(label: str, text: str | None) -> str:
    found = _TALK.search(text or "")
    said = f"{label} says “{found.group(0)}”" if found else ""
    return f"{said}: talk about settling belongs into the second ledger ('evidence talk')." if found else ""


def harsh_words(dossier: Dossier) -> Iterator[Made]:
    """A letter of ours that accuses."""
    for letter in dossier.of(Correspondence):
        sender = dossier.get(letter.value.sender)
        theirs = (
            sender
            and isinstance(sender.value, Party)
            and {"prior_repairer", "insurer", "adjuster"} & set(sender.value.roles)
        )
        found = None if theirs else _HARSH.search(letter.value.text or "")
        if found:
            yield at(letter, "harsh_words", f"{letter.label} says “{found.group(0)}”.")


def wrong_respondent(dossier: Dossier) -> Iterator[Made]:
    """A demand to, or a claim filed against, a prior repairer of whom it is not known who he is in law."""
    prior = {p.subject: p for p in dossier.of(Party) if "prior_repairer" in p.value.roles}
    for letter in dossier.of(Correspondence):
        party = prior.get(letter.value.receiver)
        if letter.value.about == "demand_letter" and party and (lacks := _lacks(party)):
            yield at(letter, "wrong_respondent", f"{letter.label} demands from {party.value.full_name}, of whom {lacks} is not "
                     "on record.")  # fmt: skip
    for step in dossier.of(CourseStep):
        unknown = [p for p in prior.values() if _lacks(p)]
        if step.value.stage == "filed" and unknown:
            names = "; ".join(f"{p.value.full_name}: {_lacks(p)}" for p in unknown)
            yield at(step, "wrong_respondent", f"{step.label}: filed, and not on record is, of {names}.")


def _lacks(party: Recorded[Party]) -> str:
    missing = [
        words
        for words, held in (("the legal name", party.value.legal_name), ("the address", party.value.address))
        if not held
    ]
    return " and ".join(missing)


def interest_unstated(dossier: Dossier) -> Iterator[Made]:
    """An opinion by somebody of a side, who says that he has no interest, and nobody else has read it."""
    sides = {"owner", "driver", "present_repairer", "prior_repairer", "technician", "insurer", "adjuster"}
    for opinion in dossier.of(Opinion):
        author = dossier.get(opinion.value.by)
        of_a_side = author and isinstance(author.value, Party) and sides & set(author.value.roles)
        if of_a_side and opinion.value.interest.strip().lower() in _NONE and not opinion.value.second_reader:
            yield at(opinion, "interest_unstated", f"{opinion.label} of {dossier.party(opinion.value.by)} states no interest, and "
                     "nobody else has read it.")  # fmt: skip


def private_data(dossier: Dossier) -> Iterator[Made]:
    """Contact of a third person on record, with no consent to share it."""
    consents = {c.value.given_by for c in dossier.of(Consent) if c.value.to == "share_data" and c.value.granted}
    for party in dossier.of(Party):
        third = {"witness", "driver"} & set(party.value.roles) and "owner" not in party.value.roles
        private = party.value.contact or party.value.address
        if third and private and not party.value.firm and party.subject not in consents:
            yield at(party, "private_data", f"{party.label} ({party.value.full_name}): address or number of a third person, and no "
                     "consent to share it; leave it out of copies for others.")  # fmt: skip


def hearsay(dossier: Dossier) -> Iterator[Made]:
    """What was only told by somebody else than the owner or driver, with no paper to it."""
    from evidence.model.happening import Event

    own = {p.subject for p in dossier.of(Party) if {"owner", "driver"} & set(p.value.roles)}
    heard = {c.value.caller for c in dossier.of(CallNote)}
    for event in dossier.of(Event):
        teller = event.value.by
        if event.value.basis == "told" and not event.value.exhibits and teller not in own | heard:
            who = f"by {dossier.party(teller)}" if teller else "by nobody named"
            yield at(event, "hearsay", f"{event.label} ({event.value.summary()}) was told {who}, with no paper to it.")

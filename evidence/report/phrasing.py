"""Sentences for paper: capitals, full stops, lists that leave out what is empty."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from evidence.model.base import say, shorten
from evidence.rules.assessment import Assessment, Candidate, PlanStep

NOT_STATED = "not stated"
NOT_MEANT = (
    "This says how well what was found fits one explanation rather than another. It is not the probability that "
    "anybody is to blame, and it decides nothing about liability."
)
_LABEL = re.compile(r"[A-Z][a-z' ]* \d+\b")  # of a record
_EXPECTED = "to be expected if this were the cause, and looked for without finding it: "
_UNEXPECTED = "not to be expected if this were the cause, and found: "
_TO_GET = {  # what every explanation asks for, as something to go and get
    "C1": "Get the prior work order: date, odometer in and out, labour lines, parts.",
    "C2": "Get what shows how the vehicle was before the work: the complaint on the earlier order, a drive-in record, a "
    "pre-scan, an inspection record, or the owner's signed statement.",
    "C3": "Ask the owner when and at what odometer reading the complaint first appeared.",
    "C4": "Take the owner's declaration who else worked there in between, and get those work orders.",
    "C7": "Get the maker's document for that work, as it stood on that date, by number and page.",
}


def sentence(text: str) -> str:
    """First letter large, full stop at the end."""
    text = " ".join(text.split())
    if not text:
        return text
    start = 1 if text[0] in "“(" else 0
    return text[:start] + capital(text[start:]) + ("" if text[-1] in ".!?…”" else ".")


def whole_sentences(text: str, limit: int) -> str:
    """As many whole sentences as fit; the first one in any case, cut if need be."""
    kept = ""
    for part in re.split(r"(?<=[.!?]) ", " ".join(text.split())):
        if kept and len(kept) + len(part) > limit:
            return kept
        kept = f"{kept} {part}".strip()
    return shorten(kept, limit)


def capital(text: str) -> str:
    """A text with its first letter large."""
    return text[:1].upper() + text[1:]


def first_up(word: str) -> str:
    """An enumeration word with a capital."""
    return capital(say(word))


def joined(parts: Iterable[object], sep: str = "; ") -> str:
    """The parts that say something."""
    return sep.join(str(p) for p in parts if p)


def or_not_stated(text: str | None) -> str:
    """The text, or the words that it is not stated."""
    return text or NOT_STATED


def to_capture(step: PlanStep) -> str:
    """A step as something to do; in full, without the number of a finding."""
    return next((_TO_GET[name] for name in step.findings if name in _TO_GET), None) or sentence(step.what)


def to_owner(text: str, candidate: Candidate, longest: int = 70) -> str:
    """Without the numbers of findings and alternatives, which mean nothing to a reader: what they are stands there."""
    return without_numbers(text, names_of(candidate), longest)


def without_numbers(text: str, names: Mapping[str, str], longest: int = 70) -> str:
    """The same for any naming: ``names`` is what each number stands for."""

    def named(match: re.Match[str]) -> str:
        number, inner = match.groups()
        if _LABEL.match(inner):  # not a name but the records that carry it
            return f"“{whole_words(names[number], longest)}” ({inner})" if number in names else match[0]
        return f"“{inner}”"

    text = re.sub(r"^(?:[a-z]+, )?[A-Z]\d+ \(([^)]*)\): ", r"\1: ", text)
    text = re.sub(r"^[A-Z]\d+ is (open|supported): ", r"\1: ", text)
    text = re.sub(r"^[A-Z]\d+ cannot be missing if the mechanism is true, and was not met: ", _EXPECTED, text)
    text = re.sub(r"^[A-Z]\d+ should not be there if the mechanism is true, and was met: ", _UNEXPECTED, text)
    text = re.sub(r"\b([A-Z]\d+) \(((?:[^()]|\([^()]*\))*)\)", named, text).replace("by its own test", "by the record")
    return re.sub(
        r"\b[A-Z]\d{1,2}\b", lambda m: f"“{whole_words(names[m[0]], longest)}”" if m[0] in names else m[0], text
    )


def whole_words(text: str, limit: int) -> str:
    """The text, or its beginning up to the last comma or bracket that leaves half of it, else up to a whole word."""
    if len(text) <= limit:
        return text
    cut = max(text.rfind(mark, limit // 2, limit) for mark in (", ", " (", ": "))
    return text[: cut if cut > 0 else text.rfind(" ", 0, limit)].rstrip(" ,;:") + " …"


def names_of(candidate: Candidate) -> dict[str, str]:
    """What findings and alternatives are, by their numbers: a statement up to its first semicolon, or a claim."""
    names = {f.id: f.statement.partition(";")[0] for f in (*candidate.findings, *candidate.common)}
    return names | {a.id: a.claim for a in candidate.alternatives}


def asked_about(assessment: Assessment, mechanism: str, number: str | None) -> str:
    """What a person's word is about: the finding or alternative in words, and of which explanation."""
    for candidate in assessment.candidates:
        if candidate.mechanism == mechanism:
            name = names_of(candidate).get(number or "", number or "")
            return joined([name and f"“{whole_words(name, 70)}”", f"of “{whole_words(candidate.title, 70)}”"], " ")
    return joined([say(mechanism), number], ", ")  # it is not called up any more


def first_clause(text: str, limit: int) -> str:
    """A statement up to its first semicolon: what was looked for, without how."""
    return capital(shorten(text.partition(";")[0].strip(), limit))


def some(items: list[str], most: int) -> list[str]:
    """The first few, and how many more there are."""
    return items if len(items) <= most + 1 else [*items[:most], f"… and {len(items) - most} more like these."]

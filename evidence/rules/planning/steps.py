"""One open question, one paper or one checklist as a step: how, with what, how long, and what it is worth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from evidence.rules.capture_plan import AskedBy, CaptureStep, Stage
from evidence.rules.information import per_minute
from evidence.rules.planning.asked import REQUEST_ONLY, Asked, Judged
from evidence.rules.planning.papers import Paper, Permission
from evidence.rules.planning.stake import Stakes
from evidence.rules.planning.telling import meaning
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.wording import in_words

# The usual minutes where a pack says nothing: common practice, no source.
USUAL_MINUTES: dict[str, int] = {"record": 5, "observation": 5, "measurement": 15}
_A_PICTURE = Decimal(1)
_INSTRUMENTS = {"senses": "eyes and hands, a light and a mirror", "uv-lamp": "UV lamp"}
# A caution's name in a word or two; its text is the vocabulary's.
CAUTION_NAMES: dict[str, str] = {
    "HV": "traction voltage", "SRS": "airbags and belt tensioners", "FUEL": "fuel", "PRESS": "injection pressure",
    "REFR": "refrigerant", "HOT": "heat", "LIFT": "lifting", "ROT": "turning parts", "BATT": "battery",
    "SPARK": "ignition voltage", "ROAD": "not to be driven",
}  # fmt: skip
_BY_WHOM = "from a person qualified for this system, who works by the maker's procedure; no steps are given here"


@dataclass(frozen=True)
class Frame:
    """What every step needs to know of the whole."""

    letters: Mapping[str, str]  # mechanism -> A, B ...
    stakes: Stakes
    vocabulary: Vocabulary
    invited: tuple[str, ...]


def of_question(asked: Asked, frame: Frame) -> CaptureStep:
    """A step that answers one question."""
    met, not_met, between = meaning(asked, frame.letters)
    minutes, stated = _minutes(asked)
    bits = frame.stakes.bits(asked.key)
    request = asked.request_only
    askers = [(j, x.id) for j, x in asked.entries]
    return _made(
        frame, asked.stage, askers, what=asked.what, minutes=minutes, minutes_stated=stated, bits=bits,
        how=_how(asked, frame),
        instrument="" if request else _instrument(asked), read_so_far=_so_far(asked), if_met=met, if_not=not_met,
        between=between, one_shot=asked.one_shot, alters=asked.alters, undisturbed=asked.undisturbed,
        invite=frame.invited if asked.one_shot else (), request_only=request,
        keep=_kept(asked.askers) if asked.alters else (),
    )  # fmt: skip


def of_general(same: Sequence[Asked], frame: Frame) -> CaptureStep:
    """What every entry asks alike, each of its own parts: one step, a line for each."""
    if len(same) == 1:
        return of_question(same[0], frame)
    steps = [of_question(a, frame) for a in same]
    request = all(s.request_only for s in steps)
    lines = [
        f"{_how(a, frame)} ({', '.join(by.letter for by in s.asked_by)})" for a, s in zip(same, steps, strict=True)
    ]  # fmt: skip
    askers = [(j, x.id) for a in same for j, x in a.alternatives]
    first = same[0].alternatives[0][1]
    return _made(
        frame, steps[0].stage, askers, what=first.test, minutes=sum((s.minutes for s in steps), Decimal(0)),
        minutes_stated=all(s.minutes_stated for s in steps), bits=sum((s.bits for s in steps), Decimal(0)),
        lines=tuple(lines), instrument=steps[0].instrument, request_only=request,
        if_met=f"For that one it excludes “{first.claim}”.", if_not=f"For that one it supports “{first.claim}”.",
        between=steps[0].between,
    )  # fmt: skip


def of_paper(paper: Paper, frame: Frame) -> CaptureStep:
    """A step that gets one paper, with everything that is to be looked up in it."""
    lines = []
    for asked in paper.asked:
        met, not_met, _ = meaning(asked, frame.letters)
        lines.append(f"{_how(asked, frame)}. If so: {_low(met)} If not: {_low(not_met)}")
    bits = sum((frame.stakes.bits(k) for k in paper.keys), Decimal(0))
    return _made(
        frame, "papers", paper.askers, what=paper.what, minutes=paper.minutes, minutes_stated=False, bits=bits,
        lines=tuple(lines), effect=paper.effect, instrument="papers", read_so_far="; ".join(paper.so_far),
    )  # fmt: skip


def of_permission(permission: Permission, waiting_for: Sequence[Judged], frame: Frame) -> CaptureStep:
    """Consent or notice."""
    return _made(
        frame, "papers", [(j, "") for j in waiting_for], what=permission.what, minutes=permission.minutes,
        minutes_stated=False, bits=Decimal(0), effect=permission.effect, instrument="papers",
    )  # fmt: skip


def checklists(all_judged: Sequence[Judged], frame: Frame) -> Iterator[CaptureStep]:
    """What the entries want on record before anything is touched, as long as nobody had hands on these parts."""
    untouched = [
        j for j in all_judged
        if j.examined.call.mechanism.capture.before and not j.examined.setting.touching(j.examined.call.mechanism.components)
    ]  # fmt: skip
    for request in (False, True):
        mine = [j for j in untouched if _guarded(j) == request]
        lines: dict[str, list[str]] = {}
        for judged in mine:
            for text in judged.examined.call.mechanism.capture.before:
                lines.setdefault(text, []).append(frame.letters[judged.id])
        if lines:
            yield _made(
                frame, "untouched", [(j, "") for j in mine],
                what="Ask for what is to be seen or read as found" if request else "Go round with the camera: record as found",
                minutes=_A_PICTURE * len(lines), minutes_stated=False, bits=Decimal(0),
                lines=tuple(f"{text} ({', '.join(letters)})" for text, letters in lines.items()),
                how=_request("") if request else "Wide, middle and close with a scale; note who, when and with which device.",
                instrument="" if request else "camera", request_only=request, undisturbed=True,
                effect="It can be had only before anything is touched, and everything after it rests on it.",
            )  # fmt: skip


def _made(
    frame: Frame, stage: Stage, askers: Iterable[tuple[Judged, str]], *, what: str, minutes: Decimal, minutes_stated: bool,
    bits: Decimal, lines: tuple[str, ...] = (), how: str = "", read_so_far: str = "", instrument: str = "", if_met: str = "",
    if_not: str = "", between: str = "", effect: str = "", one_shot: bool = False, alters: bool = False,
    undisturbed: bool = False, invite: tuple[str, ...] = (), request_only: bool = False, keep: tuple[str, ...] = (),
) -> CaptureStep:  # fmt: skip
    pairs = list(askers)
    return CaptureStep(
        place=0, stage=stage, asked_by=asked_by(pairs, frame.letters), what=_capital(what), lines=lines, how=_capital(how),
        read_so_far=read_so_far, instrument=instrument, minutes=minutes, minutes_stated=minutes_stated, running=Decimal(0),
        bits=bits, per_minute=per_minute(bits, Fraction(minutes)), slight=False, if_met=if_met, if_not=if_not, between=between,
        effect=effect, one_shot=one_shot, alters=alters, undisturbed=undisturbed, invite=invite, waiting=(),
        request_only=request_only, keep=keep,
        cautions=cautions_of([j for j, _ in pairs], frame.vocabulary) if stage != "papers" else (),
    )  # fmt: skip


def asked_by(askers: Iterable[tuple[Judged, str]], letters: Mapping[str, str]) -> tuple[AskedBy, ...]:
    """Who asks, in order of the explanations."""
    found: dict[str, list[str]] = {}
    for judged, number in askers:
        numbers = found.setdefault(judged.id, [])
        if number and number not in numbers:
            numbers.append(number)
    order = list(letters)
    return tuple(
        AskedBy(letter=letters[m], mechanism=m, numbers=tuple(found[m])) for m in sorted(found, key=order.index)
    )


def cautions_of(all_judged: Iterable[Judged], vocabulary: Vocabulary) -> tuple[tuple[str, str], ...]:
    """Each caution once, by its short name."""
    codes = dict.fromkeys(c for j in all_judged for c in j.examined.call.mechanism.safety.codes)
    return tuple((CAUTION_NAMES.get(c, c), vocabulary.cautions.get(c, "")) for c in codes)


def safety_notes(all_judged: Iterable[Judged], letters: Mapping[str, str]) -> tuple[str, ...]:
    """What an entry says of safety beside the cautions by code; each note once."""
    found: dict[str, list[str]] = {}
    for judged in all_judged:
        if note := judged.examined.call.mechanism.safety.note:
            found.setdefault(note, []).append(letters[judged.id])
    return tuple(f"{note} ({', '.join(of)})" for note, of in found.items())


def _minutes(asked: Asked) -> tuple[Decimal, bool]:
    """The longest that a pack states for it; else the usual for its kind."""
    stated = [Decimal(e.minutes) for _, e in asked.entries if e.minutes and Decimal(e.minutes) > 0]
    if stated:
        return max(stated), True
    kinds = [f.kind for _, f in asked.findings] or ["observation"]
    return Decimal(max(USUAL_MINUTES[k] for k in kinds)), False


def _instrument(asked: Asked) -> str:
    names = dict.fromkeys(e.instrument for _, e in asked.entries if e.instrument)
    return " or ".join(_INSTRUMENTS.get(n, n.replace("-", " ")) for n in names)


def _how(asked: Asked, frame: Frame) -> str:
    """The typed question in words; of high voltage and restraints it is what is to be requested."""
    told = asked.named(in_words(asked.asks, frame.vocabulary)) if asked.asks else ""
    return _request(told) if asked.request_only else told


def _request(finding: str) -> str:
    return f"to be requested {_BY_WHOM}{f': {finding}' if finding else ''}"


def _so_far(asked: Asked) -> str:
    reasons = [
        r for j, f in asked.findings if j.examined.replies[f.id].answer == "undecided" for r in j.examined.replies[f.id].reasons
    ]  # fmt: skip
    return "; ".join(dict.fromkeys(reasons))


def _kept(askers: Iterable[Judged]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for j in askers for text in j.examined.call.mechanism.retain))


def to_keep(all_judged: Iterable[Judged], letters: Mapping[str, str]) -> tuple[str, ...]:
    """The parts to keep, entry by entry."""
    return tuple(
        f"{letters[j.id]}: {'; '.join(j.examined.call.mechanism.retain)}"
        for j in all_judged
        if j.examined.call.mechanism.retain
    )


def _guarded(judged: Judged) -> bool:
    return any(code in REQUEST_ONLY for code in judged.examined.call.mechanism.safety.codes)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _low(text: str) -> str:
    return text[:1].lower() + text[1:]

"""From loaded YAML to a :class:`Pack`: every fault of a badly written pack is named, then it is refused.

Three different results, never mixed: a badly written rule (here), a rule that does not apply, a rule that fires.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from evidence.errors import BadPack, Mistake
from evidence.model.base import nearest
from evidence.model.mistakes import Locate, Path, mistakes_of, nowhere
from evidence.rules.asks import Computed, parts_of
from evidence.rules.computed import OF_ANSWERS
from evidence.rules.pack import LIMBS, Mechanism, Pack
from evidence.rules.vocabulary import Vocabulary

COMMON_IDS = tuple(f"C{n}" for n in range(1, 11))

# A system whose work can hurt someone needs its caution in every entry.
_CAUTION_OF_SYSTEM = {"hybrid": "HV", "high voltage": "HV", "restraint": "SRS", "fuel": "FUEL", "refrigerant": "REFR"}


def parse_pack(
    raw: Mapping[str, Any], *, file: str, locate: Locate = nowhere, vocabulary: Vocabulary | None = None
) -> Pack:
    """Read one pack. ``raw`` holds text scalars only; ``locate`` gives line and column of a path inside it.

    Raises :class:`BadPack` whose message lists every fault with file, line, rule and key. Without a vocabulary
    the words are not checked.
    """
    context = context_of(vocabulary) if vocabulary else {}
    faults: list[Mistake] = []
    try:
        pack = Pack.model_validate(raw, context=context)
    except ValidationError as err:
        pack = None
        faults += _of_validator(err, raw, file, locate)
    faults += _across(raw, file, locate)
    if vocabulary:
        faults += word_faults(raw, file, locate, vocabulary)
    if faults or pack is None:
        raise refused(f"rule pack {file}", faults)
    return pack


def refused(what: str, faults: Sequence[Mistake]) -> BadPack:
    """The error that lists every fault, in order of line."""
    ordered = sorted(set(faults), key=lambda m: (m.file, m.line, m.column, m.item, m.message))
    head = f"{what} has {len(ordered)} fault{'s' if len(ordered) != 1 else ''}"
    return BadPack(head + "".join(f"\n  {m}" for m in ordered), advice="Mend the places named; nothing of it is used.")


def lint(pack: Pack, vocabulary: Vocabulary, *, file: str = "") -> tuple[Mistake, ...]:
    """Softer faults: the pack can be used, but says less than it should."""
    found: list[Mistake] = []

    def say(mechanism: str, key: str, message: str, right: str = "") -> None:
        found.append(Mistake(file, 0, 0, f"{mechanism}, {key}", message, right))

    for m in pack.mechanisms:
        for f in m.findings:
            if f.asks is None:
                say(m.id, f.id, "asks nothing in typed form, so only a person's binding can answer it")
        for a in m.alternatives:
            if a.asks is None and not a.excluded_by:
                say(m.id, a.id, "nothing typed settles it", "add 'asks' or 'excluded_by'")
        for word, code in _CAUTION_OF_SYSTEM.items():
            if word in m.system and code not in m.safety.codes:
                say(m.id, "safety", f"work on this system needs the caution {code}", f"add {code} to 'codes'")
        touched = {c for o in m.prior_operations if o in vocabulary.operations for c in vocabulary.disturbed_by(o)}
        for c in m.components:
            if m.prior_operations != ("any-operation",) and not any(
                vocabulary.within(c, t) or vocabulary.within(t, c) for t in touched
            ):
                say(m.id, "components", f"none of the prior operations has hands on {c!r}")
        found += _untied(m, file)
        found += _odd(m, pack, file)
    return tuple(found)


def _odd(m: Mechanism, pack: Pack, file: str) -> Iterator[Mistake]:
    """Findings that weigh the wrong way round, or ask what only the other answers can tell."""
    for f in m.findings:
        if pack.probability(f.if_true) < pack.probability(f.if_not):
            yield Mistake(file, 0, 0, f"{m.id}, {f.id}", "is less expected if the mechanism is true than if not")
        for ask in parts_of(f.asks) if f.asks else ():
            if isinstance(ask, Computed) and ask.computed in OF_ANSWERS:
                message = f"asks {ask.computed!r}, which rests on the answers themselves"
                yield Mistake(file, 0, 0, f"{m.id}, {f.id}", message, "ask it in an alternative")


def _untied(m: Mechanism, file: str) -> Iterator[Mistake]:
    """X findings that no alternative rests on: they can settle nothing."""
    used = {i for a in m.alternatives for i in a.excluded_by}
    for f in m.findings:
        if f.limb == "X" and f.id not in used:
            yield Mistake(file, 0, 0, f"{m.id}, {f.id}", "is an exclusion that no alternative names in 'excluded_by'")


def context_of(vocabulary: Vocabulary) -> dict[str, Any]:
    """The vocabulary as the validators of names want it."""

    def within(family: str, known: Mapping[str, Any] | Sequence[str]) -> Any:
        def check(word: str) -> str:
            if word not in known:
                raise ValueError(f"{word!r} is not a {family} known here{nearest(word, known)}")
            return word

        return check

    return {
        "component": vocabulary.component,
        "operation": vocabulary.operation,
        "complaint": vocabulary.complaint,
        "departure": within("departure code", vocabulary.departures),
        "caution": within("caution code", vocabulary.cautions),
        "system": within("system", vocabulary.systems),
    }


def _of_validator(err: ValidationError, raw: Mapping[str, Any], file: str, locate: Locate) -> list[Mistake]:
    return [_renamed(m, raw) for m in mistakes_of(err, Pack, file=file, item="pack", locate=locate)]


def _renamed(mistake: Mistake, raw: Mapping[str, Any]) -> Mistake:
    """``pack, mechanisms.3.findings.2.asks.of`` becomes ``ign-coil-ground-left-off, F2, asks.of``."""
    _, _, dotted = mistake.item.partition(", ")
    path: Path = tuple(int(p) - 1 if p.isdigit() else p for p in dotted.split(".") if p)
    return Mistake(mistake.file, mistake.line, mistake.column, _item(raw, path), mistake.message, mistake.right)


def _item(raw: Mapping[str, Any], path: Path) -> str:
    """The rule, the finding and the key of a path, in the author's own names."""
    names: list[str] = []
    here: Any = raw
    rest = list(path)
    while len(rest) > 1 and rest[0] in ("mechanisms", "findings", "alternatives"):
        key, index = rest[0], rest[1]
        listed = here.get(key) if isinstance(here, Mapping) else None
        here = listed[index] if isinstance(listed, Sequence) and isinstance(index, int) and index < len(listed) else {}
        names.append(str(here.get("id", f"{key} no. {int(index) + 1}") if isinstance(here, Mapping) else index))
        rest = rest[2:]
    key = ".".join(str(p + 1) if isinstance(p, int) else p for p in rest)
    return ", ".join([*(names or ["pack"]), *([key] if key else [])])


def _entries(raw: Any, key: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """The well-formed members of a list, with their index; what is not a mapping is the validator's business."""
    members = raw.get(key) if isinstance(raw, Mapping) else None
    if isinstance(members, Sequence) and not isinstance(members, str):
        yield from ((i, m) for i, m in enumerate(members) if isinstance(m, Mapping))


def _across(raw: Mapping[str, Any], file: str, locate: Locate) -> Iterator[Mistake]:
    """What only the whole entry can show; read from the raw text so that one fault does not hide another."""

    def fault(path: Path, message: str, right: str = "") -> Mistake:
        line, column = locate(path)
        return Mistake(file, line, column, _item(raw, path), message, right)

    sources = raw.get("sources")
    known_sources = list(sources) if isinstance(sources, Mapping) else []
    seen: set[str] = set()
    for i, m in _entries(raw, "mechanisms"):
        here: Path = ("mechanisms", i)
        if str(m.get("id")) in seen:
            yield fault((*here, "id"), f"the id {m.get('id')!r} stands twice")
        seen.add(str(m.get("id")))
        for source in m.get("sources") or () if isinstance(m.get("sources"), list) else ():
            if source not in known_sources:
                close = nearest(str(source), known_sources).removeprefix("; ")
                yield fault((*here, "sources"), f"{source!r} is not a source of this pack", close)
        yield from (fault(*f) for f in _inside(m, here))


def _inside(m: Mapping[str, Any], here: Path) -> Iterator[tuple[Path, str, str]]:
    members = [((*here, key, j), entry) for key in ("findings", "alternatives") for j, entry in _entries(m, key)]
    ids: set[str] = set()
    for path, entry in members:
        if (name := str(entry.get("id"))) in ids:
            yield (*path, "id"), f"the id {name!r} stands twice in this entry", ""
        elif name in COMMON_IDS:
            yield (*path, "id"), f"the id {name!r} belongs to a common finding", ""
        ids.add(name)
    limbs = {str(f.get("limb")) for _, f in _entries(m, "findings")}
    for limb in ("D", "L", "E"):
        if limb not in limbs:
            yield (*here, "findings"), f"has no finding of the limb {limb} ({LIMBS[limb]})", ""
    known = [str(f.get("id")) for _, f in _entries(m, "findings")]
    right = "this entry has " + ", ".join(known)
    for path, entry in members:
        named = entry.get("excluded_by")
        for name in named if isinstance(named, list) else ():
            if name not in (*known, *COMMON_IDS):
                yield (*path, "excluded_by"), f"{name!r} is not a finding of this entry", right
        for place, name in _named_findings(entry.get("asks"), (*path, "asks")):
            if name not in known:
                yield place, f"{name!r} is not a finding of this entry", right
            elif name == entry.get("id"):
                yield place, f"{name!r} asks about itself", ""


def _named_findings(ask: Any, path: Path) -> Iterator[tuple[Path, str]]:
    if isinstance(ask, Mapping):
        for key, value in ask.items():
            if key in ("change", "cured") and isinstance(value, str):
                yield (*path, key), value
            else:
                yield from _named_findings(value, (*path, key))
    elif isinstance(ask, list):
        for i, value in enumerate(ask):
            yield from _named_findings(value, (*path, i))


def word_faults(raw: Mapping[str, Any], file: str, locate: Locate, vocabulary: Vocabulary) -> Iterator[Mistake]:
    """Aspects and their words, counts of the vehicle, and what papers say or carry, wherever they stand.

    Read from the raw text, so that a fault elsewhere hides none of them.
    """
    for path, node in _groups(raw, ()):
        for key, told in _unknown_words(node, vocabulary):
            line, column = locate((*path, *key))
            message, _, right = told.partition("; ")
            yield Mistake(file, line, column, _item(raw, (*path, *key)), message, right)


def _groups(node: Any, path: Path) -> Iterator[tuple[Path, Mapping[str, Any]]]:
    if isinstance(node, Mapping):
        yield path, node
        for key, value in node.items():
            if key != "threshold":  # words for a reader; nothing is asked there
                yield from _groups(value, (*path, key))
    elif isinstance(node, list):
        for i, value in enumerate(node):
            yield from _groups(value, (*path, i))


def _unknown_words(ask: Mapping[str, Any], vocabulary: Vocabulary) -> Iterator[tuple[Path, str]]:
    aspect, over = ask.get("observe"), ask.get("over")
    if isinstance(aspect, str):
        for word in _texts(ask.get("is")):
            try:
                vocabulary.aspect_word(aspect, word)
            except ValueError as err:
                yield ("observe" if aspect not in vocabulary.aspects else "is",), str(err)
                if aspect not in vocabulary.aspects:
                    break
    if isinstance(over, Mapping) and over.get("every") not in (None, *vocabulary.counts):
        name = str(over["every"])
        yield ("over", "every"), f"{name!r} is not a count of the vehicle{nearest(name, vocabulary.counts)}"
    if "document" in ask and ask["document"] != "owner_declaration":
        for tag in _texts(ask.get("says")):
            if tag not in vocabulary.complaints:
                yield ("says",), f"{tag!r} is not a complaint tag{nearest(tag, vocabulary.complaints)}"
        for name in _texts(ask.get("carries")):
            if name not in vocabulary.operations and name not in vocabulary.components:
                close = nearest(name, [*vocabulary.operations, *vocabulary.components])
                yield ("carries",), f"{name!r} is neither an operation nor a component{close}"
    if ask.get("computed") == "latency" and "of" in ask:
        yield ("of",), "'of' says nothing to 'latency'"


def _texts(value: Any) -> list[str]:
    return [str(v) for v in value] if isinstance(value, list) else [] if value is None else [str(value)]

"""A verdict in sentences: what is shown, what is only asserted, what is missing. No sentence claims more than was checked."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence

from evidence.model.dossier import Dossier, Step
from evidence.model.kinds import KINDS, enumerated, label_of
from evidence.review.verdict import DAMAGED, INTACT, UNCHECKED, BytesFound, RulesFound

_MOST_NAMED = 20


def sentence(code: int, faults: int, newer: Sequence[str], found: BytesFound) -> str:
    """The verdict in one line: "intact" only with what is not confirmed."""
    if code == DAMAGED:
        return f"NOT INTACT: {faults} fault{'s' * (faults > 1)} found"
    if code == UNCHECKED:
        return f"could not check: {newer[0] if newer else 'not every file can be read'}"
    if code != INTACT:
        return f"not finished: {found.files_read} of {found.files} files read, nothing wrong so far"
    known = (("signer", found.key_confirmed), ("latest head", found.head_confirmed))
    open_ = [what for what, confirmed in known if not confirmed]
    unread = "contents of files not read, else " if found.files_read < found.files else ""
    return f"{unread}intact" + (f", {' and '.join(open_)} not confirmed" if open_ else "")


def shown(
    found: BytesFound, code: int, findings: str, rules: RulesFound | None, stamped: Sequence[str]
) -> Iterator[str]:
    """What the check itself establishes."""
    if code != INTACT:
        return
    if found.files_read == found.files:
        lists = "both lists of hashes" if found.both else "the SHA-256 list (the SHA-512 list by its names alone)"
        yield f"All {found.files} files ({found.size:,} bytes) were read and are those of {lists}; none is missing or added."
    else:
        yield f"All {found.files} files are there in the recorded sizes, none is added; their contents were not read."
    yield f"The record is one unbroken chain of {found.entries} entries; what is in it stands in the order in which it was recorded."
    if found.signer:
        what = (
            "Record, files, rules, findings and PDF"
            if found.files_read == found.files
            else "The record and the list of files"
        )
        whose = "the key you named" if found.key_confirmed else f"key {found.signer}"
        yield f"{what} were sealed together by the holder of {whose}."
    if found.head_confirmed:
        yield "The record continues the head you were told earlier: nothing before it was changed, left out or put in."
    if findings == "agree":
        yield "The findings are exactly what the record shown and the rules in the bundle give; they were computed anew."
    if rules and not (rules.other or rules.added or rules.lacking):
        yield f"Those rules are the ones that this program carries, byte for byte ({rules.same} files)."
    yield from stamped


def asserted(found: BytesFound, dossier: Dossier | None, rules: RulesFound | None) -> Iterator[str]:
    """What rests on somebody's word."""
    yield "That captions, readings, statements and names are true: a seal shows that they were not changed, not that they are right."
    if dossier and dossier.last_at:
        first = min(v.recorded_at for r in dossier.by_subject.values() for v in r.versions)
        yield f"That it was recorded between {first:%Y-%m-%d %H:%M} and {dossier.last_at:%Y-%m-%d %H:%M} UTC: by the recorder's own clock."
    if rules and rules.other:
        yield f"That these rules are right, which are not as this program carries them: {', '.join(rules.other)}."
    if rules and rules.added:
        yield f"That the sender's own rules are right, which this program does not carry: {', '.join(rules.added)}."
    if found.signer and not found.key_confirmed:
        yield "Whose key it is: compare the fingerprint with what you were given by another way."


def missing(
    found: BytesFound, steps: Sequence[Step], files: Sequence[str], rules: RulesFound | None, *, stamped: bool
) -> Iterator[str]:
    """What is not in the bundle, on purpose or not. ``files``: exhibits that are shown without their file."""
    labels = _withheld(steps)
    if labels:
        more = f" and {len(labels) - _MOST_NAMED} more" if len(labels) > _MOST_NAMED else ""
        yield f"Withheld on purpose: {', '.join(labels[:_MOST_NAMED])}{more}; that they exist, and when they were recorded, is shown."
        yield "None of them amends or withdraws a record that is shown: an entry can change no record but its own."
    if files:
        yield f"Withheld on purpose: the file of {enumerated(files)}; shown are the record, the file's hash and what was read from it."
    if rules and rules.lacking:
        yield f"Rules that this program carries: {', '.join(rules.lacking)}; what they would have called up was not weighed."
    if not found.signer:
        yield "A signature: nobody's key sealed this bundle, so anybody can have made it."
    if not stamped:
        yield "A time-stamp of somebody else: when the record was made rests on the recorder's clock."
    if not found.head_confirmed:
        yield "A head told earlier: without one a later, longer record cannot be ruled out, nor one begun anew."


def rules_beside(theirs: Mapping[str, bytes], ours: Mapping[str, bytes]) -> RulesFound:
    """The rules of a bundle, by file name, beside those of this program."""
    both = theirs.keys() & ours.keys()
    other = [name for name in sorted(both) if theirs[name] != ours[name]]
    return RulesFound(
        same=len(both) - len(other), added=tuple(sorted(theirs.keys() - ours.keys())),
        lacking=tuple(sorted(ours.keys() - theirs.keys())),
        other=tuple(f"{n} ({_version(theirs[n])} there, {_version(ours[n])} here)" for n in other),
    )  # fmt: skip


def _version(file: bytes) -> str:
    """The version that a file of rules states, in words; the bytes may be anything."""
    said = re.search(rb'(?m)^version: *"?([A-Za-z0-9._-]{1,20})"?\s*$', file)
    return f"version {said[1].decode()}" if said else "no version"


def files_kept_back(steps: Sequence[Step], files: Collection[object]) -> tuple[str, ...]:
    """Labels of the exhibits shown that name one of these files (SHA-256), in any of their versions."""
    numbers: dict[str, int] = {}
    labels: dict[str, None] = {}
    for step in steps:
        if step.kind != "exhibit":
            continue
        number = numbers.setdefault(step.subject, len(numbers) + 1)
        file = (step.body or {}).get("file")
        if isinstance(file, dict) and file.get("sha256") in files:
            labels[label_of("exhibit", number)] = None
    return tuple(labels)


def withheld_kinds(steps: Sequence[Step]) -> Mapping[str, int]:
    """Kind as printed -> how many records are withheld."""
    counts: dict[str, int] = {}
    for step in steps:
        if step.action == "record" and step.body is None:
            label = KINDS[step.kind].label if step.kind in KINDS else step.kind.replace("_", " ")
            counts[label] = counts.get(label, 0) + 1
    return dict(sorted(counts.items()))


def _withheld(steps: Sequence[Step]) -> list[str]:
    counts: dict[str, int] = {}
    labels: list[str] = []
    changes: dict[str, list[str]] = {}
    for step in steps:
        if step.action == "record":
            counts[step.kind] = counts.get(step.kind, 0) + 1
            if step.body is None:
                labels.append(step.subject)
                changes[step.subject] = [label_of(step.kind, counts[step.kind])]
        elif step.subject in changes:
            changes[step.subject].append("later amended" if step.action == "amend" else "later withdrawn")
    return [_described(changes[subject]) for subject in labels]


def _described(said: Sequence[str]) -> str:
    label, *later = said
    return f"{label} ({', '.join(dict.fromkeys(later))})" if later else label

"""What the check of a received bundle found, as a value: the same bundle gives the same verdict, byte for byte."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from evidence.record.chain import Fault

INTACT, DAMAGED, UNCHECKED, UNFINISHED = 0, 1, 2, 3


@dataclass(frozen=True, slots=True, kw_only=True)
class PdfFound:
    """What the signature inside a PDF turned out to be."""

    checked: bool  # False where the libraries for it are not installed
    signed: bool = False
    right: bool = False  # it is of the whole file, and by the certificate in it
    problem: str = ""
    fingerprint: str = ""  # SHA-256 of that certificate


@dataclass(frozen=True, slots=True, kw_only=True)
class BytesFound:
    """What reading a bundle's bytes found, before anything is made of them."""

    faults: tuple[Fault, ...]
    newer: tuple[str, ...]  # why this version cannot judge it
    remarks: tuple[str, ...]
    finished: bool
    ledger: str
    entries: int
    root: str  # base64
    signer: str  # fingerprint; empty where nobody signed
    key_confirmed: bool
    head_confirmed: bool
    files: int
    size: int  # bytes of those files
    files_read: int
    bytes_read: int
    both: bool  # SHA-512 too


@dataclass(frozen=True, slots=True, kw_only=True)
class RulesFound:
    """The rules in a bundle beside those of this program, by file. Another rule is no damage, and no rule of this program."""

    same: int = 0
    other: tuple[str, ...] = ()  # of the same name with other bytes, with both versions
    added: tuple[str, ...] = ()  # the sender's own
    lacking: tuple[str, ...] = ()  # of this program, not in the bundle


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The whole answer. ``shown``, ``asserted`` and ``missing`` are sentences for a reader who was not there."""

    exit_code: int
    sentence: str
    title: str
    found: BytesFound
    faults: tuple[Fault, ...]
    unreadable: tuple[str, ...] = ()  # why it could not be judged
    shown: tuple[str, ...] = ()
    asserted: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    rules: RulesFound | None = None  # None where they were not read
    findings: str = "not run"  # agree, differ, other version, not run
    withheld: Mapping[str, int] = field(default_factory=dict)  # label of the kind -> how many
    withheld_files: tuple[str, ...] = ()  # exhibits that are shown without their file

    @property
    def by_item(self) -> dict[str, list[Fault]]:
        """Faults by what they are about: exhibits first in order of their numbers, then the rest as found."""
        grouped: dict[str, list[Fault]] = {}
        for fault in self.faults:
            grouped.setdefault(fault.item.split(" (data/")[0], []).append(fault)
        ordered = sorted(grouped.values(), key=lambda faults: _number(faults[0].item))
        return {max((f.item for f in faults), key=len): faults for faults in ordered}

    def as_json(self) -> dict[str, Any]:
        """Plain data with the keys of the fields; ``format`` is 1."""
        plain = dataclasses.asdict(self)
        found = plain.pop("found")
        found.pop("faults"), found.pop("remarks"), found.pop("newer")
        return {"format": 1, **plain, **found}


def _number(item: str) -> tuple[bool, int]:
    """The number of an exhibit, before everything that is none."""
    words = item.split(" ")
    is_exhibit = words[0] == "exhibit" and words[1:2] != [] and words[1].isdecimal()
    return not is_exhibit, int(words[1]) if is_exhibit else 0

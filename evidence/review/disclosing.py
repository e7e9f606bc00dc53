"""What a disclosure leaves out and what it shows."""

from __future__ import annotations

from dataclasses import dataclass

from evidence.model.dossier import Dossier
from evidence.record.head import Head
from evidence.rules.assessment import Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is left out: records by name or number, and files of exhibits whose record stays."""

    records: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Disclosure:
    """Everything that a bundle says, before it has a form."""

    head: Head
    shown: Dossier
    assessment: Assessment
    withheld: frozenset[str]  # subjects
    withheld_seqs: tuple[int, ...]  # of the entries that recorded them
    withheld_files: frozenset[str]  # SHA-256

"""Checking a bundle that was received, without a workspace: its bytes, then everything that is made of them.

Besides what the stand-alone verifier checks (its codes are in :mod:`evidence.bundle.alone.verify`):

====  ==========================================================================
R1-R6 the chain again, by this program's own reading of it
S1    the signature again, by another library
T1    each time-stamp with its signature and chain
A1    the record and the rules in the bundle can be read
A2    the findings are what the record shown and the rules in the bundle give
A3    the PDF's own signature is right
====  ==========================================================================
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import IO, Any, Protocol

from evidence.errors import BadPack, EvidenceError, ExtraMissing, NewerFormat
from evidence.model.dossier import Dossier, Step, fold
from evidence.record.attested import TokenFound
from evidence.record.chain import Fault, check_chain
from evidence.record.checkpoint import Note, read_public_pem
from evidence.record.entry import Entry, step_of
from evidence.record.head import ORIGIN
from evidence.review.verdict import DAMAGED, INTACT, UNCHECKED, UNFINISHED, BytesFound, PdfFound, RulesFound, Verdict
from evidence.rules.assess import assess
from evidence.rules.assessment_json import as_bytes
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.usecases.telling_verdict import (
    asserted,
    files_kept_back,
    missing,
    rules_beside,
    sentence,
    shown,
    withheld_kinds,
)

_RULES, _HEADS, _REPORT = "data/rules/", "data/heads/", "data/report.pdf"
_RESTS_ON = ("record", "entry", "data/record/", "data/rules/", "data/findings", "data/programs", "withheld", "manifest")
# What hostile input may make of code that was written for sound input. Never a bug of ours hidden: told with its kind.
_HOSTILE = (ValueError, LookupError, TypeError, ArithmeticError, AttributeError, RecursionError)


class Bundle(Protocol):
    """The files of a received bundle."""

    @property
    def names(self) -> Mapping[str, Any]: ...

    def read(self, name: str) -> bytes: ...

    def open(self, name: str) -> IO[bytes]: ...

    def entries(self) -> Iterator[Entry]: ...

    @property
    def withheld(self) -> Mapping[str, tuple[object, ...]]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Judges:
    """What is asked of the world: rules from files, time-stamps, PDFs, and which version of the program this is."""

    rules: Callable[[Mapping[str, bytes]], tuple[Vocabulary, tuple[Pack, ...]]]
    token: Callable[[bytes, bytes], TokenFound]
    pdf: Callable[[IO[bytes]], PdfFound]
    version: str
    own_rules: Mapping[str, bytes]  # the files of rules that this program carries


def verify_bundle(bundle: Bundle, found: BytesFound, judges: Judges, *, quick: bool = False) -> Verdict:
    """Judge a bundle whose bytes were read. Nothing is written, and nobody is asked over a network."""
    work = _Work(bundle, judges, list(found.faults), list(found.newer))
    if not found.newer and found.finished and found.ledger:
        work.chain(found.ledger)
        work.seal(found.ledger)
        work.stamps()
        if not quick:
            work.document()
        work.assessment(found, quick=quick)
    faults = tuple(work.faults)
    code = _exit_code(faults, work.newer, found)
    kept_back = files_kept_back(work.steps, bundle.withheld["files"])
    return Verdict(
        exit_code=code, sentence=sentence(code, len(faults), work.newer, found), title=work.title, found=found,
        faults=faults, unreadable=tuple(work.newer), findings=work.findings, rules=work.rules, withheld=withheld_kinds(work.steps),
        withheld_files=kept_back,
        remarks=(*found.remarks, *work.remarks),
        shown=tuple(shown(found, code, work.findings, work.rules, work.stamped)),
        asserted=tuple(asserted(found, work.dossier, work.rules)) if found.ledger else (),
        missing=tuple(missing(found, work.steps, kept_back, work.rules, stamped=bool(work.stamped))) if found.ledger else (),
    )  # fmt: skip


def _exit_code(faults: Sequence[Fault], newer: Sequence[str], found: BytesFound) -> int:
    if any(not fault.message.startswith("is unreadable") for fault in faults):
        return DAMAGED
    if newer or faults:
        return UNCHECKED
    return INTACT if found.finished else UNFINISHED


class _Work:
    """The checks one after another; each adds what it finds."""

    def __init__(self, bundle: Bundle, judges: Judges, faults: list[Fault], newer: list[str]) -> None:
        self.bundle, self.judges, self.faults, self.newer = bundle, judges, faults, newer
        self.remarks: list[str] = []
        self.steps: list[Step] = []
        self.dossier: Dossier | None = None
        self.title = ""
        self.findings = "not run"
        self.rules: RulesFound | None = None
        self.stamped: list[str] = []
        self._programs: dict[str, Any] = {}

    def fault(self, check: str, item: str, message: str) -> None:
        """Add a fault, unless the bytes' check told of the same already."""
        if not any((f.check, f.item) == (check, item) for f in self.faults):
            self.faults.append(Fault(check, item, message))

    def chain(self, ledger: str) -> None:
        """R1 to R6 by :mod:`evidence.record.chain`; then the entries as the fold needs them."""
        try:
            for fault in check_chain(ledger, self.bundle.entries()):
                self.fault(fault.check, fault.item, fault.message)
            self.steps = [step_of(entry) for entry in self.bundle.entries()]
        except NewerFormat:
            return
        except _READING as err:
            if not any(f.check.startswith(("R", "B")) for f in self.faults):
                self.fault("R1", "record", f"cannot be read: {err}")

    def seal(self, ledger: str) -> None:
        """The signature over everything, by the library and not by the verifier's own arithmetic."""
        if "disclosure.note" not in self.bundle.names:
            return
        try:
            public = read_public_pem(self.bundle.read("disclosure-key.pem"))
            note = Note.read(self.bundle.read("disclosure.note"))
            right = note.by(ORIGIN + ledger, public) is not None
        except _READING:
            right = False
        if not right:
            self.fault("S1", "disclosure.note", "is not rightly signed by the key beside it")

    def stamps(self) -> None:
        """Every time-stamp of every head: signature, chain, and the time that it shows."""
        for name in sorted(n for n in self.bundle.names if n.startswith(_HEADS) and n.endswith(".tsr")):
            folder, _, file = name.rpartition("/")
            item = f"{file} at {folder.removeprefix(_HEADS).lstrip('0')} entries"
            try:
                found = self.judges.token(self.bundle.read(name), self.bundle.read(f"{folder}/head.note"))
            except ExtraMissing as err:
                self.remarks.append(f"{item}: {err}")
                continue
            except EvidenceError as err:
                self.fault("T1", item, f"cannot be checked: {err}")
                continue
            reasons = "; ".join(found.reasons)
            if not found.valid or found.time is None:
                self.fault("T1", item, f"is not valid: {reasons}")
            else:
                self.stamped.append(
                    f"The record's first {folder.removeprefix(_HEADS).lstrip('0')} entries existed on "
                    f"{found.time:%Y-%m-%d at %H:%M:%S} UTC by the clock of {found.authority}"
                    + ("." if found.chain_trusted else f", if that authority is trusted ({reasons}).")
                )

    def document(self) -> None:
        """The PDF's own signature; that its bytes are the listed ones is checked with all other files."""
        if _REPORT not in self.bundle.names:
            self.remarks.append("There is no PDF in the bundle.")
            return
        try:
            with self.bundle.open(_REPORT) as file:
                found = self.judges.pdf(file)
        except OSError:
            return  # told with all other files
        if found.problem and found.checked:
            self.fault("A3", "the PDF", found.problem)
        elif not found.checked:
            self.remarks.append(f"The PDF's own signature was not checked: {found.problem}.")
        elif found.signed:
            self.remarks.append(
                f"The PDF's own signature is right, by certificate {found.fingerprint}; whose that is, is not confirmed."
            )
        else:
            self.remarks.append("The PDF bears no signature of its own; its hash stands in the list that is sealed.")

    def assessment(self, found: BytesFound, *, quick: bool) -> None:
        """Replay the record, weigh it by the rules in the bundle, and compare with the findings in it."""
        if quick or any(f.item.startswith(_RESTS_ON) for f in self.faults):
            if not quick:
                self.remarks.append("The assessment was not run again: what it rests on is not intact.")
            return
        made_by = self._made_by()
        try:
            self.dossier = fold(found.ledger, self.steps)
            self.title = self.dossier.title
            rules = self._rules()
            vocabulary, packs = self.judges.rules(rules)
            self.rules = rules_beside(rules, self.judges.own_rules)
            ours, theirs = as_bytes(assess(self.dossier, packs, vocabulary)), self.bundle.read("data/findings.json")
        except (EvidenceError, *_HOSTILE) as err:
            why = str(err).split("\n")[0] or type(err).__name__
            item = "rules in the bundle" if isinstance(err, BadPack) else "the record"
            if made_by == self.judges.version:
                self.fault("A1", item, f"cannot be read: {why}")
            else:
                self.newer.append(f"{item} cannot be read by version {self.judges.version}: {why}")
            return
        if ours == theirs:
            self.findings = "agree"
        elif made_by == self.judges.version:
            self.findings = "differ"
            self.fault(
                "A2", "data/findings.json", f"is not what record and rules give: {_first_difference(theirs, ours)}"
            )
        else:
            self.findings = "other version"
            self.remarks.append(
                f"The findings were computed by version {made_by}, this is {self.judges.version}, and they differ: "
                f"{_first_difference(theirs, ours)}. That is no sign of damage."
            )

    def _rules(self) -> dict[str, bytes]:
        names = [n for n in self.bundle.names if n.startswith(_RULES)]
        return {name.removeprefix(_RULES): self.bundle.read(name) for name in names}

    def _made_by(self) -> str:
        try:
            said = json.loads(self.bundle.read("data/programs.json"))
            return str(said["evidence"])
        except (EvidenceError, *_HOSTILE):
            return "that is not named"


_READING = (EvidenceError, *_HOSTILE)


def _first_difference(theirs: bytes, ours: bytes) -> str:
    """The first line that differs, as it stands in the bundle and as computed here."""
    pairs: Iterable[tuple[int, tuple[str, str]]] = enumerate(
        zip(*(data.decode("utf-8", "backslashreplace").split("\n") for data in (theirs, ours)), strict=False), 1
    )
    for number, (there, here) in pairs:
        if there != here:
            return f"line {number} is '{there.strip()[:80]}', computed here '{here.strip()[:80]}'"
    return f"one of them ends early ({len(theirs)} and {len(ours)} bytes)"

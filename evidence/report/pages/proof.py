"""Corrections to the record, what hashes show and what they do not, cautions, and the declaration to sign."""

from __future__ import annotations

from evidence.model.base import say
from evidence.model.dossier import Version
from evidence.model.exhibit import Exhibit
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Section, Signature, Table
from evidence.report.given import ReportInput
from evidence.report.phrasing import sentence
from evidence.report.words import moment

_ACTIONS = {"amend": "amended", "withdraw": "withdrawn"}


def corrections(given: ReportInput) -> Section:
    """Every amendment and withdrawal with its reason. Nothing is overwritten."""
    rows = []
    for recorded in given.dossier.by_subject.values():
        for before, after in zip(recorded.versions, recorded.versions[1:], strict=False):
            rows.append(
                (after.seq, Row((recorded.label, _ACTIONS.get(after.action, after.action), sentence(after.reason) or "no reason given",
                                 _changed(before, after), f"{moment(after.recorded_at)}, {given.dossier.party(after.recorded_by)}")))
            )  # fmt: skip
    if not rows:
        return Section("Corrections to the record", (Para("No record was amended or withdrawn.", tone="muted"),))
    columns = (
        Column("Record", 1.5),
        Column("", 1.1),
        Column("Reason", 3.4),
        Column("Changed", 2),
        Column("When, by whom", 2.2),
    )
    return Section(
        "Corrections to the record", (Table(columns, tuple(row for _, row in sorted(rows, key=lambda r: r[0]))),)
    )


def _changed(before: Version, after: Version) -> str:
    if after.action == "withdraw":
        return "answers nothing any more"
    names = [n for n in {**before.body, **after.body} if before.body.get(n) != after.body.get(n)]
    return ", ".join(map(say, names)) or "nothing that is stated"


def integrity(given: ReportInput) -> Section:
    """What is shown, what is not, and how to check it with ordinary tools."""
    state = given.integrity
    head = {True: "known outside the database and in agreement", False: "not in agreement with the one kept outside the database",
            None: "not looked at for this report"}[state.head_known]  # fmt: skip
    facts = [
        ("Ledger", state.origin),
        ("Entries", str(state.entries)),
        ("Root hash, hexadecimal", state.root_hex),
        ("Root hash, base64", state.root_base64),
        ("Head line", head),
        ("Signature", f"key with fingerprint {state.signed_by}" if state.signed_by else "not signed"),
        ("Time-stamp by a third party", state.time_stamp or "none"),
        ("Programs", ", ".join(f"{name} {version}" for name, version in state.programs.items()) or "not stated"),
        ("Rules", ", ".join(f"{name} {version}" for name, version in state.packs.items()) or "none"),
    ]
    blocks: list[Block] = [Facts(tuple(facts)), Heading("What this shows"), Bullets(_shown(given))]
    blocks += [Heading("What this does not show"), Bullets(_not_shown(given))]
    blocks += [Heading("How to check it with ordinary tools"), *_how(given)]
    return Section("Integrity: what is shown and what is not", tuple(blocks), new_page=True)


def _shown(given: ReportInput) -> tuple[str, ...]:
    state = given.integrity
    points = [
        "A file whose SHA-256 equals the one in the manifest is, bit for bit, the file that was taken in under that exhibit number.",
        (
            f"The root hash above stands for all {state.entries} entries of the ledger in their order. Whoever holds the ledger can "
            "compute it again; if any entry was altered, dropped, added or moved, the result differs."
        ),
        "Entries are only ever added. A correction is a further entry that names what it replaces and why; all corrections are listed.",
    ]
    if state.signed_by:
        points.append(f"The state above was signed with the key whose fingerprint is {state.signed_by}.")
    if state.time_stamp:
        points.append(f"The state above existed before this time-stamp: {state.time_stamp}.")
    return tuple(points)


def _not_shown(given: ReportInput) -> tuple[str, ...]:
    state = given.integrity
    points = []
    if not state.signed_by:
        points.append("Who made the record: the state of the ledger is not signed. It guards against later change only for a reader who "
                      "got the root hash from elsewhere, earlier, or from a person he trusts.")  # fmt: skip
    if not state.time_stamp:
        points.append("When the record was made: the times of entries are those of the recording computer, and no third party has "
                      "confirmed that this state existed at a given time.")  # fmt: skip
    points += [
        "That a photo shows what its caption says, that a part is the one named, or that a reading was taken where it is said.",
        "That the clock of a camera, a scan tool or a computer was right.",
        "That the person named as recorder made the entry.",
        "That nothing else exists: what was never recorded leaves no trace here.",
        "Hashes show that bytes are unchanged since intake. They say nothing about the time before.",
    ]
    return tuple(points)


def _how(given: ReportInput) -> list[Block]:
    example = next((e for e in given.dossier.of(Exhibit) if e.value.file), None)
    steps = [
        (
            "Ask for the files of the exhibits. On Linux, run sha256sum FILE; on macOS, shasum -a 256 FILE; on Windows, "
            "certutil -hashfile FILE SHA256. Compare all 64 digits with the manifest."
        ),
        (
            "Pictures marked as printed from the file itself can be taken out of this PDF (for instance pdfimages -all REPORT.pdf picture) "
            "and hashed in the same way."
        ),
        (
            "The ledger's own bytes can be hashed again with any SHA-256 program: leaf = SHA-256 of a zero byte and the entry's header; "
            "tree as in RFC 9162, section 2.1."
        ),
        "The same record, the same date and the same program versions give this report again, byte for byte.",
    ]
    blocks: list[Block] = [Bullets(tuple(steps))]
    if example and example.value.file:
        blocks.append(Facts((("Example", f"{example.label} must give"), ("", example.value.file.sha256))))
    return blocks


def cautions(given: ReportInput) -> Section:
    """Safety, law, and what the words of this report are."""
    blocks: list[Block] = []
    said = list(dict.fromkeys(text for c in given.assessment.candidates for _, text in c.cautions if text))
    said += [
        t for t in dict.fromkeys(c.safety_note for c in given.assessment.candidates if c.safety_note) if t not in said
    ]
    if said:
        blocks += [Heading("Before any of the tests named here is done"), Bullets(tuple(said))]
    blocks.append(
        Para("The maker's procedure for this vehicle, local codes and the limits of licensed practice come first. Fuel, high voltage, "
             "restraint systems, hot and lifted parts can kill; work on them belongs to those who are trained and allowed.")
    )  # fmt: skip
    blocks.append(
        Bullets(
            (
                "This report gives no legal advice. Ask a lawyer which rules of evidence, notice periods and limitation dates apply.",
                "It says which known mechanism fits what was recorded, and how well. It never says who is liable.",
                (
                    "Grades are judgements set down in the rule packs, not measured frequencies. Another grade gives another ratio; the "
                    "table of words and all grades used are printed under Findings."
                ),
                "“Not proven” is a full answer. What is not recorded was not counted for anybody.",
            )
        )
    )
    return Section("Cautions", tuple(blocks))


def declaration(given: ReportInput) -> Section:
    """Blank lines for the technician. The program signs nothing."""
    text = (
        "I have read this report. The observations and measurements named as mine were made by me, with the instruments and under the "
        "conditions stated. The captions of my photographs say what the photographs show. Where I state an opinion, it is my own and "
        "rests on the records named beside it. My interest in the result is stated under Vehicle and parties."
    )
    names = ("Name in block letters", "Qualification and registration", "Firm", "Place and date", "Signature")
    return Section(
        "Declaration of the technician",
        (
            Para(text),
            Para("Not signed until completed by hand or by a signature in the file. Choose the closing form that the law "
                 "of the place asks for.", tone="small"),
            Signature(names),
            Para(f"Root hash of the ledger that this declaration speaks of: {given.integrity.root_hex}", tone="small"),
        ),
        new_page=True,
    )  # fmt: skip

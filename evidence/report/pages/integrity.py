"""What hashes, signatures and time-stamps show of this record and what they do not; what was withheld; how to check."""

from __future__ import annotations

from evidence.model.exhibit import Exhibit
from evidence.model.kinds import many
from evidence.report.blocks import Block, Bullets, Column, Facts, Heading, Para, Row, Section, Table
from evidence.report.figures import fours
from evidence.report.given import Integrity, ReportInput
from evidence.report.phrasing import first_up, joined

_HEAD = {
    True: "known outside the database and in agreement",
    False: "not in agreement with the one kept outside the database",
    None: "not looked at for this report",
}
# What each thing shows, and what it does not.
_HASH = (
    "A file with the SHA-256 of the manifest is, bit for bit, the one that was taken in under that number.",
    "Anything about the time before it was taken in.",
)
_ROOT = (
    (
        "It stands for all {entries} entries in their order. Whoever holds the ledger can compute it again; if an entry was "
        "altered, dropped, added or moved, the result differs. A correction is a further entry."
    ),
    (
        "Who made it, or when. Somebody who rewrites everything gets another root: compare it with one that you got earlier "
        "or from elsewhere."
    ),
)
_HEAD_SIGNATURE = (
    "Who holds the key said that the ledger had these entries, in this order.",
    (
        "Whose key it is: compare the fingerprint with one that the shop gave you by another way. Not when, and not that what "
        "was entered is true."
    ),
)
_TIME_STAMP = (
    "The signed head, and with it every entry up to it, existed when the authority's clock said so.",
    "That nothing was rewritten before that time.",
)
_WITNESS = (
    "Another party held this head at the time he states, and will hold the shop to it.",
    "That the witness read the entries or agrees with them.",
)
_DOCUMENT_SIGNATURE = (
    "The file is as it was when it was signed: not one byte of it, attachments included, was changed.",
    (
        "Who the signer is, beyond the fingerprint: his certificate is his own. It is the shop's signature, not the "
        "declaration of the technician."
    ),
)


def integrity(given: ReportInput) -> Section:
    """The head and who vouches for it; what each of those shows; how to check it with ordinary tools."""
    state = given.integrity
    facts = [
        ("Ledger", state.origin),
        ("Entries", str(state.entries)),
        ("Root hash, hexadecimal", state.root_hex),
        ("Root hash, base64", state.root_base64),
        ("Head line", _HEAD[state.head_known]),
        ("Head signed by", _key(state.head_signed_by) or f"not signed: {state.head_problem or 'no key was used'}"),
        ("Head time-stamped by", "\n".join(state.time_stamps) or "nobody"),
        ("Head countersigned by", "\n".join(state.witnesses) or "nobody"),
        ("This PDF signed by", _certificate(state)),
        ("Programs", ", ".join(f"{name} {version}" for name, version in state.programs.items()) or "not stated"),
        ("Rules", ", ".join(f"{name} {version}" for name, version in state.packs.items()) or "none"),
    ]
    if given.attachments:
        facts.append(("Inside this file", _attached(given)))
    columns = (Column("What", 1.5), Column("Here", 1.1), Column("Shows", 3.6), Column("Does not show", 3.6))
    blocks: list[Block] = [
        Facts(tuple(facts)),
        Heading("What each of these shows, and what it does not"),
        Table(columns, _worth(state)),
        Heading("What none of them shows"),
        Bullets(_not_shown()),
        Heading("How to check it with ordinary tools"),
        *_how(given),
    ]
    return Section("Integrity: what is shown and what is not", tuple(blocks), new_page=True)


def _key(fingerprint: str) -> str:
    return f"shop key (Ed25519), SHA-256 {fours(fingerprint)}" if fingerprint else ""


def _certificate(state: Integrity) -> str:
    if not state.document_signed_by:
        return f"not signed: {state.document_problem or 'no key was used'}"
    stamped = (
        f"time-stamp inside it asked of {state.authority}"
        if state.authority
        else "its time is that of the computer that signed"
    )
    return f"certificate (RSA, made by the signer himself), SHA-256 {fours(state.document_signed_by)}; {stamped}"


def _attached(given: ReportInput) -> str:
    files = sum(bool(a.digest) for a in given.attachments)
    names = [a.name for a in given.attachments if not a.digest]
    return joined([", ".join(names), f"{files} original file{'s' if files != 1 else ''}" if files else None])


def _worth(state: Integrity) -> tuple[Row, ...]:
    rows = (
        ("Hash of a file", True, _HASH),
        ("Root hash", True, (_ROOT[0].format(entries=state.entries), _ROOT[1])),
        ("Signature of the head", bool(state.head_signed_by), _HEAD_SIGNATURE),
        ("Time-stamp of the head", bool(state.time_stamps), _TIME_STAMP),
        ("Countersignature", bool(state.witnesses), _WITNESS),
        ("Signature of this PDF", bool(state.document_signed_by), _DOCUMENT_SIGNATURE),
    )
    return tuple(Row((what, "yes" if there else "none", *worth)) for what, there, worth in rows)


def _not_shown() -> tuple[str, ...]:
    return (
        "That a photo shows what its caption says, that a part is the one named, or that a reading was taken where it is said.",
        "That the clock of a camera, a scan tool or a computer was right. The times of entries are those of the recording computer.",
        "That the person named as recorder made the entry.",
        "That nothing else exists: what was never recorded leaves no trace here.",
    )


def _how(given: ReportInput) -> list[Block]:
    state = given.integrity
    steps = [
        (
            "Ask for the files of the exhibits. On Linux, run sha256sum FILE; on macOS, shasum -a 256 FILE; on Windows, "
            "certutil -hashfile FILE SHA256. Compare all 64 digits with the manifest."
        ),
        (
            "Pictures marked as printed from the file itself can be taken out of this PDF (for instance pdfimages -all REPORT.pdf picture) "
            "and hashed in the same way."
        ),
    ]
    if given.attachments:
        steps.append(
            "The files inside this PDF come out with pdfdetach -saveall REPORT.pdf. Line n of headers.jsonl is the header of entry n: "
            "leaf = SHA-256 of a zero byte and the line without its end; tree as in RFC 9162, section 2.1. The SHA-256 of line n of "
            "contents.jsonl stands in that header."
        )
    if state.document_signed_by:
        steps.append(
            "pdfsig REPORT.pdf, or the signature panel of a viewer, checks the signature of this file. It will say that the issuer is "
            "unknown; compare the fingerprint of the certificate with the one above and with one that the shop gave you."
        )
    if state.head_signed_by:
        steps.append(
            "A disclosure bundle holds the signed head: openssl pkeyutl -verify -pubin -inkey key.pem -rawin -in head.txt "
            "-sigfile head.sig."
        )
    before = ", before its signature," if state.document_signed_by else ""
    steps.append(f"The same record, date and program versions give this report again{before} byte for byte.")
    blocks: list[Block] = [Bullets(tuple(steps))]
    example = next((e for e in given.dossier.of(Exhibit) if e.value.file), None)
    if example and example.value.file:
        blocks.append(Facts((("Example", f"{example.label} must give {example.value.file.sha256}"),)))
    return blocks


def withheld(given: ReportInput) -> Section | None:
    """How many records are not shown, and of what kind; None where everything is."""
    count = sum(given.withheld.values())
    if not count and not given.withheld_files:
        return None
    rows = [
        Row((first_up(kind if n == 1 else many(kind)), str(n), "the record with all its versions"))
        for kind, n in given.withheld.items()
    ]
    if given.withheld_files:
        rows.append(
            Row(("Files of exhibits", str(len(given.withheld_files)), "the file; its record is shown, with its hash"))
        )
    columns = (Column("Kind", 3), Column("How many", 1, "right"), Column("What is left out", 4))
    points = (
        "Everything in this report is computed from what is shown here, and from nothing else.",
        (
            "The headers of all entries are still part of the ledger and of its root hash. They say of each withheld record its number, "
            "its kind, when it was entered, and whether it was amended or withdrawn; not what it says."
        ),
        (
            "The program refuses to withhold a record whose absence would make a conclusion stronger, and names it. That is a rule of the "
            "program, and this page shows only that it was asked."
        ),
        "Ask the sender for what is withheld. A record handed over later can be held against the hash in its header.",
    )
    return Section(
        "What is withheld", (Para("Records or files of this dossier are not shown to the receiver of this report."),
                             Table(columns, tuple(rows)), Bullets(points)), new_page=True,
    )  # fmt: skip

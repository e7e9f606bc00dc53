"""README.txt of a bundle: what a receiver has before him, and the commands that check it without this program.

Lines with four blanks in front are commands, to be run in the folder that holds ``bagit.txt``. FINGERPRINT, HEAD,
FILE.zip and AUTHORITY.pem stand for what the receiver has from elsewhere.
"""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from evidence.bundle import layout
from evidence.model.base import say
from evidence.model.kinds import KINDS, many
from evidence.model.when import utc_text
from evidence.record.head import ORIGIN
from evidence.review.disclosing import Disclosure, LeftOut

_WIDTH = 96
_PLACES = (
    ("report.pdf", "the report to read: what was found, by which records and files, what speaks against it"),
    ("originals/", "the files of the exhibits, byte for byte as taken in; exhibit-0007 is Exhibit 7 of the report"),
    ("record/", "the ledger: one line for each entry, headers.jsonl and contents.jsonl; what is withheld by number"),
    ("findings.json", "the assessment, computed from what is shown here"),
    ("rules/", "the rules it was computed by; programs.json names the programs"),
    ("heads/", "states of the ledger that were signed, time-stamped or countersigned"),
    ("verify.py", "a program that checks all of this; it needs Python (3.8 or newer) and nothing else"),
)
_SHOWN = (
    """If all checks pass, no file, no entry and no finding here was altered, added, left out or moved since the key named
    above signed; what is withheld is listed above.""",
    """It does not show whose key it is: compare its fingerprint with the one that you were given on paper or by
    telephone.""",
    """It does not show that this is the latest state: ask the sender for the newest head, and compare.""",
    """It does not show that a photo shows what its caption says, that a clock was right, or that a statement is true.
    Nothing here says who is liable, and nothing here is legal advice.""",
)


def receiver_notes(found: Disclosure, heads: Mapping[int, Mapping[str, bytes]], *, firm: str, signed: bool) -> bytes:
    """The text, UTF-8. ``heads``: files of the kept heads by size; ``signed``: whether the disclosure note is signed."""
    last = layout.head_folder(found.head.size)
    title = found.shown.title
    parts = [
        [title, "=" * min(len(title), _WIDTH)],
        _wrapped(
            f"This is a disclosure of the dossier named above{f' by {firm}' if firm else ''}: its record, its files and what "
            f"was computed from them. State of the ledger: {found.head.size} entries, {utc_text(found.at)}. "
            f"Ledger: {ORIGIN}{found.head.ledger}",
        ),
        _headed("What is in the folder data", [f"  {name:<15} {text}" for name, text in _PLACES]),
        _headed("Check it in one step", list(_one_step(last))),
        _headed("Check it with public tools alone", list(_public_tools(heads, signed=signed))),
        _headed("What was withheld", list(_withheld(found))),
        _headed("What a check shows, and what it does not", [line for t in _SHOWN for line in _bullet(t)]),
    ]
    return "\n".join(line.rstrip() for part in parts for line in [*part, ""]).encode()


def withheld_in_words(found: Disclosure) -> tuple[str, ...]:
    """What is not shown, in whole sentences; empty where everything is."""
    said = []
    if records := [e for e in found.left_out if e.action == "record"]:
        verb = "was" if len(records) == 1 else "were"
        said.append(
            f"{_counted(records)} {verb} withheld from this disclosure ({', '.join(e.label for e in records)}); everything "
            "here is computed from the rest."
        )
    if files := sorted(set(found.withheld_files.values())):
        said.append(f"The record is shown and its file withheld: {', '.join(files)}.")
    return tuple(said)


def _one_step(last: str) -> Iterator[str]:
    yield from _wrapped(
        "A zip is unpacked first, with what your system has for that. Then open a terminal in the folder that holds bagit.txt "
        "and the folder data; every command is given there (on Windows write py for python3):"
    )
    yield "    python3 data/verify.py"
    yield from _wrapped(
        "The first line of the answer is the verdict: intact, or NOT INTACT with every fault below it. Without more it can "
        "say neither whose key signed nor whether a later state exists. Ask the sender for the fingerprint of his key and for "
        "the head of this ledger, not by the way on which this bundle came: by telephone, on paper, from an earlier letter. "
        "Then, with what he told you in place of the two words in capitals, and with the quotation marks:"
    )
    yield '    python3 data/verify.py --key "FINGERPRINT" --head "HEAD"'
    yield from _wrapped(
        f"A head is one line (evidence-ledger/…, a number, a code) or a file such as {last}/head.txt that you "
        "were sent before. The zip itself is checked as it came, where it still lies beside this folder:"
    )
    yield '    python3 data/verify.py "../FILE.zip"'
    yield from _wrapped(
        "Exit code 0: intact; 1: damaged or altered; 2: could not check. A file that your own system puts into an opened "
        "folder (.DS_Store, Thumbs.db) is told as unlisted: check the zip, or unpack it anew. With the sender's program, "
        "'evidence verify' does the same and runs the assessment again."
    )


def _public_tools(heads: Mapping[int, Mapping[str, bytes]], *, signed: bool) -> Iterator[str]:
    yield from _wrapped(
        "Every file is as listed, and the lists are as listed: these four print nothing where that is so, and name each file "
        "where it is not (on macOS: shasum -a 256 -c and shasum -a 512 -c). They do not notice a file that was added, nor an "
        "entry that is missing from the record; data/verify.py does."
    )
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        yield f"    sha256sum --check --strict --quiet {name}"
    for name in ("manifest-sha512.txt", "tagmanifest-sha512.txt"):
        yield f"    sha512sum --check --strict --quiet {name}"
    yield ""
    yield f"The last line of {layout.NOTE_TEXT} names the list of lists. Both commands must give the same 64 digits:"
    yield f"    tail -n 1 {layout.NOTE_TEXT}"
    yield "    sha256sum tagmanifest-sha256.txt"
    yield ""
    if signed:
        yield from _wrapped(
            'That text is signed: the first command says "Signature Verified Successfully", and the second gives the '
            "fingerprint of the key, to be held against what the sender told you (OpenSSL 3; 'openssl version' tells):"
        )
        yield _verify(layout.NOTE_KEY, layout.NOTE_TEXT, layout.NOTE_SIGNATURE)
        yield f"    openssl pkey -pubin -in {layout.NOTE_KEY} -outform DER | sha256sum"
    else:
        yield "THIS BUNDLE IS NOT SIGNED: who altered it could have altered the lists as well."
    for size, kept in sorted(heads.items()):
        folder = layout.head_folder(size)
        if {"head.txt", "head.sig", "key.pem"} <= set(kept):
            yield ""
            yield f"The state of the ledger at {size} entries was signed:"
            yield _verify(f"{folder}/key.pem", f"{folder}/head.txt", f"{folder}/head.sig")
        for name in sorted(n for n in kept if re.fullmatch(r"token-\d+\.tsr", n)):
            yield ""
            yield from _wrapped(
                f"The state at {size} entries was time-stamped (RFC 3161). Ask the authority that the first command names for "
                'its root certificate, AUTHORITY.pem; with it the second says "Verification: OK":'
            )
            yield f"    openssl ts -reply -in {folder}/{name} -text"
            chain = name.replace(".tsr", ".pem")
            more = f" -untrusted {folder}/{chain}" if kept.get(chain) else ""
            yield f"    openssl ts -verify -data {folder}/head.note -in {folder}/{name} -CAfile AUTHORITY.pem{more}"


def _verify(key: str, text: str, signature: str) -> str:
    return f"    openssl pkeyutl -verify -pubin -inkey {key} -rawin -in {text} -sigfile {signature}"


def _withheld(found: Disclosure) -> Iterator[str]:
    said = withheld_in_words(found)
    if not said:
        yield "Nothing."
        return
    for sentence in said:
        yield from _bullet(sentence)
    if found.left_out:
        yield from _bullet(
            "Of each withheld record the header is here (its number, kind, time and recorder, and a salted hash of its "
            "content), so that all the rest still adds up to the signed head:"
        )
        here = {e.seq for e in found.left_out}
        for e in found.left_out:
            yield f"      entry {e.seq}: {_acted(e, here)}"
        yield from _bullet(_changes(found.left_out, here))
        yield from _bullet(
            "The sender's program refuses to withhold what would make a conclusion stronger by its absence. You cannot "
            "check that without the withheld contents; ask for them where it matters."
        )


def _acted(entry: LeftOut, here: set[int]) -> str:
    if entry.action == "record" or entry.replaces is None:
        return entry.label
    shown = "" if entry.replaces in here else ", which is shown"
    return f"{entry.label}, {'amends' if entry.action == 'amend' else 'withdraws'} entry {entry.replaces}{shown}"


def _changes(left_out: Sequence[LeftOut], here: set[int]) -> str:
    over = [e for e in left_out if e.replaces is not None and e.replaces not in here]
    if not over:
        return "No withheld entry amends or withdraws a record that is shown."
    return "These amend or withdraw a record that is shown: " + ", ".join(f"entry {e.seq}" for e in over) + "."


def _counted(entries: Sequence[LeftOut]) -> str:
    counts = Counter(e.kind for e in entries)
    words = [f"{n} {_kind(kind) if n == 1 else _kinds(kind)}" for kind, n in counts.items()]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _kind(kind: str) -> str:
    return KINDS[kind].label.lower() if kind in KINDS else say(kind)


def _kinds(kind: str) -> str:
    return many(KINDS[kind].label).lower() if kind in KINDS else f"{say(kind)} records"


def _headed(title: str, lines: list[str]) -> list[str]:
    return [title, "-" * len(title), *lines]


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(" ".join(text.split()), _WIDTH, break_long_words=False, break_on_hyphens=False)


def _bullet(text: str) -> list[str]:
    return textwrap.wrap(
        " ".join(text.split()), _WIDTH, initial_indent="- ", subsequent_indent="  ", break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip

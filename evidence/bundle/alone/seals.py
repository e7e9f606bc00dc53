"""What seals a bundle: its signed note, the kept heads, and the time-stamps and witnesses beside them."""

from __future__ import annotations

import hashlib
import re

from evidence.bundle.alone.bag import SEALS, small
from evidence.bundle.alone.ledger import Ledger, canonical
from evidence.bundle.alone.opening import Fault, Place, printable
from evidence.bundle.alone.signatures import (
    cosigned_at,
    fingerprint,
    head_of,
    note_signed_by,
    public_key,
    signed,
)

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterator

# The digests that a time-stamp may name: their object identifiers in DER (RFC 5754). SHA-1 is refused.
_DIGESTS = {f"sha{bits}": bytes.fromhex("6086480165030402") + bytes([n]) for n, bits in ((1, 256), (2, 384), (3, 512))}


def check_withheld(names: dict[str, Place], ledger: Ledger, faults: list[Fault]) -> dict[str, object]:
    """What is missing must be what is said to be withheld; returns what is said."""
    said: dict[str, object] = {"subjects": [], "files": []}
    try:
        said = canonical(small(names, "data/record/withheld.json"))
        subjects, files = said["subjects"], said["files"]
        if not isinstance(subjects, list) or not isinstance(files, list):
            raise ValueError("lists are wanted")
        if not all(isinstance(s, int) for s in subjects) or not all(isinstance(f, str) for f in files):
            raise ValueError("numbers of entries and hashes are wanted")
        if said.get("format") != 1 or subjects != sorted(set(subjects)) or files != sorted(set(files)):
            raise ValueError("it is not in the form of this version")
    except (ValueError, KeyError) as err:
        faults.append(Fault("W1", "withheld.json", f"cannot be read: {err}"))
        return {"subjects": [], "files": []}
    recorded, withheld = ledger.recorded(), set(subjects)
    gone = {seq for seq, _kind, subject, _action in ledger.kinds if recorded.get(subject) in withheld}
    strangers = withheld - set(recorded.values())
    faults += [Fault("W1", f"entry {seq}", "is said to be withheld, and records nothing") for seq in sorted(strangers)]
    silent, here = (
        "its content is missing, and is not said to be withheld",
        "its content is here, and is said to be withheld",
    )
    faults += [Fault("W1", f"entry {seq}", silent) for seq in sorted(ledger.missing - gone)]
    faults += [Fault("W1", f"entry {seq}", here) for seq in sorted(gone - ledger.missing)]
    return said


def check_exhibits(
    ledger: Ledger, listed: dict[str, str], names: dict[str, Place], said: dict[str, object], faults: list[Fault]
) -> None:
    """Every file that a shown exhibit names is there under its hash, or is said to be withheld."""
    shelf = {hash_: name for name, hash_ in listed.items() if name.startswith("data/originals/") and name in names}
    files = set(said["files"]) if isinstance(said["files"], list) else set()
    for hash_, (label, size) in ledger.files.items():
        if hash_ in files:
            if hash_ in shelf:
                faults.append(Fault("E1", label, "its file is here, and is said to be withheld"))
        elif hash_ not in shelf:
            faults.append(Fault("E1", label, "its file is missing"))
        elif names[shelf[hash_]].size != size:
            faults.append(Fault("E1", label, f"its file has {names[shelf[hash_]].size} bytes, {size} were recorded"))
        elif not re.match(rf"data/originals/exhibit-{int(label.split()[1]):04}[.-]", shelf[hash_]):
            faults.append(Fault("E1", label, f"its file lies under another name, {printable(shelf[hash_])}"))
    strangers = set(shelf.values()) - {shelf.get(hash_) for hash_ in ledger.files}
    faults += [Fault("E1", printable(name), "is the file of no exhibit shown") for name in sorted(strangers)]


def check_seal(names: dict[str, Place], ledger: Ledger, faults: list[Fault]) -> bytes | None:
    """The disclosure note: what it speaks of, and who signed; the key, or None where it is not signed."""
    text = small(names, "disclosure.txt")
    tags = hashlib.sha256(small(names, "tagmanifest-sha256.txt")).hexdigest()
    size = len(ledger.leaves)
    wanted = f"evidence-disclosure/{ledger.ledger}\n{size}\n{ledger.root(size)}\nsha256 {tags}\n".encode()
    if text != wanted:
        faults.append(Fault("S2", "disclosure.txt", "does not speak of this ledger, its length and root, and this bag"))
    present = [name for name in SEALS if name in names]
    if present == ["disclosure.txt"]:
        return None
    try:
        key = public_key(small(names, "disclosure-key.pem"))
    except ValueError:
        key = b""
    said = note_signed_by(small(names, "disclosure.note"), f"evidence-ledger/{ledger.ledger}", key)
    if said is None or said.encode() != text or not signed(key, text, small(names, "disclosure.sig")):
        faults.append(Fault("S1", "disclosure.note", "is not rightly signed by the key beside it"))
    return key or None


def check_heads(names: dict[str, Place], ledger: Ledger, faults: list[Fault]) -> Iterator[str]:
    """Every kept head against the first entries of the ledger; yields what stands beside them, in plain words."""
    for folder in sorted({n.rsplit("/", 1)[0] for n in names if n.startswith("data/heads/")}):
        files = {n.rsplit("/", 1)[1]: small(names, n) for n in names if n.rsplit("/", 1)[0] == folder}
        text = files.get("head.txt", b"")
        try:
            of, size, root = head_of(text.decode("ascii"))
        except ValueError:
            faults.append(Fault("S3", printable(folder), "holds no head that can be read"))
            continue
        if (
            folder != f"data/heads/{size:010}"
            or of != ledger.ledger
            or size > len(ledger.leaves)
            or ledger.root(size) != root
        ):
            faults.append(
                Fault("S3", f"head at {size} entries", "is not that of the ledger's first entries: two histories")
            )
        if "head.note" in files or "head.sig" in files:
            yield _signer(files, text, of, size, faults)
        for name in sorted(files):
            if re.fullmatch(r"token-\d+\.tsr", name):
                if not _stamped(files[name], files.get("head.note", b"")):
                    faults.append(
                        Fault("T1", f"{printable(name)} at {size} entries", "is not over the head it lies beside")
                    )
                yield f"Beside the head at {size} entries lies a time-stamp; its own signature is checked by 'openssl ts -verify'."
            elif re.fullmatch(r"witness-[0-9a-f]+\.note", name):
                yield _witness(files, name, text, size, faults)


def _signer(files: dict[str, bytes], text: bytes, of: str, size: int, faults: list[Fault]) -> str:
    try:
        key = public_key(files.get("key.pem", b""))
    except ValueError:
        key = b""
    said = note_signed_by(files.get("head.note", b""), f"evidence-ledger/{of}", key)
    if said is None or said.encode() != text or not signed(key, text, files.get("head.sig", b"")):
        faults.append(Fault("S3", f"head at {size} entries", "is not rightly signed by the key beside it"))
    return f"The head at {size} entries was signed by key {fingerprint(key)}."


def _witness(files: dict[str, bytes], name: str, text: bytes, size: int, faults: list[Fault]) -> str:
    try:
        key = public_key(files.get(name[: -len("note")] + "pem", b""))
    except ValueError:
        key = b""
    found = cosigned_at(files[name], key)
    if found is None or found[0].encode() != text:
        faults.append(Fault("S3", f"{printable(name)} at {size} entries", "is not rightly countersigned"))
        return f"A countersignature beside the head at {size} entries is not right."
    return f"The head at {size} entries was countersigned by {printable(found[1])}, key {fingerprint(key)}."


def _stamped(token: bytes, note: bytes) -> bool:
    """Whether a token's message imprint (RFC 3161 section 2.4.1) is that of the note."""
    try:
        return bool(note) and _imprint(token) in [(oid, hashlib.new(n, note).digest()) for n, oid in _DIGESTS.items()]
    except (ValueError, IndexError):
        return False


def _imprint(answer: bytes) -> tuple[bytes, bytes]:
    """Object identifier and hash in the TSTInfo of a TimeStampResp (RFC 3161), or of its token alone (RFC 5652)."""
    outer = _der(_der(answer)[0][1])
    content = _der(outer[1][1]) if outer[0][0] == 0x30 else outer
    signed_data = _der(_der(content[1][1])[0][1])
    encapsulated = _der(signed_data[2][1])
    info = _der(_der(_der(encapsulated[1][1])[0][1])[0][1])
    algorithm, hashed = _der(info[2][1])
    return _der(algorithm[1])[0][1], hashed[1]


def _der(data: bytes) -> list[tuple[int, bytes]]:
    """The elements that follow one another in DER: tag and contents of each."""
    found, at = [], 0
    while at < len(data):
        tag, length, at = data[at], data[at + 1], at + 2
        if length & 0x80:
            more = length & 0x7F
            length, at = int.from_bytes(data[at : at + more], "big"), at + more
        if at + length > len(data):
            raise ValueError("it ends early")
        found.append((tag, data[at : at + length]))
        at += length
    return found


def named_head(text: str) -> tuple[str, int, str]:
    """Ledger, size, root of a head that was told: a signed note, a checkpoint, or one line; ``ValueError`` for others.

    Signatures on it are not looked at: what counts is that you had it from elsewhere.
    """
    found = re.findall(r"evidence-ledger/[a-z2-7]{26}\s+\d{1,15}\s+[A-Za-z0-9+/]{43}=", text, re.ASCII)
    if len({tuple(one.split()) for one in found}) != 1:
        raise ValueError("holds no head" if not found else "holds more than one head")
    return head_of(" ".join(found[0].split()))

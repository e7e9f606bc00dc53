"""The bag: manifests, hashes of all files, and what is not listed (RFC 8493)."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor

from evidence.bundle.alone.opening import Fault, Place, chunks, printable

TAGS = ("bagit.txt", "bag-info.txt", "manifest-sha256.txt", "manifest-sha512.txt")
SEALS = ("disclosure.note", "disclosure.txt", "disclosure.sig", "disclosure-key.pem")
BESIDE = ("tagmanifest-sha256.txt", "tagmanifest-sha512.txt", *SEALS)
FORMAT = 1
_LARGEST_TAG = 1 << 28
_LINE = re.compile(r"([0-9a-f]+)  (\S.*)")


def small(names: dict[str, Place], name: str) -> bytes:
    """The bytes of a tag file; nothing where it is missing or beyond all measure."""
    place = names.get(name)
    return b"".join(chunks(place)) if place is not None and place.size <= _LARGEST_TAG else b""


def check_bag(names: dict[str, Place], faults: list[Fault], newer: list[str]) -> dict[str, str]:
    """Read the manifests and hold them against what is there; the SHA-256 that each payload file must have."""
    faults += [Fault("B1", tag, "is missing") for tag in (*TAGS, *BESIDE[:2]) if tag not in names]
    if (
        "bagit.txt" in names
        and small(names, "bagit.txt") != b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    ):
        faults.append(Fault("B1", "bagit.txt", "is not that of a bag of version 1.0"))
    _info(names, faults, newer)
    listed = {n: _manifest(names, f"manifest-{n}.txt", n, faults) for n in ("sha256", "sha512")}
    payload = {name for name in names if name.startswith("data/")}
    for algorithm, rows in listed.items():
        _same(payload, set(rows), f"manifest-{algorithm}.txt", faults)
    for algorithm in ("sha256", "sha512"):
        tags = _manifest(names, f"tagmanifest-{algorithm}.txt", algorithm, faults)
        _same(set(TAGS), set(tags), f"tagmanifest-{algorithm}.txt", faults)
        for tag in sorted(set(tags) & set(TAGS) & set(names)):
            if hashlib.new(algorithm, small(names, tag)).hexdigest() != tags[tag]:
                faults.append(Fault("B3", tag, f"is altered: not the {algorithm} of the tag manifest"))
    for name in sorted(set(names) - payload - {*TAGS, *BESIDE}):
        faults.append(Fault("B2", printable(name), "is not listed: it does not belong to the bundle"))
    return listed["sha256"]


def _info(names: dict[str, Place], faults: list[Fault], newer: list[str]) -> None:
    fields = dict(
        re.findall(r"^([A-Za-z-]+): (.*)$", small(names, "bag-info.txt").decode("utf-8", "replace"), re.MULTILINE)
    )
    payload = [place.size for name, place in names.items() if name.startswith("data/")]
    if "bag-info.txt" in names and fields.get("Payload-Oxum") != f"{sum(payload)}.{len(payload)}":
        faults.append(
            Fault("B2", "bag-info.txt", f"{len(payload)} files of {sum(payload)} bytes are there, it says otherwise")
        )
    stated = fields.get("Evidence-Bundle-Format", "")
    if stated != str(FORMAT) and stated.isdigit():
        newer.append(f"the bundle is of format {stated}, this program knows {FORMAT}")


def _manifest(names: dict[str, Place], name: str, algorithm: str, faults: list[Fault]) -> dict[str, str]:
    rows: dict[str, str] = {}
    text = small(names, name).decode("utf-8", "surrogateescape")
    if text and not text.endswith("\n"):
        faults.append(Fault("B1", name, "its last line is cut off"))
    for number, line in enumerate(text.split("\n")[:-1], 1):
        match = _LINE.fullmatch(line)
        if not match or len(match[1]) != hashlib.new(algorithm).digest_size * 2:
            faults.append(Fault("B1", name, f"line {number} is no line of a manifest"))
        elif match[2] in rows:
            faults.append(Fault("B1", name, f"lists {printable(match[2])} twice"))
        else:
            rows[match[2]] = match[1]
    return rows


def _same(there: set[str], listed: set[str], manifest: str, faults: list[Fault]) -> None:
    faults += [Fault("B2", printable(n), f"is missing: {manifest} lists it") for n in sorted(listed - there)]
    faults += [Fault("B2", printable(n), f"is not listed in {manifest}") for n in sorted(there - listed)]


def hash_files(
    names: dict[str, Place], wanted: Iterable[str], threads: int, progress: Callable[[int], object] = lambda _size: None
) -> dict[str, str]:
    """The SHA-256 of files, an empty text for what cannot be read; the same for any number of threads."""

    def one(name: str) -> str:
        digest, place = hashlib.sha256(), names[name]
        try:
            for chunk in chunks(place):
                digest.update(chunk)
                progress(len(chunk))
        except OSError:
            return ""
        return digest.hexdigest()

    todo = sorted(wanted)
    with ThreadPoolExecutor(max(1, threads)) as pool:
        return dict(zip(todo, pool.map(one, todo), strict=True))


def compare_hashes(listed: dict[str, str], found: dict[str, str], faults: list[Fault]) -> None:
    """Every file against the hash that is listed; one with the content of another is told as that."""
    owners = {hash_: name for name, hash_ in sorted(listed.items(), reverse=True)}
    for name, hash_ in found.items():
        if not hash_:
            faults.append(Fault("B3", printable(name), "cannot be read"))
        elif hash_ != listed.get(name, hash_):
            what = f"content of another file: {printable(owners[hash_])}" if hash_ in owners else "is altered"
            faults.append(Fault("B3", printable(name), what))

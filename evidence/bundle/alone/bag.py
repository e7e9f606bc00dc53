"""The bag: manifests, hashes of all files, and what is not listed (RFC 8493)."""

from __future__ import annotations

import hashlib
import re
import threading

from evidence.bundle.alone.opening import Altered, Fault, Place, Unusable, chunks, printable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    Hashes = dict[str, tuple[str, ...]]  # file -> SHA-256 (and SHA-512); ("", what is wrong) where it has none

TAGS = ("bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt")
SEALS = ("disclosure.note", "disclosure.txt", "disclosure.sig", "disclosure-key.pem")
BESIDE = ("tagmanifest-sha256.txt", "tagmanifest-sha512.txt", *SEALS)
BAG_FORMAT = 1
_LARGEST_TAG = 1 << 26
_LINE = re.compile(r"([0-9a-f]{64}|[0-9a-f]{128})  (data/.+)")


def small(names: Mapping[str, Place], name: str) -> bytes:
    """The bytes of a tag file; nothing where it is missing, altered, or beyond all measure.

    Raises :class:`Unusable` where the medium does not give it: without it nothing can be said of the rest.
    """
    place = names.get(name)
    try:
        return b"".join(chunks(place, crc=True)) if place is not None and place.size <= _LARGEST_TAG else b""
    except Altered:
        return b""
    except OSError as err:
        raise Unusable(f"{printable(name)}: cannot be read: {err.strerror or err}") from None


def _unfit(place: Place) -> str:
    """Why a tag file that is there gives no bytes; an empty text where it does."""
    if place.size > _LARGEST_TAG:
        return "is larger than such a file can be"
    try:
        for _chunk in chunks(place, crc=True):
            pass
    except OSError as err:
        return _wrong(err)
    return ""


def _wrong(err: OSError) -> str:
    """Damage is told as damage; what could not be read as that alone: it may be the medium, and not the file."""
    return f"{'is altered' if isinstance(err, Altered) else 'is unreadable'}: {err.strerror or err}"


def newer_bag(names: Mapping[str, Place]) -> str:
    """What is said of a bundle of a newer form: only where its own list confirms that it says so."""
    info = small(names, "bag-info.txt")
    stated = re.search(rb"(?m)^Evidence-Bundle-Format: ([1-9][0-9]{0,8})$", info)
    confirmed = f"{hashlib.sha256(info).hexdigest()}  bag-info.txt\n".encode() in small(names, BESIDE[0])
    if not stated or int(stated[1]) <= BAG_FORMAT or not confirmed:
        return ""
    return f"the bundle is of format {int(stated[1])}, this program knows {BAG_FORMAT}"


def exhibit(name: str) -> str:
    """A file as a person knows it: ``exhibit 7 (data/originals/exhibit-0007.jpg)``."""
    number = re.fullmatch(r"data/originals/exhibit-([0-9]{4,9})(?:-[0-9]+)?\.[a-z0-9]+", name)
    return f"exhibit {int(number[1])} ({name})" if number else printable(name)


def check_bag(names: dict[str, Place], faults: list[Fault]) -> dict[str, dict[str, str]]:
    """Read the manifests and hold them against what is there; algorithm -> what each payload file must have."""
    faults += [Fault("B1", tag, "is missing") for tag in (*TAGS, *BESIDE[:2]) if tag not in names]
    listed = {a: _manifest(names, f"manifest-{a}.txt", a, faults) for a in ("sha256", "sha512")}
    payload = {name for name in names if name.startswith("data/")}
    wanted = set(listed["sha256"])
    faults += [Fault("B2", exhibit(n), "is missing") for n in sorted(wanted - payload)]
    faults += [Fault("B2", exhibit(n), "is unlisted") for n in sorted(set(names) - wanted - {*TAGS, *BESIDE})]
    for name in sorted(wanted ^ set(listed["sha512"])):
        faults.append(Fault("B2", exhibit(name), "stands in one of the two manifests and not in the other"))
    faults += [Fault("B3", n, wrong) for n in (*TAGS, *BESIDE) if n in names and (wrong := _unfit(names[n]))]
    _tags(names, f"{sum(names[n].size for n in payload)}.{len(payload)}", faults)
    return listed


def _tags(names: dict[str, Place], oxum: str, faults: list[Fault]) -> None:
    """The bag's own files: every byte of them is known beforehand, or hashed in what the seal speaks of."""
    held = {tag: small(names, tag) for tag in TAGS}
    for algorithm in ("sha256", "sha512"):
        rows = {tag: f"{hashlib.new(algorithm, held[tag]).hexdigest()}  {tag}\n".encode() for tag in TAGS}
        there = small(names, f"tagmanifest-{algorithm}.txt")
        if there == b"".join(rows.values()):
            continue
        told = [
            Fault("B3", t, f"is altered: not the {algorithm} of the tag manifest") for t in TAGS if rows[t] not in there
        ]
        faults += told or [
            Fault("B1", f"tagmanifest-{algorithm}.txt", "is altered: not the list of the four tag files")
        ]
    if (
        names.keys() & {"bagit.txt"}
        and held["bagit.txt"] != b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    ):
        faults.append(Fault("B1", "bagit.txt", "is not that of a bag of version 1.0"))
    if names.keys() & {"bag-info.txt"} and f"Payload-Oxum: {oxum}".encode() not in held["bag-info.txt"].split(b"\n"):
        size, _, count = oxum.partition(".")
        faults.append(Fault("B2", "bag-info.txt", f"{count} files of {size} bytes are there, it says otherwise"))


def _manifest(names: dict[str, Place], name: str, algorithm: str, faults: list[Fault]) -> dict[str, str]:
    rows: dict[str, str] = {}
    text = small(names, name).decode("utf-8", "backslashreplace")
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
    if list(rows) != sorted(rows):
        faults.append(Fault("B1", name, "its lines are not in order"))
    return rows


def hash_files(
    names: Mapping[str, Place], wanted: Iterable[str], threads: int, *, both: bool = False,
    progress: Callable[[int], object] = lambda _size: None, done: Callable[[str, tuple[str, ...]], object] = lambda *_: True,
) -> Hashes:  # fmt: skip
    """SHA-256 of files, and SHA-512 for ``both``; the same for any number of threads.

    ``progress`` hears of bytes read. ``done`` hears of each file and ends the work by False: the result is not whole then.
    """
    found: Hashes = {}
    # Taken from the end, so the largest first: no thread is left alone with one.
    waiting = sorted(wanted, key=lambda name: (names[name].size, name))
    lock = threading.Lock()

    def one(name: str) -> tuple[str, ...]:
        digests = [hashlib.sha256(), hashlib.sha512()] if both else [hashlib.sha256()]
        try:
            for chunk in chunks(names[name], crc=True):
                for digest in digests:
                    digest.update(chunk)
                progress(len(chunk))
        except OSError as err:
            return "", _wrong(err)
        return tuple(digest.hexdigest() for digest in digests)

    def work() -> None:
        while True:
            with lock:
                if not waiting:
                    return
                name = waiting.pop()
            result = one(name)
            with lock:
                found[name] = result
                if done(name, result) is False:
                    waiting.clear()

    others = [threading.Thread(target=work, daemon=True) for _ in range(min(threads, 64, len(waiting)) - 1)]
    for other in others:
        other.start()
    work()
    for other in others:
        other.join()
    return {name: found[name] for name in sorted(found)}


def compare_hashes(
    names: Mapping[str, Place], listed: dict[str, dict[str, str]], found: Hashes, sizes: Mapping[str, int], faults: list[Fault]
) -> None:  # fmt: skip
    """Every file against the hashes that are listed. ``sizes``: of contents by SHA-256, where the record tells them."""
    owners = {hash_: name for name, hash_ in sorted(listed["sha256"].items(), reverse=True)}
    for name, (hash_, *more) in found.items():
        wanted = listed["sha256"].get(name, hash_)
        size, recorded = names[name].size, sizes.get(wanted, -1)
        if not hash_:
            faults.append(Fault("B3", exhibit(name), more[0]))
        elif hash_ != wanted:
            what = (
                f"holds the content of {exhibit(owners[hash_])}" if hash_ in owners
                else f"is short: {size} bytes of {recorded}" if size < recorded
                else "is empty" if not size else "is altered"
            )  # fmt: skip
            faults.append(Fault("B3", exhibit(name), what))
        elif more and more[0] != listed["sha512"].get(name, more[0]):
            faults.append(Fault("B3", exhibit(name), "is not what manifest-sha512.txt says, though its SHA-256 is"))


def compare_sizes(
    names: Mapping[str, Place], listed: dict[str, dict[str, str]], sizes: Mapping[str, int], faults: list[Fault]
) -> None:  # fmt: skip
    """What can be said of contents that are not read: their sizes, where the record tells them."""
    for name, hash_ in listed["sha256"].items():
        if name in names and names[name].size != sizes.get(hash_, names[name].size):
            size, what = names[name].size, "is short" if names[name].size < sizes[hash_] else "is too long"
            faults.append(Fault("B3", exhibit(name), f"{what}: {size} bytes, {sizes[hash_]} were recorded"))

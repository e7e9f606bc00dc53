"""Seeded mutations of a sealed bundle: what a disk, a transfer or an attacker can do to it. Each gives other bytes."""

from __future__ import annotations

import json
import random
import struct
from collections.abc import Callable

from bag_kit import (
    ATTACKER,
    CONTENTS,
    HEADERS,
    Files,
    Sealed,
    packed,
    packed_members,
    rechained,
    relisted,
    resealed,
    root_and_size,
    with_head,
)  # fmt: skip

Mutation = Callable[[random.Random, Sealed], bytes]


def _spot(rng: random.Random, sealed: Sealed) -> int:
    """A place in the zip: as often in its headers, lists and end as in the large files that fill it."""
    data = sealed.data
    directory = struct.unpack("<L", data[-6:-2])[0]
    kind = rng.randrange(4)
    if kind == 0:
        return rng.randrange(directory, len(data))
    if kind == 1:
        name = rng.choice(sorted(sealed.files))
        at = data.index(f"disclosure/{name}".encode())
        return at - 30 + rng.randrange(30 + len(name) + 11)
    if kind == 2:
        name = rng.choice([n for n in sorted(sealed.files) if sealed.files[n]])
        at = data.index(f"disclosure/{name}".encode()) + len(name) + 11
        return at + rng.randrange(len(sealed.files[name]))
    return rng.randrange(len(data))


def byte_changed(rng: random.Random, sealed: Sealed) -> bytes:
    at = _spot(rng, sealed)
    return sealed.data[:at] + bytes([sealed.data[at] ^ rng.randrange(1, 256)]) + sealed.data[at + 1 :]


def bit_flipped(rng: random.Random, sealed: Sealed) -> bytes:
    at = _spot(rng, sealed)
    return sealed.data[:at] + bytes([sealed.data[at] ^ 1 << rng.randrange(8)]) + sealed.data[at + 1 :]


def bytes_deleted(rng: random.Random, sealed: Sealed) -> bytes:
    at = _spot(rng, sealed)
    return sealed.data[:at] + sealed.data[at + rng.choice((1, 1, 2, 7, 100, 4096)) :]


def bytes_inserted(rng: random.Random, sealed: Sealed) -> bytes:
    at = _spot(rng, sealed)
    return sealed.data[:at] + rng.randbytes(rng.choice((1, 1, 4, 22, 300))) + sealed.data[at:]


def truncated(rng: random.Random, sealed: Sealed) -> bytes:
    return sealed.data[: rng.randrange(len(sealed.data))]


def put_in_front(rng: random.Random, sealed: Sealed) -> bytes:
    return rng.randbytes(rng.randrange(1, 400)) + sealed.data


def put_after(rng: random.Random, sealed: Sealed) -> bytes:
    return sealed.data + rng.randbytes(rng.randrange(1, 400))


def _ordered(files: Files) -> list[tuple[str, bytes]]:
    return [(f"disclosure/{n}", files[n]) for n in sorted(files, key=lambda n: (n != "bagit.txt", n))]


def _two(rng: random.Random, files: Files) -> tuple[str, str]:
    one, other = rng.sample(sorted(files), 2)
    return (one, other) if files[one] != files[other] else _two(rng, files)


def files_swapped(rng: random.Random, sealed: Sealed) -> bytes:
    one, other = _two(rng, sealed.files)
    return packed({**sealed.files, one: sealed.files[other], other: sealed.files[one]})


def file_deleted(rng: random.Random, sealed: Sealed) -> bytes:
    gone = rng.choice(sorted(sealed.files))
    return packed({n: d for n, d in sealed.files.items() if n != gone})


def file_added(rng: random.Random, sealed: Sealed) -> bytes:
    name = rng.choice(("data/{}.txt", "data/originals/exhibit-{}.jpg", "{}.txt", "data/rules/packs/{}.yaml", "data/heads/{}/head.txt"))
    return packed({**sealed.files, name.format(f"{rng.randrange(10**4):04}x"): rng.randbytes(rng.randrange(50))})


def file_renamed(rng: random.Random, sealed: Sealed) -> bytes:
    files = dict(sealed.files)
    name = rng.choice(sorted(files))
    files[name + rng.choice(("x", ".bak", "~"))] = files.pop(name)
    return packed(files)


def files_listed_anew(rng: random.Random, sealed: Sealed) -> bytes:
    """One file changed, swapped, dropped or added, and every list recomputed; the seal cannot be."""
    files, name = dict(sealed.files), rng.choice([n for n in sorted(sealed.files) if n.startswith("data/")])
    deed = rng.randrange(4)
    if deed == 0:
        files[name] = files[name][:-1] + bytes([files[name][-1] ^ 1])
    elif deed == 1:
        one, other = _two(rng, {n: d for n, d in files.items() if n.startswith("data/")})
        files[one], files[other] = files[other], files[one]
    elif deed == 2:
        del files[name]
        if name == HEADERS:
            files[HEADERS] = sealed.files[HEADERS][: sealed.files[HEADERS].rindex(b"\n", 0, -1) + 1]
    else:
        files["data/later.txt"] = b"x"
    return packed(relisted(files))


def signed_by_another(rng: random.Random, sealed: Sealed) -> bytes:
    """Changed or not, and sealed anew by another key; heads too, sometimes."""
    files = dict(sealed.files)
    if rng.randrange(2):
        name = rng.choice([n for n in sorted(files) if n.startswith("data/originals/")])
        files[name] = rng.randbytes(20)
    if rng.randrange(2):
        files = with_head(files, ATTACKER)
    return packed(resealed(files, rng.choice((ATTACKER, ATTACKER, None))))


def _entries(files: Files) -> list[tuple[dict[str, object], bytes]]:
    headers = [json.loads(line) for line in files[HEADERS].split(b"\n")[:-1]]
    return list(zip(headers, files[CONTENTS].split(b"\n")[:-1], strict=True))


def record_rewritten(rng: random.Random, sealed: Sealed) -> bytes:
    """Entries dropped at the end, dropped, moved or repeated; chained anew or not; sealed by the attacker or by nobody."""
    entries = _entries(sealed.files)
    at, deed = rng.randrange(1, len(entries)), rng.randrange(4)
    if deed == 0:
        entries = entries[:at]
    elif deed == 1:
        del entries[at]
    elif deed == 2:
        other = rng.choice([n for n in range(len(entries)) if n != at])
        entries[at], entries[other] = entries[other], entries[at]
    else:
        entries.insert(rng.randrange(len(entries)), entries[at])
    headers = [h for h, _ in entries]
    plain = b"".join(json.dumps(h, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode() + b"\n" for h in headers)
    files = dict(sealed.files)
    files[HEADERS] = rechained(headers) if rng.randrange(2) else plain
    files[CONTENTS] = b"".join(content + b"\n" for _, content in entries)
    files = with_head(files, ATTACKER) if rng.randrange(2) else files
    how = rng.randrange(3)
    return packed(relisted(files) if how == 0 else resealed(files, ATTACKER if how == 1 else None))


def checkpoint_replayed(rng: random.Random, sealed: Sealed) -> bytes:
    """The record cut back to an earlier size, as it once was, with heads of that size; the old seal or another."""
    entries = _entries(sealed.files)[: rng.randrange(1, len(_entries(sealed.files)))]
    files = dict(sealed.files)
    files[HEADERS] = b"".join(sealed.files[HEADERS].split(b"\n")[n] + b"\n" for n in range(len(entries)))
    files[CONTENTS] = b"".join(content + b"\n" for _, content in entries)
    files = with_head(files, ATTACKER)
    return packed(rng.choice((relisted(files), resealed(files, ATTACKER), resealed(files, None))))


def stamp_forged(rng: random.Random, sealed: Sealed) -> bytes:
    """The time-stamp changed or replaced, lists recomputed."""
    name = next(n for n in sealed.files if n.endswith(".tsr"))
    token = bytearray(sealed.files[name])
    token[rng.randrange(len(token))] ^= rng.randrange(1, 256)
    files = {**sealed.files, name: rng.choice((bytes(token), rng.randbytes(60), b"", sealed.files["disclosure.sig"]))}
    return packed(rng.choice((files, relisted(files), resealed(files, ATTACKER))))


def members_disordered(rng: random.Random, sealed: Sealed) -> bytes:
    members = _ordered(sealed.files)
    one, other = rng.sample(range(len(members)), 2)
    members[one], members[other] = members[other], members[one]
    return packed_members(members)


def member_twice(rng: random.Random, sealed: Sealed) -> bytes:
    members = _ordered(sealed.files)
    name, data = rng.choice(members)
    members.insert(rng.randrange(len(members) + 1), (name, rng.choice((data, b"other", b""))))
    return packed_members(members)


def member_misnamed(rng: random.Random, sealed: Sealed) -> bytes:
    """A member whose name leads out, is another's on some system, or cannot be kept."""
    inside = rng.choice(sorted(sealed.files))
    name = rng.choice((
        "../evil", "/etc/evil", "disclosure/../../evil", "C:\\evil", "disclosure\\evil", "disclosure/data/a\0b", "disclosure/" + "n" * 300,
        "disclosure/data/CON", "disclosure/data/nul.txt", f"disclosure/{inside.upper()}", f"DISCLOSURE/{inside}", "disclosure/data/e\u0301.txt",
        "disclosure/data/\u00e9.txt", "disclosure/data/x.", "disclosure/data/\u202egpj.exe", "disclosure/data//x", "disclosure/./x", "disclosure/",
    ))  # fmt: skip
    members = _ordered(sealed.files)
    members.insert(rng.randrange(len(members) + 1), (name, b"x"))
    return packed_members(members)


def member_malformed(rng: random.Random, sealed: Sealed) -> bytes:
    """The last member compressed, encrypted, a link, overlapping, of another size or check sum than it says; or a false count."""
    members = _ordered(sealed.files)
    size = len(members[-1][1])
    changes = rng.choice((
        {"method": 8}, {"flags": 1}, {"flags": 8}, {"attributes": 0o120777}, {"attributes": 0o40755}, {"offset": 0}, {"offset": 1 << 31},
        {"size": size + 1}, {"size": size - 1}, {"size": 0xFFFFFFFF}, {"packed": 3}, {"crc": 1}, {"count": 12_000}, {"count": 0xFFFF},
        {"count": 0}, {"count": len(members) - 1}, {"attributes": 0}, {"size": 0},
    ))  # fmt: skip
    return packed_members(members, **changes)


def head_in_bundle_changed(rng: random.Random, sealed: Sealed) -> bytes:
    """Another root or size in the seal's text, signed by nobody or by the attacker."""
    files = dict(sealed.files)
    lines = files["disclosure.txt"].split(b"\n")
    root, size = root_and_size(files)
    lines[1], lines[2] = rng.choice(((b"%d" % (size + 1), lines[2]), (lines[1], root[::-1].encode()), (b"0" + lines[1], lines[2])))
    text = b"\n".join(lines)
    files["disclosure.txt"] = text
    if rng.randrange(2):
        ledger = lines[0].decode().rpartition("/")[2]
        files["disclosure.note"], files["disclosure.sig"] = ATTACKER.note(text.decode(), ledger), ATTACKER.private.sign(text)
    return packed(files)


MUTATIONS: tuple[Mutation, ...] = (
    byte_changed, bit_flipped, bytes_deleted, bytes_inserted, truncated, put_in_front, put_after, files_swapped, file_deleted, file_added,
    file_renamed, files_listed_anew, signed_by_another, record_rewritten, checkpoint_replayed, stamp_forged, members_disordered,
    member_twice, member_misnamed, member_malformed, head_in_bundle_changed,
)  # fmt: skip

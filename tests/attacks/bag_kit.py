"""What an attacker can do to a bundle: take it apart, change it, and put it together again with every hash recomputed."""

from __future__ import annotations

import base64
import hashlib
import importlib.util
import io
import json
import struct
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from evidence import receiving
from evidence.bundle.joining import verifier_source
from evidence.capture import packs
from evidence.errors import SourceUnusable
from evidence.model.dossier import Dossier
from evidence.record.checkpoint import cosign, fingerprint, public_pem, sign_text
from evidence.record.head import ORIGIN
from evidence.record.merkle import leaf_hash, root_of
from evidence.review.verdict import Verdict
from evidence.rules.assess import assess
from evidence.rules.assessment import Assessment
from evidence.rules.assessment_json import as_bytes
from evidence.rules.pack import Pack
from evidence.rules.vocabulary import Vocabulary
from evidence.usecases import verify

from fakes import quiet

Files = dict[str, bytes]  # names below disclosure/
TAGS = ("bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt")
HEADERS, CONTENTS = "data/record/headers.jsonl", "data/record/contents.jsonl"


@dataclass(frozen=True)
class Key:
    """A signing key that counts as somebody's."""

    seed: bytes

    @property
    def private(self) -> Ed25519PrivateKey:
        return Ed25519PrivateKey.from_private_bytes(hashlib.sha256(self.seed).digest())

    @property
    def public(self) -> bytes:
        return self.private.public_key().public_bytes_raw()

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.public)

    def note(self, text: str, ledger: str) -> bytes:
        return sign_text(text, ORIGIN + ledger, self.public, self.private.sign).to_bytes()


SHOP, ATTACKER, WITNESS = Key(b"shop"), Key(b"attacker"), Key(b"witness")


def unpacked(data: bytes) -> Files:
    """The files of a zip as written by us."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return {name.removeprefix("disclosure/"): packed.read(name) for name in packed.namelist()}


def packed(files: Mapping[str, bytes]) -> bytes:
    """A zip in the one form that a bundle has."""
    ordered = sorted(files, key=lambda name: (name != "bagit.txt", name))
    return packed_members([(f"disclosure/{name}", files[name]) for name in ordered])


def packed_members(members: list[tuple[str, bytes]], **changes: int) -> bytes:
    """A zip of stored members in that order; names may be anything, also twice. ``changes``: fields of the last member."""
    out, rows = b"", b""
    for number, (text, data) in enumerate(members):
        name = text.encode("utf-8", "surrogateescape")
        of_last = changes if number == len(members) - 1 else {}
        crc, size = of_last.get("crc", zlib.crc32(data)), of_last.get("size", len(data))
        flags = of_last.get("flags", 0 if name.isascii() else 0x800)
        method, attributes = of_last.get("method", 0), of_last.get("attributes", 0o100644) << 16
        offset = of_last.get("offset", len(out))
        fields = (20, flags, method, 0, 33, crc, of_last.get("packed", size), size, len(name), 0)
        out += struct.pack("<4s5H3L2H", b"PK\x03\x04", *fields) + name + data
        rows += struct.pack("<4s6H3L5H2L", b"PK\x01\x02", 0x314, *fields, 0, 0, 0, attributes, offset) + name
    count = changes.get("count", len(members))
    return out + rows + struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, count, count, len(rows), len(out), 0)


def ledger_of(files: Mapping[str, bytes]) -> str:
    return str(json.loads(files[HEADERS].split(b"\n")[0])["ledger"])


def root_and_size(files: Mapping[str, bytes]) -> tuple[str, int]:
    lines = files[HEADERS].split(b"\n")[:-1]
    return base64.b64encode(root_of(map(leaf_hash, lines))).decode(), len(lines)


def relisted(files: Mapping[str, bytes], *, oxum: bool = True) -> Files:
    """The same files with every list and hash recomputed, the seal left as it is."""
    made = {n: d for n, d in files.items() if not n.startswith(("manifest-", "tagmanifest-"))}
    payload = sorted(n for n in made if n.startswith("data/"))
    if oxum:
        said = f"Payload-Oxum: {sum(len(made[n]) for n in payload)}.{len(payload)}"
        made["bag-info.txt"] = b"".join(
            (said.encode() if line.startswith(b"Payload-Oxum") else line) + b"\n" for line in made["bag-info.txt"].split(b"\n")[:-1]
        )
    for algorithm in ("sha256", "sha512"):
        rows = [f"{hashlib.new(algorithm, made[n]).hexdigest()}  {n}\n" for n in payload]
        made[f"manifest-{algorithm}.txt"] = "".join(rows).encode()
    for algorithm in ("sha256", "sha512"):
        rows = [f"{hashlib.new(algorithm, made[n]).hexdigest()}  {n}\n" for n in TAGS if n in made]
        made[f"tagmanifest-{algorithm}.txt"] = "".join(rows).encode()
    return made


def resealed(files: Mapping[str, bytes], key: Key | None) -> Files:
    """Lists recomputed and the seal made anew: signed by ``key``, or by nobody."""
    made = {n: d for n, d in relisted(files).items() if not n.startswith("disclosure")}
    ledger, (root, size) = ledger_of(made), root_and_size(made)
    tags = hashlib.sha256(made["tagmanifest-sha256.txt"]).hexdigest()
    text = f"evidence-disclosure/{ledger}\n{size}\n{root}\nsha256 {tags}\n"
    made["disclosure.txt"] = text.encode()
    if key:
        made["disclosure.note"] = key.note(text, ledger)
        made["disclosure.sig"], made["disclosure-key.pem"] = key.private.sign(text.encode()), public_pem(key.public)
    return made


def with_head(files: Mapping[str, bytes], key: Key, **more: bytes) -> Files:
    """The files with one signed head, that of the record as it is now; older heads are gone."""
    made = {n: d for n, d in files.items() if not n.startswith("data/heads/")}
    ledger, (root, size) = ledger_of(made), root_and_size(made)
    text, folder = f"{ORIGIN}{ledger}\n{size}\n{root}\n", f"data/heads/{size:010}/"
    made[folder + "head.txt"], made[folder + "head.note"] = text.encode(), key.note(text, ledger)
    made[folder + "head.sig"], made[folder + "key.pem"] = key.private.sign(text.encode()), public_pem(key.public)
    return {**made, **{folder + name: data for name, data in more.items()}}


def witnessed(files: Mapping[str, bytes], key: Key = WITNESS) -> dict[str, bytes]:
    """The files that a witness adds beside the newest head."""
    ledger, (root, size) = ledger_of(files), root_and_size(files)
    note = cosign(f"{ORIGIN}{ledger}\n{size}\n{root}\n", "evidence-witness/owner", key.public, key.private.sign, 1_772_452_800)
    start = key.fingerprint[:16]
    return {f"witness-{start}.note": note.to_bytes(), f"witness-{start}.pem": public_pem(key.public)}


def rechained(headers: list[dict[str, object]]) -> bytes:
    """Headers numbered and chained anew, as somebody with the program would write them."""
    previous, out = "0" * 64, b""
    for seq, header in enumerate(headers, 1):
        line = json.dumps({**header, "seq": seq, "previous": previous}, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        previous, out = leaf_hash(line).hex(), out + line + b"\n"
    return out


@dataclass(frozen=True)
class Sealed:
    """The bundle, and what its receiver was told on another way."""

    files: Files
    data: bytes
    key: str
    head: str


@cache
def stand_alone(folder: Path) -> ModuleType:
    """The file that lies in every bundle, loaded by its path."""
    file = folder / "verify_of_a_bundle.py"
    file.write_bytes(verifier_source())
    spec = importlib.util.spec_from_file_location("verify_of_a_bundle", file)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _short(given: object) -> object:
    """A name for bytes, or for files by their names, that is quicker to write out than they are."""
    if isinstance(given, dict):
        return {name: _short(one) for name, one in given.items()}
    return hashlib.sha256(given).digest() if isinstance(given, bytes) else given


@dataclass
class Receiver:
    """Somebody who was told the fingerprint and a head, with both verifiers.

    What files of rules, time-stamps and PDF turn out to be is remembered by their bytes, and the judgement of a record by all
    that it says, which spares time alone.
    """

    folder: Path
    key: str
    head: str
    remembered: dict[bytes, object] = field(default_factory=dict)

    def verdict(self, bundle: Path, *, told: bool = True) -> Verdict:
        """What the installed verifier says."""
        asked = receiving.Asked(key=self.key if told else "", head=self.head if told else "", threads=1)
        with pytest.MonkeyPatch.context() as patch:
            for name in ("rules_of_files", "check_token", "check_pdf"):
                patch.setattr(receiving, name, self._remembering(name, getattr(receiving, name)))
            patch.setattr(packs, "_marked", self._remembering("_marked", packs._marked))
            patch.setattr(verify, "assess", self._assessed)
            patch.setattr(verify, "as_bytes", self._as_bytes)
            return receiving.verify_received(bundle, asked, quiet, self.folder)

    def installed(self, bundle: Path, *, told: bool = True) -> int:
        """Exit code of the installed verifier."""
        try:
            return self.verdict(bundle, told=told).exit_code
        except SourceUnusable:
            return 2

    def alone(self, bundle: Path, *, told: bool = True) -> int:
        """Exit code of the stand-alone verifier."""
        module = stand_alone(self.folder)
        try:
            return module.check(str(bundle), self.key if told else "", self.head if told else "", threads=1).exit_code
        except module.Unusable:
            return 2

    def both(self, data: bytes, *, told: bool = True) -> tuple[int, int]:
        """Both exit codes for a zip of these bytes."""
        bundle = self.folder / "attacked.zip"
        bundle.write_bytes(data)
        return self.installed(bundle, told=told), self.alone(bundle, told=told)

    def _assessed(self, dossier: Dossier, rules: tuple[Pack, ...], vocabulary: Vocabulary) -> Assessment:
        """Rules and words are remembered, so that equal ones are the same ones."""
        name = repr(("assess", dossier, id(rules), id(vocabulary))).encode()
        if name not in self.remembered:
            self.remembered[name] = assess(dossier, rules, vocabulary)
        found = self.remembered[name]
        assert isinstance(found, Assessment)
        return found

    def _as_bytes(self, assessment: Assessment) -> bytes:
        """An assessment is remembered, so that an equal one is the same one."""
        name = repr(("as_bytes", id(assessment))).encode()
        if name not in self.remembered:
            self.remembered[name] = as_bytes(assessment)
        found = self.remembered[name]
        assert isinstance(found, bytes)
        return found

    def _remembering(self, what: str, ask: Callable[..., object]) -> Callable[..., object]:
        def answer(*given: object) -> object:
            plain = [one.read() if isinstance(one, io.IOBase) else one for one in given]
            name = repr((what, [_short(one) for one in plain])).encode()
            if name not in self.remembered:
                for one in given:
                    if isinstance(one, io.IOBase):
                        one.seek(0)
                self.remembered[name] = ask(*given)
            return self.remembered[name]

        return answer

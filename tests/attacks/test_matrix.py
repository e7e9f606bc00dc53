"""The fault matrix as far as bundles go: rows 9 to 14, 16, 18, 20, 31 and 32, by their words and by both verifiers."""

from __future__ import annotations

import datetime as dt
import errno
import json
import os
import shutil
import ssl
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from bag_kit import (
    ATTACKER,
    CONTENTS,
    HEADERS,
    SHOP,
    Files,
    Receiver,
    Sealed,
    ledger_of,
    packed,
    rechained,
    relisted,
    resealed,
    root_and_size,
    stand_alone,
    with_head,
)  # fmt: skip
from cryptography.x509.oid import ExtendedKeyUsageOID as Usage
from evidence import receiving
from evidence.bundle.alone import opening
from evidence.errors import SourceUnusable
from evidence.review.verdict import Verdict

from authority import DAY, NOW, TimeAuthority
from fakes import quiet

PHOTO, PAPER = "data/originals/exhibit-0003.jpg", "data/originals/exhibit-0001.pdf"


def _told(receiver: Receiver, files: Files | bytes, *, told: bool = True) -> Verdict:
    """The verdict of the installed verifier; the stand-alone one must give the same exit code."""
    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(files if isinstance(files, bytes) else packed(files))
    verdict = receiver.verdict(bundle, told=told)
    assert receiver.alone(bundle, told=told) == verdict.exit_code
    return verdict


def _faults(verdict: Verdict) -> list[str]:
    return [f"{f.item}: {f.message}" for f in verdict.faults]


@pytest.mark.parametrize(("row", "change", "words"), [
    (9, lambda d: {PHOTO: d[PHOTO][:99] + bytes([d[PHOTO][99] ^ 1]) + d[PHOTO][100:]}, "is altered"),
    (10, lambda d: {PHOTO: None}, "is missing"),
    (10, lambda d: {PHOTO: d[PHOTO][:1000]}, "is short: 1000 bytes of 227473"),
    (10, lambda d: {PHOTO: b""}, "is short: 0 bytes of 227473"),
    (12, lambda d: {PHOTO: d[PAPER], PAPER: d[PHOTO]}, f"holds the content of exhibit 1 ({PAPER})"),
])  # fmt: skip
def test_rows_9_10_12_name_the_exhibit_and_the_kind_of_fault(sealed: Sealed, receiver: Receiver, row: int, change: Callable, words: str) -> None:
    changed = {**sealed.files, **change(sealed.files)}
    verdict = _told(receiver, {n: d for n, d in changed.items() if d is not None})
    assert verdict.exit_code == 1
    assert f"exhibit 3 ({PHOTO}): {words}" in _faults(verdict)
    others = {f.item for f in verdict.faults} - {f"exhibit 3 ({PHOTO})", f"exhibit 1 ({PAPER})", "bag-info.txt", "exhibit 3", "exhibit 1"}
    assert others == set()  # the rest is intact, and not accused


@pytest.mark.parametrize("name", [PHOTO, "data/README.txt", "data/record/contents.jsonl", "manifest-sha256.txt", "disclosure.sig"])
def test_row_9_a_byte_flipped_in_the_zip_itself_is_damage_and_not_a_failure_to_read(sealed: Sealed, receiver: Receiver, name: str) -> None:
    """The zip's own check sum fails too; the bytes could be read all the same, and are not those that were sealed."""
    at = sealed.data.index(sealed.files[name]) + len(sealed.files[name]) // 2
    verdict = _told(receiver, sealed.data[:at] + bytes([sealed.data[at] ^ 1]) + sealed.data[at + 1 :])
    assert (verdict.exit_code, verdict.sentence[:10]) == (1, "NOT INTACT")
    item = f"exhibit 3 ({PHOTO})" if name == PHOTO else name
    assert f"{item}: is altered: the zip's check sum is not that of its bytes" in _faults(verdict)


@pytest.mark.parametrize(("name", "rest_is_told"), [(PHOTO, True), ("disclosure.txt", False), (CONTENTS, False)])
def test_row_5_what_the_medium_does_not_give_is_not_called_damage(
    sealed: Sealed, receiver: Receiver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, rest_is_told: bool
) -> None:
    """EIO on one file: exit code 2. Of an exhibit the rest is judged; without the seal or the record nothing can be."""
    (tmp_path / "bundle.zip").write_bytes(sealed.data)
    shutil.unpack_archive(tmp_path / "bundle.zip", tmp_path, "zip")
    bag = tmp_path / "disclosure"

    def worn_out(path: str, *given: object, **more: object) -> object:
        if str(path).endswith(name):
            raise OSError(errno.EIO, "Input/output error")
        return open(path, *given, **more)  # type: ignore[call-overload]

    for module in (opening, stand_alone(receiver.folder)):
        monkeypatch.setattr(module, "open", worn_out, raising=False)
    assert (receiver.installed(bag), receiver.alone(bag)) == (2, 2)
    if rest_is_told:
        assert _faults(receiver.verdict(bag)) == [f"exhibit 3 ({PHOTO}): is unreadable: Input/output error"]
    else:
        with pytest.raises(SourceUnusable, match="cannot be read: Input/output error"):
            receiver.verdict(bag)


def test_row_11_an_extra_file(sealed: Sealed, receiver: Receiver) -> None:
    for extra in ("data/originals/exhibit-0099.jpg", "data/x", "x.txt", "data/heads/0000000001/head.txt"):
        verdict = _told(receiver, {**sealed.files, extra: b"x"})
        assert verdict.exit_code == 1
        assert any(m.endswith("is unlisted") for m in _faults(verdict)), extra


def test_row_13_hashes_recomputed_agree_and_the_seal_does_not(sealed: Sealed, receiver: Receiver) -> None:
    verdict = _told(receiver, relisted({**sealed.files, PHOTO: b"another photo"}), told=False)
    assert verdict.exit_code == 1
    assert not any(f.check in ("B1", "B2", "B3") for f in verdict.faults)  # hashes alone agree
    assert {f.check for f in verdict.faults} >= {"S2", "E1"}


def test_row_14_another_key_is_never_just_intact(sealed: Sealed, receiver: Receiver) -> None:
    again = resealed(with_head(sealed.files, ATTACKER), ATTACKER)
    verdict = _told(receiver, again)
    assert verdict.exit_code == 1
    message = next(f.message for f in verdict.faults if f.check == "N1")
    assert ATTACKER.fingerprint in message
    assert sealed.key in message
    unasked = _told(receiver, again, told=False)
    assert (unasked.exit_code, unasked.sentence) == (0, "intact, signer and latest head not confirmed")
    assert any("Whose key it is" in s for s in unasked.asserted)


def test_unsigned_is_told_and_refused_where_a_signer_was_named(sealed: Sealed, receiver: Receiver) -> None:
    bare = resealed(sealed.files, None)
    assert _told(receiver, bare, told=False).exit_code == 0
    assert any("anybody can have made it" in s for s in _told(receiver, bare, told=False).missing)
    assert any("is not signed; you named" in m for m in _faults(_told(receiver, bare)))


def test_row_16_two_histories_print_both_heads(sealed: Sealed, receiver: Receiver) -> None:
    lines, contents = sealed.files[HEADERS].split(b"\n")[:-1], sealed.files[CONTENTS].split(b"\n")[:-1]
    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(sealed.data)
    ledger, (root, size) = ledger_of(sealed.files), root_and_size(sealed.files)
    other = ("A" if root[0] != "A" else "B") + root[1:]
    split = Receiver(receiver.folder, sealed.key, f"evidence-ledger/{ledger} {size} {other}", receiver.remembered)
    verdict = split.verdict(bundle)
    assert (verdict.exit_code, split.alone(bundle)) == (1, 1)
    message = next(f.message for f in verdict.faults if f.check == "N2")
    assert "two histories" in message
    assert root in message
    assert other in message
    # An earlier head of the same record agrees, and the bundle is longer than it.
    short = {**sealed.files, HEADERS: b"".join(x + b"\n" for x in lines[:5]), CONTENTS: b"".join(x + b"\n" for x in contents[:5])}
    earlier = Receiver(receiver.folder, sealed.key, f"evidence-ledger/{ledger} 5 {root_and_size(short)[0]}", receiver.remembered)
    assert earlier.both(sealed.data) == (0, 0)
    # And the shorter bundle, rightly signed, is rolled back against the newer head.
    rolled = _told(receiver, resealed(with_head(short, SHOP), SHOP))
    assert any(f"rolled back from {size} to 5 entries" in m for m in _faults(rolled))


@pytest.mark.parametrize("form", ["note", "checkpoint", "line", "line in a letter", "note with CR LF", "note and key"])
def test_a_head_is_taken_in_every_form(sealed: Sealed, receiver: Receiver, form: str) -> None:
    folder = next(n for n in sealed.files if n.endswith("/head.note")).rpartition("/")[0]
    note, text, pem = (sealed.files[f"{folder}/{n}"].decode() for n in ("head.note", "head.txt", "key.pem"))
    head = {
        "note": note, "checkpoint": text, "line": " ".join(text.split()), "line in a letter": f"Dear Sir,\nkeep this: {' '.join(text.split())}.\nYours",
        "note with CR LF": note.replace("\n", "\r\n"), "note and key": note + pem,
    }[form]  # fmt: skip
    assert Receiver(receiver.folder, sealed.key, head, receiver.remembered).both(sealed.data) == (0, 0)


@pytest.mark.parametrize("head", ["nonsense", "evidence-ledger/x 3 AAAA", "\x00", "9" * 5000])
def test_a_head_that_is_none_cannot_be_checked(sealed: Sealed, receiver: Receiver, head: str) -> None:
    assert Receiver(receiver.folder, sealed.key, head, receiver.remembered).both(sealed.data) == (2, 2)


def test_row_17_a_clock_that_was_set_back_is_told_and_is_no_damage(sealed: Sealed, receiver: Receiver) -> None:
    """The order is that of the chain; both verifiers say by how much the clock went back, and where."""
    headers = [json.loads(line) for line in sealed.files[HEADERS].split(b"\n")[:-1]]
    first = dt.datetime.fromisoformat(headers[0]["recorded_at"])
    for seq, header in enumerate(headers, 1):  # forward by a year at entry 4, back by 400 days at entry 6, by a second at entry 8
        days = {4: 365, 5: 365}.get(seq, -35 if seq >= 6 else 0)
        moment = first + dt.timedelta(days=days, seconds=-1 if seq >= 8 else 0)
        header["recorded_at"] = moment.isoformat().replace("+00:00", "Z")
    files = resealed(with_head({**sealed.files, HEADERS: rechained(headers)}, SHOP), SHOP)
    verdict = _told(receiver, files, told=False)
    told = [r for r in verdict.remarks if "clock" in r]
    assert told == ["The recorder's clock went back by 400 days before entry 6; the order is that of the entries, not of its times."]
    assert verdict.exit_code == 0


def test_row_18_time_stamps_that_do_not_hold(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    """Sealed by the shop's own key: only the token itself can show it. What needs its signature, the installed verifier finds."""
    name = next(n for n in sealed.files if n.endswith(".tsr"))
    note = sealed.files[name.replace("token-1.tsr", "head.note")]
    good = TimeAuthority(tmp_path / "good")
    late = TimeAuthority(tmp_path / "late", since=NOW - 900 * DAY, until=NOW - DAY)
    weak = TimeAuthority(tmp_path / "weak", digests="sha1, sha256")
    other_usage = TimeAuthority(tmp_path / "usage", usage=Usage.SERVER_AUTH)
    token = good.stamp(note)
    stamps = {
        "other data": (good.stamp(b"other"), True), "weak": (weak.stamp(note, "sha1"), True), "garbage": (b"\x30\x03\x02\x01\x00", True),
        "empty": (b"", True), "signature": (token[:-1] + bytes([token[-1] ^ 1]), False), "usage": (other_usage.forged(token), False),
        "expired before": (late.forged(token), False),
    }  # fmt: skip
    for what, (stamp, alone_too) in stamps.items():
        bundle = receiver.folder / "attacked.zip"
        bundle.write_bytes(packed(resealed({**sealed.files, name: stamp}, SHOP)))
        verdict = receiver.verdict(bundle)
        assert verdict.exit_code == 1, what
        assert {f.check for f in verdict.faults} == {"T1"}, what
        assert receiver.alone(bundle) == int(alone_too), what
    expired_since = late.forged(token, NOW - 30 * DAY)
    assert _told(receiver, resealed({**sealed.files, name: expired_since}, SHOP)).exit_code == 0  # valid at the time it names


def test_row_18_a_trusted_authority_is_said_to_be_one(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    authority = TimeAuthority(tmp_path / "good")
    name = next(n for n in sealed.files if n.endswith(".tsr"))
    files = resealed({**sealed.files, name: authority.stamp(sealed.files[name.replace("token-1.tsr", "head.note")])}, SHOP)
    bundle = tmp_path / "stamped.zip"
    bundle.write_bytes(packed(files))
    said = [
        next(s for s in receiving.verify_received(bundle, receiving.Asked(roots=roots), quiet, tmp_path).shown if "existed on" in s)
        for roots in ([], [authority.root_pem], [ssl.PEM_cert_to_DER_cert(authority.root_pem.decode())])
    ]
    assert "if that authority is trusted" in said[0]
    assert all(one.endswith("by the clock of Test Time Authority.") for one in said[1:])  # PEM, and DER


def test_row_31_the_same_verdict_in_another_locale_and_with_no_network(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    bundle, alone = tmp_path / "bundle.zip", tmp_path / "verify.py"
    bundle.write_bytes(packed({**sealed.files, PHOTO: b"x"}))
    alone.write_bytes(sealed.files["data/verify.py"])
    said = set()
    for locale, zone in (("C", "UTC"), ("C.UTF-8", "Asia/Tokyo"), ("POSIX", "America/St_Johns")):
        environment = {"PATH": os.environ["PATH"], "LC_ALL": locale, "TZ": zone, "PYTHONHASHSEED": zone and str(len(zone))}
        done = subprocess.run([sys.executable, "-I", str(alone), str(bundle), "--key", sealed.key], capture_output=True, env=environment)
        said.add((done.returncode, done.stdout))
    assert len(said) == 1
    assert next(iter(said))[0] == 1


def test_no_socket_is_ever_opened(sealed: Sealed, receiver: Receiver, monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    def refused(*_given: object, **_more: object) -> None:
        raise AssertionError("a socket was opened")

    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(sealed.data)
    monkeypatch.setattr(socket.socket, "connect", refused)
    monkeypatch.setattr(socket, "getaddrinfo", refused)
    asked = receiving.Asked(key=receiver.key, head=receiver.head)
    assert receiving.verify_received(bundle, asked, quiet, receiver.folder).exit_code == 0


def test_row_32_a_newer_form_is_not_called_damaged(sealed: Sealed, receiver: Receiver) -> None:
    info = sealed.files["bag-info.txt"].replace(b"Evidence-Bundle-Format: 1", b"Evidence-Bundle-Format: 7")
    verdict = _told(receiver, resealed({**sealed.files, "bag-info.txt": info, "data/new/thing.bin": b"x"}, SHOP))
    assert (verdict.exit_code, verdict.faults) == (2, ())
    assert verdict.sentence == "could not check: the bundle is of format 7, this program knows 1"
    # The number alone, changed afterwards, is damage: the bundle's own list does not confirm it.
    assert _told(receiver, {**sealed.files, "bag-info.txt": info}).exit_code == 1


def test_the_same_verdict_for_any_number_of_threads(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    bundle = tmp_path / "bundle.zip"
    for files in (sealed.files, {**sealed.files, PHOTO: sealed.files[PAPER], "data/x": b"", "data/report.pdf": b"x"}):
        bundle.write_bytes(packed(files))
        said = {
            str(receiving.verify_received(bundle, receiving.Asked(threads=n, both=True), quiet, tmp_path).as_json()) for n in (1, 2, 8)
        }
        assert len(said) == 1


def test_row_20_a_bundle_that_changes_while_it_is_read_is_never_intact_by_mistake(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    """The verifier reads what is there; a file cut short under its hands is told and ends in no traceback."""
    bundle = tmp_path / "bundle.zip"
    bundle.write_bytes(sealed.data)

    def cut(stage: str, done: int, of: int) -> None:
        if done and bundle.stat().st_size == len(sealed.data):
            os.truncate(bundle, len(sealed.data) // 2)

    verdict = receiving.verify_received(bundle, receiving.Asked(threads=1), cut, tmp_path)
    assert verdict.exit_code == 1


def test_read_only_media(sealed: Sealed, receiver: Receiver, tmp_path: Path) -> None:
    """Nothing is written beside the data, and nothing needs to be."""
    place = tmp_path / "media"
    place.mkdir()
    (place / "bundle.zip").write_bytes(sealed.data)
    shutil.unpack_archive(place / "bundle.zip", place, "zip")
    before = sorted((str(p), p.stat().st_mtime_ns) for p in place.rglob("*"))
    for path in [*place.rglob("*"), place]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    for bundle in (place / "bundle.zip", place / "disclosure"):
        assert (receiver.installed(bundle), receiver.alone(bundle)) == (0, 0)
    assert sorted((str(p), p.stat().st_mtime_ns) for p in place.rglob("*")) == before

"""``evidence verify`` as the one who received a bundle meets it: words, exit codes, JSON; no workspace anywhere near."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from bag_kit import SHOP, ledger_of, packed, resealed, root_and_size, unpacked

from bundles import make_bundle, whole_bundle
from commands import evidence


@pytest.fixture(scope="module")
def bundle() -> Path:
    return whole_bundle()


def _verify(*words: object, code: int = 0) -> str:
    done = evidence("verify", *words, cwd="/")
    assert done.returncode == code, f"{done.returncode}\n{done.stdout}\n{done.stderr}"
    assert "Traceback" not in done.stderr
    return done.stdout + done.stderr


def test_what_is_shown_asserted_and_missing(bundle: Path, tmp_path: Path) -> None:
    said = _verify(bundle)
    assert said.splitlines()[0].endswith("wet footwell after a windscreen replacement: intact, signer and latest head not confirmed")
    headings = [line for line in said.splitlines() if line and not line.startswith(" ")]
    assert [h for h in headings if h.startswith("What is")] == ["What is shown", "What is asserted and not shown", "What is missing"]
    files = unpacked(bundle.read_bytes())
    root, size = root_and_size(files)
    fingerprint = json.loads(_verify(bundle, "--json"))["signer"]
    line = f"evidence-ledger/{ledger_of(files)} {size} {root}"
    (tmp_path / "head.txt").write_text(line.replace(" ", "\n") + "\n")
    in_fours = " ".join(fingerprint[n : n + 4] for n in range(0, 64, 4)).upper()
    for head in (line, tmp_path / "head.txt"):
        said = _verify(bundle, "--key", in_fours, "--head", head)
        assert said.splitlines()[0].endswith(": intact")


def test_damage_is_grouped_by_what_it_is_about(bundle: Path, tmp_path: Path) -> None:
    files = unpacked(bundle.read_bytes())
    files["data/originals/exhibit-0003.jpg"] = b"x"
    del files["data/originals/exhibit-0001.pdf"]
    files["data/evil\x1b.txt"] = b""
    (tmp_path / "damaged.zip").write_bytes(packed(files))
    said = _verify(tmp_path / "damaged.zip", code=1).splitlines()
    at = said.index("  exhibit 3 (data/originals/exhibit-0003.jpg)")
    assert said[at + 1].startswith("    is short: 1 bytes of ")
    assert "    is missing [B2]" in said
    assert not any("\x1b" in line for line in said)
    assert said[-1].startswith("Change nothing and keep the bundle as it is.")


def test_quick_says_what_it_did_not_read(bundle: Path, tmp_path: Path) -> None:
    said = _verify(bundle, "--quick")
    assert "contents of files not read, else intact, signer and latest head not confirmed" in said
    files = unpacked(bundle.read_bytes())
    payload = [name for name in files if name.startswith("data/")]
    assert f"NOT read: the contents of {len(payload)} files, " in said
    photo = files["data/originals/exhibit-0003.jpg"]
    files["data/originals/exhibit-0003.jpg"] = photo[:-1]
    (tmp_path / "short.zip").write_bytes(packed(files))
    assert "is short: " in _verify(tmp_path / "short.zip", "--quick", code=1)
    files["data/originals/exhibit-0003.jpg"] = photo[:-1] + b"?"
    (tmp_path / "same-size.zip").write_bytes(packed(files))
    _verify(tmp_path / "same-size.zip", "--quick")  # which is why it says that contents were not read
    _verify(tmp_path / "same-size.zip", code=1)


def test_what_was_withheld_is_counted_and_named(tmp_path: Path) -> None:
    bundle = make_bundle(tmp_path, records=("exhibit 3",), files=("exhibit 1",), text_stays=("exhibit 1",))
    found = json.loads(_verify(bundle, "--json"))
    assert (found["withheld"], found["withheld_files"]) == ({"Exhibit": 1}, ["Exhibit 1"])
    assert any(s.startswith("Withheld on purpose: the file of Exhibit 1; shown are the record") for s in found["missing"])
    assert any(s.startswith("Withheld on purpose: Exhibit 3") for s in found["missing"])
    assert found["findings"] == "agree"


@pytest.mark.parametrize("what", ["no such file", "a photo", "an empty folder", "nothing"])
def test_what_is_no_bundle_cannot_be_checked(bundle: Path, tmp_path: Path, what: str) -> None:
    place = tmp_path / "given"
    if what == "a photo":
        place.write_bytes(unpacked(bundle.read_bytes())["data/originals/exhibit-0003.jpg"])
    elif what == "an empty folder":
        place.mkdir()
    elif what == "nothing":
        place.write_bytes(b"")
    said = _verify(place, code=2)
    assert len(said.strip().splitlines()) <= 3


def test_unsigned_is_said(bundle: Path, tmp_path: Path) -> None:
    (tmp_path / "bare.zip").write_bytes(packed(resealed(unpacked(bundle.read_bytes()), None)))
    said = _verify(tmp_path / "bare.zip")
    assert "Signed by nobody that could be checked." in said
    assert "nobody's key sealed this bundle" in said
    assert "you named" in _verify(tmp_path / "bare.zip", "--key", SHOP.fingerprint, code=1)


@pytest.mark.parametrize("key", ["1234", "FINGERPRINT", "g" * 64, "0" * 63, "0" * 65, "0644 839c 57ab"])
def test_a_fingerprint_that_is_none_is_wrong_use_and_no_damage(bundle: Path, key: str) -> None:
    said = _verify(bundle, "--key", key, code=2)
    assert "--key: is no fingerprint: 64 of the digits 0-9 and a-f are wanted" in said
    assert "NOT INTACT" not in said


def test_another_fingerprint_is_told_with_both_and_with_what_to_do(bundle: Path) -> None:
    said = _verify(bundle, "--key", "ab" * 32, code=1)
    assert f"you named {'abab ' * 15}abab" in said
    assert "Hold the fingerprint and the head that you typed against what you were told, digit by digit." in said


def test_fingerprints_stand_in_groups_of_four_as_on_paper(bundle: Path) -> None:
    fingerprint = json.loads(_verify(bundle, "--json"))["signer"]
    said = _verify(bundle)
    assert f"Signed by key {' '.join(fingerprint[n : n + 4] for n in range(0, 64, 4))}." in said
    assert fingerprint not in said


def test_a_root_certificate_that_is_none_is_not_passed_over(bundle: Path, tmp_path: Path) -> None:
    assert "nowhere.pem: cannot be read: No such file" in _verify(bundle, "--root", tmp_path / "nowhere.pem", code=2)
    (tmp_path / "letter.pem").write_text("Dear Sir")
    assert "letter.pem: holds no certificate" in _verify(bundle, "--root", tmp_path / "letter.pem", code=2)


def test_a_zip_that_was_packed_anew_is_told_as_that(bundle: Path, tmp_path: Path) -> None:
    """Many programs pack what they send on; the sealed folder is still inside."""
    shutil.unpack_archive(bundle, tmp_path / "open", "zip")
    shutil.make_archive(str(tmp_path / "again"), "zip", tmp_path / "open")
    said = _verify(tmp_path / "again.zip", code=1)
    assert "Another program packed this zip anew. Unpack it and check the folder: that is what was sealed." in said
    assert "intact, signer and latest head not confirmed" in _verify(tmp_path / "open" / "disclosure")

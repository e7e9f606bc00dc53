"""Keys, heads and time-stamps by command, as the shop, a witness and somebody with two heads use them."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from evidence.cli.main import run
from evidence.edges.passphrase import remembered

from authority import TimeAuthority
from samples import RECORDS, small_folder


class Person:
    """Somebody at a command line, in a folder of his own. Runs in this process: a start costs more than the work."""

    def __init__(self, home: Path, capture: pytest.CaptureFixture[str], name: str, firm: str = "") -> None:
        self.folder = home / name.lower().replace(" ", "-")
        self.capture = capture
        self("workspace", self.folder, "--recorder", name, *(["--firm", firm] if firm else []))

    def __call__(self, *words: object, code: int = 0, **env: str) -> str:
        remembered.cache_clear()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sys, "argv", ["evidence", "--workspace", str(self.folder), *map(str, words)])
            for name, value in {"COLUMNS": "200", **env}.items():
                patch.setenv(name, value)
            with pytest.raises(SystemExit) as end:
                run()
        told = self.capture.readouterr()
        assert (end.value.code or 0) == code, f"{end.value.code}\n{told.out}\n{told.err}"
        return told.out + told.err


@pytest.fixture
def person(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Person]:
    monkeypatch.chdir(tmp_path)
    return lambda *names: Person(tmp_path, capsys, *names)


@pytest.fixture
def shop(person: Callable[..., Person]) -> Person:
    return person("Ann Teal", "Teal Motors")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_folder(tmp_path / "folder")


def test_the_whole_way_of_a_head(shop: Person, person: Callable[..., Person], folder: Path, tmp_path: Path) -> None:
    said = shop("intake", folder)
    assert f"head: {RECORDS} entries, signed by key " in said
    assert "The shop's key was made. Print its fingerprint" in said
    assert "The shop's key was made" not in shop("intake", folder)
    line, words = shop("heads", "line", "van", "-o", "head.txt").splitlines()[:2]
    assert re.fullmatch(r"evidence-ledger/[a-z2-7]{26} \d+ [A-Za-z0-9+/]{43}=", line)
    assert words.startswith("Please keep this message.")
    owner = person("Bo Finch")
    told = owner("heads", "witness", "head.txt", "-o", "reply.txt")
    fingerprint = told.split("by voice: ")[1].splitlines()[0]
    assert "countersigned by Bo Finch" in shop("heads", "accept", "reply.txt", "--key", fingerprint)
    assert "another key than you were told" in shop("heads", "accept", "reply.txt", "--key", "0000", code=2)
    shop("record", "event", "van", "--what", "tow", "--text", "towed", "--time", "2026-03-01", "--basis", "told")
    assert "have come since" in shop("heads", "compare", *line.split())  # typed without quotes
    assert "two histories" in shop("heads", "compare", line[:-4] + "AAA=", code=1)
    shop("heads", "line", "van", "-o", "later.txt")
    assert "nothing shows that the two belong together" in owner("heads", "witness", "later.txt", "-o", "reply2.txt", code=2)
    shop("heads", "proof", "van", "--from", "head.txt", "-o", "proof.json")
    assert json.loads((tmp_path / "proof.json").read_text())["kind"] == "consistency"
    assert "nothing before was changed" in owner("heads", "check", "proof.json", "--head", "head.txt", "--head", "later.txt")
    assert "FAULT it does not speak of the head" in owner("heads", "check", "proof.json", "--head", line[:-4] + "AAA=", code=1)
    owner("heads", "witness", "later.txt", "-o", "reply2.txt", "--proof", "proof.json")
    shown = shop("heads", "show", "van")
    assert "Bo Finch" in shown
    assert "None of them shows that the entries are true" in shown
    states = json.loads(shop("heads", "show", "van", "--json"))
    assert [bool(s["signed_by"]) for s in states] == [True, True]
    assert [w["name"] for w in states[0]["witnesses"]] == ["Bo Finch"]
    assert "Every hash is as recorded" in shop("recheck")


def test_a_locked_key_is_told_and_signs_at_the_next_chance(shop: Person, folder: Path) -> None:
    phrase = {"EVIDENCE_PASSPHRASE": "four words far apart"}
    assert "with a passphrase" in shop("keys", "make", **phrase)
    assert "NOT SIGNED: the key is locked and there was nobody to ask for its passphrase" in shop("intake", folder)
    assert "NOT SIGNED" in shop("heads", "show", "van")
    assert "is not signed" in shop("recheck")
    assert "stays unsigned" in shop("heads", "sign", "van", code=2)
    assert "does not open the key" in shop("heads", "sign", "van", code=2, EVIDENCE_PASSPHRASE="another sentence")
    assert "signed by key" in shop("heads", "sign", "van", **phrase)
    assert "NOT SIGNED" not in shop("heads", "show", "van")


def test_a_report_and_a_head_line_say_that_the_head_is_not_signed(shop: Person, folder: Path, tmp_path: Path) -> None:
    shop("keys", "make", EVIDENCE_PASSPHRASE="four words far apart")
    shop("intake", folder)
    why = "NOT SIGNED: the key is locked and there was nobody to ask for its passphrase"
    said = shop("report", "van", "-o", tmp_path / "r.pdf")
    assert f"The record's head is {why}" in said
    assert "The key that signs PDFs was made." in said
    assert "It has no passphrase; set one: 'evidence keys passphrase document'." in said
    assert f"The head is {why}" in shop("heads", "line", "van")
    assert "does not open the key" in shop("heads", "line", "van", EVIDENCE_PASSPHRASE="another sentence")
    again = shop("heads", "line", "van", EVIDENCE_PASSPHRASE="four words far apart")
    assert "NOT SIGNED" not in again + shop("report", "van", "-o", tmp_path / "r.pdf")


def test_the_key_of_pdfs_is_listed_locked_and_ended_by_command(shop: Person, folder: Path, tmp_path: Path) -> None:
    shop("intake", folder)
    shop("report", "van", "-o", tmp_path / "one.pdf")
    (document,) = [k for k in json.loads(shop("keys", "list", "--json")) if k["name"] == "document"]
    assert document["state"] == "open"
    assert document["fingerprint"][:4] in shop("keys", "list").split("signs PDFs")[1]
    phrase = "four words far apart"
    said = shop("keys", "passphrase", EVIDENCE_NEW_PASSPHRASE=phrase)
    assert "The key that signs PDFs has no passphrase yet: evidence keys passphrase document" in said
    shop("keys", "passphrase", "document", EVIDENCE_NEW_PASSPHRASE=phrase)
    assert "signs PDFs): in use, with a passphrase" in shop("keys", "list")
    assert "the next report makes another" in shop("keys", "rotate", "document", "--reason", "a new year", code=2)
    said = shop("keys", "revoke", "shop", "--reason", "the laptop was stolen", EVIDENCE_PASSPHRASE=phrase)
    assert "still signs. To end it too: evidence keys revoke document" in said
    shop("keys", "revoke", "document", "--reason", "the laptop was stolen", "--date", "2026-03-04")
    assert not (shop.folder / "keys" / "document.pem").exists()
    former = shop.folder / "keys" / "former"
    (statement,), (certificate,) = former.glob("document-*.revoked.txt"), former.glob("document-*.crt")
    assert document["fingerprint"] in statement.read_text()
    assert b"PRIVATE" not in certificate.read_bytes()
    assert "signed; SHA-256 of the certificate" in shop("report", "van", "-o", tmp_path / "two.pdf")
    (fresh,) = [k for k in json.loads(shop("keys", "list", "--json")) if k["name"] == "document"]
    assert fresh["fingerprint"] != document["fingerprint"]
    assert "there is no such key" in shop("keys", "revoke", "nobody", "--reason", "x", code=2)
    assert "Every hash is as recorded" in shop("recheck")


def test_time_stamps_by_command(shop: Person, folder: Path, tmp_path: Path) -> None:
    authority = TimeAuthority(tmp_path / "authority")
    shop("intake", folder)
    assert "which authority?" in shop("timestamp", "van", code=2)
    queued = shop("timestamp", "van", "--authority", "http://127.0.0.1:9/", code=3)
    assert re.search(r"^van, head of \d+ entries: QUEUED, http://127.0.0.1:9/: could not be reached", queued, re.MULTILINE)
    assert "ssl:" not in queued
    assert "waits for the authority" in shop("heads", "show", "van")
    with authority.serving() as url:
        settings = shop.folder / "settings.toml"
        settings.write_text(settings.read_text() + f'\nauthority = "{url}"\n')
        assert "authority not confirmed" in shop("timestamp", "van")
        said = shop("timestamp", "van", "--root", authority.folder / "root.pem")
    assert re.search(r"stamped before, \d{4}-\d\d-\d\d [\d:]{8} UTC ± 1500 ms by Test Time Authority\n", said)
    (state,) = json.loads(shop("heads", "show", "van", "--json"))
    assert [(t["valid"], t["chain_trusted"]) for t in state["time_stamps"]] == [(True, True)]
    assert "is not the address of an authority" in _with_authority(shop, "ftp://x")


def _with_authority(shop: Person, url: str) -> str:
    settings = shop.folder / "settings.toml"
    settings.write_text(re.sub(r'\nauthority = ".*"', f'\nauthority = "{url}"', settings.read_text()))
    return shop("dossiers", code=2)


def test_keys_by_command(shop: Person, tmp_path: Path) -> None:
    assert "No key yet" in shop("keys", "list")
    said = shop("keys", "make", "bo-finch", "--passphrase", code=2, EVIDENCE_NEW_PASSPHRASE="short")
    assert "too short" in said
    assert "The key was made and has no passphrase yet: evidence keys passphrase bo-finch" in said
    shop("keys", "revoke", "bo-finch", "--reason", "made for a test")
    shop("keys", "make")
    shop("keys", "make", "ann-teal")
    shop("keys", "export", "-o", "before")
    shop("keys", "rotate", "--reason", "a new year", "--date", "2026-03-04")
    (statement,) = (shop.folder / "keys" / "former").glob("*.replaced.note")
    told = shop("keys", "check", statement, "--key", "before/shop.pem")
    assert "Replaced as of 2026-03-04: a new year" in told
    known = json.loads(shop("keys", "list", "--json"))
    assert [(k["name"].split("-")[0], k["state"]) for k in known] == [("shop", "open"), ("ann", "open"), ("shop", "replaced"), ("bo", "revoked")]
    groups = " ".join(known[0]["fingerprint"][i : i + 4] for i in range(0, 64, 4))
    assert groups in told
    assert groups[:39] in shop("keys", "list")
    shop("keys", "export", "-o", "after")
    assert "was not signed by the key that you hold" in shop("keys", "check", statement, "--key", "after/shop.pem", code=2)
    assert (tmp_path / "after" / "fingerprint.txt").read_text().split() == groups.split()
    assert "Name a new folder" in shop("keys", "export", "-o", "after", code=2)
    shop("keys", "revoke", "--reason", "the laptop was stolen")
    (statement,) = (shop.folder / "keys" / "former").glob("shop-*.revoked.note")
    assert "Revoked by itself" in shop("keys", "check", statement, "--key", "after/shop.pem")
    assert "is no date" in shop("keys", "rotate", "ann-teal", "--reason", "x", "--date", "soon", code=2)
    assert "revoked on" in shop("keys", "list")


def test_nothing_secret_leaves_the_folder_of_keys(shop: Person, folder: Path, tmp_path: Path) -> None:
    """Neither the database nor a bundle, nor anything else in or made from the workspace, holds a private key."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    shop("intake", folder)
    shop("keys", "make", "ann-teal")
    shop("heads", "line", "van", "-o", "head.txt")
    shop("heads", "witness", "head.txt", "--as", "ann-teal", "-o", "reply.txt")
    shop("heads", "accept", "reply.txt")
    shop("keys", "export", "-o", "exported")
    shop("report", "van", "-o", "van.pdf")
    shop("disclose", "van", "-o", "van.zip")
    private = [f for f in (shop.folder / "keys").iterdir() if b"PRIVATE KEY" in f.read_bytes()]
    assert sorted(f.name for f in private) == ["ann-teal.key", "document.pem", "shop.key"]
    secrets = [b"PRIVATE KEY-----"]
    for file in private:
        raw = load_pem_private_key(file.read_bytes(), None)
        if isinstance(raw, Ed25519PrivateKey):
            secrets += [raw.private_bytes_raw(), raw.private_bytes_raw().hex().encode()]
        secrets.append(file.read_bytes().splitlines()[1])
    assert len(secrets) == 8
    others = [f for f in tmp_path.rglob("*") if f.is_file() and f not in private]
    assert len(others) > 20
    assert [(f, s) for f in others for s in secrets if s in f.read_bytes()] == []
    assert (tmp_path / "van.zip").stat().st_size > 1000

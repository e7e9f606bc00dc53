"""Time-stamps on heads: asked for, kept whole, queued where nobody answers, judged anew; what a recheck says of heads and keys."""

from __future__ import annotations

import datetime as dt
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from evidence.capture.sources import open_handed
from evidence.edges.keys import KeyFile
from evidence.edges.token import certificates_in
from evidence.errors import EvidenceError, ExtraMissing, KeyUnusable
from evidence.ports import Desk
from evidence.record.attested import Stamped, Waiting
from evidence.record.checkpoint import checkpoint_text, public_pem, sign_text
from evidence.record.head import ORIGIN, Head
from evidence.usecases.head_standing import ahead, standings
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.recheck import RecheckResult, recheck
from evidence.usecases.record import record_one
from evidence.usecases.timestamps import timestamp, tokens

from authority import DAY, NOW, TimeAuthority
from conftest import still_desk
from fakes import FixedClock, MemoryAuthority, MemoryShelf, MemorySigner, NoKeys, quiet
from samples import RECORDS, small_folder


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> TimeAuthority:
    return TimeAuthority(tmp_path_factory.mktemp("authority"))


@pytest.fixture
def folder(quick_path: Path) -> Path:
    return small_folder(quick_path / "folder")


def take_in(desk: Desk, folder: Path) -> Head:
    return intake_folder(desk, open_handed(folder), Answers(), quiet).head.head


def one_event(desk: Desk, text: str) -> None:
    record_one(desk, "van", "event", {"what": "tow", "text": text, "time": "2026-03-01", "basis": "told"})


def stamping(authority: TimeAuthority) -> MemoryAuthority:
    def answer(data: bytes) -> Stamped:
        token = authority.stamp(data)
        return Stamped(token, certificates_in(token))

    return MemoryAuthority("http://authority.example/", answer, [authority.root_pem])


@pytest.fixture
def shop(sqlite_workspace: Path) -> Iterator[Desk]:
    with still_desk(sqlite_workspace) as desk:
        yield replace(desk, shelf=MemoryShelf(), signer=MemorySigner(), keys=NoKeys(), authority=MemoryAuthority(), clock=FixedClock(NOW - DAY))


def test_a_stamp_is_got_over_loopback_kept_whole_and_openssl_agrees(sqlite_workspace: Path, folder: Path, authority: TimeAuthority) -> None:
    with still_desk(sqlite_workspace) as desk, authority.serving() as url:
        head = take_in(desk, folder)
        (done,) = timestamp(desk, "van", url)
        assert (done.state, done.head) == ("stamped", head)
        assert done.found is not None
        assert (done.found.valid, done.found.chain_trusted) == (True, False)  # whose root that is nobody has said yet
        assert desk.authority.trust(authority.root_pem) == 1
        (again,) = timestamp(desk, "van", url)
        assert (again.state, again.found and again.found.chain_trusted) == ("stamped before", True)
        asked = len(authority.asked)
        assert [r.state for r in timestamp(desk, "van", url, again=True)] == ["stamped"]
        assert len(authority.asked) == asked + 1
        assert len(tokens(desk, head)) == 2
        assert desk.authority.waiting() == []
    place = sqlite_workspace / "checkpoints" / head.ledger / str(head.size)
    assert sorted(p.name for p in place.glob("token*")) == ["token-1.pem", "token-1.tsr", "token-2.pem", "token-2.tsr"]
    for number in (1, 2):
        command = f"openssl ts -verify -data head.note -in token-{number}.tsr -CAfile token-{number}.pem"
        done_ = subprocess.run(command.split(), cwd=place, capture_output=True)
        assert b"Verification: OK" in done_.stdout + done_.stderr


def test_offline_the_wish_is_kept_and_sent_at_the_next_chance(shop: Desk, folder: Path, authority: TimeAuthority) -> None:
    first = take_in(shop, folder)
    (queued,) = timestamp(shop, "van", "http://authority.example/")
    assert (queued.state, queued.found) == ("queued", None)
    assert "could not be reached" in queued.problem
    assert standings(shop, "van")[0].queued
    assert shop.authority.waiting() == [Waiting(first, "http://authority.example/")]
    one_event(shop, "towed")
    online = replace(shop, authority=replace(stamping(authority), queue=shop.authority.queue, url=""))  # type: ignore[attr-defined]
    results = timestamp(online, "van", "http://authority.example/")
    assert [(r.state, r.head.size) for r in results] == [("stamped", first.size), ("stamped", first.size + 2)]
    assert online.authority.waiting() == []
    assert [len(s.stamps) for s in standings(online, "van")] == [1, 1]


def test_a_queued_head_needs_no_address_again_and_a_new_address_replaces_the_old(shop: Desk, folder: Path, authority: TimeAuthority) -> None:
    take_in(shop, folder)
    timestamp(shop, "van", "http://one.example/")
    timestamp(shop, "van", "http://two.example/")
    assert [w.url for w in shop.authority.waiting()] == ["http://two.example/"]
    online = replace(shop, authority=replace(stamping(authority), queue=shop.authority.queue, url=""))  # type: ignore[attr-defined]
    assert [r.state for r in timestamp(online, "van")] == ["stamped"]
    assert online.authority.asked == ["http://two.example/"]  # type: ignore[attr-defined]


def test_without_an_authority_or_a_signature_there_is_nothing_to_stamp(shop: Desk, folder: Path) -> None:
    take_in(shop, folder)
    with pytest.raises(EvidenceError, match="which authority") as err:
        timestamp(shop, "van")
    assert "evidence heads line" in err.value.advice
    one_event(shop, "towed")
    with pytest.raises(KeyUnusable, match="the head is not signed, so there is nothing to stamp"):
        timestamp(replace(shop, signer=MemorySigner(locked=True)), "van", "http://x.example/")


def test_the_stamp_shows_when_the_clock_here_ran_ahead(shop: Desk, folder: Path, authority: TimeAuthority) -> None:
    """Fault matrix, row 17: the authority's time beside the local one."""
    early = replace(shop, authority=stamping(authority))
    take_in(early, folder)
    timestamp(early, "van")
    (found,) = standings(early, "van")
    assert found.last_entry == NOW - DAY
    assert list(ahead(found)) == []
    late = replace(early, clock=FixedClock(NOW + 2 * DAY))
    one_event(late, "towed")
    timestamp(late, "van")
    (told,) = ahead(standings(late, "van")[-1])
    assert "the clock here ran ahead by at least that much" in told
    assert told in checked(late).ledgers[0].remarks


# ---- recheck ------------------------------------------------------------------------------------------------------


def checked(desk: Desk) -> RecheckResult:
    return recheck(desk, None, quiet)


def faults(desk: Desk) -> list[str]:
    result = checked(desk)
    return [str(f) for v in result.ledgers for f in v.faults] + [str(f) for f in result.faults]


def test_a_sealed_and_stamped_workspace_is_sound(shop: Desk, folder: Path, authority: TimeAuthority) -> None:
    desk = replace(shop, authority=stamping(authority))
    take_in(desk, folder)
    timestamp(desk, "van")
    assert faults(desk) == []
    assert "there are no keys in this workspace: whose key signed the heads is not confirmed" in checked(desk).ledgers[0].remarks


def test_k1_a_ledger_put_back_together_with_its_head_file(sqlite_workspace: Path, folder: Path, quick_path: Path) -> None:
    """Database and head file both put back: the head line agrees; the signed head that was kept does not (row 16)."""
    with still_desk(sqlite_workspace) as desk:
        take_in(desk, folder)
    old = shutil.copytree(sqlite_workspace, quick_path / "old")
    with still_desk(sqlite_workspace, 500) as desk:
        one_event(desk, "towed")
        kept = seal_head(desk, desk.ledgers.heads()[-1].ledger).head
    for name in ("record.sqlite", "heads.log"):
        shutil.copy(old / name, sqlite_workspace / name)
    with still_desk(sqlite_workspace, 900) as desk:
        assert faults(desk) == [f"K1 head of {kept.size} entries: rolled back: this head was kept, the ledger has {RECORDS} entries"]
        assert checked(desk).ledgers[0].head == "agrees with its newest head line"
        for text in ("another", "story"):
            one_event(desk, text)
        (told,) = faults(desk)
    assert told.startswith(f"K1 head of {kept.size} entries: two histories\n      kept: evidence-ledger/{kept.ledger} {kept.size} ")
    assert told.count(ORIGIN) == 2


def _resign(shelf: MemoryShelf, head: Head, signer: MemorySigner) -> None:
    text = checkpoint_text(head)
    signature = signer.sign(text.encode())
    assert signature
    note = sign_text(text, ORIGIN + head.ledger, signer.public(), lambda _text: signature)
    shelf.heads[head] |= {"head.sig": signature, "key.pem": public_pem(signer.public()), "head.note": note.to_bytes()}


def test_k2_k3_signatures(shop: Desk, folder: Path) -> None:
    from evidence.record.attested import KnownKey

    head = take_in(shop, folder)
    shelf = shop.shelf
    assert isinstance(shelf, MemoryShelf)
    own = NoKeys([KnownKey(name="shop", public=shop.signer.public(), state="open")])
    desk = replace(shop, keys=own)
    assert faults(desk) == []
    good = dict(shelf.heads[head])
    for name, data in good.items():
        shelf.heads[head] = {**good, name: data[:-3] + b"x\n\n" if name != "head.sig" else bytes(64)}
        assert [f.split(":")[0] for f in faults(desk)] == [f"K2 head of {RECORDS} entries"], name
        if name != "head.note":  # without its note a head counts as unsigned
            shelf.heads[head] = {n: d for n, d in good.items() if n != name}
            assert faults(desk) == [f"K2 head of {RECORDS} entries: {name} is missing beside the signed note"]
    shelf.heads[head] = dict(good)
    _resign(shelf, head, MemorySigner(9))  # a forger signs anew with a key of his own (row 14)
    (told,) = faults(desk)
    assert told.startswith(f"K3 head of {RECORDS} entries: signed by a key that is none of this workspace (")
    assert standings(desk, "van")[0].key is None


def test_a_head_signed_by_a_revoked_key_is_remarked(shop: Desk, folder: Path) -> None:
    from evidence.record.attested import KnownKey

    take_in(shop, folder)
    gone = KnownKey(name="shop-1", public=shop.signer.public(), state="revoked", ended=dt.date(2026, 3, 4), reason="stolen")
    desk = replace(shop, keys=NoKeys([gone]))
    assert faults(desk) == []
    assert any("a key that was revoked as of 2026-03-04 (stolen)" in r for r in checked(desk).ledgers[0].remarks)


def test_k4_k5_what_others_gave(shop: Desk, folder: Path, authority: TimeAuthority) -> None:
    desk = replace(shop, authority=stamping(authority))
    head = take_in(desk, folder)
    shelf = desk.shelf
    assert isinstance(shelf, MemoryShelf)
    shelf.heads[head]["token-1.tsr"] = authority.stamp(b"another head")
    shelf.heads[head]["witness-00.note"] = b"rubbish"
    assert faults(desk) == [
        f"K4 head of {RECORDS} entries: time-stamp token-1.tsr does not stand: it speaks of other data",
        f"K5 head of {RECORDS} entries: countersignature witness-00.note cannot be read: no signature lines after a blank line",
    ]


def test_k6_keys_open_to_others(sqlite_workspace: Path, folder: Path) -> None:
    with still_desk(sqlite_workspace) as desk:
        take_in(desk, folder)
        assert faults(desk) == []
        KeyFile(sqlite_workspace / "keys").private_file.chmod(0o644)
        (told,) = faults(desk)
    assert told.startswith("K6 keys: shop.key: others on this machine can read or change it (permissions 644); Run 'chmod 600 ")


def test_a_time_stamp_that_cannot_be_judged_here_is_said_to_be_unchecked(shop: Desk, folder: Path, authority: TimeAuthority) -> None:
    class Without(MemoryAuthority):
        def check(self, token: bytes, data: bytes) -> object:  # type: ignore[override]
            raise ExtraMissing("time-stamps need a library that is not installed", advice="Install it.")

    desk = replace(shop, authority=stamping(authority))
    take_in(desk, folder)
    timestamp(desk, "van")
    result = checked(replace(desk, authority=Without()))
    assert result.sound
    assert any("time-stamps were not checked" in r for r in result.ledgers[0].remarks)


def test_without_the_extra_there_is_a_clear_message(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    from evidence.edges.token import check_token

    monkeypatch.setitem(sys.modules, "pyhanko", None)
    with pytest.raises(ExtraMissing, match="time-stamps need a library that is not installed") as err:
        check_token(b"", b"", [])
    assert "comeback-evidence[seal]" in err.value.advice

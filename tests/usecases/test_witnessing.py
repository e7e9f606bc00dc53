"""Countersignatures by a second party, earlier heads held against the ledger, proofs for those who hold heads alone."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Self

import pytest
from evidence.capture.sources import open_handed
from evidence.errors import EvidenceError, HeadsContradict, KeyUnusable, NotFound
from evidence.ports import Desk
from evidence.record.attested import KnownKey
from evidence.record.checkpoint import Note, checkpoint_text, fingerprint, read_public_pem
from evidence.record.handed import HandedHead, line_of, read_handed
from evidence.record.head import Head
from evidence.usecases.earlier_heads import check_proof, compare, handed, prove
from evidence.usecases.head_standing import standings
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.record import record_one
from evidence.usecases.witnessing import accept, countersign

from fakes import FixedClock, MemoryAuthority, MemoryShelf, MemorySigner, NoKeys, quiet
from samples import RECORDS, small_folder


def one_event(desk: Desk, text: str) -> None:
    record_one(desk, "van", "event", {"what": "tow", "text": text, "time": "2026-03-01", "basis": "told"})


@pytest.fixture
def shop(desk: Desk, quick_path: Path) -> Desk:
    signer = MemorySigner(1)
    keys = NoKeys([KnownKey(name="shop", public=signer.public(), state="open")])
    desk = replace(desk, shelf=MemoryShelf(), signer=signer, keys=keys, authority=MemoryAuthority())
    intake_folder(desk, open_handed(small_folder(quick_path / "folder")), Answers(), quiet)
    return desk


class _Empty:
    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        pass

    def ledgers(self) -> list[str]:
        return []


@pytest.fixture
def owner(shop: Desk) -> Desk:
    """A workspace of its own, with none of the shop's ledgers."""

    class NoLedgers:
        reading = staticmethod(_Empty)

    return replace(
        shop, ledgers=NoLedgers(), shelf=MemoryShelf(), signer=MemorySigner(2), keys=NoKeys(),  # type: ignore[arg-type]
        recorder=replace(shop.recorder, full_name="Bo Finch", firm=""),
    )  # fmt: skip


def present(desk: Desk) -> HandedHead:
    """The shop's present head as it sends it."""
    with desk.ledgers.reading() as view:
        ledger = view.ledgers()[0]
    head = seal_head(desk, ledger).head
    note, key = (desk.shelf.read(head, name) for name in ("head.note", "key.pem"))
    return read_handed(HandedHead(head, Note.read(note), read_public_pem(key)).to_bytes())


def test_a_witness_countersigns_and_the_shop_keeps_it(shop: Desk, owner: Desk) -> None:
    done = countersign(owner, present(shop), owner.signer)
    assert (done.witness, done.fingerprint) == ("Bo Finch", fingerprint(owner.signer.public()))
    assert done.shop == fingerprint(shop.signer.public())
    taken = accept(shop, handed(done.reply, "reply"), key=" ".join([done.fingerprint[:4].upper(), done.fingerprint[4:8]]))
    assert (taken.witness, taken.at, taken.own) == ("Bo Finch", owner.clock.now(), False)
    (found,) = standings(shop, "van")
    assert [(w.name, w.fingerprint, w.own) for w in found.witnesses] == [("Bo Finch", done.fingerprint, False)]
    assert (found.faults, found.fingerprint) == ((), done.shop)
    later = replace(owner, clock=FixedClock(owner.clock.now().replace(year=2030)))
    assert countersign(later, present(shop), owner.signer).reply == done.reply  # said once, at one time
    assert accept(shop, handed(done.reply, "reply")) == taken


def test_a_key_of_the_shop_itself_is_no_second_party(shop: Desk, owner: Desk) -> None:
    done = countersign(shop, present(shop), shop.signer, who="ann-teal")
    assert done.witness == "ann-teal"
    assert accept(shop, handed(done.reply, "reply")).own


def test_another_key_than_the_one_told_is_refused(shop: Desk, owner: Desk) -> None:
    done = countersign(owner, present(shop), owner.signer)
    with pytest.raises(EvidenceError, match="was signed by another key than you were told"):
        accept(shop, handed(done.reply, "reply"), key="0000 1111")
    assert standings(shop, "van")[0].witnesses == ()


def test_a_countersignature_changed_on_its_way_is_refused(shop: Desk, owner: Desk) -> None:
    given = present(shop)
    reply = countersign(owner, given, owner.signer).reply
    assert given.note is not None
    changed = [
        given.to_bytes(),  # the shop's own note: no countersignature in it
        reply.partition(b"-----BEGIN")[0],
        reply.replace(f"\n{RECORDS}\n".encode(), f"\n{RECORDS - 1}\n".encode()),
        HandedHead(given.head, read_handed(reply).note, given.public).to_bytes(),  # another's key
    ]
    for data in changed:
        with pytest.raises(EvidenceError, match=r"holds no countersignature|the countersignature is not right"):
            accept(shop, handed(data, "reply"))
    assert standings(shop, "van")[0].witnesses == ()


def test_a_witness_signs_no_head_whose_signature_is_wrong(shop: Desk, owner: Desk) -> None:
    given = present(shop)
    with pytest.raises(EvidenceError, match="the signature is not right"):
        countersign(owner, replace(given, public=owner.signer.public()), owner.signer)
    assert countersign(owner, HandedHead(given.head), owner.signer).shop == ""  # a bare line: said to be unsigned
    with pytest.raises(KeyUnusable, match="the key is locked"):
        countersign(replace(owner, shelf=MemoryShelf()), given, MemorySigner(3, locked=True))


def test_a_witness_never_signs_two_histories(shop: Desk, owner: Desk) -> None:
    first = present(shop)
    countersign(owner, first, owner.signer)
    other = HandedHead(replace(first.head, root=bytes(32)))
    with pytest.raises(HeadsContradict, match=f"two histories at {RECORDS} entries") as err:
        countersign(owner, other, owner.signer)
    assert line_of(first.head) in err.value.message
    assert line_of(other.head) in err.value.message
    one_event(shop, "towed")
    second = present(shop)
    with pytest.raises(EvidenceError, match="nothing shows that the two belong together") as asked:
        countersign(owner, second, owner.signer)
    assert f"--from {RECORDS} --to {second.head.size}" in asked.value.advice
    proof = check_proof(prove(shop, "van", first.head))
    wrong = check_proof({**prove(shop, "van", first.head), "proof": []})
    with pytest.raises(EvidenceError, match="nothing shows"):
        countersign(owner, second, owner.signer, wrong)
    assert countersign(owner, second, owner.signer, proof).head == second.head


def test_an_earlier_head_is_compared_by_recomputing_the_beginning(shop: Desk) -> None:
    first = present(shop)
    one_event(shop, "towed")
    found = compare(shop, handed(line_of(first.head).encode(), "line"))
    assert (found.agreement, found.earlier, found.signed_by) == ("continues", first.head, "")
    assert found.present.size > found.earlier.size
    assert compare(shop, first).signed_by == fingerprint(shop.signer.public())
    forged = replace(first.head, root=bytes(32))
    assert compare(shop, HandedHead(forged)).agreement == "two_histories"
    longer = replace(first.head, size=1000)
    assert compare(shop, HandedHead(longer)).agreement == "rolled_back"
    with pytest.raises(NotFound, match="no dossier of this workspace has this ledger"):
        compare(shop, HandedHead(replace(first.head, ledger="z" * 26)))


def test_a_head_that_the_ledger_does_not_continue_is_not_accepted(shop: Desk, owner: Desk) -> None:
    head = replace(present(shop).head, root=bytes(32))
    reply = countersign(owner, HandedHead(head), owner.signer).reply
    with pytest.raises(HeadsContradict, match="two histories"):
        accept(shop, handed(reply, "reply"))


def test_a_proof_shows_that_one_head_is_the_beginning_of_another(shop: Desk) -> None:
    first = present(shop).head
    for text in ("one", "two", "three"):
        one_event(shop, text)
    last = present(shop).head
    for start in range(1, last.size + 1):
        value = json.loads(json.dumps(prove(shop, "van", start)))
        found = check_proof(value)
        assert (found.holds, found.earlier.size, found.later) == (True, start, last)
    value = prove(shop, "van", first, last.size)
    assert check_proof(value, (first, last)).holds
    strange = check_proof(value, (first, replace(last, root=bytes(32))))
    assert (strange.holds, strange.reasons) == (False, (f"it does not speak of the head of {last.size} entries that you hold",))
    for changed in (
        {**value, "proof": value["proof"][1:]},
        {**value, "proof": [*value["proof"], value["proof"][0]]},
        {**value, "from": {**value["from"], "root": value["to"]["root"]}},
    ):
        assert check_proof(changed).reasons == ("the proof does not lead from the one root to the other",)
    resized = {**value, "to": {**value["to"], "size": last.size + 1}}  # a root does not bind its size; the head held does
    assert not check_proof(resized, (first, last)).holds
    with pytest.raises(EvidenceError, match="that head is none of this ledger's"):
        prove(shop, "van", replace(first, root=bytes(32)))
    for start, end in ((0, None), (last.size + 1, None), (3, 2), (1, last.size + 5)):
        with pytest.raises(EvidenceError, match="there is nothing to prove"):
            prove(shop, "van", start, end)


@pytest.mark.parametrize(
    "value",
    [None, [], {}, {"kind": "consistency"}, {"kind": "consistency", "format": 1}, {"kind": "consistency", "format": 2},
     {"kind": "consistency", "format": 1, "ledger": 5, "from": {}, "to": {}, "proof": []},
     {"kind": "consistency", "format": 1, "ledger": "evidence-ledger/a", "from": {"size": "1", "root": ""}, "to": {"size": 1, "root": ""}, "proof": []},
     {"kind": "consistency", "format": 1, "ledger": "evidence-ledger/a", "from": {"size": 1, "root": "AA=="}, "to": {"size": 1, "root": "AA=="}, "proof": 5}],
)  # fmt: skip
def test_what_is_no_proof(value: object) -> None:
    with pytest.raises(ValueError):
        check_proof(value)  # type: ignore[arg-type]


def test_a_head_of_nothing_is_read_as_such() -> None:
    assert handed(checkpoint_text(Head("a" * 26, 0, bytes(32))).encode(), "x").head.size == 0
    with pytest.raises(EvidenceError, match="is no head: holds no head"):
        handed(b"hello", "x")

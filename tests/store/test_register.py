"""The register's book, on both databases: nothing is ever taken out, nothing is counted twice, dossiers are judged once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from hashlib import sha256
from pathlib import Path

import pytest
import sqlalchemy as sa
from evidence.bootstrap import _url
from evidence.capture.order_table import read_mapping, read_orders
from evidence.errors import Asked, EvidenceError, MistakesFound, NotFound
from evidence.register.batches import Batch, Content, body_of, comeback_in
from evidence.register.lines import Comeback
from evidence.store import database
from evidence.store.register_book import RegisterBook
from evidence.usecases.comebacks import counted, take_entry, take_table, withdraw_batch
from evidence.usecases.recheck import recheck
from evidence.usecases.record import amend_one, open_dossier, record_one
from hypothesis import given
from hypothesis import strategies as st

from conftest import still_desk
from fakes import quiet

MAPPING = b"""format: 1
currency: USD
columns: {number: Job, closed: Done, vehicle: Plate, operations: Work, technician: By, comeback_of: Redoes, cost: Cost}
"""
TABLE = "Job,Done,Plate,Work,By,Redoes,Cost\n1,2025-01-05,A1,gasket,Kim,,\n2,2025-01-20,A1,gasket,Kim,1,80\n3,2025-02-01,B2,clutch,Lee,,\n"
AS_OF = dt.date(2026, 6, 10)


def take(desk, text=TABLE, **more):
    raw, number = text.encode(), desk.book.next_number()
    read = read_orders(raw, "orders.csv", read_mapping(MAPPING, "m.yaml"), f"import {number}")
    batch = Batch(number=number, sort="table", made_at="", made_by="", file="orders.csv", left_out=len(read.mistakes))
    return take_table(desk, batch, Content(raw=raw, mapping=MAPPING, rows=read.rows), read.mistakes, **more)


def test_a_table_is_kept_whole_and_counted(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        batch = take(desk)
        assert (batch.number, batch.orders, batch.comebacks, batch.sha256) == (1, 3, 1, sha256(TABLE.encode()).hexdigest())
        kept = desk.book.content(1)
        assert (kept.raw, kept.mapping) == (TABLE.encode(), MAPPING)
        again = read_orders(kept.raw, "orders.csv", read_mapping(kept.mapping, "m.yaml"), "import 1")
        assert [r.order for r in again.rows] == desk.book.orders()
        assert [r.comeback for r in again.rows if r.comeback] == desk.book.comebacks()
        held = counted(desk, AS_OF, quiet).held
        assert (len(held.orders), held.tied[0].days, held.tied[0].cost) == (3, 15, 80)


def test_the_same_table_again_is_asked_about_and_another_one_goes_before_it(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        take(desk)
        with pytest.raises(Asked, match="imported already, as number 1"):
            take(desk)
        take(desk, TABLE.replace("clutch,Lee", "clutch,Kim"))
        held = counted(desk, AS_OF, quiet).held
        assert len(held.orders) == 3
        assert held.orders[2].technician == "Kim"
        withdraw_batch(desk, 2, "wrong export")
        assert counted(desk, AS_OF, quiet).held.orders[2].technician == "Lee"
        assert [(b.number, b.sort, b.withdrawn, b.reason) for b in desk.book.batches()] == [(1, "table", 0, ""), (2, "table", 3, ""), (3, "withdrawal", 0, "wrong export")]
        take(desk, TABLE.replace("clutch,Lee", "clutch,Kim"))


def test_broken_rows_are_told_and_nothing_is_lost(workspace: Path) -> None:
    broken = TABLE + "4,soon,C3,clutch,Lee,,\n"
    with still_desk(workspace) as desk:
        with pytest.raises(MistakesFound, match=r"orders.csv:5:1: 'Done': 'soon' is not a day"):
            take(desk, broken)
        assert desk.book.batches() == []
        batch = take(desk, broken, leave_out_broken=True)
        assert (batch.orders, batch.left_out) == (3, 1)
        assert desk.book.content(1).raw.decode() == broken
        with pytest.raises(EvidenceError, match="no order that can be read"):
            take(desk, TABLE.splitlines()[0] + "\n")


def test_an_entry_by_hand_in_one_step(workspace: Path) -> None:
    day = dt.date(2026, 2, 1).toordinal()
    entry = Comeback("", number="7", operations=("gasket",), worked=day, back=day + 9, cost=Decimal("12.50"), currency="USD", mechanism="leak")
    with still_desk(workspace) as desk:
        assert take_entry(desk, entry).number == 1
        assert desk.book.comebacks() == [entry._replace(source="entry 1")]
        for bad, told in (
            (entry._replace(back=day - 1), "lies before the day of the work"),
            (entry._replace(back=dt.date(2099, 1, 1).toordinal()), "lies after today"),
            (entry._replace(back=None), "is missing"),
            (entry._replace(worked_km=10, back_km=9), "is lower than when the vehicle left"),
            (entry._replace(recovered=Decimal(1)), "is of a claim on another firm"),
            (Comeback("", back=day), "nothing to count it by"),
        ):
            with pytest.raises(MistakesFound, match=told):
                take_entry(desk, bad)
        assert len(desk.book.batches()) == 1
        with pytest.raises(Asked):
            withdraw_batch(desk, 1, " ")
        withdraw_batch(desk, 1, "entered twice")
        with pytest.raises(EvidenceError, match="withdrawn already, by number 2"):
            withdraw_batch(desk, 1, "again")
        for number in (2, 9):
            with pytest.raises(NotFound):
                withdraw_batch(desk, number, "x")
        assert desk.book.comebacks() == []


def test_two_who_add_at_once_do_not_lose_each_other(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        read = read_orders(TABLE.encode(), "orders.csv", read_mapping(MAPPING, "m.yaml"), "import 1")
        take_entry(desk, Comeback(operations=("gasket",), back=dt.date(2026, 2, 1).toordinal()))
        late = Batch(number=1, sort="table", made_at="", made_by="", file="orders.csv")
        with pytest.raises(EvidenceError, match="somebody else added"):
            take_table(desk, late, Content(raw=TABLE.encode(), mapping=MAPPING, rows=read.rows), read.mistakes)
        assert [b.sort for b in desk.book.batches()] == ["entry"]


def test_what_fails_half_way_leaves_nothing(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        read = read_orders(TABLE.encode(), "orders.csv", read_mapping(MAPPING, "m.yaml"), "import 1")
        batch = Batch(number=1, sort="table", made_at="", made_by="")
        with pytest.raises(sa.exc.IntegrityError):
            desk.book.add(batch, Content(raw=b"x", rows=(*read.rows, read.rows[0])))  # the last row breaks a key
        assert (desk.book.batches(), desk.book.orders(), desk.book.comebacks()) == ([], [], [])
        assert take(desk).number == 1


def test_a_read_only_workspace_is_told_of_and_not_added_to(sqlite_workspace: Path) -> None:
    with still_desk(sqlite_workspace) as desk:
        open_dossier(desk, {"title": "Van", "name": "van"})
        closed = replace(desk, book=RegisterBook(desk.book._engine, "w", EvidenceError("the workspace is read-only")))
        assert [counted(closed, AS_OF, quiet).judged for _ in range(2)] == [1, 1]
        with pytest.raises(EvidenceError, match="read-only"):
            take(closed)


@pytest.mark.parametrize("deed", ["UPDATE register_batches SET reason = 'x'", "DELETE FROM register_batches", "INSERT OR REPLACE INTO register_batches SELECT * FROM register_batches", "TRUNCATE register_batches"])
def test_the_book_refuses_to_be_changed(workspace: Path, deed: str) -> None:
    with still_desk(workspace) as desk:
        take(desk)
    engine = database.open_engine(_url(workspace))
    only = {"TRUNCATE": "postgresql", "INSERT": "sqlite"}.get(deed.split(maxsplit=1)[0], engine.dialect.name)
    if engine.dialect.name != only:
        pytest.skip(f"{deed.split(maxsplit=1)[0]} is a word of {only}")
    with engine.connect() as db, pytest.raises(sa.exc.DBAPIError, match="the register is append-only"):
        db.execute(sa.text(deed))
    engine.dispose()


def test_a_dossier_is_counted_and_judged_only_when_it_changed(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        open_dossier(desk, {"title": "Van", "name": "van"})
        record_one(desk, "van", "party", {"full_name": "Kai Rook", "firm": "Vell Motors", "roles": ["prior_repairer"]})
        record_one(desk, "van", "vehicle", {"description": "a van", "plate": "11-bb 11"})
        assert (counted(desk, AS_OF, quiet).dossiers, counted(desk, AS_OF, quiet).silent) == (0, 1)
        order = {"side": "prior_repairer", "number": "R 7", "repairer": "party 2", "closed": "2026-03-05", "odometer_out": "100 mi", "operations": [{"text": "gasket"}], "parts": [{"text": "gasket", "origin": "other_new"}]}
        record_one(desk, "van", "work_order", order)
        record_one(desk, "van", "work_order", {"side": "present_repairer", "repairer": "party 1", "opened": "2026-03-25", "odometer_in": "300 km", "operations": [{"text": "diagnosis"}]})
        loss = {"head": "towing", "nature": "incidental", "text": "Tow", "amount": "95.00 USD", "status": "paid"}
        record_one(desk, "van", "loss_item", loss)
        record_one(desk, "van", "loss_item", {**loss, "head": "betterment", "nature": "deduction", "amount": "5.00 USD"})
        record_one(desk, "van", "outcome", {"result": "part_paid", "time": "2026-05-01", "amount": "40.00 USD"})
        first, second = counted(desk, AS_OF, quiet), counted(desk, AS_OF, quiet)
        assert (first.judged, second.judged, second.held) == (1, 0, first.held)
        (told,) = first.held.comebacks
        assert told == Comeback(
            "dossier van", firm="Vell Motors", number="R 7", vehicle="11BB11", technician="Kai Rook", operations=("gasket",), origins=("other_new",),
            worked=dt.date(2026, 3, 5).toordinal(), back=dt.date(2026, 3, 25).toordinal(), worked_km=160, back_km=300, cost=Decimal("90.00"), currency="USD", recovered=Decimal("40.00"), ended="part_paid",
        )  # fmt: skip
        amend_one(desk, "van", "loss_item 1", {"amount": "195.00 EUR"}, "misread")
        changed = counted(desk, AS_OF, quiet)
        assert (changed.judged, changed.held.comebacks[0].cost) == (1, None)
        amend_one(desk, "van", "dossier 1", {"demonstration": True}, "for show")
        assert counted(desk, AS_OF, quiet).demonstrations == 1
        assert counted(desk, AS_OF, quiet, demonstrations=True).dossiers == 1
        desk.ledgers.rebuild()
        assert counted(desk, AS_OF, quiet, demonstrations=True).judged == 1


def test_an_interruption_keeps_what_was_judged_and_the_next_time_goes_on(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        for n in range(5):
            open_dossier(desk, {"title": f"Van {n}", "name": f"van-{n}"})
        told: list[tuple[int, int]] = []

        def broken_off(_stage: str, done: int, of: int) -> None:
            told.append((done, of))
            if done == 3:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            counted(desk, AS_OF, broken_off)
        assert told == [(0, 5), (1, 5), (2, 5), (3, 5)]
        told.clear()
        assert counted(desk, AS_OF, lambda _stage, done, of: told.append((done, of))).judged == 2
        assert told == [(0, 2), (1, 2), (2, 2)]
        assert counted(desk, AS_OF, quiet).judged == 0


def test_what_was_judged_is_kept_while_it_goes_on(workspace: Path, monkeypatch) -> None:
    """A killed process has no chance to keep anything at its end."""
    monkeypatch.setattr("evidence.usecases.comebacks.MOST_WAITING", 2)
    with still_desk(workspace) as desk:
        for n in range(5):
            open_dossier(desk, {"title": f"Van {n}", "name": f"van-{n}"})
        seen: list[int] = []
        counted(desk, AS_OF, lambda *_: seen.append(len(desk.book.said(desk.judged_by()))))
        assert seen == [0, 0, 2, 2, 4, 5]


def altered(workspace: Path, *statements: str) -> None:
    engine = database.open_engine(_url(workspace))
    with engine.begin() as db:
        for statement in statements:
            db.execute(sa.text(statement))
    engine.dispose()


def book_faults(desk) -> list[str]:
    return [str(f) for f in recheck(desk, None, quiet).faults]


def test_a_sound_book_is_told_by_recheck(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        assert recheck(desk, None, quiet).remarks == ()
        take(desk, TABLE.replace("Kim", "Zoë"))
        take_entry(desk, Comeback(back=dt.date(2026, 2, 1).toordinal(), operations=("gasket",)))
        withdraw_batch(desk, 1, "wrong")
        result = recheck(desk, None, quiet)
        assert result.sound
        assert result.remarks == ("register of comebacks: 3 things handed in, with the bytes and rows of then",)


@pytest.mark.parametrize(
    ("statement", "fault"),
    [
        ("UPDATE register_orders SET technician = 'Lee' WHERE line = 2", "B3 register 1 (orders.csv): orders or comebacks in the lists are not those that its bytes give"),
        ("DELETE FROM register_orders WHERE line = 4", "B3 register 1 (orders.csv): orders or comebacks"),
        ("UPDATE register_comebacks SET body = replace(body, '80', '8') WHERE batch = 1", "B3 register 1 (orders.csv)"),
        ("DELETE FROM register_comebacks WHERE batch = 2", "B3 register 2: orders or comebacks"),
    ],
)
def test_a_changed_list_of_the_register_is_found(workspace: Path, statement: str, fault: str) -> None:
    with still_desk(workspace) as desk:
        take(desk)
        take_entry(desk, Comeback(back=dt.date(2026, 2, 1).toordinal(), operations=("gasket",)))
        altered(workspace, statement)
        (told,) = book_faults(desk)
        assert told.startswith(fault)


def test_bytes_that_were_changed_behind_the_triggers_are_found(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        take(desk)
        take_entry(desk, Comeback(back=dt.date(2026, 2, 1).toordinal(), operations=("gasket",)))
        withdraw_batch(desk, 1, "wrong")
        untriggered(workspace, "UPDATE register_batches SET sha256 = 'x' WHERE number = 1", "DELETE FROM register_batches WHERE number = 2", "UPDATE register_batches SET of = 7 WHERE number = 3")
        told = book_faults(desk)
        assert [t[:15] for t in told] == ["B2 register's b", "B2 register 3: ", "B1 register 1 ("]
        assert "number 2 is gone" in told[0]


def untriggered(workspace: Path, *statements: str) -> None:
    """As somebody does who may do anything to the database."""
    url = _url(workspace)
    if url.startswith("sqlite"):
        names = sa.text("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'register_batches'")
        engine = database.open_engine(url)
        with engine.begin() as db:
            found = list(db.execute(names).scalars())
        engine.dispose()
        altered(workspace, *(f"DROP TRIGGER {name}" for name in found), *statements)
    else:
        altered(workspace, "ALTER TABLE register_batches DISABLE TRIGGER USER", *statements)


def test_how_a_dossier_ended_is_what_an_outcome_or_a_step_says(workspace: Path) -> None:
    with still_desk(workspace) as desk:

        def ended() -> str:
            return counted(desk, AS_OF, quiet).held.comebacks[0].ended

        open_dossier(desk, {"title": "Van", "name": "van"})
        record_one(desk, "van", "party", {"full_name": "Vell Motors", "roles": ["prior_repairer"]})
        record_one(desk, "van", "work_order", {"side": "prior_repairer", "repairer": "party 2", "closed": "2026-03-05", "operations": [{"text": "gasket"}]})
        assert ended() == ""
        record_one(desk, "van", "outcome", {"result": "judgment", "time": "2026-05-01", "amount": "40.00 USD"})
        assert ended() == "judgment"
        skips = [f"{s}: not needed" for s in ("intake", "undisturbed_record", "diagnosis", "notice", "inspection", "estimate")]
        record_one(desk, "van", "course_step", {"stage": "closed", "time": "2026-05-20", "by": "party 1", "skips": skips})
        assert ended() == "closed"
        record_one(desk, "van", "outcome", {"result": "paid", "time": "2026-05-21", "amount": "40.00 USD"})
        assert ended() == "paid"


def test_own_work_is_known_by_the_firm_of_the_settings(workspace: Path) -> None:
    with still_desk(workspace) as desk:
        own = replace(desk, recorder=replace(desk.recorder, firm="Vell  motors"))
        open_dossier(desk, {"title": "Van", "name": "van"})
        record_one(desk, "van", "party", {"full_name": "Kai Rook", "firm": "Vell Motors", "roles": ["prior_repairer"]})
        record_one(desk, "van", "work_order", {"side": "prior_repairer", "repairer": "party 2", "closed": "2026-03-05", "operations": [{"text": "gasket"}]})
        (told,) = counted(own, AS_OF, quiet).held.comebacks
        assert (told.own, told.technician) == (True, "Kai Rook")


COMEBACKS = st.builds(
    Comeback, source=st.text(max_size=9), firm=st.text(max_size=9), operations=st.lists(st.text(min_size=1, max_size=5), max_size=3).map(tuple), back=st.none() | st.integers(1, 3_000_000),
    cost=st.none() | st.decimals(0, 10**9, places=2), ended=st.sampled_from(["", "paid"]), recovered=st.none() | st.decimals(0, 10**9, places=3),
)  # fmt: skip


@given(COMEBACKS)
def test_what_is_kept_of_a_comeback_is_read_back_as_it_was(comeback: Comeback) -> None:
    assert comeback_in(body_of(comeback)) == comeback


@pytest.mark.parametrize("name", ["van-no-start", "seized-engine", "wet-footwell"])
def test_a_dossier_says_the_same_with_and_without_its_firmness(tmp_path: Path, name: str) -> None:
    from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
    from evidence.capture.sources import open_handed
    from evidence.usecases.assess import assess_held
    from evidence.usecases.dossier_comeback import comeback_of
    from evidence.usecases.intake import Answers, intake_folder
    from evidence.usecases.pen import need, read_dossier

    make_workspace(tmp_path / "w", recorder="Ann Rook")
    with open_desk(tmp_path / "w") as desk:
        intake_folder(desk, open_handed(demo_dossiers()[name]), Answers(), quiet)
        with desk.ledgers.reading() as view:
            held = read_dossier(view, need(view, name))
        whole, short = (comeback_of(held, assess_held(desk, held, firmness=f), "") for f in (True, False))
    assert whole == short
    assert whole is not None
    assert whole.mechanism == ("ign-coil-ground-left-off" if name == "van-no-start" else "")

"""Each demonstration dossier is well written: every record valid, every reference and file there, sums right."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from evidence.capture.marked_yaml import load_marked
from evidence.capture.packs import load_vocabulary
from evidence.claim.loss.deductions import Entry
from evidence.claim.loss.money import Rounding
from evidence.claim.loss.offers import stated
from evidence.claim.loss.sums import Sums
from evidence.model.examination import Observation
from evidence.model.happening import DossierOpening
from evidence.model.kinds import SECTIONS
from evidence.model.loss import LossItem
from evidence.model.repair import WorkOrder

HOME = Path(__file__).resolve().parents[3] / "demo_dossiers"
DOSSIERS = ("van-no-start", "seized-engine", "wet-footwell")
HEAD = {"format", "dossier", "recorder"}


@pytest.fixture(scope="session")
def vocabulary():
    return load_vocabulary()


@pytest.fixture(params=DOSSIERS)
def raw(request):
    text = (HOME / request.param / "dossier.yaml").read_text("utf-8")
    return HOME / request.param, load_marked(text, "dossier.yaml").data


def _records(raw, vocabulary):
    known = {item["name"]: SECTIONS[key].kind for key, items in raw.items() if key in SECTIONS for item in items}

    def resolve(name, kinds):
        if known.get(name) not in (kinds or known.values()):
            raise ValueError(f"{name!r} is {known.get(name)}, not one of {kinds}")
        return name

    context = {
        "zone": raw["zone"], "resolve": resolve, "component": vocabulary.component,
        "operation": vocabulary.operation, "complaint": vocabulary.complaint,
    }  # fmt: skip
    opening = {k: v for k, v in raw.items() if k not in SECTIONS and k not in HEAD}
    yield DossierOpening.handed_in(opening, context)
    for key, items in raw.items():
        for item in items if key in SECTIONS else ():
            yield SECTIONS[key].handed_in({k: v for k, v in item.items() if k != "file"}, context)


def test_every_record_is_valid_and_marked_as_demonstration(raw, vocabulary):
    _, data = raw
    records = list(_records(data, vocabulary))
    assert records[0].demonstration is True
    for record in records:
        if isinstance(record, Observation):
            assert vocabulary.aspect_word(record.aspect, record.seen) == record.seen


def test_names_are_unique_and_every_file_is_put_forward_once(raw):
    folder, data = raw
    names = [item["name"] for key, items in data.items() if key in SECTIONS for item in items]
    assert len(names) == len(set(names))
    put_forward = sorted(item["file"] for item in data["exhibits"] if "file" in item)
    there = sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file() and p.name != "dossier.yaml")
    assert put_forward == there


def test_work_orders_add_up(raw, vocabulary):
    _, data = raw
    for order in _records(data, vocabulary):
        if isinstance(order, WorkOrder) and order.total:
            lines = sum((line.amount.number for line in (*order.operations, *order.parts) if line.amount), Decimal(0))
            deposit = Decimal("60.00") if order.number == "TVD-1907" else Decimal(0)  # refundable core, untaxed
            assert lines + (order.tax.number if order.tax else 0) + deposit == order.total.number, order.number


@pytest.mark.parametrize(("dossier", "total"), [("van-no-start", "2040.80"), ("seized-engine", "6000.40")])
def test_loss_lines_add_up_to_the_papers(dossier, total, vocabulary):
    data = load_marked((HOME / dossier / "dossier.yaml").read_text("utf-8"), "dossier.yaml").data
    items = [record for record in _records(data, vocabulary) if isinstance(record, LossItem) and record.claimed is not False]
    entries = tuple(Entry(item.name, item, Rounding(2)(stated(item))) for item in items)
    assert Sums(entries, "claimed", Rounding(2)).total == Decimal(total)

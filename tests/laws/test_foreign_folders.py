"""Whatever a dossier folder holds, the answer is a dossier or mistakes in words; never another exception."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from evidence.capture.marked_yaml import load_marked
from evidence.errors import EvidenceError
from evidence.model.happening import DossierOpening
from evidence.model.kinds import KINDS, SECTIONS
from evidence.ports import Desk
from evidence.usecases.handed_in import names_in, read_folder
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from conftest import still_desk
from fakes import CountingIds, MemoryFolder, MemoryOriginals, MemoryShelf, MemorySigner, NoKeys, small_vocabulary

WORDS = st.sampled_from(
    ["", "x", "tech", "van", "1", "-1", "0.240", "1e5", "3,10", "12.60 V", "-5 km", "9" * 60 + " km", "840.00 EUR", "> 0.2 V", "1 .. 2 psi",
     "2026-03-02", "2026-03-02 14:30", "0001-01-01", "0001-01-01 00:00", "9999-12-31", "9999-12", "9999-12-31T23:59:59Z",
     "0001-01-01T00:00:00+14:00", "2026-03-29 01:30 / 2026-03-29 01:30", "0000-00-00", "Europe/Lisbon", "Europe", "../../etc/passwd",
     "UTC", "\0", "x\0y", "\ud800", "\u202e", "a" * 600, "yes", "no", "P0351", "1M8GDM9AXKP042788", "1M8GDM9A1KP042788",
     "coil-ground", "voltage_drop", "V", "key-on", "__class__", "{}", "[", "٣", "Ⅷ", "²", "１２ V", "1" * 5000, "photo.jpg", "file:///etc/passwd"]
)  # fmt: skip
FIELDS = st.sampled_from(sorted({f for cls in KINDS.values() for f in cls.model_fields} | {"value", "unit", "given", "earliest", "latest", "x", "", "é"}))
scalars = WORDS | st.text(max_size=12)
data: st.SearchStrategy[Any] = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(FIELDS | st.text(max_size=5), inner, max_size=5), max_leaves=12
)


def records(cls: type) -> st.SearchStrategy[dict[str, Any]]:
    """Something like a record of ``cls``: its own fields, with anything in them."""
    return st.dictionaries(st.sampled_from([*cls.model_fields, "file"]), data, max_size=9).flatmap(  # type: ignore[attr-defined]
        lambda fields: st.just(fields) | WORDS.map(lambda name: {**fields, "name": name})
    )


sections = st.sampled_from(list(SECTIONS)).flatmap(
    lambda name: st.tuples(st.just(name), st.lists(records(SECTIONS[name]), max_size=3) | data)
)
tops = st.dictionaries(st.sampled_from(["format", "dossier", "recorder", *DossierOpening.model_fields]), data, max_size=5)
folders = st.builds(lambda top, parts: {**top, **dict(parts)}, tops, st.lists(sections, max_size=5))
DESK = Desk(
    ledgers=None, originals=MemoryOriginals(), read_facts=None, previews=None, likeness=None, read_marks=None, read_trace=None, copier=None, clock=None, ids=CountingIds(), recorder=None, zone="UTC",  # type: ignore[arg-type]
    vocabulary=small_vocabulary, packs=tuple, signer=MemorySigner(), shelf=MemoryShelf(),
    keys=NoKeys(), authority=None, book=None,  # type: ignore[arg-type]
)  # fmt: skip


def told(folder: dict[str, Any]) -> list[str]:
    try:
        found = read_folder(DESK, MemoryFolder(folder), {key: f"{n:032x}" for n, key in enumerate(names_in(folder))})
    except EvidenceError as err:
        return _in_words(err)
    for stated in found.records:
        stated.record.body()
        assert stated.record.summary().strip()
    return []


def _in_words(err: EvidenceError) -> list[str]:
    assert str(err).strip()
    return [str(m) for m in getattr(err, "mistakes", [])]


@settings(max_examples=250, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large])
@example({"dossier": "d", "title": "t", "zone": "../../etc/passwd"})
@example({"dossier": "d", "title": "t", "events": [{"name": "e", "what": "tow", "text": "x", "basis": "told", "time": "0001-01-01"}]})
@example({"dossier": "d", "title": "t", "events": [{"name": "e", "what": "tow", "text": "x", "basis": "told", "time": "9999-12-31T23:59:59-12:00"}]})
@given(folders)
def test_any_data_is_a_dossier_or_mistakes(folder: dict[str, Any]) -> None:
    told(folder)


@pytest.mark.campaign
@settings(max_examples=20_000, suppress_health_check=list(HealthCheck))
@given(folders)
def test_any_data_is_a_dossier_or_mistakes_at_length(folder: dict[str, Any]) -> None:
    told(folder)


@settings(max_examples=150)
@given(st.text(max_size=200) | st.lists(st.sampled_from(["a: b\n", "- ", "  ", "{", "}", "[", "]", "\n", "'", '"', "&a ", "*a", "!t ", "|", ">", "%", "---\n", ": ", "#", "? ", "\t"]), max_size=30).map("".join))  # fmt: skip
def test_any_text_is_data_or_mistakes(text: str) -> None:
    try:
        loaded = load_marked(text, "dossier.yaml")
    except EvidenceError:
        return
    told(loaded.data)


@pytest.mark.parametrize("name", ["x\0y", "\ud800", "a" * 5000, "%", "van", "", "\u202e"])
@pytest.mark.parametrize("where", ["dossier", "recorder", "name", "file", "zone"])
def test_a_whole_intake_with_a_hostile_word(workspace: Path, name: str, where: str) -> None:
    from evidence.usecases.intake import Answers, intake_folder

    from fakes import quiet

    folder: dict[str, Any] = {"dossier": "van", "title": "A van", "parties": [{"name": "tech", "full_name": "T"}]}
    if where == "name":
        folder["parties"][0]["name"] = name
    elif where == "file":
        folder["exhibits"] = [{"name": "e", "file": name}]
    else:
        folder[where] = name
    with still_desk(workspace) as desk:
        try:
            intake_folder(replace(desk, originals=MemoryOriginals()), MemoryFolder(folder, Path("/nonexistent")), Answers(), quiet)
        except EvidenceError as err:
            _in_words(err)


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _strings(inner)


@given(records(SECTIONS["events"]))
def test_what_is_taken_holds_no_control_character(raw: dict[str, Any]) -> None:
    try:
        record = SECTIONS["events"].handed_in(raw, {})
    except ValueError:
        return
    for text in _strings(record.body()):
        assert not any(ord(c) < 32 and c not in "\n\t" for c in text)
        assert not any("\ud800" <= c <= "\udfff" for c in text)

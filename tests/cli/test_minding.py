"""Mistakes and the second ledger as a person meets them on the command line."""

import json

import pytest

from commands import evidence


@pytest.fixture
def shop(tmp_path):
    def run(*words, code=0):
        done = evidence("--workspace", tmp_path / "shop", *words, cwd=tmp_path)
        assert done.returncode == code, f"{done.returncode}\n{done.stdout}\n{done.stderr}"
        return done

    run("workspace", str(tmp_path / "shop"), "--recorder", "Ana Test", "--zone", "Europe/Lisbon")
    run("record", "dossier", "--name", "first", "--title", "A first matter", "--zone", "Europe/Lisbon")
    return run


def test_the_catalogue_and_what_a_record_shows(shop):
    assert "Put right before it was on record" in " ".join(shop("mistakes").stdout.split())
    step = (
        "record",
        "intervention",
        "first",
        "--action",
        "codes_cleared",
        "--components",
        "engine-control-module",
        "--by",
        "party 1",
    )
    refused = shop(*step, "--time", "2026-05-06 09:00", code=2)
    assert "no read-out from before is stored" in refused.stderr
    assert "--despite 'codes_cleared: REASON'" in " ".join(refused.stderr.split())
    done = shop(*step, "--time", "2026-05-06 09:00", "--despite", "codes_cleared: the owner had unplugged the battery")
    assert "Recorded all the same: the owner had unplugged the battery" in done.stderr + done.stdout
    told = shop("mistakes", "first").stdout
    assert "reason given: the owner had unplugged the battery" in told
    found = json.loads(shop("mistakes", "first", "--json").stdout)
    assert {m["mistake"] for m in found["made"]} == {"codes_cleared", "no_odometer"}


def test_talks_and_lessons(shop):
    shop(
        "talk",
        "first",
        "--text",
        "half",
        "--by",
        "Old Mill",
        "--time",
        "2026-06-20",
        "--what",
        "offer",
        "--amount",
        "420.00 EUR",
    )
    assert "420.00 EUR" in shop("talk", "first").stdout
    shop("lesson", "first", "--stage", "intake", "--missing", "odometer photo")
    assert "odometer photo" in shop("lesson").stdout
    assert "withdrawn" in shop("talk", "first", "--withdraw", "1", "--reason", "was never said").stdout
    assert "(withdrawn)" in shop("talk", "first").stdout
    assert "noted in one dossier" in shop("lesson", "--stage", "intake", code=2).stderr
    assert (
        "not one of the words"
        in shop("talk", "first", "--text", "x", "--by", "y", "--time", "2026-06-20", "--what", "bribe", code=2).stderr
    )


def test_signing_covers_the_second_ledger_and_recheck_holds_it_to_that(shop, tmp_path):
    assert "second ledger" not in shop("heads", "sign", "first").stdout
    shop("talk", "first", "--text", "half of it", "--time", "2026-05-01 10:00", "--by", "Quill")
    first, second = shop("heads", "sign", "first").stdout.splitlines()
    assert first.startswith("head: 2 entries, signed by key ")
    assert second.startswith("second ledger, head: 2 entries, signed by key ")
    assert "under no signed head" not in shop("recheck", "first").stdout
    shop("talk", "first", "--text", "two thirds", "--time", "2026-05-02 10:00", "--by", "Quill")
    assert "the newest entry is under no signed head yet" in shop("recheck").stdout
    import sqlite3

    with sqlite3.connect(tmp_path / "shop" / "record.sqlite") as db:  # rolled back, as somebody does who may do anything
        for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'entries'").fetchall():
            db.execute(f"DROP TRIGGER {name}")
        db.execute("DELETE FROM entries WHERE ledger LIKE '%-aside' AND seq > 1")
    told = shop("recheck", "first", code=1).stdout
    assert "FAULT K1" in told
    assert "rolled back" in told

"""Place files: what a person looked up, with its age; wrong, unknown and old entries are told."""

import datetime as dt

import pytest
from evidence.bootstrap import demo_dossiers
from evidence.capture.place_files import EMPTY, new_place, place_of, read_place
from evidence.errors import EvidenceError, MistakesFound, NotFound

TODAY = dt.date(2026, 11, 25)
GOOD = """\
format: 1
name: Vale
small_claims_ceiling: {amount: 3000.00 EUR, source: "Act, section 4", on: 2026-06-02}
tax: {rate: 20, source: table, on: 2024-06-02}
holidays: {country: US, subdivision: CA, source: library, on: 2026-06-02}
"""


def written(folder, text):
    (folder / "places").mkdir(exist_ok=True)
    file = folder / "places" / "vale.yaml"
    file.write_text(text, "utf-8")
    return file


def test_entries_carry_source_and_age(tmp_path):
    place = read_place(written(tmp_path, GOOD))
    assert place.small_claims_ceiling.age_words(TODAY) == "Act, section 4 (looked up 2026-06-02, 5 months ago)"
    assert place.stale(TODAY) == ("tax: table (looked up 2024-06-02, 29 months ago); look it up again before relying on it",)
    # US federal holidays observed (5 U.S.C. 6103), by the library: 2021-07-04 was a Sunday.
    assert {dt.date(2021, 7, 5), dt.date(2021, 12, 31)} <= place.free_days(2021, 2021)


@pytest.mark.parametrize(
    ("wrong", "where", "words"),
    [
        (GOOD.replace("rate: 20", "rate: 120"), (4, 13), "not between 0 and 100"),
        (GOOD.replace("country: US", "country: QQ"), (5, 1), "no calendar is known"),
        (GOOD.replace("subdivision: CA", "subdivision: XX"), (5, 1), "no subdivision 'XX'"),
        (GOOD.replace("limitation", "x") + "limitaton: {text: two years, source: Act, on: 2026-01-01}\n", (6, 1), "limitation"),
        (GOOD.replace(', on: 2026-06-02}\ntax', '}\ntax'), (3, 1), "on"),
        (GOOD.replace("3000.00 EUR", "3000 euros please"), (3, 24), "amount and a currency"),
        (GOOD.replace("on: 2024-06-02", "on: someday"), (4, 37), "'someday' is not a day (write it such as 2026-06-30)"),
        (GOOD.replace("3000.00 EUR", "-5.00 EUR"), (3, 24), "-5.00 EUR is no ceiling"),
        (GOOD.replace("3000.00 EUR", "0.00 EUR"), (3, 24), "0.00 EUR is no ceiling"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_place(tmp_path, wrong, where, words):
    with pytest.raises(MistakesFound) as err:
        read_place(written(tmp_path, wrong))
    (mistake,) = err.value.mistakes
    assert (mistake.line, words in str(mistake)) == (where[0], True), str(mistake)


def test_a_day_still_to_come_is_told(tmp_path):
    place = read_place(written(tmp_path, GOOD.replace("2024-06-02", "2027-06-02")))
    assert place.stale(TODAY) == ("tax: looked up on 2027-06-02, which is still to come; mend the date",)


def test_an_unknown_place_names_the_nearest(tmp_path):
    written(tmp_path, GOOD)
    with pytest.raises(NotFound, match="vale"):
        place_of(tmp_path, "valle")
    with pytest.raises(EvidenceError, match="small letters"):
        place_of(tmp_path, "../vale")


def test_a_new_place_is_empty_and_reads(tmp_path):
    file = new_place(tmp_path, "vale")
    assert read_place(file).entries == ()
    assert EMPTY.format(name="vale") == file.read_text("utf-8")
    with pytest.raises(EvidenceError, match="there already"):
        new_place(tmp_path, "vale")


def test_the_place_of_the_demonstration_reads_and_says_that_it_is_invented():
    folder = next(iter(demo_dossiers().values())).parent
    place = read_place(folder / "places" / "vellbridge.yaml")
    assert place.fictional
    assert len(place.entries) == 6
    assert all("invented" in entry.source for _, entry in place.entries)

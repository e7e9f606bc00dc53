"""Signs: what times in files say against each other, and that a quiet dossier is told nothing of."""

import datetime as dt
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from evidence.timeline.clock_signs import signs
from evidence.timeline.clock_words import OFFSETS, gains_or_loses, length, offset_words, slow_or_fast, zone_of
from evidence.timeline.clocks import Clocks
from evidence.timeline.zones import offset_at, times_shown
from hypothesis import given
from hypothesis import strategies as st

from shoots import Shoot, facts

SECOND = 1_000_000


def told(shoot):
    dossier = shoot.dossier()
    return [(s.kind, s.records, s.text) for s in signs(dossier, Clocks.of(dossier))]


def test_nothing_is_told_of_a_quiet_shoot():
    shoot = Shoot()
    for n in range(1, 5):
        facts(shoot, shoot.photo(f"2026-06-10T12:0{n}:00+01:00", f"IMG_{n:04}.JPG"), gps_time=f"2026-06-10T11:0{n}:00Z", changed=f"2026-06-10T12:0{n}:00+01:00")
    assert told(shoot) == []


def test_zones_mixed_within_a_shoot():
    shoot = Shoot()
    shoot.photo("2026-06-10T12:00:00+01:00")
    shoot.photo("2026-06-10T13:05:00+02:00")
    shoot.photo("2026-06-10T12:09:00")
    (sign,) = told(shoot)
    assert sign[:2] == ("mixed_zones", ("Exhibit 1", "Exhibit 2", "Exhibit 3"))
    assert "Exhibit 1 UTC+01:00; Exhibit 2 UTC+02:00; Exhibit 3 no offset" in sign[2]


# checks against the IANA rules as of 2026; the same transitions as the published tables of New York and Berlin
FACES = [
    ("America/New_York", "2024-11-03T01:30:00", "repeated_hour"), ("America/New_York", "2024-03-10T02:30:00", "skipped_hour"),
    ("Europe/Berlin", "2024-10-27T02:30:00", "repeated_hour"), ("Europe/Berlin", "2024-03-31T02:30:00", "skipped_hour"),
    ("Australia/Lord_Howe", "2024-04-07T01:45:00", "repeated_hour"), ("Australia/Lord_Howe", "2024-10-06T02:15:00", "skipped_hour"),
    ("Africa/Casablanca", "2024-03-10T02:30:00", "repeated_hour"), ("America/Sao_Paulo", "2018-11-04T00:30:00", "skipped_hour"),
    ("America/Phoenix", "2024-03-10T02:30:00", ""),
]  # fmt: skip


@pytest.mark.parametrize(("zone", "face", "kind"), FACES)
def test_folds_and_gaps_of_the_dossiers_zone(zone, face, kind):
    shoot = Shoot(zone)
    shoot.photo(face)
    assert [k for k, _, _ in told(shoot)] == ([kind] if kind else [])
    stated = Shoot(zone)
    stated.photo(face + "+01:00")  # the file says which it was
    assert told(stated) == []


@given(st.integers(0, 50 * 366 * 1440).map(lambda m: (dt.datetime(1990, 1, 1, tzinfo=dt.UTC) + dt.timedelta(minutes=m)).replace(tzinfo=None)), st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/Sao_Paulo"]))
def test_zoneinfo_knows_the_same_rules(face, zone):
    known = ZoneInfo(zone)
    early, late = (face.replace(tzinfo=known, fold=f) for f in (0, 1))
    there = early.astimezone(dt.UTC).astimezone(known).replace(tzinfo=None) == face
    expected = "never" if not there else "twice" if early.utcoffset() != late.utcoffset() else "once"
    assert times_shown(face, zone) == expected
    moment = face.replace(tzinfo=dt.UTC)
    assert offset_at(zone, moment) == moment.astimezone(known).utcoffset()


def test_time_that_falls_while_the_numbering_runs_on():
    shoot = Shoot()
    for n, minute in ((7, 40), (8, 41), (9, 12)):
        shoot.photo(f"2026-06-10T12:{minute}:00+01:00", f"IMG_{n:04}.JPG")
    (sign,) = told(shoot)
    assert sign[:2] == ("time_falls", ("Exhibit 2", "Exhibit 3"))
    assert "falls by 28 min 59 s or more" in sign[2]
    counter = Shoot()  # the counter began anew: no fall
    counter.photo("2026-06-10T12:00:00+01:00", "IMG_9999.JPG")
    counter.photo("2026-06-10T12:01:00+01:00", "IMG_0001.JPG")
    assert told(counter) == []


def test_a_burst_written_out_of_order_is_no_clock_set_back():
    shoot = Shoot()
    shoot.photo("2026-06-10T12:00:00.900+01:00", "IMG_0001.JPG")
    shoot.photo("2026-06-10T12:00:00.400+01:00", "IMG_0002.JPG")
    assert told(shoot) == []


def test_satellite_time_of_a_published_phone_picture():
    """pillow-heif 1.8.1, tests/images/heif_special/xiaomi.heic: 19:44:18.732 local, no offset; satellites 2023-04-27
    16:43:45 UTC; so UTC+03:00, with 33 s left over by which the fix is older."""
    shoot = Shoot("Europe/Moscow")
    facts(shoot, shoot.photo("2023-04-27T19:44:18.732"), gps_time="2023-04-27T16:43:45Z")
    (sign,) = told(shoot)
    assert sign[2] == "the satellite time fits camera A on UTC+03:00, 33 s ahead of it"


def test_satellite_time_that_fits_no_zone_or_contradicts_the_references():
    shoot = Shoot()
    photo = shoot.photo("2026-06-10T12:00:00")
    facts(shoot, photo, gps_time="2026-06-10T11:07:31Z")
    assert "are 52 min 29 s apart" in told(shoot)[0][2]
    shoot.reference("2026-06-10 12:00:00", "2026-06-10T11:00:00Z")
    assert "outside the time that the references give" in told(shoot)[0][2]
    facts(shoot, photo, gps_time="2026-06-10T10:59:10Z")  # an old fix is no contradiction
    assert told(shoot) == []


def test_times_of_one_file_that_disagree():
    shoot = Shoot()
    facts(shoot, shoot.photo("2026-06-10T12:00:00+01:00"), container_time="2026-06-10T12:00:00Z", changed="2026-06-09T12:00:00+01:00")
    texts = [text for kind, _, text in told(shoot) if kind == "times_disagree"]
    assert "1 h" in texts[0]
    assert "container's time of creation" in texts[0]
    assert "before it was captured" in texts[1]


def test_a_container_that_no_zone_brings_together_with_a_time_of_unknown_zone_is_told():
    shoot = Shoot()
    facts(shoot, shoot.photo("2026-06-10 12:00:00"), container_time="2026-06-13T12:00:00Z")
    (text,) = [text for kind, _, text in told(shoot) if kind == "times_disagree"]
    assert text.endswith("or more, in any zone")
    shoot = Shoot()
    facts(shoot, shoot.photo("2026-06-10 12:00:00"), container_time="2026-06-10T23:00:00Z")
    assert [kind for kind, _, _ in told(shoot) if kind == "times_disagree"] == []


def test_a_recorders_word_against_a_clock_without_a_reference():
    shoot = Shoot()
    shoot.photo("2026-06-10 12:00:00", taken="2026-06-12 09:00")
    shoot.photo("2026-06-10 12:00:00", taken="2026-06-10 09:00")  # which zone the camera was in is not known
    ((records, text),) = [(records, text) for kind, records, text in told(shoot) if kind == "times_disagree"]
    assert records == ("Exhibit 1",)
    assert "taken 2026-06-12 09:00 (Europe/Lisbon) by the recorder's word, captured 2026-06-10 12:00:00" in text
    assert "apart or more" in text


def test_a_recorders_word_that_the_corrected_clock_does_not_bear_out():
    shoot = Shoot()
    photo = shoot.photo("2026-06-10T12:00:00")
    place = next(n for n, e in enumerate(shoot.entries) if e[1] == photo)
    kind, subject, raw, action = shoot.entries[place]
    shoot.entries[place] = (kind, subject, {**raw, "taken": "2026-06-10 15:30"}, action)
    shoot.reference("2026-06-10 12:00:00", "2026-06-10T11:00:00Z")
    assert "does not bear out" in told(shoot)[0][2]


def test_lengths_and_zones_in_words():
    assert [length(n * SECOND) for n in (0, 3, 59, 192, 3_720, 90_000, 400_000)] == ["0 s", "3 s", "59 s", "3 min 12 s", "1 h 2 min", "1 d 1 h", "4 d 15 h"]
    assert length(Fraction(2_440_000)) == "2.4 s"
    assert length(2_410_000, up=True) == "2.5 s"
    assert slow_or_fast(Fraction(-65 * SECOND), 2 * SECOND) == "1 min 5 s fast ± 2 s"
    assert gains_or_loses(Fraction(3, 86_400), Fraction(1, 864_000)) == "loses 3 s a day ± 0.1 s"
    assert [offset_words(m) for m in (0, 60, -210, 345)] == ["UTC+00:00", "UTC+01:00", "UTC-03:30", "UTC+05:45"]
    assert zone_of(Fraction(-3600 * SECOND + 30 * SECOND), 5 * SECOND) == 60
    assert zone_of(Fraction(-3600 * SECOND + 449 * SECOND), 5 * SECOND) is None


def test_the_offsets_in_use_are_those_of_the_zone_database():
    """Every offset that any zone of the IANA database has had since 2000 is in the list."""
    from zoneinfo import available_timezones

    seen = set()
    for name in available_timezones():
        if not name.startswith(("Etc/", "right/", "posix/")) and name not in ("Factory", "localtime"):
            zone = ZoneInfo(name)
            for year in range(2000, 2027):
                for month in (1, 7):
                    seen.add(int(dt.datetime(year, month, 1, tzinfo=zone).utcoffset().total_seconds()) // 60)
    assert seen - set(OFFSETS) == set()

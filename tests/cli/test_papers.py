"""``evidence paper``: list, write, and record a letter that a person has sent, whole or not at all."""

import hashlib
import shutil

import pytest

from commands import evidence


def command(folder, *words):
    done = evidence(*words, cwd=folder)
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A workspace with one matter and its two sides; each test works on a copy."""
    folder = tmp_path_factory.mktemp("papers")
    matter = folder / "matter"
    matter.mkdir()
    (matter / "dossier.yaml").write_text(
        "format: 1\ndossier: first\ntitle: matter\nzone: UTC\nrecorder: shop\nparties:\n- {name: shop, full_name: Ann Teal, roles: [present_repairer]}\n"
        "- {name: mill, full_name: Old Mill Garage, roles: [prior_repairer]}\n"
    )
    assert command(folder, "workspace", "shop", "--recorder", "Ann Teal", "--zone", "UTC")[0] == 0
    code, said = command(folder, "--workspace", "shop", "intake", matter)
    assert code == 0, said
    return folder / "shop"


@pytest.fixture
def shop(made, tmp_path):
    shutil.copytree(made, tmp_path / "shop")
    return lambda *words: command(tmp_path, "--workspace", "shop", *words)


@pytest.fixture
def matter(tmp_path):
    letter, slip = tmp_path / "notice.txt", tmp_path / "slip.txt"
    letter.write_text("the notice, signed")
    slip.write_text("posted, item 7")
    return letter, slip


SKIPS = ("--skips", "intake: no time", "--skips", "undisturbed_record: it came in parts")


def sent(shop, letter, *more, day="2026-05-06"):
    return shop("paper", "first", "notice", "--sent", day, "--letter", letter, *more)


def test_a_sent_letter_becomes_an_exhibit_with_its_hash_and_the_proof(shop, matter):
    letter, slip = matter
    code, told = sent(shop, letter, "--proof", slip, "--until", "2026-05-16")
    assert code == 0, told
    for file in matter:
        assert hashlib.sha256(file.read_bytes()).hexdigest() in told
    assert "recorded as sent: Correspondence 1, Correspondence 2" in told
    shown = shop("show", "first", "correspondence 2")[1]
    assert "inspection opportunity" in shown
    assert "2026-05-16" in shown
    assert "Exhibit 1" in shown
    assert "Exhibit 2" in shown


def test_the_same_files_are_not_taken_in_twice(shop, matter):
    letter, slip = matter
    sent(shop, letter, "--proof", slip)
    again = sent(shop, letter, "--proof", slip)[1]
    assert again.count("held already") == 2
    assert "Exhibit 3" not in again


def test_a_step_is_recorded_with_its_proof_only_where_it_is_asked_for_and_never_twice(shop, matter):
    letter, slip = matter
    first = sent(shop, letter, "--proof", slip)[1]
    assert "No step of the course was recorded." in first
    assert "notice" not in shop("status", "first")[1].split("Next step")[0]
    code, told = sent(shop, letter, "--proof", slip, "--step", *SKIPS)
    assert code == 0, told
    assert "on record already: Correspondence 1, Correspondence 2" in told
    assert "recorded as a step of the course: Step 1, notice" in told
    shown = shop("show", "first", "course step 1")[1]
    for words in ("Exhibit 1", "Exhibit 2", "Correspondence 1", "Correspondence 2", "2026-05-06", "no time"):
        assert words in shown
    again = sent(shop, letter, "--proof", slip, "--step", *SKIPS)[1]
    assert "on record already: Correspondence 1, Correspondence 2, Step 1" in again
    assert shop("show", "first", "course step 2")[0] != 0
    assert shop("show", "first", "correspondence 3")[0] != 0


def test_a_step_that_passes_over_others_is_refused_whole_and_says_how_to_tell_why(shop, matter):
    code, told = sent(shop, matter[0], "--step")
    assert code != 0
    assert "E119" in told
    assert "--skips" in told
    assert shop("show", "first", "exhibit 1")[0] != 0
    assert shop("show", "first", "correspondence 1")[0] != 0


def test_a_letter_that_is_no_step_says_so(shop, matter):
    code, told = shop("paper", "first", "preservation", "--sent", "2026-05-06", "--letter", matter[0], "--step")
    assert code != 0
    assert "no step of the course" in told


@pytest.mark.parametrize(
    ("more", "day", "says"),
    [
        ((), "2026-99-06", "not a date and time that exists"),
        (("--received", "2026-05-01"), "2026-05-06", "before it was sent"),
        (("--channel", "pigeon"), "2026-05-06", "pigeon"),
        (("--proof", "no-such-file"), "2026-05-06", "no-such-file"),
    ],
)
def test_a_mistake_records_nothing(shop, matter, more, day, says):
    code, said = sent(shop, matter[0], *more, day=day)
    assert code != 0
    assert says in said
    assert shop("show", "first", "exhibit 1")[0] != 0


def test_what_is_no_letter_or_has_no_receiver_is_refused(shop, matter):
    for which, says in (("consent", "not a letter"), ("insurer", "names no"), ("nothing", "no paper of this name")):
        code, said = shop("paper", "first", which, "--sent", "2026-05-06", "--letter", matter[0])
        assert code != 0
        assert says in said


def test_the_list_says_what_is_not_on_record_and_what_stays_blank(shop, matter):
    told = " ".join(shop("paper", "first")[1].split())
    for words in ("Not on record", "Stays blank", "The program sends nothing."):
        assert words in told


def test_a_day_that_is_none_is_refused(shop, matter):
    code, said = shop("paper", "first", "demand", "--by", "soon")
    assert code != 0
    assert "is not a day" in said


def test_the_list_names_no_blank_that_writing_fills_in(shop, matter):
    told = " ".join(shop("paper", "first")[1].split())
    assert "root, 64 digits" not in told
    assert "no recheck was made" not in told
    assert "how that clock was set" in told  # a person's to fill in
    code, written = shop("paper", "first", "certification")
    assert code == 0
    assert "A recheck on" in written
    assert "nothing differs from what was recorded" in written

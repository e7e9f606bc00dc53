"""Signs in photos, from values alone: each is told where it holds and not where it does not."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import pytest
from evidence.review.photo_marks import Alike, Credentials, PhotoMarks, Thumbnail
from evidence.review.photo_metadata import THUMBNAIL_BITS
from evidence.review.photo_places import Position, distance, length, position_in
from evidence.review.photo_sequence import numbers_between
from evidence.review.photo_sign import MEANINGS, Code
from evidence.review.photo_signs import signs_in
from geographiclib.test.test_geodesic import GeodesicTest

from build import Case

HERE = {"latitude": "38.7223", "longitude": "-9.1393"}
FAR = {"latitude": "41.15", "longitude": "-8.61"}  # 274 km north
CAMERA = PhotoMarks(
    make="Nimbus", model="N5", taken="2026:03:02 10:00:00", digitised="2026:03:02 10:00:00", size=(4000, 3000),
    stated_size=(4000, 3000), tables=((1,) * 64, (2,) * 64),
)  # fmt: skip


class Shoot:
    """A dossier of photos with the marks of their files."""

    def __init__(self):
        self.case = Case()
        self.marks = {}

    def add(self, marks=CAMERA, *, name="", place=None, stated=None, same_as=None, **more):
        number = len(self.marks) + 1
        sha256 = same_as or f"{number:064x}"
        read = {"media": "photo", "type": "image/jpeg", "reader": "test", "orientation": more.pop("orientation", 1)}
        if place:
            read["place"] = place
        file = {"sha256": sha256, "size": 3, "name": name or f"photo {number}.jpg"}
        fields = {"place": stated} if stated else {}
        subject = self.case.record("exhibit", caption="picture", file=file, read=read, **fields, **more)
        self.marks[sha256] = marks
        return subject

    def signs(self, **more):
        return signs_in(self.case.dossier(), self.marks, **more)

    def codes(self, **more):
        return [s.code for s in self.signs(**more)]


def of_one(**changes):
    shoot = Shoot()
    orientation = changes.pop("orientation", 1)
    shoot.add(replace(CAMERA, **changes), orientation=orientation)
    return [(s.code, s.sentence) for s in shoot.signs()]


def test_every_code_has_its_meaning_and_accuses_nobody():
    assert set(MEANINGS) == set(get_args(Code))
    for meaning in MEANINGS.values():
        for text in meaning:
            assert text
            assert not {"fake", "forged", "fraud", "manipulated", "tampered", "lie"} & set(text.lower().replace(".", " ").split())


def test_a_photo_as_a_camera_writes_it_has_no_sign():
    assert of_one() == []


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [
        ({"software": "Free Photo Editor 3"}, "edited_with", 'names the program "Free Photo Editor 3"'),
        ({"processed_with": "Batch 2"}, "edited_with", 'names the program "Batch 2"'),
        ({"creator_tool": "Paint 9", "software": "Paint 9"}, "edited_with", 'the program "Paint 9".'),
        ({"edits": 2}, "edit_history", "history of editing with 2 steps"),
        ({"changed": "2026:03:05 10:00:00"}, "changed_later", "(3 days later)"),
        ({"changed": "2026:03:02 09:00:00"}, "changed_before_taken", "1 hour before it was taken"),
        ({"digitised": "2026:03:02 12:00:00"}, "digitised_apart", "turned into a file 2026-03-02 12:00:00"),
        ({"packet_taken": "2026-03-01T10:00:00+01:00"}, "packet_time_apart", "2026-03-01T10:00:00+01:00 by the XMP packet"),
        ({"size": (2000, 1500)}, "size_contradicts", "says 4000 x 3000 pixels, the picture has 2000 x 1500"),
        ({"model": ""}, "maker_incomplete", "maker (Nimbus) and no model"),
        ({"make": ""}, "maker_incomplete", "model (N5) and no maker"),
        ({"progressive": True}, "progressive", "names a camera (Nimbus N5)"),
        ({"quality": 75}, "tables_of_software", "at quality 75"),
        ({"thumbnail": Thumbnail(width=160, height=120, bits=60)}, "thumbnail_differs", "60 of 128 bits"),
        ({"credentials": Credentials(state="valid", signer="Firm")}, "credentials_valid", "fit the file, signed by Firm"),
        ({"credentials": Credentials(state="invalid", detail="why")}, "credentials_invalid", "do not fit the file (why)"),
        ({"credentials": Credentials(state="unchecked")}, "credentials_present", "content credentials; not checked"),
    ],
)  # fmt: skip
def test_one_file_by_itself(changes, code, words):
    ((found, sentence),) = of_one(**changes)
    assert found == code
    assert words in sentence
    assert sentence.startswith("Exhibit 1: ")


@pytest.mark.parametrize(
    "changes",
    [
        {"software": "1.02.17"}, {"software": "Camera app 4"}, {"creator_tool": "17.2"}, {"changed": CAMERA.taken},
        {"changed": "2026:03:02 10:00:02"}, {"changed": "no time"}, {"changed": "2026:02:31 10:00:00"},
        {"packet_taken": "2026-03-02T10:00:02.5+01:00"}, {"packet_taken": "2026-03"}, {"packet_taken": "2026-02-31T10:00:00"},
        {"stated_size": None}, {"size": None}, {"quality": 86}, {"quality": None},
        {"size": (3000, 4000)},
        {"thumbnail": Thumbnail(width=160, height=120, bits=THUMBNAIL_BITS)}, {"thumbnail": Thumbnail(width=160, height=120)},
        {"progressive": True, "make": "", "model": ""},
    ],
)  # fmt: skip
def test_what_is_usual_is_no_sign(changes):
    assert of_one(**changes) == []


def test_turned_pixels_are_told_only_where_the_mark_says_turn_again():
    ((code, sentence),) = of_one(size=(3000, 4000), orientation=6)
    assert code == "turned_pixels"
    assert "3000 x 4000" in sentence
    assert of_one(orientation=6) == []


def test_no_camera_data_is_told_of_all_such_photos_at_once():
    shoot = Shoot()
    for marks in (PhotoMarks(), PhotoMarks(), CAMERA, PhotoMarks(problems=("damaged",))):
        shoot.add(marks)
    (sign,) = shoot.signs()
    assert (sign.code, sign.exhibits) == ("no_camera_data", ("Exhibit 1", "Exhibit 2"))


def test_the_same_file_twice_and_elsewhere():
    shoot = Shoot()
    shoot.add()
    shoot.add(same_as=f"{1:064x}")
    (sign,) = shoot.signs(elsewhere={f"{1:064x}": ("Exhibit 4 of Jane Doe's van",)})
    assert sign.code == "same_file"
    assert sign.exhibits == ("Exhibit 1", "Exhibit 2")
    assert "also in another dossier of this workspace" in sign.sentence
    assert "Doe" not in sign.sentence + sign.title + sign.innocent + sign.limit
    assert sign.elsewhere == ("Exhibit 4 of Jane Doe's van",)


def test_alike_pictures_here_and_elsewhere():
    shoot = Shoot()
    for _ in range(3):
        shoot.add()
    pairs = [Alike(sha256=f"{2:064x}", other=f"{1:064x}", bits=3, likeness=0.97), Alike(sha256=f"{3:064x}", other="f" * 64, bits=9, likeness=0.9)]
    here, there = shoot.signs(alike=pairs, elsewhere={"f" * 64: ("Exhibit 4 of Jane Doe's van",)})
    assert here.exhibits == ("Exhibit 1", "Exhibit 2")
    assert "3 of 128 bits" in here.sentence
    assert here.elsewhere == ()
    assert there.exhibits == ("Exhibit 3",)
    assert "Doe" not in there.sentence
    assert there.elsewhere == ("Exhibit 4 of Jane Doe's van",)
    # Of a file that no dossier is said to hold, nothing is told.
    assert [s.exhibits for s in shoot.signs(alike=pairs)] == [("Exhibit 1", "Exhibit 2")]


def test_a_copy_that_says_so_is_no_news_and_has_no_signs_of_its_own():
    shoot = Shoot()
    first = shoot.add()
    shoot.add(replace(CAMERA, software="Photo editor"), derived_from=first)
    assert shoot.codes(alike=[Alike(sha256=f"{1:064x}", other=f"{2:064x}", bits=0, likeness=1.0)]) == []


def test_withdrawn_photos_are_told_of_no_more_but_fill_their_number():
    shoot = Shoot()
    for number in (1, 2, 3):
        shoot.add(replace(CAMERA, progressive=number == 2, taken=f"2026:03:02 10:0{number}:00", digitised=""), name=f"IMG_000{number}.JPG")
    assert shoot.codes() == ["progressive"]
    shoot.case.entries.append(("exhibit", "exhibit-2", {}, "withdraw"))
    assert shoot.codes() == []


def test_other_tables_than_the_rest_of_the_camera():
    shoot = Shoot()
    for _ in range(4):
        shoot.add()
    shoot.add(replace(CAMERA, tables=((9,) * 64,), quality=75))
    (sign,) = shoot.signs()  # told once, not as tables of common software again
    assert sign.code == "tables_apart"
    assert sign.exhibits == ("Exhibit 5",)
    assert "than 4 other photos by the Nimbus N5" in sign.sentence
    assert "at quality 75" in sign.sentence


def test_a_camera_that_changes_its_tables_at_will_shows_nothing():
    shoot = Shoot()
    for n in range(8):
        shoot.add(replace(CAMERA, tables=((1 + n // 4,) * 64,)))
    assert shoot.codes() == []


# Numbers -----------------------------------------------------------------------------------------------------------


def shots(*found, **more):
    """Photos by number and minute of the day."""
    shoot = Shoot()
    for name, minute in found:
        at = f"2026:03:02 {minute // 60:02d}:{minute % 60:02d}:00" if minute is not None else ""
        shoot.add(replace(CAMERA, taken=at, digitised="", **more), name=name)
    return shoot


def test_a_gap_names_both_ends_the_count_and_the_numbers():
    (sign,) = shots(("IMG_0012.JPG", 600), ("IMG_0016.JPG", 601)).signs()
    assert sign.code == "numbers_missing"
    assert sign.exhibits == ("Exhibit 1", "Exhibit 2")
    assert sign.sentence == (
        "3 numbers between Exhibit 1 (IMG_0012) and Exhibit 2 (IMG_0016) are not in the record, by the names of the files: "
        "0013 to 0015."
    )


def test_gaps_of_one_shoot_stand_together_and_another_shoot_apart():
    found = shots(("P1010001.jpg", 60), ("P1010003.jpg", 61), ("P1010006.jpg", 62), ("P1010040.jpg", 900), ("P1010042.jpg", 901)).signs()
    assert [s.sentence.rpartition(": ")[2] for s in found] == ["0002, 0004 to 0005.", "0041."]
    assert found[1].sentence.startswith("1 number between Exhibit 4 (P1010040) and Exhibit 5 (P1010042) is not")


def test_a_gap_that_two_pairs_span_is_counted_once():
    found = shots(("IMG_0003.JPG", 600), ("IMG_0007.JPG", 610), ("IMG_0001.JPG", 620), ("IMG_0002.JPG", 630), ("IMG_0008.JPG", 640)).signs()
    (gap,) = [s for s in found if s.code == "numbers_missing"]
    assert gap.sentence.startswith("3 numbers between Exhibit 1 (IMG_0003) and Exhibit 2 (IMG_0007) are not in the record")
    assert gap.sentence.endswith(": 0004 to 0006.")


@pytest.mark.parametrize(
    "found",
    [
        (("IMG_0012.JPG", 600), ("IMG_0013.JPG", 601)),
        (("IMG_0012.JPG", 600), ("IMG_0500.JPG", 601)),  # too wide to belong together
        (("IMG_0012.JPG", 60), ("IMG_0016.JPG", 900)),  # another shoot
        (("IMG_9999.JPG", 600), ("IMG_0001.JPG", 601)),  # DCF numbers run from 0001 to 9999
        (("20260302.jpg", 600), ("20260309.jpg", 601)),  # dates
        (("front 1234 left.jpg", 600), ("front 1239 left.jpg", 601)),
        (("IMG_0012.JPG", 600), ("DSC_0016.JPG", 601)),  # two series
        (("IMG_0012.JPG", None), ("IMG_0040.JPG", None)),  # without times only a narrow gap says anything
    ],
)
def test_what_is_no_gap(found):
    assert "numbers_missing" not in shots(*found).codes()


def test_a_narrow_gap_is_told_without_times():
    assert shots(("IMG_0012.JPG", None), ("IMG_0016.JPG", None)).codes() == ["numbers_missing"]


def test_a_gap_over_the_turn_of_the_counter():
    (sign,) = shots(("IMG_9998.JPG", 600), ("IMG_0002.JPG", 601)).signs()
    assert sign.sentence.endswith("2 numbers between Exhibit 1 (IMG_9998) and Exhibit 2 (IMG_0002) are not in the record, by the names of the files: 9999, 0001.")
    assert numbers_between(9998, 2, wraps=True) == [9999, 1]
    assert numbers_between(9998, 2, wraps=False) == []
    assert numbers_between(12, 13, wraps=True) == []


def test_a_film_fills_its_number():
    shoot = shots(("IMG_0012.JPG", 600), ("IMG_0014.JPG", 601))
    film = {"sha256": "e" * 64, "size": 3, "name": "IMG_0013.MOV"}
    shoot.case.record("exhibit", caption="film", file=film, read={"media": "video", "type": "video/quicktime", "reader": "test"})
    assert shoot.codes() == []


def test_numbers_that_go_back_and_numbers_used_twice():
    (back,) = shots(("IMG_0016.JPG", 600), ("IMG_0012.JPG", 601)).signs()
    assert back.code == "numbers_backwards"
    assert "Exhibit 1 (IMG_0016) was taken 2026-03-02 10:00:00 and Exhibit 2 (IMG_0012) 2026-03-02 10:01:00" in back.sentence
    assert shots(("IMG_0012.JPG", 600), ("IMG_0012.JPG", 700)).codes() == ["number_twice"]
    same = shots(("IMG_0012.JPG", 600))
    same.add(replace(CAMERA, digitised=""), name="IMG_0012.JPG", same_as=f"{1:064x}")
    assert same.codes() == ["same_file"]


def test_the_cameras_own_count_goes_before_the_names():
    shoot = Shoot()
    for minute, number in ((0, 70001), (1, 70004)):
        shoot.add(replace(CAMERA, number=number, taken=f"2026:03:02 10:0{minute}:00", digitised=""), name=f"renamed {number}.jpg")
    (sign,) = shoot.signs()
    assert "2 numbers between Exhibit 1 (number 70001) and Exhibit 2 (number 70004)" in sign.sentence
    assert "by the camera's count in the files" in sign.sentence


# Places ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", GeodesicTest.testcases)
def test_distances_of_the_published_set(line):
    """The 20 lines that come with the library: C. F. F. Karney's test set for geodesics, to a tenth of a micrometre."""
    lat1, lon1, _, lat2, lon2, _, metres, *_ = line
    assert distance(Position(lat1, lon1), Position(lat2, lon2)) == pytest.approx(metres, abs=1e-7)


@pytest.mark.parametrize(
    ("one", "other", "metres", "within"),
    [
        # The library's documentation: Wellington to Salamanca.
        ((-41.32, 174.81), (40.96, -5.50), 19_959_679.267353821, 1e-6),
        # Geodetic Datum of Australia Technical Manual: Flinders Peak to Buninyong (GRS 80, the same to a tenth of a millimetre).
        ((-(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600), (-(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600), 54_972.271, 1e-3),
        # One degree on the equator of WGS 84: pi / 180 x 6,378,137 m.
        ((0, 0), (0, 1), math.pi / 180 * 6_378_137, 1e-6),
        # Nearly opposite points, where older formulas do not converge.
        ((0, 0), (0.5, 179.7), 19_944_127.421, 1e-3),
    ],
)  # fmt: skip
def test_distances_of_worked_examples(one, other, metres, within):
    assert distance(Position(*one), Position(*other)) == pytest.approx(metres, abs=within)
    assert distance(Position(*other), Position(*one)) == pytest.approx(metres, abs=within)


@pytest.mark.parametrize(
    ("text", "latitude", "longitude"),
    [
        ("38.7223, -9.1393", 38.7223, -9.1393), ("Yard, 38.72230° N 9.13930° W", 38.7223, -9.1393), ("-33.86;151.21", -33.86, 151.21),
        ("38°43'20\"N 9°8'21.5\"W", 38 + 43 / 60 + 20 / 3600, -(9 + 8 / 60 + 21.5 / 3600)), ("33°52'S, 151°12'E", -(33 + 52 / 60), 151.2),
    ],
)  # fmt: skip
def test_coordinates_in_a_stated_place(text, latitude, longitude):
    assert position_in(text) == pytest.approx((latitude, longitude))


@pytest.mark.parametrize("text", ["Mill Lane 12, bay 3", "bay 3, 12", "1.5, 2.5", "95.00, 10.00", "10.00, 190.00", "38°61'N 9°8'W", ""])
def test_what_is_no_coordinates(text):
    assert position_in(text) is None


def test_a_position_that_is_not_the_place_stated():
    shoot = Shoot()
    shoot.add(place=HERE, stated="38.7300, -9.1400, the yard")  # 860 m: within what a phone is off
    shoot.add(place=HERE, stated="38.7323, -9.1393")  # 1110 m
    shoot.add(place=HERE, stated="the yard")
    (sign,) = shoot.signs()
    assert (sign.code, sign.exhibits) == ("place_not_stated_one", ("Exhibit 2",))
    assert "lies 1.1 km from the place stated" in sign.sentence


def test_one_photo_far_from_its_shoot():
    shoot = Shoot()
    for minute, place in ((0, HERE), (10, HERE), (20, FAR)):
        shoot.add(replace(CAMERA, taken=f"2026:03:02 10:{minute:02d}:00", digitised=""), place=place)
    (sign,) = shoot.signs()  # told once, not as a speed again
    assert (sign.code, sign.exhibits) == ("place_apart", ("Exhibit 3",))
    assert "lies 273 km from the nearest of the 2 other photos" in sign.sentence


def test_two_positions_that_one_camera_cannot_have_had():
    def pair(minutes, **second):
        shoot = Shoot()
        shoot.add(replace(CAMERA, digitised=""), place=HERE)
        shoot.add(replace(CAMERA, digitised="", taken=f"2026:03:02 {10 + minutes // 60}:{minutes % 60:02d}:00", **second), place=FAR)
        return shoot

    (sign,) = pair(6).signs()
    assert sign.code == "too_far_too_soon"
    assert "273 km between the positions in the files and 6 minutes between the times" in sign.sentence
    assert pair(180).codes() == []
    assert pair(6, model="N6").codes() == []


def test_lengths_say_no_more_than_a_position_is_good_for():
    assert [length(m) for m in (4, 347, 994, 995, 1049, 99_949, 273_456)] == ["0 m", "350 m", "990 m", "1.0 km", "1.0 km", "99.9 km", "273 km"]


def test_signs_do_not_depend_on_the_order_of_recording():
    names = [(f"IMG_{n:04d}.JPG", 600 + n) for n in (12, 16, 17, 19)]
    told = [tuple(s.sentence.rpartition(": ")[2] for s in shots(*order).signs()) for order in (names, names[::-1], names[2:] + names[:2])]
    assert told == [("0013 to 0015, 0018.",)] * 3

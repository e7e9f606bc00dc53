"""Plates on paper: two pictures or four documents a page, each whole, in the order of their numbers."""

import re
from itertools import zip_longest

import pdfplumber
import pytest
from evidence.report.blocks import Plate
from evidence.report.outline import outline
from evidence.report.pdf import build_report
from PIL import Image

from rich_dossier import given, small_book


def book_of(tmp_path, pictures, papers, size=(1200, 900)):
    photo, page = tmp_path / "photo.jpg", tmp_path / "page.jpg"
    Image.new("RGB", size, (90, 120, 40)).save(photo, "JPEG")
    Image.new("RGB", (700, 990), (250, 250, 250)).save(page, "JPEG")
    book, prints = small_book(), {}
    sorts = [sort for pair in zip_longest(["photo"] * pictures, ["document"] * papers) for sort in pair if sort]
    for number, media in enumerate(sorts):
        digest = f"{number:064x}"
        read = {"media": media, "type": "image/jpeg" if media == "photo" else "application/pdf", "reader": "t"}
        book.exhibit(digest=digest, name=f"file-{number}", caption=f"Caption {number}", read=read)
        prints[digest] = photo if media == "photo" else page
    return book, prints


def pages_of_plates(out):
    """For each page with plates: (label, left, top, width, height) of its pictures, and its text."""
    with pdfplumber.open(out) as pdf:
        return [
            (sorted((round(i["x0"]), round(i["top"]), i["width"], i["height"]) for i in page.images), page.extract_text() or "")
            for page in pdf.pages
            if page.images
        ]


def test_pictures_stand_two_a_page_and_documents_four(tmp_path):
    book, prints = book_of(tmp_path, pictures=4, papers=6)
    build_report(given(book, preview=prints.get), tmp_path / "r.pdf")
    assert [len(images) for images, _ in pages_of_plates(tmp_path / "r.pdf")] == [2, 2, 4, 2]


def test_a_picture_takes_more_than_two_thirds_of_the_width_and_nothing_overlaps(tmp_path):
    book, prints = book_of(tmp_path, pictures=2, papers=4)
    build_report(given(book, preview=prints.get), tmp_path / "r.pdf")
    photos, papers = pages_of_plates(tmp_path / "r.pdf")
    assert all(width > 340 and height > 250 for _, _, width, height in photos[0])
    lefts = sorted({left for left, *_ in papers[0]})
    assert len(lefts) == 2
    for left, _, width, height in papers[0]:
        assert left + width < (lefts[1] if left == lefts[0] else 595)
        assert height / width == pytest.approx(990 / 700, rel=0.01)


def test_plates_of_each_sort_follow_their_numbers_and_none_is_lost(tmp_path):
    book, prints = book_of(tmp_path, pictures=3, papers=5)
    report = outline(given(book, preview=prints.get))
    plates = [b for s in report.sections if s.title == "Plates" for b in s.blocks if isinstance(b, Plate)]
    assert [p.small for p in plates] == [False] * 3 + [True] * 5
    numbers = [int(p.key.split()[1]) for p in plates]
    assert numbers[:3] == sorted(numbers[:3])
    assert numbers[3:] == sorted(numbers[3:])
    build_report(given(book, preview=prints.get), tmp_path / "r.pdf")
    text = re.sub(r"\s+", "", "".join(t for _, t in pages_of_plates(tmp_path / "r.pdf")))
    assert [d for d in prints if d not in text] == []


@pytest.mark.parametrize("size", [(900, 1600), (1000, 1000), (3000, 500), (300, 3000)])
def test_a_picture_of_any_shape_keeps_its_shape_and_its_half_page(tmp_path, size):
    book, prints = book_of(tmp_path, pictures=2, papers=0, size=size)
    build_report(given(book, preview=prints.get), tmp_path / "r.pdf")
    (images, _), = pages_of_plates(tmp_path / "r.pdf")  # fmt: skip
    assert len(images) == 2
    for _, _, width, height in images:
        assert width / height == pytest.approx(size[0] / size[1], rel=0.01)
        assert height < 345


def test_what_is_too_long_to_stand_beside_stands_below(tmp_path):
    book, prints = book_of(tmp_path, pictures=1, papers=0)
    long = "a long word of the recorder about this picture " * 6
    digest = f"{9:064x}"
    read = {"media": "photo", "type": "image/jpeg", "reader": "t", "device": long[:200], "notes": [long] * 3}
    book.exhibit(digest=digest, name="n" * 200, caption=long, place=long, device=long[:190], read=read)
    prints[digest] = next(iter(prints.values()))
    build_report(given(book, preview=prints.get), tmp_path / "r.pdf")
    pages = pages_of_plates(tmp_path / "r.pdf")
    assert sum(len(images) for images, _ in pages) == 2
    assert digest in re.sub(r"\s+", "", pages[-1][1])

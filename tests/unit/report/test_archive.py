"""PDF/A-3b (ISO 19005-3) as pikepdf judges it, and the files inside the file read back by pikepdf and by poppler."""

import csv
import dataclasses
import datetime as dt
import hashlib
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pikepdf
import pytest
from evidence.errors import EvidenceError, StoreDamaged
from evidence.record.entry import Entry
from evidence.report.archive import Attachment, file_chunks
from evidence.report.attachments import exhibit_list, originals, record_files
from evidence.report.pdf import build_report
from evidence.report.sealing import Judge
from evidence.report.writing import PART_PREFIX
from evidence.rules.assessment_json import as_bytes
from pikepdf import pdfa

from rich_dossier import assessment, candidate, given, rich_book, small_book

AT = dt.datetime(2026, 3, 12, 9, 30, tzinfo=dt.UTC)

def check_archive(path):
    with Judge() as judge:
        judge.require_archive(path)


ENTRIES = [Entry(b'{"seq":1}', b'{"body":{},"salt":"x"}'), Entry(b'{"seq":2}', None), Entry(b'{"seq":3}', "é".encode())]


def attached(book, folder):
    """Ledger, findings, list, and an original for each exhibit with a file."""
    dossier = book.dossier()
    files = {}
    for recorded in dossier.by_subject.values():
        if recorded.kind == "exhibit" and recorded.value.file:
            path = folder / recorded.value.file.sha256
            path.write_bytes(str(recorded.number).encode())  # the digests of the book are those of the numbers
            files[recorded.value.file.sha256] = path
    kept = record_files(dossier, assessment(candidate()), lambda: ENTRIES, AT)
    return kept + tuple(originals(dossier, files.__getitem__, lambda n, media: f"exhibit-{n:04}.{media.rpartition('/')[2]}"))


@pytest.fixture(scope="module")
def archived(tmp_path_factory):
    folder = tmp_path_factory.mktemp("archived")
    book = rich_book()
    report = dataclasses.replace(given(book, candidate()), attachments=attached(book, folder))
    build_report(report, folder / "r.pdf")
    return report, folder / "r.pdf"


def test_it_is_pdf_a_3b_with_and_without_files_inside(archived, tmp_path):
    assert pdfa.validate_written(archived[1], "3b").verdict == "pass"
    check_archive(archived[1])
    build_report(given(small_book()), tmp_path / "small.pdf")
    check_archive(tmp_path / "small.pdf")


def test_what_cannot_be_judged_is_not_signed(tmp_path):
    with pytest.raises(EvidenceError, match="was not signed"):
        check_archive(tmp_path / "not there\n.pdf")


@pytest.mark.parametrize("planted", ["script", "no colours", "no metadata", "file of nobody"])
def test_what_does_not_belong_in_an_archive_is_refused(archived, tmp_path, planted):
    with pikepdf.open(archived[1]) as pdf:
        if planted == "script":
            pdf.Root.OpenAction = pdf.make_indirect(pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("x")))
        elif planted == "no colours":
            del pdf.Root.OutputIntents
        elif planted == "no metadata":
            del pdf.Root.Metadata
        else:
            del pdf.Root.AF
        pdf.save(tmp_path / "bad.pdf")
    with pytest.raises(EvidenceError, match="no PDF/A-3b"):
        check_archive(tmp_path / "bad.pdf")


def test_metadata_say_what_the_properties_say(archived):
    report, out = archived
    with pikepdf.open(out) as pdf, pdf.open_metadata() as said:
        assert (said["pdfaid:part"], said["pdfaid:conformance"]) == ("3", "B")
        assert said["dc:title"] == str(pdf.docinfo["/Title"]) == report.dossier.title
        assert said["dc:creator"] == [str(pdf.docinfo["/Author"])]
        assert said["xmp:CreateDate"] == said["xmp:MetadataDate"] == "2026-03-12T09:30:00Z"
        assert said["pdf:Producer"] == str(pdf.docinfo["/Producer"])


def test_the_colour_profile_has_no_date_of_this_run(archived):
    with pikepdf.open(archived[1]) as pdf:
        profile = pdf.Root.OutputIntents[0].DestOutputProfile.read_bytes()
    assert profile[36:40] == b"acsp"  # ICC.1:2004-10, 7.2: the file signature
    assert profile[24:36] == bytes((7, 208, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0))


def test_files_inside_are_read_back_whole_with_their_purpose_and_dates(archived):
    report, out = archived
    with pikepdf.open(out) as pdf:
        files = {name: (spec, spec.get_file()) for name, spec in pdf.attachments.items()}
        assert sorted(files) == sorted(a.name for a in report.attachments)
        for attachment in report.attachments:
            spec, file = files[attachment.name]
            data = b"".join(attachment.chunks())
            assert file.read_bytes() == data
            assert file.size == len(data)
            assert file.mime_type == attachment.media
            assert str(spec.obj.AFRelationship) == f"/{attachment.relationship}"
            assert spec.description == attachment.description
            assert str(file.obj.Params.ModDate) == str(file.obj.Params.CreationDate) == attachment.at.strftime("D:%Y%m%d%H%M%S+00'00'")
            if attachment.digest:
                assert hashlib.sha256(data).hexdigest() == attachment.digest
        assert sum(a.relationship == "Source" for a in report.attachments) == 2 + 7
        assert len(pdf.Root.AF) == len(files)


def test_poppler_takes_the_files_out(archived, tmp_path):
    report, out = archived
    subprocess.run(["pdfdetach", "-saveall", "-o", tmp_path, out], check=True, capture_output=True)
    for attachment in report.attachments:
        assert (tmp_path / attachment.name).read_bytes() == b"".join(attachment.chunks())
    assert (tmp_path / "headers.jsonl").read_bytes() == b'{"seq":1}\n{"seq":2}\n{"seq":3}\n'
    assert (tmp_path / "contents.jsonl").read_bytes() == '{"body":{},"salt":"x"}\n\né\n'.encode()
    assert json.loads((tmp_path / "findings.json").read_bytes())["format"] == 1


def test_findings_are_written_with_sorted_keys_and_a_final_newline():
    data = as_bytes(assessment(candidate()))
    assert data == (json.dumps(json.loads(data), ensure_ascii=False, indent=2, sort_keys=True) + "\n").encode()


def test_the_list_of_exhibits_names_every_file_and_computes_nothing():
    book = small_book()
    book.exhibit(name="=HYPERLINK(1).jpg", caption="-1+1")
    book.exhibit(name="plain, with comma.jpg", caption='said "so"')
    rows = list(csv.DictReader(io.StringIO(exhibit_list(book.dossier()).decode())))
    assert [r["number"] for r in rows] == ["1", "2"]
    assert (rows[0]["name"], rows[0]["caption"]) == ("'=HYPERLINK(1).jpg", "'-1+1")
    assert (rows[1]["name"], rows[1]["caption"]) == ("plain, with comma.jpg", 'said "so"')
    assert all(re.fullmatch("[0-9a-f]{64}", r["sha256"]) for r in rows)


def test_a_file_of_two_exhibits_is_attached_once_under_the_lower_number(tmp_path):
    book = small_book()
    digest = hashlib.sha256(b"1").hexdigest()
    for _ in range(2):
        book.exhibit(digest=digest)
    assert [a.name for a in originals(book.dossier(), lambda _: tmp_path, lambda n, _m: str(n))] == ["1"]


def test_an_altered_original_is_not_attached_and_no_report_is_left(tmp_path):
    book = small_book()
    book.exhibit(digest=hashlib.sha256(b"before").hexdigest())
    (tmp_path / "f").write_bytes(b"after!")
    files = tuple(originals(book.dossier(), lambda _: tmp_path / "f", lambda n, _m: f"exhibit-{n}"))
    with pytest.raises(StoreDamaged, match="exhibit-1"):
        build_report(dataclasses.replace(given(book), attachments=files), tmp_path / "r.pdf")
    assert not (tmp_path / "r.pdf").exists()
    assert not list(tmp_path.glob(PART_PREFIX + "*"))


def test_a_large_file_is_streamed_into_the_pdf(tmp_path):
    import tracemalloc

    big = tmp_path / "big.bin"
    big.write_bytes(bytes(range(256)) * (120 << 12))  # 120 MB
    with big.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    attachment = Attachment(
        name="big.bin", description="big", media="application/octet-stream", relationship="Source", at=AT, chunks=file_chunks(big),
        packed=False, digest=digest,
    )
    report = dataclasses.replace(given(small_book()), attachments=(attachment,))
    build_report(given(small_book()), tmp_path / "warm.pdf")
    tracemalloc.start()
    build_report(report, tmp_path / "r.pdf")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (tmp_path / "r.pdf").stat().st_size > 120 << 20
    assert peak < 20 << 20


def test_same_input_same_bytes_with_files_inside_whatever_zone_and_seed(archived, tmp_path):
    report, out = archived
    build_report(report, tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == out.read_bytes()
    script = (
        "import sys, pathlib, dataclasses; sys.path[:0] = [sys.argv[1], sys.argv[1] + '/unit/report']\n"
        "import test_archive as t\n"
        "book = t.rich_book(); out = pathlib.Path(sys.argv[2])\n"
        "report = dataclasses.replace(t.given(book, t.candidate()), attachments=t.attached(book, out))\n"
        "t.build_report(report, out / 'r.pdf')\n"
    )
    root = Path(__file__).resolve().parents[3]
    env = {"PYTHONHASHSEED": "7", "PATH": "/usr/bin", "PYTHONPATH": str(root), "TZ": "Asia/Tokyo", "LC_ALL": "C"}
    subprocess.run([sys.executable, "-c", script, str(root / "tests"), tmp_path], check=True, env=env)
    assert (tmp_path / "r.pdf").read_bytes() == out.read_bytes()

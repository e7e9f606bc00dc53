"""PDFs that others hand in (fault matrix, row 28): stored byte for byte, never rewritten, never parsed by the process that
stores them. What is read of them is read by the limited child, and only if it comes out of it.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pikepdf
import pytest

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = """
import json, pathlib, sys
sys.path[:0] = [sys.argv[1]]
from evidence.bootstrap import make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.publishing import ReportOptions, write_report
from evidence.usecases.intake import Answers, intake_folder
home = pathlib.Path(sys.argv[2])
quiet = lambda *_: None
make_workspace(home / "shop", recorder="Ana Test", zone="UTC")
with open_desk(home / "shop") as desk:
    result = intake_folder(desk, open_handed(home / "folder"), Answers(), quiet)
    parsers = sorted({"pypdfium2", "pikepdf", "pyhanko.pdf_utils.reader", "pdfplumber"} & set(sys.modules))
    with desk.ledgers.reading() as view:
        (ledger,) = view.ledgers()
        bodies = [json.loads(e.content)["body"] for e in view.entries(ledger)]
    made = write_report(desk, home / "shop", "papers", home / "r.pdf", ReportOptions(attach_originals=True, sign=False), quiet)
    after = sorted({"pypdfium2", "pdfplumber"} & set(sys.modules))  # pyHanko is there for time-stamps; it is handed no PDF
print(json.dumps({"parsers": parsers, "after": after, "exhibits": [b for b in bodies if "file" in b], "made": made.exhibits}))
"""


def plain(**options: object) -> bytes:
    out = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        if "script" in options:
            pdf.Root.OpenAction = pdf.make_indirect(pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.alert(1)")))
        encryption = pikepdf.Encryption(owner="o", user="u") if "encrypted" in options else None
        pdf.save(out, encryption=encryption or False, linearize=False)
    return out.getvalue()


def hybrid() -> bytes:
    """A file with a classic table that points to a stream of references as well (ISO 32000-1, 7.5.8.4)."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(plain())) as pdf:
        pdf.save(out, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    return out.getvalue().replace(b"trailer <<", b"trailer << /XRefStm 15 ")


FILES = {
    "plain.pdf": plain(), "encrypted.pdf": plain(encrypted=True), "script.pdf": plain(script=True), "cut.pdf": plain()[:200],
    "empty.pdf": b"", "hybrid.pdf": hybrid(), "deep.pdf": b"%PDF-1.7\n1 0 obj\n" + b"[" * 100_000,
}  # fmt: skip


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, object], Path]:
    home = tmp_path_factory.mktemp("received")
    folder = home / "folder"
    folder.mkdir()
    for name, data in FILES.items():
        (folder / name).write_bytes(data)
    exhibits = "".join(f"  - {{name: {name[:-4]}, file: {name}, caption: Paper}}\n" for name in FILES)
    (folder / "dossier.yaml").write_text(
        "format: 1\ndossier: papers\ntitle: Papers of others\nzone: UTC\nrecorder: me\nparties:\n  - {name: me, full_name: Ana Test}\nexhibits:\n" + exhibits
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", SCRIPT, str(ROOT), str(home)], capture_output=True, text=True, env=env)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1]), home


def test_the_process_that_stores_has_no_parser_of_pdf_in_it(taken: tuple[dict[str, object], Path]) -> None:
    assert taken[0]["parsers"] == []
    assert taken[0]["after"] == []  # the report shows their first pages, drawn by the child


def test_each_is_stored_byte_for_byte(taken: tuple[dict[str, object], Path]) -> None:
    said, home = taken
    exhibits = {e["file"]["name"]: e for e in said["exhibits"]}  # type: ignore[attr-defined]
    assert set(exhibits) == set(FILES)
    for name, data in FILES.items():
        digest = hashlib.sha256(data).hexdigest()
        assert exhibits[name]["file"]["sha256"] == digest
        (stored,) = [p for p in (home / "shop" / "originals").rglob("*") if p.name.endswith(digest[2:]) and p.is_file()]
        assert stored.read_bytes() == data
        assert (home / "folder" / name).read_bytes() == data


def test_what_could_be_read_is_noted_and_what_could_not_is_told(taken: tuple[dict[str, object], Path]) -> None:
    read = {e["file"]["name"]: e.get("read", {}) for e in taken[0]["exhibits"]}  # type: ignore[attr-defined]
    assert read["plain.pdf"]["pages"] == read["hybrid.pdf"]["pages"] == 1
    assert "encrypted" in " ".join(read["encrypted.pdf"]["notes"])
    assert "script" in " ".join(read["script.pdf"]["notes"])
    for name in ("encrypted.pdf", "cut.pdf", "empty.pdf", "deep.pdf"):
        assert "pages" not in read[name], name
        assert read[name].get("notes"), name


def test_they_go_into_the_report_as_they_are(taken: tuple[dict[str, object], Path]) -> None:
    with pikepdf.open(taken[1] / "r.pdf") as pdf:
        inside = {a.get_file().read_bytes() for a in pdf.attachments.values() if str(a.obj.AFRelationship) == "/Source"}
    assert set(FILES.values()) <= inside

"""Disclosures: what is left out and what stays, what is refused, the same bytes again, and the receiver's commands as printed."""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
from evidence.bundle.alone.verify import check
from evidence.bundle.receiver_notes import receiver_notes, withheld_in_words
from evidence.capture.packs import load_packs, load_vocabulary, rule_files, rules_of_files
from evidence.capture.sources import one_source, open_handed
from evidence.edges.token import certificates_in
from evidence.errors import BadPack, EvidenceError, NotFound, StaysReadable, StoreDamaged, WouldStrengthen
from evidence.handing_over import MadeBundle, write_bundle
from evidence.model.dossier import fold
from evidence.model.kinds import label_of
from evidence.ports import Desk
from evidence.record.entry import Entry, step_of
from evidence.review.disclosing import Choice, Disclosure, LeftOut
from evidence.rules.assess import assess
from evidence.rules.assessment_json import as_bytes
from evidence.usecases.copies import make_copy
from evidence.usecases.disclose import disclosure
from evidence.usecases.heads import seal_head
from evidence.usecases.intake import Answers, intake_folder
from evidence.usecases.pen import need
from evidence.usecases.record import amend_one, record_one

from authority import TimeAuthority
from fakes import MemorySigner, quiet

pytestmark = pytest.mark.usefixtures("signing_here")
SHORT = "wet-footwell"
NOTE = {"caller": "owner", "words": "asked for a discount", "time": "2026-06-01"}


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace with a demonstration dossier, a private note that was amended, and a picture with another file than before."""
    workspace = tmp_path_factory.mktemp("template") / "workspace"
    make_workspace(workspace, recorder="Marta Quill", firm="Quill Autodiagnose", zone="Europe/Dublin")
    with open_desk(workspace) as desk:
        intake_folder(desk, open_handed(demo_dossiers()[SHORT]), Answers(), quiet)
        with desk.ledgers.reading() as view:
            ledger = view.find(SHORT)
            assert ledger
            parties = {k.name: k.subject for k, _ in view.opening_and_parties(ledger) if k.kind == "party"}
        owner = min(parties.values())
        record_one(desk, SHORT, "call_note", {**NOTE, "caller": owner})
        amend_one(desk, SHORT, "call note 2", {"words": "asked for a discount, twice"}, "misheard")
        seal_head(desk, ledger)
    return workspace


@pytest.fixture
def workspace(template: Path, tmp_path: Path) -> Path:
    return shutil.copytree(template, tmp_path / "workspace")


@pytest.fixture
def desk(workspace: Path) -> Iterator[Desk]:
    with open_desk(workspace) as opened:
        yield opened


def hand_over(desk: Desk, workspace: Path, out: Path, *, at: str = "", **choice: tuple[str, ...]) -> MadeBundle:
    return write_bundle(desk, workspace, SHORT, Choice(**choice), out, quiet, at=at)


def unpacked(bundle: Path, to: Path) -> Path:
    with zipfile.ZipFile(bundle) as packed:
        packed.extractall(to)
    return to / "disclosure"


def entries(bag: Path) -> list[Entry]:
    lines = zip(*((bag / f"data/record/{n}.jsonl").read_bytes().split(b"\n")[:-1] for n in ("headers", "contents")), strict=True)
    return [Entry(header, content or None) for header, content in lines]


def test_a_receiver_computes_the_findings_again_from_the_bundle_alone(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    hand_over(desk, workspace, tmp_path / "b.zip", records=("call note 2",))
    bag = unpacked(tmp_path / "b.zip", tmp_path / "out")
    vocabulary, packs = rules_of_files(
        {str(f.relative_to(bag / "data/rules")): f.read_bytes() for f in (bag / "data/rules").rglob("*.yaml")}
    )
    shown = fold("any", map(step_of, entries(bag)))
    assert as_bytes(assess(shown, packs, vocabulary)) == (bag / "data/findings.json").read_bytes()


def test_headers_stay_and_contents_go(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    hand_over(desk, workspace, tmp_path / "whole.zip")
    made = hand_over(desk, workspace, tmp_path / "part.zip", records=("call note 2",), files=("exhibit 3",))
    whole, part = unpacked(tmp_path / "whole.zip", tmp_path / "w"), unpacked(tmp_path / "part.zip", tmp_path / "p")
    assert (part / "data/record/headers.jsonl").read_bytes() == (whole / "data/record/headers.jsonl").read_bytes()
    gone = [n for n, (a, b) in enumerate(zip(entries(whole), entries(part), strict=True), 1) if a != b]
    assert gone == [e.seq for e in made.found.left_out]
    assert [(e.label, e.action) for e in made.found.left_out] == [("Call note 2", "record"), ("Call note 2", "amend")]
    assert all(e.content is None for e in (entries(part)[n - 1] for n in gone))
    assert b"discount" not in b"".join(f.read_bytes() for f in part.rglob("*") if f.is_file() and f.suffix != ".pdf")
    assert b"discount" in (whole / "data/record/contents.jsonl").read_bytes()
    originals = {f.name for f in (whole / "data/originals").iterdir()}
    assert originals - {f.name for f in (part / "data/originals").iterdir()} == {n for n in originals if "0003" in n}
    said = json.loads((part / "data/record/withheld.json").read_bytes())
    assert said == {"format": 1, "subjects": [gone[0]], "files": sorted(made.found.withheld_files)}
    assert check(str(tmp_path / "part.zip")).faults == []
    text = subprocess.run(["pdftotext", "-layout", str(part / "data/report.pdf"), "-"], capture_output=True, check=True).stdout.decode()
    assert "What is withheld" in text
    assert "discount" not in text
    assert re.search(r"Files of exhibits +1 +the file; its record is shown", text)
    assert "This file is withheld from this disclosure" in text
    pictures = subprocess.run(["pdfimages", "-list", str(part / "data/report.pdf")], capture_output=True, check=True).stdout
    assert len(pictures.splitlines()) < len(subprocess.run(["pdfimages", "-list", str(whole / "data/report.pdf")], capture_output=True, check=True).stdout.splitlines())  # fmt: skip


def test_the_same_dossier_and_choice_give_the_same_bytes(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    hand_over(desk, workspace, tmp_path / "1.zip")
    hand_over(desk, workspace, tmp_path / "2.zip")
    other = shutil.copytree(workspace, tmp_path / "elsewhere" / "copy")
    with open_desk(other) as there:
        hand_over(there, other, tmp_path / "3.zip")
    assert (tmp_path / "1.zip").read_bytes() == (tmp_path / "2.zip").read_bytes() == (tmp_path / "3.zip").read_bytes()


def test_with_another_key_only_what_is_signed_differs(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    other = shutil.copytree(workspace, tmp_path / "other")
    for name in ("keys", "checkpoints", "published", "previews"):
        shutil.rmtree(other / name, ignore_errors=True)
    (other / "previews").mkdir()
    hand_over(desk, workspace, tmp_path / "1.zip", files=("exhibit 3",))
    with open_desk(other) as there:
        hand_over(there, other, tmp_path / "2.zip", files=("exhibit 3",))
    with zipfile.ZipFile(tmp_path / "1.zip") as one, zipfile.ZipFile(tmp_path / "2.zip") as two:
        names = [n for n in one.namelist() if "/heads/" not in n]  # the other workspace kept its newest alone
        assert names == [n for n in two.namelist() if "/heads/" not in n]
        differing = {n.removeprefix("disclosure/") for n in names if one.read(n) != two.read(n)}
    about = {"bag-info.txt", "data/README.txt", "data/report.pdf"}  # the sum of all sizes; the heads; the PDF's signature
    assert differing == about | {n for n in differing if n.startswith(("disclosure", "manifest", "tagmanifest"))}


def test_the_date_of_the_bag_is_asked_for_or_that_of_the_last_entry(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    hand_over(desk, workspace, tmp_path / "b.zip", at="2027-01-02T03:04:05Z")
    info = (unpacked(tmp_path / "b.zip", tmp_path / "out") / "bag-info.txt").read_text()
    assert "Bagging-Date: 2027-01-02\n" in info
    assert "Source-Organization: Quill Autodiagnose\n" in info
    with pytest.raises(EvidenceError, match="Z"):
        hand_over(desk, workspace, tmp_path / "c.zip", at="yesterday")


def test_every_kept_head_goes_along_and_none_beyond_the_newest(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    before = disclosure(desk, SHORT, Choice()).head
    record_one(desk, SHORT, "event", {"what": "tow", "text": "towed", "time": "2026-06-02", "basis": "told"})
    hand_over(desk, workspace, tmp_path / "b.zip")
    bag = unpacked(tmp_path / "b.zip", tmp_path / "out")
    sizes = sorted(int(f.name) for f in (bag / "data/heads").iterdir())
    assert sizes == sorted({before.size, before.size + 1} | {h.size for h in desk.shelf.kept(before.ledger)})
    assert all((bag / f"data/heads/{n:010}/head.note").exists() for n in (before.size, before.size + 1))
    found = check(str(tmp_path / "b.zip"), head=" ".join((bag / f"data/heads/{before.size:010}/head.txt").read_text().split()))
    assert found.faults == []


def test_a_locked_key_leaves_the_bundle_unsigned_and_says_so(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    record_one(desk, SHORT, "event", {"what": "tow", "text": "towed", "time": "2026-06-02", "basis": "told"})
    made = hand_over(replace(desk, signer=MemorySigner(locked=True)), workspace, tmp_path / "b.zip")
    assert (made.fingerprint, "locked" in made.problem) == ("", True)
    bag = unpacked(tmp_path / "b.zip", tmp_path / "out")
    assert [f.name for f in sorted(bag.glob("disclosure*"))] == ["disclosure.txt"]
    assert [f.name for f in (bag / f"data/heads/{made.found.head.size:010}").iterdir()] == ["head.txt"]
    assert "THIS BUNDLE IS NOT SIGNED" in (bag / "data/README.txt").read_text()
    assert check(str(tmp_path / "b.zip")).faults == []


def test_what_would_strengthen_is_refused_and_named(tmp_path: Path) -> None:
    make_workspace(tmp_path / "w", recorder="Marta Quill", zone="Europe/Dublin")
    with open_desk(tmp_path / "w") as desk:
        intake_folder(desk, open_handed(demo_dossiers()["seized-engine"]), Answers(), quiet)
        with pytest.raises(WouldStrengthen) as err:
            disclosure(desk, "seized-engine", Choice(records=("call note 1", "work order 2", "measurement 1")))
        assert "Work order 2 (owner: New oil filter" in err.value.message
        assert "G1 (the owner or a friend was at it) turns from open to excluded" in err.value.message
        assert "Call note" not in err.value.message
        assert err.value.exit_code == 2
        for which, words in (("opening", "no such record"), ("dossier 1", "cannot be withheld"), ("exhibit 99", "no such record")):
            with pytest.raises(EvidenceError, match=words):
                disclosure(desk, "seized-engine", Choice(records=(which,)))
        with pytest.raises(EvidenceError, match="Instrument 1: has no file"):
            disclosure(desk, "seized-engine", Choice(files=("instrument 1",)))
        with pytest.raises(NotFound):
            disclosure(desk, "nobody", Choice())


SECRET = "next customer: Jana Oblak, 12 Mill Lane"


def with_paper(workspace: Path, folder: Path) -> dict[str, str]:
    """A paper with another customer's name in it, under two records, and a copy with that blacked out."""
    from reportlab.pdfgen.canvas import Canvas

    paper = Canvas(str(folder / "paper.pdf"), invariant=1)
    paper.drawString(72, 700, f"Order 12. {SECRET}")
    paper.save()
    with open_desk(workspace) as desk:
        for name in ("paper", "again"):
            record_one(desk, SHORT, "exhibit", {"name": name, "caption": name}, one_source(folder / "paper.pdf"))
        made = make_copy(desk, SHORT, "paper", [{"do": "page", "page": 1}, {"do": "black_out", "at": ["0", "0", "100%", "20%"]}], None, {})
        names = {"copy": made.label}
        with desk.ledgers.reading() as view:
            ledger = need(view, SHORT)
            names |= {n: label_of(k.kind, k.number) for n in ("paper", "again") if (k := view.named(ledger, n))}
    return names


def test_a_file_whose_record_says_what_is_in_it_is_not_withheld_alone(workspace: Path, tmp_path: Path) -> None:
    named = with_paper(workspace, tmp_path)
    with open_desk(workspace) as desk:
        with pytest.raises(StaysReadable) as err:
            hand_over(desk, workspace, tmp_path / "b.zip", files=("paper",))
        assert not (tmp_path / "b.zip").exists()
        for label in (named["paper"], named["again"]):  # the same file under another record says the same
            assert f"{label} (" in err.value.message
            assert f"--withhold '{label.lower()}'" in err.value.advice
        assert SECRET in err.value.message
        assert f"{named['copy']} is a copy of it, with areas blacked out, and is shown" in err.value.message
        with pytest.raises(StaysReadable) as err:  # leave for one of them is none for the other
            hand_over(desk, workspace, tmp_path / "b.zip", files=("paper",), text_stays=("paper",))
        assert f"{named['paper']} (" not in err.value.message
        hand_over(desk, workspace, tmp_path / "out.zip", records=("paper", "again"))
        made = hand_over(desk, workspace, tmp_path / "told.zip", files=("paper",), text_stays=("paper", "again"))
    assert [r.label for r in made.found.readable] == [named["paper"], named["again"]]
    secret = SECRET.encode()
    out, told = unpacked(tmp_path / "out.zip", tmp_path / "o"), unpacked(tmp_path / "told.zip", tmp_path / "t")
    assert not [f.name for f in out.rglob("*") if f.is_file() and secret in f.read_bytes()]
    paper = (tmp_path / "paper.pdf").read_bytes()
    assert not [f.name for bag in (out, told) for f in (bag / "data/originals").iterdir() if f.read_bytes() == paper]
    assert secret in (told / "data/record/contents.jsonl").read_bytes()
    assert any(f.suffix == ".png" for f in (out / "data/originals").iterdir())  # the blacked-out copy goes along
    for pdf in (out / "data/report.pdf", told / "data/report.pdf"):
        text = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, check=True).stdout
        assert b"Oblak" not in text
    inside = tmp_path / "inside"
    inside.mkdir()
    subprocess.run(["pdfdetach", "-saveall", "-o", str(inside), str(out / "data/report.pdf")], check=True)
    attached = [f.read_bytes() for f in inside.iterdir()]
    assert any(b"Windscreen replaced" in raw for raw in attached)  # the ledger is inside
    assert not any(secret in raw for raw in attached)
    assert check(str(tmp_path / "out.zip")).faults == []


def test_the_command_tells_what_goes_along_uncovered_and_what_stays(workspace: Path, tmp_path: Path) -> None:
    from evidence.cli.main import app
    from typer.testing import CliRunner

    named = with_paper(workspace, tmp_path)

    def said(*words: str, code: int = 0) -> str:
        run = CliRunner().invoke(app, ["--workspace", str(workspace), *words])
        assert run.exit_code == code, run.output
        return run.output

    assert re.search(r"text of\s+[\d,]+\s+characters,\s+part of the\s+record", said("show", SHORT, "paper"))
    whole = said("disclose", SHORT, "-o", str(tmp_path / "whole.zip"))
    assert f"WARNING: {named['copy']} has areas blacked out, and its original, {named['paper']}, is in the bundle as it is." in whole
    part = said("disclose", SHORT, "-o", str(tmp_path / "part.zip"), "--withhold", "paper", "--withhold", "again")
    assert "WARNING" not in part
    stays = ["--withhold-file", "paper", "--text-stays", "paper", "--text-stays", "again"]
    told = said("disclose", SHORT, "-o", str(tmp_path / "told.zip"), *stays)
    assert f"The record of {named['paper']}, which is shown, says of its file:" in told
    assert SECRET in told
    report = said("report", SHORT, "-o", str(tmp_path / "r.pdf"))
    assert f"its original, {named['paper']}, is printed here as it is" in report


def test_a_file_that_is_gone_makes_no_bundle_unless_it_is_left_out(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    hand_over(desk, workspace, tmp_path / "whole.zip")  # previews and report are made
    lost = next(iter(disclosure(desk, SHORT, Choice(files=("exhibit 2",), text_stays=("exhibit 2",))).withheld_files))
    Path(desk.originals.path(lost)).unlink()
    with pytest.raises(StoreDamaged, match="Exhibit 2: its file cannot be read, so no bundle was made"):
        hand_over(desk, workspace, tmp_path / "b.zip")
    assert not (tmp_path / "b.zip").exists()
    hand_over(desk, workspace, tmp_path / "b.zip", files=("exhibit 2",), text_stays=("exhibit 2",))
    assert check(str(tmp_path / "b.zip")).faults == []


def test_the_commands_of_the_readme_work_as_printed(desk: Desk, workspace: Path, tmp_path: Path) -> None:
    """Each in a shell, in the unpacked folder; whether it is right is judged by coreutils and OpenSSL."""
    authority = TimeAuthority(tmp_path / "authority")
    found = disclosure(desk, SHORT, Choice())
    token = authority.stamp(desk.shelf.read(found.head, "head.note"))
    desk.shelf.keep(found.head, {"token-1.tsr": token, "token-1.pem": certificates_in(token)})
    made = hand_over(desk, workspace, tmp_path / "b.zip", records=("call note 2",))
    bag = unpacked(tmp_path / "b.zip", tmp_path / "out")
    head = " ".join((bag / f"data/heads/{found.head.size:010}/head.txt").read_text().split())
    shutil.copy(authority.folder / "root.pem", bag.parent / "AUTHORITY.pem")
    in_fours = " ".join(re.findall("....", made.fingerprint))  # as 'evidence disclose' says it, and as a head is sent: with blanks
    stand_in = {"FINGERPRINT": in_fours, "HEAD": head, "FILE.zip": "../b.zip", "AUTHORITY.pem": "../AUTHORITY.pem"}
    readme = (bag / "data/README.txt").read_text()
    commands = [line[4:] for line in readme.splitlines() if re.match(r" {4}\S", line)]
    said = {}
    for command in commands:
        for word, real in stand_in.items():
            command = re.sub(rf"\b{re.escape(word)}(?=[ \"]|$)", lambda _m, real=real: real, command)  # type: ignore[misc]
        done = subprocess.run(["bash", "-o", "pipefail", "-c", command], cwd=bag, capture_output=True, text=True)
        assert done.returncode == 0, (command, done.stdout, done.stderr)
        said[command] = done.stdout + done.stderr
    assert len(said) == 15
    assert not any(out for command, out in said.items() if "sum --check" in command)  # as it says: nothing is printed
    told = [text for command, text in said.items() if command.startswith("python3")]
    assert told[0].startswith("intact, signer and latest head not confirmed\n")
    assert told[1].startswith("intact\n")
    assert all("The findings were not computed again here" in text for text in told)
    assert told[2].startswith("intact, signer and latest head not confirmed\n")
    assert [text.strip() for command, text in said.items() if "pkeyutl" in command] == ["Signature Verified Successfully"] * 3
    assert made.fingerprint in said["openssl pkey -pubin -in disclosure-key.pem -outform DER | sha256sum"]
    assert said["sha256sum tagmanifest-sha256.txt"].split()[0] == said["tail -n 1 disclosure.txt"].split()[1]
    assert any("Verification: OK" in text for command, text in said.items() if "ts -verify" in command)
    for part in ("data/findings.json", "disclosure.txt", "manifest-sha512.txt"):  # and each is able to say no
        with altered(bag / part):
            codes = [subprocess.run(["bash", "-c", c], cwd=bag, capture_output=True).returncode for c in said if "TSR" not in c]
            assert any(codes), part


@contextlib.contextmanager
def altered(file: Path) -> Iterator[None]:
    before = file.read_bytes()
    file.write_bytes(before[:10] + bytes([before[10] ^ 1]) + before[11:])
    yield
    file.write_bytes(before)


def test_the_readme_says_what_a_withheld_entry_changes() -> None:
    """Of whole subjects none changes a record shown; a bundle from which more was taken out would say it."""
    found = Disclosure.__new__(Disclosure)
    entries_ = (
        LeftOut(seq=4, label="Call note 1", kind="call_note", action="record", replaces=None),
        LeftOut(seq=9, label="Call note 1", kind="call_note", action="amend", replaces=4),
        LeftOut(seq=11, label="Measurement 2", kind="measurement", action="withdraw", replaces=5),
        LeftOut(seq=12, label="Newer kind 1", kind="newer_kind", action="record", replaces=None),
    )
    object.__setattr__(found, "left_out", entries_)
    object.__setattr__(found, "withheld_files", {"a" * 64: "Exhibit 9"})
    assert withheld_in_words(found) == (
        (
            "1 call note and 1 newer kind were withheld from this disclosure (Call note 1, Newer kind 1); everything here is "
            "computed from the rest."
        ),
        "The record is shown and its file withheld: Exhibit 9.",
    )
    whole = replace_head(found)
    text = receiver_notes(whole, {}, firm="", signed=False).decode()
    assert "entry 9: Call note 1, amends entry 4\n" in text
    assert "entry 11: Measurement 2, withdraws entry 5, which is shown\n" in text
    assert "These amend or withdraw a record that is shown: entry 11." in text


def replace_head(found: Disclosure) -> Disclosure:
    from evidence.record.head import Head

    from rich_dossier import small_book

    dossier = small_book().dossier()
    assert dossier.last_at
    return Disclosure(
        head=Head("l", 12, hashlib.sha256().digest()), at=dossier.last_at, whole=dossier, shown=dossier,
        assessment=assess(dossier, (), load_vocabulary()), left_out=found.left_out, withheld_files=found.withheld_files,
    )  # fmt: skip


def test_rules_from_the_files_of_a_bundle_are_those_files_and_no_others(tmp_path: Path) -> None:
    own = tmp_path / "components-shop.yaml"
    own.write_text("components:\n  ignition:\n    shop-bracket: {title: shop bracket}\n")
    held = rule_files([own], [])
    vocabulary, packs = rules_of_files(held)
    assert "shop-bracket" in vocabulary.components
    assert packs == load_packs(load_vocabulary())
    fewer = {n: d for n, d in held.items() if not n.startswith("packs/") or n == "packs/brakes.yaml"}
    assert [p.id for p in rules_of_files(fewer)[1]] == ["brakes"]
    with pytest.raises(BadPack, match=r"components\.yaml is missing"):
        rules_of_files({n: d for n, d in held.items() if n != "components.yaml"})
    with pytest.raises(BadPack, match=r"packs/brakes\.yaml"):
        rules_of_files({**held, "packs/brakes.yaml": b"\xff"})

"""What a bundle claims beyond its bytes: that findings follow, that rules can be read, that the PDF is signed.

All of it sealed by the shop's own key, with every list right: no hash can show it.
"""

from __future__ import annotations

import json

import pytest
from bag_kit import CONTENTS, HEADERS, SHOP, Files, Receiver, Sealed, ledger_of, packed, resealed
from evidence.capture.packs import rules_of_files
from evidence.edges.program import program
from evidence.model.dossier import fold
from evidence.record.entry import Entry, step_of
from evidence.review.verdict import RulesFound, Verdict
from evidence.rules.assess import assess
from evidence.rules.assessment_json import as_bytes

FINDINGS, PACK, WORDS = "data/findings.json", "data/rules/packs/body-glass.yaml", "data/rules/components.yaml"


def _sealed(receiver: Receiver, files: Files) -> Verdict:
    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(packed(resealed(files, SHOP)))
    assert receiver.alone(bundle) == 0  # the stand-alone file cannot weigh; it says what it did
    return receiver.verdict(bundle)


def _only(verdict: Verdict, check: str) -> str:
    (fault,) = verdict.faults
    assert fault.check == check
    assert verdict.exit_code == 1
    return f"{fault.item}: {fault.message}"


def test_findings_that_do_not_follow(sealed: Sealed, receiver: Receiver) -> None:
    said = sealed.files[FINDINGS].replace(b'"band": "', b'"band": "x', 1)
    assert said != sealed.files[FINDINGS]
    message = _only(_sealed(receiver, {**sealed.files, FINDINGS: said}), "A2")
    assert "is not what record and rules give: line " in message
    for other in (b"", b"{}\n", sealed.files[FINDINGS] + b"\n", sealed.files[FINDINGS].replace(b"\n", b"\r\n")):
        _only(_sealed(receiver, {**sealed.files, FINDINGS: other}), "A2")


def test_findings_by_another_version_are_told_as_that(sealed: Sealed, receiver: Receiver) -> None:
    programs = {**json.loads(sealed.files["data/programs.json"]), "evidence": "99.1"}
    files = {**sealed.files, "data/programs.json": json.dumps(programs).encode()}
    same = _sealed(receiver, files)
    assert (same.exit_code, same.findings) == (0, "agree")
    differ = _sealed(receiver, {**files, FINDINGS: b"{}\n"})
    assert (differ.exit_code, differ.faults, differ.findings) == (0, (), "other version")
    assert any(f"computed by version 99.1, this is {program()}, and they differ" in r for r in differ.remarks)
    assert not any("findings are exactly" in s for s in differ.shown)


def test_rules_changed_after_the_findings_were_computed(sealed: Sealed, receiver: Receiver) -> None:
    pack = sealed.files[PACK].replace(b"version: ", b"version: 9", 1)
    assert pack != sealed.files[PACK]
    _only(_sealed(receiver, {**sealed.files, PACK: pack}), "A2")


def test_rules_that_are_not_those_of_this_program_are_named(sealed: Sealed, receiver: Receiver) -> None:
    """A shop that bends a rule, adds one or leaves one out, computes its findings by it and seals them: nothing is damaged."""
    assert _sealed(receiver, sealed.files).rules == RulesFound(same=len([n for n in sealed.files if n.startswith("data/rules/")]))
    bent = sealed.files[PACK].replace(b'version: "', b'version: "bent-', 1)
    assert bent != sealed.files[PACK]
    other = _sealed(receiver, _computed_by({**sealed.files, PACK: bent}))
    assert (other.exit_code, other.findings) == (0, "agree")
    (said,) = [s for s in other.asserted if "rules are right" in s]
    assert said.startswith("That these rules are right, which are not as this program carries them: packs/body-glass.yaml (version bent-")
    assert not any("byte for byte" in s for s in other.shown)
    own = bent.replace(b"id: body-glass", b"id: ours").replace(b"id: bod-", b"id: our-")
    added = _sealed(receiver, _computed_by({**sealed.files, "data/rules/own/ours.yaml": own}))
    assert (added.exit_code, added.findings, added.rules and added.rules.added) == (0, "agree", ("own/ours.yaml",))
    assert any(s.endswith("which this program does not carry: own/ours.yaml.") for s in added.asserted)
    fewer = _sealed(receiver, _computed_by({n: d for n, d in sealed.files.items() if not n.endswith("packs/brakes.yaml")}))
    assert (fewer.exit_code, fewer.findings) == (0, "agree")
    assert any(s.startswith("Rules that this program carries: packs/brakes.yaml; what they") for s in fewer.missing)


def _computed_by(files: Files) -> Files:
    """The findings as the rules in the bundle give them: what somebody with the program can always do."""
    entries = map(Entry, files[HEADERS].split(b"\n")[:-1], files[CONTENTS].split(b"\n")[:-1])
    vocabulary, packs = rules_of_files({n.removeprefix("data/rules/"): d for n, d in files.items() if n.startswith("data/rules/")})
    return {**files, FINDINGS: as_bytes(assess(fold(ledger_of(files), map(step_of, entries)), packs, vocabulary))}


@pytest.mark.parametrize("pack", [
    b"", b"[]", b"\xff\xfe", b"id: x\n", b"a: &a [x, x]\nb: [*a, *a]\n", b"a: !!python/object:os.system x\n", b"[" * 100_000, b"x" * 5_000_001,
    b"a: &a [" + b"b, " * 1000 + b"]\n" + b"".join(b"k%d: [*a, *a, *a]\n" % n for n in range(1000)), b"id: x\nid: y\n",
], ids=["empty", "list", "UTF-16", "bare", "alias", "tag", "deep", "5 MB", "alias bomb", "key twice"])  # fmt: skip
def test_hostile_rules_are_refused(sealed: Sealed, receiver: Receiver, pack: bytes) -> None:
    for name in (PACK, "data/rules/own/theirs.yaml"):
        message = _only(_sealed(receiver, {**sealed.files, name: pack}), "A1")
        assert message.startswith("rules in the bundle: cannot be read: ")
    words = _sealed(receiver, {**sealed.files, WORDS: pack})
    assert (words.exit_code, {f.check for f in words.faults}) == (1, {"A1"})


def test_rules_that_are_missing(sealed: Sealed, receiver: Receiver) -> None:
    files = {n: d for n, d in sealed.files.items() if n != WORDS}
    assert "components.yaml is missing" in _only(_sealed(receiver, files), "A1")


def test_a_pdf_changed_after_it_was_signed(sealed: Sealed, receiver: Receiver) -> None:
    report = sealed.files["data/report.pdf"]
    assert any("PDF's own signature is right" in r for r in _sealed(receiver, sealed.files).remarks)
    at = report.index(b"stream") + 60
    for other in (report[:at] + bytes([report[at] ^ 1]) + report[at + 1 :], report + b"\n% more\n", report[:-50], b"no PDF", b""):
        verdict = _sealed(receiver, {**sealed.files, "data/report.pdf": other})
        assert _only(verdict, "A3").startswith("the PDF: ")


def test_no_pdf_is_told(sealed: Sealed, receiver: Receiver) -> None:
    verdict = _sealed(receiver, {n: d for n, d in sealed.files.items() if n != "data/report.pdf"})
    assert verdict.exit_code == 0
    assert "There is no PDF in the bundle." in verdict.remarks


def test_the_assessment_is_not_run_on_what_is_not_intact(sealed: Sealed, receiver: Receiver) -> None:
    bundle = receiver.folder / "attacked.zip"
    bundle.write_bytes(packed({**sealed.files, PACK: sealed.files[PACK] + b"\n"}))
    verdict = receiver.verdict(bundle)
    assert verdict.findings == "not run"
    assert any("was not run again" in r for r in verdict.remarks)

"""What the papers say is what the program does."""

import dataclasses
import re
from pathlib import Path

from evidence.model.kinds import SECTIONS
from evidence.record import chain
from evidence.review.challenge import SAID
from evidence.rules import assessment, capture_plan
from evidence.usecases import head_standing, recheck, recheck_book, recheck_heads

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_on_the_folder_names_every_section_and_what_it_must_have():
    text = (ROOT / "demo_dossiers" / "FORMAT.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| `(\w+)` \| .* \| (.*) \|$", text, re.MULTILINE))
    assert list(rows) == list(SECTIONS)
    for section, cls in SECTIONS.items():
        needed = {name for name, field in cls.model_fields.items() if field.is_required()}
        named = set(re.findall(r"`(\w+)`", rows[section]))
        assert needed <= named, section
        assert named <= {*cls.model_fields, "file"}, section


def test_the_example_on_that_page_is_free_of_mistakes():
    from evidence.capture.marked_yaml import load_marked
    from evidence.capture.packs import load_vocabulary

    text = (ROOT / "demo_dossiers" / "FORMAT.md").read_text("utf-8")
    example = load_marked(re.search(r"```yaml\n(.*?)```", text, re.DOTALL)[1], "FORMAT.md").data
    vocabulary = load_vocabulary()
    context = {"zone": example["zone"], "resolve": lambda name, _kinds: name, "component": vocabulary.component, "operation": vocabulary.operation, "complaint": vocabulary.complaint}
    checked = 0
    for section, cls in SECTIONS.items():
        for raw in example.get(section, []):
            cls.handed_in({k: v for k, v in raw.items() if k != "file"}, context)
            checked += 1
    assert checked == 3


def test_every_key_of_an_assessment_is_in_the_manual():
    manual = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| ([a-z ]+) \| (`.*) \|$", manual, re.MULTILINE))
    values = {
        "top": assessment.Assessment, "candidate": assessment.Candidate, "finding": assessment.FindingResult,
        "weight": assessment.Weight, "alternative": assessment.AlternativeResult, "plan step": assessment.PlanStep,
        "plan": capture_plan.CapturePlan, "explanation": capture_plan.Explanation, "capture step": capture_plan.CaptureStep,
        "asked by": capture_plan.AskedBy, "gone": capture_plan.Gone, "warned": capture_plan.Warned,
    }  # fmt: skip
    for name, cls in values.items():
        fields = {f.name for f in dataclasses.fields(cls)}
        assert set(re.findall(r"`(\w+)`", rows[name])) - {"format"} == fields, name


def test_numbered_checks_are_the_same_in_code_and_manual():
    manual = set(re.findall(r"^\| ([RHFPDKB]\d) \|", (ROOT / "DEVELOPERS.md").read_text("utf-8"), re.MULTILINE))
    in_code = {m for module in (chain, recheck, recheck_heads, recheck_book) for m in re.findall(r"^([RHFPDKB]\d)    ", module.__doc__, re.MULTILINE)}
    assert manual == in_code
    source = "".join(Path(module.__file__).read_text("utf-8") for module in (chain, recheck, recheck_heads, recheck_book, head_standing))
    assert in_code - set(re.findall(r'Fault\(\s*"(\w\d)"', source)) <= {"D1"}


def test_the_page_on_practice_says_for_each_row_where_its_source_was_read():
    page = (ROOT / "evidence" / "practice.md").read_text("utf-8")
    rows = [[c.strip() for c in line.strip("|").split("|")] for line in page.splitlines() if line.startswith("| ") and not line.startswith("| **")]
    assert rows[0] == ["requirement", "source", "the program", "you"]
    assert len(rows) > 20
    for requirement, source, _program, _you in rows[1:]:
        assert re.search(r"\b(read|abstract|memory|common practice, no source)\b", source), requirement
    for standard in ("ISO/IEC 27037", "E860", "E1188", "E1459", "E1492", "SWGDE"):
        assert any(standard in source for _, source, *_ in rows), standard
    assert page.count("not met") >= 4, "what the program does not do is said"
    from evidence.cli.main import app

    groups = {g.name: {c.name for c in g.typer_instance.registered_commands} for g in app.registered_groups}
    commands = {c.name for c in app.registered_commands} | set(groups)
    for named in re.findall(r"`([a-z]+)(?: ([a-z]+))?`", page):
        if named[0] in groups and named[1]:
            assert named[1] in groups[named[0]] or named[0] == "record", named
        elif named[1]:
            assert named[0] in commands, named
    fields = {name for cls in SECTIONS.values() for name in cls.model_fields}
    singles = set(re.findall(r"`([a-z_-]+)`", page))
    assert singles >= {"custody", "item", "seal_opened", "--knowing"}
    assert {w for w in singles if w.lstrip("-") not in commands | fields} == set()


def test_every_kind_of_challenge_is_in_the_manual_in_its_order():
    manual = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    part = manual[manual.index("## Challenges") : manual.index("## Reviews")]
    assert re.findall(r"^\| `(\w+)` \|", part, re.MULTILINE) == list(SAID)

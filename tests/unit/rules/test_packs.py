"""The rule packs that come with the program, and how broken ones are refused."""

import re
from importlib.resources import files
from itertools import chain
from typing import get_args

import pytest
from evidence.capture.marked_yaml import load_marked
from evidence.capture.packs import load_packs
from evidence.errors import BadPack, SourceUnusable
from evidence.model.repair import Intervention
from evidence.rules.asks import Computed, Measure, Observe, Taken, parts_of, question
from evidence.rules.common import COMMON, general_alternatives
from evidence.rules.pack import LIMBS
from evidence.rules.reading import parse_pack

from build import packs, vocabulary

VOCABULARY = vocabulary()
PACKS = packs()
MECHANISMS = {m.id: m for p in PACKS for m in p.mechanisms}
COIL = MECHANISMS["ign-coil-ground-left-off"]
FOLDER = files("evidence.rules") / "packs"
TEXTS = {entry.name: entry.read_text(encoding="utf-8") for entry in FOLDER.iterdir() if entry.name.endswith(".yaml")}
RAW = {name: load_marked(text, name).data for name, text in TEXTS.items()}

WANTED = {
    "ign-coil-ground-left-off", "gnd-engine-strap-left-off", "pwr-accessory-splice", "chg-alternator-b-plus-loose",
    "eng-timing-mis-set", "lub-drain-plug-loose", "lub-filter-double-gasket", "cool-air-not-bled",
    "fuel-line-not-latched", "ind-intake-gasket-pinched", "exh-sensor-crossed-or-burnt", "tur-oil-feed-dry-or-blocked",
    "brk-caliper-bolt-loose", "whl-fasteners-loose", "bod-glass-bond-leak",
    # wheels to high voltage
    "whl-studs-over-torqued", "whl-pressure-sensor-damaged", "whl-mixed-tyres-awd", "ste-coupler-bolt-loose",
    "ste-tie-rod-nut-loose", "sus-balljoint-bolt-loose", "sus-bush-torqued-at-droop", "sus-hub-nut-wrong",
    "ac-charge-wrong", "ac-debris-not-flushed", "ac-line-seal-pinched", "bod-drain-or-membrane",
    "bod-screw-through-harness", "srs-clockspring-off-centre", "srs-connector-open-seat", "srs-sensor-or-occupant-zero",
    "ads-camera-not-calibrated", "ads-radar-bracket-off", "ads-steering-angle-not-reset", "net-module-not-coded",
    "net-flash-interrupted", "net-bus-damaged", "net-relearn-skipped", "hv-wrong-compressor-oil", "hv-busbar-joint-loose",
    "hv-interlock-or-lid", "hv-wrong-battery-coolant",
}  # fmt: skip

WANTED |= {
    "fuel-tank-seal-or-ring", "fuel-injector-seal-pinched", "fuel-high-pressure-line-reused", "ind-air-box-open",
    "ind-throttle-relearn-skipped", "exh-joint-leak-at-sensor", "exh-silicone-poisoned-sensor",
    "exh-heat-shield-left-off", "dsl-dirt-in-fuel-system", "dsl-injector-seat-leak", "dsl-injector-codes-not-entered",
    "dsl-fluid-cross-fill", "dsl-filter-pressure-hoses-crossed", "tur-debris-left-in-tract", "tur-charge-hose-off",
    "trn-wrong-fluid-or-level", "trn-converter-not-seated", "trn-cooler-line-not-latched", "drv-shaft-clip-or-seal",
    "drv-propshaft-mark-lost", "drv-diff-left-dry", "clu-lining-contaminated", "clu-gearbox-hung",
    "clu-hydraulic-wrong-fluid-or-air", "brk-hose-twisted-or-rubbing", "brk-mineral-oil-in-fluid",
    "brk-disc-on-dirty-hub", "brk-parking-actuator-forced", "brk-bearing-encoder-reversed",
}  # fmt: skip

CAUTIONS = {  # system -> a caution that work on it needs
    "ignition": "SPARK", "electrical grounds and power": "BATT", "charging and battery": "BATT",
    "engine mechanical": "ROT", "lubrication": "LIFT", "cooling": "HOT", "fuel": "FUEL", "induction": "ROT",
    "exhaust and emissions": "HOT", "forced induction": "HOT", "brakes": "LIFT", "wheels and tyres": "LIFT",
    "body, glass and water ingress": "SRS", "steering and suspension": "LIFT", "air conditioning and refrigerant": "REFR",
    "restraint systems": "SRS", "ADAS calibration": "ROAD", "network and module programming": "BATT",
    "hybrid and EV high voltage": "HV",
}  # fmt: skip
CAUTIONS |= {"transmission and driveline": "LIFT", "clutch": "LIFT", "diesel": "FUEL"}


def nodes(node):
    yield node
    inner = node.values() if isinstance(node, dict) else node if isinstance(node, list) else ()
    for child in inner:
        yield from nodes(child)


def texts(node):
    """Every text of a pack but the grades, which are words of the language."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key not in ("if_true", "if_not"):
                yield from texts(value)
    elif isinstance(node, list):
        for value in node:
            yield from texts(value)
    else:
        yield node


def asks_of(mechanism):
    entries = chain(mechanism.findings, mechanism.alternatives)
    return [inner for entry in entries if entry.asks for inner in parts_of(entry.asks)]


def test_the_mechanisms_stay_and_twelve_systems_are_covered():
    assert set(MECHANISMS) >= WANTED
    assert len(MECHANISMS) == 94
    assert len({m.system for m in MECHANISMS.values()}) >= 12


@pytest.mark.parametrize("mechanism", MECHANISMS.values(), ids=MECHANISMS)
def test_an_entry_is_whole(mechanism):
    assert {f.limb for f in mechanism.findings} >= {"D", "L", "E"}
    assert all(f.asks for f in mechanism.findings)
    # an alternative asks for itself, or rests on findings that do
    assert all(a.asks or a.excluded_by for a in mechanism.alternatives)
    assert len(mechanism.alternatives) >= 4
    assert CAUTIONS[mechanism.system] in mechanism.safety.codes
    assert mechanism.capture.before
    assert mechanism.retain
    assert mechanism.loss_items
    assert [f.id for f in mechanism.findings] == [f"F{n}" for n in range(1, len(mechanism.findings) + 1)]


def test_every_test_says_how_long_it_takes_and_with_what():
    for m in MECHANISMS.values():
        for entry in chain(m.findings, m.alternatives):
            assert entry.instrument, f"{m.id} {entry.id}"
            assert entry.minutes, f"{m.id} {entry.id}"
            assert 0 < float(entry.minutes) <= 480, f"{m.id} {entry.id}"


def test_no_meter_goes_to_a_restraint_circuit():
    """Only what the module itself says: no ordinary meter on the circuits."""
    entries = [m for m in MECHANISMS.values() if m.system == "restraint systems"]
    assert len(entries) == 3
    for m in entries:
        live = {e.instrument for e in chain(m.findings, m.alternatives)}
        assert not live & {"multimeter", "test-lamp", "oscilloscope", "clamp-meter", "insulation-tester"}, m.id
        read = {a.measure for a in asks_of(m) if isinstance(a, Measure)}
        assert not read & {"resistance", "voltage", "voltage_drop", "current", "insulation_resistance"}, m.id


def test_high_voltage_findings_that_disturb_come_from_the_qualified_person_or_a_laboratory():
    """The program names the finding to be requested and gives no steps."""
    entries = [m for m in MECHANISMS.values() if m.system == "hybrid and EV high voltage"]
    assert len(entries) == 4
    for m in entries:
        for f in m.findings:
            if f.alters:
                assert re.search(r"qualified person|same person|laboratory", f.statement), f"{m.id} {f.id}"


def test_every_pack_names_its_sources_and_how_far_they_were_checked():
    for pack in PACKS:
        used = {s for m in pack.mechanisms for s in m.sources}
        assert used == set(pack.sources)
        for key, source in pack.sources.items():
            assert ("common practice, no source" in source.text.lower()) == (source.status == "common_practice"), key
            assert source.status != "memory" or "from memory" in source.text


def test_names_stand_in_their_canonical_form():
    """Aliases are for people; a pack writes the name, so that equal asks are written alike."""
    for name, raw in RAW.items():
        for node in nodes(raw):
            if not isinstance(node, dict):
                continue
            for key in ("of", "to", "across", "on", "components", "carries"):
                value = node.get(key, [])
                for word in value if isinstance(value, list) else [value]:
                    if key in ("of", "to") and {"computed", "op", "within"} & set(node):
                        continue
                    known = VOCABULARY.components | VOCABULARY.operations if key == "carries" else VOCABULARY.components
                    assert word in known or word == "mechanism", f"{name}: {key}: {word}"


def test_steps_name_actions_that_interventions_have():
    actions = set(get_args(Intervention.model_fields["action"].annotation))
    steps = [a.after for m in MECHANISMS.values() for a in asks_of(m) if isinstance(a, Taken) and a.after]
    assert steps
    for step in steps:
        assert set(step.action or ()) <= actions


def test_what_is_asked_of_every_part_is_asked_of_parts_that_are_counted():
    for m in MECHANISMS.values():
        for ask in asks_of(m):
            if isinstance(ask, Taken) and ask.over:
                counted = {VOCABULARY.counted_by(c) for c in ask.of}
                assert ask.over.every in counted, f"{m.id}: {question(ask)}"


def test_somebodys_hands_leave_an_alternative_open():
    """That the owner was there is no cause by itself: a group that holds the question would make it one."""
    for m in MECHANISMS.values():
        for a in m.alternatives:
            inside = parts_of(a.asks)[1:] if a.asks else ()
            assert not [p for p in inside if isinstance(p, Computed) and p.computed == "nobody_else"], f"{m.id} {a.id}"


def test_an_observation_never_asks_for_not_visible():
    for m in MECHANISMS.values():
        for ask in asks_of(m):
            if isinstance(ask, Observe):
                assert "not-visible" not in ask.held
                assert len(ask.held) < len(VOCABULARY.aspects[ask.observe]) - 1 or len(ask.held) == 1


AVOIDED = [
    "negligen", "botch", "fraud", r"proved\b", "proven", r"certain\b", "guarantee", "tamper-proof", "original photo",
    "evidence number", "bad ground", "no fault found",
]  # fmt: skip


@pytest.mark.parametrize("word", AVOIDED)
def test_words_to_avoid_do_not_occur(word):
    found = [(n, t) for n, raw in RAW.items() for t in texts(raw) if re.search(rf"\b{word}", t, re.IGNORECASE)]
    assert found == []


def test_equal_asks_are_one_question_in_every_entry():
    def asked(mechanism, entry):
        members = chain(MECHANISMS[mechanism].findings, MECHANISMS[mechanism].alternatives)
        return question(next(e.asks for e in members if e.id == entry))

    assert asked("lub-drain-plug-loose", "F4") == asked("lub-filter-double-gasket", "F3")
    assert asked("fuel-injector-seal-pinched", "F2") == asked("ind-intake-gasket-pinched", "F3")
    assert asked("tur-debris-left-in-tract", "F4") == asked("tur-oil-feed-dry-or-blocked", "F3")
    assert asked("dsl-injector-codes-not-entered", "A2") == asked("exh-sensor-crossed-or-burnt", "A3")
    assert asked("lub-drain-plug-loose", "F5") == asked("lub-filter-double-gasket", "F5")
    assert asked("lub-drain-plug-loose", "A2") == asked("cool-air-not-bled", "A5")
    assert asked("ign-coil-ground-left-off", "A2") == asked("gnd-engine-strap-left-off", "A2")
    assert asked("lub-drain-plug-loose", "A6") == asked("lub-filter-double-gasket", "F6")
    assert asked("eng-timing-mis-set", "A4") != asked("tur-oil-feed-dry-or-blocked", "A4")
    assert asked("lub-drain-plug-loose", "F1") != asked("lub-drain-plug-loose", "F2")


def test_the_coil_ground_entry_in_detail():
    assert [f.id for f in COIL.findings] == [f"F{n}" for n in range(1, 16)]
    assert "".join(f.limb for f in COIL.findings) == "DDXEEXEXXLLLELL"
    by_id = {f.id: f for f in COIL.findings}
    grades = {i: (f.if_true, f.if_not) for i, f in by_id.items()}
    assert grades["F1"] == grades["F2"] == ("certain", "unlikely")
    assert grades["F4"] == grades["F10"] == grades["F12"] == ("certain", "possible")
    assert grades["F13"] == grades["F15"] == ("possible", "unlikely")
    assert grades["F14"] == ("possible", "excluded")
    assert grades["F11"] == ("certain", "expected")
    assert {i for i, f in by_id.items() if f.alters} == {"F9", "F10", "F11", "F12", "F14"}
    assert {i for i, f in by_id.items() if f.one_test == "coil-control"} == {"F4", "F13", "F15"}
    assert {i for i, f in by_id.items() if f.branch} == {"F13", "F15"}
    change = by_id["F10"].asks
    assert (change.change, change.across, change.before, change.after) == ("F4", ("coil-ground-eyelet",), "met", "met")
    assert change.cured.held.op == "<="
    assert [a.kind for a in COIL.alternatives] == [
        "wear", "pre_existing", "owner_work", "wrong_part", "later_repairer", "unrelated", "water", "unrelated",
    ]  # fmt: skip
    assert (COIL.latency.days, COIL.latency.km) == (("0", "30"), ("0", "1500"))
    assert set(COIL.safety.codes) == {"SPARK", "FUEL", "ROT"}


def test_common_entries_are_asked_of_the_mechanism_at_hand():
    general = general_alternatives(COIL.components)
    assert [f.id for f in COMMON] == [f"C{n}" for n in range(1, 11)]
    assert len({a.kind for a in general}) == 8
    assert all(a.asks for a in general)
    placed = [a.asks for a in general if isinstance(a.asks, Observe)]
    assert [a.of for a in placed] == [COIL.components] * 3
    assert all(set(a.held) <= set(VOCABULARY.aspects[a.observe]) for a in placed)
    assert all(isinstance(f.asks, Computed) for f in COMMON)


def test_limbs_have_words():
    assert {f.limb for m in MECHANISMS.values() for f in m.findings} == set(LIMBS)


# ---------------------------------------------------------------------------------------------- broken packs

GOOD = TEXTS["lubrication.yaml"]
GOOD = GOOD[: GOOD.index("- id: lub-filter-double-gasket")].replace(
    GOOD[GOOD.index("  S25:") : GOOD.index("  S31:")], ""
)


def line_of(text, part):
    return text[: text.index(part)].count("\n") + 1


def parse(text, name="shop.yaml"):
    marked = load_marked(text, name)
    return parse_pack(marked.data, file=name, locate=marked.locate, vocabulary=VOCABULARY)


def test_the_good_pack_stands():
    assert [m.id for m in parse(GOOD).mechanisms] == ["lub-drain-plug-loose"]


BROKEN = [  # what is replaced, by what, and what must be said
    ("system: lubrication", "system: lubricating", "'lubricating' is not a system known here"),
    ("complaints: [oil-loss,", "complaints: [oil-lost,", "'oil-lost' is not a complaint known here"),
    ("prior_operations: [oil-change]", "prior_operations: [oil-chnge]", "'oil-chnge' is not a operation known here"),
    ("components: [drain-plug,", "components: [drian-plug,", "'drian-plug' is not a component known here"),
    ("code: fastener-not-torqued", "code: fastener-loose", "'fastener-loose' is not a departure code known here"),
    ("if_true: certain", "if_true: sure", "'sure' is not one of the words for this"),
    ("limb: D", "limb: Q", "'Q' is not one of the words for this"),
    ("limb: L", "limb: E", "has no finding of the limb L (link)"),
    ("is: [missing, backed-out,", "is: [missing, backt-out,", "'backt-out' is not a word of fastener"),
    ("observe: fastener,", "observe: fastner,", "'fastner' is not an aspect known here"),
    ("of: drain-plug, state", "of: drain-bung, state", "'drain-bung' is not a component known here"),
    ("measure: breakaway_torque", "measure: brekaway_torque", "brekaway_torque"),
    ("of: maker/drain-plug-torque", "of: drain-plug-torque", "'drain-plug-torque' is no reference"),
    ("every: engine-bearing", "every: enginebearing", "'enginebearing' is not a count of the vehicle"),
    ("state: undisturbed", "sate: undisturbed", "'sate' is not a field here"),
    ("excluded_by: [F3]", "excluded_by: [F33]", "'F33' is not a finding of this entry"),
    ("sources: [S31, CP]", "sources: [S31, CP, S99]", "'S99' is not a source of this pack"),
    ("- id: F2\n", "- id: F1\n", "the id 'F1' stands twice in this entry"),
    ("- id: F6\n", "- id: C6\n", "the id 'C6' belongs to a common finding"),
    ("codes: [HOT, LIFT]", "codes: [HOT, LIFTED]", "'LIFTED' is not a caution code known here"),
    ("days: [\"0\", \"60\"]", "days: [\"60\", \"0\"]", "ends before it starts"),
    ("    test: thread gauge of plug and pan\n", "", "'test' is missing"),
    ("  - plug backs out\n  - oil lost\n  - pressure lamp\n", "", "a chain has 2 to 5"),
    ("threshold: {observe: free of impact}", "threshold: {op: \">\"}", "is not {op, value}, {between}"),
    ("status: common_practice", "status: trade lore", "is not one of the words for this"),
    ("kind: wear", "kind: old", "'old' is not one of the words for this"),
    ("alters: false", "alters: maybe", "'maybe' is neither yes nor no"),
    ("computed: captured_undisturbed", "computed: seen_it", "'seen_it' is not one of the words for this"),
    ("version: \"2\"\n", "", "'version' is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("good", "bad", "said"), BROKEN, ids=[b[2][:40] for b in BROKEN])
def test_a_broken_pack_is_refused_with_file_and_line(good, bad, said):
    assert good in GOOD
    with pytest.raises(BadPack) as caught:
        parse(GOOD.replace(good, bad, 1))
    told = [line for line in str(caught.value).splitlines() if said in line]
    assert told, str(caught.value)
    assert re.match(r"  shop\.yaml:[1-9]\d*:[1-9]\d*: ", told[0]), told[0]


def test_the_line_is_the_line_of_the_fault():
    text = GOOD.replace("if_true: certain", "if_true: sure", 1)
    with pytest.raises(BadPack) as caught:
        parse(text)
    assert f"shop.yaml:{line_of(text, 'if_true: sure')}:" in str(caught.value)
    assert "lub-drain-plug-loose, F1, if_true" in str(caught.value)


def test_every_fault_of_a_pack_is_named():
    text, wanted = GOOD, []
    for good, bad, said in BROKEN:
        # a word of an aspect that does not exist cannot be judged, and what is gone has no words
        together = not said.startswith(("'fastner'", "'version' is missing", "a chain has", "'sate'"))
        if together and good in text:
            text = text.replace(good, bad, 1)
            wanted.append(said)
    with pytest.raises(BadPack) as caught:
        parse(text)
    assert len(wanted) > 20
    missing = [w for w in wanted if w not in str(caught.value)]
    assert missing == []


REQUIRED = [
    "id", "title", "system", "complaints", "prior_operations", "components", "departure", "chain", "findings",
    "alternatives", "capture", "retain", "latency", "loss_items", "safety", "sources",
]  # fmt: skip


@pytest.mark.parametrize("key", REQUIRED)
def test_no_key_of_an_entry_may_be_left_out(key):
    raw = load_marked(GOOD, "shop.yaml").data
    del raw["mechanisms"][0][key]
    with pytest.raises(BadPack, match=f"'{key}' is missing"):
        parse_pack(raw, file="shop.yaml", vocabulary=VOCABULARY)


def test_further_packs_are_read_and_all_their_faults_listed(tmp_path):
    mine = tmp_path / "mine.yaml"
    mine.write_text(GOOD.replace("lub-drain-plug-loose", "shop-drain-plug"), encoding="utf-8")
    assert len(load_packs(VOCABULARY, [mine])) == len(PACKS) + 1
    again, bad = tmp_path / "again.yaml", tmp_path / "bad.yaml"
    again.write_text(GOOD, encoding="utf-8")
    bad.write_text(GOOD.replace("limb: D", "limb: Q"), encoding="utf-8")
    unread = tmp_path / "unread.yaml"
    unread.write_text("id: [", encoding="utf-8")
    with pytest.raises(BadPack) as caught:
        load_packs(VOCABULARY, [again, bad, unread])
    assert "'lub-drain-plug-loose' is a mechanism of packs/lubrication.yaml already" in str(caught.value)
    assert "'Q' is not one of the words for this" in str(caught.value)
    assert re.search(r"unread\.yaml:\d+:\d+: ", str(caught.value))
    with pytest.raises(SourceUnusable, match="cannot be read"):
        load_packs(VOCABULARY, [tmp_path / "absent.yaml"])


def test_a_range_of_grades_without_a_source_is_told():
    from evidence.rules.lint import lint

    from build import packs, vocabulary

    pack = next(p for p in packs() if p.id == "ignition")
    entry = pack.mechanisms[0]
    first = entry.findings[0].model_copy(update={"if_true_range": ("expected", "certain")})
    ranged = entry.model_copy(update={"findings": (first, *entry.findings[1:])})

    def told(mechanism):
        return [m.message for m in lint(pack.model_copy(update={"mechanisms": (mechanism,)}), vocabulary())]

    assert not any("range of grades" in t for t in told(ranged))
    practice = tuple(k for k, s in pack.sources.items() if s.status == "common_practice")
    assert any("range of grades" in t for t in told(ranged.model_copy(update={"sources": practice})))

"""The vocabulary that comes with the program, and how a badly written one is refused."""

import csv
import re
from pathlib import Path

import pytest
from evidence.capture.marked_yaml import load_marked
from evidence.capture.packs import load_vocabulary
from evidence.errors import BadPack
from evidence.model.repair import Intervention
from evidence.rules.vocabulary import Vocabulary
from evidence.rules.word_lists import NOT_VISIBLE
from hypothesis import given
from hypothesis import strategies as st

from build import vocabulary

VOCABULARY = vocabulary()
NAMES = sorted(VOCABULARY.components)
DATA = Path(__file__).parents[2] / "data"

# What the wording of US federal defect complaints should be read as. Two phrases name nothing that can be looked at,
# one names two things at once: those are left unmapped on purpose, and the program asks.
WORDING = {
    "ELECTRICAL SYSTEM": "electrical-system",
    "POWER TRAIN": "powertrain",
    "ENGINE": "engine",
    "AIR BAGS": "airbag",
    "STEERING": "steering",
    "ENGINE AND ENGINE COOLING": None,  # two components
    "UNKNOWN OR OTHER": None,  # no component
    "SERVICE BRAKES, HYDRAULIC": "brake-system",
    "STRUCTURE": "body",
    "SUSPENSION": "suspension",
    "VEHICLE SPEED CONTROL": "speed-control",
    "TIRES": "tyre",
    "SERVICE BRAKES": "brake-system",
    "EXTERIOR LIGHTING": "exterior-lighting",
    "FUEL/PROPULSION SYSTEM": "fuel-system",
    "FUEL SYSTEM, GASOLINE": "fuel-system",
    "VISIBILITY": "visibility",
    "SEAT BELTS": "seat-belt",
    "EQUIPMENT": None,  # no component
    "SEATS": "seat",
    "FORWARD COLLISION AVOIDANCE": "driver-assistance",
    "WHEELS": "wheel",
    "VISIBILITY/WIPER": "wiper",
    "ELECTRONIC STABILITY CONTROL (ESC)": "stability-control",
    "LATCHES/LOCKS/LINKAGES": "central-locking",
    "PARKING BRAKE": "parking-brake",
    "FUEL SYSTEM, DIESEL": "diesel-fuel-system",
    "INTERIOR LIGHTING": "interior-lighting",
    "TRACTION CONTROL SYSTEM": "traction-control",
    "HYBRID PROPULSION SYSTEM": "hv-system",
    "POWER TRAIN:AUTOMATIC TRANSMISSION": "transmission",
    "SERVICE BRAKES, HYDRAULIC:ANTILOCK/TRACTION CONTROL/ELECTRONIC LIMITED SLIP": "abs-unit",
    "ENGINE AND ENGINE COOLING:ENGINE": "engine",
    "ELECTRICAL SYSTEM:IGNITION": "ignition-system",
    "ENGINE AND ENGINE COOLING:COOLING SYSTEM": "cooling-system",
    "ELECTRICAL SYSTEM:IGNITION:SWITCH": "ignition-switch",
    "ELECTRICAL SYSTEM: INSTRUMENT CLUSTER/PANEL": "instrument-cluster",
    "FUEL SYSTEM, GASOLINE:DELIVERY:FUEL PUMP": "fuel-pump",
    "ENGINE AND ENGINE COOLING:EXHAUST SYSTEM": "exhaust-system",
    "ELECTRICAL SYSTEM:WIRING": "wiring",
    "ELECTRICAL SYSTEM:12V/24V/48V BATTERY": "battery",
    "ELECTRICAL SYSTEM:WIRING:INTERIOR/UNDER DASH": "dash-harness",
    "ELECTRICAL SYSTEM:WIRING:FRONT UNDERHOOD": "engine-harness",
    "ELECTRICAL SYSTEM:ALTERNATOR/GENERATOR/REGULATOR": "alternator",
    "ELECTRICAL SYSTEM:HORN": "horn",
    "FUEL SYSTEM, GASOLINE:FUEL INJECTION SYSTEM": "fuel-injection",
    "AIR BAGS:FRONTAL:SENSOR/CONTROL MODULE": "restraint-module",
    "ENGINE AND ENGINE COOLING:ENGINE:GASOLINE:BELTS AND ASSOCIATED PULLEYS": "accessory-belt",
    "ELECTRICAL SYSTEM:IGNITION:MODULE": "ignition-module",
    "ELECTRICAL SYSTEM:WIRING:FUSES AND CIRCUIT BREAKERS": "fuse",
    "WHEELS:LUGS/NUTS/BOLTS/STUDS": "wheel-nut",
    "ENGINE AND ENGINE COOLING:EXHAUST SYSTEM:EMISSION CONTROL ": "emission-control",
    "ENGINE AND ENGINE COOLING:COOLING SYSTEM:RADIATOR ASSEMBLY": "radiator",
    "SERVICE BRAKES, HYDRAULIC:ANTILOCK/TRACTION CONTROL/ELECTRONIC LIMITED SLIP:CONTROL UNIT/MODULE ": "abs-unit",
    "POWER TRAIN:AUTOMATIC TRANSMISSION:CONTROL MODULE (TCM/PCM/TECM)": "transmission-control-module",
    "ENGINE AND ENGINE COOLING:COOLING SYSTEM:FAN": "cooling-fan",
    "ELECTRICAL SYSTEM:STARTER ASSEMBLY": "starter",
    "FUEL SYSTEM, GASOLINE:FUEL INJECTION SYSTEM:INJECTORS": "injector",
    "STEERING:ELECTRIC POWER ASSIST SYSTEM": "steering-assist",
    "ELECTRICAL SYSTEM:IGNITION:ANTI-THEFT:CONTROL MODULE": "immobiliser",
}


def test_it_covers_a_vehicle():
    assert len(VOCABULARY.components) > 400
    assert len(VOCABULARY.systems) == 22
    assert {c.system for c in VOCABULARY.components.values()} == set(VOCABULARY.systems)


def test_the_wording_of_defect_complaints_is_understood():
    """Source: tests/data/README.md (US federal data)."""
    with (DATA / "defect-complaint-components.csv").open(encoding="utf-8", newline="") as lines:
        phrases = [row["component"] for row in csv.DictReader(lines)]
    assert phrases == list(WORDING)
    read = {}
    for phrase in phrases:
        try:
            read[phrase] = VOCABULARY.component(phrase)
        except ValueError:
            read[phrase] = None
    assert read == WORDING


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Coil Ground", "coil-ground"),
        ("coil_grounds", "coil-ground"),
        ("coil earth", "coil-ground"),
        ("windshield adhesive", "windscreen-bond"),
        ("WINDSCREEN ADHESIVE", "windscreen-bond"),
        ("sump plug", "drain-plug"),
        ("hood", "bonnet"),
        ("lug nuts", "wheel-nut"),
        ("sparkplug", "spark-plug"),
        ("gearbox", "transmission"),
        ("Engine Control Unit", "engine-control-module"),
        ("fender", "wing"),
        ("rear tire", None),
    ],
)
def test_both_sides_of_the_atlantic(written, name):
    if name is None:
        with pytest.raises(ValueError, match="not a component known here"):
            VOCABULARY.component(written)
    else:
        assert VOCABULARY.component(written) == name


def test_every_name_and_alias_reads_as_its_component():
    for component in VOCABULARY.components.values():
        for word in (component.name, component.title, *component.also):
            assert VOCABULARY.component(word) == component.name, word


def test_every_operation_alias_reads_as_its_operation():
    for operation in VOCABULARY.operations.values():
        for word in (operation.name, *operation.also):
            assert VOCABULARY.operation(word) == operation.name


def test_an_unknown_name_is_refused_with_the_nearest():
    with pytest.raises(ValueError, match="did you mean 'coil-ground'"):
        VOCABULARY.component("coil grund")
    with pytest.raises(ValueError, match="did you mean 'valve-cover'"):
        VOCABULARY.operation("valve-covr")
    with pytest.raises(ValueError, match="did you mean 'crank-no-start'"):
        VOCABULARY.complaint("crank-no-strat")


def test_containment_and_what_an_operation_disturbs():
    assert VOCABULARY.within("coil-ground-eyelet", "ignition-system")
    assert VOCABULARY.within("coil-ground", "coil-ground")
    assert not VOCABULARY.within("ignition-system", "coil-ground")
    assert not VOCABULARY.within("coil-ground", "brake-system")
    assert {"coil-ground-eyelet", "coil-ground-stud", "coil-control"} <= VOCABULARY.disturbed_by("valve-cover")
    assert "drain-plug-washer" in VOCABULARY.disturbed_by("oil-change")
    assert "drain-plug" not in VOCABULARY.disturbed_by("valve-cover")
    assert VOCABULARY.counted_by("coil-ground") == "coil"
    assert VOCABULARY.counted_by("coil-control") == "cylinder"
    assert VOCABULARY.counted_by("coolant") is None


def test_accessory_work_has_no_hands_on_the_coil_ground():
    """An owner's trailer socket must not look like work on the coils."""
    assert not {c for c in VOCABULARY.disturbed_by("accessory-install") if VOCABULARY.within(c, "coil-harness")}


@given(st.sampled_from(NAMES), st.sampled_from(NAMES), st.sampled_from(NAMES))
def test_containment_is_transitive(a, b, c):
    if VOCABULARY.within(a, b) and VOCABULARY.within(b, c):
        assert VOCABULARY.within(a, c)
    assert VOCABULARY.within(a, b) == (a in VOCABULARY.parts_of(b))


@given(st.sampled_from(NAMES), st.sampled_from(" -_/"), st.sampled_from([str.upper, str.title, str.lower]))
def test_case_and_separators_do_not_matter(name, separator, case):
    assert VOCABULARY.component(case(name.replace("-", separator))) == name


def test_every_aspect_can_say_nothing_there_and_not_visible():
    assert VOCABULARY.aspects
    for aspect, words in VOCABULARY.aspects.items():
        assert words[0] == VOCABULARY.aspect_entries[aspect].in_order
        assert words[-1] == NOT_VISIBLE
        assert len(set(words)) == len(words) >= 3
    assert VOCABULARY.aspect_word("ground_seat", "On Insulated Seat") == "on-insulated-seat"
    with pytest.raises(ValueError, match="right would be seated, off"):
        VOCABULARY.aspect_word("ground_seat", "wobbly")
    with pytest.raises(ValueError, match="did you mean 'ground_seat'"):
        VOCABULARY.aspect_word("ground_seet", "off")


SMALL = """\
version: "1"
spellings:
  tire: tyre
components:
  ignition:
    ignition-system: {}
    coil: {also: [coil pack], in: ignition-system}
  wheels:
    tyre: {title: tyre}
operations:
  ignition-coil: {title: coil replacement, also: [new coil], disturbs: [coil]}
counts:
  coil: [coil]
aspects:
  spark: {in_order: present, words: [absent]}
complaints:
  misfire: engine misfires
departures:
  wrong-part: wrong size
cautions:
  HOT: hot parts
"""


def small(text=SMALL):
    marked = load_marked(text, "small.yaml")
    return Vocabulary.parse(marked.data, places=[(marked.file, marked.locate_key)])


def test_the_small_vocabulary_stands():
    assert small().component("TIRES") == "tyre"


BROKEN = [
    ("in: ignition-system", "in: ignition-sistem", 7, "'ignition-sistem' is not a component"),
    ("ignition-system: {}", "ignition-system: {in: coil}", 6, "lies in itself"),
    ("also: [coil pack]", "also: [tyres]", 9, "reads the same as a name of 'coil'"),
    ("disturbs: [coil]", "disturbs: [coyl]", 11, "'coyl' is not a component"),
    ("also: [new coil]", "alias: [new coil]", 11, "'alias' is not a field here"),
    ("  coil: [coil]", "  coil: [koil]", 13, "'koil' is not a component"),
    ("  coil: [coil]", "  coil: [coil]\n  rail: [coil]", 14, "counted by 'coil' already"),
    ("in_order: present, ", "", 15, "in_order missing"),
    ("words: [absent]", "words: [absent, present]", 15, "'present' stands twice"),
    ("words: [absent]", "words: [Absent One]", 15, "not a word in small letters"),
    ("  spark:", "  Spark Plug:", 15, "not a name in small letters"),
    ("aspects:", "aspekts:", 14, "not a section"),
    ("tyre: {title: tyre}", "tyre: {}\n    coil: {}", 10, "is defined twice"),
    ("title: coil replacement", "title: []", 11, "is not a text or a list of texts"),
    ("tyre: {title: tyre}", "tyre: [round]", 9, "is not a group of fields"),
    ("  wrong-part: wrong size", "  wrong-part: [a]", 19, "is not a text"),
    ("counts:\n  coil: [coil]", "counts: none", 12, "is not a group of fields"),
]


@pytest.mark.parametrize(("good", "bad", "line", "said"), BROKEN)
def test_a_broken_vocabulary_is_refused_with_its_place(good, bad, line, said):
    assert SMALL.count(good) >= 1
    with pytest.raises(BadPack) as caught:
        small(SMALL.replace(good, bad, 1))
    assert re.search(rf"small\.yaml:{line}:\d+: .*{re.escape(said)}", str(caught.value)), str(caught.value)


def test_every_fault_is_named_at_once():
    text = SMALL.replace("in: ignition-system", "in: x").replace("disturbs: [coil]", "disturbs: [y]")
    with pytest.raises(BadPack) as caught:
        small(text.replace("words: [absent]", "words: [present]"))
    assert str(caught.value).startswith("3 faults in the vocabulary")
    for said in ("'x' is not a component", "'y' is not a component", "'present' stands twice"):
        assert said in str(caught.value)


def test_a_further_file_adds_and_cannot_redefine(tmp_path):
    more = tmp_path / "shop.yaml"
    more.write_text("components:\n  ignition:\n    glow-lamp: {in: ignition-system}\n    coil: {also: [sparker]}\n")
    wider = load_vocabulary([more])
    assert wider.component("sparker") == "coil"
    assert wider.within("glow-lamp", "ignition-system")
    more.write_text("components:\n  ignition:\n    coil: {title: something else}\n")
    with pytest.raises(BadPack, match=r"shop\.yaml:3:\d+: components\.ignition\.coil: is defined twice"):
        load_vocabulary([more])


def test_every_component_has_a_place_in_a_system_and_no_brand_like_capitals():
    for component in VOCABULARY.components.values():
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", component.name)
        for word in component.also:
            assert word == word.lower(), word


def test_interventions_named_by_the_packs_exist():
    actions = Intervention.model_fields["action"].annotation.__args__
    assert {"refitted", "removed", "filled", "drained", "loosened", "opened", "disconnected"} <= set(actions)

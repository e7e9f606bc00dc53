"""Validation that a technician understands: every message is read here."""

from __future__ import annotations

from typing import Any

import pytest
from evidence.model.kinds import KINDS
from evidence.model.mistakes import mistakes_of
from evidence.model.vehicle import Vehicle, vin_note
from pydantic import ValidationError

from fakes import small_vocabulary

VOCABULARY = small_vocabulary()


def mistakes(kind: str, **fields: Any) -> list[str]:
    """What is said of a record as a person wrote it."""
    context = {"zone": "UTC", "component": VOCABULARY.component, "operation": VOCABULARY.operation, "complaint": VOCABULARY.complaint}
    try:
        KINDS[kind].handed_in(fields, context)
    except ValidationError as err:
        return [str(m) for m in mistakes_of(err, KINDS[kind], file="", item="x")]
    return []


# 49 CFR 565.15(c) with its sample table (1G4AH59H45G118341); the others are common test numbers recomputed by its rule.
@pytest.mark.parametrize("vin", ["1G4AH59H45G118341", "11111111111111111", "1M8GDM9AXKP042788", "5GZCZ43D13S812715", "1m8gdm9axkp042788"])
def test_a_vin_whose_check_digit_holds(vin: str) -> None:
    assert vin_note(vin) == ""
    assert Vehicle.handed_in({"description": "v", "vin": vin}, {}).vin == vin.upper()


@pytest.mark.parametrize("vin", ["1M8GDM9A1KP042788", "5GZCZ43D13S812716"])
def test_a_wrong_check_digit_of_a_north_american_vin_is_refused(vin: str) -> None:
    assert mistakes("vehicle", description="v", vin=vin) == [
        f"x, vin: '{vin}': the check digit (9th character '{vin[8]}') does not fit the rest (read it again from the plate: on a vehicle made for North America it must (49 CFR 565.15))"
    ]


@pytest.mark.parametrize(
    ("vin", "said"),
    [
        ("1M8GDM9AXKP04278", "has 16 characters; a VIN has 17 (give the plate and leave the VIN out if unknown)"),
        ("1M8GDM9AXKP0427888", "has 18 characters"),
        ("IM8GDM9AXKP042788", "holds I, which no VIN does (I, O and Q never occur)"),
        ("1M8GDM9AXKPO4278Q", "holds O, Q, which no VIN does"),
        ("1M8GDM9AXKP04278!", "holds !, which no VIN does"),
    ],
)
def test_what_can_be_no_vin_is_refused(vin: str, said: str) -> None:
    """49 CFR 565.13 and 565.15: seventeen characters, no I, O or Q."""
    with pytest.raises(ValueError) as err:
        vin_note(vin)
    assert said in str(err.value)


def test_the_check_digit_binds_only_vehicles_made_for_north_america() -> None:
    """ISO 3779 leaves position 9 to the maker elsewhere: a Z there is accepted with a note."""
    vehicle = Vehicle.handed_in({"description": "v", "vin": "WVZZZZ1KZ8W123456"}, {})
    assert vehicle.vin_note == "check digit does not hold; it binds only vehicles made for North America, so this is no proof of an error"
    assert Vehicle.stored(vehicle.body()) == vehicle


def test_39_of_512_single_replacements_go_unnoticed_as_the_code_itself_has_it() -> None:
    """Letters of equal value in 49 CFR 565.15(c): a property of the code, recomputed from its table."""
    vin, unnoticed, tried = "1M8GDM9AXKP042788", 0, 0
    for at in (*range(8), *range(9, 17)):
        for letter in "ABCDEFGHJKLMNPRSTUVWXYZ0123456789":
            if letter == vin[at]:
                continue
            tried += 1
            try:
                unnoticed += vin_note(vin[:at] + letter + vin[at + 1 :]) == ""
            except ValueError:
                continue
    assert (tried, unnoticed) == (512, 39)


def scan(code: str) -> list[str]:
    module = {"module": "engine control module", "result": "codes", "codes": [{"code": code}]}
    return mistakes("code_scan", modules=[module], before_clearing="yes")


# SAE J2012 / ISO 15031-6: the two bytes and the code that they are.
BYTES = [
    ("0133", "P0133"), ("0143", "P0143"), ("0300", "P0300"), ("0562", "P0562"), ("248B", "P248B"), ("1123", "P1123"), ("4123", "C0123"),
    ("8001", "B0001"), ("C100", "U0100"), ("C073", "U0073"), ("D016", "U1016"), ("9ABC", "B1ABC"), ("3FFF", "P3FFF"), ("FFFF", "U3FFF"),
]  # fmt: skip


@pytest.mark.parametrize(("two_bytes", "code"), BYTES)
def test_trouble_codes_of_the_standard(two_bytes: str, code: str) -> None:
    value = int(two_bytes, 16)
    assert "PCBU"[value >> 14] + str(value >> 12 & 3) + two_bytes[1:] == code  # the standard's own rule
    assert scan(code) == scan(code.lower()) == scan(code + "-1A") == []


@pytest.mark.parametrize("code", ["P4000", "X0100", "P030", "P03000", "0300", "P0G00", "P0300-1", "P0300-1G", "P0300 ", "none", ""])
def test_what_is_no_trouble_code_is_refused(code: str) -> None:
    if code == "P0300 ":
        assert scan(code) == []  # a blank at the end is no mistake
        return
    (said,) = scan(code)
    assert "is not a trouble code such as P0351 or U0100-87 (SAE J2012)" in said or "is empty" in said


def test_silence_an_empty_memory_and_codes_are_three_things() -> None:
    for result in ("none_stored", "no_communication"):
        assert mistakes("code_scan", modules=[{"module": "engine control module", "result": result}], before_clearing="no") == []
    assert mistakes("code_scan", modules=[{"module": "engine control module", "result": "codes"}], before_clearing="no") == [
        "x, modules.1: result 'codes' with 0 codes listed (say 'codes' exactly when some are listed)"
    ]
    said = mistakes("code_scan", modules=[{"module": "engine control module", "result": "none_stored", "codes": [{"code": "P0300"}]}], before_clearing="no")
    assert said == ["x, modules.1: result 'none_stored' with 1 codes listed (say 'codes' exactly when some are listed)"]


MEASURED = {"quantity": "voltage_drop", "value": "0.240", "unit": "V", "of": "coil-ground"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"unit": "A"}, "x: a voltage drop is not measured in A (right would be V, mV, kV)"),
        ({"unit": "volzs"}, "x, unit: 'volzs' is not a known unit (did you mean 'volts'?)"),
        ({"unit": "9**9**9 V"}, "x, unit: '9**9**9 V' is not a known unit"),
        ({"value": "0,24"}, "x, value: '0,24' is not a plain decimal number such as 12.60 or -0.5 (write 0.24)"),
        ({"value": "12.6V"}, "x, value: '12.6V' is not a plain decimal number such as 12.60 or -0.5 (the unit goes into its own field)"),
        ({"value": "1e3"}, "x, value: '1e3' is not a plain decimal number such as 12.60 or -0.5 (the unit goes into its own field)"),
        ({"value": "nan"}, "x, value: 'nan' is not a plain decimal number such as 12.60 or -0.5"),
        ({"value": "+1"}, "x, value: '+1' is not a plain decimal number such as 12.60 or -0.5"),
        ({"value": "007"}, "x, value: '007' is not a plain decimal number such as 12.60 or -0.5"),
        ({"value": "٣"}, "x, value: '٣' is not a plain decimal number such as 12.60 or -0.5"),
        ({"quantity": "voltagedrop"}, "x: 'voltagedrop' is not a quantity known here (did you mean 'voltage_drop'?)"),
        ({"of": "coil grund"}, "x, of: 'coil grund' is not a component known here (did you mean 'coil-ground'?)"),
        ({"conditions": ["crankin"]}, "x, conditions.1: 'crankin' is not one of the words for this (did you mean 'cranking'?)"),
        ({"conditions": "cranking"}, "x, conditions: is not a list (write one item a line, each with '- ' in front)"),
        ({"state": "undisturbd"}, "x, state: 'undisturbd' is not one of the words for this (did you mean 'undisturbed'?)"),
        ({"state": "zzz"}, "x, state: 'zzz' is not one of the words for this (one of: undisturbed, disturbed, after_repair)"),
        ({"limit": "0.2 V"}, "x, limit: '0.2 V' is not a limit such as '> 0.2 V' or '130 .. 150 psi'"),
        ({"limit": "> 0.2 A"}, "x: a voltage drop is not measured in A (right would be V, mV, kV)"),
        ({"limit": "3 .. 2 V"}, "x, limit: the lower end of the limit stands above its upper end"),
        ({"circumstances": {"current": "2 V"}}, "x: a current is not measured in V (right would be A, mA, µA)"),
        ({"circumstances": {"current": "2A"}}, "x, circumstances.current: '2A' is not a value and a unit such as 12.60 V"),
        ({"instument": "meter"}, "x, instument: 'instument' is not a field here (did you mean 'instrument'?)"),
        ({"b[y": "meter"}, "x, b[y: 'b[y' is not a field here (did you mean 'by'?)"),
        ({"time": "soon"}, "x, time: 'soon' is not a time (write 2026-03-02, 2026-03-02 14:30, 2026-03-02T14:30:05+01:00, 2026-03, or two of them with ' / ' between)"),
        ({"note": "a\x07b"}, "x, note: contains the character U+0007, which no text here may hold"),
        ({"note": "   "}, "x, note: is empty (leave the field out when it is not known)"),
        ({"note": "n" * 20_001}, "x, note: is longer than 20000 characters (shorten it, or put the long text into a file and exhibit it)"),
        ({"name": "Drop One"}, "x, name: 'Drop One' is not a short name: small letters, digits, '-', '_' and '.', at most 64, such as photo-eyelet"),
        ({"limit": {"unit": "V"}}, "x, limit: a limit has either an operator with a value, or 'between' with two values"),
    ],
)  # fmt: skip
def test_a_measurement_that_is_wrong(change: dict[str, Any], said: str) -> None:
    assert mistakes("measurement", **MEASURED) == []
    assert mistakes("measurement", **{**MEASURED, **change}) == [said]


def test_a_missing_field_is_named_with_what_to_add() -> None:
    assert mistakes("measurement", quantity="voltage_drop", value="1", unit="V") == ["x, of: 'of' is missing (add a line 'of: …')"]


def test_resolution_and_unit_stay_as_read() -> None:
    record = KINDS["measurement"].handed_in({**MEASURED, "unit": "volts", "repeats": ["0.20", "0.250"]}, {})
    assert {k: record.body()[k] for k in ("value", "unit", "repeats")} == {"value": "0.240", "unit": "V", "repeats": ["0.20", "0.250"]}


ORDER = {"side": "prior_repairer", "repairer": "p"}


@pytest.mark.parametrize(
    ("kind", "fields", "said"),
    [
        ("work_order", {**ORDER, "odometer_in": "-5 km"}, "x, odometer_in.value: an odometer cannot read -5"),
        ("work_order", {**ORDER, "odometer_in": "5 V"}, "x, odometer_in.unit: 'V' is not an odometer unit; right would be km or mi"),
        ("work_order", {**ORDER, "odometer_in": "48 210 km"}, "x, odometer_in: '48 210 km' is not a value and a unit such as 12.60 V"),
        ("work_order", {**ORDER, "odometer_in": "10 km", "odometer_out": "6 mi"}, "x: odometer out (6 mi) is lower than odometer in (10 km)"),
        ("work_order", {**ORDER, "opened": "2026-03-02", "closed": "2026-03-01"}, "x: closed 2026-03-01, which is before it was opened (2026-03-02)"),
        ("work_order", {**ORDER, "side": "prior"}, "x, side: 'prior' is not one of the words for this (did you mean 'prior_repairer'?)"),
        ("work_order", {**ORDER, "total": "840"}, "x, total: '840' is not an amount and a currency such as 840.00 USD"),
        ("work_order", {**ORDER, "total": "840.00 euro"}, "x, total.currency: 'euro' is not a currency code of ISO 4217 such as EUR"),
        ("work_order", {**ORDER, "operations": [{"txt": "x"}]}, "x, operations.1.text: 'text' is missing (add a line 'text: …')"),
        ("work_order", {**ORDER, "operations": ["x"]}, "x, operations.1: 'x' is not a group of fields (write 'field: value' lines under it)"),
        ("instrument", {"description": "meter", "calibrated": "2026-03-02", "calibration_due": "2025-03-02"}, "x: calibration is due before it was done"),
        ("exhibit", {"form": "physical"}, "x: a physical exhibit needs a description"),
        ("vehicle", {"description": "v", "counts": {"coil": "four"}}, "x, counts.coil: 'four' is not a whole number (write a count such as 4)"),
        ("vehicle", {"description": "v", "counts": {"coil": "-4"}}, "x, counts.coil: input should be greater than or equal to 0"),
        ("consent", {"given_by": "p", "to": "diagnose", "granted": "maybe", "channel": "telephone", "time": "2026-03-02"}, "x, granted: 'maybe' is neither yes nor no (write yes or no)"),
        ("maker_figure", {"figure": "f", "unit": "V", "document": "d"}, "x: give either 'value' or 'between' with two values"),
        ("dossier", {"title": "t", "zone": "Nowhere"}, "x, zone: 'Nowhere' is not a time zone of the IANA database, such as Europe/Lisbon"),
        ("dossier", {"title": "two\nlines"}, "x, title: contains the character U+000A, which no text here may hold"),
    ],
)  # fmt: skip
def test_other_records_that_are_wrong(kind: str, fields: dict[str, Any], said: str) -> None:
    found = mistakes(kind, **fields)
    assert said in [f.replace(" (right would", "; right would").replace("mi)", "mi") if "odometer unit" in f else f for f in found]


def test_a_later_version_of_a_body_is_read_and_kept() -> None:
    body = {"full_name": "T", "roles": ["owner"], "of_tomorrow": {"x": "y"}}
    record = KINDS["party"].stored(body)
    assert record.body() == body
    assert mistakes("party", **body) == ["x, of_tomorrow: 'of_tomorrow' is not a field here (one of: name, full_name, roles, firm, legal_name, registration, address, contact, qualification, interest)"]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_says_what_it_misses_and_crashes_on_nothing(kind: str) -> None:
    assert all("is missing" in said for said in mistakes(kind))
    for value in ("", "x", [], {}, ["x"], {"x": "y"}, [["x"]], {"given": []}, [{}]):
        for said in mistakes(kind, **dict.fromkeys(KINDS[kind].model_fields, value)):
            assert "[type=" not in said
            assert "pydantic" not in said.lower()


def test_values_cannot_be_changed() -> None:
    record = KINDS["party"].handed_in({"full_name": "T"}, {})
    with pytest.raises(ValidationError, match="frozen"):
        record.full_name = "U"  # type: ignore[attr-defined]

"""Quantities, units and readings. A reading keeps value and unit as read; nothing is converted on the way in.

The list of units is closed: a unit is looked up, never parsed (an expression such as ``9**9**9 V`` must not
reach a unit parser). The third column is the name under which the units library knows it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Final, Literal, cast

from pydantic import ValidationInfo, field_validator, model_validator

from evidence.model.base import Plain, Value, nearest, say

_TABLE = """
voltage            V volt; mV millivolt; kV kilovolt
current            A ampere; mA milliampere; µA microampere
resistance         Ω ohm; mΩ milliohm; kΩ kiloohm; MΩ megaohm; GΩ gigaohm
resistance_per_volt Ω/V ohm/volt; kΩ/V kiloohm/volt
power              W watt; kW kilowatt; hp horsepower; PS metric_horsepower
charge             Ah ampere_hour; C coulomb
energy             J joule; mJ millijoule; kWh kilowatt_hour
pressure           kPa kilopascal; Pa pascal; MPa megapascal; bar bar; mbar millibar; psi psi; inHg inch_Hg; mmHg mmHg; inH2O inch_H2O
pressure           atm atmosphere
torque             Nm newton*meter; lbf·ft foot*force_pound; lbf·in inch*force_pound
force              N newton; kN kilonewton; lbf force_pound
temperature        °C degree_Celsius; °F degree_Fahrenheit; K kelvin
temperature_change K kelvin; Δ°C delta_degree_Celsius; Δ°F delta_degree_Fahrenheit
length             mm millimeter; µm micrometer; cm centimeter; m meter; in inch; ft foot; km kilometer; mi mile
time               s second; ms millisecond; µs microsecond; min minute; h hour; d day
speed              km/h kilometer/hour; mph mile/hour; m/s meter/second
rotation           rpm revolution/minute
frequency          Hz hertz; kHz kilohertz; MHz megahertz
ratio              % percent; ppm ppm; ratio dimensionless
count              count dimensionless
volume             L liter; mL milliliter; gal gallon; qt quart; gal(UK) imperial_gallon
mass               kg kilogram; g gram; mg milligram; lb pound; oz ounce
flow               L/min liter/minute; mL/min milliliter/minute
mass_flow          g/s gram/second; g/a gram/year
angle              ° degree; ′ arcminute; rad radian
"""
_SPELLINGS = {
    "ohm": "Ω", "ohms": "Ω", "Ohm": "Ω", "mohm": "mΩ", "kohm": "kΩ", "Mohm": "MΩ", "Gohm": "GΩ", "ohm/V": "Ω/V",
    "kohm/V": "kΩ/V", "uA": "µA", "μA": "µA", "um": "µm", "μm": "µm", "us": "µs", "μs": "µs", "degC": "°C", "C°": "°C",
    "degF": "°F", "deg": "°", "N·m": "Nm", "N.m": "Nm", "lb-ft": "lbf·ft", "ft-lb": "lbf·ft", "lbf.ft": "lbf·ft",
    "lbf-ft": "lbf·ft", "ft.lbf": "lbf·ft", "in-lb": "lbf·in", "lbf.in": "lbf·in", "kph": "km/h", "kmh": "km/h",
    "l": "L", "ml": "mL", "l/min": "L/min", "litre": "L", "liter": "L", "miles": "mi", "mile": "mi", "amp": "A",
    "volt": "V", "volts": "V", "amps": "A", "pct": "%", "percent": "%", "1/min": "rpm", "r/min": "rpm", "sec": "s",
    "days": "d", "Ω": "Ω", "\u2126": "Ω", "m\u2126": "mΩ", "k\u2126": "kΩ", "M\u2126": "MΩ", "pcs": "count",
    "imp.gal": "gal(UK)", "gal(imp)": "gal(UK)", "gal(US)": "gal",
}  # fmt: skip


def _units() -> dict[str, dict[str, str]]:
    table: dict[str, dict[str, str]] = {}
    for row in _TABLE.strip().splitlines():
        dimension, units = row.split(None, 1)
        named = dict(pair.strip().split(" ", 1) for pair in units.split(";"))
        table.setdefault(dimension, {}).update(named)
    return table


UNITS: dict[str, dict[str, str]] = _units()  # dimension -> unit as printed -> name in the units library

# What can be measured, and in which dimension. Closed: rules and records speak of the same list.
QUANTITIES: dict[str, str] = {
    "voltage": "voltage", "voltage_drop": "voltage", "peak_voltage": "voltage", "signal_voltage": "voltage",
    "current": "current", "peak_current": "current", "parasitic_draw": "current",
    "resistance": "resistance", "insulation_resistance": "resistance", "joint_resistance": "resistance",
    "isolation_resistance": "resistance_per_volt", "power": "power", "capacity": "charge", "energy": "energy",
    "pressure": "pressure", "cranking_compression": "pressure", "oil_pressure": "pressure", "fuel_pressure": "pressure",
    "rail_pressure": "pressure", "pressure_loss": "pressure", "boost_pressure": "pressure", "vacuum": "pressure",
    "tyre_pressure": "pressure",
    "torque": "torque", "breakaway_torque": "torque", "force": "force",
    "temperature": "temperature", "temperature_difference": "temperature_change",
    "length": "length", "gap": "length", "play": "length", "run_out": "length", "thickness": "length",
    "tread_depth": "length", "thickness_variation": "length", "depth": "length", "ride_height": "length",
    "distance": "length", "duration": "time", "pulse_width": "time", "dwell": "time", "speed": "speed",
    "engine_speed": "rotation", "frequency": "frequency", "duty": "ratio", "fuel_trim": "ratio",
    "cylinder_leakage": "ratio", "relative_compression": "ratio", "concentration": "ratio", "moisture": "ratio",
    "state_of_charge": "ratio", "state_of_health": "ratio", "level": "ratio", "ratio": "ratio", "count": "count",
    "volume": "volume", "mass": "mass", "flow": "flow", "mass_flow": "mass_flow", "angle": "angle",
}  # fmt: skip

# Circumstances of a measurement or observation, closed words. One that is not stated does not match a rule.
Condition = Literal[
    "key-off", "key-on", "cranking", "running", "idle", "raised-speed", "road-test", "stationary", "loaded", "unloaded",
    "connected", "unplugged", "module-unplugged", "battery-disconnected", "asleep", "cold", "warm", "hot", "commanded-on",
    "commanded-off", "injection-disabled", "ignition-disabled", "throttle-open", "throttle-closed", "on-bench", "wet",
    "dry", "at-ride-height", "on-lift", "before-reset", "after-reset", "pressurised", "depressurised", "drained", "in-place",
    "removed", "trim-in-place", "trim-removed", "lights-on", "fan-on", "compressor-on",
]  # fmt: skip

# What a condition says besides itself.
_IMPLIED = {"idle": ("running",), "raised-speed": ("running",)}

State = Literal["undisturbed", "disturbed", "after_repair"]
Which = Literal[
    "original",
    "coded_replacement",
    "uncoded_replacement",
    "claimed",
    "other_side",
    "twin",
    "same_job_elsewhere",
    "dry_place",
]
Operator = Literal["<", "<=", "==", ">=", ">"]
LimitSource = Literal["maker", "standard", "common_practice", "prior_document"]
_SOURCES: dict[LimitSource, str] = {
    "maker": "maker", "standard": "standard", "common_practice": "common practice, no source",
    "prior_document": "prior document",
}  # fmt: skip
KM_PER_MILE = Decimal("1.609344")  # exactly (NIST SP 811)
# How a verdict is made of value, uncertainty and limit: see evidence.measure.verdicts.
DecisionRule = Literal["simple", "guarded", "guarded_both_sides"]


def unit_of(spelling: str) -> str:
    """The printed form of a unit; raises ``ValueError`` with the nearest known one."""
    text = spelling.strip()
    printed = text if any(text in units for units in UNITS.values()) else _SPELLINGS.get(text, "")
    if not printed:
        known = [u for units in UNITS.values() for u in units] + list(_SPELLINGS)
        raise ValueError(f"{spelling!r} is not a known unit{nearest(text, known)}")
    return printed


def fits(quantity: str, unit: str) -> bool:
    """Whether ``unit`` can carry ``quantity``."""
    return unit in UNITS[QUANTITIES[quantity]]


def _known_quantity(value: str) -> str:
    if value not in QUANTITIES:
        raise ValueError(f"{value!r} is not a quantity known here{nearest(value, QUANTITIES)}")
    return value


def check_unit(quantity: str, unit: str) -> None:
    """Refuse a unit that cannot carry the quantity."""
    _known_quantity(quantity)
    if not fits(quantity, unit):
        right = ", ".join(UNITS[QUANTITIES[quantity]])
        raise ValueError(f"a {quantity.replace('_', ' ')} is not measured in {unit}; right would be {right}")


def implied(conditions: Iterable[str]) -> frozenset[str]:
    """The conditions with those that they imply: what idles, runs."""
    stated = frozenset(conditions)
    return stated.union(*(_IMPLIED.get(c, ()) for c in stated))


class Reading(Value):
    """A value and its unit, both as read. A person may write ``12.60 V``."""

    value: Plain
    unit: str

    @model_validator(mode="before")
    @classmethod
    def _read(cls, raw: Any) -> Any:
        if isinstance(raw, str):
            parts = raw.split()
            if len(parts) != 2:
                raise ValueError(f"{raw!r} is not a value and a unit such as 12.60 V")
            return {"value": parts[0], "unit": parts[1]}
        return raw

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)

    @property
    def number(self) -> Decimal:
        """The value, exact."""
        return Decimal(self.value)

    def words(self) -> str:
        """As printed: ``12.60 V``."""
        return self.value if self.unit == "count" else f"{self.value} {self.unit}"


class Distance(Reading):
    """A distance on the road, kept in the unit it was read in."""

    @field_validator("unit")
    @classmethod
    def _road(cls, value: str) -> str:
        if value not in ("km", "mi"):
            raise ValueError(f"{value!r} is not an odometer unit; right would be km or mi")
        return value

    @field_validator("value")
    @classmethod
    def _not_negative(cls, value: str) -> str:
        if value.startswith("-"):
            raise ValueError(f"an odometer cannot read {value}")
        return value

    def km(self) -> Decimal:
        """In kilometres; the international mile is 1.609344 km exactly (NIST SP 811)."""
        return self.number if self.unit == "km" else self.number * KM_PER_MILE


def page_words(page: str | None) -> str:
    """``page 12``, or as it was written where that says so already: ``p. 12``."""
    return "" if not page else page if page.lower().startswith("p") else f"page {page}"


class Limit(Value):
    """What a reading is held against, and where that comes from. A person may write ``> 0.2 V``.

    ``conditions`` are those it holds for: a reading under others is not comparable with it. ``decision_rule`` goes before
    that of the dossier.
    """

    op: Operator | None = None
    value: Plain | None = None
    between: tuple[Plain, Plain] | None = None
    unit: str
    source: LimitSource | None = None
    document: str | None = None  # number and title
    page: str | None = None
    conditions: tuple[Condition, ...] = ()
    decision_rule: DecisionRule | None = None

    @model_validator(mode="before")
    @classmethod
    def _read(cls, raw: Any) -> Any:
        if not isinstance(raw, str):
            return raw
        if match := re.fullmatch(r"(<=|>=|==|<|>)\s*(\S+)\s+(\S+)", raw.strip()):
            return dict(zip(("op", "value", "unit"), match.groups(), strict=True))
        if match := re.fullmatch(r"(\S+?)\s*\.\.\s*(\S+)\s+(\S+)", raw.strip()):
            low, high, unit = match.groups()
            return {"between": [low, high], "unit": unit}
        raise ValueError(f"{raw!r} is not a limit such as '> 0.2 V' or '130 .. 150 psi'")

    @field_validator("unit")
    @classmethod
    def _unit(cls, value: str) -> str:
        return unit_of(value)

    @model_validator(mode="after")
    def _one_form(self) -> Limit:
        if (self.between is None) == (self.op is None or self.value is None):
            raise ValueError("a limit has either an operator with a value, or 'between' with two values")
        if self.between and Decimal(self.between[0]) > Decimal(self.between[1]):
            raise ValueError("the lower end of the limit stands above its upper end")
        return self

    def source_words(self) -> str:
        """Where it comes from: ``maker, WM-4, page 12``; never silent about a missing source."""
        told = _SOURCES[self.source] if self.source else "source not stated"
        return ", ".join(filter(None, (told, self.document, page_words(self.page))))

    def words(self) -> str:
        """As printed, with the conditions it holds for."""
        held_for = f" ({', '.join(map(say, self.conditions))})" if self.conditions else ""
        return f"{self._bare()}{held_for}"

    def _bare(self) -> str:
        if self.between:
            return f"{self.between[0]} to {self.between[1]} {self.unit}"
        signs = {"<=": "≤", ">=": "≥", "==": "="}
        return f"{signs.get(cast('str', self.op), self.op)} {self.value} {self.unit}"


# ISO 4217, the currencies in use (list of 2026; the fund codes, metals and test codes of the list are no money to claim)
_ISO_4217 = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF CLP
CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD HNL HTG HUF
IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD
MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB
RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU
UZS VES VND VUV WST XAF XCD XCG XOF XPF YER ZAR ZMW ZWG
"""
CURRENCIES: Final = frozenset(_ISO_4217.split())


class Money(Value):
    """An amount in a currency, as on the paper. A person may write ``840.00 USD``."""

    amount: Plain
    currency: str

    @model_validator(mode="before")
    @classmethod
    def _read(cls, raw: Any) -> Any:
        if isinstance(raw, str):
            parts = raw.split()
            if len(parts) != 2:
                raise ValueError(f"{raw!r} is not an amount and a currency such as 840.00 USD")
            return {"amount": parts[0], "currency": parts[1]}
        return raw

    @field_validator("currency")
    @classmethod
    def _code(cls, value: str, info: ValidationInfo) -> str:
        if not re.fullmatch(r"[A-Z]{3}", value):
            raise ValueError(f"{value!r} is not a currency code of ISO 4217 such as EUR")
        if "written" in (info.context or {}) and value not in CURRENCIES:  # what stands in a record stays readable
            raise ValueError(f"{value!r} is no currency of ISO 4217, such as EUR")
        return value

    @property
    def number(self) -> Decimal:
        """The amount, exact."""
        return Decimal(self.amount)

    def words(self) -> str:
        """As printed: ``840.00 USD``."""
        return f"{self.amount} {self.currency}"

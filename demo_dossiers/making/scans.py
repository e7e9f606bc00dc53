"""What a scan tool wrote: plain text, in the shape of an invented tool."""

from __future__ import annotations

from pathlib import Path

_RULE = "-" * 72


def report(
    path: Path, *, head: dict[str, str], modules: list[tuple[str, str, list[str]]], live: dict[str, str] | None = None
) -> None:
    """Write one read-out: header lines, each module with its result and codes, live data."""
    lines = ["DEMONSTRATION: invented read-out", "Read-out of trouble codes, tool W-S1, software 26.1", _RULE]
    lines += [f"{key:<22}{value}" for key, value in head.items()]
    lines += [_RULE, f"{'module':<34}{'result':<22}codes", _RULE]
    for name, result, codes in modules:
        lines.append(f"{name:<34}{result:<22}{codes[0] if codes else '-'}")
        lines += [" " * 56 + code for code in codes[1:]]
    lines.append(_RULE)
    for key, value in (live or {}).items():
        lines.append(f"{key:<34}{value}")
    lines.append("end of read-out")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", "utf-8")


VAN_MODULES = (
    "engine control module", "transmission control module", "ABS unit", "restraint module", "body control module",
    "instrument cluster", "immobiliser", "steering assist", "gateway",
)  # fmt: skip


def van(folder: Path, vin: str) -> None:
    """Before anything was cleared, and after the repair."""
    quiet = [(name, "none stored", []) for name in VAN_MODULES]
    quiet[4] = ("body control module", "codes", ["B1325 stored   supply voltage low (history)"])
    report(
        folder / "scan-before.txt",
        head={"vehicle VIN": vin, "date and time": "2026-05-18 09:05 +01:00", "odometer in cluster": "84 512 km",
              "cleared by this tool": "no", "distance since clear": "103 km", "battery": "12.5 V"},
        modules=quiet,
        live={"engine speed, cranking": "212 rpm", "crank/cam synchronisation": "true", "immobiliser status": "released",
              "rail pressure, cranking": "382 kPa", "coolant temperature": "14 degC"},
    )  # fmt: skip
    report(
        folder / "scan-after.txt",
        head={"vehicle VIN": vin, "date and time": "2026-05-29 15:40 +01:00", "odometer in cluster": "84 512 km",
              "cleared by this tool": "yes, 2026-05-29 15:22", "distance since clear": "0 km", "battery": "12.7 V"},
        modules=[(name, "none stored", []) for name in VAN_MODULES],
        live={"engine speed, idle": "780 rpm", "crank/cam synchronisation": "true", "immobiliser status": "released"},
    )  # fmt: skip


def engine(folder: Path, vin: str) -> None:
    """The car's read-out."""
    report(
        folder / "scan.txt",
        head={"vehicle VIN": vin, "date and time": "2026-04-27 10:12 -05:00", "odometer in cluster": "62 204 mi",
              "cleared by this tool": "no", "distance since clear": "not supported", "battery": "12.1 V"},
        modules=[("engine control module", "codes", ["P0524 confirmed   engine oil pressure too low"]),
                 ("transmission control module", "none stored", []), ("ABS unit", "none stored", []),
                 ("restraint module", "none stored", []), ("body control module", "none stored", [])],
    )  # fmt: skip

"""A small dossier folder, invented, for tests that need something to take in."""

from __future__ import annotations

from pathlib import Path

FILES = {"photos/eyelet.jpg": b"eyelet " * 3000, "photos/rail.jpg": b"rail " * 4000, "invoice.pdf": b"invoice " * 100}
TEXT = """\
format: 1
dossier: van
title: Van does not start two days after a repair
zone: Europe/Lisbon
recorder: tech

parties:
  - name: tech
    full_name: T. Echnician
    roles: [technician]
  - name: first-shop
    full_name: First Shop
    roles: [prior_repairer]

vehicles:
  - name: van
    description: delivery van, four cylinders
    plate: 00-AA-00

exhibits:
  - name: photo-eyelet
    file: photos/eyelet.jpg
    caption: Coil ground eyelet as found
    state: undisturbed
  - name: photo-rail
    file: photos/rail.jpg
    derived_from: photo-eyelet
    operations: [cropped]
  - name: invoice
    file: invoice.pdf

work_orders:
  - name: head-gasket
    side: prior_repairer
    repairer: first-shop
    opened: 2026-02-20
    closed: 2026-02-27
    odometer_in: 48210 km
    odometer_out: 48215 km
    operations:
      - text: Cylinder head gasket replaced
    exhibits: [invoice]

measurements:
  - name: drop
    quantity: voltage_drop
    value: 3.10
    unit: V
    of: coil-ground
    to: battery-negative
    conditions: [cranking]
    state: undisturbed
    time: 2026-03-02 14:30
    by: tech
    exhibits: [photo-eyelet]
"""
RECORDS = 9  # with the opening of the dossier


def small_folder(folder: Path, text: str = TEXT) -> Path:
    """Write the folder; returns it."""
    for name, data in FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    (folder / "dossier.yaml").write_text(text, encoding="utf-8")
    return folder

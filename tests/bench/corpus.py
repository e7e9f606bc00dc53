"""Photos and dossier folders to measure with: 12 MP JPEGs of about 3 MB with EXIF, every one different.

A few scenes are drawn and encoded once, with a restart marker after every row of blocks (ITU-T T.81, B.2.4.4). A
restart interval decodes on its own, so each photo takes its rows from two scenes and renumbers the markers:
its own pixels, its own size, for the price of a memory copy. Same arguments, same library versions: same bytes.
"""

from __future__ import annotations

import datetime as dt
import io
import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

SIZE = (4032, 3024)
SMALL = (640, 480)
_GRAIN = (4.0, 5.5, 7.0, 8.5, 4.5, 6.0)  # sensor noise of each scene: sets the size of its photos


def make_photos(folder: Path, count: int, *, small: bool = False, seed: int = 1) -> list[Path]:
    """Write ``count`` photos into ``folder``; returns them in order."""
    folder.mkdir(parents=True, exist_ok=True)
    chance, size = random.Random(seed), SMALL if small else SIZE
    scenes = [_rows_of(_scene(np.random.default_rng((seed, k)), size, grain)) for k, grain in enumerate(_GRAIN)]
    taken = dt.datetime(2025, 3, 3, 8, 0)  # noqa: DTZ001  (a camera's clock has no zone)
    made = []
    for number in range(count):
        taken += dt.timedelta(seconds=chance.randrange(5, 4000))
        (head, upper), (_, lower) = chance.sample(scenes, 2)
        cut, turn = chance.randrange(1, len(upper)), chance.randrange(len(upper))
        rows = upper[:cut] + lower[cut:]
        photo = folder / f"IMG_{number:04d}.JPG"
        photo.write_bytes(_joined(head, rows[turn:] + rows[:turn], _exif(chance, taken, size)))
        made.append(photo)
    return made


def photo_folder(folder: Path, photos: list[Path]) -> Path:
    """A dossier folder whose exhibits are ``photos`` (hard links: nothing is copied)."""
    (folder / "photos").mkdir(parents=True)
    for photo in photos:
        (folder / "photos" / photo.name).hardlink_to(photo)
    blocks = (
        f"  - name: photo-{n}\n    file: photos/{p.name}\n    caption: Photo {n} of the engine bay as found\n"
        for n, p in enumerate(photos)
    )
    return _written(folder, f"photos-{len(photos)}", ["exhibits:\n", *blocks])


def record_folder(folder: Path, records: int) -> Path:
    """A dossier folder of ``records`` records without files: readings and observations around one prior repair."""
    folder.mkdir(parents=True)
    return _written(folder, f"records-{records}", _records(records - 7))


def first_folder(folder: Path, tags: list[str], operations: list[str]) -> Path:
    """A dossier folder as it stands after the first call: what is complained of, and the lines of one prior work order."""
    folder.mkdir(parents=True)
    lines = "".join(f"      - {{text: {name}, operation: {name}}}\n" for name in operations)
    body = (
        f"complaint_tags: [{', '.join(tags)}]\n"
        "  - name: prior\n    full_name: Works at Mill Lane\n    roles: [prior_repairer]\n"
        "vehicles:\n  - name: van\n    description: Delivery van\n"
        "work_orders:\n  - name: before\n    side: prior_repairer\n    repairer: prior\n    closed: 2026-03-05\n"
        f"    odometer_out: 128412 km\n    operations:\n{lines}"
    )
    tagged, parties = body.split("\n", 1)
    written = _written(folder, "first-call", [parties])
    text = (written / "dossier.yaml").read_text("utf-8")
    (written / "dossier.yaml").write_text(text.replace("recorder: bench\n", f"recorder: bench\n{tagged}\n", 1), "utf-8")
    return written


def _written(folder: Path, name: str, parts: list[str] | Iterator[str]) -> Path:
    head = (
        f"format: 1\ndossier: {name}\ntitle: Measured, nothing here happened\nzone: Europe/Lisbon\ndemonstration: true\n"
        "recorder: bench\nparties:\n  - name: bench\n    full_name: Marta Quill\n    roles: [technician, present_repairer]\n"
    )
    (folder / "dossier.yaml").write_text(head + "".join(parts), encoding="utf-8")
    return folder


def _records(records: int) -> Iterator[str]:
    yield (
        "  - name: prior\n    full_name: Works at Mill Lane\n    roles: [prior_repairer]\n"
        "instruments:\n  - name: meter\n    description: Digital multimeter\n    calibrated: 2025-11-20\n"
        "    calibration_due: 2026-11-20\n    calibration_document: K-1\n    accuracies:\n"
        "      - {quantity: voltage, unit: V, high: 60, percent: 0.5, fixed: 0.02, resolution: 0.01}\n"
        "vehicles:\n  - name: van\n    description: Delivery van, 4 cylinders\n    counts: {coil: 4, cylinder: 4}\n"
        "work_orders:\n"
        "  - name: head-gasket\n    side: prior_repairer\n    repairer: prior\n    closed: 2026-03-05\n"
        "    odometer_out: 128412 km\n    operations:\n"
        "      - {text: Remove and refit cylinder head, operation: cylinder-head, components: [coil-harness]}\n"
        "  - name: diagnosis\n    side: present_repairer\n    repairer: bench\n    opened: 2026-03-09\n"
        "    operations:\n      - {text: Diagnosis}\n"
    )
    day = dt.datetime(2026, 3, 9, 8, 0)  # noqa: DTZ001
    times = [(day + dt.timedelta(minutes=n)).strftime("%Y-%m-%d %H:%M") for n in range(records)]
    for section, kinds, numbers in (
        ("observations", _SEEN, range(0, records, 3)),
        ("measurements", [f"instrument: meter, {kind}" for kind in _READ], (n for n in range(records) if n % 3)),
    ):
        yield f"{section}:\n"
        for n in numbers:
            fields = kinds[n // 3 % len(kinds)].format(coil=n % 4 + 1, tenth=n % 10)
            yield f"  - {{name: record-{n}, by: bench, state: undisturbed, time: {times[n]}, {fields}}}\n"


# What a coil-ground case asks for, so that an assessment finds an answer in every record; four coils and cylinders.
_CRANKING = "conditions: [cranking], circumstances: {{engine_speed: 20{tenth} rpm}}"
_SEEN = (
    "of: coil-ground-eyelet, position: '{coil}', aspect: ground_seat, seen: on-insulated-seat, text: On fresh paint",
    "of: coil-ground, position: '{coil}', aspect: test_lamp, seen: dark, conditions: [key-on], text: Stays dark",
    "of: spark, position: '{coil}', aspect: spark, seen: absent, text: No spark, " + _CRANKING,
)
_READ = (
    (
        "of: coil-ground, to: battery-negative, position: '{coil}', quantity: voltage_drop, value: 11.{tenth}, unit: V, "
        "conditions: [key-on], circumstances: {{lamp_current: 2.{tenth} A}}"
    ),
    (
        "of: coil-supply, to: battery-positive, position: '{coil}', quantity: voltage_drop, value: 0.1{tenth}, unit: V, "
        "conditions: [key-on], circumstances: {{lamp_current: 2.{tenth} A}}"
    ),
    "of: coil-control, position: '{coil}', quantity: signal_voltage, value: 0.0{tenth}, unit: V, " + _CRANKING,
    (
        "of: cylinder, position: '{coil}', quantity: cranking_compression, value: 14{tenth}, unit: psi, "
        "conditions: [cranking, throttle-open, injection-disabled]"
    ),
    "of: fuel-pump, quantity: current, value: 5.{tenth}, unit: A, conditions: [commanded-on]",
)


def _scene(chance: np.random.Generator, size: tuple[int, int], grain: float) -> bytes:
    """One workshop-like picture as a JPEG: gradients, parts, edges and sensor noise."""
    width, height = size
    coarse = chance.integers(20, 235, size=(height // 168 + 2, width // 168 + 2, 3), dtype=np.uint8)
    picture = Image.fromarray(coarse).resize(size, Image.Resampling.BICUBIC)
    pen = ImageDraw.Draw(picture)
    for _ in range(140):
        x, y = int(chance.integers(0, width)), int(chance.integers(0, height))
        box = (x, y, x + int(chance.integers(20, width // 6)), y + int(chance.integers(20, height // 6)))
        colour = tuple(int(v) for v in chance.integers(0, 255, 3))
        kind = int(chance.integers(0, 3))
        if kind == 0:
            pen.rectangle(box, fill=colour, outline=(10, 10, 10), width=4)
        elif kind == 1:
            pen.ellipse(box, fill=colour, outline=(240, 240, 240), width=5)
        else:
            pen.line(box, fill=colour, width=int(chance.integers(3, 25)))
    pixels = np.asarray(picture.filter(ImageFilter.GaussianBlur(1.2))).astype(np.int16)
    noise = chance.normal(0, grain, size=(height, width, 1)).astype(np.int16)
    out = io.BytesIO()
    noisy = Image.fromarray(np.clip(pixels + noise, 0, 255).astype(np.uint8))
    noisy.save(out, "JPEG", quality=88, restart_marker_rows=1)
    return out.getvalue()


def _rows_of(jpeg: bytes) -> tuple[bytes, list[bytes]]:
    """Cut a baseline JPEG with restart markers into its header and its rows of blocks."""
    scan = jpeg.rindex(b"\xff\xda")
    start = scan + 2 + int.from_bytes(jpeg[scan + 2 : scan + 4], "big")
    body = jpeg[start : jpeg.rindex(b"\xff\xd9")]
    rows, last, at = [], 0, body.find(b"\xff")
    while 0 <= at < len(body) - 1:
        if 0xD0 <= body[at + 1] <= 0xD7:
            rows.append(body[last:at])
            last = at + 2
        at = body.find(b"\xff", at + 2)
    return jpeg[:start], [*rows, body[last:]]


def _joined(header: bytes, rows: list[bytes], exif: bytes) -> bytes:
    segment = b"\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif
    out = [header[:2], segment, header[2:]]
    for number, row in enumerate(rows):
        out += [row, bytes((0xFF, 0xD0 + number % 8))]
    out[-1] = b"\xff\xd9"
    return b"".join(out)


def _exif(chance: random.Random, taken: dt.datetime, size: tuple[int, int]) -> bytes:
    """As cameras write it: some turned, most with a time, not all with a zone, some with a place."""
    exif = Image.Exif()
    exif[0x0131] = "corpus 1"  # Software
    if chance.random() < 0.10:
        exif[0x0112] = 6  # Orientation
    details = exif.get_ifd(0x8769)
    if chance.random() >= 0.05:
        details[0x9003] = taken.strftime("%Y:%m:%d %H:%M:%S")  # DateTimeOriginal
        details[0x9291] = f"{chance.randrange(1000):03d}"  # SubSecTimeOriginal
        if chance.random() >= 0.20:
            details[0x9011] = chance.choice(["+02:00", "-05:00", "+05:30"])  # OffsetTimeOriginal
    details[0xA002], details[0xA003] = size
    if chance.random() < 0.30:
        place = exif.get_ifd(0x8825)
        place[1], place[2] = "N", (float(chance.randrange(90)), float(chance.randrange(60)), 12.34)
        place[3], place[4] = "W", (float(chance.randrange(180)), float(chance.randrange(60)), 56.78)
    data = exif.tobytes()
    return data if data.startswith(b"Exif\0\0") else b"Exif\0\0" + data

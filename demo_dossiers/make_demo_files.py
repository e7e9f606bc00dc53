"""Make the files of the demonstration dossiers: ``python demo_dossiers/make_demo_files.py [--into FOLDER] [--only WORD]``.

Everything is drawn or computed, nothing is recorded or photographed. The same library versions give the same bytes.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from making import orders, papers_others, papers_van, parts, scans, scenes_engine, scenes_footwell, scenes_van, traces
from making.canvas import Canvas
from making.photo import Camera, save
from making.story import BENCH_CAMERA, ENGINE_VIN, OWNER_PHONE, US_CAMERA, VAN_VIN, WORKSHOP_CAMERA

Scene = Callable[[], Canvas]
LAMPS = [("ENGINE", (240, 170, 50)), ("OIL", (210, 60, 40)), ("BATT", (210, 60, 40))]
ORIGINAL = ["ENGINE CONTROL", "part 2P-40771-C", "software 0417", "built 2021-05   ser. 088213"]
REPLACEMENT = ["ENGINE CONTROL", "part 2P-40771-D", "software 0526", "built 2026-02   ser. 101947"]

# name -> (scene, camera, true local time, other options of ``save``)
VAN: dict[str, tuple[Scene, Camera, str, dict]] = {
    "arrival": (scenes_van.arrival, WORKSHOP_CAMERA, "2026-05-16 11:27:40", {"gps": True}),
    "plate": (scenes_van.plate, WORKSHOP_CAMERA, "2026-05-16 11:28:25", {"gps": True}),
    "odometer-arrival": (lambda: parts.cluster("84 512", "km", lamps=LAMPS, clock="11:31"), WORKSHOP_CAMERA, "2026-05-16 11:31:12", {"gps": True}),
    "clock-check": (lambda: parts.clock_scene("08:05:20", "2026-05-18", "radio-controlled"), WORKSHOP_CAMERA, "2026-05-18 08:05:20", {}),
    "type-plate": (lambda: scenes_van.type_plate(VAN_VIN), WORKSHOP_CAMERA, "2026-05-18 08:09:31", {}),
    "bay-overview": (scenes_van.bay_overview, WORKSHOP_CAMERA, "2026-05-18 08:14:02", {}),
    "rail-middle": (scenes_van.rail_middle, WORKSHOP_CAMERA, "2026-05-18 08:18:15", {}),
    "harness-clips": (scenes_van.harness_clips, WORKSHOP_CAMERA, "2026-05-18 08:20:44", {"portrait": True}),
    "eyelet-close": (scenes_van.eyelet_close, WORKSHOP_CAMERA, "2026-05-18 08:23:09", {}),
    "eyelet-scale": (lambda: scenes_van.eyelet_close(scale=True), WORKSHOP_CAMERA, "2026-05-18 08:25:37", {}),
    "main-fuse": (scenes_van.main_fuse, WORKSHOP_CAMERA, "2026-05-18 08:33:20", {}),
    "socket-feed": (scenes_van.socket_feed, WORKSHOP_CAMERA, "2026-05-18 08:37:51", {}),
    "battery-voltage": (lambda: scenes_van.battery_meter("12.52"), WORKSHOP_CAMERA, "2026-05-18 08:44:10", {}),
    "drop-coil-1": (lambda: scenes_van.drop("4.832", 1), WORKSHOP_CAMERA, "2026-05-18 09:32:05", {}),
    "drop-coil-2": (lambda: scenes_van.drop("4.861", 2), WORKSHOP_CAMERA, "2026-05-18 09:36:40", {}),
    "drop-coil-3": (lambda: scenes_van.drop("4.808", 3), WORKSHOP_CAMERA, "2026-05-18 09:40:58", {}),
    "drop-coil-4": (lambda: scenes_van.drop("4.879", 4), WORKSHOP_CAMERA, "2026-05-18 09:45:21", {}),
    "supply-coil-1": (lambda: scenes_van.drop("0.214", 1, plus=True), WORKSHOP_CAMERA, "2026-05-18 09:52:30", {}),
    "compression-2": (lambda: scenes_van.compression(142, 2), WORKSHOP_CAMERA, "2026-05-27 08:52:14", {}),
    "boss-clean": (scenes_van.boss_clean, WORKSHOP_CAMERA, "2026-05-27 09:37:26", {}),
    "eyelet-refitted": (scenes_van.eyelet_refitted, WORKSHOP_CAMERA, "2026-05-27 09:46:03", {}),
    "drop-after-coil-1": (lambda: scenes_van.drop("0.032", 1, refitted=True), WORKSHOP_CAMERA, "2026-05-27 09:55:48", {}),
    "module-original": (lambda: scenes_van.module_label(ORIGINAL, "Engine control module, original"), BENCH_CAMERA, "2026-05-27 11:44:19", {}),
    "module-connector": (scenes_van.module_connector, WORKSHOP_CAMERA, "2026-05-27 09:12:52", {}),
    "bench-original": (lambda: scenes_van.bench("Original module: lamps stay dark", live=False), BENCH_CAMERA, "2026-05-28 10:21:33", {}),
    "module-replacement": (lambda: scenes_van.module_label(REPLACEMENT, "Engine control module, replacement"), BENCH_CAMERA, "2026-05-29 13:05:10", {}),
    "bench-replacement": (lambda: scenes_van.bench("Coded replacement: lamps flash in turn", live=True), BENCH_CAMERA, "2026-05-29 13:48:02", {}),
    "odometer-return": (lambda: parts.cluster("84 512", "km", clock="15:50"), WORKSHOP_CAMERA, "2026-05-29 15:50:36", {}),
}  # fmt: skip
ENGINE: dict[str, tuple[Scene, Camera, str, dict]] = {
    "arrival": (scenes_engine.arrival, US_CAMERA, "2026-04-27 09:08:14", {"gps": True}),
    "odometer": (lambda: parts.cluster("62 204", "mi", lamps=LAMPS, message="OIL PRESSURE", clock="9:12"), US_CAMERA, "2026-04-27 09:12:40", {"gps": True}),
    "service-label": (scenes_engine.hood_sticker, US_CAMERA, "2026-04-27 09:19:02", {}),
    "underside": (scenes_engine.underside, US_CAMERA, "2026-04-27 10:31:55", {}),
    "drained-oil": (scenes_engine.drained_oil, US_CAMERA, "2026-04-28 08:50:11", {}),
    "filter-found": (scenes_engine.filter_label, US_CAMERA, "2026-04-28 09:22:47", {}),
    "sump-plug": (scenes_engine.sump_plug, US_CAMERA, "2026-04-28 09:31:20", {}),
    "bearings": (scenes_engine.bearings, US_CAMERA, "2026-04-29 14:12:36", {}),
}  # fmt: skip
FOOTWELL: dict[str, tuple[Scene, Camera, str, dict]] = {
    "footwell": (scenes_footwell.footwell, OWNER_PHONE, "2026-09-28 07:09:50", {}),
}


def main() -> None:
    """Make everything, or what a name contains."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--into", type=Path, default=Path(__file__).resolve().parent, help="folder of the dossier folders"
    )
    parser.add_argument("--only", default="", help="only pictures whose folder/name contains this")
    asked = parser.parse_args()
    for folder, scenes in (("van-no-start", VAN), ("seized-engine", ENGINE), ("wet-footwell", FOOTWELL)):
        for seed, (name, (scene, camera, at, options)) in enumerate(scenes.items(), start=len(folder)):
            if asked.only in f"{folder}/{name}":
                save(
                    scene(), asked.into / folder / "photos" / f"{name}.jpg", camera=camera, at=at, seed=seed, **options
                )
    if not asked.only:
        papers_van.make(asked.into / "van-no-start" / "papers")
        papers_others.engine(asked.into / "seized-engine" / "papers")
        papers_others.footwell(asked.into / "wet-footwell" / "papers")
        traces.van(asked.into / "van-no-start" / "traces")
        scans.van(asked.into / "van-no-start" / "traces", VAN_VIN)
        orders.make(asked.into / "own-orders")
        scans.engine(asked.into / "seized-engine" / "traces", ENGINE_VIN)


if __name__ == "__main__":
    main()

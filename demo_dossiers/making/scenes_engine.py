"""Pictures of the car with the seized engine."""

from __future__ import annotations

import numpy as np

from making.canvas import Canvas, Fill, cast, metal, rubber
from making.parts import board, car, plate_label, ruler, slip, yard


def arrival():
    """The car in the yard."""
    c = yard()
    car(c, "KTL 2096")
    return c


def underside():
    """Underside as it arrived from the towing yard: degreased and hosed down."""
    c = Canvas(Fill((64, 66, 68), (44, 46, 48), 90, "grain", 5, clouds=3))
    c.poly([(120, 260), (980, 220), (1060, 860), (180, 920)], cast(158), shadow=22, edge=5)
    for x in range(240, 960, 90):
        c.stroke([(x, 300), (x + 24, 840)], 16, cast(138))
    for x, y in ((150, 300), (560, 262), (950, 270), (1010, 820), (620, 872), (220, 880)):
        c.hexagon(x, y, 26, metal(170, 100))
    c.disc(880, 760, 74, 68, cast(168), shadow=8, edge=4)
    c.disc(880, 758, 40, 36, (20, 20, 22), edge=2)
    for ring in range(4):
        c.disc(880, 758, 40 - 3 * ring, 36 - 3 * ring, metal(150, 80), edge=1, hole=0.93)
    c.text(880, 876, "plug hole, open", 28, (240, 240, 234))
    oil_filter(c, 1290, 520, 1.0, words=("OF-7731", "lot 2608"))
    c.tube([(60, 1120), (500, 1060), (980, 1070), (1600, 980)], 110, (96, 92, 88), shine=0.25)
    rng = np.random.default_rng(31)
    for x, y, r in zip(rng.uniform(150, 1500, 90), rng.uniform(240, 1000, 90), rng.uniform(4, 13, 90), strict=True):
        c.disc(x, y, r, r * 0.8, Fill((196, 204, 210), (120, 128, 134), round_=True))
    slip(c, 60, 60, "underside as received", "hosed down with degreaser before it came to us")
    return c


def oil_filter(c: Canvas, x, y, size, *, words):
    """A spin-on filter from the side, 300 wide."""
    s = size
    c.box(
        x - 150 * s,
        y - 190 * s,
        300 * s,
        400 * s,
        Fill((196, 120, 40), (120, 68, 20), 0, "fine", 2),
        r=40 * s,
        shadow=16,
        edge=4,
    )
    c.box(x - 150 * s, y - 190 * s, 90 * s, 400 * s, Fill((224, 156, 76), (180, 106, 36), 0), r=36 * s)
    c.box(x - 156 * s, y - 218 * s, 312 * s, 48 * s, metal(196, 110, 0), r=12 * s, shadow=5, edge=3)
    for index in range(8):
        c.box(x - 140 * s + index * 36 * s, y + 156 * s, 18 * s, 50 * s, (150, 88, 28), r=6 * s)
    c.box(x - 120 * s, y - 90 * s, 240 * s, 150 * s, Fill((236, 234, 224), (214, 212, 200)), r=8 * s)
    for index, line in enumerate(words):
        c.text(x, y - 50 * s + index * 46 * s, line, 36 * s, (30, 30, 34), bold=index == 0)


def filter_label():
    """Filter off the engine, its label readable: not the number on the invoice."""
    c = board("Oil filter as found on the engine", "one gasket, hand-written date on the case")
    oil_filter(c, 520, 500, 1.75, words=("OF-7731", "lot 2608"))
    c.text(1140, 220, "gasket face", 34, (242, 238, 224), bold=True)
    c.disc(1140, 540, 260, 250, metal(176, 112, 60), shadow=16, edge=5)
    c.disc(1140, 540, 232, 222, rubber(34), edge=3, hole=0.84)
    for index in range(8):
        turn = np.deg2rad(index * 45)
        c.disc(1140 + 130 * np.cos(turn), 540 + 124 * np.sin(turn), 26, 24, (22, 22, 24), edge=2)
    c.disc(1140, 540, 62, 58, (26, 26, 28), edge=3)
    for ring in range(5):
        c.disc(1140, 540, 62 - ring * 5, 58 - ring * 5, metal(150, 90), edge=1, hole=0.94)
    c.text(520, 930, "12 Apr", 60, (236, 234, 230), bold=True, angle=6)
    return c


def drained_oil():
    """The oil that came out, in a measuring jug."""
    c = board("Oil drained from the sump", "jug read level, drained 30 minutes")
    c.poly(
        [(520, 200), (1090, 200), (1050, 960), (560, 960)],
        Fill((214, 222, 224), (186, 196, 200), 0, "fine", 1),
        shadow=20,
        edge=5,
    )
    c.poly([(551, 800), (1058, 800), (1048, 945), (563, 945)], Fill((56, 38, 20), (24, 16, 10), 90, "fine", 1))
    c.disc(804, 800, 254, 22, Fill((86, 60, 32), (50, 34, 18), 0))
    c.tube([(1080, 300), (1240, 330), (1250, 660), (1066, 720)], 44, (186, 196, 200))
    for index in range(9):
        y, litre = 945 - index * 86, index * 0.4
        c.stroke([(600, y), (680 if index % 5 == 0 else 650, y)], 5, (40, 60, 90))
        if index:
            c.text(742, y, f"{litre:.1f} L", 34, (40, 60, 90), bold=True)
    c.box(1290, 260, 250, 110, Fill((240, 238, 226), (228, 226, 212)), r=4, shadow=6)
    c.text(1415, 316, "0.7 qt", 50, (30, 30, 34), bold=True)
    return c


def bearings():
    """Main bearing shells in oil-path order: wiped, blued."""
    c = board("Main bearing shells 1 to 5, lower halves", "laid out in the order of the oil path")
    for index in range(5):
        x, worn = 210 + index * 292, 0.3 + 0.15 * index
        c.disc(x, 560, 130, 300, metal(188, 120, 0), shadow=14, edge=5)
        c.disc(x, 560, 106, 262, Fill((178, 132, 92), (112, 84, 66), 90, "brush", 12 + 16 * worn))
        c.stain([(x - 60, 420), (x + 50, 400), (x + 66, 720), (x - 46, 740)], (58, 56, 96), 0.4 * worn, 22)
        c.stain([(x - 30, 500), (x + 40, 480), (x + 30, 640), (x - 40, 660)], (70, 44, 26), 0.8 * worn, 12)
        for mark in range(6):
            c.stroke([(x - 70 + mark * 26, 420 + 12 * mark), (x - 66 + mark * 26, 690 - 8 * mark)], 3, (90, 66, 50))
        c.text(x, 930, str(index + 1), 48, (242, 238, 224), bold=True)
    return c


def sump_plug():
    """Sump plug already out, in a tray."""
    c = board("Sump plug, already out when we got it", "came loose in a bag with the car")
    c.box(260, 160, 1080, 760, Fill((206, 208, 206), (176, 178, 176), 90, "brush", 5), r=40, shadow=18, edge=5)
    for index in range(16):
        c.box(760 + index * 20, 470, 15, 150, metal(190, 100, 0), r=6, edge=2)
    c.box(690, 420, 80, 250, metal(196, 120, 90), r=10, shadow=8, edge=4)
    c.box(560, 450, 140, 190, metal(190, 110, 90), r=24, shadow=10, edge=4)
    c.disc(460, 770, 96, 88, metal(190, 130, 60), shadow=8, edge=4, hole=0.66)
    c.text(460, 900, "washer", 30, (50, 50, 54))
    ruler(c, 600, 770, 40, 16)
    return c


def hood_sticker():
    """Service sticker of the prior shop under the hood."""
    c = Canvas(Fill((150, 52, 58), (96, 26, 34), 80, "fine", 2))
    c.poly([(0, 900), (1600, 840), (1600, 1200), (0, 1200)], rubber(50), shadow=12)
    plate_label(
        c,
        380,
        240,
        840,
        520,
        ["OIL SERVICE", "03/16/2026    61 180 mi", "oil 5W-30, 4.8 qt", "filter HF-2210", "next  66 180 mi"],
        size=52,
        bars=False,
    )
    return c

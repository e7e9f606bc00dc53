"""Things that stand in more than one picture: meter, ruler, eyelet, coils, dials, plates, vehicles from the side."""

from __future__ import annotations

import numpy as np

from making.canvas import Canvas, Fill, cast, metal, rubber

PAINT = Fill((92, 128, 150), (58, 90, 112), 70, "fine", 2, clouds=1.5)  # fresh blue-grey engine paint
BENCH = Fill((150, 122, 92), (120, 96, 70), 90, "brush", 7, clouds=3)
WHITE, BLACK, RED, BROWN = (238, 238, 234), (24, 24, 26), (176, 36, 30), (112, 72, 44)


def ruler(c: Canvas, x, y, millimetres: int, per_mm: float):
    """A steel rule lying level: the scale of a close picture."""
    height = 74
    c.box(x, y, millimetres * per_mm + 84, height, metal(228, 178, 90), r=4, shadow=6, edge=2)
    for mm in range(millimetres + 1):
        at = x + 20 + mm * per_mm
        long = 34 if mm % 10 == 0 else 24 if mm % 5 == 0 else 15
        c.stroke([(at, y + 1), (at, y + long)], 1.6, (30, 30, 32))
        if mm % 10 == 0:
            c.text(at, y + 52, str(mm), 22, (30, 30, 32))
    c.text(x + millimetres * per_mm + 58, y + 52, "mm", 18, (30, 30, 32))


def meter(c: Canvas, x, y, reading: str, unit: str, mode="DC V", *, hold=False):
    """A hand-held multimeter, 420 x 760, with its reading."""
    c.box(x, y, 420, 760, Fill((72, 96, 92), (40, 56, 54), 80, "fine", 2), r=46, shadow=14, edge=4)
    c.box(x + 34, y + 40, 352, 214, rubber(30), r=16)
    c.box(x + 48, y + 54, 324, 186, Fill((188, 198, 178), (172, 184, 164), 90, "fine", 1), r=8)
    c.text(x + 352, y + 164, reading, 84, (28, 34, 30), bold=True, anchor="rm")
    c.text(x + 352, y + 222, unit, 34, (28, 34, 30), bold=True, anchor="rm")
    c.text(x + 66, y + 80, mode, 24, (28, 34, 30), bold=True, anchor="lm")
    if hold:
        c.text(x + 352, y + 80, "HOLD", 22, (28, 34, 30), bold=True, anchor="rm")
    for index, words in enumerate(("HOLD", "REL", "RANGE")):
        c.box(x + 52 + index * 112, y + 272, 92, 40, rubber(58), r=10, edge=2)
        c.text(x + 98 + index * 112, y + 292, words, 17, (220, 220, 214), bold=True)
    cx, cy = x + 210, y + 462
    c.disc(cx, cy, 112, 112, rubber(36), edge=3)
    c.disc(cx, cy, 78, 78, Fill((112, 118, 116), (58, 62, 62), round_=True), shadow=6, edge=3)
    marks = ("OFF", "V~", "V=", "mV", "ohm", "A=", "Hz")
    chosen = {"DC V": 2, "DC mV": 3, "ohm": 4, "DC A": 5}.get(mode, 2)
    for index, words in enumerate(marks):
        turn = np.deg2rad(-210 + index * 40)
        c.text(cx + 142 * np.cos(turn), cy + 138 * np.sin(turn), words, 20, (232, 232, 224), bold=True)
        if index == chosen:
            tip = (cx + 76 * np.cos(turn), cy + 76 * np.sin(turn))
            c.stroke([(cx, cy), tip], 12, (240, 240, 232))
    for index, (words, colour) in enumerate((("A", (150, 40, 34)), ("COM", (30, 30, 32)), ("V ohm", (150, 40, 34)))):
        px = x + 86 + index * 124
        c.disc(px, y + 668, 30, 30, Fill(colour, round_=True), edge=3)
        c.disc(px, y + 668, 15, 15, (12, 12, 12))
        c.text(px, y + 716, words, 18, (232, 232, 224))
    c.text(x + 210, y + 742, "W-M2  CAT III 600 V", 15, (200, 204, 198))


def leads(c: Canvas, x, y, red, black):
    """The two leads of the meter at (x, y), running along the given points."""
    c.tube([(x + 210, y + 668), (x + 214, y + 800), *black], 17, (34, 34, 36), shine=0.3)
    c.tube([(x + 334, y + 668), (x + 340, y + 790), *red], 17, RED, shine=0.4)


def probe(c: Canvas, x, y, colour, angle=35.0):
    """A test probe whose tip touches (x, y)."""
    turn = np.deg2rad(angle)
    dx, dy = np.cos(turn), -np.sin(turn)
    c.tube([(x, y), (x + 46 * dx, y + 46 * dy)], 9, (190, 192, 196), smooth=False, shadow=3)
    c.tube([(x + 46 * dx, y + 46 * dy), (x + 250 * dx, y + 250 * dy)], 34, colour, smooth=False)
    c.tube([(x + 62 * dx, y + 62 * dy), (x + 72 * dx, y + 72 * dy)], 50, colour, smooth=False)


def eyelet(c: Canvas, x, y, size=1.0, *, nut=True, wire=((-260, 40), (-520, 150)), colour=BROWN, dull=False):
    """A ring terminal on a stud at (x, y) with its crimped wire."""
    tin = metal(205, 150, 60) if not dull else metal(172, 118, 60)
    path = [(x - 150 * size, y + 12 * size), *[(x + dx * size, y + dy * size) for dx, dy in wire]]
    c.tube(path, 40 * size, colour)
    c.box(x - 200 * size, y - 28 * size, 92 * size, 66 * size, tin, r=12 * size, shadow=5, edge=3)
    for step in (-182, -160, -138):
        c.stroke([(x + step * size, y - 22 * size), (x + step * size, y + 32 * size)], 3 * size, (104, 104, 106))
    c.poly([(x - 122 * size, y - 20 * size), (x - 40 * size, y - 44 * size), (x - 40 * size, y + 46 * size),
            (x - 122 * size, y + 30 * size)], tin, shadow=4, edge=3)  # fmt: skip
    c.disc(x, y, 88 * size, 80 * size, tin, shadow=7, edge=4)
    if nut:
        c.disc(x, y, 64 * size, 58 * size, metal(190, 128), shadow=4, edge=3)
        c.hexagon(x, y - 4 * size, 50 * size, metal(198, 118, 40), flat=0.92)
        stud(c, x, y - 12 * size, 22 * size)
    else:
        c.disc(x, y, 34 * size, 31 * size, (46, 46, 48), edge=2)


def stud(c: Canvas, x, y, r):
    """The end of a threaded stud, from above."""
    for ring in range(5):
        share = 1 - ring * 0.07
        c.disc(x, y - ring * r * 0.1, r * share, r * share * 0.92, metal(120 + 18 * (ring % 2), 90, 50), edge=1)
    c.disc(x, y - r * 0.5, r * 0.62, r * 0.56, Fill((216, 217, 220), (150, 150, 154), round_=True))


def coil(c: Canvas, x, y, number: int, *, plugged=True, wires=4):
    """An ignition coil from above with its connector, 150 wide."""
    c.box(x - 74, y - 96, 148, 192, rubber(50), r=22, shadow=10, edge=3)
    c.box(x - 54, y - 76, 108, 104, Fill((70, 71, 74), (44, 44, 46), 60), r=12)
    c.text(x, y - 26, str(number), 50, (206, 206, 200), bold=True)
    c.disc(x + 52, y + 74, 17, 17, metal(190, 110), edge=2)
    if plugged:
        c.box(x - 50, y + 74, 84, 76, Fill((64, 62, 60), (34, 33, 32), 80), r=9, shadow=6, edge=3)
        c.box(x - 22, y + 98, 28, 22, Fill((160, 54, 44), (120, 36, 30)), r=4)
        for wire, colour in zip(range(wires), ((188, 60, 48), BROWN, (60, 120, 74), (200, 190, 150)), strict=False):
            c.tube(
                [(x - 40 + wire * 21, y + 146), (x - 42 + wire * 22, y + 178), (x - 70 + wire * 26, y + 214)],
                9,
                colour,
                shadow=2,
            )
    else:
        c.box(x - 46, y + 76, 76, 44, rubber(26), r=6, edge=2)
        for pin in range(wires):
            c.box(x - 38 + pin * 17, y + 86, 8, 24, metal(210, 150, tint=(30, 18, -40)))


def plate_label(c: Canvas, x, y, w, h, lines, *, size=34, paper=(226, 226, 218), ink=(28, 28, 30), bars=True):
    """A printed label with a bar code."""
    c.box(x, y, w, h, Fill(paper, np.array(paper) - 14, 80, "fine", 2), r=8, shadow=3, edge=2)
    for index, words in enumerate(lines):
        c.text(x + 26, y + 40 + index * size * 1.42, words, size, ink, bold=index == 0, anchor="lm")
    if bars:
        rng, at = np.random.default_rng(len("".join(lines))), x + 26
        while at < x + w - 30:
            width = float(rng.choice([2.5, 4, 6.5]))
            c.box(at, y + h - 66, width, 48, ink)
            at += width + float(rng.choice([3, 5, 7]))


def dial(
    c: Canvas, cx, cy, r, top: float, step: float, value: float, unit: str, *, ground=(18, 18, 20), ink=WHITE, small=24
):
    """A round gauge from 0 to ``top``, needle at ``value``."""
    c.disc(cx, cy, r + 16, r + 16, metal(200, 90), shadow=8, edge=3)
    c.disc(cx, cy, r, r, Fill(ground, np.array(ground) * 0.85, 90, "fine", 1))
    for index in range(int(top / step) + 1):
        turn = np.deg2rad(135 + 270 * index * step / top)
        out, inn = r * 0.93, r * 0.82
        c.stroke(
            [(cx + inn * np.cos(turn), cy + inn * np.sin(turn)), (cx + out * np.cos(turn), cy + out * np.sin(turn))],
            4,
            ink,
        )
        c.text(cx + r * 0.68 * np.cos(turn), cy + r * 0.68 * np.sin(turn), f"{index * step:g}", small, ink)
    turn = np.deg2rad(135 + 270 * value / top)
    back = (cx - r * 0.16 * np.cos(turn), cy - r * 0.16 * np.sin(turn))
    c.tube(
        [back, (cx + r * 0.84 * np.cos(turn), cy + r * 0.84 * np.sin(turn))], 8, (210, 60, 40), smooth=False, shadow=4
    )
    c.disc(cx, cy, r * 0.1, r * 0.1, Fill((90, 90, 92), (30, 30, 32), round_=True), edge=2)
    c.text(cx, cy + r * 0.72, unit, small, ink)


def cluster(distance: str, unit: str, *, lamps=(), message="", clock="", lit=(120, 220, 240)) -> Canvas:
    """An instrument cluster with the odometer readable."""
    c = Canvas(Fill((58, 58, 60), (30, 30, 32), 90, "grain", 3))
    c.poly([(0, 0), (1600, 0), (1600, 190), (1380, 120), (800, 84), (220, 120), (0, 190)], rubber(44), shadow=16)
    c.box(110, 210, 1380, 720, rubber(22), r=190, edge=4)
    fast = ("mph", 140, 20) if unit == "mi" else ("km/h", 220, 20)
    dial(c, 400, 560, 232, fast[1], fast[2], 0, fast[0])
    dial(c, 1200, 560, 232, 6, 1, 0, "rpm x 1000", small=30)
    c.box(654, 560, 292, 250, Fill((10, 22, 28), (14, 30, 38)), r=14, edge=3)
    c.text(800, 604, clock or " ", 30, lit)
    c.text(800, 668, f"{distance} {unit}", 42, lit, bold=True)
    c.text(800, 720, "total distance", 20, lit)
    c.text(800, 774, message or " ", 22, (250, 190, 80), bold=True)
    for index, (words, colour) in enumerate(lamps):
        px = 700 + index * 100
        c.glow(px, 420, 70, colour, 0.5)
        c.box(px - 40, 392, 80, 56, colour, r=10)
        c.text(px, 420, words, 15, (20, 20, 20), bold=True)
    c.poly([(0, 1200), (0, 1010), (500, 960), (1100, 960), (1600, 1010), (1600, 1200)], rubber(50), shadow=14)
    c.tube(
        [(180, 1200), (300, 1080), (560, 1010), (800, 995), (1040, 1010), (1300, 1080), (1420, 1200)],
        84,
        (40, 40, 42),
        shine=0.15,
    )
    return c


def yard(*, indoors=False) -> Canvas:
    """Ground and back wall of a workshop or yard."""
    if indoors:
        c = Canvas(Fill((176, 180, 178), (150, 154, 152), 90, "fine", 2, clouds=2))
        for x in range(0, 1600, 320):
            c.stroke([(x, 0), (x, 640)], 3, (130, 134, 132))
        c.box(60, 110, 380, 300, Fill((96, 104, 108), (70, 76, 80)), r=6, shadow=6)
        for index in range(7):
            c.box(84 + index * 50, 150, 22, 90 + 20 * (index % 3), metal(170, 90), r=5)
        c.box(1090, 70, 420, 330, Fill((214, 226, 232), (186, 204, 214), 90), r=4, edge=3)
        c.stroke([(1300, 70), (1300, 400)], 8, (110, 114, 114))
        c.poly(
            [(0, 640), (1600, 640), (1600, 1200), (0, 1200)],
            Fill((128, 126, 120), (96, 94, 90), 90, "grain", 6, clouds=3),
        )
    else:
        c = Canvas(Fill((186, 204, 218), (222, 226, 224), 90, "fine", 1, clouds=2))
        c.poly(
            [(0, 420), (360, 340), (700, 400), (1100, 330), (1600, 410), (1600, 700), (0, 700)],
            Fill((120, 136, 108), (92, 108, 84), 90, "grain", 8),
        )
        c.box(900, 300, 620, 380, Fill((168, 158, 144), (146, 136, 124), 90, "grain", 5), shadow=6)
        c.box(980, 430, 300, 250, Fill((94, 108, 116), (70, 84, 92), 90), edge=3)
        c.poly(
            [(0, 660), (1600, 660), (1600, 1200), (0, 1200)],
            Fill((140, 136, 128), (104, 100, 94), 90, "grain", 9, clouds=3),
        )
    return c


def wheel(c: Canvas, x, y, r=118):
    """A wheel from the side."""
    c.disc(x, y + r * 0.95, r * 1.3, r * 0.16, (40, 38, 36))
    c.disc(x, y, r, r, rubber(38), edge=3)
    c.disc(x, y, r * 0.64, r * 0.64, metal(196, 130, 60), edge=3)
    for index in range(8):
        turn = np.deg2rad(index * 45)
        c.disc(x + r * 0.44 * np.cos(turn), y + r * 0.44 * np.sin(turn), r * 0.1, r * 0.1, (58, 58, 60))
    c.disc(x, y, r * 0.17, r * 0.17, metal(160, 90), edge=2)


def number_plate(c: Canvas, x, y, words, w=190, h=52, size=30):
    """A registration plate."""
    c.box(x, y, w, h, Fill((236, 236, 230), (218, 218, 212)), r=6, edge=2)
    c.text(x + w / 2, y + h / 2, words, size, (20, 20, 24), bold=True)


def van(c: Canvas, plate: str, *, body=(226, 226, 220)):
    """A delivery van from the side."""
    b = np.array(body)
    outline = [
        (190, 880),
        (180, 520),
        (214, 400),
        (980, 388),
        (1130, 420),
        (1248, 590),
        (1400, 640),
        (1430, 720),
        (1436, 880),
    ]
    c.poly(outline, Fill(b, b - 44, 90, "fine", 2), shadow=14, edge=4)
    c.poly([(1040, 430), (1118, 446), (1216, 590), (1040, 596)], Fill((96, 116, 128), (52, 66, 76), 60), edge=3)
    c.stroke([(1020, 410), (1020, 868)], 3, b * 0.7)
    c.stroke([(640, 400), (640, 868)], 3, b * 0.7)
    c.stroke([(196, 700), (1020, 700)], 4, b * 0.78)
    c.box(1050, 650, 70, 18, rubber(60), r=8)
    c.box(664, 640, 60, 18, rubber(60), r=8)
    c.poly([(1386, 652), (1428, 690), (1428, 740), (1376, 720)], Fill((236, 232, 214), (196, 190, 170)), edge=3)
    c.box(182, 560, 22, 120, Fill((178, 40, 34), (120, 24, 22)), r=5)
    c.box(1350, 800, 96, 70, rubber(58), r=14)
    wheel(c, 430, 880)
    wheel(c, 1228, 880)
    c.text(560, 560, "MARWICK BAKERY", 46, (110, 74, 46), bold=True)
    c.text(560, 620, "bread before eight", 30, (110, 74, 46))
    number_plate(c, 1180, 752, plate, 160, 44, 26)


def car(c: Canvas, plate: str, *, body=(112, 34, 40)):
    """A four-door car from the side."""
    b = np.array(body)
    outline = [
        (180, 870),
        (184, 690),
        (300, 640),
        (430, 480),
        (560, 424),
        (900, 420),
        (1070, 500),
        (1190, 630),
        (1390, 680),
        (1430, 770),
        (1428, 870),
    ]
    c.poly(outline, Fill(np.clip(b + 34, 0, 255), np.clip(b - 30, 0, 255), 90, "fine", 2), shadow=14, edge=4)
    c.poly(
        [(470, 520), (576, 456), (740, 450), (740, 622), (420, 628)], Fill((108, 124, 134), (48, 58, 66), 60), edge=3
    )
    c.poly(
        [(764, 450), (890, 450), (1036, 526), (1120, 620), (764, 622)], Fill((108, 124, 134), (48, 58, 66), 60), edge=3
    )
    c.stroke([(752, 440), (752, 850)], 3, b * 0.5)
    c.box(790, 660, 60, 16, rubber(60), r=7)
    c.box(470, 664, 60, 16, rubber(60), r=7)
    c.poly([(1330, 672), (1408, 700), (1420, 748), (1330, 716)], Fill((236, 232, 214), (190, 186, 170)), edge=3)
    c.box(180, 690, 36, 80, Fill((190, 40, 34), (130, 24, 22)), r=6)
    wheel(c, 430, 870)
    wheel(c, 1180, 870)
    number_plate(c, 1262, 790, plate, 150, 44, 26)


def clock_scene(time: str, date: str, words: str) -> Canvas:
    """A radio-controlled wall clock, the reference for camera clocks."""
    c = Canvas(Fill((196, 198, 192), (170, 172, 166), 80, "fine", 3, clouds=2))
    c.box(270, 210, 1060, 760, Fill((226, 226, 222), (190, 190, 186), 80), r=60, shadow=22, edge=4)
    c.box(350, 300, 900, 420, Fill((184, 194, 174), (170, 182, 160), 90, "fine", 1), r=18, edge=4)
    c.text(800, 470, time, 150, (26, 30, 26), bold=True)
    c.text(800, 640, date, 66, (26, 30, 26), bold=True)
    c.text(800, 800, words, 38, (70, 72, 70))
    for index in range(4):
        c.box(520 + index * 150, 868, 100, 44, rubber(80), r=20, edge=2)
    return c


def board(words: str, below="") -> Canvas:
    """A clean work bench with a paper slip that names the exhibit."""
    c = Canvas(BENCH)
    for y in (240, 560, 900):
        c.stroke([(0, y), (1600, y + 10)], 3, (96, 76, 54))
    slip(c, 60, 1040, words, below)
    return c


def slip(c: Canvas, x, y, words, below=""):
    """The paper slip beside a thing."""
    c.box(x, y, 720, 112, Fill((240, 238, 226), (228, 226, 212)), r=4, shadow=6)
    c.text(x + 24, y + 38, words, 30, (30, 30, 34), bold=True, anchor="lm")
    c.text(x + 24, y + 80, below or " ", 24, (60, 60, 66), anchor="lm")


def lamp(c: Canvas, x, y, *, lit: bool):
    """A small test lamp on its holder."""
    c.box(x - 44, y + 30, 88, 70, rubber(60), r=10, shadow=8, edge=3)
    c.disc(
        x,
        y,
        44,
        50,
        Fill((250, 226, 150), (236, 190, 90), round_=True) if lit else Fill((150, 152, 150), (96, 98, 98), round_=True),
        edge=3,
    )
    if lit:
        c.glow(x, y, 210, (255, 232, 150), 0.85)
    else:
        c.stroke([(x - 14, y + 10), (x - 6, y - 12), (x + 6, y + 8), (x + 14, y - 12)], 4, (60, 60, 60))


def painted_boss(c: Canvas, *, clean=False):
    """Cylinder head corner with the ground boss: under fresh paint, or scraped to bare metal."""
    c.poly([(0, 700), (420, 560), (1160, 540), (1600, 640), (1600, 1200), (0, 1200)], cast(142), shadow=18)
    c.poly([(380, 1010), (420, 520), (620, 400), (1010, 400), (1180, 520), (1230, 1010)], PAINT, shadow=16, edge=4)
    c.disc(800, 660, 260, 230, PAINT, shadow=12, edge=5)
    if clean:
        c.disc(800, 660, 176, 156, Fill((206, 208, 212), (168, 170, 174), 40, "brush", 12), edge=3)
    else:
        c.stain([(620, 520), (900, 480), (960, 560), (660, 620)], (196, 216, 226), 0.35, 12)
    for x, y in ((470, 920), (1130, 930)):
        c.disc(x, y, 62, 56, PAINT, shadow=6, edge=3)
        c.hexagon(x, y, 42, PAINT, top=PAINT)

"""Pictures of the van that does not start."""

from __future__ import annotations

import itertools

from making.canvas import Canvas, Fill, cast, metal, rubber
from making.parts import (
    BLACK,
    BROWN,
    PAINT,
    RED,
    board,
    coil,
    dial,
    eyelet,
    lamp,
    leads,
    meter,
    painted_boss,
    plate_label,
    probe,
    ruler,
    slip,
    stud,
    van,
    yard,
)


def arrival():
    """The van in the workshop, wheels chocked."""
    c = yard(indoors=True)
    van(c, "7 KB 4413")
    c.poly([(1330, 1000), (1400, 1000), (1400, 930)], Fill((206, 170, 40), (150, 120, 30)), shadow=4)
    return c


def plate():
    """Front plate, close."""
    c = Canvas(Fill((222, 222, 216), (176, 176, 170), 90, "fine", 2))
    c.box(0, 640, 1600, 560, rubber(56))
    for y in range(60, 520, 76):
        c.box(180, y, 1240, 40, rubber(34), r=18, edge=2)
    c.box(290, 690, 1020, 300, rubber(30), r=20, shadow=10)
    c.box(320, 716, 960, 248, Fill((238, 238, 232), (218, 218, 212)), r=20, edge=4)
    c.text(800, 842, "7 KB 4413", 150, (20, 20, 24), bold=True)
    for x in (356, 1244):
        c.disc(x, 840, 14, 14, metal(190, 110))
    return c


def type_plate(vin: str):
    """The type plate in the door opening."""
    c = Canvas(Fill((212, 212, 206), (180, 180, 174), 60, "fine", 2))
    c.box(1260, 0, 340, 1200, rubber(40), shadow=16)
    c.box(190, 300, 960, 560, metal(216, 186, 30), r=16, shadow=8, edge=4)
    for x, y in ((226, 336), (1114, 336), (226, 824), (1114, 824)):
        c.disc(x, y, 15, 15, metal(160, 90), edge=2)
    c.text(670, 374, "DELIVERY VAN  TYPE DV-4", 44, (30, 30, 34), bold=True)
    c.text(670, 476, vin, 60, (30, 30, 34), bold=True)
    for index, words in enumerate(
        ("1-  3 300 kg      2-  5 300 kg", "engine  K4P 2.0 petrol, 4 cylinders", "built   2021-06")
    ):
        c.text(290, 580 + index * 78, words, 40, (40, 40, 44), anchor="lm")
    return c


def _bay(c: Canvas):
    """Engine bay around the engine: wings, bulkhead, battery, bottle."""
    c.poly([(0, 0), (1600, 0), (1600, 210), (1180, 170), (420, 170), (0, 210)], rubber(52), shadow=14)
    c.poly([(0, 200), (190, 240), (230, 1200), (0, 1200)], Fill((224, 224, 218), (176, 176, 170), 0), shadow=10)
    c.poly([(1600, 200), (1410, 240), (1370, 1200), (1600, 1200)], Fill((176, 176, 170), (224, 224, 218), 0), shadow=10)
    c.box(1090, 250, 270, 250, rubber(34), r=12, shadow=12, edge=3)
    c.text(1225, 420, "12 V  70 Ah", 28, (200, 200, 194))
    c.disc(1140, 306, 24, 24, metal(190, 110), edge=2)
    c.disc(1310, 306, 24, 24, metal(190, 110), edge=2)
    c.box(1284, 280, 60, 22, Fill(RED))
    c.tube([(1140, 306), (1080, 240), (1010, 230)], 24, (36, 36, 38))
    c.tube([(1316, 300), (1400, 400), (1390, 620)], 24, RED)
    c.disc(330, 380, 92, 84, Fill((226, 224, 204), (196, 192, 168), round_=True), shadow=10, edge=3)
    c.disc(330, 362, 44, 40, Fill((60, 100, 150), (34, 64, 104)), edge=3)


def bay_overview():
    """Engine bay as received."""
    c = Canvas(Fill((52, 52, 54), (34, 34, 36), 90, "grain", 4))
    _bay(c)
    c.poly([(330, 560), (1240, 540), (1290, 940), (300, 960)], cast(140), shadow=18, edge=4)
    c.poly([(370, 590), (1200, 574), (1230, 840), (350, 856)], PAINT, shadow=12, edge=4)
    for index in range(4):
        coil(c, 470 + index * 200, 690, index + 1)
    c.tube([(400, 924), (700, 910), (1000, 914), (1230, 880), (1330, 700)], 34, (40, 40, 42))
    eyelet(c, 388, 800, 0.34, wire=((-120, 60), (40, 300)))
    c.box(300, 990, 1010, 130, rubber(60), r=40, shadow=12, edge=3)
    c.tube([(240, 700), (250, 880), (330, 1020)], 54, (42, 42, 44))
    return c


def rail_middle():
    """Coil rail with its one ground eyelet at the left end."""
    c = Canvas(cast(132))
    c.poly([(60, 210), (1560, 180), (1600, 860), (40, 900)], PAINT, shadow=14, edge=5)
    c.stroke([(80, 240), (1540, 214)], 10, (64, 96, 116))
    for index in range(4):
        coil(c, 420 + index * 310, 480, index + 1)
    c.tube([(300, 740), (640, 716), (960, 720), (1300, 706), (1600, 690)], 46, (38, 38, 40))
    for x in (520, 860, 1180):
        c.box(x, 684, 26, 62, (30, 30, 32), r=4)
    c.tube([(300, 740), (230, 752), (160, 716)], 22, BROWN)
    c.disc(176, 610, 96, 86, PAINT, shadow=8, edge=4)
    eyelet(c, 176, 610, 0.62, wire=((-120, 110), (20, 210)))
    c.specks(260, 700, 44, 60, (92, 128, 150), 4)
    return c


def eyelet_close(*, scale=False):
    """The eyelet clamped on fresh paint, unbroken rim of paint under it."""
    c = Canvas(Fill((58, 60, 62), (36, 38, 40), 80, "grain", 4))
    painted_boss(c)
    eyelet(c, 800, 660, 1.5)
    c.stain([(690, 770), (900, 776), (880, 800), (720, 798)], (150, 184, 204), 0.7, 5)  # paint squeezed up at the rim
    c.specks(620, 800, 90, 140, (104, 142, 164), 8, 3)
    c.specks(520, 690, 40, 30, (104, 142, 164), 9, 3)
    if scale:
        ruler(c, 420, 960, 45, 17.6)
    return c


def harness_clips():
    """The coil harness in its clips: whole, no splice (a picture in portrait)."""
    c = Canvas(cast(128))
    c.poly([(0, 300), (1600, 260), (1600, 640), (0, 690)], PAINT, shadow=10, edge=4)
    c.tube([(-20, 800), (380, 772), (760, 790), (1160, 756), (1620, 770)], 88, (36, 36, 38), shine=0.2)
    for x in range(40, 1600, 60):
        c.stroke([(x, 740), (x + 30, 836)], 4, (24, 24, 26))
    for x in (260, 800, 1330):
        c.box(x, 716, 54, 150, rubber(70), r=10, shadow=8, edge=3)
        c.disc(x + 27, 700, 20, 20, rubber(60), edge=2)
    for index, x in enumerate((160, 560, 1000, 1420)):
        c.tube([(x, 790), (x + 10, 620), (x + 30, 480)], 30, (44, 44, 46))
        c.box(x - 20, 400, 100, 90, rubber(40), r=10, shadow=8, edge=3)
        c.text(x + 30, 444, str(index + 1), 38, (210, 210, 204), bold=True)
    return c


def drop(reading: str, number: int, *, refitted=False, unit="V", plus=False):
    """Voltage drop at one coil plug, lamp load connected."""
    c = Canvas(cast(120))
    c.poly([(0, 80), (900, 60), (930, 700), (0, 740)], PAINT, shadow=12, edge=4)
    coil(c, 300, 330, number, plugged=False)
    c.box(300, 640, 190, 120, rubber(44), r=14, shadow=10, edge=3)
    c.text(394, 730, f"plug {number}", 26, (220, 220, 214))
    for pin in range(4):
        c.box(324 + pin * 38, 656, 18, 36, metal(210, 150, tint=(30, 18, -40)), r=3)
    c.tube([(394, 760), (380, 860), (300, 960), (120, 1010)], 46, (38, 38, 40))
    lamp(c, 700, 300, lit=True)
    c.tube([(676, 398), (560, 520), (460, 640), (448, 672)], 14, (210, 190, 60))
    c.tube([(724, 398), (800, 520), (820, 760), (900, 1200)], 14, (210, 190, 60))
    meter(c, 1100, 60, reading, unit, "DC mV" if unit == "mV" else "DC V")
    tip = 370 if not plus else 330
    leads(
        c,
        1100,
        60,
        [(1200, 980), (900, 1010), (tip + 260, 880), (tip + 197, 826)],
        [(1250, 1000), (1080, 1130), (960, 1210)],
    )
    probe(c, tip, 672, RED, -38)
    words = "positive post to supply" if plus else "coil ground to battery negative post"
    c.box(40, 1050, 800, 110, Fill((240, 238, 226), (226, 224, 210)), r=4, shadow=5)
    c.text(64, 1084, f"coil {number}: {words}", 28, (30, 30, 34), bold=True, anchor="lm")
    c.text(
        64,
        1130,
        "key on, lamp 2.1 A" + (", eyelet on bare metal" if refitted else ", nothing touched"),
        25,
        (60, 60, 66),
        anchor="lm",
    )
    return c


def battery_meter(reading: str):
    """Battery voltage at the posts."""
    c = Canvas(Fill((60, 60, 62), (40, 40, 42), 90, "grain", 4))
    c.box(90, 330, 880, 640, rubber(34), r=24, shadow=16, edge=4)
    c.box(130, 560, 800, 300, Fill((214, 214, 206), (196, 196, 188)), r=10)
    c.text(530, 650, "12 V   70 Ah   640 A", 54, (40, 40, 44), bold=True)
    c.text(530, 750, "lead-acid, eye protection", 34, (90, 60, 40))
    for x, words in ((230, "-"), (830, "+")):
        c.disc(x, 430, 66, 60, metal(170, 100, 60), shadow=8, edge=3)
        c.disc(x, 416, 40, 36, metal(196, 140, 60), edge=3)
        c.text(x, 515, words, 60, (220, 220, 214), bold=True)
    c.tube([(230, 420), (300, 240), (280, -20)], 40, (36, 36, 38))
    c.tube([(830, 420), (760, 260), (700, -20)], 40, RED)
    meter(c, 1090, 60, reading, "V")
    leads(
        c,
        1090,
        60,
        [(1200, 1000), (1040, 800), (1020, 480), (1074, 337)],
        [(1200, 1080), (700, 1130), (60, 1060), (30, 640), (34, 253)],
    )
    probe(c, 836, 414, RED, 18)
    probe(c, 226, 414, BLACK, 140)
    return c


def main_fuse():
    """Fuse box: the main fuse whole, element visible."""
    c = Canvas(rubber(40))
    c.box(120, 120, 1360, 960, rubber(54), r=30, shadow=14, edge=4)
    for row in range(3):
        for column in range(6):
            colour = ((176, 60, 50), (70, 110, 170), (206, 176, 60), (70, 140, 80))[(row * 5 + column * 3) % 4]
            c.box(
                190 + column * 122,
                180 + row * 150,
                84,
                116,
                Fill(colour, [v * 0.7 for v in colour], 80),
                r=10,
                shadow=5,
                edge=3,
            )
            c.text(
                232 + column * 122,
                222 + row * 150,
                str((10, 20, 15, 30)[(row * 5 + column * 3) % 4]),
                30,
                WHITE_INK,
                bold=True,
            )
    c.box(1000, 200, 400, 360, rubber(30), r=16, edge=3)
    c.box(190, 690, 1210, 300, rubber(28), r=16, edge=3)
    c.box(330, 740, 920, 200, Fill((226, 220, 196), (206, 200, 172), 90, "fine", 1), r=20, shadow=8, edge=4)
    c.box(230, 790, 150, 100, metal(206, 150), r=8, edge=3)
    c.box(1200, 790, 150, 100, metal(206, 150), r=8, edge=3)
    c.stroke(
        [(380, 840), (560, 840), (620, 800), (700, 880), (780, 800), (860, 880), (920, 840), (1200, 840)],
        22,
        metal(214, 160, 90),
    )
    c.text(800, 772, "MAIN  150 A", 36, (60, 50, 36), bold=True)
    for x in (300, 1280):
        c.hexagon(x, 840, 38, metal(190, 110))
    for index, words in enumerate(("relay 1", "relay 2")):
        c.box(1040, 230 + index * 160, 320, 130, rubber(64), r=10, shadow=5, edge=3)
        c.text(1200, 296 + index * 160, words, 30, (206, 206, 200))
    return c


WHITE_INK = (242, 242, 238)


def socket_feed():
    """Owner's trailer socket: its own fused line from the battery, far from the coil harness."""
    c = Canvas(Fill((72, 74, 76), (48, 50, 52), 90, "grain", 5))
    c.box(60, 160, 480, 420, rubber(34), r=18, shadow=14, edge=4)
    c.disc(420, 260, 56, 50, metal(176, 110), shadow=6, edge=3)
    c.text(420, 352, "+", 54, (220, 220, 214), bold=True)
    c.disc(180, 260, 56, 50, metal(176, 110), shadow=6, edge=3)
    c.text(180, 352, "-", 54, (220, 220, 214), bold=True)
    c.text(300, 470, "12 V", 46, (200, 200, 194), bold=True)
    c.tube([(420, 250), (620, 160), (780, 220)], 22, RED)
    c.box(760, 180, 200, 110, Fill((206, 176, 60), (170, 140, 44), 90), r=14, shadow=8, edge=3)
    c.text(860, 236, "20 A", 44, (40, 36, 20), bold=True)
    c.tube([(950, 240), (1160, 250), (1330, 430), (1350, 640)], 22, RED)
    c.tube([(180, 250), (90, 90), (700, 60), (1240, 110), (1420, 420), (1400, 640)], 20, (36, 36, 38))
    c.box(1120, 640, 360, 340, rubber(46), r=26, shadow=14, edge=4)
    c.disc(1300, 810, 140, 140, rubber(26), edge=4)
    c.disc(1300, 810, 108, 108, Fill((60, 62, 64), (36, 38, 40), round_=True), edge=3)
    for dx, dy in ((-54, -34), (54, -34), (-64, 28), (64, 28), (-30, 70), (30, 70), (0, 0)):
        c.disc(1300 + dx, 810 + dy, 15, 15, metal(206, 150, tint=(30, 18, -40)), edge=2)
    c.text(1300, 1010, "trailer socket, 7 pin", 30, (226, 226, 220))
    c.tube([(0, 1120), (500, 1090), (820, 1110), (1060, 1180)], 66, (36, 36, 38), shine=0.2)
    c.text(420, 1010, "coil and module harness: tape whole, no splice", 30, (226, 226, 220))
    return c


def boss_clean():
    """Boss scraped to bare metal, eyelet off."""
    c = Canvas(Fill((58, 60, 62), (36, 38, 40), 80, "grain", 4))
    painted_boss(c, clean=True)
    stud(c, 800, 650, 40)
    eyelet(c, 330, 330, 1.2, nut=False, wire=((-260, -40), (-500, -120)))
    c.disc(
        330, 330, 60, 54, Fill((92, 128, 150), (70, 104, 126), texture="grain", amount=10), hole=0.62
    )  # paint print on the face
    ruler(c, 420, 1040, 45, 17.6)
    return c


def eyelet_refitted():
    """Eyelet refitted on bare metal."""
    c = Canvas(Fill((58, 60, 62), (36, 38, 40), 80, "grain", 4))
    painted_boss(c, clean=True)
    eyelet(c, 800, 660, 1.5)
    ruler(c, 420, 1040, 45, 17.6)
    return c


def module_label(lines, slip_words):
    """A control module on the bench with its label."""
    c = board(slip_words)
    c.box(260, 190, 1080, 720, metal(170, 118, 60), r=26, shadow=22, edge=5)
    for x in range(300, 1320, 60):
        c.stroke([(x, 210), (x, 330)], 14, (112, 113, 116))
    c.box(330, 850, 430, 120, rubber(34), r=14, shadow=8, edge=3)
    c.box(840, 850, 430, 120, rubber(34), r=14, shadow=8, edge=3)
    for x, y in ((296, 226), (1304, 226), (296, 880), (1304, 880)):
        c.disc(x, y, 20, 20, metal(150, 80), edge=2)
    plate_label(c, 420, 390, 760, 390, lines, size=40)
    return c


def module_connector():
    """Connector cavities of the original module: dry, pins bright."""
    c = Canvas(Fill((62, 64, 66), (42, 44, 46), 90, "grain", 5))
    c.tube([(0, 80), (420, 60), (900, 110), (1600, 40)], 70, (38, 38, 40), shine=0.2)
    slip(c, 60, 1040, "Original control module, in place", "plugs drawn, work lamp, nothing wiped")
    c.box(170, 190, 1260, 700, metal(160, 112, 60), r=26, shadow=20, edge=5)
    for x in (240, 830):
        c.box(x, 290, 530, 500, rubber(40), r=26, shadow=10, edge=4)
        c.box(x + 36, 330, 458, 420, rubber(18), r=16)
        for row in range(5):
            for column in range(8):
                c.box(x + 66 + column * 52, 366 + row * 76, 16, 36, metal(222, 164, tint=(28, 16, -50)), r=3, edge=1)
    return c


def bench(words: str, *, live: bool):
    """Module on the bench: speed signal in, four small lamps at the coil outputs."""
    c = board(words, "valid speed signal 1 200 rpm, four lamps as dummy load")
    c.box(110, 430, 520, 400, metal(172, 122, 60), r=20, shadow=18, edge=4)
    plate_label(
        c, 180, 500, 380, 170, ["2P-40771-C" if not live else "2P-40771-D", "coil outputs 1 to 4"], size=30, bars=True
    )
    c.box(180, 790, 380, 90, rubber(34), r=12, shadow=6, edge=3)
    for index in range(4):
        x = 820 + index * 190
        c.tube(
            [(430 + index * 30, 850), (560 + index * 60, 960 - index * 20), (x, 760), (x, 640)],
            12,
            ((188, 60, 48), (60, 120, 74), (70, 100, 170), (206, 176, 60))[index],
        )
        lamp(c, x, 520, lit=live)
        c.text(x, 680, str(index + 1), 40, (240, 236, 220), bold=True)
    c.box(110, 80, 520, 250, rubber(44), r=18, shadow=14, edge=4)
    c.box(150, 112, 300, 180, Fill((14, 34, 28), (18, 44, 34)), r=8)
    points = [(160 + step * 7, 220 if step % 4 < 2 else 170) for step in range(41)]
    c.stroke([p for a, b in itertools.pairwise(points) for p in (a, (b[0], a[1]))], 4, (120, 230, 160))
    c.text(540, 170, "speed", 28, (220, 220, 214))
    c.text(540, 214, "signal", 28, (220, 220, 214))
    c.tube([(380, 330), (390, 380), (380, 440)], 16, (34, 34, 36))
    return c


def compression(value: float, cylinder: int):
    """Compression gauge."""
    c = Canvas(cast(122))
    c.poly([(0, 700), (1600, 660), (1600, 1200), (0, 1200)], PAINT, shadow=12, edge=4)
    for index in range(4):
        c.disc(240 + index * 370, 930, 84, 76, rubber(26), shadow=8, edge=4)
        c.text(240 + index * 370, 1050, str(index + 1), 44, (226, 232, 236), bold=True)
    x = 240 + (cylinder - 1) * 370
    c.tube([(800, 640), (860, 760), (x + 40, 800), (x, 930)], 40, (34, 34, 36))
    dial(c, 800, 360, 300, 300, 50, value, "psi", ground=(232, 232, 226), ink=(24, 24, 28), small=36)
    c.text(800, 250, f"cylinder {cylinder}", 32, (60, 60, 64))
    return c

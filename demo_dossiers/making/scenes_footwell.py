"""The one picture that came with the complaint about the wet footwell."""

from __future__ import annotations

import numpy as np

from making.canvas import Canvas, Fill, rubber
from making.parts import RED


def footwell():
    """Front passenger footwell with water standing on the carpet."""
    c = Canvas(Fill((66, 66, 70), (48, 48, 52), 90, "grain", 4))
    c.poly([(0, 0), (1600, 0), (1600, 250), (1240, 330), (360, 330), (0, 260)], rubber(54), shadow=18, edge=4)
    c.box(480, 110, 620, 150, rubber(46), r=24, edge=4)
    c.text(790, 186, "AIRBAG", 30, (150, 150, 150))
    c.poly([(300, 330), (1300, 330), (1460, 900), (140, 900)], Fill((70, 64, 58), (96, 88, 80), 90, "weave", 12))
    c.poly(
        [(140, 900), (1460, 900), (1560, 1200), (40, 1200)], Fill((88, 80, 72), (72, 66, 60), 90, "weave", 12), shadow=8
    )
    c.poly([(0, 250), (300, 330), (140, 900), (0, 1150)], Fill((84, 86, 90), (58, 60, 64), 0), shadow=14, edge=3)
    c.poly(
        [(1600, 250), (1300, 330), (1460, 900), (1600, 1150)], Fill((52, 54, 58), (80, 82, 86), 0), shadow=14, edge=3
    )
    water = [
        (330, 640),
        (560, 590),
        (900, 610),
        (1180, 600),
        (1330, 700),
        (1370, 830),
        (1100, 880),
        (640, 870),
        (300, 850),
        (250, 730),
    ]
    c.stain(water, (34, 36, 40), 0.75, 26)
    c.stain([(430, 700), (800, 660), (1140, 690), (1200, 790), (800, 830), (460, 800)], (120, 138, 150), 0.5, 20)
    c.stain([(560, 720), (760, 700), (740, 736), (580, 748)], (222, 232, 238), 0.8, 7)
    c.stain([(930, 740), (1080, 726), (1060, 762), (950, 770)], (222, 232, 238), 0.65, 7)
    rng = np.random.default_rng(7)
    for x, y in zip(rng.uniform(330, 1280, 40), rng.uniform(350, 560, 40), strict=True):
        c.disc(x, y, 5, 7, Fill((176, 190, 198), (90, 100, 108), round_=True))
    for x in (420, 450, 486):
        c.stain(
            [(x, 330), (x + 12, 330), (x + 18, 600), (x + 4, 600)], (40, 42, 46), 0.6, 6
        )  # runs down from the left edge
    c.box(60, 420, 110, 180, rubber(30), r=10, edge=3)
    for index, colour in enumerate((RED, (70, 110, 170), (206, 176, 60))):
        c.box(78, 440 + index * 52, 74, 38, colour, r=5, edge=2)
    return c

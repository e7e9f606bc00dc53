"""A small drawing surface: filled shapes with texture, shading and shadow, in units of a 1600 x 1200 picture."""

from __future__ import annotations

import importlib.resources
import io
from functools import cache

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

WIDTH, HEIGHT = 1600, 1200
SCALE = 2  # drawn twice as large and reduced, which smooths edges


@cache
def font(size: int, *, bold: bool = False) -> ImageFont.FreeTypeFont:
    """The font that comes with the PDF library, so that every machine draws the same letters."""
    name = "VeraBd.ttf" if bold else "Vera.ttf"
    data = (importlib.resources.files("reportlab") / "fonts" / name).read_bytes()
    return ImageFont.truetype(io.BytesIO(data), size, layout_engine=ImageFont.Layout.BASIC)


@cache
def tile(kind: str) -> np.ndarray:
    """A 1024 x 1024 field of noise, mean 0, deviation 1: ``fine``, ``grain``, ``cloud``, ``brush`` or ``weave``."""
    rng = np.random.default_rng(sum(map(ord, kind)))
    field = rng.normal(size=(1024, 1024)).astype(np.float32)
    across, down = {"fine": (1, 1), "grain": (3, 3), "cloud": (40, 40), "brush": (90, 1), "weave": (2, 7)}[kind]
    field = _blur(_blur(field, across, 1), down, 0)
    return (field - field.mean()) / field.std()


def _blur(field: np.ndarray, width: int, axis: int) -> np.ndarray:
    """Running mean around the edges, twice: a soft blur that tiles."""
    if width <= 1:
        return field
    for _ in range(2):
        padded = np.concatenate([np.take(field, range(-width, 0), axis=axis), field], axis=axis)
        sums = np.cumsum(padded, axis=axis, dtype=np.float64)
        ahead = np.take(sums, range(width, sums.shape[axis]), axis=axis)
        behind = np.take(sums, range(sums.shape[axis] - width), axis=axis)
        field = ((ahead - behind) / width).astype(np.float32)
    return field


class Fill:
    """Colour of a shape: one or two colours along an angle, with texture. Colours are (r, g, b)."""

    def __init__(self, colour, to=None, angle=90, texture="fine", amount=2.0, round_=False, clouds=0.0):
        self.colour = np.array(colour, np.float32)
        self.to = np.array(to if to is not None else colour, np.float32)
        self.angle, self.texture, self.amount, self.round, self.clouds = angle, texture, amount, round_, clouds

    def pixels(self, left: int, top: int, width: int, height: int) -> Image.Image:
        """The fill for a box, in drawn pixels; of a large one only every second pixel is worked out."""
        if width * height > 200_000:
            half = self.pixels(left // SCALE, top // SCALE, -(-width // SCALE), -(-height // SCALE))
            return half.resize((half.width * SCALE, half.height * SCALE), Image.Resampling.NEAREST).crop(
                (0, 0, width, height)
            )
        y, x = np.mgrid[0:height, 0:width].astype(np.float32)
        if self.round:  # light from the upper left
            share = np.hypot(x / max(width, 1) - 0.36, y / max(height, 1) - 0.32) / 0.85
        else:
            turn = np.deg2rad(self.angle)
            along = x / max(width, 1) * np.cos(turn) + y / max(height, 1) * np.sin(turn)
            share = along / (abs(np.cos(turn)) + abs(np.sin(turn)))
        share = np.clip(share, 0, 1)[..., None]
        colour = self.colour * (1 - share) + self.to * share
        bump = _noise(self.texture, left, top, width, height) * self.amount
        if self.clouds:
            bump = bump + _noise("cloud", left, top, width, height) * self.clouds
        return Image.fromarray(np.clip(colour + bump[..., None], 0, 255).astype(np.uint8))


def _noise(kind: str, left: int, top: int, width: int, height: int) -> np.ndarray:
    field = tile(kind)
    rows = (np.arange(height) + top) % field.shape[0]
    columns = (np.arange(width) + left) % field.shape[1]
    return field[np.ix_(rows, columns)]


def metal(light=205, dark=120, angle=90, tint=(0, 2, 6)) -> Fill:
    """Turned or brushed metal."""
    up, down = (np.array(tint) + light), (np.array(tint) + dark)
    return Fill(up, down, angle, "brush", 5)


def cast(level=150, tint=(0, 1, 4)) -> Fill:
    """Cast aluminium, as it comes from sand."""
    base = np.array(tint) + level
    return Fill(base + 14, base - 22, 70, "grain", 8, clouds=2.5)


def rubber(level=42) -> Fill:
    """Black plastic or rubber."""
    return Fill((level + 16, level + 17, level + 19), (level - 10, level - 10, level - 9), 75, "fine", 2)


class Canvas:
    """The picture under way."""

    def __init__(self, ground: Fill):
        self.image = ground.pixels(0, 0, WIDTH * SCALE, HEIGHT * SCALE)

    def _lay(self, draw, box, fill, shadow, edge):
        """Draw ``draw(ImageDraw, offset)`` as a mask in ``box`` and put ``fill`` through it."""
        pad = 4 + int(shadow * 3 * SCALE)
        left, top = int(box[0] * SCALE) - pad, int(box[1] * SCALE) - pad
        width, height = int((box[2] - box[0]) * SCALE) + 2 * pad, int((box[3] - box[1]) * SCALE) + 2 * pad
        mask = Image.new("L", (width, height))
        draw(ImageDraw.Draw(mask), (left, top))
        if shadow:
            soft = mask.filter(ImageFilter.GaussianBlur(shadow * SCALE)).point(lambda v: int(v * 0.55))
            drop = int(shadow * SCALE * 0.7)
            self.image.paste((8, 8, 10), (left + drop, top + drop), soft)
        paint = fill if isinstance(fill, Fill) else Fill(fill, texture="fine", amount=1.5)
        inner = (left + pad - 2, top + pad - 2)
        crop = mask.crop((pad - 2, pad - 2, width - pad + 2, height - pad + 2))
        if crop.width < 1 or crop.height < 1:
            return
        if edge:
            ring = crop.filter(ImageFilter.BoxBlur(edge)).point(lambda v: 255 if v > 246 else 0)
            pixels = paint.pixels(*inner, *crop.size)
            self.image.paste(pixels.point(lambda v: int(v * 0.55)), inner, crop)
            self.image.paste(pixels, inner, ring)
        else:
            self.image.paste(paint.pixels(*inner, *crop.size), inner, crop)

    def poly(self, points, fill, *, shadow=0.0, edge=0):
        """A filled polygon."""
        xs, ys = [p[0] for p in points], [p[1] for p in points]

        def draw(pen, offset):
            pen.polygon([(x * SCALE - offset[0], y * SCALE - offset[1]) for x, y in points], fill=255)

        self._lay(draw, (min(xs), min(ys), max(xs), max(ys)), fill, shadow, edge)

    def box(self, x, y, w, h, fill, *, r=0, shadow=0.0, edge=0):
        """A rectangle with rounded corners."""

        def draw(pen, offset):
            at = [
                x * SCALE - offset[0],
                y * SCALE - offset[1],
                (x + w) * SCALE - offset[0],
                (y + h) * SCALE - offset[1],
            ]
            pen.rounded_rectangle(at, r * SCALE, fill=255)

        self._lay(draw, (x, y, x + w, y + h), fill, shadow, edge)

    def disc(self, cx, cy, rx, ry, fill, *, shadow=0.0, edge=0, hole=0.0):
        """An ellipse; ``hole`` is the share of the radius that is left open."""

        def draw(pen, offset):
            x, y = cx * SCALE - offset[0], cy * SCALE - offset[1]
            pen.ellipse([x - rx * SCALE, y - ry * SCALE, x + rx * SCALE, y + ry * SCALE], fill=255)
            if hole:
                a, b = rx * hole * SCALE, ry * hole * SCALE
                pen.ellipse([x - a, y - b, x + a, y + b], fill=0)

        self._lay(draw, (cx - rx, cy - ry, cx + rx, cy + ry), fill, shadow, edge)

    def hexagon(self, cx, cy, radius, fill, *, turn=12, flat=1.0, shadow=4.0, top=None):
        """A nut or bolt head seen from above, chamfer included."""
        angles = np.deg2rad(turn + np.arange(6) * 60)
        self.poly(
            [(cx + radius * np.cos(a), cy + radius * flat * np.sin(a)) for a in angles], fill, shadow=shadow, edge=3
        )
        self.disc(cx, cy, radius * 0.8, radius * 0.8 * flat, top or metal(225, 150, 60), edge=1)

    def tube(self, points, width, colour, *, shadow=5.0, shine=0.5, smooth=True):
        """A wire, hose or pipe along a curve through ``points``, round in section."""
        path = curve(points) if smooth else [tuple(p) for p in points]
        base = np.array(colour, np.float32)
        xs, ys = [p[0] for p in path], [p[1] for p in path]
        box = (min(xs) - width, min(ys) - width, max(xs) + width, max(ys) + width)
        steps = [(1.0, 0.0, 0.45), (0.86, 0.0, 0.8), (0.6, -0.06, 1.0)]
        if shine:
            steps.append((0.22, -0.16, 1.0 + shine))
        for index, (share, shift, light) in enumerate(steps):
            fill = Fill(np.clip(base * light + (60 * shine if light > 1 else 0), 0, 255), texture="fine", amount=1.5)
            self._lay(_stroke(path, width * share, shift * width), box, fill, shadow if index == 0 else 0, 0)

    def stroke(self, points, width, fill):
        """A flat line."""
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        box = (min(xs) - width, min(ys) - width, max(xs) + width, max(ys) + width)
        self._lay(_stroke(points, width, 0), box, fill, 0, 0)

    def text(self, x, y, words, size, colour, *, bold=False, anchor="mm", angle=0, alpha=255, halo=None):
        """Words; ``anchor`` as in Pillow."""
        face = font(int(size * SCALE), bold=bold)
        if not angle and alpha == 255 and halo is None:
            ImageDraw.Draw(self.image).text((x * SCALE, y * SCALE), words, fill=tuple(colour), font=face, anchor=anchor)
            return
        left, top, right, bottom = face.getbbox(words)
        mask = Image.new("L", (int(right - left) + 40, int(bottom - top) + 40))
        ImageDraw.Draw(mask).text((20 - left, 20 - top), words, fill=alpha, font=face)
        turned = mask.rotate(angle, expand=True, resample=Image.Resampling.BICUBIC)
        at = (int(x * SCALE - turned.width / 2), int(y * SCALE - turned.height / 2))
        if halo is not None:
            self.image.paste(halo, at, turned.filter(ImageFilter.MaxFilter(9)).point(lambda v: int(v * 0.6)))
        self.image.paste(tuple(colour), at, turned)

    def glow(self, cx, cy, radius, colour, strength=0.8):
        """Light around a lamp."""
        size = int(radius * 2 * SCALE)
        y, x = np.mgrid[-1 : 1 : size * 1j, -1 : 1 : size * 1j]
        mask = np.clip(1 - np.hypot(x, y), 0, 1) ** 2 * 255 * strength
        self.image.paste(
            tuple(colour),
            (int(cx * SCALE - size / 2), int(cy * SCALE - size / 2)),
            Image.fromarray(mask.astype(np.uint8)),
        )

    def stain(self, points, colour, alpha=0.5, blur=10):
        """A soft-edged patch: oil, water, dust, overspray."""
        pad = blur * 3
        left, top = min(x for x, _ in points) - pad, min(y for _, y in points) - pad
        size = (
            int((max(x for x, _ in points) + pad - left) * SCALE),
            int((max(y for _, y in points) + pad - top) * SCALE),
        )
        mask = Image.new("L", size)
        ImageDraw.Draw(mask).polygon(
            [((x - left) * SCALE, (y - top) * SCALE) for x, y in points], fill=int(255 * alpha)
        )
        soft = mask.filter(ImageFilter.GaussianBlur(blur * SCALE))
        self.image.paste(tuple(colour), (int(left * SCALE), int(top * SCALE)), soft)

    def specks(self, cx, cy, spread, count, colour, seed, size=2.5):
        """Scattered drops: overspray, dust, filings."""
        rng = np.random.default_rng(seed)
        pen = ImageDraw.Draw(self.image)
        for dx, dy, r in zip(*rng.normal(size=(2, count)), rng.uniform(0.4, 1, count), strict=True):
            x, y, s = (cx + dx * spread) * SCALE, (cy + dy * spread) * SCALE, r * size * SCALE
            pen.ellipse([x - s, y - s, x + s, y + s], fill=tuple(colour))


def curve(points, steps=14):
    """Catmull-Rom curve through ``points``."""
    pts = np.array([points[0], *points, points[-1]], np.float64)
    out = []
    for a, b, c, d in zip(pts, pts[1:], pts[2:], pts[3:], strict=False):
        t = np.linspace(0, 1, steps, endpoint=False)[:, None]
        out.extend(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    return [tuple(p) for p in [*out, pts[-1]]]


def _stroke(path, width, lift):
    def draw(pen, offset):
        at = [(x * SCALE - offset[0], (y + lift) * SCALE - offset[1]) for x, y in path]
        pen.line(at, fill=255, width=max(1, int(width * SCALE)), joint="curve")
        for x, y in (at[0], at[-1]):
            r = width * SCALE / 2
            pen.ellipse([x - r, y - r, x + r, y + r], fill=255)

    return draw

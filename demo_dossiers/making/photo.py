"""From a drawn canvas to a camera's file: light fall-off, sensor noise, the word DEMONSTRATION, EXIF."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from PIL import ExifTags, Image, ImageDraw, ImageFilter

from making.canvas import HEIGHT, SCALE, WIDTH, Canvas, font


@dataclass(frozen=True)
class Camera:
    """An invented device. ``offset`` is what it writes beside its times; None: it writes none."""

    maker: str
    model: str
    offset: str | None
    slow: dt.timedelta = dt.timedelta(0)  # how far its clock lags behind the true time
    position: tuple[float, float] | None = None  # degrees north and east, written on request


def save(canvas: Canvas, path: Path, *, camera: Camera, at: str, seed: int, portrait=False, gps=False) -> None:
    """Write one JPEG. ``at`` is the true local time ``2026-05-18 08:12:30``; the file carries the camera's."""
    image = canvas.image.reduce(SCALE)
    ink, rim = _stamp()
    image.paste((30, 30, 30), (0, 0), rim)
    image.paste((255, 255, 255), (0, 0), ink)
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[-1 : 1 : HEIGHT * 1j, -1 : 1 : WIDTH * 1j].astype(np.float32)
    shade = (1.04 - 0.17 * (x**2 + y**2) ** 1.2)[..., None]
    noise = rng.normal(0, 1.1, (HEIGHT, WIDTH, 1)).astype(np.float32)
    pixels = np.clip(np.asarray(image, np.float32) * shade + noise, 0, 255).astype(np.uint8)
    image = Image.fromarray(pixels)
    if portrait:  # stored as the sensor lies, to be turned clockwise by the reader (orientation 6)
        image = image.transpose(Image.Transpose.ROTATE_90)
    path.parent.mkdir(parents=True, exist_ok=True)
    image.save(path, "JPEG", quality=85, optimize=True, exif=_exif(camera, at, image.size, seed, portrait, gps))


@cache
def _stamp() -> tuple[Image.Image, Image.Image]:
    """The word across the picture and the line at its foot: letters and their dark rim, as masks."""
    words = Image.new("L", (WIDTH, HEIGHT))
    ImageDraw.Draw(words).text(
        (WIDTH / 2, HEIGHT / 2), "DEMONSTRATION", fill=84, font=font(150, bold=True), anchor="mm"
    )
    words = words.rotate(34, resample=Image.Resampling.BICUBIC)
    rim = words.filter(ImageFilter.MaxFilter(5))
    foot = (WIDTH - 20, HEIGHT - 16), "DEMONSTRATION, drawn, not a photograph"
    ImageDraw.Draw(rim).text(*foot, fill=150, font=font(23), anchor="rs", stroke_width=3)
    ImageDraw.Draw(words).text(*foot, fill=255, font=font(23), anchor="rs")
    return words, rim


def _exif(camera: Camera, at: str, size, seed: int, portrait: bool, gps: bool) -> Image.Exif:
    shown = (dt.datetime.fromisoformat(at) - camera.slow).strftime("%Y:%m:%d %H:%M:%S")
    exif = Image.Exif()
    exif[ExifTags.Base.Make], exif[ExifTags.Base.Model] = camera.maker, camera.model
    exif[ExifTags.Base.Orientation] = 6 if portrait else 1
    exif[ExifTags.Base.Software] = "demonstration picture, drawn by a program"
    exif[ExifTags.Base.DateTime] = shown
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner[ExifTags.Base.ExifVersion] = b"0232"
    inner[ExifTags.Base.DateTimeOriginal] = inner[ExifTags.Base.DateTimeDigitized] = shown
    inner[ExifTags.Base.SubsecTimeOriginal] = f"{seed * 37 % 1000:03d}"
    inner[ExifTags.Base.ExifImageWidth], inner[ExifTags.Base.ExifImageHeight] = size
    if camera.offset:
        inner[ExifTags.Base.OffsetTimeOriginal] = inner[ExifTags.Base.OffsetTime] = camera.offset
    if gps and camera.position:
        north, east = camera.position
        where = exif.get_ifd(ExifTags.IFD.GPSInfo)
        where[ExifTags.GPS.GPSVersionID] = b"\x02\x03\x00\x00"
        where[ExifTags.GPS.GPSLatitudeRef], where[ExifTags.GPS.GPSLatitude] = (
            "N" if north >= 0 else "S",
            _degrees(north),
        )
        where[ExifTags.GPS.GPSLongitudeRef], where[ExifTags.GPS.GPSLongitude] = (
            "E" if east >= 0 else "W",
            _degrees(east),
        )
    return exif


def _degrees(value: float) -> tuple[float, float, float]:
    whole, rest = divmod(abs(value) * 3600, 3600)
    minutes, seconds = divmod(rest, 60)
    return float(whole), float(minutes), round(seconds, 2)

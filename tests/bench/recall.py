"""How often a changed copy of a picture is found again, and how often another picture is taken for it.

``python tests/bench/recall.py FOLDER`` takes every picture below a folder as an original of its own; without a folder
pictures are drawn. Pairs of originals that are told as alike are printed, to be judged by eye.
"""

from __future__ import annotations

import io
import random
import sys
import tempfile
import warnings
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

from evidence.capture.likeness import fingerprint_of  # noqa: E402
from evidence.capture.likeness_index import LikenessIndex  # noqa: E402
from evidence.capture.picture import jpeg_of  # noqa: E402
from evidence.model.exhibit import FileFacts  # noqa: E402
from PIL import Image, ImageDraw  # noqa: E402

SCREEN = (400, 300)
PHOTO = FileFacts(media="photo", type="image/jpeg", reader="bench")


class Shelf:
    """Previews of pictures that are in memory."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, digest: str, size: str = "screen") -> Path | None:
        """The preview of a picture."""
        return self.folder / f"{digest}-{size}.jpg"

    def put(self, name: str, image: Image.Image) -> str:
        """Make the preview as an intake does; returns the digest under which it lies."""
        digest = sha256(name.encode()).hexdigest()
        self.folder.joinpath(f"{digest}-screen.jpg").write_bytes(jpeg_of(image.copy(), SCREEN))
        return digest


def saved(image: Image.Image, quality: int) -> Image.Image:
    """Through a JPEG and back."""
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return Image.open(io.BytesIO(out.getvalue())).convert("RGB")


def smaller(image: Image.Image, share: float) -> Image.Image:
    """Both sides to a share."""
    return image.resize((max(8, round(image.width * share)), max(8, round(image.height * share))))


def cut(image: Image.Image, left: float, top: float, right: float, bottom: float) -> Image.Image:
    """Shares of the sides cut off."""
    w, h = image.size
    return image.crop((round(w * left), round(h * top), round(w * (1 - right)), round(h * (1 - bottom))))


CHANGES: dict[str, Callable[[Image.Image], Image.Image]] = {
    "to 50 %": lambda i: smaller(i, 0.5),
    "to 25 %, JPEG 50": lambda i: saved(smaller(i, 0.25), 50),
    "JPEG 20": lambda i: saved(i, 20),
    "5 % off one side": lambda i: cut(i, 0.05, 0, 0, 0),
    "5 % off two sides": lambda i: cut(i, 0, 0.05, 0.05, 0),
    "5 % off all sides": lambda i: cut(i, 0.05, 0.05, 0.05, 0.05),
    "up to 5 % off each, to 33 %, JPEG 50": lambda i: saved(
        smaller(cut(i, *(random.Random(i.tobytes()[:64]).uniform(0, 0.05) for _ in range(4))), 0.33), 50  # type: ignore[arg-type]
    ),
    "10 % off one side": lambda i: cut(i, 0, 0, 0.10, 0),
    "20 % brighter": lambda i: i.point(lambda v: min(255, int(v * 1.2))),
    "mirrored": lambda i: i.transpose(Image.Transpose.FLIP_LEFT_RIGHT),
}


def drawn(number: int, size: tuple[int, int] = (800, 600)) -> Image.Image:
    """A picture of shapes and grain; every number its own."""
    chance = random.Random(number)
    image = Image.new("RGB", size, tuple(chance.randrange(256) for _ in range(3)))
    pen = ImageDraw.Draw(image)
    for _ in range(chance.randrange(12, 40)):
        x, y = chance.randrange(size[0]), chance.randrange(size[1])
        w, h = chance.randrange(20, size[0] // 2), chance.randrange(20, size[1] // 2)
        shape = pen.ellipse if chance.random() < 0.5 else pen.rectangle
        shape((x - w // 2, y - h // 2, x + w // 2, y + h // 2), fill=tuple(chance.randrange(256) for _ in range(3)))
    return image


def pictures(folder: Path) -> list[tuple[str, Image.Image]]:
    """What can be opened below a folder, at most 1600 pixels wide."""
    found = []
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path.suffix.lower() in (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff"):
            try:
                with Image.open(path) as image:
                    image.draft("RGB", (1600, 1200))
                    made = image.convert("RGB")
            except Exception:  # noqa: BLE001 - not a picture: nothing to measure
                continue
            if min(made.size) >= 200:
                made.thumbnail((1600, 1200))
                found.append((path.name, made))
    return found


def measure(originals: list[tuple[str, Image.Image]], folder: Path) -> tuple[dict[str, float], list[tuple[str, str]], int]:
    """Share found again for each change, pairs of originals told as alike, and how many show next to nothing."""
    shelf = Shelf(folder)
    index = LikenessIndex(folder, shelf)  # type: ignore[arg-type]
    names = {shelf.put(f"{n} {name}", image): name for n, (name, image) in enumerate(originals)}
    kept = {d: i for d, (_, i) in zip(names, originals, strict=True) if fingerprint_of(shelf.path(d))}  # type: ignore[arg-type]
    index.add([(d, PHOTO) for d in names], lambda *_: None)
    same = [(names[p.sha256], names[p.other]) for p in index.alike(list(names))]
    found: dict[str, float] = {}
    for change, make in CHANGES.items():
        copies = {shelf.put(f"{change} {d}", make(image)): d for d, image in kept.items()}
        index.add([(c, PHOTO) for c in copies], lambda *_: None)
        pairs = {(p.sha256, p.other) for p in index.alike(list(copies))}
        hits = sum((c, d) in pairs or (d, c) in pairs for c, d in copies.items())
        found[change] = hits / len(copies)
    return found, same, len(names) - len(kept)


def main() -> None:
    """Measure and print."""
    warnings.simplefilter("ignore")
    named = pictures(Path(sys.argv[1])) if len(sys.argv) > 1 else [(f"drawn {n}", drawn(n)) for n in range(200)]
    with tempfile.TemporaryDirectory() as folder:
        found, same, plain = measure(named, Path(folder))
    print(f"{len(named)} pictures, {plain} of them show next to nothing and have no fingerprint")
    for change, share in found.items():
        print(f"  found again after {change}: {100 * share:.1f} %")
    pairs = len(named) * (len(named) - 1) // 2
    print(f"  told as alike among {pairs} pairs of originals: {len(same)}")
    for one, other in same:
        print(f"    {one} / {other}")


if __name__ == "__main__":
    main()

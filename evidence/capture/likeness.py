"""Fingerprints of pictures: found again after shrinking, compressing anew and mild cropping. A hint, never proof.

A fingerprint is six difference hashes of 128 bits (the whole picture, and 5 % off all sides and off each corner) and a
grey picture of 24 x 24. Hashes find candidates fast; the grey pictures then decide, by the correlation of their
gradients over crops of up to a tenth on either side. A picture that shows next to nothing (blank paper) has none.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from evidence.capture.picture import open_head
from evidence.capture.plain_file import PARSER_FAULTS, open_plain, raise_if_of_the_system

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

HASHES: Final = 6
SIDE: Final = 24  # of the grey picture
BITS: Final = 20  # of 128; at most so many differ between candidates
LIKENESS: Final = 0.80  # correlation of gradients from which two pictures are told as nearly the same
_OFF: Final = 0.05
_BOXES: Final = (  # left, top, right, bottom: what is cut off
    (0.0, 0.0, 0.0, 0.0), (_OFF, _OFF, _OFF, _OFF), (_OFF, _OFF, 0.0, 0.0), (0.0, _OFF, _OFF, 0.0),
    (_OFF, 0.0, 0.0, _OFF), (0.0, 0.0, _OFF, _OFF),
)  # fmt: skip
_CUTS: Final = ((0, 0), (0.05, 0), (0, 0.05), (0.05, 0.05), (0.025, 0.025), (0.1, 0), (0, 0.1))  # tried on each axis
_WORKING: Final = (100, 75)  # long and short side from which fingerprints are taken
_PLAIN: Final = 4.0  # standard deviation of grey levels below which a picture shows next to nothing


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """Six hashes of 128 bits, the whole picture's first, and the bytes of the grey picture, row by row."""

    hashes: tuple[int, ...]
    grey: bytes


def fingerprint_of(picture: Path) -> Fingerprint | None:
    """The fingerprint of a JPEG of ours; None where it shows next to nothing or cannot be read."""
    try:
        with open_plain(picture) as stream:
            image = open_head(stream, "image/jpeg")
            image.draft("L", _WORKING if image.width >= image.height else _WORKING[::-1])
            return fingerprint(image)
    except PARSER_FAULTS as err:
        raise_if_of_the_system(err)
        return None


def can_be_read(picture: Path) -> bool:
    """Whether a JPEG of ours is whole enough to be decoded to its end."""
    try:
        with open_plain(picture) as stream:
            open_head(stream, "image/jpeg").load()
    except PARSER_FAULTS as err:
        raise_if_of_the_system(err)
        return False
    return True


def fingerprint(image: Image.Image) -> Fingerprint | None:
    """The fingerprint of an upright picture; None where it shows next to nothing."""
    from PIL import ImageStat

    grey = image.convert("L")
    small = _scaled(grey, (SIDE, SIDE), _BOXES[0])
    if ImageStat.Stat(small).stddev[0] < _PLAIN:
        return None
    return Fingerprint(tuple(hash_of(grey, box) for box in _BOXES), small.tobytes())


def hash_of(grey: Image.Image, cut: tuple[float, float, float, float] = _BOXES[0]) -> int:
    """The difference hash of a grey picture: 64 bits along the rows, 64 along the columns."""
    import dhash

    # The library would fetch the grey levels by a call that Pillow is about to drop.
    return int(dhash.dhash_int(list(_scaled(grey, (9, 9), cut).tobytes()), 8))


def _scaled(grey: Image.Image, size: tuple[int, int], cut: tuple[float, float, float, float]) -> Image.Image:
    from PIL import Image

    width, height = grey.size
    left, top, right, bottom = cut
    box = (width * left, height * top, width * (1 - right), height * (1 - bottom))
    return grey.resize(size, Image.Resampling.LANCZOS, box=box)


def likeness(one: bytes, others: list[bytes]) -> list[float]:
    """How like the grey pictures are to one, 0 to 1, at the best of all crops of either."""
    import numpy as np

    if not others:
        return []
    ours = _pictures([one])
    theirs = _pictures(others)
    forward = np.einsum("vk,nk->vn", _crops(ours)[0], _gradients(theirs))  # crops of ours x others
    backward = np.einsum("nvk,k->nv", _crops(theirs), _gradients(ours)[0])  # others x their crops
    best = np.maximum(forward.max(axis=0), backward.max(axis=1))
    return [float(v) for v in best.clip(0.0, 1.0)]


def _pictures(greys: list[bytes]) -> NDArray[Any]:
    import numpy as np

    return np.frombuffer(b"".join(greys), dtype=np.uint8).reshape(len(greys), SIDE, SIDE).astype(np.float32)


def _gradients(pictures: NDArray[Any]) -> NDArray[Any]:
    """Differences along rows and columns as one vector a picture, of mean 0 and length 1."""
    import numpy as np

    down, along = np.diff(pictures, axis=-2), np.diff(pictures, axis=-1)
    flat = np.concatenate([down.reshape(*pictures.shape[:-2], -1), along.reshape(*pictures.shape[:-2], -1)], axis=-1)
    flat -= flat.mean(axis=-1, keepdims=True)
    scaled: NDArray[Any] = flat / np.maximum(np.linalg.norm(flat, axis=-1, keepdims=True), 1e-6)
    return scaled


def _crops(pictures: NDArray[Any]) -> NDArray[Any]:
    """Gradients of all crops of each picture: pictures x crops x values."""
    import numpy as np

    cuts = _cut_matrices()
    # Many small products rather than one large one: for that the library would start threads of its own.
    narrowed = pictures[:, None] @ cuts[None]
    both = np.swapaxes(cuts, 1, 2)[None, :, None] @ narrowed[:, None]
    return _gradients(both.reshape(len(pictures), len(cuts) ** 2, SIDE, SIDE))


@cache
def _cut_matrices() -> NDArray[Any]:
    """For each cut the matrix that resamples a row of grey levels to the part that is left."""
    import numpy as np
    from PIL import Image

    unit = Image.fromarray(np.eye(SIDE, dtype=np.float32))
    return np.stack(
        [
            np.asarray(unit.resize((SIDE, SIDE), Image.Resampling.BICUBIC, box=(SIDE * a, 0, SIDE * (1 - b), SIDE)))
            for a, b in _CUTS
        ]
    )

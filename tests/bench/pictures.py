"""Likeness of pictures at a million photos, and what is read from a photo when signs are computed."""

from __future__ import annotations

import statistics
import time
import zlib
from pathlib import Path

PHOTOS = 1_000_000
_QUERIES = 15


def query(work: Path) -> dict[str, float]:
    """An index of a million fingerprints made of chance, in which one picture has a near twin; median of the queries."""
    import numpy as np
    from evidence.capture import likeness_index as index

    chance = np.random.default_rng(3)
    table = chance.integers(0, 2**64, (PHOTOS, 18), dtype=np.uint64)
    grey = chance.integers(0, 256, 576, dtype=np.uint8).tobytes()
    table[:, 16] = zlib.crc32(grey)
    table[PHOTOS // 2, 4:16] = table[5, 4:16] ^ np.uint64(1 << 17)
    odd = np.array(index._ODD, dtype=np.uint64)
    table[:, 17] = (table[:, :17] * odd).sum(axis=1, dtype=np.uint64)
    (work / "likeness.rows").write_bytes(index._heading() + table.tobytes())
    with (work / "likeness.grey").open("wb") as stream:
        stream.truncate((PHOTOS + 1) * 576)
        for row in (5, PHOTOS // 2):
            stream.seek((row + 1) * 576)
            stream.write(grey)
    asked = table[5, :4].tobytes().hex()
    opened = index.LikenessIndex(work, None)  # type: ignore[arg-type]
    begun = time.perf_counter()
    (pair,) = opened.alike([asked])
    first, times, cpu = time.perf_counter() - begun, [], time.process_time()
    assert pair.bits <= 4, pair
    for _ in range(_QUERIES):
        begun = time.perf_counter()
        assert len(opened.alike([asked])) == 1
        times.append(time.perf_counter() - begun)
    return {"each": statistics.median(times), "cpu": (time.process_time() - cpu) / _QUERIES, "first": first}


def marks(photos: list[Path]) -> dict[str, float]:
    """Everything that signs are computed from, one photo after the other."""
    from evidence.capture.photo_marks import read_marks
    from evidence.capture.reading import read_file

    facts = [read_file(photo, photo.name) for photo in photos]
    begun = time.perf_counter()
    found = [read_marks(photo, one, None) for photo, one in zip(photos, facts, strict=True)]
    assert all(m.size and m.tables for m in found)
    return {"each": (time.perf_counter() - begun) / len(photos)}

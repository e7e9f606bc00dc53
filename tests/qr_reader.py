"""Reads a QR code off a rendered page: level M, versions 1 to 9, byte mode, error correction checked and not needed.

After ISO/IEC 18004; block table and alignment positions from memory, held to it by the syndromes: a wrong table leaves
none of them zero.
"""

from __future__ import annotations

# version -> (check bytes a block, data bytes of each block), level M
_BLOCKS = {
    1: (10, [16]), 2: (16, [28]), 3: (26, [44]), 4: (18, [32] * 2), 5: (24, [43] * 2), 6: (16, [27] * 4), 7: (18, [31] * 4),
    8: (22, [38] * 2 + [39] * 2), 9: (22, [36] * 3 + [37] * 2),
}  # fmt: skip
_ALIGNED = {1: [], 2: [6, 18], 3: [6, 22], 4: [6, 26], 5: [6, 30], 6: [6, 34], 7: [6, 22, 38], 8: [6, 24, 42], 9: [6, 26, 46]}
_MASKS = [
    lambda r, c: (r + c) % 2 == 0, lambda r, c: r % 2 == 0, lambda r, c: c % 3 == 0, lambda r, c: (r + c) % 3 == 0,
    lambda r, c: (r // 2 + c // 3) % 2 == 0, lambda r, c: r * c % 2 + r * c % 3 == 0,
    lambda r, c: (r * c % 2 + r * c % 3) % 2 == 0, lambda r, c: ((r + c) % 2 + r * c % 3) % 2 == 0,
]  # fmt: skip


def modules_on(page, picture, scale):
    """The matrix of a code on a pdfplumber page, sampled from its rendered picture (greys, ``scale`` pixels a point)."""
    squares = [r for r in page.rects if r["fill"] and r["non_stroking_color"] in ((0,), (0, 0, 0), 0)]
    x0, x1 = min(r["x0"] for r in squares), max(r["x1"] for r in squares)
    top, bottom = min(r["top"] for r in squares), max(r["bottom"] for r in squares)
    step = min(r["height"] for r in squares)
    count = round((x1 - x0) / step)
    assert count == round((bottom - top) / step)
    return [
        [picture.getpixel((int((x0 + (c + 0.5) * step) * scale), int((top + (r + 0.5) * step) * scale))) < 128 for c in range(count)]
        for r in range(count)
    ]  # fmt: skip


def read(matrix):
    """The text of a code."""
    size = len(matrix)
    version = (size - 17) // 4
    assert size == 17 + 4 * version, size
    assert version in _BLOCKS, version
    bits = [matrix[8][c] for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [matrix[r][8] for r in (7, 5, 4, 3, 2, 1, 0)]
    form = int("".join("01"[b] for b in bits), 2) ^ 0x5412
    assert form >> 13 == 0, "level M"
    mask = _MASKS[(form >> 10) & 7]
    taken = _function_modules(size, version)
    stream, upward, column = [], True, size - 1
    while column > 0:
        column -= column == 6
        for row in range(size - 1, -1, -1) if upward else range(size):
            stream += [matrix[row][c] ^ mask(row, c) for c in (column, column - 1) if (row, c) not in taken]
        upward, column = not upward, column - 2
    words = [int("".join("01"[b] for b in stream[n : n + 8]), 2) for n in range(0, len(stream) - 7, 8)]
    return _text(_corrected(words, version))


def _function_modules(size, version):
    taken = {(r, c) for r in range(9) for c in range(9)}
    taken |= {(r, c) for r in range(9) for c in range(size - 8, size)} | {(r, c) for r in range(size - 8, size) for c in range(9)}
    taken |= {(6, n) for n in range(size)} | {(n, 6) for n in range(size)}
    for r in _ALIGNED[version]:
        for c in _ALIGNED[version]:
            if (r, c) not in ((6, 6), (6, size - 7), (size - 7, 6)):
                taken |= {(r + a, c + b) for a in range(-2, 3) for b in range(-2, 3)}
    if version >= 7:
        taken |= {(r, c) for r in range(6) for c in range(size - 11, size - 8)}
        taken |= {(r, c) for r in range(size - 11, size - 8) for c in range(6)}
    return taken


def _corrected(words, version):
    """Data bytes in order; every block's syndromes must be zero (no module was misread, no table is wrong)."""
    check, lengths = _BLOCKS[version]
    blocks, place = [[] for _ in lengths], 0
    for n in range(max(lengths)):
        for block, length in zip(blocks, lengths, strict=True):
            if n < length:
                block.append(words[place])
                place += 1
    data = [b for block in blocks for b in block]
    for _n in range(check):
        for block in blocks:
            block.append(words[place])
            place += 1
    power, log = [1] * 255, {1: 0}
    for n in range(1, 255):
        power[n] = power[n - 1] << 1 ^ (0x11D if power[n - 1] & 0x80 else 0)
        log[power[n]] = n
    for block in blocks:
        for n in range(check):
            value = 0
            for byte in block:
                value = byte ^ (power[(log[value] + n) % 255] if value else 0)
            assert value == 0, "syndrome"
    return data


def _text(data):
    bits = "".join(f"{b:08b}" for b in data)
    assert bits[:4] == "0100", "byte mode"
    count = int(bits[4:12], 2)
    return bytes(int(bits[12 + 8 * n : 20 + 8 * n], 2) for n in range(count)).decode("utf-8")

"""The three typefaces of the report, embedded in every file: DejaVu Sans, Sans Bold, Sans Mono.

They cover Latin, Greek and Cyrillic. A character that none of them can draw is printed as its code point,
``‹U+5C71›``, so that nothing disappears and nothing can hide (a right-to-left override, a control character).
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path

SANS, BOLD, MONO = "Evidence-Sans", "Evidence-Bold", "Evidence-Mono"
_FILES = {SANS: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf", MONO: "DejaVuSansMono.ttf"}
_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


@cache
def ready() -> None:
    """Register the typefaces with reportlab and make them the default of everything it draws."""
    from reportlab import rl_config
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in _FILES.items():
        font = TTFont(name, str(Path(__file__).parent / "fonts" / file))
        pdfmetrics.registerFont(font)
        _mend_widths(font)
    pdfmetrics.registerFontFamily(SANS, normal=SANS, bold=BOLD, italic=SANS, boldItalic=BOLD)
    # Else tables, drawings and page starts select Helvetica, which is not embedded.
    rl_config.canvas_basefontname = rl_config.defaultGraphicsFontName = SANS
    rl_config.useA85 = 0  # a text encoding of all streams, forty times slower
    from reportlab.graphics import shapes

    shapes.STATE_DEFAULTS["fontName"] = SANS  # set at import, so whoever imported first must not matter


def _mend_widths(font: object) -> None:
    """Undo a fault of reportlab's subsetter: past ``numberOfHMetrics`` it keeps scaled widths.

    The last full entry's advance holds for all that follow (OpenType, table hmtx).
    """
    metrics = font.face.hmetrics  # type: ignore[attr-defined]
    last = next(advance for advance, _ in reversed(metrics) if isinstance(advance, int))
    metrics[:] = [(a if isinstance(a, int) else last, b) for a, b in metrics]


@cache
def _drawable(name: str) -> frozenset[int]:
    from reportlab.pdfbase import pdfmetrics

    ready()
    return frozenset(pdfmetrics.getFont(name).face.charToGlyph)


def drawable(text: str, font: str = SANS) -> str:
    """``text`` in composed form, with each character that ``font`` cannot show as its code point."""
    known = _drawable(font)
    shown = (
        ch if ch in "\n\t" or (ord(ch) in known and unicodedata.category(ch) not in _HIDDEN) else f"‹U+{ord(ch):04X}›"
        for ch in unicodedata.normalize("NFC", text)
    )
    return "".join(shown)


def width_of(text: str, font: str, size: float) -> float:
    """Width of one line in points."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    ready()
    return float(stringWidth(text, font, size))

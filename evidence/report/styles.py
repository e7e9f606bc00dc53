"""Typography of the report: page, styles, and plain text turned into markup with links. In points, on A4."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from html import escape
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle

from evidence.model.kinds import many
from evidence.report import fonts
from evidence.report.drawing import ACCENT, GREY, INK, PALE

PAGE = (595.28, 841.89)
LEFT, RIGHT, TOP, FOOT = 58.0, 58.0, 70.0, 62.0
WIDTH = PAGE[0] - LEFT - RIGHT
HEIGHT = PAGE[1] - TOP - FOOT
_ALIGN = {"left": TA_LEFT, "right": TA_RIGHT, "centre": TA_CENTER}


@cache
def style(name: str) -> ParagraphStyle:
    """A named paragraph style."""
    fonts.ready()
    base: dict[str, Any] = {
        "fontName": fonts.SANS, "bulletFontName": fonts.SANS, "fontSize": 9, "leading": 13.2, "spaceAfter": 6,
        "textColor": HexColor(INK), "splitLongWords": 1, "allowWidows": 0, "allowOrphans": 0,
    }  # fmt: skip
    extra: dict[str, dict[str, Any]] = {
        "body": {},
        "lead": {"fontSize": 10.5, "leading": 15.5, "spaceAfter": 9},
        "small": {"fontSize": 7.6, "leading": 10.6, "spaceAfter": 4},
        "muted": {"fontSize": 8.2, "leading": 11.6, "textColor": HexColor(GREY)},
        "caution": {"leftIndent": 10, "borderPadding": (6, 8, 6, 10), "backColor": HexColor(PALE), "spaceBefore": 8,
                    "spaceAfter": 12, "rightIndent": 8},
        "bullet": {"leftIndent": 13.5, "bulletIndent": 2, "spaceAfter": 3},
        "section": {"fontName": fonts.BOLD, "fontSize": 16, "leading": 21, "spaceBefore": 20, "spaceAfter": 10,
                    "textColor": HexColor(ACCENT)},
        "heading": {"fontName": fonts.BOLD, "fontSize": 10.2, "leading": 14, "spaceBefore": 12, "spaceAfter": 5},
        "cell": {"fontSize": 7.4, "leading": 9.8, "spaceAfter": 0},
        "head": {"fontName": fonts.BOLD, "fontSize": 7.0, "leading": 9.2, "spaceAfter": 0, "textColor": HexColor(ACCENT)},
        "mono": {"fontName": fonts.MONO, "fontSize": 6.1, "leading": 9.0, "spaceAfter": 0},
        "digest": {"fontName": fonts.MONO, "fontSize": 5.8, "leading": 7.6, "spaceAfter": 0},
        "name": {"fontSize": 8, "leading": 11.2, "spaceAfter": 0, "textColor": HexColor(GREY)},
        "value": {"fontSize": 8.6, "leading": 12, "spaceAfter": 0},
        "plate": {"fontName": fonts.BOLD, "fontSize": 8.8, "leading": 12, "spaceAfter": 2},
        "kicker": {"fontName": fonts.BOLD, "fontSize": 9, "leading": 12, "textColor": HexColor(ACCENT)},
        "subject": {"fontName": fonts.BOLD, "fontSize": 13, "leading": 17, "spaceBefore": 2, "spaceAfter": 10},
        "title": {"fontName": fonts.BOLD, "fontSize": 25, "leading": 31, "spaceAfter": 6},
        "subtitle": {"fontSize": 12, "leading": 17, "textColor": HexColor(GREY), "spaceAfter": 18},
    }  # fmt: skip
    return ParagraphStyle(name, **{**base, **extra[name]})


@cache
def aligned(name: str, align: str, faded: bool, strong: bool) -> ParagraphStyle:
    """The style with another alignment; greyed where a record is withdrawn or says nothing, bold where it is a total."""
    changes: dict[str, Any] = {"alignment": _ALIGN[align]}
    if faded:
        changes["textColor"] = HexColor(GREY)
    if strong:
        changes["fontName"] = fonts.BOLD
    return ParagraphStyle(f"{name}-{align}-{faded}-{strong}", parent=style(name), **changes)


class Linker:
    """Turns plain text into the library's markup, with a link at every record that the report shows."""

    def __init__(self, keys: Iterable[str]) -> None:
        self._keys = frozenset(keys)
        kinds = {k.rsplit(" ", 1)[0] for k in self._keys}
        self._one = {word: kind for kind in kinds for word in (kind, many(kind))}
        words = "|".join(re.escape(word) for word in sorted(self._one, key=len, reverse=True))
        self._pattern = re.compile(rf"\b({words}) (\d+)(?: to (\d+))?\b") if kinds else None

    def markup(self, text: str, font: str = fonts.SANS) -> str:
        """Markup for a paragraph; line breaks are kept."""
        shown = escape(fonts.drawable(text, font), quote=False).replace("\t", "    ").replace("\n", "<br/>")
        return self._pattern.sub(self._link, shown) if self._pattern else shown

    def _link(self, match: re.Match[str]) -> str:
        word, first, last = match.groups()
        linked = self._linked(f"{self._one[word]} {first}", f"{word} {first}")
        if last is None:
            return linked
        many_of = word == many(
            self._one[word]
        )  # the last of a run is a link too; of one record, "to 4" is something else
        return f"{linked} to {self._linked(f'{self._one[word]} {last}', last) if many_of else last}"

    def _linked(self, key: str, shown: str) -> str:
        return f'<a href="#{anchor(key)}" color="{ACCENT}">{shown}</a>' if key in self._keys else shown


def anchor(key: str) -> str:
    """Name of the place in the file that shows the record ``key``."""
    return re.sub(r"[^A-Za-z0-9]+", "-", key).strip("-").lower()

"""Pages that are filled with lines of text and boxes, before anything is drawn.

So the number of pages is known on each of them. Lengths are in points, from the top left.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = [
    "BOTTOM", "GAP", "GREY", "INK", "LEADING", "MARGIN", "PART", "RULE", "SHADE", "SMALL", "TEXT",
    "TITLE", "TOP", "WITHIN", "Box", "Font", "Mark", "Sheets", "TextMark",
]  # fmt: skip

MARGIN, TOP, BOTTOM = 42.0, 58.0, 52.0
INK, GREY, RULE, SHADE = 20, 95, 190, 238
"""Greys of text, of text beside it, of lines and of the heads of tables."""
LEADING = 1.28
"""From line to line, in sizes of the font."""
TITLE, PART, WITHIN, TEXT, SMALL = 15.0, 11.5, 9.5, 8.5, 7.0
"""Sizes of a title, of headings of level 2 and 3, of text and of small text. [pt]"""
GAP = 8.0
"""Between blocks, and between columns of text. [pt]"""


@dataclass(frozen=True)
class TextMark:
    """A line of text, from ``x`` on, with ``y`` at its foot."""

    x: float
    y: float
    text: str
    size: float
    bold: bool
    grey: int


@dataclass(frozen=True)
class Box:
    """A filled box; a line, if it has no height."""

    x: float
    y: float
    width: float
    height: float
    grey: int


Mark = TextMark | Box


class Font:
    """The widths of a font's signs, and which it has."""

    def __init__(self, widths: Callable[[int], int], has: Callable[[int], bool]) -> None:
        self._widths, self._has = widths, has
        self.width = cache(self._width)
        self.safe = cache(self._safe)

    def _width(self, text: str) -> float:
        """Return the width of a text, in sizes of the font."""
        return sum(self._widths(ord(sign)) for sign in text) / 1000

    def _safe(self, text: str) -> str:
        """Return a text with the signs that the font lacks as their numbers."""
        if text.isascii():
            return text
        return "".join(
            sign if sign == "\n" or self._has(ord(sign)) else f"[U+{ord(sign):04X}]"
            for sign in text
        )


@dataclass
class Sheets:
    """Pages that fill from the top."""

    width: float
    height: float
    plain: Font
    bold: Font
    pages: list[list[Mark]] = field(default_factory=lambda: [[]])
    y: float = TOP

    @property
    def inner(self) -> float:
        """Width between the margins. [pt]"""
        return self.width - 2 * MARGIN

    @property
    def left(self) -> float:
        """Height that is left on the page. [pt]"""
        return self.height - BOTTOM - self.y

    def turn(self) -> None:
        """Begin a new page."""
        self.pages.append([])
        self.y = TOP

    def need(self, height: float) -> None:
        """Begin a new page, unless so much is left on this one, or it is empty. [pt]"""
        if height > self.left and self.y > TOP:
            self.turn()

    def font(self, *, bold: bool) -> Font:
        """Return the bold font or the plain one."""
        return self.bold if bold else self.plain

    def put(
        self, x: float, line: str, size: float, *, bold: bool = False, grey: int = INK,
        y: float | None = None,
    ) -> None:  # fmt: skip
        """Set a line of text below a height, by default the present one."""
        at = self.y if y is None else y
        self.pages[-1].append(TextMark(x, at + size, line, size, bold, grey))

    def box(self, x: float, y: float, width: float, height: float, grey: int) -> None:
        """Set a box, or a line if it has no height."""
        self.pages[-1].append(Box(x, y, width, height, grey))

    def lines(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """Return a text broken into lines of a width. [pt]"""
        font = self.font(bold=bold)
        return _broken(font.safe(text.replace("\t", "    ")), width / size, font)

    def flow(
        self, text: str, size: float, *, bold: bool = False, grey: int = INK, keep: float = 0.0
    ) -> None:
        """Set a text over the whole width; ``keep`` is what must follow on the same page. [pt]"""
        step = size * LEADING
        lines = self.lines(text, self.inner, size, bold=bold)
        for n, line in enumerate(lines):
            self.need(step + (keep if n == len(lines) - 1 else 0.0))
            self.put(MARGIN, line, size, bold=bold, grey=grey)
            self.y += step


def _broken(text: str, width: float, font: Font) -> list[str]:
    """Return the lines of a text, broken at spaces, and within words that are too long.

    ``width`` is in sizes of the font.
    """
    found = []
    for told in text.split("\n"):
        if font.width(told) <= width:
            found.append(told)
            continue
        line = ""
        for word in told.split(" "):
            longer = f"{line} {word}" if line else word
            if sum(map(font.width, longer.split(" "))) + longer.count(" ") * font.width(
                " "
            ) <= width:
                line = longer
                continue
            if line:
                found.append(line)
            *full, line = _cut(word, width, font)
            found += full
        found.append(line)
    return found


def _cut(word: str, width: float, font: Font) -> list[str]:
    """Return a word in pieces that are no wider than a width, the last of them whatever is left."""
    if font.width(word) <= width:
        return [word]
    pieces, piece, so_far = [], "", 0.0
    for sign in word:
        wide = font.width(sign)
        if piece and so_far + wide > width:
            pieces.append(piece)
            piece, so_far = "", 0.0
        piece += sign
        so_far += wide
    return [*pieces, piece]

"""An application record as a PDF: the same blocks as on its page, on Letter or A4.

The text is laid out here, line by line, before anything is drawn: so the number of pages is known
on each of them, a long table is quick, and the same record gives the same bytes. The fonts are in
the file; a sign that they lack is told by its number, as [U+1F600].
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from importlib.resources import as_file, files
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from windows.reports.record_paper import Facts, Heading, Paragraphs, Signatures, Table
from windows.safety import GOVERNS_RECORD

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from fpdf import FPDF

    from windows.reports.record_paper import Block, Paper

__all__ = ["PaperSize", "record_pdf"]

PaperSize = Literal["letter", "a4"]

_SIZES = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}
"""Width and height. [pt]"""
_MARGIN, _TOP, _BOTTOM = 42.0, 58.0, 52.0
_INK, _GREY, _RULE, _SHADE = 20, 95, 190, 238
_LEADING = 1.28
_TITLE, _PART, _WITHIN, _TEXT, _SMALL, _CELL = 15.0, 11.5, 9.5, 8.5, 7.0, 7.0
_PAD = 2.5
_GAP = 8.0
_SIGN_HEIGHT = 146.0


@dataclass(frozen=True)
class _Text:
    x: float
    y: float
    text: str
    size: float
    bold: bool
    grey: int


@dataclass(frozen=True)
class _Box:
    """A filled box; a line, if it has no height."""

    x: float
    y: float
    width: float
    height: float
    grey: int


_Mark = _Text | _Box


class _Font:
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
class _Sheets:
    """Pages that fill from the top."""

    width: float
    height: float
    plain: _Font
    bold: _Font
    pages: list[list[_Mark]] = field(default_factory=lambda: [[]])
    y: float = _TOP

    @property
    def inner(self) -> float:
        """Width between the margins. [pt]"""
        return self.width - 2 * _MARGIN

    @property
    def left(self) -> float:
        """Height that is left on the page. [pt]"""
        return self.height - _BOTTOM - self.y

    def turn(self) -> None:
        """Begin a new page."""
        self.pages.append([])
        self.y = _TOP

    def need(self, height: float) -> None:
        """Begin a new page, unless so much is left on this one, or it is empty. [pt]"""
        if height > self.left and self.y > _TOP:
            self.turn()

    def font(self, *, bold: bool) -> _Font:
        return self.bold if bold else self.plain

    def put(
        self, x: float, line: str, size: float, *, bold: bool = False, grey: int = _INK,
        y: float | None = None,
    ) -> None:  # fmt: skip
        """Set a line of text below a height, by default the present one."""
        at = self.y if y is None else y
        self.pages[-1].append(_Text(x, at + size, line, size, bold, grey))

    def box(self, x: float, y: float, width: float, height: float, grey: int) -> None:
        self.pages[-1].append(_Box(x, y, width, height, grey))

    def lines(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """Return a text broken into lines of a width. [pt]"""
        font = self.font(bold=bold)
        return _broken(font.safe(text.replace("\t", "    ")), width / size, font)

    def flow(
        self, text: str, size: float, *, bold: bool = False, grey: int = _INK, keep: float = 0.0
    ) -> None:
        """Set a text over the whole width; ``keep`` is what must follow on the same page. [pt]"""
        step = size * _LEADING
        lines = self.lines(text, self.inner, size, bold=bold)
        for n, line in enumerate(lines):
            self.need(step + (keep if n == len(lines) - 1 else 0.0))
            self.put(_MARGIN, line, size, bold=bold, grey=grey)
            self.y += step


def record_pdf(paper: Paper, size: PaperSize = "letter") -> bytes:
    """Return a paper as a PDF.

    The same paper gives the same bytes: the moment of its making is the paper's own.
    """
    pdf = _empty(paper, size)
    sheets = _Sheets(*_SIZES[size], _measured(pdf, ""), _measured(pdf, "B"))
    sheets.flow(paper.title, _TITLE, bold=True)
    sheets.flow(paper.subject, _WITHIN)
    sheets.y += 3
    sheets.flow(GOVERNS_RECORD, _TEXT, bold=True)
    sheets.y += _GAP
    for block, after in pairwise((*paper.blocks, None)):
        assert block is not None  # the last one of the pairs only
        if isinstance(after, Signatures):
            sheets.need(_SIGN_HEIGHT + 3 * _PART)  # with its heading
        _set(block, sheets)
    _draw(pdf, sheets, paper)
    return bytes(pdf.output())


def _empty(paper: Paper, size: PaperSize) -> FPDF:
    from fpdf import FPDF

    pdf = FPDF(unit="pt", format=_SIZES[size])
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    for style, name in (("", "DejaVuSans.ttf"), ("B", "DejaVuSans-Bold.ttf")):
        with as_file(files("windows.reports") / "fonts" / name) as path:
            pdf.add_font("record", style, path)
    pdf.set_title(f"{paper.title}: {paper.subject}")
    pdf.set_lang("en-US")
    pdf.set_creation_date(paper.now.to_pydatetime())
    return pdf


def _measured(pdf: FPDF, style: str) -> _Font:
    from fpdf.fonts import TTFFont

    font = pdf.fonts[f"record{style}"]
    assert isinstance(font, TTFFont)
    return _Font(lambda sign: int(font.cw[sign]), lambda sign: sign in font.cmap)


def _broken(text: str, width: float, font: _Font) -> list[str]:
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


def _cut(word: str, width: float, font: _Font) -> list[str]:
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


# --- blocks -----------------------------------------------------------------------------------


def _set(block: Block, sheets: _Sheets) -> None:
    match block:
        case Heading():
            size = _PART if block.level == 2 else _WITHIN
            sheets.y += _GAP if block.level == 2 else _GAP / 2
            sheets.flow(block.text, size, bold=True, keep=48.0)
            sheets.y += 2
        case Facts():
            _facts(block, sheets)
        case Table():
            _table(block, sheets)
        case Paragraphs():
            for line in block.lines:
                small = block.small
                sheets.flow(line, _SMALL if small else _TEXT, grey=_GREY if small else _INK)
                sheets.y += 2
        case Signatures():
            _signatures(block, sheets)


def _facts(block: Facts, sheets: _Sheets) -> None:
    """Set facts in two columns, row by row; one that is too long for a column has a row alone."""
    half = (sheets.inner - _GAP) / 2
    names = min(
        max(sheets.bold.width(sheets.bold.safe(name)) for name, _ in block.pairs) * _CELL + 6,
        half * 0.45,
    )
    rows: list[list[tuple[str, str]]] = []
    for pair in block.pairs:
        wide = _is_wide(pair, sheets, half - names)
        before = rows[-1] if rows else []
        if len(before) == 1 and not wide and not _is_wide(before[0], sheets, half - names):
            rows[-1].append(pair)
        else:
            rows.append([pair])
    for row in rows:
        room = half if len(row) > 1 else sheets.inner
        columns = []
        for n, (name, told) in enumerate(row):
            x = _MARGIN + n * (half + _GAP)
            columns.append((x, sheets.lines(name, names - 6, _CELL, bold=True), _CELL, True))
            columns.append((x + names, sheets.lines(told, room - names, _TEXT), _TEXT, False))
        _side_by_side(columns, sheets)
    sheets.y += 3


def _is_wide(pair: tuple[str, str], sheets: _Sheets, room: float) -> bool:
    return len(sheets.lines(pair[1], room, _TEXT)) > 1


def _side_by_side(
    columns: Sequence[tuple[float, list[str], float, bool]], sheets: _Sheets
) -> None:
    """Set lines of several columns below a common height, on as many pages as they need."""
    step = _TEXT * _LEADING
    most = max(len(lines) for _, lines, _, _ in columns)
    done = 0
    while done < most:
        sheets.need(step * min(most - done, 3))
        fits = max(1, min(most - done, int(sheets.left / step)))
        for x, lines, size, bold in columns:
            for n, line in enumerate(lines[done : done + fits]):
                y = sheets.y + n * step + (_TEXT - size)
                sheets.put(x, line, size, bold=bold, grey=_GREY if bold else _INK, y=y)
        sheets.y += fits * step
        done += fits


def _table(block: Table, sheets: _Sheets) -> None:
    """Set a table; its head is repeated on each page, and a row breaks only if it must."""
    widths = _widths(block, sheets)
    left = [_MARGIN]
    for width in widths:
        left.append(left[-1] + width)
    step = _CELL * _LEADING
    head = [
        sheets.lines(f"{name[:1].upper()}{name[1:]}", width - 2 * _PAD, _CELL, bold=True)
        for name, width in zip(block.columns, widths, strict=True)
    ]
    head_height = max(map(len, head)) * step + 2 * _PAD

    def begin() -> None:
        sheets.box(_MARGIN, sheets.y, sheets.inner, head_height, _SHADE)
        _cells(head, left, sheets, bold=True)
        sheets.y += head_height

    started = False
    for row in block.rows:
        cells = [
            sheets.lines(cell, width - 2 * _PAD, _CELL)
            for cell, width in zip(row, widths, strict=True)
        ]
        most = max(map(len, cells))
        if not started:
            sheets.need(head_height + min(most, 12) * step + 2 * _PAD)
            begin()
            started = True
        room = sheets.height - _TOP - _BOTTOM - head_height - 2 * _PAD
        if most * step + 2 * _PAD > sheets.left and (
            most * step <= room or sheets.left < 4 * step + 2 * _PAD
        ):
            sheets.turn()
            begin()
        done = 0
        while done < most:
            fits = max(1, min(most - done, int((sheets.left - 2 * _PAD) / step)))
            _cells([lines[done : done + fits] for lines in cells], left, sheets, bold=False)
            sheets.y += fits * step + 2 * _PAD
            done += fits
            if done < most:
                sheets.turn()
                begin()
        sheets.box(_MARGIN, sheets.y, sheets.inner, 0.0, _RULE)
    sheets.y += 4


def _cells(
    cells: Sequence[Sequence[str]], left: Sequence[float], sheets: _Sheets, *, bold: bool
) -> None:
    step = _CELL * _LEADING
    for x, lines in zip(left, cells, strict=False):
        for n, line in enumerate(lines):
            if line:
                sheets.put(x + _PAD, line, _CELL, bold=bold, y=sheets.y + _PAD + n * step)


_MOST_MEASURED = 400
"""Rows whose cells give the widths of the columns of a long table."""


def _widths(block: Table, sheets: _Sheets) -> list[float]:
    """Return the widths of columns: the longest word of each, the rest as cells need. [pt]"""
    rows = block.rows
    step = max(1, len(rows) // _MOST_MEASURED)
    least, natural = [], []
    for n, name in enumerate(block.columns):
        words = [sheets.bold.width(word) for word in sheets.bold.safe(name).split()]
        whole = [sheets.bold.width(sheets.bold.safe(name))]
        for row in rows[::step]:
            cell = sheets.plain.safe(row[n])
            words += [sheets.plain.width(word) for word in cell.split()]
            whole += [sheets.plain.width(line) for line in cell.split("\n")]
        pad = 2 * _PAD + 0.5
        least.append(min(max(words, default=0.0) * _CELL, sheets.inner / 4) + pad)
        natural.append(max(max(whole) * _CELL + pad, least[-1]))
    room = sheets.inner
    if sum(natural) <= room:
        spare = (room - sum(natural)) / len(natural)
        return [width + spare for width in natural]
    if sum(least) >= room:
        return [width * room / sum(least) for width in least]
    # The rest goes by the root of what each would have: one long note does not take it all.
    want = [max(n - a, 0.0) ** 0.5 for n, a in zip(natural, least, strict=True)]
    spare = room - sum(least)
    return [a + spare * each / sum(want) for a, each in zip(least, want, strict=True)]


def _signatures(block: Signatures, sheets: _Sheets) -> None:
    sheets.flow(block.statement, _TEXT)
    sheets.y += 4
    sheets.need(_SIGN_HEIGHT - 3 * _TEXT)
    width = (sheets.inner - _GAP * 2 * (len(block.places) - 1)) / len(block.places)
    top = sheets.y
    for n, place in enumerate(block.places):
        x = _MARGIN + n * (width + 2 * _GAP)
        for line, told in enumerate(sheets.lines(place, width, _TEXT, bold=True)):
            sheets.put(x, told, _TEXT, bold=True, y=top + line * _TEXT * _LEADING)
        for row, what in enumerate(("Name", "Signature", "Date"), start=1):
            y = top + 16 + 27 * row
            sheets.box(x, y, width, 0.0, _INK)
            sheets.put(x, what, _SMALL, grey=_GREY, y=y + 1)
    sheets.y = top + 112


# --- drawing ----------------------------------------------------------------------------------


def _draw(pdf: FPDF, sheets: _Sheets, paper: Paper) -> None:
    """Draw all pages, each with its head and foot."""
    pdf.set_line_width(0.5)
    for number, marks in enumerate(sheets.pages, start=1):
        pdf.add_page()
        look: tuple[float, bool, int] | None = None
        for mark in (*marks, *_frame(sheets, paper, number)):
            if isinstance(mark, _Box):
                _draw_box(pdf, mark)
                continue
            if look != (mark.size, mark.bold, mark.grey):  # most texts look as the one before
                pdf.set_font("record", "B" if mark.bold else "", mark.size)
                pdf.set_text_color(mark.grey)
                look = (mark.size, mark.bold, mark.grey)
            pdf.text(mark.x, mark.y, mark.text)


def _draw_box(pdf: FPDF, box: _Box) -> None:
    if box.height:
        pdf.set_fill_color(box.grey)
        pdf.rect(box.x, box.y, box.width, box.height, style="F")
    else:
        pdf.set_draw_color(box.grey)
        pdf.line(box.x, box.y, box.x + box.width, box.y)


def _frame(sheets: _Sheets, paper: Paper, number: int) -> Iterator[_Mark]:
    """Return head and foot of a page."""
    page = f"Page {number} of {len(sheets.pages)}"
    width = sheets.plain.width(page) * _SMALL
    head = sheets.lines(paper.running, sheets.inner - width - _GAP, _SMALL)[0]
    yield _Text(_MARGIN, 36.0, head, _SMALL, bold=False, grey=_GREY)
    yield _Text(
        sheets.width - _MARGIN - width, 36.0, page, _SMALL, bold=False, grey=_GREY
    )
    yield _Box(_MARGIN, 42.0, sheets.inner, 0.0, _RULE)
    foot = sheets.height - 30.0
    yield _Box(_MARGIN, foot - 11.0, sheets.inner, 0.0, _RULE)
    yield _Text(_MARGIN, foot, paper.foot, _SMALL, bold=False, grey=_GREY)

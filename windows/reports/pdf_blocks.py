"""The blocks of a paper, each set on the pages of a PDF."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from windows.reports.paper import Facts, Heading, Paragraphs, Signatures, Table
from windows.reports.pdf_layout import (
    BOTTOM,
    GAP,
    GREY,
    INK,
    LEADING,
    MARGIN,
    PART,
    RULE,
    SHADE,
    SMALL,
    TEXT,
    TOP,
    WITHIN,
)
from windows.reports.wording import capital

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.reports.paper import Block
    from windows.reports.pdf_layout import Sheets

__all__ = ["set_blocks"]

_CELL = 7.0
"""Size of the text of tables and of the names of facts. [pt]"""
_PAD = 2.5
"""Between the text of a cell and its edges. [pt]"""
_SIGN_HEIGHT = 146.0
"""Height of the places to sign, with their statement. [pt]"""


def set_blocks(blocks: Sequence[Block], sheets: Sheets) -> None:
    """Set blocks one below the other; places to sign stand on one page with their heading."""
    for block, after in pairwise((*blocks, None)):
        assert block is not None  # the last one of the pairs only
        if isinstance(after, Signatures):
            sheets.need(_SIGN_HEIGHT + 3 * PART)  # with its heading
        _set_block(block, sheets)


def _set_block(block: Block, sheets: Sheets) -> None:
    match block:
        case Heading():
            size = PART if block.level == 2 else WITHIN
            sheets.y += GAP if block.level == 2 else GAP / 2
            sheets.flow(block.text, size, bold=True, keep=48.0)
            sheets.y += 2
        case Facts():
            _facts(block, sheets)
        case Table():
            _table(block, sheets)
        case Paragraphs():
            for line in block.lines:
                small = block.small
                sheets.flow(line, SMALL if small else TEXT, grey=GREY if small else INK)
                sheets.y += 2
        case Signatures():
            _signatures(block, sheets)


def _facts(block: Facts, sheets: Sheets) -> None:
    """Set facts in two columns, row by row; one that is too long for a column has a row alone."""
    half = (sheets.inner - GAP) / 2
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
            x = MARGIN + n * (half + GAP)
            columns.append((x, sheets.lines(name, names - 6, _CELL, bold=True), _CELL, True))
            columns.append((x + names, sheets.lines(told, room - names, TEXT), TEXT, False))
        _side_by_side(columns, sheets)
    sheets.y += 3


def _is_wide(pair: tuple[str, str], sheets: Sheets, room: float) -> bool:
    return len(sheets.lines(pair[1], room, TEXT)) > 1


def _side_by_side(
    columns: Sequence[tuple[float, list[str], float, bool]], sheets: Sheets
) -> None:
    """Set lines of several columns below a common height, on as many pages as they need."""
    step = TEXT * LEADING
    most = max(len(lines) for _, lines, _, _ in columns)
    done = 0
    while done < most:
        sheets.need(step * min(most - done, 3))
        fits = max(1, min(most - done, int(sheets.left / step)))
        for x, lines, size, bold in columns:
            for n, line in enumerate(lines[done : done + fits]):
                y = sheets.y + n * step + (TEXT - size)
                sheets.put(x, line, size, bold=bold, grey=GREY if bold else INK, y=y)
        sheets.y += fits * step
        done += fits


def _table(block: Table, sheets: Sheets) -> None:
    """Set a table; its head is repeated on each page, and a row breaks only if it must."""
    widths = _widths(block, sheets)
    left = [MARGIN]
    for width in widths:
        left.append(left[-1] + width)
    step = _CELL * LEADING
    head = [
        sheets.lines(capital(name), width - 2 * _PAD, _CELL, bold=True)
        for name, width in zip(block.columns, widths, strict=True)
    ]
    head_height = max(map(len, head)) * step + 2 * _PAD

    def begin() -> None:
        sheets.box(MARGIN, sheets.y, sheets.inner, head_height, SHADE)
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
        room = sheets.height - TOP - BOTTOM - head_height - 2 * _PAD
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
        sheets.box(MARGIN, sheets.y, sheets.inner, 0.0, RULE)
    sheets.y += 4


def _cells(
    cells: Sequence[Sequence[str]], left: Sequence[float], sheets: Sheets, *, bold: bool
) -> None:
    step = _CELL * LEADING
    for x, lines in zip(left, cells, strict=False):
        for n, line in enumerate(lines):
            if line:
                sheets.put(x + _PAD, line, _CELL, bold=bold, y=sheets.y + _PAD + n * step)


_MOST_MEASURED = 400
"""Rows whose cells give the widths of the columns of a long table."""


def _widths(block: Table, sheets: Sheets) -> list[float]:
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


def _signatures(block: Signatures, sheets: Sheets) -> None:
    sheets.flow(block.statement, TEXT)
    sheets.y += 4
    sheets.need(_SIGN_HEIGHT - 3 * TEXT)
    width = (sheets.inner - GAP * 2 * (len(block.places) - 1)) / len(block.places)
    top = sheets.y
    for n, place in enumerate(block.places):
        x = MARGIN + n * (width + 2 * GAP)
        for line, told in enumerate(sheets.lines(place, width, TEXT, bold=True)):
            sheets.put(x, told, TEXT, bold=True, y=top + line * TEXT * LEADING)
        for row, what in enumerate(("Name", "Signature", "Date"), start=1):
            y = top + 16 + 27 * row
            sheets.box(x, y, width, 0.0, INK)
            sheets.put(x, what, SMALL, grey=GREY, y=y + 1)
    sheets.y = top + 112

"""An application record as a PDF: the same blocks as on its page, on Letter or A4.

The text is laid out line by line before anything is drawn: so the number of pages is known on each
of them, a long table is quick, and the same record gives the same bytes. The fonts are in the file;
a sign that they lack is told by its number, as [U+1F600].
"""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Literal

from windows.reports.pdf_blocks import set_blocks
from windows.reports.pdf_layout import (
    GAP,
    GREY,
    MARGIN,
    RULE,
    SMALL,
    TEXT,
    TITLE,
    WITHIN,
    Box,
    Font,
    Sheets,
    TextMark,
)
from windows.safety import GOVERNS_RECORD

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fpdf import FPDF

    from windows.reports.paper import Paper
    from windows.reports.pdf_layout import Mark

__all__ = ["PaperSize", "record_pdf"]

PaperSize = Literal["letter", "a4"]

_SIZES = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}
"""Width and height. [pt]"""


def record_pdf(paper: Paper, size: PaperSize = "letter") -> bytes:
    """Return a paper as a PDF.

    The same paper gives the same bytes: the moment of its making is the paper's own.
    """
    pdf = _empty(paper, size)
    sheets = Sheets(*_SIZES[size], _measured(pdf, ""), _measured(pdf, "B"))
    sheets.flow(paper.title, TITLE, bold=True)
    sheets.flow(paper.subject, WITHIN)
    sheets.y += 3
    sheets.flow(GOVERNS_RECORD, TEXT, bold=True)
    sheets.y += GAP
    set_blocks(paper.blocks, sheets)
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


def _measured(pdf: FPDF, style: str) -> Font:
    from fpdf.fonts import TTFFont

    font = pdf.fonts[f"record{style}"]
    assert isinstance(font, TTFFont)
    return Font(lambda sign: int(font.cw[sign]), lambda sign: sign in font.cmap)


def _draw(pdf: FPDF, sheets: Sheets, paper: Paper) -> None:
    """Draw all pages, each with its head and foot."""
    pdf.set_line_width(0.5)
    for number, marks in enumerate(sheets.pages, start=1):
        pdf.add_page()
        look: tuple[float, bool, int] | None = None
        for mark in (*marks, *_frame(sheets, paper, number)):
            if isinstance(mark, Box):
                _draw_box(pdf, mark)
                continue
            if look != (mark.size, mark.bold, mark.grey):  # most texts look as the one before
                pdf.set_font("record", "B" if mark.bold else "", mark.size)
                pdf.set_text_color(mark.grey)
                look = (mark.size, mark.bold, mark.grey)
            pdf.text(mark.x, mark.y, mark.text)


def _draw_box(pdf: FPDF, box: Box) -> None:
    if box.height:
        pdf.set_fill_color(box.grey)
        pdf.rect(box.x, box.y, box.width, box.height, style="F")
    else:
        pdf.set_draw_color(box.grey)
        pdf.line(box.x, box.y, box.x + box.width, box.y)


def _frame(sheets: Sheets, paper: Paper, number: int) -> Iterator[Mark]:
    """Return head and foot of a page."""
    page = f"Page {number} of {len(sheets.pages)}"
    width = sheets.plain.width(page) * SMALL
    head = sheets.lines(paper.running, sheets.inner - width - GAP, SMALL)[0]
    yield TextMark(MARGIN, 36.0, head, SMALL, bold=False, grey=GREY)
    yield TextMark(
        sheets.width - MARGIN - width, 36.0, page, SMALL, bold=False, grey=GREY
    )
    yield Box(MARGIN, 42.0, sheets.inner, 0.0, RULE)
    foot = sheets.height - 30.0
    yield Box(MARGIN, foot - 11.0, sheets.inner, 0.0, RULE)
    yield TextMark(MARGIN, foot, paper.foot, SMALL, bold=False, grey=GREY)

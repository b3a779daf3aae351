"""The frame of every page: one self-contained HTML file, offline, for phone and desk."""

from __future__ import annotations

from html import escape
from string import Template
from typing import TYPE_CHECKING

from plotly.offline import get_plotlyjs

from windows.reports.chart import COLORS
from windows.reports.wording import capital, sentence
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["document", "html_table", "paragraphs", "scroll_table", "text_table"]

_STYLE = Template("""
:root { --ink: $ink; --go: $window; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 1360px; padding: 16px; color: var(--ink); background: #f4f6f8;
  font: 15px/1.45 system-ui, sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.35rem; margin: 0 0 4px; } h2 { font-size: 1.1rem; margin: 24px 0 6px; }
h3 { font-size: .95rem; margin: 18px 0 6px; }
section { background: #fff; border-radius: 8px; padding: 14px 16px; margin: 14px 0; }
.facts, .note { color: #4d5d69; font-size: .88rem; margin: 2px 0; }
.verdict { font-weight: 600; } .told { margin: 2px 0; white-space: pre-wrap; }
table { border-collapse: collapse; width: 100%; font-size: .88rem; }
th { text-align: left; font-weight: 600; color: #4d5d69; }
th, td { padding: 5px 10px 5px 0; border-bottom: 1px solid #e3e8ec; vertical-align: top; }
td.when { font-weight: 600; white-space: nowrap; }
.tag { display: inline-block; border-radius: 4px; padding: 0 7px; color: #fff; }
.tag.window { background: $window; } .tag.provisional { background: $provisional;
  color: #222; } .tag.risk { background: $risk; }
.scroll { overflow-x: auto; }
.box { overflow: auto; max-height: 560px; } .box table { font-size: .82rem; }
.box { overflow-wrap: normal; }
.box th, .box td { padding: 3px 12px 3px 0; vertical-align: bottom; }
.box thead th { position: sticky; top: 0; background: #fff; }
.box td.when, .box th:first-child { position: sticky; left: 0; background: #fff; z-index: 1; }
.box thead th:first-child { z-index: 2; }
.mistake { border-left: 4px solid $risk; padding-left: 10px; }
ul { margin: 4px 0; padding-left: 20px; } li { margin: 3px 0; }
.source { color: #6b7a86; font-size: .8rem; }
.governs { border-left: 4px solid var(--ink); padding-left: 10px; font-weight: 600; }
@media (max-width: 640px) {
  body { padding: 8px; } section { padding: 10px 12px; }
  thead { display: none; } table, tbody, tr, td { display: block; }
  tr { border-bottom: 1px solid #cfd7dd; padding: 6px 0; } td { border: 0; padding: 1px 0; }
  td[data-label]::before { content: attr(data-label) ": "; color: #6b7a86; }
  .box thead { display: table-header-group; } .box tbody { display: table-row-group; }
  .box table { display: table; width: max-content; } .box tr { display: table-row; }
  .box td { display: table-cell; padding: 3px 10px 3px 0; border-bottom: 1px solid #e3e8ec; }
  .box th { max-width: 92px; } .box td[data-label]::before { content: none; }
}
""").substitute(COLORS)


def document(
    heading: str,
    subject: str,
    body: str,
    *,
    charts: bool = True,
    style: str = "",
    governs: str = GOVERNS,
) -> str:
    """Return a whole page, with the chart library in it.

    Parameters
    ----------
    heading, subject
        Plain text; both make the title, the heading stands on top.
    body
        HTML.
    charts
        Whether it draws any: the library is most of a page.
    style
        Rules of its own, after those of every page.
    governs
        The sentence that says who has the last word.
    """
    script = f"<script>{get_plotlyjs()}</script>" if charts else ""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(heading)}: {escape(subject)}</title><style>{_STYLE}{style}</style>"
        f"{script}</head><body>\n<h1>{escape(heading)}</h1>"
        f'<p class="governs">{escape(governs)}</p>\n{body}\n</body></html>\n'
    )


def html_table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table; cells are HTML already, the first of a row is its heading."""
    head = "".join(f"<th>{column}</th>" for column in columns)
    lines = []
    for row in rows:
        cells = [f'<td class="when">{row[0]}</td>']
        cells += [
            f'<td data-label="{escape(label)}">{cell}</td>'
            for label, cell in zip(columns[1:], row[1:], strict=True)
        ]
        lines.append(f"<tr>{''.join(cells)}</tr>")
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody></table>"


def text_table(columns: Sequence[str], rows: Sequence[Sequence[str]], heading: str = "") -> str:
    """Return a table of plain texts under a heading, nothing where there is no row."""
    if not rows:
        return ""
    told = html_table(
        [capital(column) for column in columns],
        [[escape(c) for c in row] for row in rows],
    )
    return f"<h3>{escape(heading)}</h3>{told}" if heading else told


def scroll_table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a wide table of plain texts in a box that scrolls, on a phone too."""
    return f'<div class="box">{text_table(columns, rows)}</div>'


def paragraphs(lines: Iterable[str], kind: str = "note", before: str = "") -> str:
    """Return plain texts as paragraphs of a class, each a sentence; none for an empty one.

    ``before`` stands before each of them.
    """
    told = [sentence(before + line.strip()) for line in lines if line.strip()]
    return "".join(f'<p class="{kind}">{escape(line)}</p>' for line in told)

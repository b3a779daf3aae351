"""An application record as one self-contained page, for a screen, a phone and a printer."""

from __future__ import annotations

from html import escape
from string import Template
from typing import TYPE_CHECKING

from windows.reports.document import document, text_table
from windows.reports.paper import Facts, Heading, Paragraphs, Signatures, Table
from windows.safety import GOVERNS_RECORD

if TYPE_CHECKING:
    from windows.reports.paper import Block, Paper

__all__ = ["record_page"]

_STYLE = Template("""
body { max-width: 1100px; } section { border-radius: 0; }
h2:first-child { margin-top: 0; }
td { white-space: pre-line; overflow-wrap: anywhere; min-width: 6.4em; }
td.when { white-space: pre-line; }
dl { display: grid; grid-template-columns: repeat(2, max-content minmax(0, 1fr)); gap: 3px 14px;
  margin: 6px 0 10px; font-size: .92rem; }
dt { color: #4d5d69; } dd { margin: 0; white-space: pre-line; overflow-wrap: anywhere; }
.text { margin: 4px 0; white-space: pre-line; overflow-wrap: anywhere; }
.small { color: #4d5d69; font-size: .82rem; margin: 4px 0; }
.signing { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 20px; }
.signing div { break-inside: avoid; }
.signing p { margin: 26px 0 0; border-top: 1px solid var(--ink); font-size: .8rem; }
.foot { font-size: .82rem; }
@page { margin: 18mm 14mm; @top-left { content: $running; font: 8pt sans-serif; }
  @top-right { content: "Page " counter(page) " of " counter(pages); font: 8pt sans-serif; }
  @bottom-left { content: $foot; font: 8pt sans-serif; } }
@media (max-width: 640px) {
  td { min-width: 0; } dl { grid-template-columns: 1fr; gap: 0; } dd { margin-bottom: 5px; }
  .numbered td.when::before { content: "Entry "; }
  .signing { grid-template-columns: 1fr; gap: 6px; }
}
@media print {
  body { background: #fff; padding: 0; max-width: none; font-size: 9.5pt; }
  section { padding: 0; margin: 8px 0; } h2, h3 { break-after: avoid; }
  tr, dl { break-inside: avoid; } thead { display: table-header-group; }
}
""")


def record_page(paper: Paper) -> str:
    """Return the page of a paper: no script, and nothing from elsewhere."""
    parts: list[list[str]] = [[]]
    for block in paper.blocks:
        if isinstance(block, Heading) and block.level == 2:
            parts.append([])
        parts[-1].append(_block(block))
    body = "".join(f"<section>{''.join(part)}</section>" for part in parts if part)
    style = _STYLE.substitute(running=_css(paper.running), foot=_css(paper.foot))
    return document(
        paper.title,
        paper.subject,
        f"{body}\n<p class=\"foot\">{escape(paper.foot)}</p>",
        charts=False,
        style=style,
        governs=GOVERNS_RECORD,
    )


def _block(block: Block) -> str:
    match block:
        case Heading():
            return f"<h{block.level}>{escape(block.text)}</h{block.level}>"
        case Facts():
            pairs = (f"<dt>{escape(a)}</dt><dd>{escape(told)}</dd>" for a, told in block.pairs)
            return f"<dl>{''.join(pairs)}</dl>"
        case Table():
            kind = ' class="numbered"' if block.numbered else ""
            return f"<div{kind}>{text_table(block.columns, block.rows)}</div>"
        case Paragraphs():
            kind = "small" if block.small else "text"
            return "".join(f'<p class="{kind}">{escape(line)}</p>' for line in block.lines)
        case Signatures():
            places = (
                f"<div><strong>{escape(place)}</strong><p>Name</p><p>Signature</p><p>Date</p></div>"
                for place in block.places
            )
            said = f'<p class="text">{escape(block.statement)}</p>'
            return f'{said}<div class="signing">{"".join(places)}</div>'


def _css(text: str) -> str:
    """Return a text as a string of CSS: every sign that could mean something by its number.

    The space after a number belongs to it.
    """
    plain = " ,.:-"
    told = (
        c if c.isascii() and (c.isalnum() or c in plain) else f"\\{ord(c):06x} " for c in text
    )
    return f'"{"".join(told)}"'

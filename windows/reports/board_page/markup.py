"""Pieces of HTML that the parts of the board's page share: sections, tables, tags, names."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from windows.reports import board_table as tables
from windows.reports.wording import capital

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from windows.safety import Caution

__all__ = [
    "STALE_TAG", "caution_html", "filter_names", "folded", "section", "stack_table", "tag",
    "text_cells",
]  # fmt: skip

_LONG_TABLE = 40  # rows from which a table is folded


def section(name: str, heading: str, body: str, kind: str = "") -> str:
    """Return a section named by its heading, which is plain text; the body is HTML."""
    classes = f' class="{kind}"' if kind else ""
    return (
        f'<section id="{name}" aria-labelledby="{name}-h"{classes}><h2 id="{name}-h">'
        f"{escape(heading)}</h2>{body}</section>"
    )


def stack_table(
    caption: str,
    columns: Sequence[str],
    rows: Iterable[tuple[Sequence[str], str]],
    *,
    hidden_caption: bool = True,
) -> str:
    """Return a table that stacks on a phone; cells are HTML, each row with its attributes.

    The roles are told although they are the elements' own: a browser forgets them where a row is
    shown as a block.
    """
    head = "".join(
        f'<th scope="col" role="columnheader">{escape(capital(name))}</th>' for name in columns
    )
    lines = []
    for cells, attributes in rows:
        line = f'<th scope="row" role="rowheader">{cells[0]}</th>'
        line += "".join(
            f'<td role="cell" data-label="{escape(capital(name))}">{cell}</td>'
            for name, cell in zip(columns[1:], cells[1:], strict=True)
        )
        lines.append(f'<tr role="row"{attributes}>{line}</tr>')
    kind = ' class="vh"' if hidden_caption else ""
    return (
        f'<table class="table stack" role="table"><caption{kind}>{escape(caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{"".join(lines)}</tbody></table>'
    )


def filter_names(*, crew: str | None = None, site: str | None = None) -> str:
    """Return the attributes by which the filters find an element."""
    told = "" if crew is None else f' data-crew="{escape(crew)}"'
    return told if site is None else f'{told} data-site="{escape(site)}"'


def tag(look: tuple[str, str], told: str) -> str:
    """Return a tag of a color and a mark, beside its word."""
    kind, mark = look
    shown = f'<span aria-hidden="true">{mark}</span> {escape(told)}'
    return f'<span class="tag t-{kind}">{shown}</span>'


STALE_TAG = tag(("unknown", "!"), tables.STALE)


def text_cells(texts: Iterable[str]) -> list[str]:
    """Return plain texts as cells; a name written from right to left keeps to its own cell."""
    return [f"<bdi>{escape(text)}</bdi>" for text in texts]


def caution_html(caution: Caution) -> str:
    """Return a caution with its source."""
    return f'{escape(caution.text)} <span class="source">[{escape(caution.source)}]</span>'


def folded(rows: int, name: str, table: str, *, whole: bool = False) -> str:
    """Return a table, folded where it is long; ``whole`` shows it all the same in print."""
    if rows <= _LONG_TABLE:
        return table
    kind = ' class="whole"' if whole else ""
    return f'<details data-key="{name}"{kind}><summary>Show all {rows}</summary>{table}</details>'

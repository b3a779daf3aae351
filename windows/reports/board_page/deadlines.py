"""The deadlines of a board: those in danger first on the page, those that are kept below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.board.result import Danger
from windows.reports import board_table as tables
from windows.reports.board_page.markup import (
    filter_names,
    folded,
    section,
    stack_table,
    tag,
    text_cells,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.board.result import Deadline
    from windows.reports.board_page.view import View

__all__ = ["deadlines_in_danger", "deadlines_kept"]

_DANGERS = {
    Danger.OVERDUE: ("no", "✕"),
    Danger.NO_COVER: ("no", "!"),
    Danger.NOT_KNOWN: ("unknown", "?"),
    Danger.LIKELY_LOST: ("close", "≈"),
    Danger.WAITS: ("wait", "■"),
    Danger.NO_SPARE: ("wait", "1"),
    Danger.DATA_SHEET: ("wait", "≟"),
    Danger.IN_TIME: ("until", "✓"),
}


def deadlines_in_danger(view: View) -> str:
    """Return the deadlines in danger, the worst first."""
    board = view.board
    danger = [each for each in board.deadlines if each.danger is not Danger.IN_TIME]
    if not danger:
        if not board.deadlines:
            return ""
        return section("deadlines", "Deadlines", '<p class="panel">No deadline is in danger.</p>')
    table = _deadline_table(view, danger, "Deadlines in danger, the worst first")
    heading = f"Deadlines in danger ({len(danger)})"
    return section("deadlines", heading, f'<div class="panel">{table}</div>')


def deadlines_kept(view: View) -> str:
    """Return the deadlines that the plan keeps; folded where they are many, but not in print."""
    kept = [each for each in view.board.deadlines if each.danger is Danger.IN_TIME]
    if not kept:
        return ""
    table = _deadline_table(view, kept, "Deadlines that the plan keeps")
    told = f'<div class="panel">{folded(len(kept), "kept", table, whole=True)}</div>'
    return section("kept", f"Deadlines covered in time by the plan ({len(kept)})", told)


def _deadline_table(view: View, deadlines: Sequence[Deadline], caption: str) -> str:
    rows = []
    told = tables.deadline_rows(view.board, view.units, deadlines)
    for each, row in zip(deadlines, told, strict=True):
        cells = [tag(_DANGERS[each.danger], row[0]), *text_cells(row[1:])]
        found_by = filter_names(crew=each.crew or "", site=each.site)
        rows.append((cells, f' class="deadline"{found_by}'))
    return stack_table(caption, tables.DEADLINE_COLUMNS, rows)

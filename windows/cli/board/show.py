"""Show the board on a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from windows.board.result import Board
    from windows.reports.wording import UnitSystem

__all__ = ["show_board"]


def show_board(made: Board, units: UnitSystem) -> None:
    """Show deadlines, who goes where and why, with the cautions of every go."""
    from windows.cli.printing import heading, line, table
    from windows.reports import board_table as tables
    from windows.reports.decision_words import told
    from windows.safety import GOVERNS

    heading(tables.evening(made))
    line(tables.summary(made, units) + "\n")
    for text in tables.fault_lines(made):
        line(f"FAULT: {text}")
    if made.faults:
        line()
    for title, columns, rows in (
        ("Deadlines, those in danger first", tables.DEADLINE_COLUMNS,
         tables.deadline_rows(made, units)),
        ("Who goes where", tables.ASSIGNMENT_COLUMNS, tables.assignment_rows(made, units)),
        ("Moved since the board that was kept", tables.MOVED_COLUMNS, tables.moved_rows(made)),
        ("Crews without work", tables.IDLE_COLUMNS, tables.idle_rows(made)),
        ("Left out", tables.UNDONE_COLUMNS, tables.undone_rows(made)),
        ("Sites", tables.SITE_COLUMNS, tables.site_rows(made)),
    ):  # fmt: skip
        if rows:
            table(columns, rows, title=title)
    words = tables.site_words(made, units)
    decided = [each for each in made.assignments if each.decision is not None]
    if decided:
        heading("Go or wait: the mean chance of loss over the hours, each with its own hold")
    for each in decided:
        assert each.decision is not None
        line(
            f"  - {each.crew}, {tables.day_told(each.day)}, {tables.site_names(made)[each.site]}: "
            f"{told(each.decision, words[each.site], made.currency, made.now)}"
        )
    cautions = dict.fromkeys(
        f"{caution.text} [{caution.source}]"
        for each in made.assignments
        for caution in each.cautions
    )
    if cautions:
        line()
        heading("Cautions that go with this work")
        for caution in cautions:
            line(f"  - {caution}")
    line()
    line(GOVERNS)

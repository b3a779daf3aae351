"""A board with what the parts of its page share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.board.result import SiteState
from windows.reports import board_table as tables
from windows.reports.board_page.strips import Strips

if TYPE_CHECKING:
    from windows.board.result import Assignment, Board
    from windows.reports.wording import UnitSystem

__all__ = ["View"]


class View:
    """A board with what its parts share: words and names by site, strips, numbered cautions."""

    def __init__(self, board: Board, units: UnitSystem) -> None:
        self.board = board
        self.units: UnitSystem = units
        self.words = tables.site_words(board, units)
        self.names = tables.site_names(board)
        self.strips = Strips(board, units, self.words, self.names)
        told = dict.fromkeys(caution for each in board.assignments for caution in each.cautions)
        self.cautions = {caution: n for n, caution in enumerate(told, start=1)}
        zones = {each.zone for each in board.sites if each.state is not SiteState.FAULT}
        self.many_zones = len(zones) > 1

    def on_site(self, each: Assignment) -> str:
        """Return the hours on site, with the clock's name where sites have several."""
        words = self.words[each.site]
        told = words.hours(each.arrive, each.leave)
        return f"{told} {each.arrive.tz_convert(words.zone).tzname()}" if self.many_zones else told

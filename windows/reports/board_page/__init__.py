"""The page of the evening board: one file for all sites, offline, for desk, phone and wall.

It needs no script to be read: the script filters, draws the hours of a day on demand, and reloads a
page that is served. Nothing on it comes from elsewhere, and its policy allows nothing else.
"""

from __future__ import annotations

from windows.reports.board_page.page import board_page

__all__ = ["board_page"]

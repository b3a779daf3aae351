"""``dewgap board``: all sites and crews of a folder, for the next days."""

from __future__ import annotations

from windows.cli.board.command import board

__all__ = ["board"]

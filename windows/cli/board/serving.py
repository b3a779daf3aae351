"""The board's page on this machine, made anew when something changes."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import typer

from windows.cli.board.ask import Ask
from windows.cli.board.once import once

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["serve_page"]


def serve_page(ask: Ask, port: int) -> None:
    """Show the page until somebody stops it.

    Its address, and what goes wrong, is told under --quiet too, but not as data.
    """
    from windows.board.company import FILE
    from windows.board.sites import ERROR_FILE, YEARS_FILE, site_folders
    from windows.cli.printing import is_silent
    from windows.reports.board_page import board_page
    from windows.serve import serve
    from windows.skill.store import FOLDER

    mine = {os.path.realpath(path) for path in ask.written()}

    def watched() -> list[Path]:
        found = [ask.jobs / name for name in (FILE, YEARS_FILE, ERROR_FILE)]
        for folder in site_folders(ask.jobs):
            # Whoever reads a log moves the shared memory beside it (-shm): no change of anything.
            found += [
                path
                for path in folder.rglob("*")
                if FOLDER not in path.relative_to(folder).parts
                and not path.name.endswith((".ics", "-shm"))
            ]
        return sorted(
            path for path in found if path.is_file() and os.path.realpath(path) not in mine
        )

    # The kept board is that of the evening: what moved since then stays to be seen all day.
    serve(
        lambda: board_page(once(ask, writes_keep=False)[0], ask.units, refresh=True),
        watched, port, tell=lambda text: typer.echo(text, err=is_silent()),
    )  # fmt: skip

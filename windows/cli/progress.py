"""A progress bar on a terminal; nothing where nobody looks."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from windows.history import Year

__all__ = ["bar"]


@contextmanager
def bar(years: int) -> Iterator[Callable[[Year], None]]:
    """Show how far a fetch of years has come: call what it yields after each year."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    shown = Progress(
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
        console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty(),
    )  # fmt: skip
    with shown:
        task = shown.add_task("years", total=years, visible=False)

        def told(year: Year) -> None:
            shown.update(
                task, advance=1, visible=True, description=f"{year.year} {year.outcome}"
            )

        yield told

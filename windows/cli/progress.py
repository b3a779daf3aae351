"""Bars and a sign of work on a terminal; nothing where nobody looks, or wants to."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

from windows.cli.printing import is_silent

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from rich.progress import Progress, ProgressColumn

__all__ = ["bar", "busy"]


@contextmanager
def bar(what: str, total: int, done: int = 0) -> Iterator[Callable[[str | None], None]]:
    """Show how far a task of many steps has come: call what it yields after each, with its name."""
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn

    with _shown(TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn()) as shown:
        task = shown.add_task(what, total=total, completed=done)

        def told(name: str | None) -> None:
            shown.update(task, advance=1, description=name or what)

        yield told


@contextmanager
def busy(what: str) -> Iterator[None]:
    """Show that work goes on whose steps nobody can count, and since when."""
    if not _is_watched():  # most commands are done before a library of bars is loaded
        yield
        return
    from rich.progress import SpinnerColumn, TextColumn, TimeElapsedColumn

    with _shown(SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn()) as shown:
        shown.add_task(what, total=None)
        yield


def _is_watched() -> bool:
    return sys.stderr is not None and sys.stderr.isatty() and not is_silent()


def _shown(*columns: ProgressColumn) -> Progress:
    from rich.console import Console
    from rich.progress import Progress

    return Progress(
        *columns, console=Console(stderr=True), transient=True, disable=not _is_watched(),
        redirect_stdout=False,  # answers have a stream of their own, and it stays as it is
    )  # fmt: skip

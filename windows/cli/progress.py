"""A progress bar on a terminal; nothing where nobody looks."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["bar"]


@contextmanager
def bar(what: str, total: int, done: int = 0) -> Iterator[Callable[[str | None], None]]:
    """Show how far a task of many steps has come: call what it yields after each, with its name."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    shown = Progress(
        TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
        console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty(),
    )  # fmt: skip
    with shown:
        task = shown.add_task(what, total=total, completed=done)

        def told(name: str | None) -> None:
            shown.update(task, advance=1, description=name or what)

        yield told

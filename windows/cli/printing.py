"""Print tables: framed on a terminal, plain and whole when piped; never colour alone."""

from __future__ import annotations

import json
import sys
import textwrap
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = [
    "heading", "is_silent", "line", "print_json", "print_text", "silenced", "table",
]  # fmt: skip

_ANY_WIDTH = 10_000
_SILENT: ContextVar[bool] = ContextVar("silent", default=False)


@contextmanager
def silenced(wanted: bool) -> Iterator[None]:
    """Print nothing meanwhile but what was asked for as data, if so wanted."""
    before = _SILENT.set(wanted)
    try:
        yield
    finally:
        _SILENT.reset(before)


def is_silent() -> bool:
    """Tell whether only data is printed."""
    return _SILENT.get()


def print_json(data: Any) -> None:
    """Print data as JSON; it is ASCII where the output can hold nothing else."""
    ascii_only = not (sys.stdout.encoding or "").lower().startswith("utf")
    typer.echo(json.dumps(data, indent=2, ensure_ascii=ascii_only, allow_nan=False))


def print_text(text: str) -> None:
    """Print text that was asked for as data, as it is."""
    typer.echo(text, nl=False)


def line(text: str = "") -> None:
    """Print a line of text."""
    if not is_silent():
        typer.echo(text)


def heading(text: str) -> None:
    """Print a heading."""
    if not is_silent():
        typer.secho(text, bold=True)


def table(columns: Sequence[str], rows: Sequence[Sequence[str]], *, title: str = "") -> None:
    """Print rows under columns; a terminal too narrow for them gets a line for each cell."""
    if is_silent():
        return
    if sys.stdout.isatty():
        _framed(columns, rows, title)
        return
    if title:
        line(title)
    widths = [max(len(cell) for cell in column) for column in zip(columns, *rows, strict=True)]
    for row in (columns, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        line("  ".join(cells).rstrip())
    line()


def _framed(columns: Sequence[str], rows: Sequence[Sequence[str]], title: str) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False, markup=False)
    framed = Table(
        *columns, title=title or None, title_justify="left", title_style="bold",
        box=box.SIMPLE_HEAD, pad_edge=False,
    )  # fmt: skip
    for row in rows:
        framed.add_row(*row)
    unbroken = framed.__rich_measure__(console, console.options.update(width=_ANY_WIDTH)).minimum
    if unbroken <= console.width:
        console.print(framed)
        return
    if title:
        heading(title)
    indent = max(map(len, columns)) + 2
    for row in rows:
        for name, cell in zip(columns, row, strict=True):
            if cell:
                told = name.ljust(indent) + cell
                line(textwrap.fill(told, console.width, subsequent_indent=" " * indent))
        line()

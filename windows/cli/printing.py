"""Print tables: framed on a terminal, plain and whole when piped; never colour alone."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["heading", "line", "print_json", "table"]


def print_json(data: Any) -> None:
    """Print data as JSON; it is ASCII where the output can hold nothing else."""
    ascii_only = not (sys.stdout.encoding or "").lower().startswith("utf")
    typer.echo(json.dumps(data, indent=2, ensure_ascii=ascii_only, allow_nan=False))


def line(text: str = "") -> None:
    """Print a line of text."""
    typer.echo(text)


def heading(text: str) -> None:
    """Print a heading."""
    typer.secho(text, bold=True)


def table(columns: Sequence[str], rows: Sequence[Sequence[str]], *, title: str = "") -> None:
    """Print rows under columns."""
    if sys.stdout.isatty():
        from rich import box
        from rich.console import Console
        from rich.table import Table

        framed = Table(
            *columns, title=title or None, title_justify="left", title_style="bold",
            box=box.SIMPLE_HEAD, pad_edge=False,
        )  # fmt: skip
        for row in rows:
            framed.add_row(*row)
        Console(highlight=False, markup=False).print(framed)
        return
    if title:
        line(title)
    widths = [max(len(cell) for cell in column) for column in zip(columns, *rows, strict=True)]
    for row in (columns, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        line("  ".join(cells).rstrip())
    line()

"""The ``dewgap`` command: parsing and printing only, one file a command.

Heavy libraries are imported inside the commands, so that ``dewgap --help`` stays quick.
"""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from cure_models.errors import DewgapError
from windows.cli import coatings, demo, hours, windows

__all__ = ["app", "main"]

app = typer.Typer(
    name="dewgap",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    help="When a roof coating can be laid: windows, reasons and cautions, from hourly weather.\n\n"
    "Start with: dewgap demo",
)
app.command("demo")(demo.demo)
app.command("windows")(windows.windows)
app.command("hours")(hours.hours)
app.add_typer(coatings.app, name="coatings")


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"dewgap {version('dewgap')}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Take the options that belong to no command."""


def main() -> None:
    """Run the command; every foreseen fault is one sentence and exit status 1."""
    try:
        app()
    except DewgapError as fault:
        typer.echo(f"dewgap: {fault}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader (head, less) has gone; nothing is left to say.
        sys.stderr.close()
        sys.exit(0)

"""The ``dewgap`` command: parsing and printing only, one file a command.

Heavy libraries are imported inside the commands, so that ``dewgap --help`` stays quick.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
from typing import Annotated

import typer

from cure_models.errors import DewgapError
from windows.cli import (
    bid,
    board,
    calibrate,
    claim,
    coatings,
    cover,
    cure,
    demo,
    dry,
    hours,
    log,
    plan,
    portfolio,
    quantities,
    recoat,
    season,
    skill,
    system,
    weather,
    weather_days,
    windows,
)

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
app.command("dry")(dry.dry)
app.command("cure")(cure.cure)
app.command("calibrate")(calibrate.calibrate)
app.command("recoat")(recoat.recoat)
app.command("cover")(cover.cover)
app.command("plan")(plan.plan)
app.command("season")(season.season)
app.command("bid")(bid.bid)
app.command("board")(board.board)
app.command("skill")(skill.skill)
app.add_typer(log.app, name="log")
app.command("portfolio")(portfolio.portfolio)
app.command("quantities")(quantities.quantities)
app.command("weather-days")(weather_days.weather_days)
app.command("claim")(claim.claim)
app.add_typer(system.app, name="system")
app.add_typer(coatings.app, name="coatings")
app.add_typer(weather.app, name="weather")


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
    if sys.stdout is None:  # closed by who began it: nobody reads, and all else is done as asked
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that lacks a sign shows another one instead of ending the command.
            stream.reconfigure(errors="replace")
    try:
        app()
    except DewgapError as fault:
        typer.echo(f"dewgap: {fault}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader (head, less) has gone; nothing is left to say.
        _drop_output()
        sys.exit(0)
    except OSError as fault:
        # Files are read and written under DewgapError: what is left is the screen or a pipe.
        typer.echo(f"dewgap: the output cannot be written ({fault.strerror})", err=True)
        _drop_output()
        sys.exit(1)


def _drop_output() -> None:
    """Give the interpreter nothing to flush when it ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())

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
    doctor,
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
from windows.cli.app import App
from windows.cli.exit_status import ExitStatus

__all__ = ["app", "main"]

_TODAY = "Today and this week"
_ROOF = "On the roof"
_BID = "At bid time, and after bad weather"
_MATERIALS = "Materials"
_SETUP = "Weather and set-up"

app = App(
    "When a roof coating can be laid: windows, reasons and cautions, from hourly weather.\n\n"
    "Start with: dewgap demo\n\n"
    "Example: dewgap windows demo_sites/cool_north --coating acrylic",
    name="dewgap",
    add_completion=True,
)
app.named("demo", panel=_TODAY)(demo.demo)
app.named("windows", panel=_TODAY)(windows.windows)
app.named("plan", panel=_TODAY)(plan.plan)
app.named("board", panel=_TODAY)(board.board)
app.named("hours", panel=_TODAY)(hours.hours)
app.named("dry", panel=_TODAY)(dry.dry)
app.named("cover", panel=_ROOF)(cover.cover)
app.named("recoat", panel=_ROOF)(recoat.recoat)
app.add_typer(log.app, name="log", rich_help_panel=_ROOF)
app.named("bid", panel=_BID)(bid.bid)
app.named("season", panel=_BID)(season.season)
app.named("portfolio", panel=_BID)(portfolio.portfolio)
app.named("weather-days", panel=_BID)(weather_days.weather_days)
app.named("claim", panel=_BID)(claim.claim)
app.add_typer(coatings.app, name="coatings", rich_help_panel=_MATERIALS)
app.add_typer(system.app, name="system", rich_help_panel=_MATERIALS)
app.named("quantities", panel=_MATERIALS)(quantities.quantities)
app.named("cure", panel=_MATERIALS)(cure.cure)
app.add_typer(weather.app, name="weather", rich_help_panel=_SETUP)
app.named("skill", panel=_SETUP)(skill.skill)
app.named("calibrate", panel=_SETUP)(calibrate.calibrate)
app.named("doctor", panel=_SETUP)(doctor.doctor)


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
        for step in getattr(fault, "__notes__", ()):
            typer.echo(f"Next: {step}", err=True)
        sys.exit(ExitStatus.ERROR)
    except BrokenPipeError:
        # The reader (head, less) has gone; nothing is left to say.
        _drop_output()
        sys.exit(ExitStatus.DONE)
    except OSError as fault:
        # Files are read and written under DewgapError: what names none is the screen or a pipe.
        if fault.filename is None:
            typer.echo(f"dewgap: the output cannot be written ({fault.strerror})", err=True)
            _drop_output()
        else:
            typer.echo(
                f"dewgap: {fault.filename}: cannot be read or written ({fault.strerror}); check "
                "that it is there, that it is yours, and that its disk has room",
                err=True,
            )
        sys.exit(ExitStatus.ERROR)


def _drop_output() -> None:
    """Give the interpreter nothing to flush when it ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())

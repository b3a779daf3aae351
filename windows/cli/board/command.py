"""The command itself: its options, and what it ends with."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli.choices import takes_forecasts
from windows.cli.exit_status import ExitStatus
from windows.cli.options import CsvFile, Json, NowOption, PageFile, UnitOption
from windows.errors import DewgapError
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from windows.board.result import Board

__all__ = ["board", "status_of"]


@takes_forecasts
def board(
    jobs: Annotated[
        Path | None,
        typer.Argument(metavar="JOBS", help="Folder with one folder a site, and board.toml."),
    ] = None,
    now: NowOption = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.5, max=3600, help="Most time for the solver.")
    ] = 20.0,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--keep", metavar="FILE",
            help="Board file (JSON): what it promised is kept where it can be; then written.",
        ),
    ] = None,
    page: PageFile = None,
    table_file: CsvFile = None,
    calendars: Annotated[
        Path | None,
        typer.Option(
            "--ics", metavar="DIR",
            help="Write or bring up to date a calendar (iCalendar) for each crew in a folder.",
        ),
    ] = None,
    store: Annotated[
        bool,
        typer.Option("--store", help="Keep each forecast beside its site, for dewgap skill."),
    ] = False,
    command: Annotated[
        str | None,
        typer.Option(
            "--notify", metavar="COMMAND",
            help="Run with the board (JSON) on its standard input when the answer changed since it "
            "was told last; needs --keep.",
        ),
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(
            "--serve", metavar="PORT", min=0, max=65535,
            help="Show the page on this machine, made anew when a file or forecast changes.",
        ),
    ] = None,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON Schema of --json and nothing else.")
    ] = False,
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Send crews to sites over the next days, by odds and by what it costs to be wrong.

    Each site folder has site.toml, job.toml and weather.csv (or give --source). The clock of --now
    is that of the first site. Exit status 1 if something on the board is at fault, 3 if nobody is
    sent or a laid layer is left without its cover, 4 if nobody is sent and what is not known
    decides.

    Example: dewgap board demo_sites/tri_county --now 2026-06-10T18:00 --page board.html
    """
    from windows.cli.board.ask import Ask
    from windows.cli.board.once import once
    from windows.cli.board.serving import serve_page
    from windows.cli.board.show import show_board
    from windows.cli.printing import line, print_json, print_text
    from windows.reports.board_json import board_schema
    from windows.reports.board_table import undetermined

    if schema:
        print_text(board_schema())
        raise typer.Exit
    if jobs is None:
        raise DewgapError("name the folder of the sites, as in dewgap board JOBS/")
    if weather.source is not None:
        _known_source(weather.source)
    if command is not None and keep is None:
        raise DewgapError("--notify tells what changed since the board before; give --keep as well")
    ask = Ask(
        jobs, now, seconds, keep, page, table_file, calendars, store, command, weather, units
    )  # fmt: skip
    if port is not None:
        if as_json:
            raise DewgapError("--serve shows a page and does not end; leave --json out")
        serve_page(ask, port)
        return
    made, told, notice = once(ask)
    if as_json:
        print_json(told)
    else:
        show_board(made, units)
        if unsure := undetermined(made):
            line(unsure)
        for name, path in (("Page", page), ("CSV", table_file), ("Calendars", calendars),
                           ("Board file", keep)):  # fmt: skip
            if path is not None:
                line(f"{name}: {os.path.abspath(path)}")
        if notice is not None and notice.well:
            line(f"Notice: {notice.text}")
    raise typer.Exit(status_of(made) if notice is None or notice.well else ExitStatus.ERROR)


def _known_source(name: str) -> None:
    """Refuse a source that does not exist, which is no fault of a site."""
    from windows.errors import HoursError, did_you_mean
    from windows.sources import FORECASTS
    from windows.weather import AUTO

    if name not in (AUTO, *FORECASTS):
        raise HoursError(f"no forecast source '{name}'; {did_you_mean(name, (AUTO, *FORECASTS))}")


def status_of(made: Board) -> ExitStatus:
    """Return what the command ends with: faults first, then what nobody is sent for."""
    from windows.cli.show_cover import EXIT

    return ExitStatus.ERROR if made.faults else EXIT[made.state]

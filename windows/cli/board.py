"""``dewgap board``: all sites and crews of a folder, for the next days."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli.options import CsvFile, Json, NowOption, PageFile, UnitOption, takes_forecasts
from windows.errors import DewgapError, OutputError
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from windows.board.promise import Promise
    from windows.board.result import Board
    from windows.notify import Told
    from windows.reports.wording import UnitSystem

__all__ = ["board"]


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
    sent or a laid layer is left without its cover.

    Example: dewgap board demo_sites/tri_county --now 2026-06-10T18:00 --page board.html
    """
    from windows.cli.printing import line, print_json
    from windows.reports.board_json import board_schema

    if schema:
        typer.echo(board_schema(), nl=False)
        raise typer.Exit
    if jobs is None:
        raise DewgapError("name the folder of the sites, as in dewgap board JOBS/")
    if weather.source is not None:
        _known_source(weather.source)
    if command is not None and keep is None:
        raise DewgapError("--notify tells what changed since the board before; give --keep as well")
    ask = _Ask(
        jobs, now, seconds, keep, page, table_file, calendars, store, command, weather, units
    )  # fmt: skip
    if port is not None:
        if as_json:
            raise DewgapError("--serve shows a page and does not end; leave --json out")
        _serve(ask, port)
        return
    made, told, notice = _once(ask)
    if as_json:
        print_json(told)
    else:
        _show(made, units)
        for name, path in (("Page", page), ("CSV", table_file), ("Calendars", calendars),
                           ("Board file", keep)):  # fmt: skip
            if path is not None:
                line(f"{name}: {os.path.abspath(path)}")
        if notice is not None and notice.well:
            line(f"Notice: {notice.text}")
    raise typer.Exit(_status(made) if notice is None or notice.well else 1)


def _known_source(name: str) -> None:
    """Refuse a source that does not exist, which is no fault of a site."""
    from windows.errors import HoursError, did_you_mean
    from windows.sources import FORECASTS
    from windows.weather import AUTO

    if name not in (AUTO, *FORECASTS):
        raise HoursError(f"no forecast source '{name}'; {did_you_mean(name, (AUTO, *FORECASTS))}")


@dataclass(frozen=True)
class _Ask:
    """What was asked for."""

    jobs: Path
    now: str | None
    seconds: float
    keep: Path | None
    page: Path | None
    table_file: Path | None
    calendars: Path | None
    store: bool
    command: str | None
    weather: WeatherChoice
    units: UnitSystem

    def written(self) -> list[Path]:
        """Return the files that are written."""
        files = [self.page, self.table_file, self.keep]
        if self.command is not None and self.keep is not None:
            files.append(_taken(self.keep))
        return [path for path in files if path is not None]


def _once(
    ask: _Ask, *, writes_keep: bool = True
) -> tuple[Board, dict[str, Any], Told | None]:
    """Make the board and write what was asked for.

    Return it, also as a dictionary, and how the command took it that was to be told.
    """
    from windows.board.make import load_jobs, make_board
    from windows.reports.board_json import board_dict, promises_of
    from windows.reports.output import apart, check_place, read_earlier, write_whole

    outputs = ask.written()
    apart(outputs, _read(ask.jobs))
    for path in outputs:
        check_place(path)
    if ask.calendars is not None and not ask.calendars.is_dir():
        raise OutputError(f"{ask.calendars}: is no folder; make it first, calendars go into it")
    earlier = None if ask.keep is None else read_earlier(ask.keep)
    promises = () if earlier is None else promises_of(
        earlier.decode("utf-8", "replace"), str(ask.keep)
    )  # fmt: skip
    before = _told_before(ask)
    now = _present(ask.jobs, ask.now)
    loaded = load_jobs(ask.jobs, ask.weather, now)
    if not loaded.crews_known:
        loaded = _with_crews_missing(loaded)
    if ask.store:
        loaded = _stored(ask.jobs, loaded)
    made = make_board(loaded, now, seconds=ask.seconds, promises=promises)
    told = board_dict(made)
    if not loaded.crews_known:
        # Nothing is called off because a crew cannot be read.
        ask, writes_keep = replace(ask, calendars=None), False
    files = _files(ask, made, told, promises)
    if not writes_keep and ask.keep is not None:
        del files[ask.keep]
    for out, content in files.items():
        write_whole(out, content)
    return made, told, _notify(ask, told, before)


def _told_before(ask: _Ask) -> dict[str, Any] | None:
    """Return the board that the command took last, None if there is none that can be read."""
    from windows.reports.board_json import promises_of
    from windows.reports.output import read_earlier

    if ask.command is None or ask.keep is None:
        return None
    path = _taken(ask.keep)
    try:
        text = (read_earlier(path) or b"").decode("utf-8", "replace")
        if not text:
            return None
        promises_of(text, str(path))  # refuses what is no board
    except OutputError as fault:
        typer.echo(f"{fault}; all is told as new", err=True)
        return None
    return dict(json.loads(text))


def _notify(
    ask: _Ask, told: dict[str, Any], before: dict[str, Any] | None
) -> Told | None:
    """Tell the command what changed since it took a board last; return how it took this one.

    The last board that it took stands beside the kept one, so that a command that fails is told
    again the next time.
    """
    from windows.notify import notify
    from windows.reports.output import write_whole

    if ask.command is None or ask.keep is None:
        return None
    what = notify(ask.command, told, before)
    if what is not None and what.well:
        write_whole(
            _taken(ask.keep), json.dumps(told, ensure_ascii=False, allow_nan=False) + "\n"
        )
    elif what is not None:
        typer.echo(what.text, err=True)
    return what


def _taken(keep: Path) -> Path:
    """Return where the last board stands that the command took."""
    return keep.with_name(f"{keep.name}.told")


def _present(jobs: Path, now: str | None) -> pd.Timestamp:
    """Return the present, by the clock of the first site that can be read."""
    import pandas as pd

    from windows.board.sites import site_folders
    from windows.cli.options import moment
    from windows.site import load_site

    if now is None:
        return pd.Timestamp.now("UTC")
    fault: DewgapError | None = None
    for folder in site_folders(jobs):
        try:
            return moment("--now", now, load_site(folder))
        except DewgapError as found:
            fault = fault or found
            if str(found).startswith("--now"):
                break
    assert fault is not None
    raise fault


def _read(jobs: Path) -> list[Path]:
    """Return the files that the board reads or keeps, so that none is written over."""
    from windows.board.company import FILE
    from windows.board.sites import ERROR_FILE, YEARS_FILE, site_folders
    from windows.skill.store import FOLDER

    found = [jobs / name for name in (FILE, YEARS_FILE, ERROR_FILE)]
    for folder in site_folders(jobs):
        found += [folder / name for name in ("weather.csv", YEARS_FILE)]
        found += [*folder.glob("*.toml"), *(folder / FOLDER).glob("*")]
    return found


def _with_crews_missing(loaded: Any) -> Any:
    """Say that nothing is called off while a crew cannot be read."""
    from windows.board.company import FILE
    from windows.board.result import Fault

    text = (
        "not every crew of it can be read: the board that is kept and the calendars stay as they "
        "were, until it is mended"
    )
    return replace(loaded, faults=(*loaded.faults, Fault(FILE, text)))


def _stored(jobs: Path, loaded: Any) -> Any:
    """Keep the forecasts; return what was loaded, with a fault for each that cannot be kept."""
    from windows.board.result import Fault
    from windows.skill.store import FOLDER, keep_forecast

    faults = []
    for job in loaded.jobs:
        if job.forecast is None:
            continue
        try:
            keep_forecast(jobs / job.key / FOLDER, job.forecast)
        except DewgapError as fault:
            faults.append(Fault(job.key, f"the forecast is not kept: {fault}"))
    return replace(loaded, faults=(*loaded.faults, *faults))


def _files(
    ask: _Ask, made: Board, told: dict[str, Any], promises: Sequence[Promise]
) -> dict[Path, str | bytes]:
    """Return the files that were asked for."""
    from windows.reports.board_calendar import calendar_name, crew_calendar
    from windows.reports.board_csv import board_csv
    from windows.reports.board_page import board_page
    from windows.reports.output import read_earlier

    files: dict[Path, str | bytes] = {}
    if ask.page is not None:
        files[ask.page] = board_page(made, ask.units)
    if ask.table_file is not None:
        files[ask.table_file] = board_csv(made)
    if ask.calendars is not None:
        # A crew that is gone has its work called off too.
        names = [
            *(crew.name for crew in made.crews),
            *(promise.crew for promise in promises),
            *_owners(ask.calendars),
        ]
        for crew in dict.fromkeys(names):
            path = ask.calendars / calendar_name(crew)
            try:
                files[path] = crew_calendar(
                    made, crew, before=read_earlier(path), units=ask.units
                )
            except OutputError as fault:
                raise OutputError(f"{path}: {fault}") from None
    if ask.keep is not None:
        files[ask.keep] = json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    return files


def _owners(folder: Path) -> list[str]:
    """Return the crews whose calendars lie in a folder."""
    from windows.reports.board_calendar import calendar_name
    from windows.reports.calendar_parts import calendar_owner

    owners = []
    for path in sorted(folder.glob("*.ics")):
        name = calendar_owner(path.read_bytes()) if path.is_file() else None
        if name is not None and path.name == calendar_name(name):
            owners.append(name)
    return owners


def _serve(ask: _Ask, port: int) -> None:
    """Show the page until somebody stops it."""
    from windows.board.company import FILE
    from windows.board.sites import ERROR_FILE, YEARS_FILE, site_folders
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
        lambda: board_page(_once(ask, writes_keep=False)[0], ask.units, refresh=True),
        watched, port, tell=typer.echo,
    )  # fmt: skip


def _status(made: Board) -> int:
    from windows.board.result import Danger

    if made.faults:
        return 1
    left = {Danger.OVERDUE, Danger.NO_COVER}
    open_layers = any(each.laid and each.danger in left for each in made.deadlines)
    work = bool(made.undone) and not made.assignments
    return 3 if work or open_layers else 0


def _show(made: Board, units: UnitSystem) -> None:
    from windows.cli.printing import heading, line, table
    from windows.reports import board_table as tables
    from windows.reports.decision_words import told
    from windows.safety import GOVERNS

    heading(tables.evening(made))
    line(tables.summary(made, units) + "\n")
    for text in tables.fault_lines(made):
        line(f"FAULT: {text}")
    if made.faults:
        line()
    for title, columns, rows in (
        ("Deadlines, those in danger first", tables.DEADLINE_COLUMNS,
         tables.deadline_rows(made, units)),
        ("Who goes where", tables.ASSIGNMENT_COLUMNS, tables.assignment_rows(made, units)),
        ("Moved since the board that was kept", tables.MOVED_COLUMNS, tables.moved_rows(made)),
        ("Crews without work", tables.IDLE_COLUMNS, tables.idle_rows(made)),
        ("Left out", tables.UNDONE_COLUMNS, tables.undone_rows(made)),
        ("Sites", tables.SITE_COLUMNS, tables.site_rows(made)),
    ):  # fmt: skip
        if rows:
            table(columns, rows, title=title)
    words = tables.site_words(made, units)
    decided = [each for each in made.assignments if each.decision is not None]
    if decided:
        heading("Go or wait: the mean chance of loss over the hours, each with its own hold")
    for each in decided:
        assert each.decision is not None
        line(
            f"  - {each.crew}, {tables.day_told(each.day)}, {tables.site_names(made)[each.site]}: "
            f"{told(each.decision, words[each.site], made.currency, made.now)}"
        )
    cautions = dict.fromkeys(
        f"{caution.text} [{caution.source}]"
        for each in made.assignments
        for caution in each.cautions
    )
    if cautions:
        line()
        heading("Cautions that go with this work")
        for caution in cautions:
            line(f"  - {caution}")
    line()
    line(GOVERNS)

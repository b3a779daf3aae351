"""One board: made, written, kept, and told to the command that wants to know."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from windows.cli.board.ask import Ask, present_of, read_of, taken
from windows.cli.progress import busy
from windows.errors import DewgapError, OutputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.board.promise import Promise
    from windows.board.result import Board
    from windows.notify import Told

__all__ = ["once"]


def once(
    ask: Ask, *, writes_keep: bool = True
) -> tuple[Board, dict[str, Any], Told | None]:
    """Make the board and write what was asked for.

    Return it, also as a dictionary, and how the command took it that was to be told.
    """
    from windows.board.make import load_jobs, make_board
    from windows.reports.board_json import board_dict, promises_of
    from windows.reports.output import apart, check_place, read_earlier, write_whole

    outputs = ask.written()
    apart(outputs, read_of(ask.jobs))
    for path in outputs:
        check_place(path)
    if ask.calendars is not None and not ask.calendars.is_dir():
        raise OutputError(f"{ask.calendars}: is no folder; make it first, calendars go into it")
    earlier = None if ask.keep is None else read_earlier(ask.keep)
    promises = () if earlier is None else promises_of(
        earlier.decode("utf-8", "replace"), str(ask.keep)
    )  # fmt: skip
    before = _told_before(ask)
    now = present_of(ask.jobs, ask.now)
    with busy("reading the sites and their weather"):
        loaded = load_jobs(ask.jobs, ask.weather, now)
    if not loaded.crews_known:
        loaded = _with_crews_missing(loaded)
    if ask.store:
        loaded = _stored(ask.jobs, loaded)
    with busy(f"sending the crews, {ask.seconds:g} s at most to solve"):
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


def _told_before(ask: Ask) -> dict[str, Any] | None:
    """Return the board that the command took last, None if there is none that can be read."""
    from windows.reports.board_json import promises_of
    from windows.reports.output import read_earlier

    if ask.command is None or ask.keep is None:
        return None
    path = taken(ask.keep)
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
    ask: Ask, told: dict[str, Any], before: dict[str, Any] | None
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
            taken(ask.keep), json.dumps(told, ensure_ascii=False, allow_nan=False) + "\n"
        )
    elif what is not None:
        typer.echo(what.text, err=True)
    return what


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
    ask: Ask, made: Board, told: dict[str, Any], promises: Sequence[Promise]
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
    from windows.reports.calendar_before import calendar_owner

    owners = []
    for path in sorted(folder.glob("*.ics")):
        name = calendar_owner(path.read_bytes()) if path.is_file() else None
        if name is not None and path.name == calendar_name(name):
            owners.append(name)
    return owners

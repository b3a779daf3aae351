"""What the commands that write an entry share: their options, and what they print of it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli import complete
from windows.cli.choices import with_options
from windows.cli.options import JobOption, Json, NowOption, UnitOption
from windows.cli.values import moment, present, quantity
from windows.errors import LogError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    import pandas as pd
    from pydantic import BaseModel

    from windows.field.desk import Desk
    from windows.log.entries import Body
    from windows.reports.wording import UnitSystem
    from windows.weather_choice import WeatherChoice

__all__ = [
    "FIRST", "By", "EntryChoice", "Instruments", "Layer", "Measured", "Section", "Where",
    "author_of", "check_bounds", "desk_of", "measure", "takes_entry", "takes_placement",
    "takes_withdrawal", "when", "write",
]  # fmt: skip

FIRST = "dewgap log import demo_sites/cool_north demo_sites/cool_north/field_log.json --by Ann"
"""What fills the log of the demo, to which the examples of the commands belong."""

Section = Annotated[
    str,
    typer.Option(
        "--section", metavar="NAME", autocompletion=complete.sections,
        help="Section of the roof, as the job names it.",
    ),
]
Layer = Annotated[
    str,
    typer.Option(
        "--layer", metavar="LAYER", autocompletion=complete.layers,
        help="Layer of the system: number, or name.",
    ),
]
Where = Annotated[
    str, typer.Option("--where", metavar="TEXT", help="Where on the section, as on the roof plan.")
]
Instruments = Annotated[
    list[str] | None,
    typer.Option("--instrument", metavar="SERIAL", help="Its serial number; may be repeated."),
]
By = Annotated[
    str | None,
    typer.Option("--by", metavar="NAME", envvar="DEWGAP_BY", help="Who writes this."),
]
_At = Annotated[
    str | None,
    typer.Option("--at", metavar="TIME", help="When, by the site's clock. Default: now."),
]
_Note = Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything else to keep.")]
_Photos = Annotated[
    list[Path] | None,
    typer.Option("--photo", metavar="FILE", help="A photo in the job's folder; may be repeated."),
]
_Corrects = Annotated[
    int | None,
    typer.Option("--corrects", metavar="N", help="Number of the entry that this one replaces."),
]

_ENTRY: dict[str, tuple[Any, object]] = {
    "at": (_At, None),
    "by": (By, None),
    "note": (_Note, ""),
    "photos": (_Photos, None),
    "corrects": (_Corrects, None),
    "job": (JobOption, None),
    "now": (NowOption, None),
    "units": (UnitOption, "us"),
    "as_json": (Json, False),
}


@dataclass(frozen=True)
class EntryChoice:
    """What every entry takes from the command line."""

    at: str | None
    by: str | None
    note: str
    photos: list[Path] | None
    corrects: int | None
    job: Path | None
    now: str | None
    units: UnitSystem
    as_json: bool
    withdraws: bool = False


def takes_entry(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of every entry, in place of its ``entry`` parameter."""
    return with_options(command, "entry", _ENTRY, EntryChoice)


def takes_placement(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of every entry but --at, for one that has hours of its own."""
    return _without(command, "at")


def takes_withdrawal(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of every entry but --corrects, for one that names it anyway."""
    return _without(command, "corrects")


def _without(command: Callable[..., None], left_out: str) -> Callable[..., None]:
    def chosen(**given: Any) -> EntryChoice:
        return EntryChoice(**{**given, left_out: None})

    options = {name: given for name, given in _ENTRY.items() if name != left_out}
    return with_options(command, "entry", options, chosen)


def author_of(by: str | None) -> str:
    """Return who writes.

    Raises
    ------
    LogError
        If nobody is named.
    """
    if by is None or not by.strip():
        raise LogError("a log names who wrote each entry; give --by NAME, or set DEWGAP_BY once")
    return by


def desk_of(
    site: Path, entry: EntryChoice, weather: WeatherChoice | None = None
) -> Desk:
    """Return the job and its log, with the weather of the hour where it can be had."""
    from windows.field.desk import desk
    from windows.site import load_site

    place = load_site(site)
    return desk(site, place, entry.job, present(entry.now, place), weather)


def when(option: str, text: str | None, desk: Desk) -> pd.Timestamp:
    """Return the moment of an entry, now without one.

    Raises
    ------
    LogError
        If it is still to come.
    """
    told = desk.now if text is None else moment(option, text, desk.site)
    if told > desk.now:
        local, now = (each.tz_convert(desk.site.zone) for each in (told, desk.now))
        raise LogError(
            f"{option}: {local:%Y-%m-%d %H:%M} is still to come (now is {now:%Y-%m-%d %H:%M}); a "
            "log holds what is done: mend the time, or give --now"
        )
    return told


def _moment(desk: Desk, choice: EntryChoice) -> datetime | pd.Timestamp:
    """Return the moment of an entry: the one given, that of the entry it corrects, else now."""
    from windows.field.enter import entry_at

    if choice.at is None and choice.corrects is not None and not choice.withdraws:
        return entry_at(desk, choice.corrects)
    return when("--at", choice.at, desk)


class Measured(float):
    """A number from an option, which remembers how it was given. [SI]"""

    option: str
    text: str
    dimension: str


def measure(option: str, text: str | None, dimension: str) -> Measured | None:
    """Return what an option says was measured, None without it. [SI]"""
    if text is None:
        return None
    value = Measured(round(quantity(option, text, dimension), 6))
    value.option, value.text, value.dimension = option, text, dimension
    return value


def check_bounds(kind: type[BaseModel], fields: dict[str, Any]) -> None:
    """Refuse what cannot be, in the words in which it was given.

    Raises
    ------
    LogError
        If a number lies outside the bounds of its field.
    """
    from windows.field.told import both
    from windows.log.fields import bounds_of

    for name, value in fields.items():
        if not isinstance(value, Measured):
            continue
        bounds = bounds_of(kind, name)
        for sense, limit, fits in (
            ("at least", bounds.low, bounds.low is None or value >= bounds.low),
            ("above", bounds.above, bounds.above is None or value > bounds.above),
            ("at most", bounds.high, bounds.high is None or value <= bounds.high),
        ):
            if not fits and limit is not None:
                raise LogError(
                    f"{value.option}: '{value.text}' must be {sense} "
                    f"{both(limit, value.dimension)}; mend the number or its unit"
                )


def write(desk: Desk, choice: EntryChoice, kind: type[Body], **fields: Any) -> None:
    """Write an entry, checked; print how it stands in the log, its flags, and readings due."""
    from windows.cli.printing import heading, line, print_json
    from windows.field.day import due_now
    from windows.field.enter import enter
    from windows.reports.log_table import due_dict, due_told, entry_dict, entry_told
    from windows.reports.wording import Wording

    given = {"at": _moment(desk, choice), "note": choice.note} | fields
    told = {name: value for name, value in given.items() if value is not None}
    check_bounds(kind, told)
    entry = enter(
        desk, kind, told, choice.photos or (), author_of(choice.by), choice.corrects
    )
    waiting = due_now(desk)
    if choice.as_json:
        print_json(
            {
                "entry": entry_dict(entry),
                "due": [due_dict(each) for each in waiting],
                "notes": list(desk.notes),
            }
        )
        return
    words = Wording(choice.units, desk.site.zone)
    heading(f"Entry {entry.number} is in the log: {entry_told(entry, words)}")
    line(f"  {os.path.abspath(desk.log)}, hash {entry.hash[:16]}")
    for note in desk.notes:
        line(f"  note: {note}")
    for flag in entry.body.flags:
        line(f"  FLAG: {flag}")
    for each in waiting:
        line(f"  READING DUE: {due_told(each, words)}")

"""``dewgap log show``, ``due``, ``learn``: what is in a log, what is missing, what it teaches."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

import typer

from windows.cli import complete
from windows.cli.choices import takes_raw_weather
from windows.cli.inputs import load_hours
from windows.cli.options import From, JobOption, Json, NowOption, SiteArgument, To, UnitOption
from windows.cli.values import day_bounds, present
from windows.weather_choice import WeatherChoice

__all__ = ["due", "learn", "show"]


def show(
    site: SiteArgument,
    kind: Annotated[
        list[str] | None,
        typer.Option(
            "--kind", metavar="NAME", autocompletion=complete.kinds,
            help="Kind of entry; may be repeated.",
        ),
    ] = None,
    first_day: From = None,
    last_day: To = None,
    all_entries: Annotated[
        bool, typer.Option("--all", help="Also those that were corrected or withdrawn.")
    ] = False,
    job: JobOption = None,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Show what is in the log: what stands, or with --all what was corrected as well.

    Example: dewgap log show demo_sites/cool_north --kind placement
    """
    from windows.cli.printing import line, print_json, table
    from windows.job_file import log_of
    from windows.log.entries import kinds_of
    from windows.log.store import open_log
    from windows.reports.log_table import COLUMNS, entry_dict, entry_rows
    from windows.reports.wording import Wording
    from windows.site import load_site

    place = load_site(site)
    first, last = day_bounds(first_day, last_day, place)
    # A second less: what is at midnight is of the next day.
    start, end = first, None if last is None else last - timedelta(seconds=1)
    kinds = kinds_of(kind or ())
    with open_log(log_of(site, job), read_only=True) as log:
        entries = list(log.entries(*kinds, start=start, end=end, standing=not all_entries))
        corrections = list(log.corrections()) if all_entries else []
        head = log.head
    if as_json:
        print_json({"entries": [entry_dict(entry) for entry in entries]})
        return
    words = Wording(units, place.zone)
    if entries:
        table(COLUMNS, entry_rows(entries, corrections, words))
        flags = [(e.number, flag) for e in entries for flag in e.body.flags]
        for number, flag in flags:
            line(f"flag of entry {number}: {flag}")
    else:
        line("No entry.")
    line(f"{head[0]} entries in all; hash of the last: {head[1]}")


def due(
    site: SiteArgument,
    job: JobOption = None,
    now: NowOption = None,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Tell which readings today's work asks for, which are there, and which were missed.

    Example: dewgap log due demo_sites/cool_north --now 2026-09-22T17:00
    """
    from windows.cli.printing import line, print_json
    from windows.field.day import readings_due
    from windows.field.desk import desk
    from windows.reports.log_table import due_dict, due_told
    from windows.reports.wording import Wording
    from windows.site import load_site

    place = load_site(site)
    at = desk(site, place, job, present(now, place))
    found = readings_due(at)
    if as_json:
        print_json({"due": [due_dict(each) for each in found], "notes": list(at.notes)})
        return
    for note in at.notes:
        line(f"note: {note}")
    words = Wording(units, place.zone)
    for each in found:
        line(due_told(each, words))
    if not found:
        line("No work is in the log for today, so no reading is due by it.")


@takes_raw_weather
def learn(
    site: SiteArgument,
    job: JobOption = None,
    now: NowOption = None,
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Tell what the readings of the log teach of this site, and whether it is used.

    Example: dewgap log learn demo_sites/cool_north --now 2026-09-22T17:00
    """
    from windows.cli.printing import line, print_json, table
    from windows.field.lessons import lessons
    from windows.job_file import log_of
    from windows.reports.learned_table import COLUMNS, learned_dict, learned_rows, learned_told
    from windows.reports.wording import Wording
    from windows.site import load_site

    place = load_site(site)
    hours = load_hours(place, site, weather)
    found = lessons(log_of(site, job), place, hours, present(now, place))
    if as_json:
        print_json(learned_dict(found))
        return
    words = Wording(units, place.zone)
    table(COLUMNS, learned_rows(found, words))
    for told in learned_told(found):
        line(told)

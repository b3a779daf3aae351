"""``dewgap plan``: which layer goes on which section, and when."""

from __future__ import annotations

import json
import os
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli.choices import takes_weather
from windows.cli.inputs import inputs, load_layers
from windows.cli.options import (
    DryAtStart,
    JobOption,
    Json,
    LimitsOption,
    NowOption,
    PageFile,
    SiteArgument,
    SystemOption,
    UnitOption,
)
from windows.cli.values import present
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from windows.layers import SystemHours
    from windows.planner import Planned
    from windows.replan import Moved
    from windows.reports.wording import Wording

__all__ = ["plan"]


@takes_weather
def plan(
    site: SiteArgument,
    job: JobOption = None,
    system: SystemOption = None,
    now: NowOption = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.5, max=3600, help="Most time for the solver.")
    ] = 20.0,
    open_beyond: Annotated[
        bool,
        typer.Option(
            "--open-beyond",
            help="Lay also what must be covered only after the weather ends.",
        ),
    ] = False,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--keep", metavar="FILE",
            help="Plan file (JSON): read first if it is there, so that little moves; then written.",
        ),
    ] = None,
    page: PageFile = None,
    table_file: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the plan as CSV.")
    ] = None,
    calendar: Annotated[
        Path | None,
        typer.Option(
            "--ics", metavar="FILE",
            help="Write or bring up to date a calendar (iCalendar); moved events keep their name.",
        ),
    ] = None,
    dry_at_start: DryAtStart = False,
    limits: LimitsOption = "generic",
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Plan sections, layers and shifts over the weather, so that no base coat is stranded.

    Exit status 3 if nothing can be laid, or a laid layer is left without its cover; 4 if nothing
    is laid and hours that are not known decide.

    Example: dewgap plan demo_sites/high_desert --now 2026-05-11T06:00 --page plan.html
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.cli.show_cover import EXIT
    from windows.job_file import load_job
    from windows.pieces import pieces
    from windows.planner import make_plan
    from windows.replan import what_moved
    from windows.reports.output import apart, check_place, read_earlier, write_whole
    from windows.reports.plan_json import placements_of, plan_csv, planned_dict
    from windows.reports.wording import Wording
    from windows.site import load_site
    from windows.system_check import system_for
    from windows.work_rate import equal_parts

    place = load_site(site)
    file = load_job(site, job)
    chosen = system_for(file, system)
    asked = present(now, place)
    outputs = [path for path in (page, table_file, calendar, keep) if path is not None]
    apart(outputs, inputs(site, job, chosen.where, weather.file, weather.mapping))
    for output in outputs:
        check_place(output)
    laid = pieces(file, chosen, place, asked)
    earlier = None if keep is None else read_earlier(keep)
    names = {"site": place.name, "system": chosen.name}
    before = () if earlier is None else placements_of(earlier.decode("utf-8", "replace"),
                                                      str(keep), **names)  # fmt: skip
    written = None if calendar is None else read_earlier(calendar)
    in_weather = load_layers(
        place, site, chosen, weather, limits=limits, dry_at_start=dry_at_start,
        now=asked, job=job,
    )
    with busy(f"planning, {seconds:g} s at most to solve"):
        planned = make_plan(
            in_weather, laid or equal_parts(chosen, place.roof.area, file), file, asked,
            seconds=seconds, open_beyond=open_beyond, before=before,
        )  # fmt: skip
    best, words = planned.best, Wording(units, place.zone)
    moved = what_moved(before, best, in_weather, planned.pieces, asked) if before else ()
    told = planned_dict(planned, in_weather, moved)
    files: dict[Path, str | bytes] = {}
    if page is not None:
        from windows.reports.plan_page import plan_page

        files[page] = plan_page(planned, in_weather, moved, asked, words)
    if table_file is not None:
        files[table_file] = plan_csv(best, place.zone)
    if calendar is not None:
        files[calendar] = _calendar(planned, in_weather, asked, calendar, written, words)
    if keep is not None:
        files[keep] = json.dumps(told, indent=1, ensure_ascii=False) + "\n"
    for out, content in files.items():
        write_whole(out, content)
    if as_json:
        print_json(told)
    else:
        _show(planned, in_weather, moved, words)
        for name, path in (("Page", page), ("CSV", table_file), ("Calendar", calendar),
                           ("Plan file", keep)):  # fmt: skip
            if path is not None:
                line(f"{name}: {os.path.abspath(path)}")
    raise typer.Exit(EXIT[planned.state])


def _calendar(
    planned: Planned,
    in_weather: SystemHours,
    now: pd.Timestamp,
    path: Path,
    written: bytes | None,
    words: Wording,
) -> bytes:
    """Return the calendar of a plan, brought up to date from the one written earlier."""
    from windows.errors import OutputError
    from windows.reports.calendar_file import plan_calendar
    from windows.reports.plan_table import weak_deadlines

    try:
        return plan_calendar(
            planned.best, project=f"{in_weather.site.name}/{in_weather.system.name}",
            zone=in_weather.site.zone, now=now, issued=in_weather.hours.provenance.issued,
            before=written, words=words,
            notes=[*weak_deadlines(planned, words), *(c.text for c in planned.cautions)],
        )  # fmt: skip
    except OutputError as fault:
        raise OutputError(f"{path}: {fault}") from None


def _show(
    planned: Planned, in_weather: SystemHours, moved: Sequence[Moved], words: Wording
) -> None:
    from windows.cli.printing import heading, line, table
    from windows.cli.show import show_site
    from windows.reports import plan_table as tables
    from windows.safety import GOVERNS

    show_site(in_weather.jobs[0], words.units)
    best = planned.best
    heading(f"{in_weather.system.title} ({in_weather.system.name})")
    line(tables.summary(best, words) + "\n")
    rows = [
        [
            words.day(each.start) if not n else "", words.hours(each.start, each.end),
            *tables.placement_row(each, words),
        ]
        for _, day in groupby(best.placements, key=lambda each: each.shift)
        for n, each in enumerate(day)
    ]  # fmt: skip
    if rows:
        table(["day", "hours", *tables.COLUMNS], rows)
    notes = [*tables.left_open(best, words), *tables.weak_deadlines(planned, words)]
    for told in notes:
        line(f"note: {told}")
    if notes:
        line()
    if moved:
        title = "Moved since the plan that was kept"
        table(tables.MOVED_COLUMNS, tables.moved_rows(moved, words), title=title)
    if told := tables.undetermined(planned):
        line(f"{told}\n")
    if best.left_out:
        table(tables.LEFT_COLUMNS, tables.left_rows(best), title="Left out")
        for told in tables.eased(planned):
            line(told)
        line()
    table(
        tables.RULE_COLUMNS,
        tables.rule_rows(planned, words),
        title="The best plan beside the rules that crews use, in the same weather",
    )
    line(tables.RULES_NOTE)
    if planned.cautions:
        heading("Cautions that go with this plan")
        for caution in planned.cautions:
            line(f"  - {caution.text} [{caution.source}]")
    line(GOVERNS)

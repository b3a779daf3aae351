"""``dewgap bid``: when a job finishes, by its start, from many years."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli.choices import takes_years
from windows.cli.inputs import inputs, load_years, write_files
from windows.cli.options import (
    CsvFile,
    ExcelFile,
    JobOption,
    Json,
    LimitsOption,
    NowOption,
    PageFile,
    SiteArgument,
    SystemOption,
    UnitOption,
)
from windows.cli.values import day, present, quantity
from windows.errors import DewgapError
from windows.weather_choice import YearsChoice

if TYPE_CHECKING:
    from windows.reports.bid_sheets import Asked
    from windows.reports.wording import Wording
    from windows.seasons.bid_result import Bid

__all__ = ["bid"]


@takes_years
def bid(
    site: SiteArgument,
    system: SystemOption = None,
    area: Annotated[
        str | None,
        typer.Option(
            "--area", metavar="AREA",
            help='Whole area in equal parts, as "20,000 ft2". Default: the sections of the job '
            "file, else the roof of the site.",
        ),
    ] = None,
    crew_rate: Annotated[
        str | None,
        typer.Option(
            "--crew-rate", metavar="RATE",
            help='Area that the crew lays in an hour, any layer, as "2,000 ft2/h". Default: the '
            "rates of the job file.",
        ),
    ] = None,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="DATE", help="Date to finish by, as 2027-10-15."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--start", metavar="DATE", help="Tell more of a start on this day."),
    ] = None,
    job: JobOption = None,
    now: NowOption = None,
    csv_file: CsvFile = None,
    excel: ExcelFile = None,
    page: PageFile = None,
    limits: LimitsOption = "generic",
    *,
    years: YearsChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Replay a whole job from every start day of many years: when it finishes, with what odds.

    Example: dewgap bid demo_sites/cool_north --by 2027-09-15 --now 2027-01-04T08:00
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.job_file import load_job
    from windows.reports.bid_json import bid_dict
    from windows.reports.bid_sheets import Asked, bid_sheets, starts_sheet
    from windows.reports.sheets import sheet_csv, workbook
    from windows.reports.wording import Wording
    from windows.seasons.bid import bid_of
    from windows.site import load_site
    from windows.system_check import system_for
    from windows.work_rate import at_one_rate, parts_to_lay

    place = load_site(site)
    file = load_job(site, job, losses=True)
    chosen = system_for(file, system)
    if crew_rate is not None:
        rate = quantity("--crew-rate", crew_rate, "work_rate")
        if not rate > 0:
            raise DewgapError(f"--crew-rate: '{crew_rate}' must be above zero")
        file = at_one_rate(file, chosen, rate)
    today = present(now, place).tz_convert(place.zone).date()
    asked = Asked(
        today,
        None if by is None else day("--by", by),
        None if start is None else day("--start", start),
    )
    asked.require_to_come("--")
    if asked.by is not None and asked.start is not None and asked.by < asked.start:
        raise DewgapError(f"--by {by} is before --start {start}; exchange them")
    parts = parts_to_lay(chosen, place, file, _area(area))
    hours = load_years(place, site, years)
    with busy("laying the job from every start day of the years"):
        found = bid_of(place, chosen, hours, file, parts, limits=limits)
    words = Wording(units, place.zone)
    files: list[tuple[Path, str | bytes]] = []
    if csv_file is not None:
        files.append((csv_file, sheet_csv(starts_sheet(found, asked))))
    if excel is not None:
        files.append((excel, workbook(bid_sheets(found, asked, words))))
    if page is not None:
        from windows.reports.bid_page import bid_page

        files.append((page, bid_page(found, asked, words)))
    written = write_files(files, inputs(site, job, chosen.where, *years.files))
    if as_json:
        print_json(bid_dict(found, asked))
        return
    _show(found, asked, words)
    for path in written:
        line(f"Written: {path}")


def _area(text: str | None) -> float | None:
    """Return the area of the option. [m2]"""
    if text is None:
        return None
    size = quantity("--area", text, "area")
    if not size > 0:
        raise DewgapError(f"--area: '{text}' must be above zero")
    return size


def _show(found: Bid, asked: Asked, words: Wording) -> None:
    from windows.cli.printing import heading, line, table
    from windows.notes import site_notes
    from windows.reports import bid_sheets as sheets
    from windows.safety import GOVERNS

    heading(found.site.name)
    line(f"Years: {sheets.data_line(found)}")
    if found.hours.provenance.attribution:
        line(f"       {found.hours.provenance.attribution}")
    for note in (*site_notes(found.site, found.hours), *found.notes):
        line(f"  note: {note}")
    line()
    heading(f"{found.system.title} ({found.system.name}): {sheets.job_line(found, words)}")
    for told in (*sheets.start_lines(found, asked), *sheets.detail_lines(found, asked)):
        line(told)
    line()
    table(sheets.screen_columns(asked), sheets.screen_rows(found, asked))
    for note in sheets.bid_notes():
        line(note)
    line(GOVERNS)

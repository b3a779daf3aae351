"""``dewgap season``: the workable days of many years."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli.choices import takes_years
from windows.cli.inputs import inputs, load_years, write_files
from windows.cli.options import (
    CsvFile,
    DryFilm,
    ExcelFile,
    Json,
    LimitsOption,
    OneCoating,
    PageFile,
    SiteArgument,
    UnitOption,
)
from windows.cli.values import dry_film_um
from windows.weather_choice import YearsChoice

if TYPE_CHECKING:
    from windows.reports.wording import Wording
    from windows.seasons.season import Season

__all__ = ["season"]

@takes_years
def season(
    site: SiteArgument,
    coating: OneCoating,
    dry_film: DryFilm = None,
    weeks: Annotated[bool, typer.Option("--weeks", help="Show the ISO weeks too.")] = False,
    csv_file: CsvFile = None,
    excel: ExcelFile = None,
    page: PageFile = None,
    limits: LimitsOption = "generic",
    *,
    years: YearsChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Count the workable days of each month and week over many years, and what costs them.

    Example: dewgap season demo_sites/cool_north --coating acrylic
    """
    from cure_models import load_profile
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.reports.season_json import season_dict
    from windows.reports.season_sheets import months_sheet, season_sheets
    from windows.reports.sheets import sheet_csv, workbook
    from windows.reports.wording import Wording
    from windows.seasons.season import season_of
    from windows.site import load_site

    place = load_site(site)
    profile = load_profile(coating)
    film = dry_film_um(dry_film)
    hours = load_years(place, site, years)
    with busy("working out the years"):
        found = season_of(place, profile, hours, dry_film_um=film, limits=limits)
    words = Wording(units, place.zone)
    files: list[tuple[Path, str | bytes]] = []
    if csv_file is not None:
        files.append((csv_file, sheet_csv(months_sheet(found))))
    if excel is not None:
        files.append((excel, workbook(season_sheets(found, words))))
    if page is not None:
        from windows.reports.season_page import season_page

        files.append((page, season_page(found, words)))
    written = write_files(files, inputs(site, coating, *years.files))
    if as_json:
        print_json(season_dict(found))
        return
    _show(found, words, weeks=weeks)
    for path in written:
        line(f"Written: {path}")


def _show(found: Season, words: Wording, *, weeks: bool) -> None:
    from windows.cli.printing import heading, line, table
    from windows.notes import site_notes
    from windows.reports import season_sheets as sheets
    from windows.safety import GOVERNS

    heading(found.site.name)
    line(f"Years:   {sheets.data_line(found)}")
    if found.hours.provenance.attribution:
        line(f"         {found.hours.provenance.attribution}")
    for note in (*site_notes(found.site, found.hours), sheets.left_out_line(found)):
        line(f"  note: {note}")
    line()
    profile = found.coating.profile
    heading(f"{profile.title} ({found.coating.name}, {found.coating.limits} limits)")
    practical = sheets.practical_line(found)
    line(f"{practical[0].upper()}{practical[1:]}.")
    line()
    table(sheets.SCREEN_COLUMNS, sheets.screen_rows(found))
    if weeks:
        table(sheets.SCREEN_COLUMNS, sheets.screen_rows(found, weeks=True))
    for told in (*sheets.trends(found, words), *sheets.season_notes(found)):
        line(f"{told[0].upper()}{told[1:]}{'' if told.endswith('.') else '.'}")
    line(GOVERNS)

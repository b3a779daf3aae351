"""``dewgap log record``: the application record of a day, or of the whole job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

import typer

from windows.cli.choices import takes_weather
from windows.cli.inputs import inputs, write_files
from windows.cli.options import JobOption, Json, NowOption, SiteArgument, UnitOption
from windows.cli.values import day, present
from windows.weather_choice import WeatherChoice

__all__ = ["record"]


@takes_weather
def record(
    site: SiteArgument,
    of_day: Annotated[
        str | None,
        typer.Option("--day", metavar="DATE", help="One local day. Default: the whole job."),
    ] = None,
    page: Annotated[
        Path | None, typer.Option("--page", metavar="FILE", help="Write it as a page (HTML).")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Write it as PDF, to be signed.")
    ] = None,
    paper: Annotated[
        Literal["letter", "a4"], typer.Option("--paper", help="Paper of the PDF.")
    ] = "letter",
    job: JobOption = None,
    now: NowOption = None,
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Make the application record of a day or of the whole job, for warranty and file.

    The weather is needed only to tell deadlines by ultraviolet dose, and openings.

    Example: dewgap log record demo_sites/cool_north --day 2026-09-22 --pdf record.pdf
    --now 2026-09-22T17:00
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.errors import SourceError
    from windows.field.day import record_of
    from windows.field.desk import desk
    from windows.reports.log_table import record_told
    from windows.reports.record_paper import record_paper
    from windows.reports.wording import Wording
    from windows.site import load_site

    place = load_site(site)
    at = replace(
        desk(site, place, job, present(now, place), weather), corrected=not weather.uncorrected
    )
    if at.without and weather.source is not None:
        raise SourceError(at.without)
    with busy("gathering the record"):
        found = record_of(at, None if of_day is None else day("--day", of_day))
    words = Wording(units, place.zone)
    told = record_paper(found, words)
    files: list[tuple[Path, str | bytes]] = []
    if page is not None:
        from windows.reports.record_page import record_page

        files.append((page, record_page(told)))
    if pdf is not None:
        from windows.reports.record_pdf import record_pdf

        files.append((pdf, record_pdf(told, paper)))
    written = write_files(files, [*inputs(site, job, weather.file, weather.mapping), at.log])
    if as_json:
        print_json(
            {
                "title": told.title,
                "subject": told.subject,
                "summary": list(record_told(found)),
                "notes": list(at.notes),
                "files": written,
            }
        )
        return
    line(f"{told.title}: {told.subject}")
    for note in at.notes:
        line(f"note: {note}")
    for summed in record_told(found):
        line(summed)
    for path in written:
        line(f"Record: {path}")
    if not written:
        line("Give --page FILE or --pdf FILE to have it written.")

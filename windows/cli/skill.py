"""``dewgap skill``: keep forecasts, and score them against the hours observed later."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli import complete
from windows.cli.choices import takes_raw_weather
from windows.cli.exit_status import ExitStatus
from windows.cli.inputs import inputs, load_hours, write_files
from windows.cli.options import (
    CsvFile,
    JobOption,
    Json,
    LimitsOption,
    PageFile,
    SiteArgument,
    SystemOption,
    UnitOption,
)
from windows.errors import DewgapError
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from windows.reports.wording import Wording
    from windows.site import Site
    from windows.skill.goes import Coat
    from windows.skill.score import Skill

__all__ = ["skill"]


@takes_raw_weather
def skill(
    site: SiteArgument,
    store: Annotated[
        bool, typer.Option("--store", help="Keep the forecast of the weather options, and end.")
    ] = False,
    observed: Annotated[
        list[Path] | None,
        typer.Option(
            "--observed", metavar="FILE", help="Observed hours of any format; may be repeated."
        ),
    ] = None,
    forecasts: Annotated[
        Path | None,
        typer.Option(
            "--forecasts", metavar="DIR",
            help="Folder of kept forecasts. Default: forecasts beside the site file.",
        ),
    ] = None,
    of: Annotated[
        str | None,
        typer.Option("--of", metavar="SOURCE", help="Source to score, where several are kept."),
    ] = None,
    coating: Annotated[
        list[str] | None,
        typer.Option(
            "--coating", metavar="NAME",
            autocompletion=complete.coatings,
            help="Coating whose goes are checked, may be repeated. Default: those of the system.",
        ),
    ] = None,
    system: SystemOption = None,
    job: JobOption = None,
    limits: LimitsOption = "generic",
    page: PageFile = None,
    csv_file: CsvFile = None,
    write: Annotated[
        Path | None,
        typer.Option(
            "--write", metavar="FILE",
            help="Write what the forecasts err by (TOML), for forecast_error.toml beside the site "
            "file.",
        ),
    ] = None,
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Score kept forecasts against observed hours: errors, chances of rain, goes that failed.

    Example: dewgap skill demo_sites/cool_north --store

    Example: dewgap skill demo_sites/cool_north
    --observed demo_sites/cool_north/years.csv.gz
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.reports.output import apart
    from windows.reports.skill_file import FORECAST_ERROR
    from windows.reports.skill_json import skill_dict
    from windows.reports.wording import Wording
    from windows.site import load_site
    from windows.skill.score import observed_hours, of_one_source, skill_of
    from windows.skill.store import FOLDER, stored

    if store == bool(observed):
        raise DewgapError(
            "give --store to keep a forecast, or --observed FILE to score those that are kept; "
            f"{'not both' if store else 'one of the two'}"
        )
    place = load_site(site)
    folder = forecasts or _beside(site, FOLDER)
    if store:
        _only_scored(
            {"--of": of, "--coating": coating, "--page": page, "--csv": csv_file,
             "--write": write, "--system": system, "--job": job}
        )  # fmt: skip
        _store(place, site, weather, folder, as_json=as_json)
        return
    if weather.source is not None or weather.file is not None:
        raise DewgapError(
            "--weather and --source choose the forecast that --store keeps; name observed hours "
            "with --observed"
        )
    measured = observed or []
    coats = _coats(place, site, coating, system, job)
    kept, unread = stored(folder)
    read = [
        *inputs(site, *(coating or ()), system, job, *measured, weather.mapping),
        *(each.path for each in kept), *(each.path for each in unread),
    ]  # fmt: skip
    apart([path for path in (page, csv_file, write) if path is not None], read)
    if not kept:
        raise DewgapError(f"{folder}: holds no forecast that can be used ({unread[0].text})")
    mine, others = of_one_source(kept, of)
    hours = observed_hours(
        measured, place, form=weather.form, mapping=weather.mapping,
        assume_cloud=weather.assume_cloud,
    )  # fmt: skip
    with busy("scoring the forecasts"):
        found = skill_of(place, mine, hours, coats, limits=limits, unread=unread, others=others)
    words = Wording(units, place.zone)
    files = _files(found, words, page, csv_file, write) if found.scored else []
    written = write_files(files, read)
    if as_json:
        print_json(skill_dict(found))
    else:
        _show(found, words)
        for path in written:
            line(f"Written: {path}")
        if write is None and found.recalibration.days:
            line(f"To have the next forecasts corrected: --write {_beside(site, FORECAST_ERROR)}")
    if not found.scored:
        raise typer.Exit(ExitStatus.UNDETERMINED)


def _beside(site: Path, name: str) -> Path:
    return (site if site.is_dir() else site.parent) / name


def _only_scored(given: dict[str, object]) -> None:
    """Refuse options that --store has no use for."""
    for option, value in given.items():
        if value:
            raise DewgapError(f"{option} goes with --observed, not with --store; drop one")


def _store(
    place: Site, site: Path, weather: WeatherChoice, folder: Path, *, as_json: bool
) -> None:
    from windows.cli.printing import line, print_json
    from windows.reports.as_json import utc_text, weather_dict
    from windows.skill.store import issue_time, keep_forecast

    hours = load_hours(place, site, weather)
    kept = keep_forecast(folder, hours)
    issued = issue_time(hours)
    if as_json:
        print_json(
            {
                "file": None if kept is None else str(kept.resolve()),
                "new": kept is not None,
                "issued": utc_text(issued),
                "weather": weather_dict(hours),
            }
        )
        return
    whose = f"{hours.provenance.source}, issued {issued:%Y-%m-%d %H:%M} UTC"
    line(f"Kept already: {whose}" if kept is None else f"Kept: {whose}: {kept.resolve()}")


def _coats(
    place: Site, site: Path, coating: list[str] | None, system: str | None, job: Path | None
) -> tuple[Coat, ...]:
    """Return the coatings that are named, else those of the system, else none."""
    from windows.job_file import load_job
    from windows.skill.goes import Coat, coats_of
    from windows.system_check import system_for

    if coating:
        from cure_models import load_profile

        if system is not None or job is not None:
            raise DewgapError("--coating stands in place of --system and --job; drop one of them")
        return tuple(Coat(place, load_profile(name)) for name in dict.fromkeys(coating))
    file = load_job(site, job, laid=False)
    if system is None and file.system is None:
        return ()
    return coats_of(place, system_for(file, system))


def _files(
    found: Skill, words: Wording, page: Path | None, csv_file: Path | None, write: Path | None
) -> list[tuple[Path, str | bytes]]:
    """Return what is to be written; nothing of it is, if the errors cannot be."""
    from windows.reports.sheets import sheet_csv
    from windows.reports.skill_file import forecast_error_toml
    from windows.reports.skill_sheets import skill_sheet

    files: list[tuple[Path, str | bytes]] = []
    if page is not None:
        from windows.reports.skill_page import skill_page

        files.append((page, skill_page(found, words)))
    if csv_file is not None:
        files.append((csv_file, sheet_csv(skill_sheet(found))))
    if write is not None:
        files.append((write, forecast_error_toml(found)))
    return files


def _show(found: Skill, words: Wording) -> None:
    from windows.cli.printing import heading, line, table
    from windows.notes import weather_notes
    from windows.reports import skill_sheets as sheets
    from windows.safety import GOVERNS

    observed = found.observed
    heading(found.site.name)
    line(f"Forecasts: {sheets.forecasts_line(found)}")
    line(f"Observed:  {observed.provenance.describe()}")
    if observed.provenance.attribution:
        line(f"           {observed.provenance.attribution}")
    for note in (*weather_notes(observed), *sheets.left_out_lines(found)):
        line(f"  note: {note}")
    line()
    if found.scored == 0:
        line(
            "Nothing can be scored: no hour that was foretold is known in the observed hours, "
            f"{observed.index[0]:%Y-%m-%d %H:%M} to {observed.index[-1]:%Y-%m-%d %H:%M} UTC."
        )
        return
    heading("Air temperature and dew point")
    table(sheets.temperature_columns(words), sheets.temperature_rows(found, words))
    for kind in sheets.kinds(found):
        heading(f"Chance of rain, {sheets.kind_name(kind)}")
        table(sheets.RAIN_COLUMNS, sheets.rain_rows(found, kind))
        table(sheets.RELIABILITY_COLUMNS, sheets.reliability_rows(found, kind))
    if not found.goes:
        line("No coating is named (--coating, or system in the job file): goes are not checked.\n")
    for goes in found.goes:
        heading(f"{goes.title} ({goes.coating}): what became of the goes")
        table(sheets.GO_COLUMNS, sheets.go_rows(goes))
        if told := sheets.broke_line(goes):
            line(f"{told}\n")
    heading("What can be learnt for the next forecasts")
    for told in sheets.recalibration_lines(found, words):
        line(told)
    line()
    for note in sheets.skill_notes():
        line(note)
    line(GOVERNS)

"""``dewgap claim``: the lost days of a period against those that were anticipated."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli.choices import takes_years
from windows.cli.inputs import inputs, load_years
from windows.cli.options import (
    CsvFile,
    From,
    Json,
    LimitsOption,
    OneCoating,
    SiteArgument,
    To,
    UnitOption,
)
from windows.cli.values import day
from windows.cli.weather_days import (
    ContractOption,
    show_contract,
    show_record,
)
from windows.errors import HoursError
from windows.weather_choice import YearsChoice

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from windows.job import CheckedHours
    from windows.seasons.claim_result import Anticipated
    from windows.seasons.contract import Contract

__all__ = ["claim"]


@takes_years
def claim(
    site: SiteArgument,
    coating: OneCoating,
    contract: ContractOption,
    weather: Annotated[
        Path, typer.Option("--weather", metavar="FILE", help="The hours that were; no forecast.")
    ],
    month: Annotated[
        str | None, typer.Option("--month", metavar="MONTH", help="The month, as 2026-03.")
    ] = None,
    first_day: From = None,
    last_day: To = None,
    anticipated: Annotated[
        str | None,
        typer.Option(
            "--anticipated", metavar="DAYS",
            help="Anticipated days, January to December, as \"7 8 5 3 4 3 2 2 6 4 6 8\", or a file "
            "that holds them. Default: the contract's own, else worked out of --years.",
        ),
    ] = None,
    critical: Annotated[
        Path | None,
        typer.Option(
            "--critical", metavar="FILE",
            help="Daily log (CSV): the days with critical work, in a column date.",
        ),
    ] = None,
    csv: CsvFile = None,
    limits: LimitsOption = "generic",
    *,
    years: YearsChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Set the lost days of a period against the anticipated ones, with reasons and notice dates.

    Example: dewgap claim demo_sites/gulf_coast --coating acrylic --contract county_tenth_inch
    --weather demo_sites/gulf_coast/years.csv.gz --month 2024-03
    --anticipated "7 8 5 3 4 3 2 2 6 4 6 8"
    """
    from cure_models import load_profile
    from windows.cli.printing import line, print_json, table
    from windows.cli.progress import busy
    from windows.job import check_job
    from windows.reports.claim_table import (
        DAY_COLUMNS,
        LEDGER_COLUMNS,
        claim_csv,
        claim_dict,
        claim_notes,
        day_rows,
        ledger_rows,
        open_text,
    )
    from windows.reports.output import apart, write_whole
    from windows.reports.wording import Wording
    from windows.seasons.claim import claim
    from windows.seasons.claim_input import read_critical
    from windows.seasons.contract import CONTRACT_GOVERNS, load_contract
    from windows.seasons.weather_days import weather_days
    from windows.site import load_site

    place, rule, profile = load_site(site), load_contract(contract), load_profile(coating)
    first, last = _period(month, first_day, last_day)
    log = None if critical is None else read_critical(critical)
    if csv is not None:
        given = (coating, contract, weather, critical, anticipated, *years.files)
        apart([csv], inputs(site, *given))
    actual = load_years(place, site, YearsChoice((weather,), assume_cloud=years.assume_cloud))
    with busy("checking the hours that were"):
        job = check_job(place, profile, actual, limits=limits)

    def of_years() -> CheckedHours:
        before = load_years(place, site, years)
        with busy("counting the days of the years"):
            return check_job(place, profile, before, limits=limits)

    expected = _anticipated(anticipated, rule, years, of_years)
    found = claim(weather_days(job, rule), first, last, expected, log)
    words = Wording(units, place.zone)
    if csv is not None:
        write_whole(csv, claim_csv(found, words))
    if as_json:
        print_json(claim_dict(found))
        return
    show_record(found.weather)
    show_contract(rule, words)
    if found.days:
        title = f"Days lost to the contract or the coating, {first} to {last}"
        table(DAY_COLUMNS, day_rows(found, words), title=title)
    else:
        line(f"No day is known to be lost from {first} to {last}.\n")
    if not_known := open_text(found):
        line(f"{not_known}\n")
    table(LEDGER_COLUMNS, ledger_rows(found), title="Ledger, in working days")
    for note in claim_notes(found):
        line(note)
    if csv is not None:
        line(f"CSV: {os.path.abspath(csv)}")
    line(CONTRACT_GOVERNS)


def _period(month: str | None, first: str | None, last: str | None) -> tuple[date, date]:
    """Return the first and last day that the options name."""
    from windows.seasons.claim_input import month_of

    if month is not None and first is None and last is None:
        return month_of(month, "--month")
    if month is not None or first is None or last is None:
        raise HoursError("give the period: --month 2026-03, or both --from and --to")
    begin, end = day("--from", first), day("--to", last)
    if begin > end:
        raise HoursError(f"--from {first} is after --to {last}; exchange them")
    return begin, end


def _anticipated(
    given: str | None, rule: Contract, years: YearsChoice, of_years: Callable[[], CheckedHours]
) -> Anticipated:
    """Return the anticipated days: as given, else of the years named, the contract, the years."""
    from windows.seasons.claim_input import (
        anticipated_of_contract,
        anticipated_of_years,
        given_anticipated,
    )
    from windows.seasons.weather_days import weather_days

    if given is not None:
        if years.files:
            raise HoursError("--anticipated and --years both tell the anticipated days; give one")
        return given_anticipated(given, "--anticipated")
    own = None if years.files else anticipated_of_contract(rule)
    return own or anticipated_of_years(weather_days(of_years(), rule).months())

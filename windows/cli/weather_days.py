"""``dewgap weather-days``: days that a contract counts beside days that a coating loses."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli import complete
from windows.cli.app import WORDS
from windows.cli.choices import takes_years
from windows.cli.inputs import inputs, load_years
from windows.cli.options import CsvFile, Json, LimitsOption, OneCoating, SiteArgument, UnitOption
from windows.weather_choice import YearsChoice

if TYPE_CHECKING:
    from windows.reports.wording import Wording
    from windows.seasons.contract import Contract
    from windows.seasons.weather_days import WeatherDays

__all__ = [
    "ContractOption", "show_contract", "show_record", "weather_days",
]  # fmt: skip

ContractOption = Annotated[
    str,
    typer.Option(
        "--contract", metavar="NAME",
        autocompletion=complete.contracts,
        help="Rule of the contract, or your own .toml file; dewgap weather-days --list shows them.",
    ),
]  # fmt: skip


def _list(ctx: typer.Context, wanted: bool) -> None:
    """Show the shipped contracts with their sources."""
    if not wanted:
        return
    from windows.cli.printing import line, print_json
    from windows.reports.weather_days_table import contract_dict
    from windows.reports.wording import Wording
    from windows.seasons.contract import CONTRACT_GOVERNS, contract_names, load_contract

    contracts = [load_contract(name) for name in contract_names()]
    if "--json" in ctx.meta[WORDS]:
        told = [contract_dict(each) for each in contracts]
        print_json({"contracts": told, "governs": CONTRACT_GOVERNS})
        raise typer.Exit
    for each in contracts:
        show_contract(each, Wording("us"))
    line(f"{CONTRACT_GOVERNS} Your own contract: a TOML file of these keys (docs/weather_days.md).")
    raise typer.Exit


@takes_years
def weather_days(
    site: SiteArgument,
    coating: OneCoating,
    contract: ContractOption,
    csv: CsvFile = None,
    limits: LimitsOption = "generic",
    list_contracts: Annotated[
        bool,
        typer.Option(
            "--list", callback=_list, is_eager=True, help="Show the contracts and their sources."
        ),
    ] = False,
    *,
    years: YearsChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Count what a contract counts and what the coating loses, month by month.

    Example: dewgap weather-days demo_sites/gulf_coast --coating acrylic
    --contract county_tenth_inch
    """
    from cure_models import load_profile
    from windows.cli.printing import line, print_json, table
    from windows.cli.progress import busy
    from windows.gates import State
    from windows.job import check_job
    from windows.reports.output import apart, write_whole
    from windows.reports.weather_days_table import (
        MONTH_COLUMNS,
        WEATHER_DAYS_NOTE,
        left_out_text,
        month_rows,
        weather_days_csv,
        weather_days_dict,
    )
    from windows.reports.wording import Wording
    from windows.seasons.contract import CONTRACT_GOVERNS, load_contract
    from windows.seasons.season import no_years
    from windows.seasons.weather_days import over_years, weather_days
    from windows.seasons.workable import checks
    from windows.site import load_site

    place, rule, profile = load_site(site), load_contract(contract), load_profile(coating)
    if csv is not None:
        apart([csv], inputs(site, coating, contract, *years.files))
    hours = load_years(place, site, years)
    with busy("counting the days of the years"):
        job = check_job(place, profile, hours, limits=limits)
        found = weather_days(job, rule)
    months = found.months()
    if not months.year.size:
        unknown = {n: s for n, s in checks(job).items() if (s == State.UNKNOWN).any()}
        raise no_years(job.hours, unknown)
    over = over_years(months)
    if csv is not None:
        write_whole(csv, weather_days_csv(months))
    if as_json:
        print_json(weather_days_dict(found, months, over))
        return
    words = Wording(units, place.zone)
    show_record(found)
    show_contract(rule, words)
    table(MONTH_COLUMNS, month_rows(over), title="Days a month, means over the years")
    line(WEATHER_DAYS_NOTE)
    if left_out := left_out_text(months):
        line(left_out)
    if csv is not None:
        line(f"CSV: {os.path.abspath(csv)}")
    line(CONTRACT_GOVERNS)


def show_record(found: WeatherDays) -> None:
    """Show site, coating, the record of hours and what is to be known of them."""
    from windows.cli.printing import heading, line
    from windows.notes import weather_notes

    job = found.job
    heading(f"{job.site.name}: {job.coating.profile.title} ({job.coating.name})")
    told = job.hours.provenance
    line(f"Hours: {told.source}, {told.place}")
    if told.attribution:
        line(f"       {told.attribution}")
    for warning in (*job.site.warnings, *weather_notes(job.hours)):
        line(f"  note: {warning}")
    line()


def show_contract(contract: Contract, words: Wording) -> None:
    """Show the rules of a contract with their sources."""
    from windows.cli.printing import line, table
    from windows.reports.weather_days_table import RULE_COLUMNS, rule_rows

    title = f"{contract.title} ({contract.name})"
    table(RULE_COLUMNS, rule_rows(contract, words), title=title)
    if contract.note:
        line(f"note: {contract.note}\n")

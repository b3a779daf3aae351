"""``dewgap system``: the shipped systems and your own, and the rules that they must keep."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from windows.cli import complete
from windows.cli.app import App
from windows.cli.choices import takes_raw_weather
from windows.cli.exit_status import ExitStatus
from windows.cli.inputs import load_layers
from windows.cli.options import Json, UnitOption
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from cure_models.system import System
    from windows.reports.wording import Wording
    from windows.system_check import MonthRate

__all__ = ["app"]

app = App("Systems of layers: list, show, check.\n\nExample: dewgap system list")


@app.named("list")
def list_systems(as_json: Json = False) -> None:
    """List the shipped systems.

    Example: dewgap system list
    """
    from cure_models.system import load_system, system_names
    from windows.cli.printing import line, print_json, table

    systems = [load_system(name) for name in system_names()]
    if as_json:
        print_json(
            [
                {"name": s.name, "title": s.title, "layers": [each.name for each in s.layers]}
                for s in systems
            ]
        )
        return
    table(
        ["name", "system", "layers"],
        [[s.name, s.title, ", ".join(each.name for each in s.layers)] for s in systems],
    )
    line("All are generic: not a data sheet. Your own: a TOML file; dewgap system check reads it.")


@app.named("show")
def show(
    name: Annotated[
        str,
        typer.Argument(
            metavar="NAME", autocompletion=complete.systems,
            help="System, or your own .toml file.",
        ),
    ],
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Show a system's layers, the intervals between them, and the cure that these need.

    Example: dewgap system show spf_silicone
    """
    from cure_models.system import load_system
    from windows.cli.printing import print_json
    from windows.reports.system_json import system_dict

    system = load_system(name)
    if as_json:
        print_json(system_dict(system))
    else:
        _show(system, units)


def _show(system: System, units: str) -> None:
    from cure_models.system_rules import needed_rates
    from windows.cli.printing import heading, line, table
    from windows.reports.wording import Wording

    words = Wording("si" if units == "si" else "us")
    heading(f"{system.title} ({system.name})")
    line("generic, not a data sheet\n" if system.generic else "your own\n")
    table(
        ["#", "layer", "coating", "dry film", "passes", "fabric", "over"],
        [
            [
                str(n), layer.name, layer.coating, words.value(layer.dry_film.si, "film"),
                str(layer.passes), layer.fabric or "none", ", ".join(layer.over),
            ]
            for n, layer in enumerate(system.layers, start=1)
        ],
    )  # fmt: skip
    table(
        ["after layer", "opens", "closes", "cover by", "source of the deadline"],
        [_interval(system, n, words) for n in range(len(system.layers) - 1)],
        title="Until the next layer: hours of cure to open, clock hours to close and to cover",
    )
    needed = needed_rates(system)
    if needed:
        table(
            ["layer", "needed", "range", "opens", "deadline"],
            [
                [
                    system.layers[r.layer - 1].name, f"{r.generic:.2f}",
                    f"{r.least:.2f} to {r.most:.2f}", words.duration(r.opens_h),
                    words.duration(r.deadline_h),
                ]
                for r in needed
            ],
            title="Mean cure rate below which the next layer cannot be laid in time",
        )  # fmt: skip
    for layer in system.layers:
        if layer.note:
            line(f"note: {layer.name}: {layer.note}")
    for note in system.notes:
        line(f"note: {note}")


def _interval(system: System, n: int, words: Wording) -> list[str]:
    layer, profile = system.layers[n], system.profiles[n]
    opens = layer.next.opens or profile.milestones["recoat_opens"]
    deadlines = profile.deadlines
    told = [
        words.sourced(deadlines[key]) if key in deadlines else "none"
        for key in ("recoat_closes", "cover_by")
    ]
    entry = deadlines.get("cover_by") or deadlines.get("recoat_closes")
    least = profile.milestone_clock_min.get("recoat_opens")
    together = "" if least is None else f", {words.sourced(least)} by the clock"
    together += ", the same shift" if layer.next.same_shift else ""
    source = "" if entry is None else entry.source
    return [layer.name, words.sourced(opens) + together, *told, source]


@app.named("check")
@takes_raw_weather
def check(
    name: Annotated[
        str,
        typer.Argument(
            metavar="FILE", autocompletion=complete.systems,
            help="Your system file (TOML), or a shipped name.",
        ),
    ],
    site: Annotated[
        Path | None,
        typer.Option("--site", metavar="SITE", help="Check it in the weather of a site as well."),
    ] = None,
    roof: Annotated[
        str | None,
        typer.Option(
            "--over", metavar="ROOF", help="What the roof is: metal, built_up, silicone, ..."
        ),
    ] = None,
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Check a system: what bonds to what, films, what must not stay bare, and a site's season.

    Exit status 1 if a rule refuses it.

    Example: dewgap system check spf_acrylic --site demo_sites/high_desert
    """
    from cure_models.system import load_system
    from windows.cli.printing import line, print_json, table
    from windows.errors import DewgapError
    from windows.job_file import roof_kind
    from windows.reports.system_json import finding_dict, month_dict
    from windows.site import load_site
    from windows.system_check import check_in_weather, check_system, month_rates

    if site is None and weather != WeatherChoice():
        raise DewgapError("weather is looked at with --site SITE only; add it, or leave it out")
    system = load_system(name)
    found = list(check_system(system, None if roof is None else roof_kind(roof, "--over")))
    months: tuple[MonthRate, ...] = ()
    if site is not None:
        place = load_site(site)
        in_weather = load_layers(
            place, site, system, replace(weather, uncorrected=True), limits="generic",
            dry_at_start=False,
        )  # fmt: skip
        found += check_in_weather(in_weather)
        months = month_rates(in_weather)
    refused = any(each.refuses for each in found)
    if as_json:
        print_json(
            {
                "system": system.name,
                "sound": not refused,
                "findings": [finding_dict(each) for each in found],
                "months": [month_dict(each) for each in months],
            }
        )
        raise typer.Exit(ExitStatus.ERROR if refused else ExitStatus.DONE)
    if months:
        table(
            ["layer", "month", "hours known", "mean rate", "needed"],
            [
                [
                    system.layers[m.layer - 1].name, m.month, str(m.hours), f"{m.rate:.2f}",
                    f"{m.needed:.2f}",
                ]
                for m in months
            ],
            title="Mean cure rate in this weather, day and night",
        )  # fmt: skip
    for each in found:
        where = "" if each.layer is None else f"layer {each.layer}: "
        line(f"{'REFUSED' if each.refuses else 'warning'}: {where}{each.reason} [{each.source}]")
    if not refused:
        line(f"{system.where}: sound; {system.name}, {len(system.layers)} layers")
    raise typer.Exit(ExitStatus.ERROR if refused else ExitStatus.DONE)

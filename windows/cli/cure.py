"""``dewgap cure``: how long a coating takes in weather that does not change."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli import complete
from windows.cli.options import Json, LimitsOption, UnitOption
from windows.cli.values import quantity
from windows.errors import DewgapError

if TYPE_CHECKING:
    from cure_models.coating import Coating

__all__ = ["cure"]


def cure(
    name: Annotated[
        str,
        typer.Argument(
            metavar="NAME", autocompletion=complete.coatings,
            help="Coating, or your own .toml file.",
        ),
    ],
    temp: Annotated[
        str | None, typer.Option("--temp", metavar="TEMP", help='Air, as "50 degF" or "10 degC".')
    ] = None,
    humidity: Annotated[
        str | None, typer.Option("--rh", metavar="RH", help='Relative humidity, as "80 %".')
    ] = None,
    wind: Annotated[
        str | None, typer.Option("--wind", metavar="SPEED", help='Over the roof, as "3 mph".')
    ] = None,
    surface: Annotated[
        str | None,
        typer.Option("--surface", metavar="TEMP", help="Dry film; default: as warm as the air."),
    ] = None,
    thickness: Annotated[
        str | None,
        typer.Option("--thickness", metavar="FILM", help='Dry film, as "24 mil" or "600 um".'),
    ] = None,
    chart: Annotated[
        Path | None,
        typer.Option(
            "--chart", metavar="FILE",
            help="Write a page: time to rain-safe over temperature and humidity.",
        ),
    ] = None,
    limits: LimitsOption = "generic",
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Show when a coating is dry, rain-safe and cured at one steady condition.

    What is not given is that of the data sheet, where the clock runs hour for hour.

    Example: dewgap cure acrylic --temp "50 degF" --rh "80 %" --chart cure.html
    """
    from cure_models import load_profile, resolve
    from cure_models.steady_weather import hours_of_cure, rates_at
    from windows.cli.printing import heading, line, print_json, table
    from windows.reports.wording import Wording
    from windows.safety import GOVERNS

    film = None if thickness is None else quantity("--thickness", thickness, "film")
    coating = resolve(load_profile(name), limits=limits, dry_film_um=film)
    at = _condition(coating, temp, humidity, wind, surface)
    rates = rates_at(coating, at["air"], at["humidity"], at["wind"], at["surface"])
    hours = {n: float(hours_of_cure(coating, rates, n)) for n in coating.milestones}
    words = Wording(units)
    if chart is not None:
        from windows.reports.cure_page import cure_page
        from windows.reports.output import write_whole

        write_whole(chart, cure_page(coating, at["wind"], words))
    if as_json:
        print_json(_as_dict(coating, at, float(rates.first), float(rates.late), hours))
        return
    kind = "generic values" if coating.profile.generic else "your data sheet over generic values"
    heading(f"{coating.profile.title} ({coating.name}, {kind}, {limits} end of ranges)")
    line(
        f"air {words.value(at['air'], 'temperature')}, {at['humidity']:.0%} RH, "
        f"wind over the roof {words.value(at['wind'], 'speed')}, "
        f"dry film at {words.value(at['surface'], 'temperature')}, "
        f"{words.value(coating.dry_film_um, 'film')} thick"
    )
    stage = f", the first {coating.first_stage_h:.1f} h" if coating.first_stage_h else ""
    line(f"cures by {coating.rate.law}: {rates.first:.2f} h of cure an hour{stage}")
    if coating.first_stage_h:
        line(f"  {rates.late:.2f} h of cure an hour after that")
    line()
    rows = [
        [words.milestone(n), f"{coating.milestones[n]:g} h", words.duration(h)]
        for n, h in hours.items()
    ]
    table(["milestone", "at the reference", "at this condition"], rows)
    if not all(h < float("inf") for h in hours.values()):
        line(f"never: {_why(coating)}\n")
    line(GOVERNS)
    if chart is not None:
        line(f"Page: {chart.resolve()}")


def _condition(
    coating: Coating, temp: str | None, humidity: str | None, wind: str | None, surface: str | None
) -> dict[str, float]:
    """Return the condition in SI, the reference where nothing is given."""
    ref = coating.reference
    air = ref.temp_c if temp is None else quantity("--temp", temp, "temperature")
    at = {
        "air": air,
        "humidity": (
            ref.rel_humidity if humidity is None else quantity("--rh", humidity, "fraction")
        ),
        "wind": ref.roof_wind_m_s if wind is None else quantity("--wind", wind, "speed"),
        "surface": air if surface is None else quantity("--surface", surface, "temperature"),
    }
    for option, key, low, high in (
        ("--temp", "air", -40, 60), ("--surface", "surface", -40, 95),
        ("--wind", "wind", 0, 40), ("--rh", "humidity", 0.01, 1),
    ):  # fmt: skip
        if not low <= at[key] <= high:
            unit = {"--wind": "m/s", "--rh": "as a share"}.get(option, "degC")
            raise DewgapError(f"{option} is outside {low} to {high} {unit}; give another")
    return at


def _why(coating: Coating) -> str:
    """Return what stops the cure of this law."""
    law = coating.rate
    stops = f"no cure is counted with the film below {law.temp_min_c:.0f} degC"
    if law.law in ("evaporation", "coagulation"):
        stops += f", at {law.humidity_stop:.0%} RH or more, or where dew forms on it"
    return stops


def _as_dict(
    coating: Coating, at: dict[str, float], first: float, late: float, hours: dict[str, float]
) -> dict[str, Any]:
    endless = float("inf")
    return {
        "coating": coating.name,
        "limits": coating.limits,
        "mechanism": coating.rate.law,
        "air_temp_c": at["air"],
        "rel_humidity": at["humidity"],
        "roof_wind_m_s": at["wind"],
        "dry_film_temp_c": at["surface"],
        "dry_film_um": coating.dry_film_um,
        "first_stage_h": coating.first_stage_h,
        "cure_rate": first,
        "cure_rate_late": late,
        "milestones": [
            {
                "name": name,
                "reference_h": coating.milestones[name],
                "hours": None if h == endless else h,
                "reached": h < endless,
            }
            for name, h in hours.items()
        ],
    }

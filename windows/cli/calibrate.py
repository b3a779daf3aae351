"""``dewgap calibrate``: fit the surface model to readings on the roof."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli.choices import takes_raw_weather
from windows.cli.inputs import load_hours
from windows.cli.options import Json, SiteArgument, UnitOption
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from windows.calibration import Calibration, Fitted

__all__ = ["calibrate"]


@takes_raw_weather
def calibrate(
    site: SiteArgument,
    readings: Annotated[
        Path,
        typer.Option(
            "--readings", metavar="FILE", help="CSV: time, surface_temp_f (or surface_temp_c)."
        ),
    ],
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Fit the surface model to readings taken on the roof, and show what they change.

    The site file is not touched: the lines to put into it are printed.

    Example: dewgap calibrate demo_sites/cool_north
    --readings demo_sites/cool_north/readings.csv
    """
    from windows.calibration import calibrate as fit
    from windows.cli.printing import heading, line, print_json, table
    from windows.reports.wording import Wording
    from windows.site import load_site
    from windows.sources.readings import read_readings

    place = load_site(site)
    found = fit(place, load_hours(place, site, weather), read_readings(readings))
    if as_json:
        print_json(_dict(found))
        return
    words = Wording(units, place.zone)

    def kelvins(value: float) -> str:
        return words.value(value, "difference")

    heading(f"{place.name}: {found.used} readings")
    line(f"{found.by_day} in the sun, {found.by_night} with the sun down")
    for reason, count in found.left_out.items():
        line(f"  note: {count} left out, {reason}")
    line()
    table(
        ["model less reading", "mean", "root mean square"],
        [
            ["as the site is", kelvins(found.before.bias), kelvins(found.before.rms)],
            ["with the new values", kelvins(found.after.bias), kelvins(found.after.rms)],
            ["each reading foretold from the others", "", kelvins(found.foretold)],
        ],
    )
    table(
        ["value", "now", "fitted", "standard error"],
        [
            [f.name, *(_shown(f.name, v, words) for v in (f.before, f.after, f.error))]
            for f in found.fitted
        ],
    )
    if not found.explained:
        line("DO NOT USE these values: the readings stay unexplained. Mend absorptance, deck, wind")
        line("share or weather of the site first, or check the instrument.")
        return
    if not found.helps:
        line("LEAVE the site file as it is: foretold from the others, a reading comes no nearer.")
        line("Take more readings, by day and by night, on dry days.")
        return
    line("For the site file:")
    for text in _toml(found.fitted):
        line(f"  {text}")
    line()
    line("They hold for weather like that of these readings: take some by day and by night, dry.")
    line("Use a reading once: on a site that it has already moved it would count twice.")


def _shown(name: str, value: float, words: Any) -> str:
    return words.value(value, "difference") if name == "surface_offset" else f"{value:.2f}"


def _toml(fitted: tuple[Fitted, ...]) -> list[str]:
    """Return the lines of the site file, table by table."""
    values = {f.name: f.after for f in fitted}
    lines = ["[roof]", f'surface_offset = "{values["surface_offset"]:z.2f} K"']
    if "sky_view" in values:
        lines.append(f"sky_view = {values['sky_view']:.3f}")
    if "absorptance" in values:
        lines += ["[surface]", f"absorptance = {values['absorptance']:.3f}"]
    return lines


def _dict(found: Calibration) -> dict[str, Any]:
    return {
        "site": found.site.name,
        "readings_used": found.used,
        "by_day": found.by_day,
        "by_night": found.by_night,
        "left_out": found.left_out,
        "before": {"bias_c": found.before.bias, "rms_c": found.before.rms},
        "after": {"bias_c": found.after.bias, "rms_c": found.after.rms},
        "foretold_rms_c": found.foretold,
        "explained": found.explained,
        "helps": found.helps,
        "fitted": [
            {"name": f.name, "before": f.before, "after": f.after, "standard_error": f.error}
            for f in found.fitted
        ],
    }

"""``dewgap dry``: when the roof is dry enough to coat after rain, dew or frost."""

from __future__ import annotations

from math import isnan
from typing import TYPE_CHECKING, Any

from windows.cli.choices import takes_weather
from windows.cli.inputs import load_taught
from windows.cli.options import DryAtStart, From, Json, SiteArgument, To, UnitOption
from windows.cli.values import days
from windows.weather_choice import WeatherChoice

if TYPE_CHECKING:
    from windows.wet_spells import WetSpell

__all__ = ["dry"]


@takes_weather
def dry(
    site: SiteArgument,
    first_day: From = None,
    last_day: To = None,
    dry_at_start: DryAtStart = False,
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Show when the roof as it is now gets wet, of what, and when it has dried again.

    Example: dewgap dry demo_sites/gulf_coast
    """
    from windows.cli.printing import heading, line, print_json, table
    from windows.cli.show import show_weather
    from windows.conditions import roof_in_table
    from windows.notes import weather_notes
    from windows.reports.wording import Wording
    from windows.safety import GOVERNS
    from windows.site import load_site
    from windows.wet_spells import wet_spells

    place = load_site(site)
    place, hours = load_taught(place, site, weather)
    span = days(hours, place, first_day, last_day)
    first, end = hours.index[span][0], hours.index[span][-1]
    roof = roof_in_table(hours, place, start_wet_mm=0.0 if dry_at_start else None)
    spells = [
        spell for spell in wet_spells(roof, hours.index)
        if spell.start <= end and (spell.dry is None or spell.dry > first)
    ]  # fmt: skip
    share = place.roof.ponded_share
    if as_json:
        print_json(
            {"site": place.name, "ponded_share": share, "wet_spells": [_dict(s) for s in spells]}
        )
        return
    words = Wording(units, place.zone)
    heading(f"{place.name}: {place.surface.name}")
    line(f"Times: {words.offset(first)}; {words.clock(first)} to {words.clock(end)}")
    show_weather(hours)
    for warning in (*place.warnings, *weather_notes(hours)):
        line(f"  note: {warning}")
    line()
    if not spells:
        line("The roof is dry in all these hours.")
    else:
        ponds = [f"ponds dry ({share:.0%})"] if share else []
        table(
            ["wet from", "of", "most water", "dry", *ponds],
            [
                [
                    words.clock(s.start), ", ".join(s.causes),
                    "" if isnan(s.most_mm) else words.value(s.most_mm, "water", finer=1),
                    words.clock(s.dry), *([words.clock(s.ponds_dry)] if share else []),
                ]
                for s in spells
            ],
        )  # fmt: skip
    line("Dry: the water film is gone. Seams, laps and shade stay wet longer; look, and touch.")
    line(GOVERNS)


def _dict(spell: WetSpell) -> dict[str, Any]:
    from windows.reports.as_json import utc_text

    return {
        "start": utc_text(spell.start),
        "causes": list(spell.causes),
        "most_mm": None if isnan(spell.most_mm) else round(spell.most_mm, 5),
        "dry": utc_text(spell.dry),
        "ponds_dry": utc_text(spell.ponds_dry),
    }

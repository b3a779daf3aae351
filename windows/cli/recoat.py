"""``dewgap recoat``: when the next layer may follow one that was laid, and until when."""

from __future__ import annotations

from typing import Annotated

import typer

from windows.cli import complete
from windows.cli.choices import takes_weather
from windows.cli.inputs import load_layers
from windows.cli.options import DryAtStart, Json, LimitsOption, NowOption, SiteArgument, UnitOption
from windows.cli.values import moment, present
from windows.weather_choice import WeatherChoice

__all__ = ["recoat"]


@takes_weather
def recoat(
    site: SiteArgument,
    system: Annotated[
        str,
        typer.Option(
            "--system", metavar="NAME", autocompletion=complete.systems,
            help="System, or your own .toml file.",
        ),
    ],
    layer: Annotated[
        str,
        typer.Option(
            "--layer", metavar="LAYER", autocompletion=complete.layers,
            help="The layer that was laid: number, name.",
        ),
    ],
    placed: Annotated[
        tuple[str, str],
        typer.Option(
            "--placed", metavar="START END", help="When, by the site's clock: 2026-05-12T08:30."
        ),
    ],
    prepared: Annotated[
        str | None,
        typer.Option("--prepared", metavar="TIME", help="When a late layer was prepared again."),
    ] = None,
    now: NowOption = None,
    dry_at_start: DryAtStart = False,
    limits: LimitsOption = "generic",
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Tell when recoat opens and closes, by when to cover, and which windows are left.

    Exit status 3 if no window is left, 4 if that cannot be told.

    Example: dewgap recoat demo_sites/gulf_coast --system acrylic_two_coat --layer base
    --placed 2026-06-08T10:00 2026-06-08T13:30 --now 2026-06-08T18:00
    """
    from windows.cli.printing import print_json
    from windows.cli.show import show_site
    from windows.cli.show_cover import show_cover, show_cover_closing, worst_exit
    from windows.job_file import load_job, with_extra_days
    from windows.pieces import one_record
    from windows.recoat import check_cover
    from windows.reports.cover_json import cover_dict
    from windows.reports.wording import Wording
    from windows.site import load_site
    from windows.system_check import system_for

    place = load_site(site)
    file = load_job(site, laid=False)
    chosen = system_for(file, system)
    asked = present(now, place)
    start, end = (moment("--placed", each, place) for each in placed)
    again = None if prepared is None else moment("--prepared", prepared, place)
    record = one_record(chosen.number(layer), start, end, again, asked, place)
    crew_site = with_extra_days(place, file)
    in_weather = load_layers(
        crew_site, site, chosen, weather, limits=limits, dry_at_start=dry_at_start,
        now=asked,
    )
    cover = check_cover(in_weather, record, asked)
    if as_json:
        print_json(cover_dict(cover, in_weather))
    else:
        show_site(in_weather.jobs[0], units)
        show_cover(cover, in_weather, Wording(units, place.zone))
        show_cover_closing([cover])
    raise typer.Exit(worst_exit([cover]))

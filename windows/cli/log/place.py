"""``dewgap log place``: a layer was laid."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from windows.cli.choices import takes_raw_weather
from windows.cli.log.entry import (
    EntryChoice,
    Layer,
    Section,
    check_bounds,
    desk_of,
    measure,
    takes_placement,
    when,
    write,
)
from windows.cli.options import SiteArgument
from windows.errors import LogError
from windows.weather_choice import WeatherChoice

__all__ = ["place"]


@takes_placement
@takes_raw_weather
def place(
    site: SiteArgument,
    section: Section,
    layer: Layer,
    hours: Annotated[
        tuple[str, str],
        typer.Option(
            "--hours", metavar="START END", help="When, by the site's clock: 2026-05-12T08:30."
        ),
    ],
    area: Annotated[
        str | None,
        typer.Option("--area", metavar="AREA", help='Part of the section, as "4000 ft2".'),
    ] = None,
    volume: Annotated[
        str | None, typer.Option("--volume", metavar="VOLUME", help='Material used, as "60 gal".')
    ] = None,
    wet: Annotated[
        list[str] | None,
        typer.Option(
            "--wet", metavar="FILM",
            help='A wet film reading, as "24 mil" or "24 mil @ north edge"; may be repeated.',
        ),
    ] = None,
    batch: Annotated[
        list[str] | None,
        typer.Option("--batch", metavar="NUMBER", help="Batch number; may be repeated."),
    ] = None,
    crew: Annotated[str, typer.Option("--crew", metavar="NAME", help="Who laid it.")] = "",
    method: Annotated[
        str | None,
        typer.Option("--method", metavar="NAME", help="As roller. Default: the site's."),
    ] = None,
    direction: Annotated[
        str,
        typer.Option("--direction", metavar="TEXT", help="Of the passes, as north-south."),
    ] = "",
    *,
    entry: EntryChoice,
    weather: WeatherChoice,
) -> None:
    """Record a layer that was laid, and flag what speaks against it.

    Nothing is refused for being outside its limits: it is recorded, and flagged.

    Example: dewgap log place demo_sites/cool_north --section B --layer base --by Ann
    --hours 2026-09-22T14:30 2026-09-22T16:30 --area "2,500 ft2" --volume "90 gal"
    --wet "45 mil" --wet "50 mil @ by the drain" --batch B-2073 --now 2026-09-22T17:00
    """
    from windows.log.entries import Placement

    desk = desk_of(site, entry, weather)
    start, end = (when("--hours", each, desk) for each in hours)
    if end <= start:
        raise LogError(f"--hours: {hours[1]} is not after {hours[0]}; mend the times")
    name, part = desk.layer(layer), desk.section(section)
    write(
        desk, entry, Placement,
        at=start, end=end, section=part.name, layer=name.name, coating=name.coating,
        area_m2=part.area if area is None else measure("--area", area, "area"),
        volume_l=measure("--volume", volume, "volume"),
        wet_film=[_film(each) for each in wet or ()], batches=batch or [], crew=crew,
        method=method or desk.site.method, direction=direction,
    )  # fmt: skip


def _film(text: str) -> dict[str, Any]:
    """Return a reading of wet film and where it was taken."""
    from windows.log.entries import WetFilm

    film, _, where = text.partition("@")
    read = {"film_um": measure("--wet", film.strip(), "film")}
    check_bounds(WetFilm, read)
    return read | {"where": where.strip()}

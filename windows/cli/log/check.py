"""``dewgap log check``: moisture, adhesion and dry film were measured."""

from __future__ import annotations

from typing import Annotated

import typer

from windows.cli.app import App
from windows.cli.log.entry import (
    FIRST,
    EntryChoice,
    Instruments,
    Layer,
    Section,
    Where,
    desk_of,
    measure,
    takes_entry,
    write,
)
from windows.cli.options import SiteArgument
from windows.errors import LogError

__all__ = ["app"]

app = App(
    "Record a measurement: moisture, adhesion, or dry film.\n\n"
    "Example: dewgap log check dry-film demo_sites/cool_north --section A --layer base "
    '--film "24 mil" --method slit --by Ann --now 2026-09-22T17:00'
)

Method = Annotated[
    str, typer.Option("--method", metavar="TEXT", help="How it was measured, or by which standard.")
]


@app.named("moisture", first=FIRST)
@takes_entry
def moisture(
    site: SiteArgument,
    value: Annotated[
        str, typer.Option("--value", metavar="SHARE", help='What was read, as "12 %".')
    ],
    limit: Annotated[
        str, typer.Option("--limit", metavar="SHARE", help='The most that is allowed, as "15 %".')
    ],
    method: Method,
    section: Section,
    where: Where = "",
    instrument: Instruments = None,
    *,
    entry: EntryChoice,
) -> None:
    """Record moisture of the roof below, against the limit for it.

    Example: dewgap log check moisture demo_sites/cool_north --section C --value "12 %"
    --limit "15 %" --method "meter on a core" --by Ann --now 2026-09-22T17:00
    """
    from windows.log.entries import Moisture

    desk = desk_of(site, entry)
    write(
        desk, entry, Moisture,
        section=desk.section(section).name, where=where, method=method,
        moisture=measure("--value", value, "fraction"),
        limit=measure("--limit", limit, "fraction"), instruments=instrument or [],
    )  # fmt: skip


@app.named("adhesion", first=FIRST)
@takes_entry
def adhesion(
    site: SiteArgument,
    section: Section,
    layer: Layer,
    method: Method,
    passes: Annotated[
        bool, typer.Option("--passes/--fails", help="Whether it is good enough for the job.")
    ],
    pull_off: Annotated[
        str | None, typer.Option("--pull-off", metavar="STRENGTH", help='As "180 psi".')
    ] = None,
    peel: Annotated[
        str | None, typer.Option("--peel", metavar="FORCE", help='By width, as "2.5 lbf/in".')
    ] = None,
    failure: Annotated[
        str, typer.Option("--failure", metavar="TEXT", help="How it failed, as cohesive.")
    ] = "",
    where: Where = "",
    instrument: Instruments = None,
    *,
    entry: EntryChoice,
) -> None:
    """Record a test of adhesion, and whether it passes.

    Example: dewgap log check adhesion demo_sites/cool_north --section A --layer primer
    --peel "3 lbf/in" --passes --method "peel of a strip" --by Ann --now 2026-09-22T17:00
    """
    from windows.log.entries import Adhesion

    if pull_off is None and peel is None:
        raise LogError("no strength is given; give --pull-off, or --peel")
    desk = desk_of(site, entry)
    write(
        desk, entry, Adhesion,
        section=desk.section(section).name, layer=desk.layer(layer).name, where=where,
        pull_off_kpa=measure("--pull-off", pull_off, "stress"),
        peel_n_m=measure("--peel", peel, "peel"), failure=failure, method=method, passes=passes,
        instruments=instrument or [],
    )  # fmt: skip


@app.named("dry-film", first=FIRST)
@takes_entry
def dry_film(
    site: SiteArgument,
    section: Section,
    layer: Layer,
    film: Annotated[
        str, typer.Option("--film", metavar="FILM", help='Thickness at one place, as "24 mil".')
    ],
    method: Method,
    where: Where = "",
    instrument: Instruments = None,
    *,
    entry: EntryChoice,
) -> None:
    """Record one measurement of dry film; several are several entries, never a mean.

    Example: dewgap log check dry-film demo_sites/cool_north --section A --layer base
    --film "24 mil" --method slit --where "4 ft from the drain" --by Ann --now 2026-09-22T17:00
    """
    from windows.log.entries import DryFilm

    desk = desk_of(site, entry)
    write(
        desk, entry, DryFilm,
        section=desk.section(section).name, layer=desk.layer(layer).name, where=where,
        film_um=measure("--film", film, "film"), method=method, instruments=instrument or [],
    )  # fmt: skip

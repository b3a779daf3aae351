"""``dewgap log note``, and what else is entered: rain, covers, preparation, instruments."""

from __future__ import annotations

from typing import Annotated

import typer

from windows.cli import complete
from windows.cli.choices import takes_raw_weather
from windows.cli.log.entry import (
    EntryChoice,
    Layer,
    Section,
    desk_of,
    measure,
    takes_entry,
    takes_withdrawal,
    when,
    write,
)
from windows.cli.options import SiteArgument
from windows.weather_choice import WeatherChoice

__all__ = ["cover", "instrument", "note", "prepare", "rain", "withdraw"]

SomeSection = Annotated[
    str | None,
    typer.Option(
        "--section", metavar="NAME", autocompletion=complete.sections,
        help="Section, where it is about one.",
    ),
]
Until = Annotated[
    str | None, typer.Option("--until", metavar="TIME", help="When it ended, by the site's clock.")
]


@takes_entry
def note(site: SiteArgument, section: SomeSection = None, *, entry: EntryChoice) -> None:
    """Record anything else in words or photos, with --note and --photo.

    Example: dewgap log note demo_sites/cool_north --note "owner walked the roof" --by Ann
    --now 2026-09-22T17:00
    """
    from windows.log.entries import Note

    desk = desk_of(site, entry)
    write(desk, entry, Note, section="" if section is None else desk.section(section).name)


@takes_entry
@takes_raw_weather
def rain(
    site: SiteArgument,
    until: Until = None,
    amount: Annotated[
        str | None, typer.Option("--amount", metavar="DEPTH", help='By a gauge, as "0.2 in".')
    ] = None,
    section: SomeSection = None,
    *,
    entry: EntryChoice,
    weather: WeatherChoice,
) -> None:
    """Record rain that was seen, from --at until it stopped; flag what was not rain-safe yet.

    Example: dewgap log rain demo_sites/cool_north --at 2026-09-22T15:10 --until 2026-09-22T15:40
    --amount "0.1 in" --by Ann --now 2026-09-22T17:00
    """
    from windows.log.entries import Rain

    desk = desk_of(site, entry, weather)
    write(
        desk, entry, Rain,
        section="" if section is None else desk.section(section).name,
        end=None if until is None else when("--until", until, desk),
        rain_mm=measure("--amount", amount, "water"),
    )  # fmt: skip


@takes_entry
def cover(
    site: SiteArgument,
    section: Section,
    what: Annotated[
        str, typer.Option("--with", metavar="TEXT", help="What was laid over it.")
    ],
    layer: Annotated[
        str | None, typer.Option("--layer", metavar="LAYER", help="The layer below it.")
    ] = None,
    until: Until = None,
    *,
    entry: EntryChoice,
) -> None:
    """Record a cover laid over a fresh layer against rain or sun. It stops no deadline.

    Example: dewgap log cover demo_sites/cool_north --section A --layer base --by Ann
    --with "breathable sheet, clear of the film" --now 2026-09-22T17:00
    """
    from windows.log.entries import Covering

    desk = desk_of(site, entry)
    write(
        desk, entry, Covering,
        section=desk.section(section).name, what=what,
        layer="" if layer is None else desk.layer(layer).name,
        end=None if until is None else when("--until", until, desk),
    )  # fmt: skip


@takes_entry
def prepare(
    site: SiteArgument,
    section: Section,
    layer: Layer,
    what: Annotated[str, typer.Option("--how", metavar="TEXT", help="What was done to it.")],
    *,
    entry: EntryChoice,
) -> None:
    """Record that a layer past its deadline was prepared again: its deadlines count from then.

    Example: dewgap log prepare demo_sites/cool_north --section B --layer primer --by Ann
    --how "washed, and primed again" --now 2026-09-22T17:00
    """
    from windows.log.entries import Preparation

    desk = desk_of(site, entry)
    write(
        desk, entry, Preparation,
        section=desk.section(section).name, layer=desk.layer(layer).name, what=what,
    )  # fmt: skip


@takes_entry
def instrument(
    site: SiteArgument,
    serial: Annotated[str, typer.Option("--serial", metavar="TEXT", help="Its serial number.")],
    what: Annotated[
        str, typer.Option("--what", metavar="TEXT", help="What it is, as thermo-hygrometer.")
    ],
    maker: Annotated[str, typer.Option("--maker", metavar="TEXT", help="Who made it.")] = "",
    model: Annotated[str, typer.Option("--model", metavar="TEXT", help="Its model.")] = "",
    calibrated: Annotated[
        str | None, typer.Option("--calibrated", metavar="DATE", help="Last calibration.")
    ] = None,
    due: Annotated[
        str | None, typer.Option("--due", metavar="DATE", help="When the next one is due.")
    ] = None,
    *,
    entry: EntryChoice,
) -> None:
    """Record an instrument and its calibration; a later one of the same serial stands for it.

    Example: dewgap log instrument demo_sites/cool_north --serial WG-9 --what "notch gauge"
    --calibrated 2026-03-02 --due 2027-03-02 --by Ann --now 2026-09-22T17:00
    """
    from windows.log.entries import Instrument

    desk = desk_of(site, entry)
    write(
        desk, entry, Instrument,
        serial=serial, what=what, maker=maker, model=model, calibrated=calibrated, due=due,
    )  # fmt: skip


@takes_withdrawal
def withdraw(
    site: SiteArgument,
    number: Annotated[int, typer.Argument(metavar="N", help="Number of the entry.")],
    *,
    entry: EntryChoice,
) -> None:
    """Take an entry back, with --note to say why. It stays in the log, and stands no more.

    Example: dewgap log withdraw demo_sites/cool_north 23 --note "wrong roof" --by Ann
    --now 2026-09-22T17:00
    """
    from dataclasses import replace

    from windows.log.entries import Withdrawal

    desk = desk_of(site, entry)
    write(desk, replace(entry, corrects=number, withdraws=True), Withdrawal)

"""A measurement against its limit: moisture, adhesion, dry film; and what was not laid by then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.field.choose import layer_number
from windows.field.instrument_check import instrument_flags
from windows.field.rules import ROUNDING
from windows.field.told import both, pair
from windows.log.entries import Adhesion, DryFilm, Moisture, Placement, Preparation

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    from cure_models.system import System
    from windows.log.entries import Body, Entry, Instrument

__all__ = ["check_measured", "unlaid_flags"]


def check_measured(
    body: Body, *, system: System | None, instruments: Mapping[str, Instrument], on: date
) -> tuple[str, ...]:
    """Return what is to be said of a moisture reading, a test of adhesion or a dry film.

    Parameters
    ----------
    body
        As it is to be written down; of other kinds nothing is said.
    system
        For the dry film of its layers, None if it is not known.
    instruments
        By serial number, from `instruments_at`.
    on
        Local day on which it was read.
    """
    if isinstance(body, Moisture):
        told = _moisture_flags(body)
    elif isinstance(body, Adhesion):
        told = _adhesion_flags(body)
    elif isinstance(body, DryFilm):
        told = _dry_film_flags(body, system)
    else:
        return ()
    return (*told, *instrument_flags(body.instruments, instruments, on))


def unlaid_flags(body: Body, *, system: System, before: Iterable[Entry]) -> tuple[str, ...]:
    """Say if what was tested, prepared or covered is not recorded as laid there by then.

    Parameters
    ----------
    body
        With a section and a layer; of one that lacks either nothing is said.
    system
        Its layers.
    before
        What stands.
    """
    section, layer = (getattr(body, name, "") for name in ("section", "layer"))
    if not section or not layer:
        return ()
    number = layer_number(system, layer)
    laid = any(
        isinstance(each.body, Placement)
        and each.body.section == section
        and layer_number(system, each.body.layer) == number
        and (each.body.end if isinstance(body, Preparation) else each.body.at) <= body.at
        for each in before
    )
    if laid:
        return ()
    return (f"Layer '{layer}' is not recorded as laid on section '{section}' by then.",)


def _moisture_flags(body: Moisture) -> list[str]:
    if body.moisture <= body.limit + ROUNDING:
        return []
    read, limit = pair(body.moisture, body.limit, "fraction")
    return [f"Moisture {read} is above its limit of {limit} ({body.method})."]


def _adhesion_flags(body: Adhesion) -> list[str]:
    if body.passes:
        return []
    read = [
        f"{way} at {both(value, dimension)}"
        for way, value, dimension in (
            ("pulled off", body.pull_off_kpa, "stress"), ("peeled", body.peel_n_m, "peel"),
        )
        if value is not None
    ]  # fmt: skip
    found = ", ".join([*read, *([f"failure: {body.failure}"] if body.failure else [])])
    return [f"Adhesion does not pass{': ' * bool(found)}{found}."]


def _dry_film_flags(body: DryFilm, system: System | None) -> list[str]:
    unknown = "so its dry film could not be checked."
    if system is None:
        return [f"The system is not known, {unknown}"]
    if not body.layer:
        return [f"No layer is named, {unknown}"]
    number = layer_number(system, body.layer)
    if number is None:
        return [f"Layer '{body.layer}' is not one of system '{system.name}', {unknown}"]
    layer = system.layers[number]
    least = layer.dry_film.si
    if body.film_um >= least * (1 - ROUNDING):
        return []
    read, asks = pair(body.film_um, least, "film")
    return [f"Dry film {read} is below the {asks} of layer '{layer.name}'."]

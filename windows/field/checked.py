"""An entry against all that is known: the log, the job file, the weather and the model."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pandas as pd

from cure_models.toml_input import validated
from windows.errors import DewgapError, LogError
from windows.field.beside import beside, model_key, top_of
from windows.field.instrument_check import instruments_at
from windows.field.measured_check import check_measured, unlaid_flags
from windows.field.placement_check import check_placement
from windows.field.rain_check import RAIN_SPAN, rain_flags
from windows.field.reading_check import check_reading
from windows.field.rules import field_rules
from windows.fields import local_moment
from windows.log.chain import FIRST, linked
from windows.log.entries import Draft, Instrument, Placement, Preparation, Rain, Reading
from windows.log.store import open_log
from windows.pieces import is_same_work

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from cure_models.coating import Coating
    from cure_models.system import System
    from windows.field.desk import Desk
    from windows.job_file import Placed
    from windows.log.entries import Beside, Body, Entry

__all__ = ["flagged", "known_to", "laid_by_file", "layers_laid", "with_beside"]


def known_to(log: Path, body: Body) -> list[Entry]:
    """Return what stands in a log and has a part in the checks of what is to be entered."""
    if not os.path.exists(log):
        return []
    ask = pd.Timedelta(hours=field_rules().beside_h)
    with open_log(log, read_only=True) as opened:
        found = list(
            opened.entries(Placement.kind, Preparation.kind, Instrument.kind, standing=True)
        )
        if isinstance(body, Placement):
            found += opened.entries(
                Reading.kind, start=body.at - ask, end=body.end, standing=True
            )
            found += opened.entries(
                Rain.kind, start=body.at, end=body.end + RAIN_SPAN, standing=True
            )
    return found


def laid_by_file(at: Desk, logged: Iterable[Body]) -> list[Entry]:
    """Return what only the job file has laid, as entries that the log does not have (number 0).

    ``logged`` is what the log has, what is being entered or corrected with it: the same work in
    both, to the minute, is one.

    Raises
    ------
    LogError
        If one of the job file's cannot be.
    """
    had = [
        (body.section, body.layer, (body.at, body.end))
        for body in logged
        if isinstance(body, Placement)
    ]
    # What the log had and has no more is its own matter as well.
    had += [(told.section, told.layer, (told.start, told.end)) for told in at.job.logged]
    found = []
    for placed in at.job.placed:
        body = _placed(at, placed)
        number, hours = at.system.number(body.layer), (body.at, body.end)
        if not any(
            section == body.section and is_same_work(at.system, number, hours, layer, told_hours)
            for section, layer, told_hours in had
        ):
            found.append(linked(Draft("job file", body), 0, body.end, FIRST))
    return found


def _placed(at: Desk, placed: Placed) -> Placement:
    """Return a placement of the job file as an entry would have it.

    Raises
    ------
    LogError
        If no entry could.
    """
    told = f"{at.job.where}: [[placed]] of section '{placed.section}', layer '{placed.layer}'"
    try:
        start, end = (local_moment(t, at.site.zone) for t in (placed.start, placed.end))
        layer = at.layer(placed.layer).name
    except (ValueError, DewgapError) as fault:
        raise LogError(f"{told}: {fault}") from None
    area = placed.area or at.section(placed.section).area
    fields = {
        "at": start.to_pydatetime(), "end": end.to_pydatetime(), "section": placed.section,
        "layer": layer, "area_m2": area,
    }  # fmt: skip
    return validated(Placement, fields, told, LogError)


def with_beside(at: Desk, readings: Sequence[Reading], before: Sequence[Entry]) -> list[Reading]:
    """Return readings with what the source and the model say of their hours, where they do.

    The surface is that of the layer which lay there, by the placements in ``before``.
    """
    if at.weather is None:
        return list(readings)
    laid = [layers_laid(at.system, reading, before) for reading in readings]
    told: list[Beside | None] = [None] * len(readings)
    for layers in set(laid):
        some = [n for n, each in enumerate(laid) if each == layers]
        top = top_of(at.site, at.system, layers)
        found = beside(
            [readings[n].at for n in some], at.weather, top, model=model_key(at.site)
        )
        for n, each in zip(some, found, strict=True):
            told[n] = each
    return [
        reading.model_copy(update={"beside": each})
        for reading, each in zip(readings, told, strict=True)
    ]


def layers_laid(system: System, reading: Reading, before: Sequence[Entry]) -> int:
    """Return how many layers lay where and when a reading was taken; none on no known section."""
    laid = [
        system.number(entry.body.layer) + 1
        for entry in before
        if isinstance(entry.body, Placement)
        and entry.body.section == reading.section
        and entry.body.end <= reading.at
    ]
    return max(laid, default=0)


def flagged(at: Desk, body: Body, before: Sequence[Entry]) -> Body:
    """Return what is to be entered with what the checks tell of it."""
    instruments = instruments_at(before, body.at)
    on = pd.Timestamp(body.at).tz_convert(at.site.zone).date()
    areas = {section.name: section.area for section in at.job.section}
    if isinstance(body, Reading):
        flags = check_reading(body, gates=_next(at, body, before), instruments=instruments, on=on)
    elif isinstance(body, Placement):
        flags = check_placement(
            body, site=at.site, system=at.system, layer=at.system.number(body.layer),
            material=at.job.material, section_m2=areas.get(body.section), before=before,
            in_weather=at.in_weather, instruments=instruments, now=at.now.to_pydatetime(),
        )  # fmt: skip
    elif isinstance(body, Rain):
        flags = rain_flags(
            body, site=at.site, system=at.system, areas=areas, before=before,
            in_weather=at.in_weather,
        )  # fmt: skip
    else:
        flags = check_measured(body, system=at.system, instruments=instruments, on=on)
        flags += unlaid_flags(body, system=at.system, before=before)
    return body.model_copy(update={"flags": tuple(dict.fromkeys(flags))})


def _next(at: Desk, reading: Reading, before: Sequence[Entry]) -> Coating | None:
    """Return the coating that comes next where a reading was taken, with its limits."""
    number = layers_laid(at.system, reading, before)
    return at.coatings[number] if number < len(at.coatings) else None

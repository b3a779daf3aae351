"""A laid layer against the one below it: whether that was there, open, in time, and laid across."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pandas as pd

from cure_models.coating import resolve
from cure_models.limits import DEADLINES
from windows.crew import NO_SHIFT, shifts
from windows.errors import DewgapError, HoursError
from windows.field.choose import layer_number
from windows.field.parts import parts
from windows.field.told import both, moment
from windows.log.entries import Placement, Preparation
from windows.log.laid import last_prepared
from windows.pieces import WHOLE, LaidRecord
from windows.recoat import check_cover

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from cure_models.coating import Coating
    from cure_models.system import System
    from windows.cover import Cover
    from windows.layers import SystemHours
    from windows.log.entries import Body
    from windows.site import Site

__all__ = ["direction_flags", "laid_before", "order_flags"]

_COMPASS = {"north": "n", "south": "s", "east": "e", "west": "w"}


def laid_before(
    placement: Placement, before: Iterable[Body], system: System, layer: int
) -> list[Placement]:
    """Return the placements of a layer, from 0, on the section of another, in their order."""
    return sorted(
        (
            body for body in before
            if isinstance(body, Placement) and body.section == placement.section
            and layer_number(system, body.layer) == layer
        ),
        key=lambda body: (body.at, body.end),
    )  # fmt: skip


def order_flags(
    placement: Placement,
    *,
    site: Site,
    system: System,
    layer: int,
    section_m2: float | None,
    before: Sequence[Body],
    in_weather: SystemHours | None,
) -> tuple[str, ...]:
    """Say whether the layer below was there, open and not too late.

    Parameters
    ----------
    placement, site, system
        What was laid, where, and of which system.
    layer
        Its number, from 0: the first has none below it here.
    section_m2
        Area of the section, None if it is not known. [m2]
    before
        Bodies of entries: placements on this section, and those prepared again.
    in_weather
        Where it holds the layer below, that one's clocks are worked out; else only the hours that
        go by the clock are looked at, and the rest is told as not known.

    Notes
    -----
    Where the layer below was laid in parts, this placement lies on those on which the job's own
    planning puts it, as it does in the record. Where that cannot divide the section, those parts
    count that nothing covers yet; where those in order have room for it, it is taken to lie on
    them.
    """
    if layer == 0:
        return ()
    name, where = system.layers[layer - 1].name, placement.section
    below = laid_before(placement, before, system, layer - 1)
    if not below:
        return (f"Layer '{name}' below this one is not recorded on section '{where}'.",)
    same = laid_before(placement, before, system, layer)
    lies_on = _lies_on(placement, site, system, layer, section_m2, before)
    bare = _bare(below, same, placement) if lies_on is None else lies_on
    if not bare:
        return (
            f"Layer '{name}' below this one was not finished, or is covered already, on section "
            f"'{where}' when this one was begun.",
        )
    told = []
    room = sum(area for _, area in bare)
    # Beyond the section there is no layer below either, which its area tells already.
    if room < WHOLE * min(placement.area_m2, section_m2 or placement.area_m2):
        told.append(
            f"Layer '{name}' below this one is recorded, and not covered yet, on "
            f"{both(room, 'area')}; this placement has {both(placement.area_m2, 'area')}."
        )
    faults = [
        (area, _faults(each, placement, site, system, layer - 1, before, in_weather))
        for each, area in bare
    ]
    in_order = sum(area for area, found in faults if not found)
    if lies_on is not None or in_order < WHOLE * placement.area_m2:
        told += [said for _, found in faults for said in found]
    return tuple(dict.fromkeys(told))[:_MOST_FAULTS]


_MOST_FAULTS = 20
"""Parts of a layer below beyond these add nothing for a reader."""


def _lies_on(
    placement: Placement,
    site: Site,
    system: System,
    layer: int,
    section_m2: float | None,
    before: Sequence[Body],
) -> list[tuple[Placement, float]] | None:
    """Return the placements below on which planning puts one, and how much of it lies on each.

    None where planning cannot divide the section. [m2]
    """
    there = [
        each for n in range(layer + 1) for each in laid_before(placement, before, system, n)
        if n < layer or each.at <= placement.at
    ]  # fmt: skip
    laid = dict(enumerate([*there, placement], start=1))
    try:
        divided = parts(
            placement.section, section_m2, list(laid.items()), site=site, system=system
        )
    except DewgapError:
        return None
    found = []
    for part in divided:
        numbers = [each.entry for each in part.laid]
        if len(laid) in numbers:
            below = numbers[layer - 1]
            assert below is not None  # each has a number here
            found.append((laid[below], part.area_m2))
    return found


def _bare(
    below: list[Placement], same: list[Placement], placement: Placement
) -> list[tuple[Placement, float]]:
    """Return the placements below that were finished and lie bare, with the area left of each.

    Earlier placements of the layer itself lie first on what has their size, then on the oldest.
    """
    left = [each.area_m2 for each in below]
    for other in (each for each in same if each.at < placement.at):
        need = other.area_m2
        ready = [n for n, each in enumerate(below) if each.end <= other.at]
        for n in sorted(ready, key=lambda n: (abs(left[n] - need) > (1 - WHOLE) * need, n)):
            taken = min(need, left[n])
            left[n], need = left[n] - taken, need - taken
    return [
        (each, area) for each, area in zip(below, left, strict=True)
        if each.end <= placement.at and area > (1 - WHOLE) * each.area_m2
    ]  # fmt: skip


def _faults(
    below: Placement,
    placement: Placement,
    site: Site,
    system: System,
    layer: int,
    before: Sequence[Body],
    in_weather: SystemHours | None,
) -> tuple[str, ...]:
    """Say what was wrong with a layer below, from 0, when another was laid on it."""
    prepared = (
        body.at for body in before
        if isinstance(body, Preparation) and body.section == below.section
        and layer_number(system, body.layer) == layer
    )  # fmt: skip
    again = last_prepared(prepared, below.end, placement.at)
    told = f"Layer '{system.layers[layer].name}', laid until {moment(below.end, site.zone)},"
    if in_weather is not None:
        record = LaidRecord(
            layer, pd.Timestamp(below.at), pd.Timestamp(below.end),
            None if again is None else pd.Timestamp(again),
        )  # fmt: skip
        try:
            cover = check_cover(in_weather, record, pd.Timestamp(placement.at))
        except HoursError:
            pass  # the weather does not hold both
        else:
            return _by_weather(told, cover, below, placement, in_weather)
    return _by_clock(told, below, again, placement, site, system, layer)


def _by_weather(
    told: str, cover: Cover, below: Placement, placement: Placement, in_weather: SystemHours
) -> tuple[str, ...]:
    zone, found = in_weather.site.zone, []
    if cover.opens is None:
        coating = in_weather.jobs[cover.layer].coating
        found += _opens_by_clock(told, below, placement, coating, zone) or [
            f"{told} is not known to have been open for the next when this one was begun."
        ]
    elif cover.opens > pd.Timestamp(placement.at):
        found.append(
            f"{told} was open for the next from {moment(cover.opens, zone)} on, by its weather; "
            f"this one was begun at {moment(placement.at, zone)}."
        )
    late = [d for d in cover.deadlines if d.at is not None and d.at < pd.Timestamp(placement.end)]
    for each in late:
        assert each.at is not None  # it is late
        weak = "" if each.firm else "; a generic figure, the data sheet decides"
        found.append(_late(told, each.label, each.at, placement, zone, weak))
    if not late and cover.due is not None and cover.due < pd.Timestamp(placement.end):
        found.append(_late(told, "end of its shift", cover.due, placement, zone))
    return tuple(found)


def _by_clock(
    told: str,
    below: Placement,
    again: datetime | None,
    placement: Placement,
    site: Site,
    system: System,
    layer: int,
) -> tuple[str, ...]:
    """Say what the clock alone tells, and what is not known without the weather of the cure."""
    coating = resolve(
        system.profiles[layer], method=site.method, dry_film_um=system.layers[layer].dry_film.si
    )
    found = _opens_by_clock(told, below, placement, coating, site.zone) or [
        f"{told} is not known to have been open for the next when this one was begun: its cure "
        "needs the weather since then."
    ]
    since, late = again or below.at, False
    for name, hours in coating.deadlines_h.items():
        due = since + timedelta(hours=hours)
        if due < placement.end:
            found.append(_late(told, DEADLINES[name].label, due, placement, site.zone))
            late = True
    if coating.cover_by_dose_sed is not None and not late:
        found.append(
            f"{told} is not known to have been covered in time: the ultraviolet on it needs the "
            "weather since then."
        )
    if system.layers[layer].next.same_shift and not _same_shift(
        max(since, below.end), placement.end, site
    ):
        found.append(f"{told} was to be covered in the same shift.")
    return tuple(found)


def _opens_by_clock(
    told: str, below: Placement, placement: Placement, coating: Coating, zone: ZoneInfo
) -> list[str]:
    """Say whether hours that go by the clock alone had not passed."""
    hours = coating.milestone_clock_min_h.get("recoat_opens", 0.0)
    opens = below.end + timedelta(hours=hours)
    if placement.at >= opens:
        return []
    return [
        f"{told} opens for the next {hours:g} h later at the earliest, at {moment(opens, zone)}; "
        f"this one was begun at {moment(placement.at, zone)}."
    ]


def _late(
    told: str, deadline: str, due: datetime, placement: Placement, zone: ZoneInfo, weak: str = ""
) -> str:
    return (
        f"{told} was to be covered by {moment(due, zone)} ({deadline}{weak}); this one ended at "
        f"{moment(placement.end, zone)}."
    )


def _same_shift(first: datetime, last: datetime, site: Site) -> bool:
    """Tell whether two moments that end an hour of work lie in one shift, or on one local day."""
    just_before = [pd.Timestamp(each) - pd.Timedelta(seconds=1) for each in (first, last)]
    one, other = shifts(pd.DatetimeIndex([each.floor("h") for each in just_before]), site).tolist()
    if one == other != NO_SHIFT:
        return True
    days = {each.tz_convert(site.zone).date() for each in just_before}
    return len(days) == 1


def direction_flags(
    placement: Placement, *, system: System, layer: int, before: Sequence[Body]
) -> tuple[str, ...]:
    """Say whether a coat was laid in the direction of the one below (UFGS 07570, 3.9: across)."""
    if layer == 0 or not placement.direction:
        return ()
    below = laid_before(placement, before, system, layer - 1)
    last = [each for each in below if each.end <= placement.at and each.direction]
    if not last or _axis(last[-1].direction) != _axis(placement.direction):
        return ()
    return (
        f"It was laid in the direction of layer '{system.layers[layer - 1].name}' below it "
        f"({placement.direction}); each coat is laid across the last.",
    )


def _axis(direction: str) -> frozenset[str]:
    """Return the words of a direction whichever way it runs: "N-S" is "south to north"."""
    letters = "".join(each if each.isalnum() else " " for each in direction.casefold())
    words = [_COMPASS.get(word, word) for word in letters.split() if word != "to"]
    return frozenset(
        letter for word in words for letter in (word if set(word) in _ACROSS else [word])
    )


_ACROSS = ({"n", "s"}, {"e", "w"})

"""Rules of the crew: its pace, its shifts and days, its ways; one place at a time."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from windows.fields import WEEKDAYS
from windows.gates import State
from windows.validator.layer_hours import HOUR
from windows.validator.plan_check import TIE_S, Film, PlanCheck
from windows.validator.roof_rules import roof_state

if TYPE_CHECKING:
    from windows.plan import Placement

__all__ = ["crew_rule", "extra_days_rule", "overlap_rule", "shift_rule", "time_rule", "walk_rule"]


def time_rule(check: PlanCheck, placement: Placement, film: Film) -> None:
    """Check that a placement begins no earlier than now and lies inside the weather."""
    if placement.start < check.now:
        now = (check.now - check.begin).total_seconds()
        check.tell(
            film.label, "past", f"it starts at {check.clock(film.start)}, before now "
            f"({check.clock(now)})",
        )  # fmt: skip
    if film.start < 0 or film.end > check.data_end:
        check.tell(
            film.label, "data", f"{check.clock(film.start)} to {check.clock(film.end)} is not "
            f"inside the weather, {check.clock(0)} to {check.clock(check.data_end)}",
        )  # fmt: skip


def _rate_m2_h(check: PlanCheck, layer: int) -> float | None:
    """Return the area laid in an hour, None where nothing tells it. [m2/h]"""
    crew, material, own = check.job.crew, check.job.material, check.layers[layer]
    names = [each.name for each in check.layers]
    number = str(layer + 1)
    if own.name in crew.rates:
        return crew.rates[own.name]
    if number in crew.rates and number not in names:
        return crew.rates[number]
    solids = check.system.system.profiles[layer].film.get("volume_solids")
    if solids is None:
        return None
    wet_mm = own.dry_film.si / solids.si / 1000
    sprayed_l_h = 60 * crew.pump * crew.trigger_share
    return sprayed_l_h * (1 - material.loss) / (wet_mm * material.texture)


def crew_rule(check: PlanCheck, film: Film) -> None:
    """Check that the work is given the time that it takes."""
    rate = _rate_m2_h(check, film.layer)
    if rate is None:
        check.tell(film.label, "crew", "nothing tells how much the crew lays in an hour")
        return
    area = check.pieces[film.piece].area_m2 * check.layers[film.layer].area_share
    needed = HOUR * area / rate
    if film.end - film.start < needed - TIE_S or film.end <= film.start:
        check.tell(
            film.label, "crew", f"the work takes {needed / 60:.1f} min and is given "
            f"{(film.end - film.start) / 60:.1f} min",
        )  # fmt: skip


def shift_rule(check: PlanCheck, placement: Placement, film: Film) -> None:
    """Check that the work lies in one shift, with set-up before it and clean-up after."""
    told = f"{check.clock(film.start)} to {check.clock(film.end)}"
    day, crew = film.day, check.job.crew
    if day is None:
        check.tell(film.label, "shift", f"{told} does not lie in one shift")
        return
    if not check.shifts.works(day):
        check.tell(
            film.label, "shift", f"nobody works in the shift of {WEEKDAYS[day.weekday()]} {day}"
        )
    if placement.shift != day:
        check.tell(film.label, "shift", f"the shift is given as {placement.shift} and is {day}")
    opens, closes = (
        (at - check.begin).total_seconds() for at in check.shifts.span(day)
    )  # fmt: skip
    before, after = film.start - opens, closes - film.end
    if before < HOUR * crew.set_up - TIE_S:
        check.tell(
            film.label, "shift", f"{before / 60:.0f} min of the shift are left for setting up, "
            f"which takes {60 * crew.set_up:.0f} min",
        )  # fmt: skip
    if after < HOUR * crew.clean_up - TIE_S:
        check.tell(
            film.label, "shift", f"{after / 60:.0f} min of the shift are left for cleaning up, "
            f"which takes {60 * crew.clean_up:.0f} min",
        )  # fmt: skip


def overlap_rule(check: PlanCheck) -> None:
    """Check that one crew is in one place, with the time to move between two."""
    for at, (_, film) in enumerate(check.films):
        for _, before in check.films[:at]:
            if before.end > film.start:
                check.tell(
                    film.label, "overlap", f"it starts at {check.clock(film.start)}, while "
                    f"the crew is at {before.label} until {check.clock(before.end)}",
                )  # fmt: skip
    for (_, before), (_, film) in pairwise(check.films):
        gap = film.start - before.end
        same = before.day is not None and before.day == film.day
        if same and gap < HOUR * check.job.crew.move - TIE_S:
            check.tell(
                film.label, "overlap", f"{gap / 60:.0f} min lie between it and {before.label}, "
                f"and a move takes {60 * check.job.crew.move:.0f} min",
            )  # fmt: skip


def walk_rule(check: PlanCheck, film: Film) -> None:
    """Check that no way to a piece is closed while a crew works on it."""
    over = check.pieces[film.piece].access_over
    ways = {piece.name for piece in check.pieces.values() if piece.section in over}
    planned = [each for _, each in check.films if each.piece in ways]
    laid = [each for each in check.laid.values() if each.piece in ways]
    for way in (*laid, *planned):
        opens = check.opens(way)
        if way.last < 0:  # what it cured before the data is not known and counts for nothing
            opens = check.hours[way.layer].milestone("recoat_opens", 0)
        if way.start < film.end and (opens is None or film.start < opens):
            until = "a time that is not known" if opens is None else check.clock(opens)
            check.tell(
                film.label, "walk", f"the way over {way.label} is closed from "
                f"{check.clock(way.start)} to {until}",
            )  # fmt: skip


def extra_days_rule(check: PlanCheck) -> None:
    """Check that an extra day makes up for a lost work day of its week, if it has to."""
    if not check.job.crew.extra_days_only_after_rain:
        return
    for _, film in check.films:
        day = film.day
        if day is None or check.shifts.regular(day) or not check.shifts.works(day):
            continue
        monday = day - timedelta(days=day.weekday())
        week = [monday + timedelta(days=n) for n in range(day.weekday())]
        if not any(check.shifts.regular(each) and _lost(check, each) for each in week):
            check.tell(
                film.label, "extra_days", f"it lies on {WEEKDAYS[day.weekday()]} {day}, and no "
                "work day of that week before it is known to be lost",
            )  # fmt: skip


def _lost(check: PlanCheck, day: date) -> bool:
    """Tell whether every hour of a day's shift is known to be blocked for every layer."""
    opens, closes = ((at - check.begin).total_seconds() for at in check.shifts.span(day))
    rows = range(int(-(-opens // HOUR)), int(closes // HOUR))
    if not rows or rows[0] < 0 or rows[-1] >= check.data_end // HOUR:
        return False
    return all(
        State.BLOCKED in (hours.state(row), roof_state(check, layer, row))
        for layer, hours in enumerate(check.hours)
        for row in rows
    )

"""Rules of the roof: it is dry below, and every gate and stop is open in each hour."""

from __future__ import annotations

from math import ceil, isnan
from typing import TYPE_CHECKING

from cure_models.system_rules import is_vapour_retarder
from windows.fields import local_moment
from windows.gates import State
from windows.validator.layer_hours import HOUR, TIE_H

if TYPE_CHECKING:
    from windows.validator.plan_check import Film, PlanCheck
    pass

__all__ = ["gate_rule", "roof_state", "substrate_rule"]

_RAIN_MM = 0.2
"""Rain in an hour that wets a roof. [mm]"""


def substrate_rule(check: PlanCheck, film: Film) -> None:
    """Check that the roof is known to be dry below the first film that holds moisture in."""
    if not check.inside(film):
        return
    for row in range(film.first, film.last + 1):
        state = roof_state(check, film.layer, row)
        if state is not State.OK:
            check.tell(
                film.label, "substrate", f"in the hour from {check.clock(HOUR * row)} the "
                f"roof below is {'not known to be' if state is State.UNKNOWN else 'not'} dry",
            )  # fmt: skip
            return


def roof_state(check: PlanCheck, layer: int, row: int) -> State:
    """Return whether the roof is dry enough for a layer: by a reading, or by its time."""
    profiles = check.system.system.profiles
    ground = check.job.substrate
    moisture = None if ground is None else ground.moisture
    if ground is not None and moisture is not None:
        damp = not moisture <= (ground.moisture_limit or 0.0)
        if damp:
            return State.BLOCKED
    if not is_vapour_retarder(profiles[layer]) or any(
        is_vapour_retarder(below) for below in profiles[:layer]
    ):
        return State.OK
    if ground is None:
        return State.UNKNOWN
    answers = []
    if ground.dry_out is not None:
        answers.append(_rain_free(check, layer, row - ceil(ground.dry_out), row))
    if ground.moisture is not None and ground.read_at is not None:
        read_at = local_moment(ground.read_at, check.system.site.zone)
        read = int((read_at - check.begin).total_seconds() // HOUR)
        if read <= row and read_at <= check.now:  # else nothing has been measured
            answers.append(_rain_free(check, layer, read, row))
    return min(answers, default=State.UNKNOWN)  # either of them shows it


def _rain_free(check: PlanCheck, layer: int, begin: int, row: int) -> State:
    """Return whether no rain fell from a row to the end of another."""
    rain = check.system.jobs[layer].conditions.rain_most_mm[max(begin, 0) : row + 1].tolist()
    if sum(fell for fell in rain if not isnan(fell)) >= _RAIN_MM - TIE_H:
        return State.BLOCKED
    return State.UNKNOWN if begin < 0 or any(isnan(fell) for fell in rain) else State.OK


def gate_rule(check: PlanCheck, film: Film) -> None:
    """Check that in each hour of the work all gates and safety stops are known to be OK."""
    if not check.inside(film):
        return
    for row in range(film.first, film.last + 1):
        checks = check.hours[film.layer].checks(row)
        broken = [
            f"{name}: {'not known' if state is State.UNKNOWN else 'blocked'}"
            for name, state in checks.items() if state is not State.OK
        ]  # fmt: skip
        if broken:
            check.tell(
                film.label, "gate", f"in the hour from {check.clock(HOUR * row)} not all is "
                f"well ({'; '.join(broken)})",
            )  # fmt: skip
            return

"""Application windows: the runs of valid hours, what is tight in them, and why the rest is lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.arrays import floats
from windows.crew import NO_SHIFT
from windows.found import AtRisk, LostHours, Provisional, Search, StopTime, Tightest, Window
from windows.gates import Checked, State, States, check, combine, margin
from windows.runs import block_starts, least_between, runs
from windows.safety import cautions, stop_label
from windows.stop import StopHour, stop_hours

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.conditions import Conditions
    from windows.site import SafetyStops

__all__ = ["search", "tightest_gates"]

# About the error of a forecast one day ahead, so that margins in different units compare: 1.9 K is
# the error of maximum temperature at 12-24 h in a study of Oklahoma City (mean error 2.8 degF);
# the others are our own choice. Rain, wet film and daylight have no margin worth the name.
_MARGIN_SCALE = {
    "air_temp_c": 1.9,
    "surface_temp_c": 3.0,
    "dry_surface_temp_c": 3.0,
    "film_temp_c": 3.0,
    "spread_c": 1.9,
    "film_spread_c": 1.9,
    "rel_humidity": 0.1,
    "wind_m_s": 2.0,
}


def search(
    checked: Checked,
    careful: Checked,
    conditions: Conditions,
    index: pd.DatetimeIndex,
    shift: NDArray[np.int64],
    stops: dict[str, States],
    own_limits: SafetyStops,
) -> Search:
    """Find the application windows of one series of hours.

    Parameters
    ----------
    checked, careful
        The coating checked at its generic limits and at the careful end of every range.
    conditions
        Arrays of shape (hours,).
    index
        Starts of the hours, UTC.
    shift
        Shift of each hour, from `windows.crew.shifts`.
    stops
        Safety checks, from `windows.safety.safety_stops`.
    own_limits
        Those of the site for people.
    """
    clock = _Clock(index[0], len(index))
    crew = np.where(shift == NO_SHIFT, State.BLOCKED, State.OK).astype(np.int8)
    safety = combine(*stops.values())
    hour = combine(checked.state, crew, safety)
    least = checked.coating.min_window_h
    found = runs(hour == State.OK, shift, least)
    number = np.zeros(len(index), dtype=np.int64)
    for n, (start, end) in enumerate(found, start=1):
        number[start:end] = n
    return Search(
        index=index,
        hour=hour,
        window_number=number,
        crew=crew,
        safety=safety,
        crew_hours=int((crew == State.OK).sum()),
        windows=_windows(found, checked, careful, conditions, clock),
        provisional=tuple(
            Provisional(
                clock.at(start), clock.at(end), end - start,
                _missing(checked, stops, conditions, clock, start, end),
            )
            for start, end in runs(hour != State.BLOCKED, shift, least)
            if (hour[start:end] == State.UNKNOWN).any()
        ),
        at_risk=_at_risk(checked, conditions, clock, shift, combine(crew, safety)),
        lost=_lost(checked, stops, crew, own_limits),
    )  # fmt: skip


@dataclass(frozen=True)
class _Clock:
    """Hours since the first row, as times."""

    start: pd.Timestamp
    data_end: int

    def at(self, hours: float) -> pd.Timestamp:
        """Return the time so many hours after the first row began."""
        return self.start + timedelta(seconds=round(hours * 3600))

    def stop(self, stop: StopHour | None) -> StopTime | None:
        """Return a stop as times."""
        if stop is None:
            return None
        return StopTime(stop.gate, self.at(stop.at), self.at(stop.hazard), stop.known)

    def milestones(self, checked: Checked, hour: int) -> dict[str, pd.Timestamp | None]:
        """Return when a film placed in an hour reaches each milestone."""
        return {
            name: None if np.isnan(times[hour]) else self.at(float(times[hour]))
            for name, times in checked.milestones.items()
        }


def _windows(
    found: list[tuple[int, int]],
    checked: Checked,
    careful: Checked,
    conditions: Conditions,
    clock: _Clock,
) -> tuple[Window, ...]:
    if not found:
        return ()
    starts, ends = np.array(found).T
    tight = tightest_gates(checked, conditions, starts, ends)
    stops = stop_hours(checked, conditions, ends)
    first_of_block = block_starts(conditions.rain_prob, conditions.rain_prob_block_h)
    gates = careful.coating.gates
    worst = np.array(
        [-least_between(-floats(careful.gates[g.name]), starts, ends) for g in gates]
    )
    blocked, unknown = worst == State.BLOCKED, worst == State.UNKNOWN
    return tuple(
        Window(
            number=n + 1,
            start=clock.at(start),
            end=clock.at(end),
            hours=end - start,
            tightest=tight[n],
            first=clock.milestones(checked, start),
            last=clock.milestones(checked, end - 1),
            decided_by=tuple(compress(gates, blocked[:, n])),
            undecided=tuple(compress(gates, unknown[:, n])),
            dry_chance=_dry_chance(checked, conditions.rain_prob, first_of_block, start, end),
            cautions=cautions(conditions, checked.coating, start, end),
            stop=clock.stop(stops[n]),
        )
        for n, (start, end) in enumerate(found)
    )  # fmt: skip


def tightest_gates(
    checked: Checked, conditions: Conditions, starts: NDArray[np.int64], ends: NDArray[np.int64]
) -> list[Tightest | None]:
    """Return the gate nearest to its limit in each window, its hold included."""
    gates = [g for g in checked.coating.gates if g.rule.quantity in _MARGIN_SCALE]
    if not gates:
        return [None] * len(starts)
    margins = []
    for gate in gates:
        reach = ends
        if gate.name in checked.hold_ends:
            reach = np.maximum(ends, checked.hold_ends[gate.name][ends - 1])
        margins.append(
            least_between(margin(conditions.quantity(gate.rule.quantity), gate), starts, reach)
        )
    table = np.array(margins)
    scale = np.array([_MARGIN_SCALE[g.rule.quantity] for g in gates])[:, None]
    tightest = np.argmin(table / scale, axis=0)
    return [Tightest(gates[g], float(table[g, n])) for n, g in enumerate(tightest)]


def _dry_chance(
    checked: Checked,
    rain_prob: FloatArray,
    first_of_block: NDArray[np.bool_],
    start: int,
    end: int,
) -> tuple[float, float] | None:
    """Bound the chance of no rain from the start of a window to the end of its last rain hold.

    A probability of several hours counts once, also where the hold meets only a part of them.
    """
    reach = checked.hold_ends.get("no_rain")
    if reach is None:
        return None
    span = slice(start, max(end, int(reach[end - 1])))
    chance = rain_prob[span]
    if np.isnan(chance).any():
        return None
    counts = first_of_block[span].copy()
    counts[0] = True
    return float(np.prod(1 - chance[counts])), float(1 - chance.max())


def _missing(
    checked: Checked,
    stops: dict[str, States],
    conditions: Conditions,
    clock: _Clock,
    start: int,
    end: int,
) -> tuple[str, ...]:
    """Say what is not known in a run of hours, gate by gate."""
    told = []
    for gate in checked.coating.gates:
        unknown = np.flatnonzero(checked.gates[gate.name][start:end] == State.UNKNOWN) + start
        if not unknown.size:
            continue
        reach = checked.hold_ends.get(gate.name)
        last = int(unknown[-1])
        to = last + 1 if reach is None else int(reach[last])
        values = conditions.quantity(gate.rule.quantity)[unknown[0] : to]
        if np.isnan(values).any():
            told.append(f"{gate.name}: {gate.rule.quantity} is unknown")
        elif to >= clock.data_end:
            until = (gate.milestone or f"{gate.clock_h:g} h").replace("_", "-")
            told.append(f"{gate.name}: the data end before {until}")
        else:
            told.append(f"{gate.name}: the cure rate is unknown")
    told.extend(
        f"safety_{name}: its weather is unknown"
        for name, states in stops.items()
        if (states[start:end] == State.UNKNOWN).any()
    )
    return tuple(told)


def _at_risk(
    checked: Checked,
    conditions: Conditions,
    clock: _Clock,
    shift: NDArray[np.int64],
    people: States,
) -> tuple[AtRisk, ...]:
    """Return runs of hours in which a coat could be laid, but a hold is known to break."""
    holds = [gate for gate in checked.coating.gates if gate.rule.kind == "hold"]
    placement = combine(
        people, *(checked.gates[g.name] for g in checked.coating.gates if g not in holds)
    )
    found = []
    for gate in holds:
        broken = (placement == State.OK) & (checked.gates[gate.name] == State.BLOCKED)
        hazards = np.flatnonzero(
            check(conditions.quantity(gate.rule.quantity), gate) == State.BLOCKED
        )
        spans = runs(broken, shift, 1)
        first = hazards[np.searchsorted(hazards, [start for start, _ in spans])].tolist()
        safe = checked.milestones.get(gate.milestone or "", np.array([]))
        for (start, end), hazard in zip(spans, first, strict=True):
            known = safe.size and not np.isnan(safe[start])
            found.append(
                AtRisk(
                    clock.at(start), clock.at(end), end - start, gate, clock.at(hazard),
                    clock.at(float(safe[start])) if known else None,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda risk: (risk.start, risk.hazard)))


def _lost(
    checked: Checked, stops: dict[str, States], crew: States, own_limits: SafetyStops
) -> tuple[LostHours, ...]:
    """Count crew hours that each check blocks, and those that it alone blocks."""
    labels = {g.name: g.rule.label for g in checked.coating.gates}
    on_shift = crew == State.OK
    states = {name: s[on_shift] for name, s in checked.gates.items()} | {
        f"safety_{name}": s[on_shift] for name, s in stops.items()
    }
    blockers = np.sum([s == State.BLOCKED for s in states.values()], axis=0)
    lost = [
        LostHours(
            name,
            labels.get(name) or stop_label(name.removeprefix("safety_"), own_limits),
            int((s == State.BLOCKED).sum()),
            int(((s == State.BLOCKED) & (blockers == 1)).sum()),
            int((s == State.UNKNOWN).sum()),
        )
        for name, s in states.items()
    ]
    return tuple(sorted(lost, key=lambda entry: (-entry.blocked, entry.name)))


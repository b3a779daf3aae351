"""The check of a plan: every rule worked out again from the raw conditions, hour by hour.

Nothing is shared with what finds windows or makes plans: gates, holds, the cure clock, shifts and
deadlines are read here a second time, in plain loops over the few hours concerned. Only the safety
stops are taken as they are. What is not known breaks a rule as a hazard does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, inf, isnan
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from cure_models.system_rules import is_vapour_retarder
from windows.fields import WEEKDAYS, local_moment
from windows.gates import State
from windows.safety import safety_stops, stop_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cure_models.coating import Gate
    from windows.job import Job
    from windows.job_file import Crew, JobFile, Piece
    from windows.layers import SystemHours
    from windows.plan import Placement
    from windows.site import Site

__all__ = ["LayerHours", "Violation", "validate"]

_HOUR = 3600
_TIE_H = 1e-9
"""Cure this close to a milestone has reached it. [h]"""
_RAIN_MM = 0.2
"""Rain in an hour that wets a roof. [mm]"""
_TIE_S = 1.0
"""Lengths and clocks may differ by so much. [s]"""
_TIE_SHARE = 1e-6
"""Areas may differ by so much of themselves."""


@dataclass(frozen=True)
class Violation:
    """A rule that a placement breaks, in one sentence; of the plan as a whole without its name."""

    placement: str
    rule: str
    text: str


class LayerHours:
    """One layer's hours read plainly: a film placed in a row, its gates, clocks and deadlines.

    Rows count from 0, times are whole seconds since the first row began.
    """

    def __init__(self, job: Job) -> None:
        self.coating = job.coating
        self.rows = len(job.hours.index)
        self._conditions = job.conditions
        self._values: dict[str, list[float]] = {}
        self._checks: dict[int, dict[str, State]] = {}
        self._stops: dict[str, list[int]] = {
            name: states.tolist() for name, states in safety_stops(job.conditions, job.site).items()
        }

    def _of(self, quantity: str) -> list[float]:
        if quantity not in self._values:
            self._values[quantity] = self._conditions.quantity(quantity).tolist()
        return self._values[quantity]

    def milestone(self, name: str, row: int) -> int | None:
        """Return when the film of a row reaches a milestone, None where that is not known. [s]"""
        return self._milestone(name, row)[0]

    def _milestone(self, name: str, row: int) -> tuple[int | None, int]:
        """Return a milestone and the first row that is not certain to lie before it. [s]

        Cure counts from the end of the row, by the first rate to the end of the first stage. Where
        a rate is not known, the film is still short of the milestone when that hour begins.
        """
        first, late = self._of("cure_rate"), self._of("cure_rate_late")
        needed, stage = self.coating.milestones[name], self.coating.first_stage_h
        moment = _gained(first, row + 1, min(needed, stage))
        if moment is not None and needed > stage:
            moment = _gained(late, moment, needed - stage)
        least = _seconds(row + 1 + self.coating.milestone_clock_min_h.get(name, 0.0))
        if moment is not None:
            end = max(_seconds(moment), least)
            return end, _rows_before(end)
        blind = row + 1
        while blind < self.rows and not isnan(first[blind] + late[blind]):
            blind += 1
        return None, max(blind + 1, _rows_before(least))

    def checks(self, row: int) -> dict[str, State]:
        """Return the state of each gate and safety stop, by its label, for a film of a row."""
        if row not in self._checks:
            found = {gate.rule.label: self._gate(gate, row) for gate in self.coating.gates}
            for name, states in self._stops.items():
                found[f"safety, {stop_label(name)}"] = State(states[row])
            self._checks[row] = found
        return self._checks[row]

    def state(self, row: int) -> State:
        """Return all gates and safety stops of a row together; the crew's hours are apart."""
        return max(self.checks(row).values(), default=State.OK)

    def _gate(self, gate: Gate, row: int) -> State:
        values = self._of(gate.rule.quantity)
        if gate.rule.kind == "placement":
            return _compare(values[row], gate)
        # A hazard counts from the start of the row, whenever in it the film is placed.
        if gate.milestone is None:
            assert gate.clock_h is not None  # a hold ends by one of the two
            end: int | None = _seconds(row + gate.clock_h)
            after = _rows_before(_seconds(row + gate.clock_h))
        else:
            end, after = self._milestone(gate.milestone, row)
        inside = [_compare(value, gate) for value in values[row:after]]
        if State.BLOCKED in inside:
            return State.BLOCKED
        if State.UNKNOWN in inside or end is None or end > _HOUR * self.rows:
            return State.UNKNOWN
        return State.OK

    def deadlines(self, row: int) -> dict[str, int | None]:
        """Return the latest times for the next layer, None where that is not known. [s]

        They count from the start of the row; cover-by is the earlier of clock and dose.
        """
        found: dict[str, int | None] = {
            name: _seconds(row + hours) for name, hours in self.coating.deadlines_h.items()
        }
        if self.coating.cover_by_dose_sed is not None:
            reached, blind = self._dose(row, self.coating.cover_by_dose_sed)
            clock = found.get("cover_by")
            if reached is not None:
                found["cover_by"] = reached if clock is None else min(reached, clock)
            elif clock is None or clock > blind:
                found["cover_by"] = None
        return found

    def _dose(self, row: int, dose: float) -> tuple[int | None, int]:
        """Return when a dose is reached, and until when it is at least known not to be. [s]"""
        taken = self._of("uv_dose_sed")
        if row < 0:
            return None, _HOUR * row
        moment = _gained(taken, row, dose)
        if moment is not None:
            return _seconds(moment), _seconds(moment)
        blind = row
        while blind < self.rows and not isnan(taken[blind]):
            blind += 1
        return None, _HOUR * blind

    def due(self, row: int) -> tuple[int | None, float]:
        """Return the earliest deadline and until when it has certainly not passed. [s]

        The deadline is None where it is not known, and where there is none: then it never passes.
        """
        found = self.deadlines(row)
        known = [at for at in found.values() if at is not None]
        first = min(known, default=None)
        if None in found.values() and self.coating.cover_by_dose_sed is not None:
            blind = self._dose(row, self.coating.cover_by_dose_sed)[1]
            if first is None or first > blind:
                return None, blind
        return first, inf if first is None else first


def _gained(rates: list[float], moment: float, needed: float) -> float | None:
    """Return when so much has been gained since a moment, None where that is not known. [h]"""
    if needed <= _TIE_H:
        return moment
    total, row = 0.0, int(moment)
    while row < len(rates) and not isnan(rates[row]):
        begin = max(moment, row)
        gain = rates[row] * (row + 1 - begin)
        if total + gain >= needed - _TIE_H:
            return min(begin + (needed - total) / rates[row], row + 1)
        total += gain
        row += 1
    return None


def _compare(value: float, gate: Gate) -> State:
    if isnan(value):
        return State.UNKNOWN
    if value == gate.limit:
        good = gate.rule.inclusive
    else:
        good = value > gate.limit if gate.rule.sense == "min" else value < gate.limit
    return State.OK if good else State.BLOCKED


def _seconds(hours: float) -> int:
    return round(hours * _HOUR)


def _rows_before(second: int) -> int:
    """Return how many rows begin before a second."""
    return -(-second // _HOUR)


class _Shifts:
    """The crew's shifts by the site's own clock."""

    def __init__(self, site: Site, crew: Crew) -> None:
        self._site = site
        extra_days = (*site.crew.work_days, *crew.extra_days)
        self._with_extra = site.crew.model_copy(update={"work_days": extra_days})
        self._spans: dict[date, tuple[pd.Timestamp, pd.Timestamp]] = {}

    def regular(self, day: date) -> bool:
        """Tell whether a day is a work day of the site."""
        return not self._site.crew.is_day_off(day)

    def works(self, day: date) -> bool:
        """Tell whether a day is a work day or an extra day, and neither off nor a holiday."""
        return not self._with_extra.is_day_off(day)

    def span(self, day: date) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Return the shift that begins on a day: its minutes by the clock, of a break the longer.

        A clock that is put back shows some minutes twice, and may so leave a shift and come back.
        """
        if day not in self._spans:
            crew = self._site.crew
            opens = pd.Timestamp.combine(day, crew.start)
            over_midnight = timedelta(days=int(crew.end <= crew.start))
            closes = pd.Timestamp.combine(day + over_midnight, crew.end)
            minutes = pd.date_range(
                pd.Timestamp(day, tz="UTC") - pd.Timedelta(days=1), periods=4 * 1440, freq="min"
            )
            wall = minutes.tz_convert(self._site.zone).tz_localize(None)
            inside = np.flatnonzero((wall >= opens) & (wall < closes))
            parts = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1)
            longest = max(parts, key=len)
            if len(longest) == 0:  # a clock that was put on skipped it
                self._spans[day] = (minutes[0], minutes[0])
            else:
                minute = pd.Timedelta(minutes=1)
                self._spans[day] = (minutes[longest[0]], minutes[longest[-1]] + minute)
        return self._spans[day]

    def day_of(self, start: pd.Timestamp, end: pd.Timestamp) -> date | None:
        """Return the day of the shift that holds a time, worked or not; None where none does."""
        local = start.tz_convert(self._site.zone).date()
        for day in (local, local - timedelta(days=1)):
            opens, closes = self.span(day)
            if opens <= start and end <= closes:
                return day
        return None


@dataclass(frozen=True)
class _Film:
    """A layer that is planned or laid, in seconds since the first row, and the rows it touches.

    ``prepared`` is when a laid layer was prepared again: its deadlines count anew from then.
    """

    label: str
    piece: str
    layer: int
    start: float
    end: float
    day: date | None
    prepared: float | None = None

    @property
    def due_from(self) -> int:
        """Row from whose start the deadlines count."""
        return self.first if self.prepared is None else int(self.prepared // _HOUR)

    @property
    def first(self) -> int:
        return int(self.start // _HOUR)

    @property
    def last(self) -> int:
        return int(-(-self.end // _HOUR)) - 1

    @property
    def until(self) -> int:
        """End of the last row touched. [s]"""
        return _HOUR * (self.last + 1)


def validate(
    placements: Sequence[Placement],
    pieces: Sequence[Piece],
    job: JobFile,
    system: SystemHours,
    now: pd.Timestamp,
    *,
    open_beyond: bool = False,
) -> tuple[Violation, ...]:
    """Check a plan against every rule, from the raw conditions of each layer.

    Parameters
    ----------
    placements
        The plan, in any order.
    pieces
        The pieces of the job, with what is laid on them.
    job
        Rates, set-up, clean-up, moves, extra days and the cap on bare area.
    system
        The system in its weather: conditions, coatings and site are read, no result.
    now
        The present; nothing is planned before it.
    open_beyond
        Whether a layer that must be covered may lie bare at the end of the data, where its deadline
        lies after them.

    Returns
    -------
    tuple of Violation
        One for each rule that a placement breaks, in the order of the placements; none if the plan
        is sound.
    """
    return _Check(placements, pieces, job, system, now, open_beyond).run()


class _Check:
    """One check of a plan: its films, its hours, and what was found so far."""

    def __init__(
        self,
        placements: Sequence[Placement],
        pieces: Sequence[Piece],
        job: JobFile,
        system: SystemHours,
        now: pd.Timestamp,
        open_beyond: bool,
    ) -> None:
        self.job, self.system, self.now, self.open_beyond = job, system, now, open_beyond
        self.pieces = {piece.name: piece for piece in pieces}
        self.layers = system.system.layers
        self.begin = system.hours.index[0]
        self.data_end = _HOUR * len(system.hours.index)
        self.shifts = _Shifts(system.site, job.crew)
        self.hours = [LayerHours(each) for each in system.jobs]
        self.found: dict[tuple[str, str], Violation] = {}
        self.placements = sorted(placements, key=lambda each: each.start)
        self.films: list[tuple[Placement, _Film]] = []
        self.planned: dict[tuple[str, int], _Film] = {}
        self.laid: dict[tuple[str, int], _Film] = {}

    def run(self) -> tuple[Violation, ...]:
        """Return what is wrong."""
        for piece in self.pieces.values():
            for record in piece.laid:
                film = self._film(piece.name, record.layer, record.start, record.end)
                if record.prepared is not None:
                    again = (record.prepared - self.begin).total_seconds()
                    film = replace(film, prepared=again)
                self.laid[piece.name, record.layer] = film
        for placement in self.placements:
            if self._known(placement):
                film = self._film(
                    placement.piece, placement.layer, placement.start, placement.end
                )  # fmt: skip
                self._repeat(film)
                self.planned.setdefault((film.piece, film.layer), film)
                self.films.append((placement, film))
        for placement, film in self.films:
            self._time(placement, film)
            self._crew(film)
            self._shift(placement, film)
            self._gate(film)
            self._substrate(film)
            self._order(film)
            self._next(film)
            self._cover(film)
            self._walk(film)
            self._clocks(placement, film)
        self._overlap()
        self._open_area()
        self._extra_days()
        return tuple(self.found.values())

    def _film(self, piece: str, layer: int, start: pd.Timestamp, end: pd.Timestamp) -> _Film:
        return _Film(
            self._label(piece, layer),
            piece,
            layer,
            (start - self.begin).total_seconds(),
            (end - self.begin).total_seconds(),
            self.shifts.day_of(start, end),
        )

    def _label(self, piece: str, layer: int) -> str:
        name = f" ({self.layers[layer].name})" if 0 <= layer < len(self.layers) else ""
        return f"{piece}, layer {layer + 1}{name}"

    def _tell(self, label: str, rule: str, text: str) -> None:
        """Keep the first that is found of a rule and a placement."""
        self.found.setdefault((label, rule), Violation(label, rule, text))

    def _clock(self, second: float) -> str:
        """Return a time by the site's clock."""
        when = self.begin + pd.Timedelta(seconds=second)
        whole = "%H:%M:%S" if when.second else "%H:%M"
        return when.tz_convert(self.system.site.zone).strftime(f"%Y-%m-%d {whole}")

    def _inside(self, film: _Film) -> bool:
        return film.first >= 0 and film.until <= self.data_end and film.last >= film.first

    def _below(self, film: _Film) -> _Film | None:
        """Return the layer below a planned one, planned or laid."""
        key = (film.piece, film.layer - 1)
        return self.laid.get(key) or self.planned.get(key)

    def _opens(self, film: _Film) -> int | None:
        """Return when the layer over a film may start, None where that is not known. [s]"""
        if not 0 <= film.last < self.data_end // _HOUR:
            return None
        return self.hours[film.layer].milestone("recoat_opens", film.last)

    def _is_last(self, film: _Film) -> bool:
        return film.layer + 1 == len(self.layers)

    def _known(self, placement: Placement) -> bool:
        """Check the names of a placement; tell whether its piece and its layer are there."""
        label = self._label(placement.piece, placement.layer)
        piece = self.pieces.get(placement.piece)
        if piece is None:
            self._tell(label, "known", f"there is no piece {placement.piece}")
            return False
        if not 0 <= placement.layer < len(self.layers):
            self._tell(
                label, "known", f"the system has {len(self.layers)} layers, no layer "
                f"{placement.layer + 1}",
            )  # fmt: skip
            return False
        if not abs(placement.area_m2 - piece.area_m2) <= _TIE_SHARE * piece.area_m2:
            self._tell(
                label, "known", f"the area is given as {placement.area_m2:.2f} m2 and is "
                f"{piece.area_m2:.2f} m2",
            )  # fmt: skip
        coating = self.hours[placement.layer].coating.name
        for what, given, right in (
            ("section", placement.section, piece.section),
            ("layer", placement.layer_name, self.layers[placement.layer].name),
            ("coating", placement.coating, coating),
        ):
            if given != right:
                self._tell(label, "known", f"the {what} is given as {given} and is {right}")
        return True

    def _repeat(self, film: _Film) -> None:
        if (film.piece, film.layer) in self.laid:
            self._tell(film.label, "repeat", "the layer is laid already")
        elif (film.piece, film.layer) in self.planned:
            before = self.planned[film.piece, film.layer]
            self._tell(
                film.label, "repeat", f"the layer is planned twice, at {self._clock(before.start)} "
                f"and at {self._clock(film.start)}",
            )  # fmt: skip

    def _order(self, film: _Film) -> None:
        if film.layer == 0:
            return
        below = self._below(film)
        if below is None:
            self._tell(
                film.label, "order", f"layer {film.layer} below it is neither laid nor planned"
            )
        elif below.end > film.start:
            self._tell(
                film.label, "order", f"it starts at {self._clock(film.start)}, before layer "
                f"{film.layer} below it ends at {self._clock(below.end)}",
            )  # fmt: skip

    def _time(self, placement: Placement, film: _Film) -> None:
        if placement.start < self.now:
            now = (self.now - self.begin).total_seconds()
            self._tell(
                film.label, "past", f"it starts at {self._clock(film.start)}, before now "
                f"({self._clock(now)})",
            )  # fmt: skip
        if film.start < 0 or film.end > self.data_end:
            self._tell(
                film.label, "data", f"{self._clock(film.start)} to {self._clock(film.end)} is not "
                f"inside the weather, {self._clock(0)} to {self._clock(self.data_end)}",
            )  # fmt: skip

    def _rate_m2_h(self, layer: int) -> float | None:
        """Return the area laid in an hour, None where nothing tells it. [m2/h]"""
        crew, material, own = self.job.crew, self.job.material, self.layers[layer]
        names = [each.name for each in self.layers]
        number = str(layer + 1)
        if own.name in crew.rates:
            return crew.rates[own.name]
        if number in crew.rates and number not in names:
            return crew.rates[number]
        solids = self.system.system.profiles[layer].film.get("volume_solids")
        if solids is None:
            return None
        wet_mm = own.dry_film.si / solids.si / 1000
        sprayed_l_h = 60 * crew.pump * crew.trigger_share
        return sprayed_l_h * (1 - material.loss) / (wet_mm * material.texture)

    def _crew(self, film: _Film) -> None:
        rate = self._rate_m2_h(film.layer)
        if rate is None:
            self._tell(film.label, "crew", "nothing tells how much the crew lays in an hour")
            return
        area = self.pieces[film.piece].area_m2 * self.layers[film.layer].area_share
        needed = _HOUR * area / rate
        if film.end - film.start < needed - _TIE_S or film.end <= film.start:
            self._tell(
                film.label, "crew", f"the work takes {needed / 60:.1f} min and is given "
                f"{(film.end - film.start) / 60:.1f} min",
            )  # fmt: skip

    def _shift(self, placement: Placement, film: _Film) -> None:
        told = f"{self._clock(film.start)} to {self._clock(film.end)}"
        day, crew = film.day, self.job.crew
        if day is None:
            self._tell(film.label, "shift", f"{told} does not lie in one shift")
            return
        if not self.shifts.works(day):
            self._tell(
                film.label, "shift", f"nobody works in the shift of {WEEKDAYS[day.weekday()]} {day}"
            )
        if placement.shift != day:
            self._tell(film.label, "shift", f"the shift is given as {placement.shift} and is {day}")
        opens, closes = (
            (at - self.begin).total_seconds() for at in self.shifts.span(day)
        )  # fmt: skip
        before, after = film.start - opens, closes - film.end
        if before < _HOUR * crew.set_up - _TIE_S:
            self._tell(
                film.label, "shift", f"{before / 60:.0f} min of the shift are left for setting up, "
                f"which takes {60 * crew.set_up:.0f} min",
            )  # fmt: skip
        if after < _HOUR * crew.clean_up - _TIE_S:
            self._tell(
                film.label, "shift", f"{after / 60:.0f} min of the shift are left for cleaning up, "
                f"which takes {60 * crew.clean_up:.0f} min",
            )  # fmt: skip

    def _overlap(self) -> None:
        """Check that one crew is in one place, with the time to move between two."""
        for at, (_, film) in enumerate(self.films):
            for _, before in self.films[:at]:
                if before.end > film.start:
                    self._tell(
                        film.label, "overlap", f"it starts at {self._clock(film.start)}, while "
                        f"the crew is at {before.label} until {self._clock(before.end)}",
                    )  # fmt: skip
        for (_, before), (_, film) in pairwise(self.films):
            gap = film.start - before.end
            same = before.day is not None and before.day == film.day
            if same and gap < _HOUR * self.job.crew.move - _TIE_S:
                self._tell(
                    film.label, "overlap", f"{gap / 60:.0f} min lie between it and {before.label}, "
                    f"and a move takes {60 * self.job.crew.move:.0f} min",
                )  # fmt: skip

    def _substrate(self, film: _Film) -> None:
        """Check that the roof is known to be dry below the first film that holds moisture in."""
        if not self._inside(film):
            return
        for row in range(film.first, film.last + 1):
            state = self._roof(film.layer, row)
            if state is not State.OK:
                self._tell(
                    film.label, "substrate", f"in the hour from {self._clock(_HOUR * row)} the "
                    f"roof below is {'not known to be' if state is State.UNKNOWN else 'not'} dry",
                )  # fmt: skip
                return

    def _roof(self, layer: int, row: int) -> State:
        """Return whether the roof is dry enough for a layer: by a reading, or by its time."""
        profiles = self.system.system.profiles
        ground = self.job.substrate
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
            answers.append(self._rain_free(layer, row - ceil(ground.dry_out), row))
        if ground.moisture is not None and ground.read_at is not None:
            read_at = local_moment(ground.read_at, self.system.site.zone)
            read = int((read_at - self.begin).total_seconds() // _HOUR)
            if read <= row and read_at <= self.now:  # else nothing has been measured
                answers.append(self._rain_free(layer, read, row))
        return min(answers, default=State.UNKNOWN)  # either of them shows it

    def _rain_free(self, layer: int, begin: int, row: int) -> State:
        """Return whether no rain fell from a row to the end of another."""
        rain = self.system.jobs[layer].conditions.rain_most_mm[max(begin, 0) : row + 1].tolist()
        if sum(fell for fell in rain if not isnan(fell)) >= _RAIN_MM - _TIE_H:
            return State.BLOCKED
        return State.UNKNOWN if begin < 0 or any(isnan(fell) for fell in rain) else State.OK

    def _gate(self, film: _Film) -> None:
        if not self._inside(film):
            return
        for row in range(film.first, film.last + 1):
            checks = self.hours[film.layer].checks(row)
            broken = [
                f"{name}: {'not known' if state is State.UNKNOWN else 'blocked'}"
                for name, state in checks.items() if state is not State.OK
            ]  # fmt: skip
            if broken:
                self._tell(
                    film.label, "gate", f"in the hour from {self._clock(_HOUR * row)} not all is "
                    f"well ({'; '.join(broken)})",
                )  # fmt: skip
                return

    def _next(self, film: _Film) -> None:
        """Check that a layer keeps to the clocks of the one below it."""
        below = self._below(film)
        if below is None:
            return
        opens = self._opens(below)
        if opens is None:
            self._tell(
                film.label, "opens", f"it is not known when layer {film.layer} below it opens"
            )
        elif film.start < opens:
            self._tell(
                film.label, "opens", f"it starts at {self._clock(film.start)}, and layer "
                f"{film.layer} below it opens at {self._clock(opens)}",
            )  # fmt: skip
        due, sure = self.hours[below.layer].due(below.due_from)
        if film.until > sure:
            deadline = "not known" if due is None else self._clock(due)
            self._tell(
                film.label, "due", f"its last hour ends at {self._clock(film.until)}, and the "
                f"deadline of layer {film.layer} below it is {deadline}",
            )  # fmt: skip
        # What is laid already is past mending: its deadline counts, its shift is over.
        planned = (below.piece, below.layer) not in self.laid
        if planned and self.layers[below.layer].next.same_shift and film.day != below.day:
            self._tell(
                film.label,
                "same_shift",
                f"it lies in the shift of {film.day or 'no day'}, and layer {film.layer} below it "
                f"in that of {below.day or 'no day'}",
            )

    def _cover(self, film: _Film) -> None:
        if self._is_last(film) or (film.piece, film.layer + 1) in self.planned:
            return
        due, sure = self.hours[film.layer].due(film.first)
        if sure <= self.data_end and (due is not None or sure < self.data_end):
            deadline = "is not known" if due is None else f"is {self._clock(due)}"
            self._tell(
                film.label, "cover", f"layer {film.layer + 2} over it is not planned, and its "
                f"deadline {deadline}",
            )  # fmt: skip
        elif self.layers[film.layer].next.same_shift:
            self._tell(
                film.label, "cover", f"layer {film.layer + 2} over it is not planned in its shift"
            )
        elif self.system.system.must_be_covered(film.layer) and not self.open_beyond:
            self._tell(
                film.label, "cover", f"it must be covered, and layer {film.layer + 2} over it is "
                "not planned",
            )  # fmt: skip

    def _walk(self, film: _Film) -> None:
        """Check that no way to a piece is closed while a crew works on it."""
        over = self.pieces[film.piece].access_over
        ways = {piece.name for piece in self.pieces.values() if piece.section in over}
        planned = [each for _, each in self.films if each.piece in ways]
        laid = [each for each in self.laid.values() if each.piece in ways]
        for way in (*laid, *planned):
            opens = self._opens(way)
            if way.last < 0:  # what it cured before the data is not known and counts for nothing
                opens = self.hours[way.layer].milestone("recoat_opens", 0)
            if way.start < film.end and (opens is None or film.start < opens):
                until = "a time that is not known" if opens is None else self._clock(opens)
                self._tell(
                    film.label, "walk", f"the way over {way.label} is closed from "
                    f"{self._clock(way.start)} to {until}",
                )  # fmt: skip

    def _clocks(self, placement: Placement, film: _Film) -> None:
        """Check the times that the placement itself tells; a last layer has no deadline."""
        if not self._inside(film):
            return
        due = None if self._is_last(film) else self.hours[film.layer].due(film.first)[0]
        for name, given, right in (
            ("opens", placement.opens, self._opens(film)),
            ("due", placement.due, due),
        ):
            told = None if given is None else (given - self.begin).total_seconds()
            if told is None or right is None:
                same = told is None and right is None
            else:
                same = abs(told - right) <= _TIE_S
            if not same:
                words = ["not known" if at is None else self._clock(at) for at in (told, right)]
                self._tell(
                    film.label, "clocks", f"'{name}' is given as {words[0]} and is {words[1]}"
                )

    def _bare(self) -> Iterator[_Film]:
        """Yield each film that must be covered, as the time for which it lies bare."""
        whole = self.planned | self.laid
        for (piece, layer), film in whole.items():
            if self.system.system.must_be_covered(layer) and not self._is_last(film):
                above = whole.get((piece, layer + 1))
                end = self.data_end if above is None else above.end
                yield _Film(film.label, piece, layer, film.start, end, film.day)

    def _open_area(self) -> None:
        """Check the bare area where it grows: at the start of each layer that must be covered."""
        most, bare = self.job.crew.open_area, list(self._bare())
        if most is None:
            return
        for film in bare:
            before = {each.piece for each in bare if each.start < film.start < each.end}
            if film.piece in before or (film.piece, film.layer) in self.laid:
                continue
            lying = {each.piece for each in bare if each.start <= film.start < each.end}
            area = sum(self.pieces[name].area_m2 for name in lying)
            if area > most * (1 + _TIE_SHARE):
                self._tell(
                    film.label, "open_area", f"from {self._clock(film.start)} on {area:.0f} m2 lie "
                    f"bare, and {most:.0f} m2 may",
                )  # fmt: skip

    def _extra_days(self) -> None:
        """Check that an extra day makes up for a lost work day of its week, if it has to."""
        if not self.job.crew.extra_days_only_after_rain:
            return
        for _, film in self.films:
            day = film.day
            if day is None or self.shifts.regular(day) or not self.shifts.works(day):
                continue
            monday = day - timedelta(days=day.weekday())
            week = [monday + timedelta(days=n) for n in range(day.weekday())]
            if not any(self.shifts.regular(each) and self._lost(each) for each in week):
                self._tell(
                    film.label, "extra_days", f"it lies on {WEEKDAYS[day.weekday()]} {day}, and no "
                    "work day of that week before it is known to be lost",
                )  # fmt: skip

    def _lost(self, day: date) -> bool:
        """Tell whether every hour of a day's shift is known to be blocked for every layer."""
        opens, closes = ((at - self.begin).total_seconds() for at in self.shifts.span(day))
        rows = range(int(-(-opens // _HOUR)), int(closes // _HOUR))
        if not rows or rows[0] < 0 or rows[-1] >= self.data_end // _HOUR:
            return False
        return all(
            State.BLOCKED in (hours.state(row), self._roof(layer, row))
            for layer, hours in enumerate(self.hours)
            for row in rows
        )

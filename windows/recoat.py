"""Recoat and cover-by of one laid layer: when the next may follow, until when, and what is left.

Times are those of the definitions: recoat opens when the last-placed film has cured for it, from
the end of its hour; closes and cover-by count from the start of the first hour. A whole hour of the
next layer must lie between them.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from cure_models.coating import resolve
from cure_models.remedies import preparation, protection
from windows.cover import Cover, Deadline, Hazard, Left, Verdict, is_weak
from windows.crew import NO_SHIFT, shift_end, shifts
from windows.errors import HoursError
from windows.gates import State, check, deadlines
from windows.runs import runs
from windows.safety import cautions

if TYPE_CHECKING:
    import pandas as pd

    from cure_models.profile import Profile
    from cure_models.remedies import Advice
    from windows.gates import States
    from windows.layers import SystemHours
    from windows.pieces import LaidRecord

__all__ = ["check_cover", "present_hour"]


def check_cover(
    system: SystemHours, record: LaidRecord, now: pd.Timestamp, *, covered: bool = False
) -> Cover:
    """Check one laid layer against its deadlines.

    Parameters
    ----------
    system
        The system in a weather that holds the placement.
    record
        The layer and when it was laid.
    now
        The present: windows before it are gone.
    covered
        Whether the next layer lies on it already.

    Raises
    ------
    HoursError
        If the weather does not hold the placement or the present.
    """
    first, last = _rows(system, record)
    present = present_hour(system, now)
    job = system.jobs[record.layer]
    checked = job.checked
    milestones = {
        name: None if np.isnan(times[last]) else system.time(float(times[last]))
        for name, times in checked.milestones.items()
    }
    since = first if record.prepared is None else _prepared_row(system, record.prepared)
    told = _deadlines(system, record.layer, since)
    opens_h = float(checked.milestones["recoat_opens"][last])
    due_h = float(checked.due[since])
    is_last = record.layer + 1 == len(system.jobs)
    if system.system.layers[record.layer].next.same_shift:
        ends = shift_end(system.hours.index, system.site, max(since, last))
        due_h = float(np.fmin(due_h, ends))
    # A clock minimum is certain whatever the cure does.
    clock_min = job.coating.milestone_clock_min_h.get("recoat_opens", 0.0)
    shut_until = max(float(checked.clock.blind[last]), last + 1 + clock_min)
    left, provisional = ((), ()) if is_last else _left(
        system, record.layer + 1, opens_h, due_h, present, shut_until
    )  # fmt: skip
    known_due = np.isfinite(due_h)
    least = 0 if is_last else system.jobs[record.layer + 1].coating.min_window_h
    bare = system.system.must_be_covered(record.layer)
    verdict = _verdict(
        covered=covered or is_last,
        overdue=known_due and present >= due_h,
        open_now=present >= opens_h,
        left=bool(left),
        undecided=bool(provisional) or not due_h <= len(job.hours.index),
        firm=all(
            each.firm or (not bare and _early(left, each.earliest, least)) for each in told
        ),
    )
    return Cover(
        layer=record.layer,
        hazards=_hazards(system, record.layer, first, last),
        placed_start=record.start,
        placed_end=record.end,
        now=now,
        milestones=milestones,
        opens=milestones["recoat_opens"],
        deadlines=told,
        due=system.time(due_h) if known_due else None,
        left=left,
        provisional=provisional,
        data_end=system.time(len(job.hours.index)),
        verdict=verdict,
        advice=_advice(verdict, system.system.profiles[record.layer], opened=present >= opens_h),
    )


def _advice(verdict: Verdict, profile: Profile, *, opened: bool) -> tuple[Advice, ...]:
    """Return what to do with a layer that is late, or may not be covered in time."""
    if verdict is Verdict.OVERDUE:
        return (preparation(profile),)
    if verdict in (Verdict.NONE_LEFT, Verdict.UNDETERMINED):
        return (*protection(profile, opened=opened), preparation(profile))
    return ()


def _rows(system: SystemHours, record: LaidRecord) -> tuple[int, int]:
    """Return the first and the last row that a placement touches."""
    first, after = system.rows(record.start, record.end)
    if first < 0 or after > len(system.hours.index):
        mend = (
            "that begins before the placement, such as recorded hours joined to a forecast"
            if first < 0
            else "that reaches beyond the placement, such as a newer forecast"
        )
        raise HoursError(
            f"the placement of {_clock(system, record.start)} lies outside the weather, which "
            f"holds {_span(system)}; give weather {mend}"
        )
    return first, after - 1


def _hazards(system: SystemHours, layer: int, first: int, last: int) -> tuple[Hazard, ...]:
    """Return the gates that break for a layer laid from one hour to another, and when."""
    job = system.jobs[layer]
    found = []
    for gate in job.coating.gates:
        if not (job.checked.gates[gate.name][first : last + 1] == State.BLOCKED).any():
            continue
        ends = job.checked.hold_ends.get(gate.name)
        to = last + 1 if ends is None else int(ends[last])
        fails = check(job.conditions.quantity(gate.rule.quantity)[first:to], gate)
        broken = np.flatnonzero(fails == State.BLOCKED)
        if broken.size:
            found.append(Hazard(gate, system.time(first + float(broken[0]))))
    return tuple(sorted(found, key=lambda each: each.at))


def _prepared_row(system: SystemHours, prepared: pd.Timestamp) -> int:
    """Return the row in which a layer was prepared again; at the very end, the last one."""
    moment = system.moment(prepared)
    if not 0 <= moment <= len(system.hours.index):
        raise HoursError(
            f"the layer was prepared again at {_clock(system, prepared)}, outside the weather, "
            f"which holds {_span(system)}; give weather that holds it"
        )
    return min(int(np.floor(moment)), len(system.hours.index) - 1)


def present_hour(system: SystemHours, now: pd.Timestamp) -> float:
    """Return the present in hours since the first row. [h]

    Raises
    ------
    HoursError
        If the weather does not hold it.
    """
    moment = system.moment(now)
    if not 0 <= moment <= len(system.hours.index):
        raise HoursError(
            f"now is {_clock(system, now)}, but the weather holds {_span(system)}; give newer "
            "weather, or --now for another moment"
        )
    return moment


def _clock(system: SystemHours, when: pd.Timestamp) -> str:
    return f"{when.tz_convert(system.site.zone):%Y-%m-%d %H:%M}"


def _span(system: SystemHours) -> str:
    end = system.time(len(system.hours.index))
    return f"{_clock(system, system.hours.index[0])} to {_clock(system, end)} by the site's clock"


def _deadlines(system: SystemHours, layer: int, first: int) -> tuple[Deadline, ...]:
    """Return the deadlines of a film that was begun in a row, with the ends of their ranges."""
    job = system.jobs[layer]
    profile = system.system.profiles[layer]
    ends = [
        deadlines(
            resolve(
                profile, method=job.coating.method, limits=limits,
                dry_film_um=job.coating.dry_film_um,
            ),
            job.conditions,
        )
        for limits in ("careful", "lenient")
    ]  # fmt: skip
    found = []
    for name in job.checked.deadlines:
        at, earliest, latest = (
            None if np.isnan(times[name][first]) else system.time(float(times[name][first]))
            for times in (job.checked.deadlines, *ends)
        )
        entries = [profile.deadlines[key] for key in profile.deadlines if key.startswith(name)]
        weak = [entry for entry in entries if is_weak(entry)]
        found.append(Deadline(name, at, earliest, latest, not weak, (weak or entries)[0]))
    return tuple(found)


def _left(
    system: SystemHours, layer: int, opens_h: float, due_h: float, present: float, shut_until: float
) -> tuple[tuple[Left, ...], tuple[Left, ...]]:
    """Return the windows of a layer between opening and deadline: sure ones, provisional ones."""
    job = system.jobs[layer]
    states = recoat_states(job.found.hour, opens_h, due_h, present, shut_until)
    shift = shifts(job.hours.index, job.site)
    least = job.coating.min_window_h
    sure = runs((states == State.OK) & (shift != NO_SHIFT), shift, least)
    maybe = [
        (a, b)
        for a, b in runs((states != State.BLOCKED) & (shift != NO_SHIFT), shift, least)
        if (states[a:b] == State.UNKNOWN).any()
    ]
    chances = {n: window.dry_chance for n, window in enumerate(job.found.windows, start=1)}

    def left(start: int, end: int, *, known: bool) -> Left:
        number = int(job.found.window_number[start]) if known else 0
        told = cautions(job.conditions, job.coating, start, end) if known else ()
        return Left(
            system.time(start), system.time(end), end - start, known, chances.get(number), told
        )  # fmt: skip

    return (
        tuple(left(a, b, known=True) for a, b in sure),
        tuple(left(a, b, known=False) for a, b in maybe),
    )


def recoat_states(
    hour: States, opens_h: float, due_h: float, present: float, shut_until: float
) -> States:
    """Return the state of each hour as a recoat hour.

    Parameters
    ----------
    hour
        State of each hour for the next layer, crew and safety included, shape (hours,).
    opens_h
        When recoat opens, hours since the first row, NaN where not known. [h]
    due_h
        The deadline, NaN where it lies after the data, infinite where there is none. [h]
    present
        Hours that begin before it are gone. [h]
    shut_until
        Until then a film that is not known to open is known to be shut: its cure is known, or a
        clock minimum has not passed. [h]
    """
    row = np.arange(len(hour))
    states = hour.copy()
    if np.isnan(opens_h):
        states[states == State.OK] = State.UNKNOWN
    states[row < (shut_until if np.isnan(opens_h) else opens_h)] = State.BLOCKED
    states[row < present] = State.BLOCKED
    if not np.isnan(due_h):
        states[row + 1 > due_h] = State.BLOCKED
    return states


def _early(left: tuple[Left, ...], earliest: pd.Timestamp | None, least: int) -> bool:
    """Tell whether a window is left before the earliest that a deadline may be, of ``least`` h."""
    return bool(left) and (earliest is None or left[0].start + timedelta(hours=least) <= earliest)


def _verdict(
    *, covered: bool, overdue: bool, open_now: bool, left: bool, undecided: bool, firm: bool
) -> Verdict:
    if covered:
        return Verdict.COVERED
    if overdue:
        return Verdict.OVERDUE
    if not left:
        return Verdict.UNDETERMINED if undecided else Verdict.NONE_LEFT
    if not firm:
        return Verdict.DATA_SHEET
    return Verdict.IN_TIME if open_now else Verdict.NOT_YET_OPEN

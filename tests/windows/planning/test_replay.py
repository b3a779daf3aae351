"""Crews replayed from many beginnings at once, against the same rules followed step by step.

The steps are those of the planner (`insert`, `follow`), and of two references in plain Python that
know only the definitions.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import plain_seasons
import plain_steady
import plan_cases as cases
import pytest
from season_cases import airport

from cure_models.system import load_system
from windows.crew import NO_SHIFT
from windows.gates import State
from windows.job_file import JobFile
from windows.planning.build import problems
from windows.planning.insert import insert
from windows.planning.layer_times import LayerTimes
from windows.planning.problem import FAR, TICKS_PER_HOUR
from windows.planning.replay import replay_blind, replay_steady
from windows.planning.rules import STEADY, follow
from windows.planning.work_shifts import WorkShifts, work_shifts
from windows.seasons.days import local_days
from windows.seasons.layers import season_layers

DAYS = 45
SHIFT = (7, 17)
SYSTEMS = ("spf_silicone", "acrylic_reinforced", "acrylic_two_coat", "silicone_one_coat")
loaded = cache(load_system)


def layer(rng, *, gaps, deadline_h):
    """Return random hours of a layer: runs of good ones, cure of some hours, perhaps a deadline."""
    rows = 24 * DAYS
    good = np.zeros(rows, dtype=bool)
    begin = 0
    while begin < rows:
        length = int(rng.integers(3, 60))
        good[begin : begin + length] = rng.random() < 0.6
        begin += length
    states = np.where(good, State.OK, State.BLOCKED).astype(np.int8)
    cure = rng.choice([2, 9, 20, 50])
    hours = np.arange(rows) + 1 + cure * rng.uniform(0.7, 1.6, rows)
    hours = np.maximum.accumulate(hours)  # a film laid later is not ready sooner
    hours[hours > rows] = np.nan
    if gaps:
        for _ in range(3):
            at = int(rng.integers(0, rows - 30))
            states[at : at + 3] = State.UNKNOWN
            hours[at - 20 : at] = np.nan
    due = np.arange(rows) + float(deadline_h)
    return states, hours, due


def case(seed):
    """Return a random job: the problems, and the same in the words of the plain references."""
    rng = np.random.default_rng(seed)
    system = loaded(str(rng.choice(SYSTEMS)))
    deadlines = rng.choice([40, 60, 90, 200, np.inf], len(system.layers))
    layers = [layer(rng, gaps=rng.random() < 0.4, deadline_h=h) for h in deadlines]
    rows = 24 * DAYS
    times = [
        LayerTimes(
            states,
            np.where(np.isnan(hours), FAR, np.ceil(hours * TICKS_PER_HOUR)).astype(np.int32),
            np.where(due <= rows, np.floor(due * TICKS_PER_HOUR), FAR).astype(np.int32),
        )
        for states, hours, due in layers
    ]
    worked = np.array([day for day in range(DAYS) if day % 7 < 5])
    set_up = float(rng.choice([0, 0.5, 1]))
    crew = {
        "rates": {each.name: f"{int(rng.choice([60, 100, 150]))} m2/h" for each in system.layers},
        "set_up": f"{set_up} h", "clean_up": "0.5 h", "move": f"{rng.choice([0, 0.5, 1])} h",
    }  # fmt: skip
    if rng.random() < 0.4:
        crew["open_area"] = f"{rng.choice([350, 600, 700])} m2"
    job = JobFile.model_validate({"crew": crew})
    count = int(rng.integers(1, 4))
    pieces = [cases.piece(f"S{n}", area=float(rng.choice([200, 300, 300]))) for n in range(count)]
    if count > 1 and rng.random() < 0.4:
        pieces[-1] = replace(pieces[-1], access_over=("S0",))
    if count > 2 and rng.random() < 0.3:
        pieces[0] = replace(pieces[0], access_over=("S1",))
    first = (24 * worked + SHIFT[0]) * TICKS_PER_HOUR + int(set_up * TICKS_PER_HOUR)
    last = (24 * worked + SHIFT[1]) * TICKS_PER_HOUR - 1
    shifts = WorkShifts(first, last, worked.astype(np.int64), np.full(worked.shape, False))
    problem, blind = problems(system, times, shifts, pieces, job, 0, whole=True)
    return problem, blind, shifts, plainly(system, layers, pieces, job)


def plainly(system, layers, pieces, job):
    """Return layers, pieces, crew and shifts as the plain references take them."""
    names = {State.OK: "OK", State.UNKNOWN: "UNKNOWN", State.BLOCKED: "BLOCKED"}
    told = [
        {
            "states": [names[State(value)] for value in states.tolist()],
            "opens": [None if np.isnan(value) else value for value in hours.tolist()],
            "due": [None if np.isinf(value) else value for value in due.tolist()],
            "must": system.must_be_covered(n),
            "same_shift": system.layers[n].next.same_shift,
        }
        for n, (states, hours, due) in enumerate(layers)
    ]
    parts = [
        {
            "name": piece.name, "section": piece.section, "area": piece.area_m2,
            "over": list(piece.access_over),
            "hours": [
                piece.area_m2 * each.area_share / job.crew.rates[each.name]
                for each in system.layers
            ],
        }
        for piece in pieces
    ]  # fmt: skip
    crew = {name: getattr(job.crew, name) for name in ("set_up", "clean_up", "move", "open_area")}
    row = np.arange(24 * DAYS)
    inside = (row % 24 >= SHIFT[0]) & (row % 24 < SHIFT[1]) & (row // 24 % 7 < 5)
    days = [int(r) // 24 if ok else None for r, ok in zip(row, inside, strict=True)]
    return told, parts, crew, days


def placements(found, case):
    """Return what was laid in a case: piece, layer, start, end."""
    taken = np.argwhere(found.start[:, :, case] < FAR)
    return [
        (int(p), int(n), int(found.start[p, n, case]), int(found.end[p, n, case])) for p, n in taken
    ]


def step_by_step(problem, starts):
    return sorted(
        (
            each.task, each.layer,
            int(problem.tasks[each.task].choices[each.layer].start[each.at]),
            int(problem.tasks[each.task].choices[each.layer].start[each.at])
            + problem.tasks[each.task].choices[each.layer].length,
        )
        for each in starts
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(60))
def test_both_crews_equal_the_planner_day_by_day(seed, outside):
    """60 jobs x 9 beginnings, of each crew: 540 cases of either."""
    problem, blind, shifts, _ = case(seed)
    begin = shifts.first
    steady, unseeing = replay_steady(problem, begin), replay_blind(blind, begin)
    rng = np.random.default_rng(seed)
    for n in rng.choice(begin.size, 9, replace=False).tolist():
        now = int(begin[n])
        found = insert(replace(problem, begin=now), tries=10**6)
        outside.equal(
            "replay of the steady crew, placements, random jobs and starts", placements(steady, n),
            step_by_step(problem, found), points=1, source="the planner's insertion",
        )  # fmt: skip
        whole = len(found) == sum(len(task.choices) for task in problem.tasks)
        assert whole == (steady.finish[n] < FAR)
        found = follow(replace(blind, begin=now), STEADY)
        outside.equal(
            "replay of the crew that does not look ahead, the same", placements(unseeing, n),
            step_by_step(blind, found), points=1, source="the planner's rule, step by step",
        )  # fmt: skip


@pytest.mark.exhaustive(every=4)
@pytest.mark.parametrize("seed", range(100, 140))
def test_the_steady_crew_equals_the_plain_reference(seed, outside):
    problem, _, shifts, plain = case(seed)
    found = replay_steady(problem, shifts.first)
    rng = np.random.default_rng(seed)
    for n in rng.choice(shifts.first.size, 3, replace=False).tolist():
        laid, finish = plain_steady.steady_crew(*plain, int(shifts.first[n]))
        outside.equal(
            "replay of the steady crew, placements and end, other jobs",
            (placements(found, n), found.finish[n]),
            (sorted(laid), FAR if finish is None else finish), points=1,
            source="a reference in plain Python, tests/plain_steady.py",
        )  # fmt: skip


@pytest.mark.parametrize("seed", range(200, 240))
def test_the_crew_that_does_not_look_ahead_equals_the_plain_reference(seed, outside):
    _, blind, shifts, (layers, pieces, crew, ids) = case(seed)
    found = replay_blind(blind, shifts.first)
    names = {piece["name"]: n for n, piece in enumerate(pieces)}
    plain = plain_seasons.Job(layers, pieces, crew, ids, False)
    until = np.full(shifts.first.shape, blind.end)
    for n in range(0, shifts.first.size, 4):
        told = plain_seasons.followed(plain, int(shifts.day[n]) * 24 + SHIFT[0])
        laid = sorted((names[name], *rest) for name, *rest in told["placements"])
        outside.equal(
            "replay of the crew that does not look ahead, placements, end and days, other jobs",
            (placements(found, n), found.finish[n], found.crew_days[n]),
            (laid, FAR if told["finish"] is None else told["finish"], told["crew_days"]), points=1,
            source="a reference in plain Python, tests/plain_seasons.py",
        )  # fmt: skip
        if told["finish"] is not None:
            assert told["stranded"] == found.stranded(until)[n]


FINISHED = (
    302, 304, 305, 306, 307, 308, 313, 314, 315, 321, 327, 328, 329, 330, 333, 334, 336, 338, 341,
)  # fmt: skip


@pytest.mark.parametrize("seed", FINISHED)
def test_no_interval_is_broken_by_the_steady_crew(seed):
    problem, _, shifts, _ = case(seed)
    found = replay_steady(problem, shifts.first)
    whole = found.finish < FAR
    assert whole.any()
    assert (found.stranded(np.full(shifts.first.shape, problem.end))[whole] == 0).all()
    below, above = found.start[:, :-1], found.start[:, 1:]
    assert (below[:, :, whole] < above[:, :, whole]).all()
    # One crew: no two placements overlap, and a move lies between them.
    start = np.sort(found.start.reshape(-1, shifts.first.size)[:, whole], axis=0)
    end = np.sort(found.end.reshape(-1, shifts.first.size)[:, whole], axis=0)
    assert (start[1:] >= end[:-1] + problem.move).all()


def test_a_real_year_from_every_start_day_equals_the_plain_references(outside, sweep):
    """JFK 2013, two coats of acrylic on three parts.

    The slow reference, of the steady crew, from every 24th day only, or from all.
    """
    hours, site = airport("JFK")
    system = loaded("acrylic_two_coat")
    job = JobFile.model_validate({"crew": {"rates": {n.name: "200 m2/h" for n in system.layers}}})
    days = local_days(hours.index, site)
    times = [each.times for each in season_layers(site, system, hours, job, days)]
    shifts = work_shifts(hours.index, site, job, [each.states for each in times])
    parts = [cases.piece(f"S{n}", area=700.0) for n in range(3)]
    problem, blind = problems(system, times, shifts, parts, job, 0, whole=True)
    layers = [
        (each.states, in_hours(each.opens, np.nan), in_hours(each.due, np.inf)) for each in times
    ]
    told, pieces, crew, _ = plainly(system, layers, parts, job)
    ids = [None if day == NO_SHIFT else day for day in days.shift.tolist()]
    steady, unseeing = replay_steady(problem, shifts.first), replay_blind(blind, shifts.first)
    assert shifts.first.size == 248
    assert (steady.finish < FAR).mean() > 0.7
    plain = plain_seasons.Job(told, pieces, crew, ids, False)
    for n, tick in enumerate(shifts.first.tolist()):
        finish = plain_seasons.followed(plain, (tick - 1) // 2)["finish"]
        outside.equal(
            "end of a job begun on any day of JFK 2013, crew that does not look ahead",
            unseeing.finish[n], FAR if finish is None else finish,
            source="a reference in plain Python, tests/plain_seasons.py",
        )  # fmt: skip
    for n in sweep(shifts.first.size, every=24):
        _, finish = plain_steady.steady_crew(told, pieces, crew, ids, int(shifts.first[n]))
        outside.equal(
            "the same, steady crew, from some of the days", steady.finish[n],
            FAR if finish is None else finish,
            source="a reference in plain Python, tests/plain_steady.py",
        )  # fmt: skip


def in_hours(ticks, never):
    return np.where(ticks >= FAR, never, ticks / TICKS_PER_HOUR)

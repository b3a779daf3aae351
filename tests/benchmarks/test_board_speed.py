"""How long the crews of a hundred sites take, and how far from the best they may be then.

Run with ``pytest tests/benchmarks/test_board_speed.py -n 0 --benchmark-only -s`` while the machine
has nothing else to do; it takes two minutes, and prints the load before and after.
"""

import os
import sys
from dataclasses import replace
from math import isfinite

import numpy as np
import pytest

from windows.board.assign import assign
from windows.board.dispatch import Dispatch, DispatchCrew, DispatchSite, Prices, kinds_of
from windows.planning.groups import possible
from windows.planning.problem import FAR, TICKS_PER_DAY, TICKS_PER_HOUR, Choice, Problem, Task

pytestmark = pytest.mark.skipif(
    "--benchmark-only" not in sys.argv, reason="timings run with --benchmark-only"
)
SITES, CREWS, DAYS = 100, 10, 10
SECONDS, LATE = 30.0, 2.0
REGIONS, FAIR = 4, 0.7  # weathers, and the share of fair days
YARDS = ((15.0, 30.0), (45.0, 30.0))  # where crews begin. [miles]
SKILLS = ((True, True, True), (True, True, False), (True, False, True))  # by kind of system
MILES_PER_HOUR, MONEY_PER_HOUR = 35.0, 300.0
PRICE, LATER = 1000.0, 25.0  # of 1,000 ft2 laid, and of a day later
THOUSANDTHS = 1000


def timed_choice(rng, fair, length, *, last):
    """Return a layer: half hours from the dew's end to the evening's on fair days."""
    spans = [
        np.arange(
            day * TICKS_PER_DAY + 18 + rng.integers(0, 4),
            day * TICKS_PER_DAY + 34 - rng.integers(0, 3) - length,
        )
        for day in fair
    ]
    start = np.concatenate([np.zeros(0, dtype=np.int64), *spans]).astype(np.int64)
    due = start + 7 * TICKS_PER_DAY
    beyond = last | (due > DAYS * TICKS_PER_DAY)
    return Choice(
        length, start, start // TICKS_PER_DAY, start + length + start % 2,
        start + length + int(rng.integers(16, 40)), np.where(beyond, FAR, due),
        np.full(start.shape, not last),
    )  # fmt: skip


def timed_site(rng, wet):
    """Return a site of two layers on two to five equal pieces, in the weather of its region."""
    area = rng.uniform(2.0, 12.0)  # 1,000 ft2
    fair = np.flatnonzero(~wet).tolist()
    choices = possible(
        tuple(
            timed_choice(rng, fair, int(rng.integers(3, 9)), last=layer == 1) for layer in range(2)
        ),
        (False, False),
    )
    worth = []
    for choice in choices:
        day, tick = choice.start // TICKS_PER_DAY, choice.start % TICKS_PER_DAY
        chance = 0.97 - 0.03 * day - 0.01 * np.maximum(0, tick - 24) - 0.1 * rng.random()
        steps = np.floor(20 * chance) / 20
        worth.append(
            np.rint(THOUSANDTHS * area * (PRICE / 2 * steps - LATER * day)).astype(np.int64)
        )
    pieces = int(rng.integers(2, 6))
    tasks = tuple(
        Task(f"S{n}", round(100 * area), 0, 0, choices, (False, False), (True, False))
        for n in range(pieces)
    )
    problem = Problem(
        tasks, (False,) * DAYS, tuple(day % 7 for day in range(DAYS)), 0, DAYS * TICKS_PER_DAY,
        move=1,
    )  # fmt: skip
    return DispatchSite(problem, tuple(range(DAYS)), (tuple(worth),) * pieces, (0,) * pieces)


def timed_crew(places, systems, yard, skills):
    """Return a crew that drives from its yard and lays some systems."""
    morning = np.arange(DAYS) * TICKS_PER_DAY + 7 * TICKS_PER_HOUR
    hours = [float(np.hypot(*(np.array(yard) - place))) / MILES_PER_HOUR for place in places]
    ticks = [int(np.ceil(TICKS_PER_HOUR * drive)) for drive in hours]
    return DispatchCrew(
        first=tuple(morning + drive for drive in ticks),
        last=tuple(morning + 10 * TICKS_PER_HOUR - drive for drive in ticks),
        may=tuple((skills[system],) * 2 for system in systems),
        visit=tuple(round(THOUSANDTHS * 2 * MONEY_PER_HOUR * drive) for drive in hours),
    )


def board(crews, seed=1):
    """Return a hundred sites; crews are of two yards and three skills, all alike or all unlike."""
    rng = np.random.default_rng(seed)
    wet = rng.random((REGIONS, DAYS)) > FAIR
    sites = tuple(timed_site(rng, wet[n % REGIONS]) for n in range(SITES))
    places = rng.uniform(0.0, 60.0, (SITES, 2))
    systems = rng.integers(0, len(SKILLS[0]), SITES).tolist()
    gang = []
    for number in range(CREWS):
        yard, skills = YARDS[number % 2], SKILLS[number % 3]
        if crews == "alike":
            yard, skills = (30.0, 30.0), (True, True, True)
        if crews == "unlike":
            yard = tuple(rng.uniform(10.0, 50.0, 2).tolist())
        gang.append(timed_crew(places, systems, yard, skills))
    return Dispatch(sites, tuple(gang), DAYS, Prices(move=400_000, change=500_000))


@pytest.mark.parametrize(
    ("crews", "kinds"), [("two yards, three skills", 6), ("alike", 1), ("unlike", 10)]
)
def test_a_hundred_sites(benchmark, crews, kinds):
    print(f"\nload before: {os.getloadavg()}")
    problem = board(crews)
    assert len(kinds_of(problem)) == kinds
    found = benchmark.pedantic(
        assign, (problem,), {"seconds": SECONDS}, rounds=1, iterations=1
    )
    gap = (found.bound - found.worth) / max(1.0, abs(found.bound))
    told = {
        "crews": crews, "seconds": found.seconds, "worth": found.worth, "bound": found.bound,
        "gap": gap, "optimal": found.optimal, "layers laid": len(found.taken),
        "visits": len(found.visits),
    }  # fmt: skip
    benchmark.extra_info.update(told)
    print(
        f"{SITES} sites, {CREWS} crews ({crews}), {DAYS} days: {found.seconds:.1f} s, worth "
        f"{found.worth / THOUSANDTHS:,.0f}, bound {found.bound / THOUSANDTHS:,.0f}, gap {gap:.1%}, "
        f"{len(found.taken)} layers in {len(found.visits)} visits"
    )
    print(f"load after: {os.getloadavg()}")
    assert found.seconds <= SECONDS + LATE
    assert isfinite(found.bound)
    assert found.worth > 0


def test_promises_kept_from_the_day_before(benchmark):
    """The same board planned anew with all that was promised of its first half."""
    problem = board("two yards, three skills")
    before = assign(problem, seconds=SECONDS / 3)
    who = {(v.site, v.shift): v.crew for v in before.visits}
    promised = {
        (t.site, t.task, t.layer): (who[t.site, shift], shift)
        for t in before.taken
        if (shift := problem.shift_of(t)) < DAYS // 2
    }
    problem = replace(problem, promised=promised)
    found = benchmark.pedantic(
        assign, (problem,), {"seconds": SECONDS}, rounds=1, iterations=1
    )
    gap = (found.bound - found.worth) / max(1.0, abs(found.bound))
    benchmark.extra_info.update({"promises": len(promised), "gap": gap, "worth": found.worth})
    print(
        f"\n{len(promised)} promises: {found.seconds:.1f} s, worth {found.worth / THOUSANDTHS:,.0f}"
        f" ({before.worth / THOUSANDTHS:,.0f} before), gap {gap:.1%}; load {os.getloadavg()}"
    )
    assert found.seconds <= SECONDS + LATE
    assert isfinite(found.bound)

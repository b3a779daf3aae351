"""How long a bid takes: thirty years, every start day, four layers; beside a pandas monthly mean,
and beside the plain loop that follows one start at a time.

Run with ``pytest tests/benchmarks/test_season_speed.py -n 0 --benchmark-only -s``.
"""

import sys
import tracemalloc

import numpy as np
import nyc_weather
import pandas as pd
import plain_site
import plain_steady
import pytest

from cure_models.system import load_system
from windows.gates import State
from windows.hours import check_hours
from windows.job_file import JobFile
from windows.planning.build import problems
from windows.planning.problem import FAR, TICKS_PER_HOUR
from windows.planning.replay import replay_blind, replay_steady
from windows.planning.work_shifts import work_shifts
from windows.provenance import Provenance
from windows.seasons.bid import bid_of
from windows.seasons.days import local_days
from windows.seasons.layers import season_layers
from windows.seasons.season import season_of
from windows.site import CrewHours
from windows.work_rate import equal_parts

pytestmark = pytest.mark.skipif(
    "--benchmark-only" not in sys.argv, reason="timings run with --benchmark-only"
)
SYSTEM = load_system("acrylic_reinforced")
JOB = JobFile()
PARTS = equal_parts(SYSTEM, 1858.0, JOB)  # 20,000 ft2
SITE = plain_site.site(absorptance=0.6).model_copy(
    update={
        "timezone": "America/New_York",
        "crew": CrewHours.model_validate(
            {"start": "07:00", "end": "17:30", "holidays": "US-NY",
             "work_days": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat")}
        ),
    }
)  # fmt: skip


def table(years):
    """Return the real year of JFK for each of some years, each warmer or colder by days."""
    year = nyc_weather.table("JFK")
    whole = pd.date_range("2013-01-01", "2014-01-01", freq="h", tz="UTC", inclusive="left")
    year = year.reindex(whole)
    last = f"{1990 + years}-01-01"
    times = pd.date_range("1990-01-01", last, freq="h", tz="UTC", inclusive="left")
    row = ((times.day_of_year - 1) * 24 + times.hour).to_numpy() % len(whole)
    columns = {name: year[name].to_numpy()[row] for name in year}
    warmer = np.repeat(np.random.default_rng(1).normal(0, 2, len(times) // 24), 24)
    for name in ("air_temp_c", "dew_point_c"):
        columns[name] = columns[name] + warmer
    columns["cloud"] = np.full(len(times), 0.4)
    return check_hours(columns, times, Provenance("timing", "JFK"))


@pytest.mark.parametrize("years", [1, 10, 30])
def test_bid(benchmark, years):
    hours = table(years)
    found = benchmark.pedantic(
        bid_of, (SITE, SYSTEM, hours, JOB, PARTS), rounds=5, iterations=1, warmup_rounds=1
    )
    assert found.cases.day.size > 250 * years


def test_season(benchmark):
    hours = table(30)
    found = benchmark.pedantic(
        season_of, (SITE, SYSTEM.profiles[1], hours), rounds=5, iterations=1, warmup_rounds=1
    )
    assert len(found.months) == 12


def test_layers_alone(benchmark):
    hours = table(30)
    days = local_days(hours.index, SITE)
    benchmark.pedantic(
        season_layers, (SITE, SYSTEM, hours, JOB, days), rounds=5, iterations=1, warmup_rounds=1
    )


@pytest.fixture(scope="module")
def replayed():
    """Return the two problems of thirty years, and the starts."""
    hours = table(30)
    days = local_days(hours.index, SITE)
    times = [each.times for each in season_layers(SITE, SYSTEM, hours, JOB, days)]
    found = work_shifts(hours.index, SITE, JOB, [each.states for each in times])
    both = problems(SYSTEM, times, found, PARTS, JOB, 0, whole=True)
    return hours, times, found, both


@pytest.mark.parametrize("crew", [0, 1], ids=["steady", "blind"])
def test_replay_alone(benchmark, replayed, crew):
    _, _, found, both = replayed
    run = (replay_steady, replay_blind)[crew]
    told = benchmark.pedantic(
        run, (both[crew], found.first), rounds=5, iterations=1, warmup_rounds=1
    )
    assert (told.finish < FAR).mean() > 0.9


def test_plain_loop(benchmark, replayed):
    """The steady crew from 20 starts, one after another, in plain Python over one year."""
    hours, times, found, both = replayed
    rows = 24 * 400
    names = {State.OK: "OK", State.UNKNOWN: "UNKNOWN", State.BLOCKED: "BLOCKED"}
    layers = [
        {
            "states": [names[State(v)] for v in each.states[:rows].tolist()],
            "opens": [None if v >= FAR else v / TICKS_PER_HOUR for v in each.opens[:rows].tolist()],
            "due": [None if v >= FAR else v / TICKS_PER_HOUR for v in each.due[:rows].tolist()],
            "must": SYSTEM.must_be_covered(n), "same_shift": SYSTEM.layers[n].next.same_shift,
        }
        for n, each in enumerate(times)
    ]  # fmt: skip
    task = both[0].tasks[0]
    work = [choice.length / TICKS_PER_HOUR for choice in task.choices]
    pieces = [
        {"name": p.name, "section": p.section, "area": p.area_m2, "hours": work, "over": []}
        for p in PARTS
    ]
    crew = {"set_up": 0.5, "clean_up": 0.5, "move": 0.5, "open_area": None}
    days = local_days(hours.index, SITE)
    shifts = [None if n < 0 else n for n in days.shift[:rows].tolist()]
    begin = found.first[100:120].tolist()

    def run():
        return [plain_steady.steady_crew(layers, pieces, crew, shifts, b)[1] for b in begin]

    got = benchmark.pedantic(run, rounds=1, iterations=1)
    want = replay_steady(both[0], found.first[100:120]).finish
    assert got == [int(v) if v < 2 * rows else None for v in want.tolist()]


def test_monthly_mean(benchmark):
    hours = table(30)
    month = hours.index.month
    benchmark.pedantic(
        lambda: hours.frame.groupby(month).mean(), rounds=7, iterations=1, warmup_rounds=1
    )


def test_memory(benchmark):
    hours = table(30)
    given = hours.frame.memory_usage().sum()
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    benchmark.pedantic(bid_of, (SITE, SYSTEM, hours, JOB, PARTS), rounds=1, iterations=1)
    peak = tracemalloc.get_traced_memory()[1] - before
    tracemalloc.stop()
    print(f"\ninput {given / 1e6:.1f} MB, most beside it {peak / 1e6:.0f} MB: {peak / given:.1f} x")

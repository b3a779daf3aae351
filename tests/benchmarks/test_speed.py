"""How long the main job and its physics take, on thirty years of hours, beside one year of plain
loops: the slow reference of gates and clock, and the physics hour by hour.

Run with ``pytest tests/benchmarks -n 0 --benchmark-only``.
"""

import sys

import numpy as np
import nyc_weather
import pandas as pd
import pytest
from plain_physics import AHEAD, from_site
from reference_windows import evaluate

from cure_models import load_profile
from cure_models.coating import resolve
from windows.conditions import coated, roof_in_table
from windows.gates import State
from windows.hours import check_hours
from windows.job import run_job
from windows.provenance import Provenance
from windows.site import Site

pytestmark = pytest.mark.skipif(
    "--benchmark-only" not in sys.argv, reason="timings run with --benchmark-only"
)
CREW = {
    "zone": "America/New_York",
    "start": "07:00",
    "end": "17:30",
    "weekdays": set(range(6)),
    "holidays": set(),
}
SITE = Site.model_validate(
    {
        "name": "test roof at an airport",
        "latitude": 40.6398,
        "longitude": -73.7789,
        "elevation": "4 m",
        "timezone": "America/New_York",
        "roof": {"area": "1,000 m2", "deck": "metal_insulated"},
        "surface": {"name": "gray membrane", "absorptance": 0.6, "emittance": 0.9},
        "crew": {
            "start": "07:00",
            "end": "17:30",
            "work_days": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat"),
        },
    }
)


def table(years):
    """Real hours of one year, said over again as often as asked."""
    year = nyc_weather.table("JFK")
    columns = {name: np.tile(year[name].to_numpy(), years) for name in year}
    columns["cloud"] = np.full(len(year) * years, 0.4)
    times = pd.date_range("1990-01-01", periods=len(year) * years, freq="h", tz="UTC")
    return check_hours(columns, times, Provenance("timing", "JFK"))


@pytest.mark.parametrize("years", [1, 30])
def test_main_job(benchmark, years):
    hours = table(years)
    profile = load_profile("acrylic")
    job = benchmark.pedantic(
        run_job, (SITE, profile, hours), rounds=5, iterations=1, warmup_rounds=1
    )
    assert len(job.found.windows) > 50 * years


def test_slow_reference(benchmark):
    job = run_job(SITE, load_profile("acrylic"), table(1))
    coating = resolve(load_profile("acrylic"))
    gates = [
        {
            "name": gate.name,
            "kind": gate.rule.kind,
            "quantity": gate.rule.quantity,
            "sense": gate.rule.sense,
            "limit": gate.limit,
            "inclusive": gate.rule.inclusive,
            "milestone": None if gate.clock_h is not None else gate.milestone,
            "clock_h": gate.clock_h,
        }
        for gate in coating.gates
    ]
    plain = {
        "gates": gates,
        "milestones": coating.milestones,
        "milestone_clock_min_h": coating.milestone_clock_min_h,
        "min_window_h": coating.min_window_h,
        "first_stage_h": coating.first_stage_h,
    }
    names = {gate["quantity"] for gate in gates} | {"cure_rate", "cure_rate_late"}
    columns = {name: job.conditions.quantity(name).tolist() for name in names}
    rows = [
        {"time_utc": time} | {name: values[k] for name, values in columns.items()}
        for k, time in enumerate(job.hours.index.to_pydatetime())
    ]
    crew_safety = [State(state).name for state in job.found.safety.tolist()]
    found = benchmark.pedantic(
        evaluate, (rows, plain, CREW, crew_safety), rounds=1, iterations=1
    )
    spans = [(window.start, window.end) for window in job.found.windows]
    assert found["windows"] == spans



def physics(hours, coating):
    return coated(roof_in_table(hours, SITE), coating)


@pytest.mark.parametrize("years", [1, 30])
def test_physics(benchmark, years):
    hours, coating = table(years), resolve(load_profile("acrylic"))
    found = benchmark.pedantic(physics, (hours, coating), rounds=7, iterations=1, warmup_rounds=1)
    assert found.cure_rate.size == len(hours.index)


def test_copying_what_goes_in(benchmark):
    frame = table(30).frame
    columns = [frame[name].to_numpy(np.float64) for name in frame]
    benchmark.pedantic(lambda: [c.copy() for c in columns], rounds=7, warmup_rounds=1)


def test_physics_as_a_plain_loop(benchmark):
    """One year; times 30 to set beside `test_physics`."""
    hours, coating = table(1), resolve(load_profile("acrylic"))
    columns = {name: hours.frame[name].to_numpy(np.float64) for name in AHEAD}
    rows = benchmark.pedantic(
        from_site, (columns, hours.index, SITE, coating), rounds=3, iterations=1, warmup_rounds=0
    )
    assert len(rows) == len(hours.index)

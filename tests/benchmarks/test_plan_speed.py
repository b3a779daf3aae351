"""How long the best plan of a job takes, and how far from the best it may be when time is up.

Run with ``pytest tests/benchmarks/test_plan_speed.py -n 0 --benchmark-only -s``; it takes some
minutes.
"""

import sys

import numpy as np
import pandas as pd
import plan_cases as cases
import pytest

from cure_models.system import load_system
from windows.hours import check_hours
from windows.job_file import JobFile
from windows.layers import system_hours
from windows.planning.build import build
from windows.planning.outcome import figures
from windows.planning.rules import RULES, follow
from windows.planning.solve import solve
from windows.provenance import Provenance

pytestmark = pytest.mark.skipif(
    "--benchmark-only" not in sys.argv, reason="timings run with --benchmark-only"
)
LAYERS = {
    "acrylic, 4 layers": ("primer_acrylic", *["acrylic"] * 3),
    "acrylic, 6 layers": ("primer_acrylic", *["acrylic"] * 5),
    "urethane, 6 layers": (
        "primer_epoxy", "urethane_aromatic", "urethane_aliphatic", *["acrylic"] * 3
    ),
}  # fmt: skip
FILM = {"primer_acrylic": 3, "primer_epoxy": 4, "urethane_aromatic": 16, "urethane_aliphatic": 10}
FT2 = 0.09290304


def system_file(folder, layers):
    """Write a system, each layer over what the one below it is."""
    text = ['schema = 1\nname = "timed"\ntitle = "a timing"']
    for n, coating in enumerate(LAYERS[layers]):
        text.append(
            f'[[layer]]\nname = "l{n + 1}"\ncoating = "{coating}"\n'
            f'over = ["{"metal" if not n else "acrylic"}"]\n'
            f"dry_film = {{ value = {FILM.get(coating, 13)}, "
            'unit = "mil", source = "own choice" }'
        )
    path = folder / "timed.toml"
    path.write_text("\n".join(text) + "\n")
    return str(path)


def mild(days, seed=7):
    """Return mild days: warm afternoons, dew on some mornings, a wet half day a week."""
    rng = np.random.default_rng(seed)
    rows = 24 * days
    hour = (np.arange(rows) - 4) % 24
    air = 20 + np.repeat(rng.normal(0, 1.5, days), 24) + 5 * np.cos((hour - 15) / 12 * np.pi)
    wet = np.zeros(rows, dtype=bool)
    for day in range(3, days, 7):
        wet[24 * day + 16 : 24 * day + 28] = True
    wind = rng.lognormal(0.8, 0.3, rows)
    columns = {
        "air_temp_c": air,
        "dew_point_c": np.where(wet, air - 0.5, np.minimum(11.0, air - 2)),
        "wind_m_s": wind, "gust_m_s": 1.3 * wind, "rain_mm": np.where(wet, 0.8, 0.0),
        "cloud": np.where(wet, 1.0, np.repeat(rng.uniform(0.1, 0.7, days), 24)),
    }  # fmt: skip
    times = pd.date_range("2026-06-01", periods=rows, freq="h", tz="UTC")
    return check_hours(columns, times, Provenance("timing", "a test"))


@pytest.mark.parametrize("seconds", [20, 60])
@pytest.mark.parametrize(
    ("sections", "layers", "days"),
    [(10, "acrylic, 4 layers", 14), (40, "acrylic, 6 layers", 21), (40, "urethane, 6 layers", 21)],
)
def test_best_plan(benchmark, tmp_path, sections, layers, days, seconds):
    system = load_system(system_file(tmp_path, layers))
    place = cases.site(work_days=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat"))
    found = system_hours(place, system, mild(days), start_wet_mm=0.0)
    pieces = [cases.piece(f"S{n:02}", area=1000 * FT2) for n in range(1, sections + 1)]
    job = JobFile.model_validate(
        {"crew": {"move": "0 h"}, "substrate": {"kind": "metal", "dry_out": "6 h"}}
    )
    built = build(found, pieces, job, cases.local("2026-06-01 06:00"))
    solved = benchmark.pedantic(
        solve, (built.problem,), {"seconds": seconds}, rounds=1, iterations=1
    )
    told = figures(built, built.problem, solved.starts)
    gap = 0.0 if solved.optimal or solved.cost <= 0 else 1 - solved.bound / solved.cost
    print(
        f"\n{sections} sections, {layers}, {days} days, {seconds} s asked: "
        f"{solved.seconds:.1f} s, {told.placed} of {told.of} laid, finish {told.finish_days:.1f} d,"
        f" {told.without_spare} without spare, cost {solved.cost / 1000:,.0f}, "
        f"bound {solved.bound / 1000:,.0f}, gap {gap:.1%}, optimal {solved.optimal}"
    )
    for rule in RULES:
        crew = figures(built, built.blind, follow(built.blind, rule))
        print(f"   {rule.name}: {crew.placed} laid, finish {crew.finish_days:.1f} d, "
              f"{crew.stranded} stranded, cost {crew.cost:,.0f}")  # fmt: skip
    assert solved.starts

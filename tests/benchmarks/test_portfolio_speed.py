"""How long the seasons of many sites take, with one process and with two workers.

Run with ``pytest tests/benchmarks/test_portfolio_speed.py -n 0 --benchmark-only -s`` while the
machine has nothing else to do; it takes three minutes, and prints the load before and after.
"""

import gzip
import os
import sys
import time
from functools import partial

import numpy as np
import nyc_weather
import pandas as pd
import pytest

from cure_models import load_profile
from windows.demo import demo_folder
from windows.hours import check_hours
from windows.provenance import Provenance
from windows.reports.output import write_whole
from windows.seasons.cluster import each_done
from windows.seasons.parts import plan_part, work_part
from windows.seasons.portfolio import Asked, read_rows
from windows.sources import canonical_csv

pytestmark = pytest.mark.skipif(
    "--benchmark-only" not in sys.argv, reason="timings run with --benchmark-only"
)
SITES, YEARS = 12, 30


def years_file(count):
    """Real hours of one year, said over again as often as asked."""
    year = nyc_weather.table("JFK")
    columns = {name: np.tile(year[name].to_numpy(), count) for name in year}
    columns["cloud"] = np.full(len(year) * count, 0.4)
    times = pd.date_range("1990-01-01", periods=len(year) * count, freq="h", tz="UTC")
    table = check_hours(columns, times, Provenance("timing", "JFK", kind="observed"))
    return gzip.compress(canonical_csv.write(table), 1)


def parts(folder, sites, content, asked):
    """Return the parts of so many sites, none of which is there."""
    for number in range(sites):
        home = folder / f"site{number}"
        home.mkdir(parents=True)
        text = (demo_folder() / "cool_north" / "site.toml").read_bytes()
        (home / "site.toml").write_bytes(text)
        (home / "years.csv.gz").write_bytes(content)
    (folder / "sites.csv").write_text("site\n" + "".join(f"site{n}\n" for n in range(sites)))
    (folder / "parts").mkdir()
    rows = read_rows(folder / "sites.csv")
    return [plan_part(row, asked, folder / "parts") for row in rows]


def seconds(folder, sites, content, workers):
    asked = Asked((load_profile("acrylic"),))
    todo = parts(folder, sites, content, asked)
    begun = time.perf_counter()
    task = partial(work_part, asked=asked, write=write_whole)
    assert [fault for _, fault in each_done(task, todo, workers=workers)] == [None] * sites
    return time.perf_counter() - begun


def test_two_workers_and_cost_by_sites_and_years(benchmark, tmp_path):
    print(f"\nload before: {os.getloadavg()}")
    third, whole = years_file(YEARS // 3), years_file(YEARS)
    seconds(tmp_path / "warm", 1, third, 1)
    one = seconds(tmp_path / "one", SITES, whole, 1)
    two = benchmark.pedantic(
        seconds, (tmp_path / "two", SITES, whole, 2), rounds=1, iterations=1
    )
    half = seconds(tmp_path / "half", SITES // 2, whole, 1)
    short = seconds(tmp_path / "short", SITES, third, 1)
    print(f"{SITES} sites x {YEARS} years, this process: {one:.1f} s")
    print(f"the same, two workers with their start: {two:.1f} s, {one / two:.2f} times as fast")
    print(f"half the sites: {half:.1f} s, {half / one:.2f} of it")
    print(f"a third of the years: {short:.1f} s, {short / one:.2f} of it")
    print(f"load after: {os.getloadavg()}")
    assert half < 0.8 * one
    assert short < 0.6 * one

"""A job begun on each Monday of a real year: what the rules of crews and the best plan come to.

Run with ``python tests/benchmarks/mondays.py``; it takes some minutes. Weather: JFK, 2013, see
tests/data/README.md. Each Monday has the fourteen days that followed as its weather, and three days
before them so that the roof's water is known. The source has no clouds: a share of 0.3 is assumed.
"""

import argparse
import importlib
import os
import platform
import sys
from pathlib import Path
from statistics import mean, median
from time import monotonic

import pandas as pd

from cure_models.system import load_system
from windows.hours import check_hours
from windows.job_file import JobFile
from windows.layers import system_hours
from windows.pieces import Piece
from windows.planning.build import build
from windows.planning.outcome import plan_of
from windows.planning.rules import RULES, follow
from windows.planning.solve import solve
from windows.provenance import Provenance
from windows.site import Site
from windows.validator import validate

sys.path.insert(0, str(Path(__file__).parents[1]))
nyc_weather = importlib.import_module("nyc_weather")

FT2 = 0.09290304
SECTIONS = 5
DAYS = 14
BEFORE = 3
SYSTEMS = ("acrylic_two_coat", "urethane_moisture_aliphatic")
CLOUD = 0.3
LATITUDE, LONGITUDE, ELEVATION_M = nyc_weather.AIRPORTS["JFK"]
SITE = Site.model_validate(
    {
        "name": "test roof at an airport",
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "elevation": f"{ELEVATION_M} m",
        "timezone": "America/New_York",
        "roof": {"area": "20,000 ft2", "deck": "metal_insulated"},
        "surface": {"name": "gray membrane", "absorptance": 0.6, "emittance": 0.9},
        "crew": {
            "start": "07:00",
            "end": "17:30",
            "work_days": ("Mon", "Tue", "Wed", "Thu", "Fri"),
            "days_off": ("2013-05-27", "2013-07-04", "2013-09-02", "2013-11-28"),
        },
    }
)


def job(system, rate):
    """Return a job with the crew's pace: that of its pump, or a rate for every layer."""
    crew = {} if rate is None else {"rates": {layer.name: rate for layer in system.layers}}
    ground = {"kind": "metal", "dry_out": "24 h"}
    return JobFile.model_validate({"crew": crew, "substrate": ground})


def plans_of(system, table, monday, file, pieces, seconds):
    """Return the plans of one Monday by their rules, and how many layers the best withholds."""
    begin = monday.tz_convert("UTC").floor("h")
    rows = table.span(begin - pd.Timedelta(days=BEFORE), begin + pd.Timedelta(days=DAYS))
    frame = table.frame.iloc[rows]
    columns = {name: frame[name].to_numpy() for name in frame}
    part = check_hours(columns, frame.index, Provenance("timing", "JFK"))
    hours = system_hours(SITE, system, part)
    now = monday.tz_convert("UTC")
    built = build(hours, pieces, file, now)
    solved = solve(built.problem, seconds=seconds)
    best = plan_of(built, built.problem, solved.starts, "best plan")
    assert validate(best.placements, pieces, file, hours, now) == ()
    withheld = sum(each.reason.startswith("withheld") for each in best.left_out)
    crews = [plan_of(built, built.blind, follow(built.blind, r), r.name) for r in RULES]
    return [best, *crews], withheld, solved


def whole_sections(plan, layers):
    """Return how many sections have every layer, each in time for the one below it."""
    due, done = {}, {}
    for each in plan.placements:
        late = due.get(each.piece)
        if done.get(each.piece, 0) == each.layer and not (late is not None and each.end > late):
            done[each.piece] = each.layer + 1
        due[each.piece] = each.due
    return sum(count == layers for count in done.values())


def line(*cells):
    print("| " + " | ".join(str(each) for each in cells) + " |", flush=True)


def run(name, rate, table, mondays, seconds):
    """Print the table of one system and one pace."""
    system = load_system(name)
    file = job(system, rate)
    pieces = [Piece(f"S{n}", f"S{n}", 20_000 / SECTIONS * FT2, (), ()) for n in range(1, 6)]
    began = monotonic()
    found: dict[str, list] = {}
    sound: dict[str, int] = {}
    withheld, proved, slowest = 0, 0, 0.0
    for monday in mondays:
        plans, kept, solved = plans_of(system, table, monday, file, pieces, seconds)
        withheld += kept
        proved += solved.optimal
        slowest = max(slowest, solved.seconds)
        for plan in plans:
            found.setdefault(plan.rule, []).append(plan.figures)
            sound[plan.rule] = sound.get(plan.rule, 0) + whole_sections(plan, len(system.layers))
    pace = "pump of 2 gal/min" if rate is None else rate
    print(f"\n{name}, {SECTIONS} sections of {20_000 // SECTIONS} ft2, {pace}, {len(mondays)} "
          f"Mondays: {monotonic() - began:.0f} s, {proved} proved the best, "
          f"slowest {slowest:.1f} s\n")  # fmt: skip
    line("rule", "all laid within 14 days", "median finish day", "mean exposure ft2 days",
         "sections whole and in time", "layers laid", "stranded layers",
         "Mondays that strand one", "without spare", "withheld")  # fmt: skip
    line(*["---"] * 10)
    for rule, figures in found.items():
        whole = [f for f in figures if f.placed == f.of and not f.stranded]
        line(
            rule, f"{len(whole)} of {len(figures)} ({len(whole) / len(figures):.0%})",
            f"{median(f.finish_days for f in whole):.1f}" if whole else "none",
            f"{mean(f.exposure_m2_days for f in figures) / FT2:,.0f}",
            f"{sound[rule]} of {SECTIONS * len(figures)}",
            f"{sum(f.placed for f in figures)} of {sum(f.of for f in figures)}",
            sum(f.stranded for f in figures), sum(f.stranded > 0 for f in figures),
            sum(f.without_spare for f in figures), withheld if rule == "best plan" else 0,
        )  # fmt: skip


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=4.0, help="most time for each plan")
    parser.add_argument("--every", type=int, default=1, help="take each so many-th Monday")
    given = parser.parse_args()
    year = nyc_weather.table("JFK")
    table = check_hours(
        {name: year[name].to_numpy() for name in year}, year.index, Provenance("timing", "JFK")
    ).assume("cloud", CLOUD)
    days = pd.date_range("2013-01-07 06:00", "2013-12-16 06:00", freq="W-MON", tz=SITE.zone)
    print(f"{platform.python_version()} on {platform.system()}, {os.cpu_count()} cores")
    for name in SYSTEMS:
        for rate in (None, "1,500 ft2/h"):
            run(name, rate, table, days[:: given.every], given.seconds)


if __name__ == "__main__":
    main()

"""Invented steady weather, small systems and placements made by hand, for tests of plans."""

from dataclasses import replace

import numpy as np
import pandas as pd
import plain_site

from cure_models.system import load_system
from windows.hours import check_hours
from windows.job_file import JobFile
from windows.layers import system_hours
from windows.pieces import LaidRecord, Piece
from windows.plan import Placement
from windows.provenance import Provenance
from windows.site import CrewHours

STEADY = {
    "air_temp_c": 20.0, "rel_humidity": 0.5, "wind_m_s": 4.0, "gust_m_s": 5.0, "cloud": 0.7,
    "rain_mm": 0.0, "rain_trace": 0.0,
}  # fmt: skip
MONDAY = "2026-06-01T00:00Z"
ACRYLIC = (("base", "acrylic", "13 mil", ""), ("top", "acrylic", "13 mil", ""))
URETHANE = (
    ("base", "urethane_aromatic", "16 mil", ""),
    ("top", "urethane_aliphatic", "10 mil", ""),
)
FOAM = (
    ("foam", "spf", "1500 mil", "same_shift = true"),
    ("base", "urethane_aromatic_two_part", "20 mil", ""),
    ("finish", "urethane_aliphatic", "10 mil", ""),
)
SITE_FILE = """\
name = "Test roof"
latitude = 40.0
longitude = -75.0
elevation = "0 m"
timezone = "America/New_York"
[roof]
area = "10,000 ft2"
deck = "metal_insulated"
[surface]
name = "white membrane"
absorptance = 0.3
emittance = 0.9
[crew]
start = "07:00"
end = "17:00"
"""
RATES = {"rates": {"base": "100 m2/h", "top": "100 m2/h"}}


def weather(days=10, start=MONDAY, **given):
    """Return steady weather, but for the columns that are given: a value, or {row: value}."""
    rows = 24 * days
    columns = {name: np.full(rows, value) for name, value in STEADY.items()}
    for name, value in given.items():
        if isinstance(value, dict):
            for row, one in value.items():
                columns[name][row] = one
        else:
            columns[name] = np.broadcast_to(np.asarray(value, dtype=np.float64), rows).copy()
    times = pd.date_range(start, periods=rows, freq="h")
    return check_hours(columns, times, Provenance("test", "a test"))


def site(**crew):
    """Return a light roof at New York's clock, Monday to Friday from 07:00 to 17:00."""
    roof = plain_site.site(absorptance=0.3)
    hours = {"start": "07:00", "end": "17:00"} | crew
    return roof.model_copy(update={"crew": CrewHours.model_validate(hours)})


def system(folder, layers):
    """Return a system of layers: name, coating, dry film, and the interval to the next."""
    text = ['schema = 1\nname = "test"\ntitle = "a test"']
    for name, coating, film, interval in layers:
        value, unit = film.split()
        text.append(
            f'[[layer]]\nname = "{name}"\ncoating = "{coating}"\nover = ["acrylic"]\n'
            f'dry_film = {{ value = {value}, unit = "{unit}", source = "own choice" }}\n'
            f"[layer.next]\n{interval}"
        )
    path = folder / "system.toml"
    path.write_text("\n".join(text) + "\n")
    return load_system(str(path))


def hours(folder, layers=ACRYLIC, table=None, **crew):
    """Return the layers of a system on the light roof, dry at first."""
    table = weather() if table is None else table
    return system_hours(site(**crew), system(folder, layers), table, start_wet_mm=0.0)


def without_gates(found):
    """Return a system on which only crews, clocks and safety count."""
    jobs = tuple(replace(job, coating=replace(job.coating, gates=())) for job in found.jobs)
    return replace(found, jobs=jobs)


def job(**crew):
    """Return a job whose crew lays 100 m2 in an hour, but for what is given."""
    return JobFile.model_validate({"crew": RATES | crew})


def piece(name, area=300.0, over=(), laid=()):
    return Piece(name, name, area, tuple(over), tuple(laid))


def local(text, zone="America/New_York"):
    return pd.Timestamp(text, tz=zone).tz_convert("UTC")


def record(layer, start, end):
    return LaidRecord(layer, local(start), local(end))


def placement(found, on, layer, start, end, **changes):
    """Return a placement with the clocks that the main job tells.

    Times are moments, or written by the clock of New York without the year.
    """
    start, end = (
        local(f"2026-{each}") if isinstance(each, str) else each.tz_convert("UTC")
        for each in (start, end)
    )  # fmt: skip
    checked, rows = found.jobs[layer].checked, len(found.hours.index)
    last = int(np.ceil(found.moment(end))) - 1
    first = int(np.floor(found.moment(start)))
    opens = due = None
    if first >= 0 and last < rows:
        at = float(checked.milestones["recoat_opens"][last])
        opens = None if np.isnan(at) else found.time(at)
        ends = [float(times[first]) for times in checked.deadlines.values()]
        # A dose that the data do not reach may come before a clock that ends after them.
        known = [each for each in ends if not np.isnan(each)]
        if len(known) < len(ends) and known and min(known) > rows:
            known = []
        if known and layer + 1 < len(found.jobs):
            due = found.time(min(known))
    made = Placement(
        piece=on.name,
        section=on.section,
        area_m2=on.area_m2,
        layer=layer,
        layer_name=found.system.layers[layer].name,
        coating=found.jobs[layer].coating.name,
        shift=start.tz_convert(found.site.zone).date(),
        start=start,
        end=end,
        opens=opens,
        due=due,
        spare=None,
    )
    return replace(made, **changes)

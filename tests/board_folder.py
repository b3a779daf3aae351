"""Small folders of jobs for tests of the board: invented sites, crews and forecasts as files."""

import json

import numpy as np
import pandas as pd

from windows.board.make import load_jobs, make_board
from windows.board.promise import Promise
from windows.weather_choice import WeatherChoice

ZONE = "America/New_York"
FIRST = "2026-05-31T04:00Z"  # midnight of a Sunday by New York's clock
NOW = pd.Timestamp("2026-06-01 05:00", tz=ZONE).tz_convert("UTC")  # Monday before work
FINE = {
    "air_temp_c": 20.0, "dew_point_c": 9.0, "wind_m_s": 3.0, "gust_m_s": 4.0, "cloud": 0.6,
    "rain_mm": 0.0, "rain_prob": 0.0,
}  # fmt: skip
SECTIONS = {"A": 300.0, "B": 300.0}
RED = {"name": "Red"}


def local(text, zone=ZONE):
    return pd.Timestamp(text, tz=zone).tz_convert("UTC")


def row_of(text, first=FIRST):
    """Return the row of an hour of local time."""
    return int((local(text) - pd.Timestamp(first)) / pd.Timedelta(hours=1))


def weather(days=10, first=FIRST, *, issued=NOW, kind="forecast", **given):
    """Return a forecast as canonical CSV: steady, but for columns given, None to leave one out."""
    columns = {
        name: np.broadcast_to(np.asarray(value, dtype=np.float64), 24 * days).copy()
        for name, value in (FINE | given).items()
        if value is not None
    }
    return as_csv(columns, first, issued=issued, kind=kind)


def as_csv(columns, first=FIRST, *, issued=NOW, kind="forecast"):
    size = len(next(iter(columns.values())))
    times = pd.date_range(first, periods=size, freq="h").strftime("%Y-%m-%dT%H:%MZ")
    lines = ["# source: invented for a test", f"# kind: {kind}"]
    if issued is not None:
        lines.append(f"# issued: {issued.tz_convert('UTC'):%Y-%m-%dT%H:%MZ}")
    lines.append(",".join(["time_utc", *columns]))
    for row, time in enumerate(times):
        cells = (columns[name][row] for name in columns)
        lines.append(",".join([time, *("" if np.isnan(c) else f"{c:g}" for c in cells)]))
    return "\n".join(lines) + "\n"


def add_site(
    folder,
    key,
    *,
    system="acrylic_two_coat",
    kind="single_ply",
    sections=SECTIONS,
    placed=(),
    rates=None,
    needs=(),
    csv=None,
    zone=ZONE,
    place=(40.0, -75.0),
    hours=("07:00", "17:00"),
    days_off=(),
    crew="",
):
    """Write a site with its job; ``placed`` are (section, layer, start, end), ``crew`` its TOML."""
    here = folder / key
    here.mkdir(parents=True)
    (here / "site.toml").write_text(
        f'name = "{key}"\nlatitude = {place[0]}\nlongitude = {place[1]}\nelevation = "0 m"\n'
        f'timezone = "{zone}"\n[roof]\narea = "10,000 ft2"\ndeck = "metal_insulated"\n'
        '[surface]\nname = "white membrane"\nabsorptance = 0.3\nemittance = 0.9\n'
        f'[crew]\nstart = "{hours[0]}"\nend = "{hours[1]}"\ndays_off = {json.dumps(days_off)}\n'
    )
    text = [f'system = "{system}"', f"needs = {json.dumps(list(needs))}"]
    text += ["[substrate]", f'kind = "{kind}"']
    for name, area in sections.items():
        text += ["[[section]]", f'name = "{name}"', f'area = "{area:g} m2"']
    for section, layer, start, end in placed:
        text += ["[[placed]]", f'section = "{section}"', f'layer = "{layer}"']
        text += [f'start = "{start}"', f'end = "{end}"']
    text += ["[crew]", crew]
    if rates is not None:
        text += [f"rates.{layer} = {json.dumps(rate)}" for layer, rate in rates.items()]
    (here / "job.toml").write_text("\n".join(text) + "\n")
    (here / "weather.csv").write_text(weather() if csv is None else csv)
    return here


RATES = {"base": "100 m2/h", "top": "100 m2/h"}


def add_company(folder, crews=(RED,), **tables):
    """Write ``board.toml``: crews as dicts, further tables by name."""
    folder.mkdir(parents=True, exist_ok=True)
    text = []
    for name, table in tables.items():
        text += [f"[{name}]", *_keys(table)]
    for crew in crews:
        text += ["[[crew]]", *_keys(crew)]
    (folder / "board.toml").write_text("\n".join(text) + "\n")


def _keys(table):
    return [
        f"{key} = {{ {', '.join(_keys(value))} }}" if isinstance(value, dict)
        else f"{key} = {json.dumps(value)}"
        for key, value in table.items()
    ]  # fmt: skip


def folder_of(path, *, crews=(RED,), tables=None, **site):
    """Write a folder of one site, ``one``, and its company."""
    add_company(path, crews, **(tables or {}))
    add_site(path, "one", **({"rates": RATES} | site))
    return path


def board_of(folder, now=NOW, promises=(), seconds=3.0):
    """Return the board of a folder, and what was loaded."""
    loaded = load_jobs(folder, WeatherChoice(), now)
    return make_board(loaded, now, seconds=seconds, promises=promises), loaded


def promises_of(board, before=None):
    """Return what a board promises, of the works that begin before a moment."""
    return tuple(
        Promise(
            each.crew, each.site, p.piece, p.section, p.layer, p.layer_name, p.start, p.end,
            each.day, p.area_m2, p.coating,
        )
        for each in board.assignments
        for p in (work.placement for work in each.works)
        if before is None or p.start < before
    )  # fmt: skip


def works_of(board):
    """Return (crew, day, start, end) of each work, by site, piece and layer."""
    return {
        (each.site, w.placement.piece, w.placement.layer): (
            each.crew, each.day, w.placement.start, w.placement.end
        )
        for each in board.assignments
        for w in each.works
    }  # fmt: skip

"""The weather files of the demo sites, from a seeded generator.

``python -m windows.demo_weather FOLDER`` writes ``weather.csv`` beside each ``site.toml``, and
``years.csv.gz`` beside two of them; the same seed gives the same bytes. It serves the demo only and
claims nothing about any real place. How it is invented: `windows.demo_climate`. The sites of a
county have one week of weather, `windows.demo_county`, and one file of years for all.
"""

from __future__ import annotations

import gzip
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from windows.demo_climate import CLIMATES, FIRST_YEAR, Climate, invent_weather, invent_years
from windows.demo_county import (
    COUNTY,
    COUNTY_CLIMATE,
    COUNTY_ISSUED,
    COUNTY_SITES,
    COUNTY_YEARS,
    invent_county,
)
from windows.reports.output import write_whole
from windows.site import Site, load_site

__all__ = ["write_all"]


def write_all(folder: Path, *, effort: int = 9) -> list[Path]:
    """Write the weather of every demo site in a folder, and years of some; return the files.

    A county's sites are written where its folder is there.

    Parameters
    ----------
    folder
        Holds a folder with ``site.toml`` for each site.
    effort
        Put into packing the years, 1 to 9: most for what is shipped, less where it is not kept.
    """
    written = []
    for name, climate in CLIMATES.items():
        site = load_site(folder / name)
        frame = invent_weather(climate, site.latitude, site.longitude, site.zone.key)
        first = frame.index[0]
        head = (
            "# source: invented weather for the demo, not a forecast of any place\n"
            f"# issued: {first:%Y-%m-%dT%H:%M}Z\n"
            f"# note: made by windows/demo_weather.py, seed {climate.seed}\n"
        )
        body = _as_csv(frame)
        written.append(write_whole(folder / name / "weather.csv", head + body))
        if climate.year_swing_c:
            written.append(_write_years(folder / name, climate, site, effort))
    if (folder / COUNTY).is_dir():
        written += _write_county(folder / COUNTY, effort)
    return written


def _write_county(folder: Path, effort: int) -> list[Path]:
    written = []
    for name, place in COUNTY_SITES.items():
        site = load_site(folder / name)
        frame = invent_county(place, site.latitude, site.longitude, site.zone.key)
        head = (
            "# source: invented weather for the demo, not a forecast of any place\n"
            "# kind: forecast\n"
            f"# issued: {COUNTY_ISSUED}\n"
            f"# note: made by windows/demo_weather.py, seed {place.seed}\n"
        )
        body = _as_csv(frame)
        written.append(write_whole(folder / name / "weather.csv", head + body))
    frame = invent_years(COUNTY_CLIMATE, site.latitude, site.longitude, site.zone.key)
    frame = frame[: pd.Timestamp(f"{FIRST_YEAR + COUNTY_YEARS}-01-01", tz=site.zone)][:-1]
    coarse = {"air_temp_c": 0.5, "dew_point_c": 0.5, "wind_m_s": 0.5, "cloud": 0.25}
    frame = frame.assign(
        **{name: ((frame[name] / step).round() * step).round(2) for name, step in coarse.items()}
    )
    written.append(_write_table_of_years(folder, COUNTY_CLIMATE, frame, effort))
    return written


def _write_years(folder: Path, climate: Climate, site: Site, effort: int) -> Path:
    frame = invent_years(climate, site.latitude, site.longitude, site.zone.key)
    return _write_table_of_years(folder, climate, frame, effort)


def _write_table_of_years(
    folder: Path, climate: Climate, frame: pd.DataFrame, effort: int
) -> Path:
    head = (
        "# source: invented years for the demo, no record of any place\n"
        f"# note: made by windows/demo_weather.py, seed {climate.seed + 1}\n"
    )
    body = _as_csv(frame)
    content = gzip.compress((head + body).encode(), effort, mtime=0)
    return write_whole(folder / "years.csv.gz", content)


def _as_csv(frame: pd.DataFrame) -> str:
    """Return hours as lines; their times are made texts at once, which is far quicker."""
    at = pd.DatetimeIndex(frame.index).tz_localize(None)
    times = np.datetime_as_string(at.to_numpy(), unit="m")
    index = pd.Index([f"{time}Z" for time in times], name=frame.index.name)
    return frame.set_axis(index).to_csv(lineterminator="\n")


if __name__ == "__main__":
    write_all(Path(sys.argv[1] if len(sys.argv) > 1 else "demo_sites"))

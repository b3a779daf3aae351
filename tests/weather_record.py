"""Records of hours made by hand for tests of weather days, and contracts of one rule."""

from dataclasses import replace

import numpy as np
import pandas as pd
from plain_site import site as plain_site

from cure_models import load_profile
from windows.gates import State
from windows.hours import check_hours
from windows.job import check_job
from windows.provenance import Provenance
from windows.seasons.contract import Contract
from windows.seasons.weather_days import weather_days

ZONE = "America/New_York"
LEAST_H = 4


class Record:
    """Hours of local days with mild weather, of which a test spoils some; the coating is at rest.

    ``spoil`` sets a column, or ``coating`` (a state), from one hour of the day up to another.
    """

    def __init__(self, first, last, **site):
        start, end = (pd.Timestamp(day, tz=ZONE) for day in (first, last))
        self.index = pd.date_range(
            start.tz_convert("UTC"), (end + pd.DateOffset(days=1)).tz_convert("UTC"),
            freq="h", inclusive="left",
        )  # fmt: skip
        self.local = self.index.tz_convert(ZONE)
        hours = len(self.index)
        self.columns = {
            "air_temp_c": np.full(hours, 15.0), "rel_humidity": np.full(hours, 0.5),
            "wind_m_s": np.full(hours, 2.0), "rain_mm": np.zeros(hours),
            "cloud": np.full(hours, 0.3),
        }  # fmt: skip
        self.coating = np.full(hours, State.OK, dtype=np.int8)
        self.crew = site

    def spoil(self, day, what, value, start=7, end=17):
        rows = (self.local.strftime("%Y-%m-%d") == day) & (self.local.hour >= start)
        rows &= self.local.hour < end
        (self.coating if what == "coating" else self.columns[what])[rows] = value

    def cut(self, hours):
        """Drop so many hours at the end."""
        self.index, self.local, self.coating = (
            each[:-hours] for each in (self.index, self.local, self.coating)
        )
        self.columns = {name: values[:-hours] for name, values in self.columns.items()}

    def job(self):
        place = plain_site()
        place = place.model_copy(update={"crew": place.crew.model_copy(update=self.crew)})
        table = check_hours(self.columns, self.index, Provenance("test", "here"))
        job = check_job(place, load_profile("acrylic"), table)
        checked = replace(job.checked, gates={"air_temp_min": self.coating}, hold_ends={})
        return replace(
            job, checked=checked, stops={"wind": np.zeros_like(self.coating)},
            coating=replace(job.coating, min_window_h=LEAST_H),
        )  # fmt: skip

    def by(self, contract):
        return weather_days(self.job(), contract)


def contract(**keys):
    told = {"name": "x", "title": "x", "source": "own choice", "week": 5} | keys
    return Contract.model_validate(told)


def rain_day(limit="0.10 in", *, inclusive=True, **keys):
    rain = {"limit": limit, "inclusive": inclusive, "source": "own choice"}
    return contract(day={"rain": rain}, **keys)


def write_record(path, first, last, zone, wet=("2026-05-05", "2026-05-06", "2026-05-12")):
    index = pd.date_range(first, f"{last} 23:00", freq="h", tz=zone).tz_convert("UTC")
    local = index.tz_convert(zone)
    rain = np.where(local.strftime("%Y-%m-%d").isin(wet) & (local.hour < 14), 2.0, 0.0)
    frame = pd.DataFrame(
        {
            "time_utc": index.strftime("%Y-%m-%dT%H:%MZ"),
            "air_temp_c": np.round(20 + 5 * np.sin((local.hour - 9) / 24 * 2 * np.pi), 1),
            "dew_point_c": 5.0, "wind_m_s": 3.0, "rain_mm": rain, "cloud": 0.2,
        }
    )  # fmt: skip
    head = "# source: invented\n# kind: observed\n"
    path.write_text(head + frame.to_csv(index=False), encoding="utf-8")
    return path

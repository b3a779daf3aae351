"""Real years for tests of seasons."""

from functools import cache

import numpy as np
import nyc_weather
import pandas as pd
import plain_site

from windows.hours import check_hours
from windows.provenance import Provenance
from windows.site import CrewHours


@cache
def real_year(origin):
    """Return the real year of an airport under a stated sky."""
    table = nyc_weather.table(origin)
    columns = {name: table[name].to_numpy() for name in table}
    columns["cloud"] = np.full(len(table), 0.5)
    return check_hours(columns, pd.DatetimeIndex(table.index), Provenance("LCD", origin))


def airport(origin, crew=None):
    """Return the real year of an airport under a stated sky, and a light roof there."""
    latitude, longitude, elevation = nyc_weather.AIRPORTS[origin]
    given = {"start": "07:00", "end": "17:30", "holidays": "US-NY"} | (crew or {})
    site = plain_site.site(absorptance=0.5).model_copy(
        update={
            "latitude": latitude, "longitude": longitude, "elevation": elevation,
            "crew": CrewHours.model_validate(given),
        }
    )  # fmt: skip
    return real_year(origin), site.model_copy(update={"timezone": "America/New_York"})

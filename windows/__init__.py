"""Hours, sites, crews and reports: when a coating can be laid, and why not.

The names below are what a program needs: data frames in, data frames out. A frame of a forecast
has a column ``state``, of which only ``"OK"`` is a go, and its cautions go with it. What is not
known is NaN, NaT or NA, and never OK. The manufacturer's data sheet, local code and the competent
person on site govern. What a person can mend is raised as a `DewgapError` of one clear sentence.

Names are loaded when they are first used, so that the command line starts quickly.

>>> from windows import find_windows, load_site, read_weather
>>> from windows.demo import demo_folder
>>> folder = demo_folder() / "cool_north"
>>> found = find_windows(load_site(folder), "acrylic", read_weather(folder / "weather.csv"))
>>> found["state"].value_counts().to_dict()
{'OK': 6, 'UNKNOWN': 3}
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cure_models import coating_names, load_profile
    from windows.errors import DewgapError
    from windows.frames.bid import replay_bid
    from windows.frames.board import send_crews
    from windows.frames.cover import check_bare_layers
    from windows.frames.hours import hours_from
    from windows.frames.plan import plan_job
    from windows.frames.season import count_workable_days
    from windows.frames.windows import find_windows, hour_by_hour
    from windows.hours import HourlyTable
    from windows.site import Site, load_site
    from windows.sources import read_weather

__all__ = [
    "DewgapError",
    "HourlyTable",
    "Site",
    "check_bare_layers",
    "coating_names",
    "count_workable_days",
    "find_windows",
    "hour_by_hour",
    "hours_from",
    "load_profile",
    "load_site",
    "plan_job",
    "read_weather",
    "replay_bid",
    "send_crews",
]

_HOME = {
    "DewgapError": "windows.errors",
    "HourlyTable": "windows.hours",
    "Site": "windows.site",
    "check_bare_layers": "windows.frames.cover",
    "coating_names": "cure_models",
    "count_workable_days": "windows.frames.season",
    "find_windows": "windows.frames.windows",
    "hour_by_hour": "windows.frames.windows",
    "hours_from": "windows.frames.hours",
    "load_profile": "cure_models",
    "load_site": "windows.site",
    "plan_job": "windows.frames.plan",
    "read_weather": "windows.sources",
    "replay_bid": "windows.frames.bid",
    "send_crews": "windows.frames.board",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'windows' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)

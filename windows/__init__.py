"""Hours, sites, crews and reports: when a coating can be laid, and why not.

The names below are loaded when they are first used, so that the command line starts quickly.

>>> from windows import load_profile, load_site, read_weather, run_job
>>> from windows.demo import demo_folder
>>> folder = demo_folder() / "cool_north"
>>> hours = read_weather(folder / "weather.csv")
>>> job = run_job(load_site(folder), load_profile("acrylic"), hours)
>>> len(job.found.windows)
6
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cure_models import coating_names, load_profile
    from windows.hours import HourlyTable
    from windows.job import Job, run_job
    from windows.site import Site, load_site
    from windows.sources import read_weather

__all__ = [
    "HourlyTable",
    "Job",
    "Site",
    "coating_names",
    "load_profile",
    "load_site",
    "read_weather",
    "run_job",
]

_HOME = {
    "HourlyTable": "windows.hours",
    "Job": "windows.job",
    "Site": "windows.site",
    "coating_names": "cure_models",
    "load_profile": "cure_models",
    "load_site": "windows.site",
    "read_weather": "windows.sources",
    "run_job": "windows.job",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'windows' has no attribute '{name}'")

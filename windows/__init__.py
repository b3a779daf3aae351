"""Hours, sites, crews and reports: when a coating can be laid, and why not.

>>> from windows import load_site, read_weather, run_job, load_profile  # doctest: +SKIP
>>> job = run_job(load_site("site.toml"), load_profile("acrylic"), read_weather("hours.csv"))
... # doctest: +SKIP
"""

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

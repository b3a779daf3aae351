"""The demo: which coatings are shown on which of the shipped, invented sites."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from cure_models import load_profile
from windows.job import Job, run_job
from windows.site import load_site
from windows.sources import read_weather

__all__ = ["DEMO", "demo_folder", "demo_jobs"]

DEMO = {
    "gulf_coast": ("acrylic", "silicone_high_solids"),
    "high_desert": ("silicone_high_solids", "urethane_aromatic"),
    "cool_north": ("asphalt_emulsion", "acrylic"),
}
"""Coatings of each demo site: what their climates are good and bad for."""


def demo_folder() -> Path:
    """Return the folder of the demo sites: inside the installed package, or in the source tree."""
    package = Path(str(files("windows")))
    installed = package / "demo_sites"
    return installed if installed.is_dir() else package.parent / "demo_sites"


def demo_jobs() -> list[Job]:
    """Run the main job on every demo site."""
    jobs: list[Job] = []
    for folder, coatings in DEMO.items():
        site = load_site(demo_folder() / folder)
        hours = read_weather(demo_folder() / folder / "weather.csv")
        jobs.extend(run_job(site, load_profile(name), hours) for name in coatings)
    return jobs

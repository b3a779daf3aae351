"""Materials and moist air: what a coating needs, and how fast it cures in given weather.

Pure functions over arrays and profiles in TOML; nothing here knows a calendar, a site or a crew.
The names below are loaded when they are first used.

>>> from cure_models import load_profile, resolve
>>> resolve(load_profile("acrylic")).milestones["rain_safe"]
8.0
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cure_models.coating import Coating, resolve
    from cure_models.profile import Profile
    from cure_models.profile_files import coating_names, load_profile

__all__ = ["Coating", "Profile", "coating_names", "load_profile", "resolve"]

_HOME = {
    "Coating": "cure_models.coating",
    "Profile": "cure_models.profile",
    "coating_names": "cure_models.profile_files",
    "load_profile": "cure_models.profile_files",
    "resolve": "cure_models.coating",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'cure_models' has no attribute '{name}'")

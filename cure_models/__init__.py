"""Materials and moist air: what a coating needs, and how fast it cures in given weather.

Pure functions over arrays and profiles in TOML; nothing here knows a calendar, a site or a crew.
"""

from cure_models.coating import Coating, resolve
from cure_models.profile import Profile, coating_names, load_profile

__all__ = ["Coating", "Profile", "coating_names", "load_profile", "resolve"]

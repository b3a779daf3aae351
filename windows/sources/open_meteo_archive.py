"""Open-Meteo archive: a reanalysis, year by year. See `windows.sources.open_meteo_answer`.

Hours are worked out by a weather model from measurements elsewhere: complete since 1940, but rain
is that of a grid cell of tens of kilometres, too often and too light.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from windows.answer import Answer, Kept
from windows.sources.open_meteo_answer import VARIABLES, key_of, parse_answer, question

if TYPE_CHECKING:
    from windows.hours import HourlyTable
    from windows.site import Site
    from windows.web import Web

NAME = "open_meteo_archive"
HELP = (
    "Open-Meteo: worked-out hours since 1940, world; free for NON-COMMERCIAL use only, else a key"
)
KIND = "history"

__all__ = ["HELP", "KIND", "NAME", "fetch_year", "parse", "recognises"]

_CLOSED = Kept(timedelta(days=30), timedelta(days=3650))
_OPEN = Kept(timedelta(hours=6), timedelta(days=30))
_DELAY = timedelta(days=6)
"""The archive ends some days before today. [d]"""


def recognises(text: str) -> bool:
    """Tell nothing: an archive's answer reads as a forecast, unless a format is named."""
    return False


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of an archive's answer. Raises HoursError as `parse_answer`."""
    return parse_answer(content, place, "Open-Meteo archive (reanalysis)", "reanalysis")


def fetch_year(web: Web, site: Site, year: int, today: date) -> Answer:
    """Return the hours of a year at a site, as far as there are any. Raises as `Web.get`.

    They reach a day into the next year, for the rain of the year's last hour.
    """
    last = min(date(year + 1, 1, 1), today - _DELAY)
    asked = [name for name in VARIABLES if name != "precipitation_probability"]
    return web.get(
        "Open-Meteo", f"{web.settings.open_meteo_archive_url}/archive",
        kept=_CLOSED if last.year > year else _OPEN,
        check=lambda body: parse(body, f"the year {year}"),
        params=question(site, asked)
        | {"start_date": f"{year}-01-01", "end_date": last.isoformat()}
        | key_of(web.settings),
    )  # fmt: skip

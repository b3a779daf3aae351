"""Open-Meteo ensemble: many runs of one model. See `windows.sources.open_meteo_answer`."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from windows.answer import Answer, Kept
from windows.sources.open_meteo_answer import (
    VARIABLES,
    key_of,
    parse_answer,
    question,
    recognises_answer,
)

if TYPE_CHECKING:
    from windows.hours import HourlyTable
    from windows.site import Site
    from windows.web import Web

NAME = "open_meteo_ensemble"
HELP = (
    "Open-Meteo: 31 runs of a forecast, 10 days; free for NON-COMMERCIAL use only, else with a key"
)
KIND = "forecast"

__all__ = ["HELP", "KIND", "NAME", "fetch", "parse", "recognises"]

_KEPT = Kept(timedelta(hours=1), timedelta(hours=6))
_MODEL = "gfs_seamless"


def recognises(text: str) -> bool:
    """Tell whether an answer has hours of several members."""
    return recognises_answer(text) and "_member" in text


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of an ensemble. Raises HoursError as `parse_answer`."""
    return parse_answer(content, place, "Open-Meteo ensemble", "forecast")


def fetch(web: Web, site: Site) -> Answer:
    """Return the ensemble at a site. Raises as `windows.web.Web.get`."""
    asked = [name for name in VARIABLES if name != "precipitation_probability"]
    return web.get(
        "Open-Meteo", f"{web.settings.open_meteo_ensemble_url}/ensemble", kept=_KEPT,
        check=lambda body: parse(body, "the ensemble"),
        params=question(site, asked)
        | {"forecast_days": "10", "past_days": "2", "models": _MODEL}
        | key_of(web.settings),
    )  # fmt: skip

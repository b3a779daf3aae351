"""Open-Meteo forecast, with the two days before it. See `windows.sources.open_meteo_answer`."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from windows.answer import Answer, Kept
from windows.sources.open_meteo_answer import (
    key_of,
    parse_answer,
    question,
    recognises_answer,
)

if TYPE_CHECKING:
    from windows.hours import HourlyTable
    from windows.site import Site
    from windows.web import Web

NAME = "open_meteo"
HELP = "Open-Meteo: forecast, 10 days, world; free for NON-COMMERCIAL use only, else with a key"
KIND = "forecast"

__all__ = ["HELP", "KIND", "NAME", "fetch", "parse", "recognises"]

_KEPT = Kept(timedelta(minutes=30), timedelta(hours=6))
_DAYS_BEFORE = 2
"""Enough for the model to know whether the roof is dry. [d]"""


def recognises(text: str) -> bool:
    """Tell whether an answer has hours and no members."""
    return recognises_answer(text) and "_member" not in text


def parse(content: bytes, place: str) -> HourlyTable:
    """Return the table of a forecast. Raises HoursError as `parse_answer`."""
    return parse_answer(content, place, "Open-Meteo forecast", "forecast")


def fetch(web: Web, site: Site) -> Answer:
    """Return the forecast at a site. Raises as `windows.web.Web.get`."""
    return web.get(
        "Open-Meteo", f"{web.settings.open_meteo_url}/forecast", kept=_KEPT,
        check=lambda body: parse(body, "the forecast"),
        params=question(site)
        | {"forecast_days": "10", "past_days": str(_DAYS_BEFORE)}
        | key_of(web.settings),
    )  # fmt: skip

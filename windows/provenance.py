"""Where the hours of a table come from: source, place, times of issue and retrieval, kind."""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, cos, radians, sin, sqrt
from typing import Literal, get_args

import pandas as pd

__all__ = ["KINDS", "Kind", "Location", "Provenance", "distance_km"]

Kind = Literal["forecast", "observed", "reanalysis", "typical", "not told"]
"""What hours are: foretold; measured; worked out afterward from measurements elsewhere; or a year
put together from months of several years."""
KINDS: tuple[Kind, ...] = get_args(Kind)

_EARTH_RADIUS_KM = 6371.0


def distance_km(
    latitude: float, longitude: float, to_latitude: float, to_longitude: float
) -> float:
    """Return the distance of two places along the sphere, by the haversine. [km]"""
    lat, to_lat = radians(latitude), radians(to_latitude)
    half_lat = sin((to_lat - lat) / 2) ** 2
    half_lon = sin(radians(to_longitude - longitude) / 2) ** 2
    return 2 * _EARTH_RADIUS_KM * asin(sqrt(half_lat + cos(lat) * cos(to_lat) * half_lon))


@dataclass(frozen=True)
class Location:
    """Where the weather is: a station, or the middle of a grid cell. Elevation in m, or None."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float | None = None


@dataclass(frozen=True)
class Provenance:
    """Where a table comes from.

    ``place`` is the file or the service's address, ``issued`` when a forecast was made,
    ``retrieved`` when it was fetched; ``stale`` tells that the service did not answer and what it
    said before stands in. ``read_as`` is the format that the bytes were taken for.
    """

    source: str
    place: str
    issued: pd.Timestamp | None = None
    notes: tuple[str, ...] = ()
    kind: Kind = "not told"
    retrieved: pd.Timestamp | None = None
    stale: bool = False
    location: Location | None = None
    attribution: str = ""
    read_as: str = ""

    @property
    def is_forecast(self) -> bool:
        """Whether the hours are foretold: told so, or issued at a time and not told to be else."""
        return self.kind == "forecast" or (self.kind == "not told" and self.issued is not None)

    def describe(self, now: pd.Timestamp | None = None) -> str:
        """Return one line for people: source, place, and age where it is known."""
        text = f"{self.source}, {self.place}"
        if self.read_as:
            text += f", read as {self.read_as}"
        if self.issued is not None:
            text += f"; issued {_moment(self.issued, now)}"
        elif self.kind in {"forecast", "not told"}:
            text += "; time of issue not given, so its age is unknown"
        if self.retrieved is not None:
            text += f"; fetched {_moment(self.retrieved, now)}"
        if self.stale:
            text += "; STALE: the service gave no new answer"
        return text


def _moment(when: pd.Timestamp, now: pd.Timestamp | None) -> str:
    text = f"{when:%Y-%m-%d %H:%M} UTC"
    if now is None:
        return text
    hours = (now - when).total_seconds() / 3600
    if hours < -0.1:
        return f"{text}, which is still to come: check that time and this machine's clock"
    hours = max(hours, 0.0)
    if hours < 1:
        return f"{text}, {hours * 60:.0f} min ago"
    return f"{text}, {hours:.0f} h ago" if hours < 72 else f"{text}, {hours / 24:.0f} days ago"

"""Sites: where the roof is, what it is made of, and when a crew may be on it."""

from __future__ import annotations

import os
from datetime import date, datetime
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

import holidays as holiday_calendars
from holidays.registry import EntityLoader
from pydantic import AfterValidator, Field, StrictBool, model_validator

from cure_models.assembly import Assembly, assemblies
from cure_models.toml_input import Table, parse_toml, read_text, validated
from windows.errors import SiteError, did_you_mean
from windows.fields import WEEKDAYS, ClockTime, Day, Weekday, quantity

__all__ = [
    "MOST_OFFSET_K", "CrewHours", "Roof", "SafetyStops", "Site", "Surface", "load_site",
    "zone_names",
]  # fmt: skip

_ANY_YEAR = 2026

MOST_OFFSET_K = 15.0
"""The largest surface offset, up or down: more is a fault of site or readings (own choice). [K]"""


def _deck(name: str) -> str:
    if name not in assemblies():
        raise ValueError(f"'{name}' is not a known deck; {did_you_mean(name, assemblies())}")
    return name


@cache
def zone_names() -> frozenset[str]:
    """Return the names of all zones; to list them takes a walk through many files."""
    return frozenset(available_timezones() - {"localtime", "Factory"})  # the machine's own


@cache
def _zone_at(longitude: float, latitude: float) -> str:
    """Return the name of the zone at a place in degrees; to look it up takes a map of the world."""
    from tzfpy import get_tz  # slow to load, and not needed where the zone is given

    return get_tz(longitude, latitude)


def _zone(name: str) -> str:
    zones = zone_names()
    if name not in zones:
        near = get_close_matches(name, zones, n=1)
        hint = f"did you mean '{near[0]}'? " if near else ""
        raise ValueError(
            f"'{name}' is not an IANA zone; {hint}write one such as America/New_York, or leave "
            "the key out to find it from the coordinates"
        )
    return name


def _calendar(code: str) -> str:
    country, mark, region = code.partition("-")
    known = set(EntityLoader.get_country_codes())  # the library's list loads every country
    if country in known and not mark:
        return code
    if country in known and region:
        try:
            _holidays(code, _ANY_YEAR)
        except NotImplementedError:
            pass
        else:
            return code
    raise ValueError(
        f"'{code}' is not a known holiday calendar; write an ISO 3166 country, with a region if "
        'wanted, as in "US" or "US-FL"'
    )


@cache
def _holidays(code: str, year: int) -> frozenset[date]:
    """Return the public holidays of an ISO 3166 country or region in a year."""
    country, _, region = code.partition("-")
    return frozenset(
        holiday_calendars.country_holidays(country, subdiv=region or None, years=year)
    )


Fraction = Annotated[float, Field(strict=True, ge=0, le=1)]


class Roof(Table):
    """The roof: size, deck, what wind and sky reach it, and the water it holds.

    ``surface_offset`` is what readings on the roof tell of the heat balance. Numbers that stand
    where a key is left out are our own choice; those of heat are the deck's.
    """

    area: Annotated[float, quantity("area", 0, above=True)]
    deck: Annotated[str, AfterValidator(_deck)]
    heat_capacity: Annotated[float, quantity("heat_capacity", 0, 2000)] | None = None
    u_value: Annotated[float, quantity("conductance", 0, 10)] | None = None
    indoor: Annotated[float, quantity("temperature", -40, 60)] = 21.0
    wind_share: Annotated[float, Field(strict=True, gt=0, le=1.5)] = 0.6
    sky_view: Annotated[float, Field(strict=True, gt=0, le=1)] = 1.0
    water_film: Annotated[float, quantity("water", 0, 25, above=True)] = 0.5
    ponded_share: Annotated[float, Field(strict=True, ge=0, le=1)] = 0.0
    pond_depth: Annotated[float, quantity("water", 0, 100, above=True)] = 6.0
    surface_offset: Annotated[float, quantity("difference", -MOST_OFFSET_K, MOST_OFFSET_K)] = 0.0

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.ponded_share > 0 and self.pond_depth < self.water_film:
            raise ValueError(
                f"pond_depth ({self.pond_depth:g} mm) is less than water_film "
                f"({self.water_film:g} mm), which stays everywhere; mend one of them"
            )
        return self

    @property
    def assembly(self) -> Assembly:
        """Heat storage and loss: the deck's, with the site's own numbers in their place."""
        deck = assemblies()[self.deck]
        stored, passed = self.heat_capacity, self.u_value
        return Assembly(
            deck.title,
            deck.heat_capacity_kj_m2_k if stored is None else stored,
            deck.u_value_w_m2_k if passed is None else passed,
        )


class Surface(Table):
    """The layer that is on top now."""

    name: str
    absorptance: Fraction
    emittance: Annotated[float, Field(strict=True, gt=0, le=1)]
    slick_when_wet: StrictBool = False


class CrewHours(Table):
    """Shift by the site's clock, work days and days off."""

    start: ClockTime
    end: ClockTime
    work_days: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri")
    holidays: Annotated[str, AfterValidator(_calendar)] | None = None
    days_off: tuple[Day, ...] = ()

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.start == self.end:
            raise ValueError("start and end are the same time; give the shift some hours")
        if not self.work_days:
            raise ValueError("work_days is empty; name at least one day")
        return self

    @property
    def length_h(self) -> float:
        """Length of a shift by the clock, part hours too. [h]"""
        begin, end = (clock.hour * 60 + clock.minute for clock in (self.start, self.end))
        return (end - begin) % (24 * 60) / 60

    def is_day_off(self, day: date) -> bool:
        """Tell whether no crew works on a day that begins a shift."""
        if WEEKDAYS[day.weekday()] not in self.work_days or day in self.days_off:
            return True
        return self.holidays is not None and day in _holidays(self.holidays, day.year)


class SafetyStops(Table):
    """The site's own limits for people, where they are stricter than the shipped ones."""

    heat_index: Annotated[float, quantity("temperature")] | None = None
    wind: Annotated[float, quantity("speed", 0, above=True)] | None = None
    gust: Annotated[float, quantity("speed", 0, above=True)] | None = None


class Site(Table):
    """A site, checked. See `load_site`."""

    name: str
    latitude: Annotated[float, Field(strict=True, ge=-90, le=90)]
    longitude: Annotated[float, Field(strict=True, ge=-180, le=180)]
    elevation: Annotated[float, quantity("height", -450, 6000)]
    timezone: Annotated[str, AfterValidator(_zone)] | None = None
    method: Literal["spray", "roller"] = "spray"
    note: str = ""
    roof: Roof
    surface: Surface
    crew: CrewHours
    safety: SafetyStops = SafetyStops()

    @property
    def zone(self) -> ZoneInfo:
        """Time zone: the one given, else the one at the coordinates.

        Raises
        ------
        SiteError
            If no zone is known at the coordinates.
        """
        if self.timezone is not None:
            return ZoneInfo(self.timezone)
        found = _zone_at(self.longitude, self.latitude)
        try:
            return ZoneInfo(found)
        except (ZoneInfoNotFoundError, ValueError):
            raise SiteError(
                f"{self.name}: no time zone is known at these coordinates; add the key 'timezone'"
            ) from None

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a user should know about this site before trusting its hours."""
        found = []
        if abs(self.latitude) > 66.5:
            found.append("polar site: the sun may stay up or down all day, and days have no shape")
        if self.roof.ponded_share > 0:
            found.append(
                f"{self.roof.ponded_share:.0%} of the roof ponds and stays wet longer than the "
                "gates say; dewgap dry tells how long"
            )
        offset = datetime(2026, 1, 15, tzinfo=self.zone).utcoffset()
        if offset is not None and abs(offset.total_seconds() / 3600 - self.longitude / 15) > 4:
            found.append(
                f"longitude {self.longitude:g} is far from time zone {self.zone.key}: west is minus"
            )
        if self.timezone is None:
            found.append(f"time zone {self.zone.key} was found from the coordinates")
        return tuple(found)


def load_site(path: Path | str) -> Site:
    """Load a site from a TOML file, or from ``site.toml`` in a folder.

    Raises
    ------
    SiteError
        If the file is missing or has a fault: unknown key, wrong type, impossible value.
    """
    path = Path(path)
    if os.path.isdir(path):  # unlike Path.is_dir, no error where the path cannot be looked up
        path = path / "site.toml"
    data = parse_toml(read_text(path, SiteError), str(path), SiteError)
    return validated(Site, data, str(path), SiteError)

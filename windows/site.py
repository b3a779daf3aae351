"""Sites: where the roof is, what it is made of, and when a crew may be on it."""

from __future__ import annotations

from datetime import date, time
from functools import cache
from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, available_timezones

import holidays as holiday_calendars
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StrictBool, model_validator

from cure_models.assembly import Assembly, assemblies
from cure_models.toml_input import parse_toml, read_text, validated
from cure_models.units import parse_quantity
from windows.errors import SiteError, did_you_mean

__all__ = ["CrewHours", "Roof", "SafetyStops", "Site", "Surface", "load_site"]

Weekday = Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
WEEKDAYS: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def _quantity(dimension: str) -> BeforeValidator:
    """Read "12 ft" into SI; numbers without a unit are refused, since nobody knows theirs."""

    def read(given: object) -> float:
        if not isinstance(given, str):
            raise ValueError(f"{given!r} has no unit: write it in quotes with one, as in \"12 ft\"")
        return parse_quantity(given, dimension)

    return BeforeValidator(read)


def _clock(given: object) -> time:
    """Read "07:00"; TOML's own 07:00:00 is taken too."""
    if isinstance(given, time):
        return given
    try:
        return time.fromisoformat(str(given))
    except ValueError:
        raise ValueError(f"{given!r} is not a time of day; write \"07:00\"") from None


@cache
def _holidays(code: str, year: int) -> frozenset[date]:
    """Return the public holidays of an ISO 3166 country or region in a year."""
    country, _, region = code.partition("-")
    return frozenset(
        holiday_calendars.country_holidays(country, subdiv=region or None, years=year)
    )


Fraction = Annotated[float, Field(strict=True, ge=0, le=1)]
ClockTime = Annotated[time, BeforeValidator(_clock)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Roof(_Table):
    """The roof: size, deck, and how much wind and water it holds."""

    area: Annotated[float, Field(gt=0), _quantity("area")]
    deck: str
    heat_capacity: Annotated[float, Field(ge=0, le=2000), _quantity("heat_capacity")] | None = None
    u_value: Annotated[float, Field(ge=0, le=10), _quantity("conductance")] | None = None
    indoor: Annotated[float, Field(ge=-40, le=60), _quantity("temperature")] = 21.0
    wind_share: Annotated[float, Field(strict=True, gt=0, le=1.5)] = 0.6
    water_film: Annotated[float, Field(gt=0, le=25), _quantity("water")] = 0.5

    @model_validator(mode="after")
    def _known_deck(self) -> Self:
        if self.deck not in assemblies():
            raise ValueError(
                f"key 'roof.deck' '{self.deck}' is not known; "
                f"{did_you_mean(self.deck, assemblies())}"
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


class Surface(_Table):
    """The layer that is on top now."""

    name: str
    absorptance: Fraction
    emittance: Annotated[float, Field(strict=True, gt=0, le=1)]
    slick_when_wet: StrictBool = False


class CrewHours(_Table):
    """Shift by the site's clock, work days and days off."""

    start: ClockTime
    end: ClockTime
    work_days: tuple[Weekday, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri")
    holidays: str | None = None
    days_off: tuple[date, ...] = ()

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.start == self.end:
            raise ValueError("crew.start and crew.end are the same; give the shift some hours")
        if not self.work_days:
            raise ValueError("crew.work_days is empty; name at least one day")
        if self.holidays is not None:
            try:
                _holidays(self.holidays, 2026)
            except NotImplementedError:
                raise ValueError(
                    f"crew.holidays '{self.holidays}' is not known; write an ISO 3166 country, "
                    'with a region if wanted, as in "US" or "US-FL"'
                ) from None
        return self

    def is_day_off(self, day: date) -> bool:
        """Tell whether no crew works on a day that begins a shift."""
        if WEEKDAYS[day.weekday()] not in self.work_days or day in self.days_off:
            return True
        return self.holidays is not None and day in _holidays(self.holidays, day.year)


class SafetyStops(_Table):
    """The site's own limits for people, where they are stricter than the shipped ones."""

    heat_index: Annotated[float, _quantity("temperature")] | None = None
    wind: Annotated[float, Field(gt=0), _quantity("speed")] | None = None
    gust: Annotated[float, Field(gt=0), _quantity("speed")] | None = None


class Site(_Table):
    """A site, checked. See `load_site`."""

    name: str
    latitude: Annotated[float, Field(strict=True, ge=-90, le=90)]
    longitude: Annotated[float, Field(strict=True, ge=-180, le=180)]
    elevation: Annotated[float, Field(ge=-450, le=6000), _quantity("height")]
    timezone: str | None = None
    method: Literal["spray", "roller"] = "spray"
    note: str = ""
    roof: Roof
    surface: Surface
    crew: CrewHours
    safety: SafetyStops = SafetyStops()

    @model_validator(mode="after")
    def _known_zone(self) -> Self:
        if self.timezone is not None and self.timezone not in available_timezones():
            raise ValueError(
                f"key 'timezone' '{self.timezone}' is not an IANA zone; write one such as "
                "America/New_York, or leave the key out to find it from the coordinates"
            )
        return self

    @property
    def zone(self) -> ZoneInfo:
        """Time zone: the one given, else the one at the coordinates."""
        if self.timezone is not None:
            return ZoneInfo(self.timezone)
        from tzfpy import get_tz  # slow to load, and not needed where the zone is given

        return ZoneInfo(get_tz(self.longitude, self.latitude))

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a user should know about this site before trusting its hours."""
        found = []
        if abs(self.latitude) > 66.5:
            found.append("polar site: the sun may stay up or down all day, and days have no shape")
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
    if path.is_dir():
        path = path / "site.toml"
    data = parse_toml(read_text(path, SiteError), str(path), SiteError)
    return validated(Site, data, str(path), SiteError)

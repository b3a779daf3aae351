"""The hours of days on sites: as the script draws them, and as a text for all readers."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from itertools import groupby
from math import isnan
from typing import TYPE_CHECKING, Any

import pandas as pd

from windows.reports import board_table as tables
from windows.reports.wording import Wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from windows.board.result import Board, BoardSite, DayStrip, StripHour, Work
    from windows.reports.wording import UnitSystem

__all__ = ["Strips", "reasons_told"]

_LINES = (
    ("a", "Air", "Air", "temperature", "air_temp_c"),
    ("f", "Roof", "Roof", "temperature", "surface_temp_c"),
    ("d", "Dew point", "Dew", "temperature", "dew_point_c"),
    ("m", "Wind", "Wind", "speed", "wind_m_s"),
    ("r", "Rain", "Rain", "water", "rain_mm"),
    ("p", "Chance of rain", "Wet", "fraction", "rain_prob"),
    ("k", "Chance to hold", "Holds", "fraction", "chance"),
)
"""Lines of an hour strip: key in the page's data, label, label on a phone, dimension, field of
`StripHour`."""

_SPANS = {
    "r": ("rain_block_h", "over"),
    "p": ("rain_prob_block_h", "in"),
}
"""Lines whose number may be that of several hours: field of their count, and how it is told."""


class Strips:
    """The hours of days on sites, as the script draws them; equal texts are kept once."""

    def __init__(
        self, board: Board, units: UnitSystem, words: dict[str, Wording], names: dict[str, str]
    ) -> None:
        self._words, self._names = words, names
        self._scales = [_scale(units, dimension) for _, _, _, dimension, _ in _LINES]
        self._of: dict[tuple[str, date], list[tuple[int, DayStrip]]] = {}
        self._packed: list[dict[str, Any]] = []
        self._clocks: dict[tuple[str, ...], int] = {}
        self._why: dict[str, int] = {"": 0}
        self._plans: list[list[str]] = []
        for site in board.sites:
            for strip in site.strips:
                if strip.hours:
                    known = self._of.setdefault((site.key, strip.day), [])
                    known.append((len(self._packed), strip))
                    self._packed.append(self._pack(site, strip))

    def of(self, site: str, day: date, layers: Iterable[str] = ()) -> list[tuple[int, DayStrip]]:
        """Return the strips of a day on a site, those of the layers if there are such."""
        found = self._of.get((site, day), [])
        wanted = set(layers)
        return [each for each in found if each[1].layer_name in wanted] or found

    def place(self, strips: Sequence[tuple[int, DayStrip]], works: Sequence[Work] = ()) -> str:
        """Return where the script draws strips, with the work that is planned in their hours."""
        if not strips:
            return ""
        plan = ""
        if works:
            first = len(self._plans)
            self._plans += [_plan(strip, works) for _, strip in strips]
            plan = f' data-plan="{" ".join(str(first + n) for n in range(len(strips)))}"'
        numbers = " ".join(str(number) for number, _ in strips)
        return f'<div class="strip" data-strip="{numbers}"{plan}></div>'

    def data(self) -> dict[str, Any]:
        """Return all that the script needs."""
        return {
            "lines": [
                [key, f"{told}, {scale.unit}", f"{short} {scale.unit}"]
                for (key, told, short, _, _), scale in zip(_LINES, self._scales, strict=True)
            ],
            "clocks": [list(clock) for clock in self._clocks],
            "why": list(self._why),
            "plans": self._plans,
            "strips": self._packed,
        }

    def _pack(self, site: BoardSite, strip: DayStrip) -> dict[str, Any]:
        local = pd.DatetimeIndex([hour.start for hour in strip.hours]).tz_convert(site.zone)
        clock = [
            f"{hour:02}:{minute:02}" if minute else f"{hour:02}"
            for hour, minute in zip(local.hour, local.minute, strict=True)
        ]
        zones = [when.tzname() for when in local]
        if len(set(zones)) > 1:  # else the hour that comes twice has one name
            clock = [f"{hour} {zone}" for hour, zone in zip(clock, zones, strict=True)]
        packed: dict[str, Any] = {
            "t": f"{self._names[site.key]}, {tables.day_told(strip.day)}: hours for "
            f"{strip.layer_name} ({strip.coating})",
            "l": self._clocks.setdefault(tuple(clock), len(self._clocks)),
            "s": "".join(hour.state[0] for hour in strip.hours),
            "c": "".join("1" if hour.crew else "0" for hour in strip.hours),
            "w": [self._why.setdefault("; ".join(h.why), len(self._why)) for h in strip.hours],
        }
        for (key, _, _, _, name), scale in zip(_LINES, self._scales, strict=True):
            packed[key] = " ".join(_line(strip.hours, key, name, scale))
        return packed


def _line(hours: Sequence[StripHour], key: str, name: str, scale: _Scale) -> list[str]:
    """Return one number of each hour; one that is of several hours says of how many.

    The parts of such a number are joined by no-break spaces, so that a line is split at others.
    """
    field, joint = _SPANS.get(key, ("", ""))
    lengths = [(getattr(hour, field) if field else None) or 1.0 for hour in hours]
    told: list[str] = []
    for (value, length), run in groupby(
        zip((getattr(hour, name) for hour in hours), lengths, strict=True)
    ):
        count = len(list(run))
        if value is None or isnan(value) or not length > 1:
            told += [scale.told(value)] * count
            continue
        number = scale.told(value * length if key == "r" else value)
        unit = scale.unit if scale.unit == "%" else f" {scale.unit}"
        each = " each" if count > length else ""  # spans alike follow one another
        told += [f"{number}{unit} {joint}{each} {length:g} h".replace(" ", "\u00a0")] * count
    return told


@dataclass(frozen=True)
class _Scale:
    """How numbers of one dimension are shown; every conversion is linear."""

    unit: str
    zero: float
    one: float
    decimals: int

    def told(self, si: float | None) -> str:
        """Return a number in the reader's units without its unit, ``"-"`` if it is not known."""
        if si is None or isnan(si):
            return "-"
        return f"{self.zero + si * self.one:z.{self.decimals}f}"


def _scale(units: UnitSystem, dimension: str) -> _Scale:
    words = Wording(units)
    zero, unit = words.number(0.0, dimension), words.unit(dimension)
    shown = words.value(0.0, dimension).removesuffix(unit).rstrip()
    decimals = len(shown.partition(".")[2])
    return _Scale(unit, zero, words.number(1.0, dimension) - zero, decimals)


def _plan(strip: DayStrip, works: Sequence[Work]) -> list[str]:
    """Return what is planned in each hour of a strip, of the strip's own layer alone."""
    mine = [
        each
        for each in works
        if (each.placement.layer_name, each.placement.coating) == (strip.layer_name, strip.coating)
    ]
    return [_laid_in(hour.start, mine) for hour in strip.hours]


def _laid_in(start: pd.Timestamp, works: Sequence[Work]) -> str:
    """Return the layers that are planned in an hour, counted from 1."""
    end = start + pd.Timedelta(hours=1)
    layers = {
        each.placement.layer + 1
        for each in works
        if each.placement.start < end and each.placement.end > start
    }
    return "+".join(str(layer) for layer in sorted(layers))


def reasons_told(strips: Sequence[tuple[int, DayStrip]], words: Wording, level: str) -> str:
    """Return why a crew may not work in its hours, hours alike together; a text for all readers."""
    told = []
    for _, strip in strips:
        hours = [hour for hour in strip.hours if hour.crew]
        name = f" ({strip.layer_name})" if len(strips) > 1 else ""
        for (state, why), run in groupby(hours, key=lambda hour: (hour.state, hour.why)):
            same = list(run)
            if state == "ok":
                continue
            span = words.hours(same[0].start, same[-1].start + pd.Timedelta(hours=1))
            what = "blocked" if state == "blocked" else "not known"
            told.append(f"{span}{name} {what}: {'; '.join(why) or 'no reason is known'}")
    if not strips:
        return "<p>The hours of this day are not known.</p>"
    if not told:
        return "<p>All hours in which a crew may work are OK.</p>"
    items = "".join(f"<li>{escape(line)}</li>" for line in told)
    return f"<{level}>Crew hours that are not OK</{level}><ul>{items}</ul>"

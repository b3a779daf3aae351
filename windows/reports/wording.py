"""How results are worded: units, times, gates and milestones as people read them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Literal
from zoneinfo import ZoneInfo

from cure_models.limits import MILESTONES
from cure_models.units import from_si

if TYPE_CHECKING:
    import pandas as pd

    from cure_models.coating import Gate
    from cure_models.sourced import Sourced
    from windows.cover import Cover
    from windows.found import AtRisk, Tightest, Window
    from windows.job import Job

__all__ = ["DRY_CHANCE_NOTE", "STOP_NOTE", "UnitSystem", "Wording", "capital", "sentence"]

UnitSystem = Literal["us", "si"]

DRY_CHANCE_NOTE = (
    "Chance dry: no rain until the last coat is rain-safe; the low end if rainy hours come each on "
    "their own, the high end if they come all together."
)

STOP_NOTE = (
    "Stop by: the last moment to have a coat down, for it to be safe before the hazard in brackets "
    "by the cure of that evening; shift and other gates may end earlier."
)

# dimension: (unit, decimals, how it is printed)
_US = {
    "temperature": ("degF", 0, "°F"),
    "difference": ("delta_degF", 1, "°F"),
    "fraction": ("%", 0, "%"),
    "speed": ("mph", 0, "mph"),
    "water": ("in", 2, "in"),
    "film": ("mil", 0, "mil"),
    "area": ("ft2", 0, "ft²"),
    "height": ("ft", 0, "ft"),
    "angle": ("deg", 0, "°"),
    "time": ("h", 0, "h"),
    "spread_rate": ("gal/100ft2", 2, "gal/100 ft²"),
    "permeance": ("perm", 2, "perm"),
    "activation_energy": ("kJ/mol", 0, "kJ/mol"),
    "drying": ("lb/ft2h", 2, "lb/ft²h"),
    "volume": ("gal", 0, "gal"),
    "foam": ("board_ft", 0, "board ft"),
    "work_rate": ("ft2/h", 0, "ft²/h"),
    "uv_dose": ("SED", 0, "SED"),
    "stress": ("psi", 0, "psi"),
    "peel": ("lbf/in", 1, "lbf/in"),
}
_SI = _US | {
    "temperature": ("degC", 1, "°C"),
    "difference": ("K", 1, "K"),
    "speed": ("m/s", 1, "m/s"),
    "water": ("mm", 1, "mm"),
    "film": ("um", 0, "µm"),
    "area": ("m2", 0, "m²"),
    "height": ("m", 0, "m"),
    "drying": ("mm/h", 2, "mm/h"),
    "spread_rate": ("L/m2", 2, "L/m²"),
    "volume": ("L", 0, "L"),
    "foam": ("m3", 2, "m³"),
    "work_rate": ("m2/h", 0, "m²/h"),
    "stress": ("kPa", 0, "kPa"),
    "peel": ("N/m", 0, "N/m"),
}
_UTC = ZoneInfo("UTC")
_TOUCHING = ("°F", "°C", "%", "°")


@dataclass(frozen=True)
class Wording:
    """Words for one reader: a unit system and the site's clock."""

    units: UnitSystem
    zone: ZoneInfo = _UTC

    def unit(self, dimension: str) -> str:
        """Return the unit in which a dimension is printed."""
        return self._shown(dimension)[2]

    def number(self, si: float, dimension: str) -> float:
        """Return an SI number in the unit in which it is printed."""
        return from_si(si, self._shown(dimension)[0])

    def value(self, si: float, dimension: str, *, finer: int = 0) -> str:
        """Return an SI number with its unit, for example ``"50°F"``; ``finer`` adds decimals."""
        name, decimals, shown = self._shown(dimension)
        number = f"{from_si(si, name):z.{decimals + finer}f}"  # z: no minus before a zero
        return f"{number}{'' if shown in _TOUCHING else ' '}{shown}"

    def _shown(self, dimension: str) -> tuple[str, int, str]:
        return (_US if self.units == "us" else _SI)[dimension]

    def sourced(self, entry: Sourced) -> str:
        """Return a profile's number with its range, in the unit of its source."""
        text = f"{entry.value:g}"
        if entry.low != entry.high:
            text += f" ({entry.low:g} to {entry.high:g})"
        return f"{text} {entry.unit.replace('delta_', '')}"

    def day(self, when: pd.Timestamp) -> str:
        """Return the local day, for example ``"Mon May 4"``."""
        local = when.tz_convert(self.zone)
        return f"{local:%a %b} {local.day}"

    def clock(self, when: pd.Timestamp | None, beside: pd.Timestamp | None = None) -> str:
        """Return the local time of day, with its day unless it is the same as ``beside``'s."""
        if when is None:
            return "not known"
        local = when.tz_convert(self.zone)
        if beside is not None and beside.tz_convert(self.zone).date() == local.date():
            return f"{local:%H:%M}"
        return f"{self.day(when)} {local:%H:%M}"

    def hours(self, start: pd.Timestamp, end: pd.Timestamp) -> str:
        """Return a span of local time, for example ``"07:00-12:00"``."""
        return f"{self.clock(start, start)}-{self.clock(end, start)}"

    def duration(self, hours: float) -> str:
        """Return a length of time, for example ``"6.5 h"`` or ``"3.2 days"``."""
        if hours == float("inf"):
            return "never"
        if hours < 1:
            return f"{60 * hours:.0f} min"
        return f"{hours:.1f} h" if hours < 72 else f"{hours / 24:.1f} days"

    def offset(self, when: pd.Timestamp) -> str:
        """Return zone, its short name and UTC offset at a time."""
        local = when.tz_convert(self.zone)
        offset = f"{local:%z}"
        return f"{self.zone.key} ({local.tzname()}, UTC{offset[:3]}:{offset[3:]})"

    def due(self, due: pd.Timestamp | None) -> str:
        """Return a deadline, "-" where there is none or the data do not reach it."""
        return "-" if due is None else self.clock(due)

    def cover_by(self, cover: Cover) -> str:
        """Return until when a laid layer must be covered."""
        if cover.due is not None:
            return self.clock(cover.due)
        return "not known, or after the weather" if cover.deadlines else "none"

    def spare(self, spare: bool | None) -> str:
        """Return whether another shift would do if the planned one is lost."""
        return "-" if spare is None else ("yes" if spare else "none")

    def milestone(self, name: str) -> str:
        """Return the label of a milestone."""
        return MILESTONES[name]

    def tightest(self, tight: Tightest | None) -> str:
        """Return gate and margin, for example ``"spread_min, 5.2°F to spare"``."""
        if tight is None:
            return "none"
        rule = tight.gate.rule
        dimension = "difference" if rule.dimension == "temperature" else rule.dimension
        finer = 0 if dimension == "difference" else 1
        return f"{rule.name}, {self.value(tight.margin, dimension, finer=finer)} to spare"

    def stop(self, window: Window) -> str:
        """Return the stop time of a window and its hazard: ``"16:59 (no_rain 23:00)"``."""
        stop = window.stop
        if stop is None or stop.at > window.end + timedelta(days=1):
            return "none within a day"
        hazard = f"{stop.gate.name} {'' if stop.known else 'not known '}"
        return f"{self.clock(stop.at, window.start)} ({hazard}{self.clock(stop.hazard, stop.at)})"

    def limit(self, gate: Gate) -> str:
        """Return a gate's limit as a phrase, for example ``"at least 50°F"``."""
        if gate.rule.quantity == "wet_mm" and gate.limit == 0:
            return "no water film"
        sense = {"min": "at least", "max": "at most"}[gate.rule.sense]
        if not gate.rule.inclusive:
            sense = {"at least": "above", "at most": "below"}[sense]
        until = ""
        if gate.milestone is not None:
            until = f" until {MILESTONES[gate.milestone]}"
        elif gate.clock_h is not None:
            until = f" for {gate.clock_h:g} h"
        finer = 1 if gate.rule.dimension == "water" else 0
        return f"{sense} {self.value(gate.limit, gate.rule.dimension, finer=finer)}{until}"

    def robustness(self, window: Window) -> str:
        """Return ``"robust"``, or the gates whose data-sheet value decides or that stay open."""
        if window.rain_likely:
            return "RAIN LIKELY: the amounts say dry, the probabilities do not"
        if window.robust:
            return "robust"
        decided = ", ".join(gate.name for gate in window.decided_by)
        if decided:
            return f"depends on the data sheet: {decided}"
        undecided = ", ".join(gate.name for gate in window.undecided)
        return f"not known at careful limits, the data end: {undecided}"

    def deciding(self, job: Job) -> list[tuple[str, str, str]]:
        """Return the values on whose range the windows of a job depend: name, value, source."""
        profile = job.coating.profile
        names = {gate.name for window in job.found.windows for gate in window.decided_by}
        told: dict[str, Sourced] = {}
        for gate in job.coating.gates:
            if gate.name not in names:
                continue
            told[gate.name] = gate.sourced
            if gate.milestone is not None:
                told[MILESTONES[gate.milestone]] = profile.milestones[gate.milestone]
            if gate.clock_sourced is not None:
                told[f"{gate.name}, hours"] = gate.clock_sourced
        return [
            (name, self.sourced(entry), entry.source)
            for name, entry in told.items()
            if entry.low != entry.high
        ]

    def basis(self, job: Job) -> dict[str, str]:
        """Return how each gate's limit is known, with the milestone that ends its hold."""
        milestones = job.coating.profile.milestones
        known = {}
        for gate in job.coating.gates:
            known[gate.name] = gate.sourced.basis
            if gate.milestone is not None:
                until = milestones[gate.milestone].basis
                known[gate.name] += f"; {MILESTONES[gate.milestone]}: {until}"
        return known

    def risk(self, risk: AtRisk) -> str:
        """Return why a coat laid in these hours would be spoiled."""
        text = f"{risk.gate.name} breaks at {self.clock(risk.hazard, risk.start)}"
        if risk.gate.milestone is not None:
            safe = self.clock(risk.safe, risk.start)
            text += f", {MILESTONES[risk.gate.milestone]} {safe}"
        elif risk.gate.clock_h is not None:
            text += f", within {risk.gate.clock_h:g} h"
        return text


def capital(text: str) -> str:
    """Return a text with a capital letter."""
    return f"{text[:1].upper()}{text[1:]}"


def sentence(text: str) -> str:
    """Return a text with a capital letter and a full stop.

    >>> sentence("no reason is known ")
    'No reason is known.'
    """
    told = text.strip()
    return f"{capital(told)}{'' if told.endswith(('.', ':')) else '.'}"

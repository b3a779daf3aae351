"""What readings on a roof have taught of its weather source and its surface model."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import nan

from windows.calibration import ModelError
from windows.field.told import both

__all__ = [
    "AIR", "DEW", "NOTHING", "SURFACE", "Learned", "Lesson", "counted", "lesson_told",
]  # fmt: skip

AIR, DEW, SURFACE = "air temperature", "dew point", "surface temperature"
"""What lessons are about, for people."""


@dataclass(frozen=True)
class Lesson:
    """What readings teach about one quantity.

    Attributes
    ----------
    used, why_not
        Whether the correction is to be used; if not, one sentence that says why.
    bias_day_k, bias_night_k
        Reading less source: what is added with the sun up, and down; 0 where nothing is. [K]
    found_day_k, found_night_k
        The same as readings of the day and of the night have it, used or not; NaN where they are
        too few to say. [K]
    error_day_k, error_night_k
        Standard errors of these; NaN where they are. [K]
    readings, days, nights, left_out
        Readings used, on how many days and nights; readings left out as faults.
    before
        Mean and root mean square of source less reading. [K]
    after
        The same corrected, each day foretold from the other days; ``before`` if it is not used. [K]
    """

    used: bool = False
    why_not: str = ""
    bias_day_k: float = 0.0
    bias_night_k: float = 0.0
    found_day_k: float = nan
    found_night_k: float = nan
    error_day_k: float = nan
    error_night_k: float = nan
    readings: int = 0
    days: int = 0
    nights: int = 0
    left_out: int = 0
    before: ModelError = field(default_factory=lambda: ModelError(nan, nan))
    after: ModelError = field(default_factory=lambda: ModelError(nan, nan))


NOTHING = Lesson(why_not="there are no readings to learn from")


@dataclass(frozen=True)
class Learned:
    """What readings on a roof teach: a `Lesson` for each quantity."""

    air_temp: Lesson = NOTHING
    dew_point: Lesson = NOTHING
    surface_temp: Lesson = NOTHING

    @classmethod
    def none(cls) -> Learned:
        """Return what no reading teaches."""
        return cls()

    @property
    def lessons(self) -> dict[str, Lesson]:
        """The lessons by the name of what they are about, for people."""
        return {
            AIR: self.air_temp,
            DEW: self.dew_point,
            SURFACE: self.surface_temp,
        }

    @property
    def any_used(self) -> bool:
        """Whether anything is to be corrected."""
        return any(lesson.used for lesson in self.lessons.values())


def lesson_told(name: str, lesson: Lesson) -> str:
    """Return what is corrected, by how much, from what, and what it was worth."""
    by_day, by_night = (
        f"{'+' if value > 0 else ''}{both(value, 'difference')}"
        for value in (lesson.bias_day_k, lesson.bias_night_k)
    )
    before, after = (both(error.rms, "difference") for error in (lesson.before, lesson.after))
    amount = f"{by_day} with the sun up and {by_night} with it down"
    if lesson.bias_day_k == lesson.bias_night_k:
        amount = by_day
    return (
        f"{name} {amount} ({lesson.readings} readings on {counted(lesson.days, 'day')} and "
        f"{counted(lesson.nights, 'night')}; error {before} before, {after} after)"
    )


def counted(count: int, noun: str) -> str:
    """Return a count with its noun, as ``"2 days"``."""
    return f"{count} {noun}{'s' * (count != 1)}"

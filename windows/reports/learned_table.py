"""What the readings of a log teach, as rows of a table, sentences and JSON."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from windows.calibration import ModelError
    from windows.field.learned import Learned, Lesson
    from windows.reports.wording import Wording

__all__ = ["COLUMNS", "learned_dict", "learned_rows", "learned_told"]

COLUMNS = (
    "what", "readings", "days", "nights", "added by day", "by night", "error before", "after",
    "used",
)  # fmt: skip


def learned_rows(learned: Learned, words: Wording) -> list[list[str]]:
    """Return a row for each quantity; errors are root mean squares of source less reading."""
    return [
        [
            name, str(lesson.readings), str(lesson.days), str(lesson.nights),
            *(_signed(value, words) for value in _added(lesson)),
            _value(lesson.before.rms, words), _value(lesson.after.rms, words),
            "yes" if lesson.used else "no",
        ]
        for name, lesson in learned.lessons.items()
    ]  # fmt: skip


def _added(lesson: Lesson) -> tuple[float, float]:
    """Return what is added by day and night if it is used, else what was found."""
    if lesson.used:
        return lesson.bias_day_k, lesson.bias_night_k
    return lesson.found_day_k, lesson.found_night_k


def learned_told(learned: Learned) -> list[str]:
    """Return why what is not used is not, and what the figures mean."""
    told = [
        f"{name}: not used, because {lesson.why_not}"
        for name, lesson in learned.lessons.items()
        if not lesson.used
    ]
    left = sum(lesson.left_out for lesson in learned.lessons.values())
    if left:
        told.append(f"{left} readings so far from the source that they count as faults are out")
    told.append(
        "Added is what readings are above the source, pulled to zero where they are few; the error "
        "after is that of each day foretold from the other days."
    )
    return told


def _value(kelvins: float, words: Wording) -> str:
    return words.value(kelvins, "difference") if isfinite(kelvins) else "-"


def _signed(kelvins: float, words: Wording) -> str:
    told = _value(kelvins, words)
    return f"+{told}" if isfinite(kelvins) and kelvins > 0 else told


def learned_dict(learned: Learned) -> dict[str, Any]:
    """Return the lessons for JSON. [K]"""
    return {
        name.replace(" ", "_"): {
            "used": lesson.used,
            "why_not": lesson.why_not or None,
            "readings": lesson.readings,
            "days": lesson.days,
            "nights": lesson.nights,
            "left_out": lesson.left_out,
            "added_day_k": _known(lesson.bias_day_k),
            "added_night_k": _known(lesson.bias_night_k),
            "found_day_k": _known(lesson.found_day_k),
            "found_night_k": _known(lesson.found_night_k),
            "error_day_k": _known(lesson.error_day_k),
            "error_night_k": _known(lesson.error_night_k),
            "before": _error(lesson.before),
            "after": _error(lesson.after),
        }
        for name, lesson in learned.lessons.items()
    }


def _error(error: ModelError) -> dict[str, float | None]:
    return {"bias_k": _known(error.bias), "rms_k": _known(error.rms)}


def _known(value: float) -> float | None:
    return round(value, 3) if isfinite(value) else None

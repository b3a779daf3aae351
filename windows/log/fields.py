"""Types of the fields of entries: texts in one Unicode form, times in UTC, numbers in bounds."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Annotated, Any, get_args, get_origin

from pydantic import AfterValidator, BeforeValidator, Field, StrictStr

from windows.fields import YEARS

if TYPE_CHECKING:
    from pydantic import BaseModel

__all__ = [
    "AirTemperature", "Bounds", "Count", "Day", "Film", "Hash", "Line", "Name", "Number", "Share",
    "Speed", "Temperature", "Text", "Utc", "bounds_of",
]  # fmt: skip

_MOST_LINE, _MOST_TEXT = 200, 10_000

# Spaces that do not break are spaces. Joiners of letters and of emoji, and marks of the direction
# of writing, have no shape of their own and belong to a text; what turns it around does not.
_SPACES = str.maketrans({"\u00a0": " ", "\u202f": " "})
_JOINERS = str.maketrans(dict.fromkeys("\u200c\u200d\u200e\u200f"))


def _line(text: str) -> str:
    """Take a text of one line, in one Unicode form, so that equal names are equal bytes."""
    told = unicodedata.normalize("NFC", text.translate(_SPACES)).strip()
    if not told.translate(_JOINERS).isprintable():
        raise ValueError(f"{text[:60]!r} is not a text on one line; take control characters out")
    return _short(told, _MOST_LINE)


def _name(text: str) -> str:
    told = _line(text)
    if not told:
        raise ValueError("is empty; give a text")
    return told


def _short(text: str, most: int) -> str:
    if len(text) > most:
        raise ValueError(f"{text[:30]!r}... has {len(text)} letters, and {most} are the most")
    return text


def _text(text: str) -> str:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").translate(_SPACES)
    told = unicodedata.normalize("NFC", lines).strip()
    if not told.replace("\t", " ").replace("\n", " ").translate(_JOINERS).isprintable():
        raise ValueError(f"{text[:60]!r} has control characters; take them out")
    return _short(told, _MOST_TEXT)


def _utc(given: object) -> object:
    """Take a moment with an offset, to the whole second; a text as 2026-06-08T15:00:00Z too."""
    moment = given
    if isinstance(given, str):
        try:
            moment = datetime.fromisoformat(given)
        except ValueError:
            moment = None
    if not isinstance(moment, datetime) or moment.utcoffset() is None:
        raise ValueError(f"{str(given)!r} is not a moment with an offset, as 2026-06-08T15:00:00Z")
    if moment.year not in YEARS[1:-1]:  # in UTC it may be the year before or after
        raise ValueError(f"{str(given)!r} is not a year of a roof; mend the time")
    return moment.astimezone(UTC).replace(microsecond=0)


def _day(given: object) -> object:
    if isinstance(given, str):
        try:
            return date.fromisoformat(given)
        except ValueError:
            raise ValueError(f"{given!r} is not a date; write it as 2026-07-03") from None
    return given


def _no_minus_zero(value: float) -> float:
    """Take zero without a sign: the canonical form has no other (RFC 8785)."""
    return value + 0.0


Utc = Annotated[datetime, BeforeValidator(_utc)]
Day = Annotated[date, BeforeValidator(_day)]
Line = Annotated[StrictStr, AfterValidator(_line)]
Name = Annotated[StrictStr, AfterValidator(_name)]
Text = Annotated[StrictStr, AfterValidator(_text)]
Count = Annotated[int, Field(strict=True, ge=0, le=2**53 - 1)]
Hash = Annotated[StrictStr, Field(pattern="^[0-9a-f]{64}$")]
Number = Annotated[float, Field(strict=True), AfterValidator(_no_minus_zero)]
Temperature = Annotated[Number, Field(ge=-60, le=120)]
AirTemperature = Annotated[Number, Field(ge=-60, le=60)]
Share = Annotated[Number, Field(ge=0, le=1)]
Speed = Annotated[Number, Field(ge=0, le=100)]
Film = Annotated[Number, Field(gt=0, le=50_000)]


@dataclass(frozen=True)
class Bounds:
    """What a number of an entry may be; None where it has no such bound. [SI]"""

    low: float | None = None
    above: float | None = None
    high: float | None = None


def bounds_of(kind: type[BaseModel], field: str) -> Bounds:
    """Return the bounds of a number of a kind of entry, or of a part of one."""
    annotation = kind.model_fields[field]
    found: dict[str, float] = {}
    for each in (*annotation.metadata, *_inside(annotation.annotation)):
        for name in ("ge", "gt", "le"):
            if getattr(each, name, None) is not None:
                found[name] = float(getattr(each, name))
    return Bounds(found.get("ge"), found.get("gt"), found.get("le"))


def _inside(annotation: Any) -> list[Any]:
    """Return the checks that stand inside a type that may be None as well."""
    checks: list[Any] = []
    for part in get_args(annotation):
        if get_origin(part) is Annotated:
            for each in part.__metadata__:
                checks += getattr(each, "metadata", [each])
    return checks

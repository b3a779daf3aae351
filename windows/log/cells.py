r"""Values of a field as the text of one cell, and back; a cell that cannot be read says why.

A list stands in one cell with bars between its parts: batches as ``A1 | A2``, wet film as ``610 @
north edge | 635``, photos as ``file sha256 size``, holes of a repair as ``3-9 | 20-20``. In a part
a bar is written ``\|``, a backslash ``\\``, and a part without text as a single backslash.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from math import isfinite
from typing import TYPE_CHECKING, Any

from cure_models.units import to_si
from windows.fields import local_moment
from windows.log.chain import told

if TYPE_CHECKING:
    from collections.abc import Callable
    from zoneinfo import ZoneInfo

    from windows.log.entries import WetFilm

__all__ = ["cell_of", "guarded", "moment", "read_cell", "shown", "unguarded"]

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")
_LONGEST_NUMBER = 40
_DECIMALS = 6
_MOST_SHOWN = 60


# ------------------------------------------------------------------------------ values as texts


def guarded(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; `unguarded` gives it back."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def unguarded(text: str) -> str:
    """Return what `guarded` was given."""
    return text[1:] if text.startswith("'") and text[1:].startswith(_FORMULA) else text


def _number_text(value: float) -> str:
    """Return the shortest text that is read as the same number."""
    return repr(value).removesuffix(".0")


def _part(text: str) -> str:
    return text.replace("\\", "\\\\").replace("|", "\\|") if text else "\\"


def _film_text(film: WetFilm) -> str:
    tail = f" @ {_part(film.where)}" if film.where else ""
    return _number_text(film.film_um) + tail


_WRITTEN: dict[str, Callable[[Any], str]] = {
    "text": guarded,
    "number": _number_text,
    "truth": lambda value: "true" if value else "false",
    "time": told,
    "day": date.isoformat,
    "texts": lambda parts: guarded(" | ".join(_part(part) for part in parts)),
    "films": lambda films: " | ".join(_film_text(film) for film in films),
    "photos": lambda photos: guarded(
        " | ".join(f"{_part(photo.file)} {photo.sha256} {photo.size}" for photo in photos)
    ),
    "spans": lambda spans: " | ".join(f"{first}-{last}" for first, last in spans),
}

def cell_of(form: str, value: object) -> str:
    """Return a value as the text of a cell, by the form of its column; as it is without one."""
    return _WRITTEN[form](value) if form else str(value)


# ------------------------------------------------------------------------------ texts as values


def shown(given: object) -> str:
    """Return what somebody gave as a fault tells it: short, and on one line."""
    text = " ".join(str(given)[: 4 * _MOST_SHOWN].split())
    tail = "..." if len(text) > _MOST_SHOWN else ""
    letters = (c if c.isprintable() else repr(c)[1:-1] for c in text[:_MOST_SHOWN])
    return f"'{''.join(letters)}{tail}'"


def _parts(text: str) -> list[str]:
    """Return the parts of a cell between its bars; parts of nothing but spaces are passed over."""
    found: list[str] = []
    for part in re.findall(r"(?:[^|\\]|\\[|\\]|\\)+", text):
        bare = part.strip()
        if bare:
            plain = re.sub(r"\\([|\\])", r"\1", bare)
            found.append("" if bare == "\\" else plain.strip())
    return found


_PLAIN_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,4})?")


def _number(given: object, unit: str | None) -> object:
    if not isinstance(given, str):
        if unit and isinstance(given, (int, float)) and not isinstance(given, bool):
            return _si(float(given), unit)
        return given
    text = given.strip()
    if len(text) > _LONGEST_NUMBER or not _PLAIN_NUMBER.fullmatch(text):
        if re.fullmatch(r"[+-]?[0-9.]+(,[0-9.]+)+", text):
            raise ValueError(f"{shown(text)} has a comma; write the number plain, as 2400 or 18.5")
        if re.match(r"[+-]?[0-9.,]+ *[^0-9., ]", text) and len(text) <= _LONGEST_NUMBER:
            raise ValueError(
                f"{shown(text)} is more than a number; write the number alone, its unit is in the "
                "column's name"
            )
        raise ValueError(f"{shown(text)} is not a number; mend it, or leave the cell empty")
    value = float(text)
    if not isfinite(value):
        raise ValueError(f"{shown(text)} is not a number that can be; mend it")
    if unit == "%" and not 0 <= value <= 100:
        raise ValueError(f"{shown(text)} is not a percentage from 0 to 100; mend it")
    return _si(value, unit) if unit else value


def _si(value: float, unit: str) -> float:
    """Return a value in SI, without the digits after the sixth decimal that nobody measured.

    So it also goes through a spreadsheet as it is, which cuts long numbers. (own choice)
    """
    return round(to_si(value, unit), _DECIMALS)


_MONTH_FIRST = re.compile(
    r"([0-9]{1,2})/([0-9]{1,2})/([0-9]{4})"
    r"(?: +([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?(?: *([AaPp])[Mm])?)?"
)
_AS_WRITTEN = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z")
_SHORT_HOUR = re.compile(r"^([0-9]{4}-[0-9]{2}-[0-9]{2})[ T]([0-9]:)")
_TIME = "write it as 2026-06-08 10:00, or month first as 6/8/2026 10:00"


def _month_first(text: str) -> datetime | None:
    """Read 6/8/2026, 6/8/2026 14:00 or 6/8/2026 2:00 PM, as US spreadsheets write them."""
    found = _MONTH_FIRST.fullmatch(text)
    if found is None:
        return None
    month, day, year, hour, minute, second = (int(n or 0) for n in found.groups()[:6])
    half = (found.group(7) or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    try:
        return datetime(year, month, day, hour, minute, second)
    except ValueError:
        return None


def moment(given: object, zone: ZoneInfo) -> object:
    """Return the time that a cell names, without an offset by a site's clock.

    A text as the log writes it is returned as it is.

    Raises
    ------
    ValueError
        If it is no time, or one that the site's clock skips or has twice.
    """
    named: object = given
    if isinstance(given, datetime) and given.tzinfo is not None:
        return given
    if isinstance(given, str):
        text = given.strip()
        if _AS_WRITTEN.fullmatch(text):
            return text
        named = _SHORT_HOUR.sub(r"\1 0\2", text)
        if "/" in text:
            named = _month_first(text) if ":" in text else None
            if named is None:
                raise ValueError(f"{shown(text)} is not a time; {_TIME}")
        elif len(text) > _LONGEST_NUMBER:
            raise ValueError(f"{shown(text)} is not a time; {_TIME}")
    return local_moment(named, zone).to_pydatetime(warn=False)


def _day(given: object) -> object:
    if not isinstance(given, str):
        return given
    text = given.strip()
    if "/" in text:
        named = _month_first(text) if ":" not in text else None
        if named is None:
            raise ValueError(
                f"{shown(text)} is not a date; write it as 2026-07-03, or month first as 7/3/2026"
            )
        return named.date()
    if len(text) > _LONGEST_NUMBER:
        raise ValueError(f"{shown(text)} is not a date; write it as 2026-07-03")
    return text


_TRUTHS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


def _truth(given: object) -> object:
    if not isinstance(given, str):
        return given
    found = _TRUTHS.get(given.strip().lower())
    if found is None:
        raise ValueError(f"{shown(given)} is neither yes nor no; write one of them")
    return found


def _films(given: object, unit: str | None) -> object:
    if not isinstance(given, str):
        return given
    found = []
    for part in _parts(given):
        number, _, where = part.partition("@")
        try:
            film = _number(number, unit)
        except ValueError as fault:
            raise ValueError(f"{fault}; write several as 24 @ north edge | 23") from None
        found.append({"film_um": film, "where": where.strip()})
    return found


def _photos(given: object) -> object:
    if not isinstance(given, str):
        return given
    found = []
    for part in _parts(given):
        cells = part.rsplit(" ", 2)
        if len(cells) < 3 or not re.fullmatch("[0-9]{1,16}", cells[2]):
            raise ValueError(
                f"{shown(part)} is not a photo; write its file, SHA-256 and length in bytes with "
                "spaces between, or leave the cell empty"
            )
        found.append({"file": cells[0], "sha256": cells[1], "size": int(cells[2])})
    return found


def _spans(given: object) -> object:
    if not isinstance(given, str):
        return given
    found = []
    for part in _parts(given):
        span = re.fullmatch("([0-9]{1,16})-([0-9]{1,16})", part)
        if span is None:
            raise ValueError(f"{shown(part)} is not a first and last number; write them as 3-9")
        found.append((int(span[1]), int(span[2])))
    return found


def read_cell(form: str, given: object, unit: str | None, zone: ZoneInfo) -> object:
    """Return the value of a cell; what is no text is taken as it is, for the checks of its field.

    Raises
    ------
    ValueError
        With what is wrong with the cell, if it cannot be read.
    """
    if form == "number":
        return _number(given, unit)
    if form == "time":
        return moment(given, zone)
    if form == "films":
        return _films(given, unit)
    if form == "texts":
        return _parts(given) if isinstance(given, str) else given
    reader = {"day": _day, "truth": _truth, "photos": _photos, "spans": _spans}.get(form)
    return reader(given) if reader else given

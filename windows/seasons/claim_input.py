"""What a claim is told: its period, the anticipated days, and the days of critical work."""

from __future__ import annotations

import csv
import re
from calendar import monthrange
from datetime import date
from math import floor, isnan, nan
from pathlib import Path
from typing import TYPE_CHECKING

from cure_models.toml_input import read_text
from windows.errors import HoursError
from windows.fields import YEARS
from windows.seasons.claim_result import Anticipated

if TYPE_CHECKING:
    from windows.seasons.contract import Contract
    from windows.seasons.weather_days import Months

__all__ = [
    "anticipated_of_contract", "anticipated_of_years", "given_anticipated", "month_end",
    "month_of", "read_critical",
]  # fmt: skip

_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"no", "n", "false", "0", ""})


def month_of(text: str, option: str) -> tuple[date, date]:
    """Return the first and last day of a month such as ``"2026-03"``.

    Raises
    ------
    HoursError
        If the text is no month.
    """
    try:
        first = _date(f"{text}-01")
    except ValueError:
        raise HoursError(f"{option} '{text}' is not a month; write it as 2026-03") from None
    return first, month_end(first)


def _date(text: str) -> date:
    """Return the day of a text such as ``"2026-03-09"``, of a year that a roof can have."""
    day = date.fromisoformat(text)
    if day.year not in YEARS:
        raise ValueError(text)
    return day


def month_end(day: date) -> date:
    """Return the last day of a day's month."""
    return day.replace(day=monthrange(day.year, day.month)[1])


def given_anticipated(text: str, option: str) -> Anticipated:
    """Return the twelve numbers of an option, or of the file that it names.

    Raises
    ------
    HoursError
        If there are not twelve whole numbers from 0 to 31.
    """
    told = text if re.fullmatch(r"[\d\s.,;-]*", text) else read_text(Path(text), HoursError)
    words = re.split(r"[\s,;]+", told.strip())
    fitting = [word for word in words if re.fullmatch(r"\d\d?", word) and int(word) <= 31]
    if len(words) != 12 or fitting != words:
        raise HoursError(
            f"{option}: give twelve whole numbers of days, January to December, as in "
            f'"7 8 5 3 4 3 2 2 6 4 6 8"; there are {len(fitting)} of them'
        )
    return Anticipated(tuple(map(int, words)), f"as given with {option}")


def anticipated_of_contract(contract: Contract) -> Anticipated | None:
    """Return the contract's own table, if its file has one."""
    table = contract.anticipated
    return None if table is None else Anticipated(table.days, f"{contract.name}: {table.source}")


def anticipated_of_years(months: Months) -> Anticipated:
    """Return the mean of the days that the contract counts in each month, rounded half up."""
    mine = [months.by_contract[months.month == month] for month in range(1, 13)]
    means = [float(days.mean()) if days.size else nan for days in mine]
    spans = [days.size for days in mine if days.size]
    least, most = (min(spans), max(spans)) if spans else (0, 0)
    years = f"{most}" if least == most else f"{least} to {most}"
    return Anticipated(
        tuple(None if isnan(mean) else floor(mean + 0.5) for mean in means),
        f"worked out: the mean of {years} years of each month, rounded half up",
    )


def read_critical(path: Path) -> frozenset[date]:
    """Return the days on which critical work was planned, from a CSV with a column ``date``.

    Raises
    ------
    HoursError
        If the file cannot be read, has no such column, or a date that is none.
    """
    rows = csv.reader(read_text(path, HoursError).splitlines())
    found: set[date] = set()
    cell = ""
    try:
        names = [name.strip().lower() for name in next(rows)]
        if "date" not in names:
            raise HoursError(f"{path}: line 1 has no column 'date'; name the columns there")
        for row in rows:
            if any(cell.strip() for cell in row):
                told = dict(zip(names, (cell.strip() for cell in row), strict=False))
                cell = told.get("date", "")
                day = _date(cell)
                if _is_critical(told.get("critical"), f"{path}: line {rows.line_num}"):
                    found.add(day)
    except csv.Error as fault:
        raise HoursError(
            f"{path}: line {rows.line_num} is no CSV ({fault}); mend that line"
        ) from None
    except ValueError:
        raise HoursError(
            f"{path}: line {rows.line_num}: '{cell}' is not a date; write it as 2026-03-09"
        ) from None
    return frozenset(found)


def _is_critical(told: str | None, where: str) -> bool:
    """Read the column ``critical`` of a daily log; a log without it names critical days only."""
    if told is None or told.lower() in _YES:
        return True
    if told.lower() not in _NO:
        raise HoursError(f"{where}: critical is '{told}'; write yes or no")
    return False

"""Seasons of many sites: a list of sites in, rows of one table out."""

from __future__ import annotations

import os
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from windows.conditions import roof_in_table
from windows.errors import HoursError, did_you_mean
from windows.seasons.season import season_of, season_start_month
from windows.seasons.statistics import spread
from windows.site import load_site
from windows.sources import csv_cells
from windows.weather_choice import YearsChoice
from windows.years import years_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cure_models.coating import Limits
    from cure_models.profile import Profile
    from windows.seasons.season import PartOfYear, Season
    from windows.seasons.statistics import Spread, Trend

__all__ = [
    "COLUMNS", "Asked", "Cell", "Column", "Row", "read_rows", "summarise_site",
]  # fmt: skip

Cell = str | int | float | None
_YEARS_FILE = "years.csv.gz"
_NAMES = ("site", "years", "label")
_FORMULA = ("=", "+", "-", "@")


@dataclass(frozen=True)
class Row:
    """A line of the list of sites: its number, the site's name in it, and the two files."""

    line: int
    label: str
    site: Path
    years: Path


@dataclass(frozen=True)
class Asked:
    """What is asked of every site; it is the same for all of them."""

    coatings: tuple[Profile, ...]
    limits: Limits = "generic"
    assume_cloud: float | None = None


@dataclass(frozen=True)
class Column:
    """A column of the table."""

    name: str
    kind: Literal["text", "whole", "number"]
    unit: str = ""


def _columns_of_spread(name: str, unit: str, *, mean: bool = True) -> list[Column]:
    ends = (*(("mean",) if mean else ()), "p20", "p50", "p80")
    return [Column(f"{name}_{end}", "number", unit) for end in ends]


def _columns_of_trend(name: str, unit: str) -> list[Column]:
    return [
        Column(f"{name}_per_decade", "number", unit),
        Column(f"{name}_error", "number", unit),
        Column(f"{name}_years", "whole", "years"),
    ]


COLUMNS: dict[str, Column] = {
    column.name: column
    for column in (
        Column("label", "text"),
        Column("site_name", "text"),
        Column("latitude", "number", "degrees"),
        Column("longitude", "number", "degrees"),
        Column("coating", "text"),
        Column("limits", "text"),
        Column("assume_cloud", "number", "fraction"),
        Column("month", "whole", "1 to 12"),
        Column("years", "whole", "years"),
        Column("left_out_years", "whole", "years"),
        Column("known_share", "number", "fraction"),
        Column("scheduled_days_mean", "number", "days"),
        Column("crew_hours_mean", "number", "h"),
        *_columns_of_spread("workable_days", "days"),
        *_columns_of_spread("valid_hours", "h"),
        Column("costliest_gate", "text"),
        Column("costliest_share", "number", "fraction"),
        Column("season_start_month", "whole", "1 or 7"),
        Column("season_years", "whole", "years"),
        Column("never_practical_years", "whole", "years"),
        *_columns_of_spread("year_workable_days", "days"),
        *_columns_of_spread("first_day", "days", mean=False),
        *_columns_of_spread("last_day", "days", mean=False),
        *_columns_of_trend("workable_days_trend", "days"),
        *_columns_of_trend("air_temp_trend", "K"),
        Column("notes", "text"),
    )
}
"""The columns of the table in order; those below ``costliest_share`` are equal in all months."""


def read_rows(path: Path, years: Path | None = None) -> list[Row]:
    """Return the rows of a list of sites.

    Parameters
    ----------
    path
        CSV with the column ``site``, and ``years`` and ``label`` if wanted. Paths in it are
        relative to its folder.
    years
        Years of the rows that name none; a relative path is looked for beside each site. Default
        ``years.csv.gz`` there.

    Raises
    ------
    HoursError
        If the list is missing or has a fault.
    """
    content = csv_cells.content_of(path, "list of sites")
    if not content.removeprefix(b"\xef\xbb\xbf").strip():
        raise HoursError(f"{path}: the file is empty; give a header with 'site', and a row a site")
    lines, top = csv_cells.lines_of(content, str(path))
    cells = csv_cells.rows(lines, top, str(path), _check_names)
    rows: list[Row] = []
    for line, texts in zip(cells.index.tolist(), cells.to_dict("records"), strict=True):
        given = {str(name): str(text) for name, text in texts.items()}
        _check_cells(given, f"{path}: line {line}")
        rows.append(_row(int(line), given, path.parent, years))
    if not rows:
        raise HoursError(f"{path}: there is no row below the header; add a row a site")
    _check_rows(rows, path)
    return rows


def _row(line: int, given: dict[str, str], folder: Path, years: Path | None) -> Row:
    site = folder / given["site"]
    if os.path.isdir(site):  # unlike Path.is_dir, no error where the path cannot be looked up
        site = site / "site.toml"
    own = given.get("years", "")
    beside = site.parent / (years or _YEARS_FILE)
    return Row(
        line=line,
        label=given.get("label", "") or given["site"],
        site=site.absolute(),
        years=(folder / own if own else beside).absolute(),
    )


def _check_names(names: list[str], where: str) -> None:
    for name in names:
        if name not in _NAMES:
            raise HoursError(
                f"{where}: column '{name}' is not known: rename or delete it; "
                f"{did_you_mean(name.lower(), _NAMES)}"
            )
        if names.count(name) > 1:
            raise HoursError(f"{where}: column '{name}' is there twice; keep one of them")
    if "site" not in names:
        raise HoursError(f"{where}: column 'site' is missing; add the path of each site file")


def _check_cells(given: dict[str, str], where: str) -> None:
    if not given["site"]:
        raise HoursError(f"{where}: site is empty; give the path of a site file, or delete the row")
    for name, text in given.items():
        if not text.isprintable():
            raise HoursError(f"{where}: {name} holds a sign that is no text; write it anew")
        if text.startswith(_FORMULA):
            raise HoursError(
                f"{where}: {name} is '{text}', which a spreadsheet takes for a formula; begin it "
                "with a letter, a digit or ./"
            )


def _check_rows(rows: Sequence[Row], path: Path) -> None:
    """Refuse rows that say the same, or go by the same name."""
    files: dict[tuple[str, str], int] = {}
    labels: dict[str, int] = {}
    for row in rows:
        both = os.path.realpath(row.site), os.path.realpath(row.years)
        first = files.setdefault(both, row.line)
        if first != row.line:
            raise HoursError(
                f"{path}: line {row.line} has the site and years of line {first}; delete one"
            )
        first = labels.setdefault(row.label, row.line)
        if first != row.line:
            raise HoursError(
                f"{path}: line {row.line} goes by the name of line {first}, '{row.label}'; give "
                "each a label of its own"
            )


def summarise_site(row: Row, asked: Asked) -> list[dict[str, Cell]]:
    """Return the rows of one site: one for each coating and month, with the cells of `COLUMNS`.

    What is not known is None.

    Raises
    ------
    DewgapError
        If a file cannot be used, or no month of a coating counts.
    """
    site = load_site(row.site)
    choice = YearsChoice(files=(row.years,), assume_cloud=asked.assume_cloud)
    hours = years_of(site, choice, row.years)
    roof = roof_in_table(hours, site)
    told = dict.fromkeys((*site.warnings, *hours.warnings, *hours.provenance.notes))
    notes = "; ".join(told) or None
    rows: list[dict[str, Cell]] = []
    for profile in asked.coatings:
        try:
            season = season_of(site, profile, hours, limits=asked.limits, roof=roof)
        except HoursError as fault:
            raise HoursError(f"coating {profile.name}: {fault}") from None
        whose: dict[str, Cell] = {
            "label": row.label, "site_name": site.name, "latitude": site.latitude,
            "longitude": site.longitude, "coating": season.coating.name,
            "limits": asked.limits, "assume_cloud": asked.assume_cloud,
        }  # fmt: skip
        whole = _whole(season) | {"notes": notes}
        rows += [whose | _month(part) | whole for part in season.months]
    return rows


def _month(part: PartOfYear) -> dict[str, Cell]:
    worst = next((cost for cost in part.costs if cost.blocked > 0), None)
    return {
        "month": part.number,
        "years": len(part.years),
        "left_out_years": len(part.left_out),
        "known_share": part.known,
        "scheduled_days_mean": _known(part.scheduled),
        "crew_hours_mean": _known(part.crew_hours),
        **_spread("workable_days", part.workable),
        **_spread("valid_hours", part.valid_hours),
        "costliest_gate": None if worst is None else worst.name,
        "costliest_share": None if worst is None else worst.blocked,
    }


def _whole(season: Season) -> dict[str, Cell]:
    """Return what is told of a coating at a site, not of a month."""
    workable = spread(np.array([year.workable for year in season.years], dtype=np.float64))
    first, last = (_spread(f"{end}_day", getattr(season, end)) for end in ("first", "last"))
    return {
        "season_start_month": season_start_month(season.site),
        "season_years": len(season.years),
        "never_practical_years": season.never,
        **_spread("year_workable_days", workable),
        **{name: cell for name, cell in (first | last).items() if name in COLUMNS},
        **_trend("workable_days_trend", season.gaining),
        **_trend("air_temp_trend", season.warming),
    }


def _spread(name: str, found: Spread) -> dict[str, Cell]:
    ends = {"mean": found.mean, "p20": found.p20, "p50": found.p50, "p80": found.p80}
    return {f"{name}_{end}": _known(value) for end, value in ends.items()}


def _trend(name: str, found: Trend | None) -> dict[str, Cell]:
    return {
        f"{name}_per_decade": None if found is None else found.per_decade,
        f"{name}_error": None if found is None else found.error,
        f"{name}_years": None if found is None else found.years,
    }


def _known(value: float) -> float | None:
    return value if isfinite(value) else None

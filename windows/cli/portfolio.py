"""``dewgap portfolio``: the seasons of many sites, on many cores."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli.options import Coatings, Json, LimitsOption

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from cure_models.profile import Profile
    from windows.seasons.parts import Part
    from windows.seasons.portfolio import Asked, Row

__all__ = ["portfolio"]

SitesArgument = Annotated[
    Path, typer.Argument(metavar="SITES.csv", help="Columns: site, and years and label if wanted.")
]
SiteYears = Annotated[
    Path | None,
    typer.Option(
        "--years", metavar="FILE",
        help="Years of the rows that name none; a relative path is taken beside each site. "
        "Default: years.csv.gz beside the site file.",
    ),
]  # fmt: skip
Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", min=1, help="Processes. Default: one for each core."),
]
Scheduler = Annotated[
    str | None,
    typer.Option("--scheduler", metavar="ADDRESS", help="Dask scheduler that runs already."),
]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR",
        help="Folder of the results. Default: SITES_seasons beside SITES.csv.",
    ),
]  # fmt: skip
CsvOut = Annotated[
    Path | None, typer.Option("--csv", metavar="FILE", help="Write the table as CSV as well.")
]
AssumeCloud = Annotated[
    float | None,
    typer.Option(
        "--assume-cloud", metavar="0-1", help="Sky cover to assume in hours that have none."
    ),
]


def portfolio(
    sites: SitesArgument,
    coating: Coatings,
    years: SiteYears = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    out: Out = None,
    csv: CsvOut = None,
    limits: LimitsOption = "generic",
    assume_cloud: AssumeCloud = None,
    as_json: Json = False,
) -> None:
    """Work out the seasons of many sites: workable days and practical dates, into one table.

    A run that was broken off goes on where it was. Example: dewgap portfolio sites.csv --coating
    acrylic
    """
    from windows.cli.printing import line, print_json
    from windows.errors import DewgapError
    from windows.reports.output import apart, write_whole
    from windows.seasons.cluster import cores, each_done, require_dask
    from windows.seasons.parts import require_parquet, work_part
    from windows.seasons.portfolio import Asked, read_rows

    if workers is not None and scheduler is not None:
        raise DewgapError("--workers starts processes here, --scheduler uses others; give one")
    workers = workers or cores()
    require_parquet()
    if workers > 1 or scheduler is not None:
        require_dask()
    asked = Asked(_profiles(coating), limits, assume_cloud)
    rows = read_rows(sites, years)
    folder = out or sites.with_name(f"{sites.stem}_seasons")
    whole = folder / "portfolio.parquet"
    read = [sites, *(path for row in rows for path in (row.site, row.years)), *map(Path, coating)]
    apart([whole, *([csv] if csv else [])], read)
    _make(folder / "parts")
    parts, failures = _planned(rows, asked, folder / "parts")
    todo = [part for part in parts if not _is_there(part)]
    there = len(parts) - len(todo)
    if not as_json:
        line(f"{there} of {len(rows)} are there already")
    task = partial(work_part, asked=asked, write=write_whole)
    try:
        with _bar(len(rows), len(rows) - len(todo)) as step:
            for part, fault in each_done(task, todo, workers=workers, scheduler=scheduler):
                if fault is not None:
                    failures[part.row] = fault
                step()
    except KeyboardInterrupt:
        done = sum(map(_is_there, parts))
        raise DewgapError(
            f"stopped: {done} of {len(rows)} sites are done and kept in {folder / 'parts'}; run "
            "the same again to go on"
        ) from None
    table = _joined(parts, failures)
    _write(table, whole, csv)
    found: list[dict[str, Any]] = table.to_pylist()
    told = [
        {"line": row.line, "label": row.label, "reason": failures[row]}
        for row in rows
        if row in failures
    ]
    if as_json:
        print_json(
            {"sites": len(rows), "there_already": there, "parquet": str(whole), "rows": found,
             "failures": told}
        )  # fmt: skip
    else:
        _show(found)
        line(f"{whole}: {len(found)} rows")
        for each in told:
            line(f"line {each['line']} ({each['label']}): {each['reason']}")
    if told:
        raise DewgapError(
            f"{len(told)} of {len(rows)} sites failed; mend them and run again: the others are kept"
        )


def _profiles(names: Sequence[str]) -> tuple[Profile, ...]:
    from cure_models import load_profile
    from windows.errors import ProfileError

    profiles = tuple(load_profile(name) for name in names)
    known = [profile.name for profile in profiles]
    for name in known:
        if known.count(name) > 1:
            raise ProfileError(f"--coating: two coatings are called '{name}'; give one of them")
    return profiles


def _make(folder: Path) -> None:
    from windows.errors import OutputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(
            f"{folder}: cannot be made ({fault.strerror}); name another folder with --out"
        ) from None


def _planned(
    rows: Sequence[Row], asked: Asked, folder: Path
) -> tuple[list[Part], dict[Row, str]]:
    """Return the parts of the rows whose files can be read, and what is wrong with the others."""
    from windows.errors import DewgapError
    from windows.seasons.parts import plan_part

    parts, failures = [], {}
    for row in rows:
        try:
            parts.append(plan_part(row, asked, folder))
        except DewgapError as fault:
            failures[row] = str(fault)
    return parts, failures


def _is_there(part: Part) -> bool:
    from windows.seasons.parts import read_part

    return read_part(part) is not None


def _joined(parts: Sequence[Part], failures: dict[Row, str]) -> Any:
    """Return one table of all parts in the order of the list; a part that is gone is a failure."""
    from windows.seasons.parts import join, read_part

    tables = []
    for part in parts:
        if part.row in failures:
            continue
        table = read_part(part)
        if table is None:
            failures[part.row] = (
                f"{part.path} is not there, though it was done; workers on other machines need "
                "the same folders as this one"
            )
        else:
            tables.append(table)
    return join(tables)


def _write(table: Any, whole: Path, csv: Path | None) -> None:
    from windows.reports.output import write_whole
    from windows.seasons.parts import to_csv, to_parquet

    write_whole(whole, to_parquet(table))
    if csv is not None:
        write_whole(csv, to_csv(table))


def _show(found: Sequence[dict[str, Any]]) -> None:
    from windows.cli.printing import table

    cases: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in found:
        cases.setdefault((row["label"], row["coating"]), []).append(row)
    table(
        ["site", "coating", "workable days a year", "first practical day", "last practical day",
         "years", "months left out"],
        [
            [
                label, coating, _days(months[0]),
                *(_date(months[0], f"{end}_day_p50") for end in ("first", "last")),
                str(months[0]["season_years"]), str(sum(m["left_out_years"] for m in months)),
            ]
            for (label, coating), months in cases.items()
        ],
        title="Seasons: P50 (P20 to P80) of workable days, P50 of practical days",
    )  # fmt: skip


def _days(row: dict[str, Any]) -> str:
    low, middle, high = (row[f"year_workable_days_{end}"] for end in ("p20", "p50", "p80"))
    if middle is None:
        return "not known"
    ends = "" if low is None or high is None else f" ({low:.0f} to {high:.0f})"
    return f"{middle:.0f}{ends}"


def _date(row: dict[str, Any], name: str) -> str:
    from windows.seasons.portfolio import nominal_date

    if row[name] is None:
        return "not known" if not row["season_years"] else "none"
    day = nominal_date(row[name], row["season_start_month"])
    return f"{day:%b} {day.day}"


@contextmanager
def _bar(sites: int, done: int) -> Iterator[Callable[[], None]]:
    """Show on a terminal how many sites are done: call what it yields after each."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    shown = Progress(
        TextColumn("sites"), BarColumn(), MofNCompleteColumn(),
        console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty(),
    )  # fmt: skip
    with shown:
        task = shown.add_task("sites", total=sites, completed=done)
        yield lambda: shown.update(task, advance=1)

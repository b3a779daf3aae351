"""``dewgap portfolio``: the seasons of many sites, on many cores."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from windows.cli.options import Coatings, CsvFile, FillCloud, Json, LimitsOption

if TYPE_CHECKING:
    from collections.abc import Sequence

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


def portfolio(
    sites: SitesArgument,
    coating: Coatings,
    years: SiteYears = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    out: Out = None,
    csv: CsvFile = None,
    limits: LimitsOption = "generic",
    assume_cloud: FillCloud = None,
    as_json: Json = False,
) -> None:
    """Work out the seasons of many sites: workable days and practical dates, into one table.

    A run that was broken off goes on where it was.

    Example: dewgap portfolio demo_sites/sites.csv --coating acrylic
    """
    from windows.cli.printing import line, print_json
    from windows.errors import DewgapError
    from windows.reports.output import apart, check_place
    from windows.seasons.cluster import cores, require_dask
    from windows.seasons.parts import require_parquet
    from windows.seasons.portfolio import Asked, read_rows

    if assume_cloud is not None and not 0 <= assume_cloud <= 1:
        raise DewgapError(f"--assume-cloud {assume_cloud:g} is no sky cover; give 0 to 1")
    if workers is not None and scheduler is not None:
        raise DewgapError("--workers starts processes here, --scheduler uses others; give one")
    workers = workers or cores()
    require_parquet()
    if workers > 1 or scheduler is not None:
        require_dask()
    asked = Asked(_profiles(coating), limits, assume_cloud)
    rows = read_rows(sites, years)
    folder = (out or sites.with_name(f"{sites.stem}_seasons")).absolute()
    whole = folder / "portfolio.parquet"
    read = [sites, *(path for row in rows for path in (row.site, row.years)), *map(Path, coating)]
    outputs = [whole, *([csv] if csv else [])]
    apart(outputs, read)
    _make(folder / "parts")
    for path in outputs:
        check_place(path)
    parts, failures = _planned(rows, asked, folder / "parts")
    todo = [part for part in parts if not _is_there(part)]
    there = len(parts) - len(todo)
    if not as_json:
        line(f"{there} of {len(rows)} are there already")
    try:
        failures |= _worked(todo, asked, len(rows), there, workers, scheduler)
    except KeyboardInterrupt:
        done = sum(map(_is_there, parts))
        raise DewgapError(
            f"stopped: {done} of {len(rows)} sites are done and kept in {folder / 'parts'}; run "
            "the same again to go on"
        ) from None
    table = _joined(parts, failures)
    if table.num_rows:  # an earlier table is better than none
        _write(table, whole, csv)
    told = [
        {"line": row.line, "label": row.label, "reason": failures[row]}
        for row in rows
        if row in failures
    ]
    if as_json:
        print_json(
            {"sites": len(rows), "there_already": there, "parquet": str(whole),
             "rows": table.to_pylist(), "failures": told}
        )  # fmt: skip
    else:
        _show(table.to_pylist(), told, outputs)
    if told:
        raise DewgapError(
            f"{len(told)} of {len(rows)} sites failed; mend them and run again: the others are kept"
        )


def _worked(
    todo: Sequence[Part],
    asked: Asked,
    total: int,
    there: int,
    workers: int,
    scheduler: str | None,
) -> dict[Row, str]:
    """Work out the parts that are to do, with a bar; return what went wrong with which row."""
    from windows.cli.progress import bar
    from windows.reports.output import write_whole
    from windows.seasons.cluster import each_done
    from windows.seasons.parts import work_part

    task = partial(work_part, asked=asked, write=write_whole)
    failures = {}
    with bar("sites", total, there) as step:
        for part, fault in each_done(task, todo, workers=workers, scheduler=scheduler):
            if fault is not None:
                failures[part.row] = fault
            step(None)
    return failures


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


def _show(
    found: Sequence[dict[str, Any]], failures: Sequence[dict[str, Any]], outputs: Sequence[Path]
) -> None:
    from windows.cli.printing import line, table

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
    notes: dict[str, list[str]] = {}
    for label, told in dict.fromkeys((row["label"], row["notes"]) for row in found):
        for note in (told or "").split("; "):
            notes.setdefault(note, []).append(label)
    for note, labels in notes.items():
        if note:
            more = f" and {len(labels) - 3} more" if len(labels) > 3 else ""
            line(f"note: {note} ({', '.join(labels[:3])}{more})")
    if found:
        line(f"{len(found)} rows: {', '.join(str(path.absolute()) for path in outputs)}")
    for each in failures:
        line(f"line {each['line']} ({each['label']}): {each['reason']}")


def _days(row: dict[str, Any]) -> str:
    low, middle, high = (row[f"year_workable_days_{end}"] for end in ("p20", "p50", "p80"))
    if middle is None:
        return "not known"
    ends = "" if low is None or high is None else f" ({low:.0f} to {high:.0f})"
    return f"{middle:.0f}{ends}"


def _date(row: dict[str, Any], name: str) -> str:
    from windows.seasons.season import nominal_date

    if row[name] is None:
        return "not known" if not row["season_years"] else "none"
    day = nominal_date(row[name], row["season_start_month"])
    return f"{day:%b} {day.day}"

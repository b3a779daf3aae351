"""A table of hours, written and told: what of it is known, and what speaks against it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from windows.hours import HourlyTable

__all__ = ["FileArgument", "Out", "hours_dict", "save", "show_hours", "tell_saved"]

FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE", help="Weather file of any known format.")
]
Out = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="Canonical CSV; a name with .gz is compressed."),
]


def save(hours: HourlyTable, out: Path) -> None:
    """Write hours as canonical CSV, compressed if the name ends in .gz."""
    import gzip

    from windows.reports.output import write_whole
    from windows.sources.canonical_csv import write

    content = write(hours)
    write_whole(out, gzip.compress(content, 6, mtime=0) if out.suffix == ".gz" else content)


def tell_saved(hours: HourlyTable, out: Path, as_json: bool) -> None:
    """Show hours that were written, and where."""
    from windows.cli.printing import line, print_json

    if as_json:
        print_json(hours_dict(hours) | {"file": str(out.resolve())})
        return
    show_hours(hours)
    line(f"Canonical CSV: {out.resolve()}")


def show_hours(hours: HourlyTable) -> None:
    """Show where hours come from, what of them is known, and what speaks against them."""
    from windows.cli.printing import line, table
    from windows.cli.show import show_weather
    from windows.hours import COLUMNS
    from windows.notes import weather_notes
    from windows.quality import columns_of, findings_of

    show_weather(hours)
    line(f"         {len(hours.index)} hours, {hours.index[0]:%Y-%m-%d %H:%M} to "
         f"{hours.index[-1]:%Y-%m-%d %H:%M} UTC (starts)")  # fmt: skip
    for note in weather_notes(hours):
        line(f"  note: {note}")
    line()
    table(
        ["column", "unit", "known", "least", "most", "longest gap"],
        [
            [
                c.name, COLUMNS[c.name].unit, f"{c.known:.1%}",
                *(("", "") if c.known == 0 else (f"{c.least:.4g}", f"{c.most:.4g}")),
                f"{c.longest_gap_h} h" if c.longest_gap_h else "none",
            ]
            for c in columns_of(hours)
        ],
    )  # fmt: skip
    found = findings_of(hours)
    if not found:
        line("No value is flagged.")
        return
    table(
        ["column", "flag", "hours", "first (UTC)", "meaning"],
        [
            [
                f.column, str(f.flag.name).lower(), str(f.hours), f"{f.first:%Y-%m-%d %H:%M}",
                f.meaning,
            ]
            for f in found
        ],
        title="Flags: what is not said to be unknown stands as it is",
    )  # fmt: skip


def hours_dict(hours: HourlyTable) -> dict[str, Any]:
    """Return what is told of hours, as JSON has it."""
    from math import isnan

    from windows.quality import columns_of, findings_of
    from windows.reports.as_json import utc_text, weather_dict

    return {
        "weather": weather_dict(hours),
        "columns": [
            {
                "name": c.name,
                "known": c.known,
                "least": None if isnan(c.least) else c.least,
                "most": None if isnan(c.most) else c.most,
                "longest_gap_h": c.longest_gap_h,
            }
            for c in columns_of(hours)
        ],
        "flags": [
            {
                "column": f.column,
                "flag": str(f.flag.name).lower(),
                "hours": f.hours,
                "first": utc_text(f.first),
                "meaning": f.meaning,
            }
            for f in findings_of(hours)
        ],
    }

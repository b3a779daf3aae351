"""``dewgap log verify``, ``export``, ``import``, ``backup`` and ``repair``."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Literal

import typer

from windows.cli import complete
from windows.cli.choices import takes_raw_weather
from windows.cli.exit_status import ExitStatus
from windows.cli.log.entry import By, author_of
from windows.cli.options import JobOption, Json, NowOption, SiteArgument, UnitOption
from windows.cli.values import present
from windows.weather_choice import WeatherChoice

__all__ = ["backup", "export", "repair", "schema", "take_in", "template", "verify"]

Target = Annotated[Path, typer.Option("--to", metavar="FILE", help="File to write.")]


def verify(
    site: SiteArgument,
    head: Annotated[
        str | None,
        typer.Option(
            "--head", metavar="HASH",
            help="A hash that was noted earlier, as on a record: is it in the chain?",
        ),
    ] = None,
    job: JobOption = None,
    as_json: Json = False,
) -> None:
    """Prove that every entry says what it said when it was written, and that none is missing.

    Exit status 1 if it cannot be proved.

    Example: dewgap log verify demo_sites/cool_north
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.job_file import log_of
    from windows.log.photos import changed_photos
    from windows.log.proof import verify as prove
    from windows.log.store import open_log

    path = log_of(site, job)
    with busy("proving the log"), open_log(path, read_only=True) as log:
        found = prove(log, head)
        photos = changed_photos(path.parent, log.with_photos()) if found.ok else []
    ok = found.ok and found.contains_head is not False
    if as_json:
        print_json(
            {
                "ok": ok,
                "entries": found.entries,
                "head": found.head,
                "contains_head": found.contains_head,
                "faults": list(found.faults),
                "missing": [list(hole) for hole in found.missing],
                "notes": [*found.notes, *photos],
            }
        )
        raise typer.Exit(ExitStatus.DONE if ok else ExitStatus.ERROR)
    for fault in found.faults:
        line(f"FAULT: {fault}")
    for note in (*found.notes, *photos):
        line(f"note: {note}")
    if found.contains_head is False:
        line(f"FAULT: the hash {head} is not in this log: it was written anew, or is another's")
    elif found.contains_head:
        line(f"The hash {head} is in the chain.")
    line(
        f"{found.entries} entries, {'each as it was written' if ok else 'NOT PROVED'}; hash of "
        f"the last: {found.head}"
    )
    raise typer.Exit(ExitStatus.DONE if ok else ExitStatus.ERROR)


def export(
    site: SiteArgument,
    to: Target,
    form: Annotated[
        Literal["csv", "json", "parquet"] | None,
        typer.Option("--format", help="Default: by the ending of the file's name."),
    ] = None,
    kind: Annotated[
        list[str] | None,
        typer.Option(
            "--kind", metavar="NAME", autocompletion=complete.kinds,
            help="Only this kind, to look at; may be repeated.",
        ),
    ] = None,
    job: JobOption = None,
    as_json: Json = False,
) -> None:
    """Write the whole log as CSV, JSON or Parquet; what goes out comes in again equal.

    Example: dewgap log export demo_sites/cool_north --to log.csv
    """
    from windows.cli.inputs import inputs, write_files
    from windows.cli.printing import line, print_json
    from windows.job_file import log_of
    from windows.log.entries import kinds_of
    from windows.log.exchange import export_log
    from windows.log.store import open_log

    path, kinds = log_of(site, job), kinds_of(kind or ())
    with open_log(path, read_only=True) as log:
        entries = list(log.entries(*kinds))
    (written,) = write_files([(to, export_log(entries, form, to))], [*inputs(site, job), path])
    if as_json:
        print_json({"entries": len(entries), "file": written})
    else:
        line(f"{len(entries)} entries: {written}")


def schema(as_json: Json = False) -> None:
    """Print the JSON Schema (2020-12) of an export as JSON, with --json or without.

    Example: dewgap log schema
    """
    from windows.cli.printing import print_text
    from windows.log.exchange import log_schema

    print_text(log_schema().rstrip() + "\n")


def template(
    kind: Annotated[
        str,
        typer.Argument(
            metavar="KIND", autocompletion=complete.kinds,
            help="Kind of entry, as reading.",
        ),
    ],
    to: Target,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Write an empty table (CSV) to be filled in by hand and taken in with dewgap log import.

    Example: dewgap log template reading --to readings.csv
    """
    from windows.cli.inputs import write_files
    from windows.cli.printing import line, print_json
    from windows.log.entries import kinds_of
    from windows.log.exchange import template_csv

    (name,) = kinds_of([kind])
    (written,) = write_files([(to, template_csv(name, us=units == "us"))], [])
    if as_json:
        print_json({"kind": name, "file": written})
    else:
        line(f"Table to fill in: {written}")


@takes_raw_weather
def take_in(
    site: SiteArgument,
    table: Annotated[
        Path, typer.Argument(metavar="FILE", help="Export, filled-in table, or a logger's table.")
    ],
    kind: Annotated[
        str | None,
        typer.Option("--kind", metavar="NAME", help="Kind of rows that name none."),
    ] = None,
    corrections: Annotated[
        bool,
        typer.Option("--corrections", help="Take edited rows as corrections of their entries."),
    ] = False,
    logger: Annotated[
        Path | None,
        typer.Option(
            "--logger", metavar="FILE",
            help="It is a logger's table, read by this mapping (TOML; dewgap weather mapping).",
        ),
    ] = None,
    instrument: Annotated[
        str, typer.Option("--instrument", metavar="SERIAL", help="Serial number of the logger.")
    ] = "",
    by: By = None,
    job: JobOption = None,
    now: NowOption = None,
    *,
    weather: WeatherChoice,
    as_json: Json = False,
) -> None:
    """Take in a whole export, a table filled in by hand, or a logger's table: all of it, or none.

    Example: dewgap log import demo_sites/cool_north demo_sites/cool_north/field_log.json --by Ann
    """
    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.field.desk import desk
    from windows.field.take_in import take_readings, take_rows
    from windows.log.entries import kinds_of
    from windows.log.exchange import read_entries
    from windows.log.logger_rows import logger_readings
    from windows.reports.log_table import entry_dict
    from windows.site import load_site
    from windows.sources.csv_cells import content_of
    from windows.sources.logger_mapping import load_mapping

    place = load_site(site)
    author = author_of(by)
    content = content_of(table, "file")
    at = desk(site, place, job, present(now, place), weather)
    name = None if kind is None else kinds_of([kind])[0]
    notes: tuple[str, ...] = ()
    with busy("taking in the table"):
        if logger is not None:
            way = load_mapping(logger)
            told = logger_readings(content, way, str(table), instrument=instrument)
            taken, notes = take_readings(at, told.readings, author), told.notes
        else:
            rows = read_entries(content, str(table))
            taken = take_rows(at, rows, author, kind=name, corrections=corrections)
    notes = (*notes, *at.notes)
    flags = [(entry.number, flag) for entry in taken.entries for flag in entry.body.flags]
    if as_json:
        print_json(
            {
                "known": taken.known,
                "notes": list(notes),
                "entries": [entry_dict(entry) for entry in taken.entries],
            }
        )
        return
    for note in notes:
        line(f"note: {note}")
    for number, flag in flags[:_MOST_FLAGS]:
        line(f"FLAG of entry {number}: {flag}")
    if len(flags) > _MOST_FLAGS:
        line(f"and {len(flags) - _MOST_FLAGS} more flags: dewgap log show")
    known = f"; {taken.known} rows are in it already" if taken.known else ""
    line(f"{len(taken.entries)} entries taken into {os.path.abspath(at.log)}{known}")


_MOST_FLAGS = 30


def backup(
    site: SiteArgument, to: Target, job: JobOption = None, as_json: Json = False
) -> None:
    """Copy the log while it is in use, whole, to a new file.

    Example: dewgap log backup demo_sites/cool_north --to log_backup.sqlite
    """
    from windows.cli.printing import line, print_json
    from windows.job_file import log_of
    from windows.log.store import open_log

    with open_log(log_of(site, job), read_only=True) as log:
        count = log.backup(to)
    if as_json:
        print_json({"entries": count, "file": os.path.abspath(to)})
    else:
        line(f"{count} entries: {os.path.abspath(to)}")


def repair(
    site: SiteArgument,
    to: Target,
    by: By = None,
    job: JobOption = None,
    as_json: Json = False,
) -> None:
    """Save what is whole of a damaged log into a new file; the damaged one is left as it is.

    Example: dewgap log repair demo_sites/cool_north --to saved.sqlite --by Ann
    """
    from windows.cli.printing import line, print_json
    from windows.job_file import log_of
    from windows.log.repair import repair as save

    found = save(log_of(site, job), to, author_of(by))
    if as_json:
        print_json(
            {
                "file": os.path.abspath(to),
                "whole_entries": found.kept,
                "lost_entries": [list(hole) for hole in found.missing],
                "lost": found.told or None,
                "twice": found.doubtful,
            }
        )
        return
    line(f"{found.kept} entries are whole: {os.path.abspath(to)}")
    for first, last in found.missing:
        line(f"LOST: entries {first} to {last}" if last > first else f"LOST: entry {first}")
    if found.told:
        line(f"LOST: {found.told}")
    if found.doubtful:
        line(f"note: {found.doubtful} entries were there twice; the chain's own was kept")
    line(
        "Look at it. To put it in the place of the damaged file, move that one away first, with "
        "those of its name that end in -wal and -shm."
    )

"""``dewgap weather convert``, ``check`` and ``mapping``: files of weather."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from windows.cli.options import FormatOption, Json, MappingOption
from windows.cli.weather.table import FileArgument, Out, hours_dict, save, show_hours, tell_saved

__all__ = ["check", "convert", "mapping"]


def convert(
    file: FileArgument,
    out: Out,
    form: FormatOption = None,
    mapping: MappingOption = None,
    as_json: Json = False,
) -> None:
    """Write a weather file of any known format as canonical CSV.

    Example: dewgap weather convert demo_sites/logger.csv --mapping demo_sites/logger.toml
    --out logger_hours.csv
    """
    from windows.sources import read_weather

    hours = read_weather(file, form=form, mapping=mapping)
    save(hours, out)
    tell_saved(hours, out, as_json)


def check(
    file: FileArgument,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write the table with its flags (CSV, .gz)."),
    ] = None,
    form: FormatOption = None,
    mapping: MappingOption = None,
    as_json: Json = False,
) -> None:
    """Check a weather file: what is known, what is doubtful. Nothing is mended or filled.

    Example: dewgap weather check demo_sites/cool_north/weather.csv
    """
    from windows.cli.printing import line, print_json
    from windows.quality import screen
    from windows.sources import read_weather

    hours = screen(read_weather(file, form=form, mapping=mapping))
    if out is not None:
        save(hours, out)
    if as_json:
        print_json(hours_dict(hours) | ({} if out is None else {"file": str(out.resolve())}))
        return
    show_hours(hours)
    if out is not None:
        line(f"Flagged table: {out.resolve()}")


def mapping(file: FileArgument, as_json: Json = False) -> None:
    """Print a mapping for a logger's table, for you to complete.

    Example: dewgap weather mapping demo_sites/logger.csv
    """
    from windows.cli.printing import print_json, print_text
    from windows.sources import csv_cells, logger_mapping

    told = logger_mapping.proposal(csv_cells.content_of(file, "weather file"), str(file))
    if as_json:
        print_json({"file": str(file.resolve()), "mapping_toml": told})
    else:
        print_text(told)

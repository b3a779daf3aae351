"""What was asked of the board, and the files and the present that go with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from windows.reports.wording import UnitSystem
    from windows.weather_choice import WeatherChoice

__all__ = ["Ask", "present_of", "read_of", "taken"]


@dataclass(frozen=True)
class Ask:
    """What was asked for."""

    jobs: Path
    now: str | None
    seconds: float
    keep: Path | None
    page: Path | None
    table_file: Path | None
    calendars: Path | None
    store: bool
    command: str | None
    weather: WeatherChoice
    units: UnitSystem

    def written(self) -> list[Path]:
        """Return the files that are written."""
        files = [self.page, self.table_file, self.keep]
        if self.command is not None and self.keep is not None:
            files.append(taken(self.keep))
        return [path for path in files if path is not None]


def taken(keep: Path) -> Path:
    """Return where the last board stands that the command took."""
    return keep.with_name(f"{keep.name}.told")


def present_of(jobs: Path, now: str | None) -> pd.Timestamp:
    """Return the present, by the clock of the first site that can be read."""
    import pandas as pd

    from windows.board.sites import first_site
    from windows.cli.values import moment

    return pd.Timestamp.now("UTC") if now is None else moment("--now", now, first_site(jobs))


def read_of(jobs: Path) -> list[Path]:
    """Return the files that the board reads or keeps, so that none is written over."""
    from windows.board.company import FILE
    from windows.board.sites import ERROR_FILE, YEARS_FILE, site_folders
    from windows.skill.store import FOLDER

    found = [jobs / name for name in (FILE, YEARS_FILE, ERROR_FILE)]
    for folder in site_folders(jobs):
        found += [folder / name for name in ("weather.csv", YEARS_FILE)]
        found += [*folder.glob("*.toml"), *(folder / FOLDER).glob("*")]
    return found

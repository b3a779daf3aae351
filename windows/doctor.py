"""Look whether all that the commands need works here, and tell how to mend what does not.

Every check returns findings and raises nothing: one that fails must not hide the next.
"""

from __future__ import annotations

import os
import re
import shlex
import sqlite3
import sys
import tempfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from windows.errors import SettingsError
from windows.finding import Finding, State
from windows.reachable import services
from windows.settings import load_settings, settings_path

if TYPE_CHECKING:

    from windows.settings import Settings

__all__ = [
    "cache_folder", "examine", "here", "libraries", "settings_told", "terminal", "zones",
]  # fmt: skip


_OLDEST_SQLITE = (3, 24, 0)
"""First version with UPSERT (sqlite.org/lang_upsert.html): nothing newer is used (own choice)."""
_CHICAGO = (-87.63, 41.88)
"""A place whose zone is known: longitude, latitude. [deg]"""
_CACHE_FILE = "http.sqlite"
_REQUIREMENT = re.compile(r"([A-Za-z0-9_.-]+)\s*>=\s*([0-9.]+)")


def examine(*, network: bool = True, cache_dir: Path | None = None) -> tuple[Finding, ...]:
    """Return all findings, in the order in which a person would mend them.

    Parameters
    ----------
    network
        Ask the services as well.
    cache_dir
        Folder of fetched answers, in place of that of the settings.
    """
    found = [*libraries(), _sqlite(), *zones()]
    settings, told = settings_told(cache_dir)
    found += told
    if settings is not None:
        found.append(cache_folder(settings.cache_dir))
    found += [here(Path()), terminal(sys.stdout.encoding)]
    if settings is not None and network:
        found += services(settings)
    return tuple(found)


def _numbers(text: str) -> tuple[int, ...]:
    """Return a version's leading numbers.

    >>> _numbers("2.10.1rc1")
    (2, 10, 1)
    """
    return tuple(int(each) for each in re.findall(r"\d+", text.split("rc", maxsplit=1)[0])[:3])


def libraries() -> list[Finding]:
    """Return whether the program, Python and the libraries are there and new enough."""
    mine = _installed("dewgap")
    found = [
        Finding("dewgap", State.OK, f"{mine or 'from its source'}, {Path(__file__).parent}"),
        Finding("Python", State.OK, sys.version.split()[0]),
    ]
    needed, extra = _requirements()
    there = []
    for name, least in needed.items():
        have = _installed(name)
        mend = f"run: python -m pip install --upgrade '{name}>={least}'"
        if have is None:
            found.append(Finding(name, State.FAULT, "is not installed", mend))
        elif _numbers(have) < _numbers(least):
            told = f"{have} is below {least}, the oldest that this program is made for"
            found.append(Finding(name, State.FAULT, told, mend))
        else:
            there.append(f"{name} {have}")
    if there:
        found.append(Finding("libraries", State.OK, ", ".join(there)))
    lacking = [name for name in extra if _installed(name) is None]
    if lacking:
        found.append(
            Finding(
                "extra cluster", State.OK,
                f"{', '.join(lacking)} not installed: only dewgap portfolio and Parquet need it "
                f"(pip install {' '.join(lacking)})",
            )
        )  # fmt: skip
    else:
        found.append(Finding("extra cluster", State.OK, "installed"))
    return found


def _requirements() -> tuple[dict[str, str], list[str]]:
    """Return the lower bound of each library that is needed, and the names of the extra."""
    try:
        lines = requires("dewgap") or []
    except PackageNotFoundError:
        return {}, []
    needed, extra = {}, []
    for each in lines:
        match = _REQUIREMENT.match(each)
        if match is None:
            continue
        if "extra ==" not in each:
            needed[match[1]] = match[2]
        elif re.search(r"""extra == ['"]cluster['"]""", each):
            extra.append(match[1])
    return needed, extra


def _installed(name: str) -> str | None:
    try:
        return version(name)
    except PackageNotFoundError:
        return None


def _sqlite() -> Finding:
    """Return whether SQLite, which holds logs and the cache, is new enough."""
    if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
        least = ".".join(map(str, _OLDEST_SQLITE))
        told = f"{sqlite3.sqlite_version} is below {least}"
        return Finding("SQLite", State.FAULT, told, "use a newer Python, which brings it")
    return Finding("SQLite", State.OK, sqlite3.sqlite_version)


def zones() -> list[Finding]:
    """Return whether time zones are known, by name and by place."""
    mend = "run: python -m pip install --upgrade tzdata"
    try:
        chicago = datetime(2026, 7, 1, tzinfo=ZoneInfo("America/Chicago")).utcoffset()
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return [Finding("time zones", State.FAULT, "no zone data is found", mend)]
    if chicago != timedelta(hours=-5):
        return [Finding("time zones", State.FAULT, "the zone data is wrong", mend)]
    try:
        from tzfpy import get_tz

        found = get_tz(*_CHICAGO)
    except ImportError:
        mend = "run: python -m pip install --upgrade tzfpy"
        return [Finding("time zones", State.FAULT, "zones of places cannot be looked up", mend)]
    if found != "America/Chicago":
        told = f"the place {_CHICAGO[1]}, {_CHICAGO[0]} is said to be in {found or 'no zone'}"
        mend = "give timezone in your site files"
        return [Finding("time zones", State.LOOK, told, mend)]
    now = datetime.now(UTC).astimezone()
    told = f"known by name and place; this machine's clock is {now:%H:%M} {now.tzname()}"
    return [Finding("time zones", State.OK, f"{told}, times shown are the site's")]


def settings_told(cache_dir: Path | None = None) -> tuple[Settings | None, list[Finding]]:
    """Return the settings, None if they have a fault, and what is to be told of them; no key."""
    path = settings_path()
    try:
        settings = load_settings(cache_dir)
    except SettingsError as fault:
        mend = f"mend {path}, or move it away: nothing has to be set"
        return None, [Finding("settings", State.FAULT, str(fault), mend)]
    found = [
        Finding("settings", State.OK, f"{path}{'' if path.is_file() else ' (not there: defaults)'}")
    ]
    if settings.contact is None:
        mend = f"set DEWGAP_CONTACT to your e-mail address or web page, or contact in {path}"
        told = "not set: nws and met_norway do not answer without"
        found.append(Finding("contact", State.LOOK, told, mend))
    else:
        found.append(Finding("contact", State.OK, settings.contact))
    key = "not set: open_meteo is free for non-commercial use only"
    if settings.open_meteo_key is not None:
        key = "set (not shown)"
    found.append(Finding("open_meteo_key", State.OK, key))
    return settings, found


def cache_folder(folder: Path) -> Finding:
    """Return whether fetched answers can be kept and read, how large they are, and where.

    Nothing is made: a folder that is not there yet is looked at where it would be.
    """
    mend = "name another folder: DEWGAP_CACHE_DIR, cache_dir in the settings, or --cache-dir"
    try:
        with tempfile.TemporaryFile(dir=_there(folder)):
            size = sum(each.stat().st_size for each in folder.glob(f"{_CACHE_FILE}*"))
    except (OSError, ValueError) as fault:
        told = f"{folder} cannot be written ({getattr(fault, 'strerror', None) or fault})"
        return Finding("cache", State.FAULT, told, mend)
    damage = _damage(folder / _CACHE_FILE)
    if damage:
        mend = f"run: dewgap weather cache --clear --cache-dir {shlex.quote(str(folder))}"
        return Finding("cache", State.FAULT, f"{folder} is damaged ({damage})", mend)
    return Finding("cache", State.OK, f"{folder}, {size / 1e6:.1f} MB, can be written")


def _there(folder: Path) -> Path:
    """Return a folder, or the nearest one above that is there, in which it would be made."""
    above = folder.absolute().parents
    return next((each for each in (folder, *above) if os.path.lexists(each)), folder)


def _damage(path: Path) -> str:
    """Return what is wrong with the file of answers, empty if nothing is or it is not there."""
    if not path.exists():
        return ""
    try:
        # Opened as the commands do, since a log beside it (-wal) may have to be taken in.
        with closing(sqlite3.connect(path.absolute().as_uri() + "?mode=rw", uri=True)) as answers:
            (found,) = answers.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.Error as fault:
        return str(fault)
    return "" if found == "ok" else " ".join(str(found).split())


def here(folder: Path) -> Finding:
    """Return whether files can be written where the command was started."""
    where = os.path.abspath(folder)
    try:
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as fault:
        told = f"{where} cannot be written ({fault.strerror or fault})"
        mend = "go to a folder of your own, or give pages and tables a path there"
        return Finding("this folder", State.LOOK, told, mend)
    return Finding("this folder", State.OK, f"{where}, can be written")


def terminal(encoding: str | None) -> Finding:
    """Return whether the output can hold all signs."""
    if (encoding or "").lower().replace("-", "").startswith("utf"):
        return Finding("output", State.OK, str(encoding))
    told = f"{encoding or 'unknown'}: signs such as ° and ² are shown as ?"
    return Finding("output", State.LOOK, told, "set PYTHONUTF8=1, or a UTF-8 locale")

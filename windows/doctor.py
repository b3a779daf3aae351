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
import threading
import time
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from windows.errors import SettingsError
from windows.settings import load_settings, settings_path

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.settings import Settings

__all__ = [
    "Finding", "State", "cache_folder", "examine", "here", "libraries", "services", "settings_told",
    "terminal", "worst", "zones",
]  # fmt: skip


class State(StrEnum):
    """How a thing stands."""

    OK = "ok"
    LOOK = "look"
    """Works, or is not needed for most; somebody should know."""
    FAULT = "fault"
    """Needed, and does not work."""


@dataclass(frozen=True)
class Finding:
    """What was found of one thing.

    ``mend`` is one sentence: what to do, empty where nothing is to be done.
    """

    what: str
    state: State
    told: str
    mend: str = ""


_OLDEST_SQLITE = (3, 24, 0)
"""First version with UPSERT (sqlite.org/lang_upsert.html): nothing newer is used (own choice)."""
_CHICAGO = (-87.63, 41.88)
"""A place whose zone is known: longitude, latitude. [deg]"""
_PLACE = {"latitude": "40.0", "longitude": "-83.0"}
"""The place that services are asked about, somewhere in the US, which all of them know. [deg]"""
_SHORT_S = 4.0
"""A service that says nothing for longer is told as silent (own choice). [s]"""
_PATIENCE = 2.0
"""So many times as long may all of it take, however slowly a service speaks (own choice)."""
_CACHE_FILE = "http.sqlite"
_REQUIREMENT = re.compile(r"([A-Za-z0-9_.-]+)\s*>=\s*([0-9.]+)")
_OFFLINE = "no answer: only files and what was fetched before can be used"
_ADDRESS = "check its address in the settings"
_UNFINISHED = "no whole answer in time"
_NOT_ASKED = "not asked: it wants a contact"


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


@dataclass(frozen=True)
class _Call:
    """A small question to a service: its address without parameters, and these."""

    name: str
    url: str
    params: dict[str, str]
    wants_contact: bool = False


def _calls(settings: Settings) -> list[_Call]:
    """Return one small question for each service that has an address in the settings."""
    day = dict.fromkeys(("start_date", "end_date"), "2024-05-01")
    key = settings.open_meteo_key
    secret = {} if key is None else {"apikey": key.get_secret_value()}
    of_hour = {**_PLACE, "hourly": "temperature_2m", **secret}
    point = f"{float(_PLACE['latitude']):.4f},{float(_PLACE['longitude']):.4f}"
    short = {"lat": _PLACE["latitude"], "lon": _PLACE["longitude"]}
    ahead = {**of_hour, "forecast_days": "1"}
    return [
        _Call("nws", f"{settings.nws_url}/points/{point}", {}, wants_contact=True),
        _Call("open_meteo", f"{settings.open_meteo_url}/forecast", ahead),
        _Call("open_meteo_ensemble", f"{settings.open_meteo_ensemble_url}/ensemble",
              {**ahead, "models": "gfs025"}),
        _Call("met_norway", f"{settings.met_norway_url}/complete", short, wants_contact=True),
        _Call("open_meteo_archive", f"{settings.open_meteo_archive_url}/archive", of_hour | day),
        _Call("meteostat", f"{settings.meteostat_url}/stations.db", {}),
    ]  # fmt: skip


def services(settings: Settings, timeout_s: float = _SHORT_S) -> list[Finding]:
    """Return whether each service answers; none that does not is a fault, for files do as well.

    Nothing is kept, and nothing is asked twice: the bodies are not even read.

    Parameters
    ----------
    settings
        Addresses, contact and key.
    timeout_s
        Most time without a word; twice that in all, even if a service lets its answer drip. [s]
    """
    calls = _calls(settings)
    answered: dict[str, Finding] = {}

    def ask(call: _Call) -> None:
        answered[call.name] = _asked(call, settings, timeout_s)

    # A pool is waited for when the program ends; these threads hold nothing up.
    threads = [threading.Thread(target=ask, args=(call,), daemon=True) for call in calls]
    for thread in threads:
        thread.start()
    end = time.monotonic() + _PATIENCE * timeout_s
    for thread in threads:
        thread.join(max(0.0, end - time.monotonic()))
    found = [answered.get(call.name) or _unfinished(call) for call in calls]
    silent = [each for each in found if each.told == _OFFLINE]
    asked = [each for each in found if each.told != _NOT_ASKED]
    if len(silent) == len(asked):
        mend = "look whether this machine is connected, and whether a proxy or firewall is between"
        return [Finding("services", State.LOOK, _OFFLINE, mend)]
    return found


def _unfinished(call: _Call) -> Finding:
    mend = "try again later, or look at the connection"
    return Finding(f"service {call.name}", State.LOOK, _UNFINISHED, mend)


def _asked(call: _Call, settings: Settings, timeout_s: float) -> Finding:
    """Return how a service answers to a small question."""
    import requests

    what = f"service {call.name}"
    if call.wants_contact and settings.contact is None:
        return Finding(what, State.LOOK, _NOT_ASKED, "set DEWGAP_CONTACT")
    contact = "" if settings.contact is None else f" ({settings.contact})"
    began = time.monotonic()
    try:
        with requests.get(
            call.url, params=call.params, timeout=timeout_s, stream=True, allow_redirects=False,
            headers={"User-Agent": f"dewgap/{_installed('dewgap') or '0'}{contact}"},
        ) as answer:  # fmt: skip
            status = answer.status_code
    except requests.exceptions.SSLError:
        mend = "ask who runs this network: a proxy with a certificate of its own may be between"
        return Finding(what, State.LOOK, "its certificate is not trusted", mend)
    except (requests.ConnectionError, requests.Timeout):
        mend = "look at the connection, or at its address in the settings"
        return Finding(what, State.LOOK, _OFFLINE, mend)
    except Exception as fault:  # whatever the libraries say of an address that they cannot read
        told = f"cannot be asked at {urlsplit(call.url).netloc} ({type(fault).__name__})"
        return Finding(what, State.LOOK, told, f"{_ADDRESS}, and the proxy and its certificate")
    took = f"{time.monotonic() - began:.1f} s"
    if status == requests.codes.ok:
        return Finding(what, State.OK, f"answers in {took}")
    return Finding(what, State.LOOK, f"refuses: HTTP {status}", _mended(status))


def _mended(status: int) -> str:
    """Return what to do about a refusal."""
    if status in {401, 403}:
        return "check contact and key in the settings; the service may also bar this address"
    if status == 429:
        return "it was asked too often: wait an hour"
    if status >= 500:
        return "the service has a fault of its own: try again later"
    return _ADDRESS


def worst(found: Iterable[Finding]) -> State:
    """Return the worst state of several."""
    states = {each.state for each in found}
    return next((s for s in (State.FAULT, State.LOOK) if s in states), State.OK)

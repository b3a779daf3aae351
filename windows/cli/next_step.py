"""After a fault: the command that helps with it, complete with the files of the one that failed.

An error tells what is wrong and how to mend it, and knows no commands. This table adds the command,
by the error's class and the words with which its sentence is made. A fault for which no command is
sure to help has none.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from windows.errors import (
    DewgapError,
    HoursError,
    LogError,
    ProfileError,
    SettingsError,
    SourceError,
)

__all__ = ["STEPS", "Step", "next_step"]

_Given = Mapping[str, Any]


@dataclass(frozen=True)
class Step:
    """A command that helps with faults of a class whose sentence holds a pattern.

    ``command`` makes it of what the command was given and of what the pattern found; it returns
    None where the command would not help after all.
    """

    error: type[DewgapError]
    words: str
    command: Callable[[_Given, re.Match[str]], str | None]
    not_after: tuple[str, ...] = ()
    """Commands that are the helping one themselves."""


def next_step(fault: DewgapError, name: str, given: _Given) -> str | None:
    """Return the command that helps with a fault, None where none is sure to.

    Parameters
    ----------
    fault
        What went wrong.
    name
        The command in which it did, without its group.
    given
        Its parameters.
    """
    for step in STEPS:
        if name in step.not_after or not isinstance(fault, step.error):
            continue
        found = re.search(step.words, str(fault), re.DOTALL)
        told = None if found is None else step.command(given, found)
        if told is not None:
            return told
    return None


def _plain(command: str) -> Callable[[_Given, re.Match[str]], str | None]:
    """Return what gives a command that needs nothing."""
    return lambda _given, _found: command


def _typed(path: object) -> str:
    return shlex.quote(str(path))


def _site(given: _Given) -> str:
    """Return the site of the command as it was typed, with the job file if one was named."""
    job = "" if given.get("job") is None else f" --job {_typed(given['job'])}"
    return f"{_typed(given.get('site', 'SITE'))}{job}"


def _fetch(given: _Given, found: re.Match[str]) -> str | None:
    site, file = given.get("site"), found["path"]
    if site is None:
        return "dewgap weather sources"
    return f"dewgap weather fetch {_typed(site)} --source auto --out {_typed(file)}"


def _history(given: _Given, found: re.Match[str]) -> str | None:
    site, file = given.get("site"), found["path"]
    if site is None:
        return None
    return f"dewgap weather history {_typed(site)} --out {_typed(file)}"


def _repair(given: _Given, _found: re.Match[str]) -> str | None:
    return f"dewgap log repair {_site(given)} --to saved.sqlite --by NAME"


def _verify(given: _Given, _found: re.Match[str]) -> str | None:
    return f"dewgap log verify {_site(given)}"


def _store(given: _Given, _found: re.Match[str]) -> str | None:
    return f"dewgap skill {_typed(given.get('site', 'SITE'))} --store"


def _mapping(_given: _Given, found: re.Match[str]) -> str | None:
    file = Path(found["path"])
    return f"dewgap weather mapping {_typed(file)}" if file.is_file() else None


def _check_weather(given: _Given, found: re.Match[str]) -> str | None:
    """Return the check of the weather file in which the fault is, if it is one."""
    file = Path(found["path"])
    read = [given.get("file"), *(given.get("files") or ()), given.get("weather")]
    if "site" in given and given["site"] is not None:
        folder = Path(given["site"])
        read.append((folder if folder.is_dir() else folder.parent) / "weather.csv")
    if not file.is_file() or file not in {Path(each) for each in read if each is not None}:
        return None
    how = "".join(
        f" --{option} {_typed(given[key])}"
        for option, key in (("format", "form"), ("mapping", "mapping"))
        if given.get(key) is not None
    )
    return f"dewgap weather check {_typed(file)}{how}"


def _demo(given: _Given, _found: re.Match[str]) -> str | None:
    """Return what brings the demo sites here, which the examples of the help name."""
    return None if Path("demo_sites").exists() else "dewgap demo --copy"


def _cache(given: _Given, _found: re.Match[str]) -> str | None:
    return f"dewgap weather cache --clear{_cache_dir(given)}"


def _doctor(given: _Given, _found: re.Match[str]) -> str | None:
    return f"dewgap doctor{_cache_dir(given)}"


def _cache_dir(given: _Given) -> str:
    where = given.get("cache_dir")
    return "" if where is None else f" --cache-dir {_typed(where)}"


STEPS: tuple[Step, ...] = (
    Step(DewgapError, r"^demo_sites\b", _demo),
    Step(ProfileError, r"^coating '.*?' is not known", _plain("dewgap coatings list")),
    Step(ProfileError, r"^system '.*?' is not known", _plain("dewgap system list")),
    Step(DewgapError, r"^contract '.*?' is not known", _plain("dewgap weather-days --list")),
    Step(HoursError, r"^no (forecast source|history source|weather format) '",
         _plain("dewgap weather sources"), ("sources",)),
    Step(HoursError, r"^(?P<path>.+?): there is no such file, and neither --weather", _fetch),
    Step(HoursError, r"^(?P<path>.+?): there is no such file, and --years is not given", _history),
    Step(HoursError, r"^(?P<path>.+?): a logger's table needs --mapping", _mapping, ("mapping",)),
    Step(HoursError, r"keep some first: dewgap skill", _store),
    Step(HoursError, r"^(?P<path>.+?)(?:: |, (?:row|line) )", _check_weather, ("check",)),
    Step(LogError, r"run: dewgap log repair", _repair, ("repair",)),
    Step(LogError, r"run: dewgap log verify", _verify, ("verify",)),
    Step(SettingsError, r"the cache is damaged", _cache),
    Step(SettingsError, r"the cache cannot be used \((file is not a database|.*malformed)", _cache),
    Step(SettingsError, r"", _doctor, ("doctor",)),
    Step(SourceError, r"no answer from .*(cannot be reached|took too long|certificate)",
         _doctor, ("doctor",)),
)  # fmt: skip
"""The first that fits is taken."""

"""What the shell offers after Tab: coatings, systems, services, sections of the job at hand."""

from __future__ import annotations

import os
import shlex
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.job_file import JobFile

__all__ = [
    "coatings", "contracts", "forecasts", "formats", "histories", "kinds", "layers", "sections",
    "sites", "systems",
]  # fmt: skip

_Offers = list[tuple[str, str]]


def coatings(incomplete: str) -> _Offers:
    """Offer the shipped coatings, and files that may be one's own."""
    from cure_models import coating_names, load_profile

    names = _begun(incomplete, coating_names())
    return [(name, load_profile(name).title) for name in names] + _files(incomplete, ".toml")


def systems(incomplete: str) -> _Offers:
    """Offer the shipped systems, and files that may be one's own."""
    from cure_models.system import load_system, system_names

    names = _begun(incomplete, system_names())
    return [(name, load_system(name).title) for name in names] + _files(incomplete, ".toml")


def contracts(incomplete: str) -> _Offers:
    """Offer the shipped contracts, and files that may be one's own."""
    from windows.seasons.contract import contract_names, load_contract

    names = _begun(incomplete, contract_names())
    return [(name, load_contract(name).title) for name in names] + _files(incomplete, ".toml")


def forecasts(incomplete: str) -> _Offers:
    """Offer the services that forecast."""
    from windows.sources import SOURCES
    from windows.weather import AUTO

    told = {AUTO: "the one of the country"}
    told |= {each.NAME: each.HELP for each in SOURCES if each.KIND == "forecast"}
    return [(name, told[name]) for name in _begun(incomplete, told)]


def histories(incomplete: str) -> _Offers:
    """Offer the services that have many years."""
    from windows.sources import SOURCES

    told = {each.NAME: each.HELP for each in SOURCES if each.KIND == "history"}
    return [(name, told[name]) for name in _begun(incomplete, told)]


def formats(incomplete: str) -> _Offers:
    """Offer the formats of weather files."""
    from windows.sources import FORMATS, LOGGER, SOURCES

    told = {each.NAME: each.HELP for each in SOURCES if each.NAME in FORMATS}
    told.setdefault(LOGGER, "table of a weather logger, read with --mapping")
    return [(name, told[name]) for name in _begun(incomplete, told)]


def kinds(incomplete: str) -> _Offers:
    """Offer the kinds of entries of a log."""
    from windows.log.entries import KINDS

    return [(name, "") for name in _begun(incomplete, KINDS)]


def sites(incomplete: str) -> _Offers:
    """Offer the folders that hold a site file, and folders on the way to one."""
    found = _paths(incomplete)
    offers = [(f"{each}", "a site") for each in found if (each / "site.toml").is_file()]
    ways = [each for each in found if each.is_dir() and not (each / "site.toml").is_file()]
    return offers + [(f"{each}/", "") for each in ways] + _files(incomplete, ".toml")


def sections(incomplete: str) -> _Offers:
    """Offer the sections of the job of the site that was typed."""
    job = _job()
    names = [] if job is None else [section.name for section in job.section]
    return [(name, "a section of the job") for name in _begun(incomplete, names)]


def layers(incomplete: str) -> _Offers:
    """Offer the layers of the system that was typed, or that the job names."""
    from cure_models.system import load_system
    from windows.errors import DewgapError

    job = _job()
    name = _after("--system") or (None if job is None else job.system)
    try:
        found = () if name is None else load_system(name).layers
    except DewgapError:
        return []
    told = {layer.name: layer.coating for layer in found}
    return [(each, told[each]) for each in _begun(incomplete, told)]


def _words() -> list[str]:
    """Return the words of the command line so far.

    The shell's own: a command line that ends in an option without its value is not parsed.
    """
    typed = os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS") or ""
    try:
        return shlex.split(typed)
    except ValueError:  # a quotation that is not closed yet
        return typed.split()


def _after(option: str) -> str | None:
    """Return the value of an option that was typed."""
    words = _words()
    return next((value for name, value in pairwise(words) if name == option), None)


def _job() -> JobFile | None:
    """Return the job of the site that was typed, None where it cannot be read."""
    from windows.errors import DewgapError
    from windows.job_file import load_job

    places = (Path(word) for word in _words()[1:])
    site = next((p for p in places if p.name == "site.toml" or (p / "site.toml").is_file()), None)
    job = _after("--job")
    if site is None:
        return None
    try:
        return load_job(site, None if job is None else Path(job), laid=False)
    except DewgapError:
        return None


def _begun(incomplete: str, names: Iterable[str]) -> list[str]:
    return [name for name in names if name.startswith(incomplete)]


def _paths(incomplete: str) -> list[Path]:
    """Return what lies where a path that is not finished leads to."""
    folder, _, begin = incomplete.rpartition("/")
    start = Path(f"{folder}/" if folder or incomplete.startswith("/") else ".")
    try:
        return sorted(
            each
            for each in start.iterdir()
            if each.name.startswith(begin) and (begin or not each.name.startswith("."))
        )
    except OSError:
        return []


def _files(incomplete: str, ending: str) -> _Offers:
    """Offer files with an ending."""
    return [(str(each), "") for each in _paths(incomplete) if each.suffix == ending]

"""Which weather a command takes; light, since every command names it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

__all__ = ["WeatherChoice", "YearsChoice"]


@dataclass(frozen=True)
class WeatherChoice:
    """Which weather a command takes; ``file`` None and ``source`` None: the one beside the site.

    ``uncorrected`` leaves out what readings in the log have taught.
    """

    file: Path | None = None
    form: str | None = None
    mapping: Path | None = None
    source: str | None = None
    offline: bool = False
    refresh: bool = False
    cache_dir: Path | None = None
    assume_cloud: float | None = None
    uncorrected: bool = False


@dataclass(frozen=True)
class YearsChoice:
    """Which years of hours a command takes; no file and no source: the file beside the site."""

    files: tuple[Path, ...] = ()
    source: str = "open_meteo_archive"
    station: str | None = None
    count: int = 30
    offline: bool = False
    cache_dir: Path | None = None
    assume_cloud: float | None = None

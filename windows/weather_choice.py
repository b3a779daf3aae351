"""Which weather a command takes; light, since every command names it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

__all__ = ["WeatherChoice"]


@dataclass(frozen=True)
class WeatherChoice:
    """Which weather a command takes; ``file`` None and ``source`` None: the one beside the site."""

    file: Path | None = None
    form: str | None = None
    mapping: Path | None = None
    source: str | None = None
    offline: bool = False
    refresh: bool = False
    cache_dir: Path | None = None
    assume_cloud: float | None = None

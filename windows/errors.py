"""The errors of this package: each message says what, where, and how to mend it."""

from __future__ import annotations

from cure_models.errors import DewgapError, ProfileError, did_you_mean

__all__ = [
    "DewgapError",
    "HoursError",
    "LogError",
    "LogMovedError",
    "OutputError",
    "ProfileError",
    "SettingsError",
    "SiteError",
    "SourceError",
    "did_you_mean",
]


class SiteError(DewgapError):
    """A site file that cannot be used."""


class HoursError(DewgapError):
    """A weather table that cannot be used."""


class LogError(DewgapError):
    """A field log that cannot be used, or an entry that it cannot take."""


class LogMovedError(LogError):
    """A field log that another program has begun or written to meanwhile: try again."""


class SourceError(DewgapError):
    """A weather service that did not answer, or not in a way that can be used.

    ``status`` is that of HTTP, where it answered at all.
    """

    def __init__(self, message: str, status: int | None = None) -> None:
        super().__init__(message)
        self.status = status


class SettingsError(DewgapError):
    """Settings that are missing or cannot be used."""


class OutputError(DewgapError):
    """A file that cannot be written."""

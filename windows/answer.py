"""What a weather service said, and how long that counts."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta

import pandas as pd

__all__ = ["Answer", "Kept"]


@dataclass(frozen=True)
class Kept:
    """How long an answer counts as new, and how old one may be that stands in for a failure.

    ``refused`` is the status with which the service refused a new one.
    """

    fresh: timedelta
    stale: timedelta


@dataclass(frozen=True)
class Answer:
    """What a service said: the body, when it said so, and whether it stands in for a failure.

    ``checked`` is what the check of the body made of it, so that nobody reads it a second time.
    """

    content: bytes
    place: str
    retrieved: pd.Timestamp
    stale: bool = False
    from_cache: bool = False
    notes: tuple[str, ...] = ()
    refused: int | None = None
    checked: object = field(default=None, compare=False, repr=False)

"""What an earlier board promised: a crew on a piece of a site, for a layer, at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

__all__ = ["Promise"]


@dataclass(frozen=True)
class Promise:
    """One layer of a piece that a crew was sent to lay, ``[start, end)``.

    ``site`` is the site's key. ``layer`` counts from 0. ``day`` is the day of the shift. Area and
    coating are told for a site that cannot be read now.
    """

    crew: str
    site: str
    piece: str
    section: str
    layer: int
    layer_name: str
    start: pd.Timestamp
    end: pd.Timestamp
    day: date
    area_m2: float = 0.0
    coating: str = ""

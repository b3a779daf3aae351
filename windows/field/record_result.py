"""What is on an application record: the results that its pages are made of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, datetime
    from zoneinfo import ZoneInfo

    import pandas as pd

    from cure_models.system import System
    from windows.field.due import Due
    from windows.field.wet_film import WetFilmCheck
    from windows.log.entries import Entry, Placement, Reading
    from windows.site import Site

__all__ = [
    "LOGGER_RANGES", "Chain", "Corrected", "Judged", "LaidLayer", "LayerClock", "LoggerSpan",
    "Measured", "Record", "Told", "Total",
]  # fmt: skip

LOGGER_RANGES = (
    "air_temp_c", "surface_temp_c", "rel_humidity", "dew_point_c", "spread_k", "wind_m_s",
    "gust_m_s",
)  # fmt: skip
"""What is told of the readings of a logger: least, greatest and count of each."""


class Told(StrEnum):
    """What a log can say of a deadline."""

    MET = "met"
    MISSED = "missed"
    OPEN = "open"
    DATA_SHEET = "the data sheet decides"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class LaidLayer:
    """A placement, and what follows from it.

    Attributes
    ----------
    layer
        Number from 0, None where the system has no such layer.
    coating
        The coating recorded, else the system's.
    spread_l_m2
        Volume over area, None where no volume is recorded. [L/m2]
    wet
        The wet film readings against target and count, None where the system has no such layer.
    below
        The last placement of the layer below on the section that had ended, if there is one.
    since_below_h, since_prepared_h
        From its end, and from the last preparation on the section, to this start. [h]
    """

    entry: Entry
    body: Placement
    layer: int | None
    coating: str
    recorded_coating: bool
    spread_l_m2: float | None
    wet: WetFilmCheck | None
    below: Entry | None
    since_below_h: float | None
    since_prepared_h: float | None


@dataclass(frozen=True)
class Measured:
    """A reading, with the dew point worked out from its air temperature and humidity. [degC, K]

    Where one of the two was not read, the dew point is the instrument's own and not ``computed``.
    """

    entry: Entry
    body: Reading
    dew_point_c: float | None
    computed: bool
    spread_k: float | None


@dataclass(frozen=True)
class LoggerSpan:
    """The readings of a logger on a section, from ``start`` to before ``end``.

    ``ranges`` has least, greatest and count by the names of `LOGGER_RANGES`; what was never read
    is not in it.
    """

    section: str
    start: pd.Timestamp
    end: pd.Timestamp
    count: int
    ranges: dict[str, tuple[float, float, int]]
    first_number: int
    last_number: int


@dataclass(frozen=True)
class Judged:
    """A time that a laid layer had to wait for or to be covered by, and what became of it.

    ``at`` is None where it is not known; ``earliest`` and ``latest`` are at the ends of a generic
    range. ``basis`` is how its figure is known.
    """

    name: str
    label: str
    at: pd.Timestamp | None
    earliest: pd.Timestamp | None
    latest: pd.Timestamp | None
    told: Told
    weak: bool
    generic: bool
    basis: str


@dataclass(frozen=True)
class LayerClock:
    """The clocks of a layer on a section, or on the part of one that was laid at once. [m2]

    Deadlines count from ``start``, or from ``prepared`` where it was prepared again. ``number`` is
    its entry, ``covered_by`` that of the next layer on it, None where the job file alone has it.
    ``why`` tells what is lacking for what is not known.
    """

    number: int | None
    section: str
    piece: str
    layer: str
    area_m2: float
    start: pd.Timestamp
    end: pd.Timestamp
    prepared: pd.Timestamp | None
    covered_by: int | None
    covered_start: pd.Timestamp | None
    covered_end: pd.Timestamp | None
    last: bool
    judged: tuple[Judged, ...]
    why: str


@dataclass(frozen=True)
class Total:
    """A layer over all sections: its area, and the volume of the placements that give one. [m2, L]

    ``measured`` counts those, and ``spread_l_m2`` is the volume over their area.
    """

    layer: str
    placements: int
    area_m2: float
    volume_l: float | None
    measured: int
    spread_l_m2: float | None


@dataclass(frozen=True)
class Corrected:
    """An entry that stands no more: by which it was corrected or taken back, by whom, when, why."""

    old: int
    kind: str
    by_entry: int
    withdrawn: bool
    author: str
    written: datetime
    why: str


@dataclass(frozen=True)
class Chain:
    """How the entries given hang together: ``missing`` are holes, ``linked`` tells of the hashes.

    ``to_head`` tells whether the last of them is the head of the log. A record of a day may be made
    of a part of the log: what is missing then is only not among the ``count`` entries given.
    """

    count: int
    first: int
    last: int
    missing: tuple[tuple[int, int], ...]
    linked: bool
    to_head: bool


@dataclass(frozen=True)
class Record:
    """What is on an application record. Times in UTC; what is None was not read or is not known.

    ``since`` and ``until`` are the first and last moment that something is told of; ``empty`` tells
    that nothing is, but perhaps a cover that lies on, and nothing was corrected.
    """

    site: Site
    system: System
    zone: ZoneInfo
    now: pd.Timestamp
    day: date | None
    since: pd.Timestamp | None
    until: pd.Timestamp | None
    empty: bool
    entries: int
    head: str
    weather: tuple[str, ...]
    chain: Chain
    opening: Entry | None
    placements: tuple[LaidLayer, ...]
    readings: tuple[Measured, ...]
    logger: tuple[LoggerSpan, ...]
    rain: tuple[Entry, ...]
    moisture: tuple[Entry, ...]
    adhesion: tuple[Entry, ...]
    dry_film: tuple[Entry, ...]
    covers: tuple[Entry, ...]
    preparations: tuple[Entry, ...]
    notes: tuple[Entry, ...]
    flags: tuple[tuple[Entry, str, int], ...]
    photos: tuple[Entry, ...]
    instruments: tuple[Entry, ...]
    unknown_instruments: tuple[str, ...]
    due: tuple[Due, ...]
    clocks: tuple[LayerClock, ...]
    totals: tuple[Total, ...]
    corrected: tuple[Corrected, ...]
    repairs: tuple[Entry, ...]

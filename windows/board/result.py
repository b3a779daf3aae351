"""The board as it is shown: crews by days, what was left out, deadlines, faults. Finished data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from windows.gates import State

if TYPE_CHECKING:
    from datetime import date
    from zoneinfo import ZoneInfo

    import pandas as pd

    from windows.decision import Decision
    from windows.found import Tightest
    from windows.odds.chance import Chance
    from windows.plan import Placement
    from windows.safety import Caution

__all__ = [
    "Assignment", "Board", "BoardProof", "BoardSite", "CrewRow", "Danger", "DayStrip", "Deadline",
    "Fault", "MovedVisit", "Outlook", "SiteState", "StripHour", "Undone", "Work",
]  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """Something wrong with the input: where it is, and a sentence that says how to mend it.

    ``where`` is a site's or a crew's name, or a file. The rest of the board stands.
    """

    where: str
    text: str


class SiteState(Enum):
    """What the board can say of a site; the value is how it is told."""

    PLANNED = "planned"
    IDLE = "nobody is sent"
    FINISHED = "finished"
    STALE = "forecast too old"
    FAULT = "fault"


@dataclass(frozen=True)
class StripHour:
    """One hour of a site as the layer to come sees it. [SI]

    ``state`` is "ok", "blocked" or "unknown"; ``why`` names the gates and stops that block it or
    are not known, in the trade's words. Numbers are None where not known. ``crew`` tells whether a
    crew may be on the roof, ``chance`` the careful chance that a coat laid in the hour holds, of
    an hour that is OK.

    ``rain_prob`` is that of the whole span of ``rain_prob_block_h`` hours, never of one hour of
    it; ``rain_mm`` is the hour's even share where one sum of ``rain_block_h`` hours was given. [h]
    """

    start: pd.Timestamp
    state: str
    why: tuple[str, ...]
    crew: bool
    air_temp_c: float | None
    surface_temp_c: float | None
    dew_point_c: float | None
    wind_m_s: float | None
    rain_mm: float | None
    rain_prob: float | None
    chance: float | None
    rain_prob_block_h: float | None = None
    rain_block_h: float | None = None


@dataclass(frozen=True)
class DayStrip:
    """The hours of one local day on one site, for the layer named."""

    site: str
    day: date
    layer_name: str
    coating: str
    hours: tuple[StripHour, ...]


@dataclass(frozen=True)
class Outlook:
    """A day beyond the forecast: the share of days like it in past years that were workable."""

    day: date
    workable: float
    years: int


@dataclass(frozen=True)
class BoardSite:
    """A site of the board. ``key`` is its folder's name, unique; ``name`` is for people.

    ``weather`` describes where its hours come from, with their age; ``stale`` tells that they are
    old, or that the service gave no new answer. ``laid`` and ``layers`` count layers of pieces.
    """

    key: str
    name: str
    zone: ZoneInfo
    state: SiteState
    system: str
    weather: str
    issued: pd.Timestamp | None
    stale: bool
    laid: int
    layers: int
    notes: tuple[str, ...]
    outlook: tuple[Outlook, ...]
    strips: tuple[DayStrip, ...]


@dataclass(frozen=True)
class CrewRow:
    """A crew, and why it has nothing to do on a day: ``idle`` by day of the board."""

    name: str
    skills: tuple[str, ...]
    equipment: tuple[str, ...]
    idle: dict[date, str]


@dataclass(frozen=True)
class Work:
    """One layer on one piece by one crew, with its odds.

    ``tightest`` is the gate nearest to its limit in these hours, None where none has a margin.
    ``promised`` tells that it was promised before and is kept.
    """

    placement: Placement
    chance: Chance
    tightest: Tightest | None
    promised: bool


@dataclass(frozen=True)
class Assignment:
    """A crew on a site for a shift: when it gets there and leaves, and what it lays, in order.

    ``drive_h`` is the drive from the crew's yard, one way. ``decision`` weighs go against wait,
    None where the work has begun.
    """

    crew: str
    site: str
    day: date
    arrive: pd.Timestamp
    leave: pd.Timestamp
    drive_h: float
    works: tuple[Work, ...]
    decision: Decision | None
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class Undone:
    """A layer of a piece that nobody is sent for, and why.

    ``undecided`` tells, on a board that sends nobody, that a crew could lay it if what is not known
    turned out well.
    """

    site: str
    piece: str
    layer: int
    layer_name: str
    reason: str
    undecided: bool = False


class Danger(Enum):
    """How a deadline stands, worst first; the value is how it is told."""

    OVERDUE = "overdue"
    NO_COVER = "no cover is planned before it"
    NOT_KNOWN = "not known whether it can be kept"
    LIKELY_LOST = "the planned cover is likelier lost than not"
    WAITS = "go or wait is against the planned cover"
    NO_SPARE = "the planned cover is the last that is in time"
    DATA_SHEET = "in time by a generic value: your data sheet decides"
    IN_TIME = "covered in time by the plan"


@dataclass(frozen=True)
class Deadline:
    """A laid or planned layer that must be covered, and when; ``cover`` is when that is planned."""

    site: str
    piece: str
    layer_name: str
    laid: bool
    due: pd.Timestamp | None
    cover: pd.Timestamp | None
    crew: str | None
    chance: Chance | None
    danger: Danger


@dataclass(frozen=True)
class MovedVisit:
    """A promise that did not stand: who was to be where, who is now, and why."""

    site: str
    piece: str
    layer_name: str
    was: str
    now: str
    why: str


@dataclass(frozen=True)
class BoardProof:
    """How good the plan is known to be. [money, s]

    ``worth`` is what it gains over sending nobody, ``bound`` what no plan can gain more; with
    ``in_order`` no plan that lays equal pieces of a site in their order.
    """

    worth: float
    bound: float
    optimal: bool
    seconds: float
    in_order: bool = False

    @property
    def gap(self) -> float:
        """Share of the bound that the plan may lack at most. [fraction]"""
        if self.optimal or self.bound <= 0:
            return 0.0
        return max(0.0, (self.bound - self.worth) / self.bound)


@dataclass(frozen=True)
class Board:
    """The whole board, costs in one ``currency``.

    ``area_m2`` is planned, of which ``expected_m2`` is expected to hold.

    ``assignments`` are in the order of crew and day, ``deadlines`` those in danger first.
    """

    folder: str
    now: pd.Timestamp
    days: tuple[date, ...]
    crews: tuple[CrewRow, ...]
    sites: tuple[BoardSite, ...]
    assignments: tuple[Assignment, ...]
    undone: tuple[Undone, ...]
    deadlines: tuple[Deadline, ...]
    moved: tuple[MovedVisit, ...]
    faults: tuple[Fault, ...]
    proof: BoardProof | None
    area_m2: float
    expected_m2: float
    currency: str = "$"

    @property
    def state(self) -> State:
        """What the board comes to, faults apart: OK if somebody is sent, or nothing is to be done.

        A laid layer that is overdue or left without its cover is BLOCKED. Where nobody is sent, it
        is UNKNOWN whether a cover comes, or anybody goes, if what is not known decides.
        """
        unsure = {(each.site, each.piece) for each in self.undone if each.undecided}
        if any(
            each.danger is Danger.OVERDUE
            or (each.danger is Danger.NO_COVER and (each.site, each.piece) not in unsure)
            for each in self.deadlines
            if each.laid
        ):
            return State.BLOCKED
        if self.assignments or not self.undone:
            return State.OK
        return State.UNKNOWN if unsure else State.BLOCKED

    def site(self, key: str) -> BoardSite:
        """Return a site by its key."""
        return next(each for each in self.sites if each.key == key)

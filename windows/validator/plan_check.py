"""A plan while it is checked: its films, its hours, and what was found so far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from windows.validator.crew_shifts import CrewShifts
from windows.validator.layer_hours import HOUR, LayerHours

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.pieces import Piece
    from windows.plan import Placement

__all__ = ["TIE_S", "TIE_SHARE", "Film", "PlanCheck", "Violation"]

TIE_S = 1.0
"""Lengths and clocks may differ by so much. [s]"""
TIE_SHARE = 1e-6
"""Areas may differ by so much of themselves."""


@dataclass(frozen=True)
class Violation:
    """A rule that a placement breaks, in one sentence; of the plan as a whole without its name."""

    placement: str
    rule: str
    text: str


@dataclass(frozen=True)
class Film:
    """A layer that is planned or laid, in seconds since the first row, and the rows it touches.

    ``prepared`` is when a laid layer was prepared again: its deadlines count anew from then.
    """

    label: str
    piece: str
    layer: int
    start: float
    end: float
    day: date | None
    prepared: float | None = None

    @property
    def due_from(self) -> int:
        """Row from whose start the deadlines count."""
        return self.first if self.prepared is None else int(self.prepared // HOUR)

    @property
    def first(self) -> int:
        """First row touched."""
        return int(self.start // HOUR)

    @property
    def last(self) -> int:
        """Last row touched."""
        return int(-(-self.end // HOUR)) - 1

    @property
    def until(self) -> int:
        """End of the last row touched. [s]"""
        return HOUR * (self.last + 1)


class PlanCheck:
    """One check of a plan: its films, its hours, and what was found so far."""

    def __init__(
        self,
        placements: Sequence[Placement],
        pieces: Sequence[Piece],
        job: JobFile,
        system: SystemHours,
        now: pd.Timestamp,
        open_beyond: bool,
    ) -> None:
        self.job, self.system, self.now, self.open_beyond = job, system, now, open_beyond
        self.pieces = {piece.name: piece for piece in pieces}
        self.layers = system.system.layers
        self.begin = system.hours.index[0]
        self.data_end = HOUR * len(system.hours.index)
        self.shifts = CrewShifts(system.site, job.crew)
        self.hours = [LayerHours(each) for each in system.jobs]
        self.found: dict[tuple[str, str], Violation] = {}
        self.placements = sorted(placements, key=lambda each: each.start)
        self.films: list[tuple[Placement, Film]] = []
        self.planned: dict[tuple[str, int], Film] = {}
        self.laid: dict[tuple[str, int], Film] = {}

    def film(self, piece: str, layer: int, start: pd.Timestamp, end: pd.Timestamp) -> Film:
        """Return a layer of a piece as a film, its times in seconds since the first row."""
        return Film(
            self.label(piece, layer),
            piece,
            layer,
            (start - self.begin).total_seconds(),
            (end - self.begin).total_seconds(),
            self.shifts.day_of(start, end),
        )

    def label(self, piece: str, layer: int) -> str:
        """Return how a layer of a piece is called."""
        name = f" ({self.layers[layer].name})" if 0 <= layer < len(self.layers) else ""
        return f"{piece}, layer {layer + 1}{name}"

    def tell(self, label: str, rule: str, text: str) -> None:
        """Keep the first that is found of a rule and a placement."""
        self.found.setdefault((label, rule), Violation(label, rule, text))

    def clock(self, second: float) -> str:
        """Return a time by the site's clock."""
        when = self.begin + pd.Timedelta(seconds=second)
        whole = "%H:%M:%S" if when.second else "%H:%M"
        return when.tz_convert(self.system.site.zone).strftime(f"%Y-%m-%d {whole}")

    def inside(self, film: Film) -> bool:
        """Tell whether all rows that a film touches lie in the weather."""
        return film.first >= 0 and film.until <= self.data_end and film.last >= film.first

    def below(self, film: Film) -> Film | None:
        """Return the layer below a planned one, planned or laid."""
        key = (film.piece, film.layer - 1)
        return self.laid.get(key) or self.planned.get(key)

    def opens(self, film: Film) -> int | None:
        """Return when the layer over a film may start, None where that is not known. [s]"""
        if not 0 <= film.last < self.data_end // HOUR:
            return None
        return self.hours[film.layer].milestone("recoat_opens", film.last)

    def is_last(self, film: Film) -> bool:
        """Tell whether nothing comes over a layer."""
        return film.layer + 1 == len(self.layers)

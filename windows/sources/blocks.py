"""Values given for blocks of hours, turned into rows: states hold, sums are shared out.

A sum over a block does not tell in which of its hours the rain fell. Each hour gets its even share
and the length of the block, so that the gates can hold every one of them for rainy.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from windows.errors import HoursError
from windows.flags import Flag, flagged
from windows.rainy import rainy_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray

__all__ = ["Blocks", "Grid", "fill_from_totals", "hour_range"]

_LONGEST_FORECAST = pd.Timedelta(days=400)
_LONGEST_RECORD = pd.Timedelta(days=80 * 366)


def hour_range(first: pd.Timestamp, last: pd.Timestamp, place: str) -> pd.DatetimeIndex:
    """Return the hours from first to last.

    Raises
    ------
    HoursError
        If they lie so far apart that a year must be mistyped.
    """
    if last - first > _LONGEST_RECORD:
        raise HoursError(
            f"{place}: its times reach from {first.year} to {last.year}; mend the year of the rows"
        )
    return pd.date_range(first, last, freq="h")


@dataclass(frozen=True)
class Blocks:
    """Starts in UTC on the hour, lengths in whole hours, values; one entry a block."""

    starts: pd.DatetimeIndex
    hours: NDArray[np.int64]
    values: FloatArray

    @property
    def ends(self) -> pd.DatetimeIndex:
        """Ends of the blocks."""
        return self.starts + pd.to_timedelta(self.hours, unit="h")


@dataclass
class Grid:
    """Rows of hours that blocks are laid on."""

    index: pd.DatetimeIndex
    columns: dict[str, FloatArray] = field(default_factory=dict)
    flags: dict[str, NDArray[np.int64]] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)

    @classmethod
    def over(cls, *layers: Blocks) -> Grid:
        """Return the rows from the first start to the last end of all layers."""
        starts = min(each.starts.min() for each in layers if len(each.starts))
        ends = max(each.ends.max() for each in layers if len(each.starts))
        if ends - starts > _LONGEST_FORECAST:
            raise HoursError(
                f"the forecast reaches from {starts:%Y-%m-%d} to {ends:%Y-%m-%d}: one of its times "
                "is wrong; fetch it again"
            )
        return cls(pd.date_range(starts, ends, freq="h", inclusive="left"))

    def hold(self, name: str, blocks: Blocks) -> None:
        """Add a state: it holds in each hour of its block."""
        values, _ = self._lay(name, blocks, blocks.values)
        self.columns[name] = values

    def share(self, name: str, blocks: Blocks) -> None:
        """Add a sum: its even share in each hour, and ``<stem>_block_h`` with the length."""
        values, lengths = self._lay(name, blocks, blocks.values / blocks.hours)  # noqa: PD011
        self.columns[name] = values
        self._length(name, lengths)
        self.flags = flagged(self.flags, name, lengths > 1, Flag.BLOCK)

    def chance(self, name: str, blocks: Blocks) -> None:
        """Add a probability of a block: it stands in each hour, with the length."""
        values, lengths = self._lay(name, blocks, blocks.values)
        self.columns[name] = values
        self._length(name, lengths)

    def _length(self, name: str, lengths: FloatArray) -> None:
        if (lengths > 1).any():
            self.columns[f"{name.removesuffix('_mm')}_block_h"] = lengths

    def _lay(
        self, name: str, blocks: Blocks, each: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return values and block lengths of the rows; where blocks overlap they must agree.

        Where they do not, the most counts for rain and its chance, and a state is unknown.
        """
        first = self.index.get_indexer(blocks.starts)
        rows = np.repeat(first, blocks.hours) + _within(blocks.hours)
        inside = (np.repeat(first, blocks.hours) >= 0) & (rows < len(self.index))
        rows = rows[inside]
        value = np.repeat(each, blocks.hours)[inside]
        length = np.repeat(blocks.hours, blocks.hours)[inside].astype(np.float64)
        shape = len(self.index)
        count = np.bincount(rows, minlength=shape)
        high, low = np.full(shape, -np.inf), np.full(shape, np.inf)
        with np.errstate(invalid="ignore"):  # NaN stays: an unknown block makes the hour unknown
            np.maximum.at(high, rows, value)
            np.minimum.at(low, rows, value)
        longest = np.zeros(shape)
        np.maximum.at(longest, rows, length)
        differ = (count > 1) & ~(high == low)
        if differ.any():
            when = self.index[int(np.argmax(differ))]
            self.warnings.append(
                f"{name} is given twice for {when:%Y-%m-%d %H:%M} UTC and {int(differ.sum()) - 1} "
                "more hours, and differs"
            )
            self.flags = flagged(self.flags, name, differ, Flag.DUPLICATE)
        worst = high if name.startswith("rain") else np.where(differ, np.nan, high)
        return np.where(count > 0, worst, np.nan), np.where(count > 0, longest, 1.0)


def _within(lengths: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return 0, 1, ... inside each block.

    >>> _within(np.array([3, 1, 2]))
    array([0, 1, 2, 0, 0, 1])
    """
    ends = np.cumsum(lengths)
    return np.arange(int(lengths.sum())) - np.repeat(ends - lengths, lengths)


def fill_from_totals(
    columns: dict[str, FloatArray], total: FloatArray, trace: NDArray[np.bool_], hours: int
) -> NDArray[np.bool_]:
    """Use totals of several hours where the hours themselves are not known, or told too little.

    Parameters
    ----------
    columns
        ``rain_mm``, ``rain_trace`` and ``rain_block_h``, shape (hours,); changed in place.
    total
        Rain of the ``hours`` rows that end with this one, NaN where none is told. [mm]
    trace
        Where that total is a trace.
    hours
        Length of the totals. [h]

    Returns
    -------
    Hours of a total that says that more fell than they all told.

    Notes
    -----
    An hour of its own wins. But where a total is more than its hours add up to, by more than
    rounding, rain was missed in some of them, and each can be it: all share what is missing. A
    total less than what its hours are known to hold is not used.
    """
    doubted = np.zeros(len(total), dtype=bool)
    for row in _may_serve(columns["rain_mm"], total, hours).tolist():
        span = slice(row + 1 - hours, row + 1)
        rain = columns["rain_mm"][span]
        missed = total[row] - np.nansum(rain)
        gap = np.isnan(rain)
        short = not gap.any() and missed >= rainy_mm()
        if not (gap.any() or short) or missed < -1e-9:
            continue
        shared = gap | short
        doubted[span] = short
        rain[shared] = (rain[shared] + missed / hours) if short else total[row] / hours
        columns["rain_trace"][span][shared] = float(trace[row])
        columns["rain_block_h"][span][shared] = hours if total[row] > 0 else 1
    return doubted


def _may_serve(rain: FloatArray, total: FloatArray, hours: int) -> NDArray[np.int64]:
    """Return the rows whose total may serve: its hours have a gap, or seem to be told too little.

    What serves first closes gaps and adds rain, so it makes no other total serve that did not.
    """
    rows = np.flatnonzero(~np.isnan(total))
    rows = rows[rows + 1 >= hours]
    odd = ~np.isfinite(rain)
    gaps, told = (
        running[rows + 1] - running[rows + 1 - hours]
        for running in (
            np.concatenate([[0.0], np.cumsum(each)]) for each in (odd, np.where(odd, 0.0, rain))
        )
    )
    # Running sums round: half of the limit leaves them room, and who asks looks closely.
    may: NDArray[np.int64] = rows[(gaps > 0) | (total[rows] - told >= rainy_mm() / 2)]
    return may

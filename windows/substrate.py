"""The roof below a film that holds moisture in: hours in which it is known to be dry enough.

Weather never shows that a roof is dry inside: somebody has measured it, and no rain has fallen
since; or it has had the time without rain that the job asks for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.errors import SiteError
from windows.fields import local_moment
from windows.gates import State
from windows.rainy import rainy_mm

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from cure_models.arrays import FloatArray
    from windows.gates import States
    from windows.job_file import JobFile
    from windows.site import Site

__all__ = ["check_reading", "substrate_states"]

_ROUNDING = 1e-9


def check_reading(job: JobFile, site: Site, now: pd.Timestamp) -> None:
    """Refuse a roof that its own reading shows to be wet, and a reading that nobody has taken yet.

    Raises
    ------
    SiteError
        In both cases: no film is laid on such a roof, whether it holds moisture in or not.
    """
    ground = job.substrate
    if ground is None or ground.moisture is None or ground.read_at is None:
        return
    where = job.where or "job.toml"
    try:
        when = local_moment(ground.read_at, site.zone)
    except ValueError as fault:
        raise SiteError(f"{where}: key 'substrate.read_at': {fault}") from None
    if when > now:
        raise SiteError(
            f"{where}: key 'substrate.read_at': {when.tz_convert(site.zone):%Y-%m-%d %H:%M} is in "
            "the future; a reading counts when it has been taken"
        )
    if ground.moisture > (ground.moisture_limit or 0.0):
        raise SiteError(
            f"{where}: the roof reads {ground.moisture:.0%} moisture, above its limit of "
            f"{ground.moisture_limit:.0%}: nothing is laid on it; dry it or cut out what is wet, "
            "and read again"
        )


def substrate_states(
    job: JobFile,
    site: Site,
    index: pd.DatetimeIndex,
    rain_mm: FloatArray,
) -> States:
    """Return, for each hour, whether the roof is known to be dry enough inside.

    Parameters
    ----------
    job
        Its substrate: reading, limit and time; hours that it takes to dry after rain.
    site
        The clock of the reading.
    index
        Starts of the hours, UTC.
    rain_mm
        Rain that can have fallen in each hour, NaN where unknown, shape (hours,). [mm]

    Raises
    ------
    SiteError
        If nothing is known of the substrate.
    """
    ground = job.substrate
    where = job.where or "job.toml"
    if ground is None or (ground.moisture is None and ground.dry_out is None):
        raise SiteError(
            f"{where}: this system has a film that holds moisture in, and nothing says that the "
            "roof below is dry; add a moisture reading to [substrate] (moisture, moisture_limit, "
            "method, read_at), or dry_out, the hours without rain that the job asks for"
        )
    hours = len(index)
    row = np.arange(hours)
    states = np.full(hours, State.UNKNOWN, dtype=np.int8)
    if ground.dry_out is not None:
        needed = int(np.ceil(ground.dry_out))
        states = _since(rain_mm, row - needed)
        states[(row - needed < 0) & (states != State.BLOCKED)] = State.UNKNOWN
    if ground.read_at is not None:
        when = local_moment(ground.read_at, site.zone)
        read = int(np.floor((when - index[0]).total_seconds() / 3600))
        by_reading = _since(rain_mm, np.full(hours, max(read, 0)))
        if read < 0:  # nobody knows what fell before the table begins
            by_reading[by_reading == State.OK] = State.UNKNOWN
        by_reading[row < read] = State.UNKNOWN
        if ground.dry_out is None:
            return by_reading
        states = np.where(row < read, states, np.minimum(states, by_reading)).astype(np.int8)
    return states


def _since(rain_mm: FloatArray, begin: NDArray[np.int64]) -> States:
    """Return whether a roof has stayed dry from an hour on up to each hour: the rain adds up."""
    hours = len(rain_mm)
    # An unknown hour adds nothing to the rain that is known to have fallen; it is counted apart.
    fallen = np.concatenate([[0.0], np.cumsum(np.nan_to_num(rain_mm))])
    unknown = np.concatenate([[0], np.cumsum(np.isnan(rain_mm))])
    end = np.arange(1, hours + 1)
    begin = np.minimum(np.clip(begin, 0, hours), end)
    wet = fallen[end] - fallen[begin] >= rainy_mm() - _ROUNDING
    missing = unknown[end] > unknown[begin]
    return np.where(wet, State.BLOCKED, np.where(missing, State.UNKNOWN, State.OK)).astype(np.int8)

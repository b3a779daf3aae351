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

if TYPE_CHECKING:
    import pandas as pd

    from cure_models.arrays import FloatArray
    from windows.gates import States
    from windows.job_file import JobFile
    from windows.site import Site

__all__ = ["substrate_states"]

_RAIN_MM = 0.2
"""Rain in an hour that wets a roof: as the gates of the coatings have it. [mm]"""


def substrate_states(
    job: JobFile,
    site: Site,
    index: pd.DatetimeIndex,
    rain_mm: FloatArray,
    now: pd.Timestamp,
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
    now
        The present: no reading is from later.

    Raises
    ------
    SiteError
        If nothing is known of the substrate, or the reading is wet or not yet taken.
    """
    ground = job.substrate
    where = job.where or "job.toml"
    if ground is None or (ground.moisture is None and ground.dry_out is None):
        raise SiteError(
            f"{where}: this system has a film that holds moisture in, and nothing says that the "
            "roof below is dry; add a moisture reading to [substrate] (moisture, moisture_limit, "
            "method, read_at), or dry_out, the hours without rain that the job asks for"
        )
    assert ground.moisture_limit is not None or ground.moisture is None
    if ground.moisture is not None and ground.moisture > (ground.moisture_limit or 0.0):
        raise SiteError(
            f"{where}: the roof reads {ground.moisture:.0%} moisture, above its limit of "
            f"{ground.moisture_limit:.0%}: a film that holds moisture in is not laid on it; dry "
            "it or cut out what is wet, and read again"
        )
    hours = len(index)
    row = np.arange(hours)
    rain = np.where(np.isnan(rain_mm), State.UNKNOWN, np.where(rain_mm >= _RAIN_MM, 2, 0))
    states = np.full(hours, State.UNKNOWN, dtype=np.int8)
    if ground.dry_out is not None:
        needed = int(np.ceil(ground.dry_out))
        states = _since(rain, row - needed)
        states[(row - needed < 0) & (states != State.BLOCKED)] = State.UNKNOWN
    if ground.read_at is not None:
        try:
            when = local_moment(ground.read_at, site.zone)
        except ValueError as fault:
            raise SiteError(f"{where}: key 'substrate.read_at': {fault}") from None
        if when > now:
            raise SiteError(
                f"{where}: key 'substrate.read_at': {when.tz_convert(site.zone):%Y-%m-%d %H:%M} is "
                "in the future; a reading counts when it has been taken"
            )
        read = int(np.floor((when - index[0]).total_seconds() / 3600))
        by_reading = _since(rain, np.full(hours, max(read, 0)))
        if read < 0:  # nobody knows what fell before the table begins
            by_reading[by_reading == State.OK] = State.UNKNOWN
        by_reading[row < read] = State.UNKNOWN
        if ground.dry_out is None:
            return by_reading
        states = np.where(row < read, states, np.minimum(states, by_reading)).astype(np.int8)
    return states


def _since(rain: np.ndarray, begin: np.ndarray) -> States:
    """Return the worst state of rain from an hour on up to each hour."""
    hours = len(rain)
    counts = [np.concatenate([[0], np.cumsum(rain == s)]) for s in (State.UNKNOWN, State.BLOCKED)]
    begin = np.clip(begin, 0, hours)
    end = np.arange(1, hours + 1)
    unknown, wet = (np.maximum(c[end] - c[np.minimum(begin, end)], 0) > 0 for c in counts)
    return np.where(wet, State.BLOCKED, np.where(unknown, State.UNKNOWN, State.OK)).astype(np.int8)

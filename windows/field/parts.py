"""What lies on what: the parts of a section as the job's own planning divides it."""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING

import pandas as pd

from windows.job_file import JobFile, Section
from windows.log.laid import Laid
from windows.pieces import pieces

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cure_models.system import System
    from windows.job_file import Placed
    from windows.log.entries import Placement
    from windows.pieces import LaidRecord
    from windows.site import Site

__all__ = ["Part", "parts"]


@dataclass(frozen=True)
class Part:
    """A section or a part of one, and its layers from the lowest. [m2]"""

    name: str
    area_m2: float
    laid: tuple[LaidRecord, ...]


def parts(
    section: str,
    area_m2: float | None,
    laid: Sequence[tuple[int, Placement]],
    *,
    site: Site,
    system: System,
    now: pd.Timestamp | None = None,
    placed: Iterable[Placed] = (),
    gone: Iterable[Laid] = (),
    where: str = "the log",
) -> tuple[Part, ...]:
    """Return the parts of a section on which something is laid.

    Parameters
    ----------
    section, area_m2
        Its name and area; where that is None, the layer of which most is laid has all of it. [m2]
    laid
        Its placements, each with a number, which comes back as the record's ``entry``.
    site, system
        Where, and of what.
    now
        The present, before which all was laid; None takes it as so.
    placed
        What the job file has laid on the section.
    gone
        What the log had of it and took back: it is not laid, though the job file may have it.
    where
        What a fault names as the file of the job.

    Raises
    ------
    DewgapError
        If layers repeat, are skipped or overlap, or one is not of the system.
    """
    if area_m2 is None:
        sums: dict[int, float] = {}
        for _, body in laid:
            layer = system.number(body.layer)
            sums[layer] = sums.get(layer, 0.0) + body.area_m2
        area_m2 = max(sums.values())
    if now is None:
        now = max(pd.Timestamp(body.end) for _, body in laid)
    logged = [
        Laid(number, section, body.layer, body.at, body.end, None, body.area_m2)
        for number, body in sorted(laid, key=itemgetter(0))
    ]
    # Not checked again: what is laid comes from entries that were, and the check takes areas as a
    # file has them, in text with a unit.
    only = JobFile.model_construct(
        section=(Section.model_construct(name=section, area=area_m2, access_over=()),),
        placed=tuple(placed),
        logged=(*logged, *gone),
        where=where,
    )
    return tuple(
        Part(part.name, part.area_m2, part.laid)
        for part in pieces(only, system, site, now)
        if part.laid
    )

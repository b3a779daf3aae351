"""Who of a kind of crews goes where, so that whoever is on a site stays there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.board.dispatch import Visit, kinds_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from windows.board.dispatch import Dispatch

__all__ = ["name_crews"]


def name_crews(problem: Dispatch, sent: Iterable[tuple[int, int, int]]) -> Iterable[Visit]:
    """Yield the visits of kinds of crews, so that who is on a site stays.

    ``sent`` has the site, the shift and the kind of each crew that is sent, as `kinds_of` counts.
    """
    for k, kind in enumerate(kinds_of(problem)):
        on = dict.fromkeys(kind.crews, kind.crew.station)
        coming = sorted(
            (problem.sites[n].day[shift], n, shift) for n, shift, j in sent if j == k
        )
        for day in sorted({d for d, _, _ in coming}):
            today = [(n, shift) for d, n, shift in coming if d == day]
            free = dict.fromkeys(kind.crews)
            named: dict[tuple[int, int], int] = {}
            for place in today:
                there = next((crew for crew in free if on[crew] == place[0]), None)
                if there is not None:
                    named[place] = there
                    del free[there]
            wanted = _wanted_later(coming, day)
            for place in today:
                if place in named:
                    continue
                # Rather one that is needed on its own site no more, or later than others.
                crew = max(free, key=lambda c: (wanted.get(on[c], 10**6), -c))
                named[place] = crew
                del free[crew]
            for (n, shift), crew in named.items():
                on[crew] = n
                yield Visit(crew, n, shift)


def _wanted_later(coming: list[tuple[int, int, int]], day: int) -> dict[int | None, int]:
    """Return the next day after ``day`` on which each site is visited."""
    found: dict[int | None, int] = {}
    for later, site, _ in coming:
        if later > day:
            found.setdefault(site, later)
    return found

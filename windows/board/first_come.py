"""A plan to begin with: day by day, each crew to the first site that it may lay something on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from windows.board.dispatch import Visit

if TYPE_CHECKING:
    from windows.board.dispatch import Dispatch, DispatchCrew, DispatchSite

__all__ = ["first_come"]


def first_come(problem: Dispatch) -> list[Visit]:
    """Return visits by day: each crew goes to the first site that it may lay something on.

    Sites with the most to gain come first.
    """
    gain = [
        sum(int(np.maximum(worth[0], 0).max(initial=0)) for worth in site.worth if worth)
        for site in problem.sites
    ]
    order = sorted(range(len(problem.sites)), key=lambda n: -gain[n])
    found: list[Visit] = []
    taken: set[tuple[str, int, int]] = set()
    for day in range(problem.days):
        for number in order:
            site = problem.sites[number]
            for shift in (n for n, d in enumerate(site.day) if d == day):
                crew = next(
                    (
                        c for c, crew in enumerate(problem.crews)
                        if ("crew", c, day) not in taken and _may_work(crew, site, number, shift)
                    ),
                    None,
                )  # fmt: skip
                if crew is not None and ("site", number, day) not in taken:
                    taken |= {("crew", crew, day), ("site", number, day)}
                    found.append(Visit(crew, number, shift))
    return found


def _may_work(crew: DispatchCrew, site: DispatchSite, number: int, shift: int) -> bool:
    """Tell whether a crew may lay any layer of a site in a shift."""
    return any(
        crew.may[number][task.first + n]
        and bool(((choice.shift == shift) & crew.reaches(number, choice)).any())
        for task in site.problem.tasks
        for n, choice in enumerate(task.choices)
    )

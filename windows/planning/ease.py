"""What would let everything be laid: the smallest easing of each single rule, tried in turn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from time import monotonic
from typing import TYPE_CHECKING

from windows.planning.build import build
from windows.planning.solve import lays_all, solve
from windows.work_rate import rate_m2_h

if TYPE_CHECKING:
    import pandas as pd

    from windows.job_file import JobFile
    from windows.layers import SystemHours
    from windows.pieces import Piece

__all__ = ["Eased", "Relaxation", "ease"]

_DEADLINES_H = (6, 12, 24, 48, 72)
"""How much later deadlines are tried, the least first (own choice). [h]"""
_FASTER = (1.1, 1.25, 1.5, 2.0)
"""How many times as fast a crew is tried, the slowest first (own choice)."""
_TRY_SECONDS = 3.0
"""How long one easing may be searched for (own choice). [s]"""


@dataclass(frozen=True)
class Relaxation:
    """A rule that, eased by so much and alone, lets everything be laid, or more than now."""

    rule: str
    text: str


@dataclass(frozen=True)
class Eased:
    """The easings that work, one for each rule; ``all_tried`` unless the time ran out."""

    found: tuple[Relaxation, ...] = ()
    all_tried: bool = True


@dataclass(frozen=True)
class _Try:
    """A job with one rule eased."""

    text: str
    job: JobFile
    options: dict[str, int] = field(default_factory=dict)


def ease(
    system: SystemHours,
    pieces: Sequence[Piece],
    job: JobFile,
    now: pd.Timestamp,
    *,
    open_beyond: bool,
    laid_now: int,
    seconds: float,
) -> Eased:
    """Return, for each rule, the smallest easing of it alone that lets everything be laid.

    ``laid_now`` is how many layers are planned without; ``seconds`` the most time for all tries.
    """
    began = monotonic()
    found: list[Relaxation] = []
    for rule, tries in _tries(system, job, open_beyond=open_beyond):
        for each in tries:
            left = seconds - (monotonic() - began)
            if left <= 0:
                return Eased(tuple(found), all_tried=False)
            options = {"open_beyond": open_beyond, "later_deadlines_h": 0} | each.options
            problem = build(
                system, pieces, each.job, now, open_beyond=bool(options["open_beyond"]),
                later_deadlines_h=options["later_deadlines_h"],
            ).problem  # fmt: skip
            most = min(left, _TRY_SECONDS)
            every = sum(len(task.choices) for task in problem.tasks)
            if each.options.get("open_beyond"):
                laid = len(solve(problem, seconds=most).starts)
            else:
                laid = every if lays_all(problem, seconds=most) else 0
            if laid == every:
                found.append(Relaxation(rule, f"all of it would fit if, alone, you {each.text}"))
                break
            if laid > laid_now:
                told = f"{laid} of {every} would be laid if, alone, you {each.text}"
                found.append(Relaxation(rule, told))
    return Eased(tuple(found))


def _tries(
    system: SystemHours, job: JobFile, *, open_beyond: bool
) -> Iterator[tuple[str, list[_Try]]]:
    """Yield each rule with its easings, the smallest first."""

    def crew(text: str, **changes: object) -> _Try:
        eased = job.crew.model_copy(update=changes)
        return _Try(text, job.model_copy(update={"crew": eased}))

    weekend = [d for d in ("Sat", "Sun") if d not in system.site.crew.work_days]
    weather_days = job.crew.extra_days if job.crew.extra_days_only_after_rain else ()
    more = [tuple(dict.fromkeys((*job.crew.extra_days, *weekend[: n + 1])))
            for n in range(len(weekend))]  # fmt: skip
    yield "work days", [
        crew(
            f"work on {' and '.join(weather_days)} without waiting for rain "
            "(crew.extra_days_only_after_rain)",
            extra_days_only_after_rain=False,
        )
        for _ in weather_days[:1]
    ] + [
        crew(
            f"work on {' and '.join(days)} as well (crew.extra_days)",
            extra_days=days, extra_days_only_after_rain=False,
        )
        for days in more if days != job.crew.extra_days
    ]  # fmt: skip
    if job.crew.open_area is not None:
        yield "open area", [crew("lift the cap on bare area (crew.open_area)", open_area=None)]
    rates = {str(n + 1): rate_m2_h(system.system, n, job) for n in range(len(system.jobs))}
    yield "crew", [
        crew(
            f"lay {share:g} times as much an hour (crew.rates)",
            rates={layer: rate * share for layer, rate in rates.items()},
        )
        for share in _FASTER
    ]
    yield "deadlines", [
        _Try(
            f"put the deadlines {hours} h later: only if your data sheet gives them", job,
            {"later_deadlines_h": hours},
        )
        for hours in _DEADLINES_H
    ]  # fmt: skip
    if not open_beyond:
        yield "cover in the weather", [
            _Try(
                "lay what must be covered only after the weather ends (--open-beyond): whether it "
                "can be covered in time is then not known",
                job,
                {"open_beyond": 1},
            )
        ]

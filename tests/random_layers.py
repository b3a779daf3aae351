"""Random layers of small problems of planning, with which solvers are held against all plans."""

import numpy as np

from windows.planning.problem import FAR, TICKS_PER_DAY, Choice

DAY_BEGINS = 16  # tick of a day at which its shift begins


def random_choice(rng, days, at, length, *, opens, last, bare, deadline):
    """Return a layer with some of the starts ``at`` in the shifts of some days.

    It opens one of ``opens`` ticks after its end, and is due one of ``deadline``, in hours.
    """
    start = np.array([d * TICKS_PER_DAY + DAY_BEGINS + t for d in range(days) for t in at])
    start = start[rng.random(len(start)) < 0.8]
    ready = start + length + rng.choice(opens, len(start))
    ready = np.maximum.accumulate(ready)  # a film laid later is not ready sooner
    ready[rng.random(len(start)) < 0.05] = FAR
    due = np.full(len(start), FAR)
    if not last and deadline:
        due = start // 2 * 2 + 2 * rng.choice(deadline)
        due[due > days * TICKS_PER_DAY] = FAR
    must = (due < FAR) | (bare and not last)
    return Choice(
        length, start.astype(np.int64), (start // TICKS_PER_DAY).astype(np.int64),
        (-(-(start + length) // 2) * 2).astype(np.int64), ready.astype(np.int64),
        due.astype(np.int64), np.asarray(must, dtype=bool),
    )  # fmt: skip

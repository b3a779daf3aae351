"""What a verdict comes to for a crew that needs so long."""

import pandas as pd
import pytest

from windows.cover import Cover, Left, Verdict
from windows.gates import State

NOON = pd.Timestamp("2026-06-01T12:00Z")


def windows(*hours, known):
    return tuple(
        Left(NOON, NOON + pd.Timedelta(hours=each), each, known, None, ()) for each in hours
    )


@pytest.mark.parametrize(
    ("verdict", "sure", "maybe", "work_h", "state"),
    [
        (Verdict.IN_TIME, (4, 6), (), 6.0, State.OK),
        (Verdict.IN_TIME, (4, 6), (), 6.1, State.BLOCKED),
        (Verdict.IN_TIME, (4, 6), (7,), 6.1, State.UNKNOWN),
        (Verdict.IN_TIME, (4, 6), (7,), 7.0, State.UNKNOWN),
        (Verdict.IN_TIME, (4, 6), (7,), 7.1, State.BLOCKED),
        (Verdict.IN_TIME, (4, 6), (9,), 5.0, State.OK),
        (Verdict.NOT_YET_OPEN, (3,), (8,), 5.0, State.UNKNOWN),
        (Verdict.DATA_SHEET, (3,), (), 2.0, State.UNKNOWN),
        (Verdict.DATA_SHEET, (3,), (), 5.0, State.BLOCKED),
        (Verdict.DATA_SHEET, (3,), (8,), 5.0, State.UNKNOWN),
        (Verdict.UNDETERMINED, (), (8,), 5.0, State.UNKNOWN),
        (Verdict.NONE_LEFT, (), (), 5.0, State.BLOCKED),
        (Verdict.OVERDUE, (), (), 5.0, State.BLOCKED),
        (Verdict.OVERDUE, (3,), (8,), 5.0, State.BLOCKED),
        (Verdict.COVERED, (), (), 5.0, State.OK),
    ],
)
def test_windows_that_are_too_short_are_a_no_only_if_none_may_be_longer(
    verdict, sure, maybe, work_h, state
):
    cover = Cover(
        layer=0, hazards=(), placed_start=NOON, placed_end=NOON, now=NOON, milestones={},
        opens=NOON, deadlines=(), due=None, left=windows(*sure, known=True),
        provisional=windows(*maybe, known=False), data_end=NOON, verdict=verdict, advice=(),
    )  # fmt: skip
    assert cover.state_for(work_h) == state

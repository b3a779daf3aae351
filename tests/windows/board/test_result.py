"""What a board comes to: somebody is sent, nobody, or it is not known."""

from dataclasses import replace

import board_cases as cases
import pytest

from windows.board.result import Danger, Deadline, Undone
from windows.gates import State

SENT = cases.rich().assignments
SURE = Undone("yard", "A", 1, "top", "no crew hour is valid for it")
UNSURE = replace(SURE, undecided=True)
OTHER = replace(UNSURE, piece="B")


def bare(danger, *, laid=True):
    return Deadline("yard", "A", "base", laid, None, None, None, None, danger)


@pytest.mark.parametrize(
    ("sent", "undone", "deadlines", "state"),
    [
        ((), (), (), State.OK),
        (SENT, (), (), State.OK),
        (SENT, (SURE,), (), State.OK),
        ((), (SURE,), (), State.BLOCKED),
        ((), (UNSURE,), (), State.UNKNOWN),
        ((), (SURE, OTHER), (), State.UNKNOWN),
        (SENT, (), (bare(Danger.NO_COVER),), State.BLOCKED),
        (SENT, (), (bare(Danger.NO_COVER, laid=False),), State.OK),
        (SENT, (), (bare(Danger.NOT_KNOWN),), State.OK),
        ((), (SURE,), (bare(Danger.NO_COVER),), State.BLOCKED),
        ((), (UNSURE,), (bare(Danger.NO_COVER),), State.UNKNOWN),
        ((), (SURE, OTHER), (bare(Danger.NO_COVER),), State.BLOCKED),
        ((), (UNSURE,), (bare(Danger.OVERDUE),), State.BLOCKED),
        ((), (UNSURE,), (bare(Danger.NOT_KNOWN),), State.UNKNOWN),
    ],
)
def test_what_a_board_comes_to(sent, undone, deadlines, state):
    board = replace(cases.empty(), assignments=sent, undone=undone, deadlines=deadlines)
    assert board.state is state

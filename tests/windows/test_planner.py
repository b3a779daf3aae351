"""What a plan comes to: yes, no, or not known; and what would be if all turned out well."""

import numpy as np
import plan_cases as cases
import pytest

from windows.gates import State
from windows.planner import if_all_turns_out_well, make_plan, undecided_tasks
from windows.planning.build import build

MONDAY = cases.local("2026-06-01 07:00")
TUESDAY = cases.local("2026-06-02 12:00")
A, B = cases.piece("A"), cases.piece("B")
LARGE = cases.piece("Large", area=9000.0)
BARE = cases.piece("Bare", laid=(cases.record(0, "2026-06-01 08:00", "2026-06-01 11:00"),))
DONE = cases.piece(
    "Done",
    laid=(
        cases.record(0, "2026-06-01 08:00", "2026-06-01 09:00"),
        cases.record(1, "2026-06-01 14:00", "2026-06-01 15:00"),
    ),
)
NAN = float("nan")
WET_BUT_AN_HOUR = {row: 5.0 for row in range(240) if row != 36} | {36: NAN}
WET_BUT_A_DAY = {row: 5.0 for row in range(240) if not 24 <= row < 96} | dict.fromkeys(
    range(24, 96), NAN
)


def planned(folder, pieces, layers=cases.ACRYLIC, now=MONDAY, crew=None, **weather):
    found = cases.hours(folder, layers, cases.weather(**weather))
    return make_plan(found, pieces, cases.job(**(crew or {})), now, seconds=2)


@pytest.mark.parametrize(
    ("pieces", "weather", "state", "undecided"),
    [
        ((A, B), {}, State.OK, ()),
        ((), {}, State.OK, ()),
        ((DONE,), {"rain_mm": NAN}, State.OK, ()),
        ((A, B), {"rain_mm": 5.0}, State.BLOCKED, ()),
        ((A, B), {"air_temp_c": -5.0}, State.BLOCKED, ()),
        ((A, B), {"rain_mm": NAN}, State.UNKNOWN, ("A", "B")),
        ((A, B), {"air_temp_c": NAN}, State.UNKNOWN, ("A", "B")),
        ((A, B), {"rain_mm": NAN, "air_temp_c": -5.0}, State.BLOCKED, ()),
        ((LARGE,), {"rain_mm": NAN}, State.BLOCKED, ()),
        ((A, LARGE), {"rain_mm": NAN}, State.UNKNOWN, ("A",)),
        ((A,), {"rain_mm": WET_BUT_AN_HOUR}, State.BLOCKED, ()),
        ((A,), {"rain_mm": WET_BUT_A_DAY}, State.UNKNOWN, ("A",)),
    ],
)
def test_what_a_plan_comes_to(tmp_path, pieces, weather, state, undecided):
    now = TUESDAY if DONE in pieces else MONDAY
    found = planned(tmp_path, pieces, now=now, **weather)
    assert (found.state, found.undecided) == (state, undecided)
    assert bool(found.best.placements) == (state == State.OK and bool(pieces) and not weather)


@pytest.mark.parametrize("rain", [5.0, NAN])
def test_what_lies_bare_without_its_cover_is_a_no(tmp_path, rain):
    later = dict.fromkeys(range(20, 240), rain)
    found = planned(tmp_path, (BARE,), cases.URETHANE, TUESDAY, rain_mm=later)
    assert found.best.figures.stranded == 1
    assert found.state == State.BLOCKED


@pytest.mark.parametrize(
    ("cap", "state"), [("20,000 ft2", State.UNKNOWN), ("1,000 ft2", State.BLOCKED)]
)
def test_more_than_may_lie_bare_is_a_no_in_any_weather(tmp_path, cap, state):
    crew = {"open_area": cap}
    found = planned(tmp_path, (A,), cases.URETHANE, crew=crew, rain_mm=NAN)
    assert found.state == state


def test_the_cover_may_be_what_is_not_known(tmp_path):
    """Hours for the base are known, those in which the top must follow are not."""
    rain = dict.fromkeys(range(24, 240), NAN)
    found = planned(tmp_path, (A,), cases.URETHANE, rain_mm=rain)
    assert found.best.left_out[0].reason
    assert (found.state, found.undecided) == (State.UNKNOWN, ("A",))
    wet = dict.fromkeys(range(24, 240), 5.0)
    assert planned(tmp_path, (A,), cases.URETHANE, rain_mm=wet).state == State.BLOCKED


@pytest.mark.parametrize("layers", [cases.ACRYLIC, cases.URETHANE, cases.FOAM])
@pytest.mark.parametrize("seed", range(4))
def test_hope_takes_no_start_away(tmp_path, layers, seed):
    rng = np.random.default_rng([70, seed])
    given = {}
    for name in rng.choice(["rain_mm", "air_temp_c", "wind_m_s", "cloud"], 2, replace=False):
        begin = int(rng.integers(0, 220))
        given[str(name)] = dict.fromkeys(range(begin, min(begin + 30, 240)), NAN)
    job = cases.job(rates={str(n + 1): "100 m2/h" for n in range(len(layers))})
    system = cases.hours(tmp_path, layers, cases.weather(**given))
    built = build(system, (A, B), job, MONDAY)
    hoped = if_all_turns_out_well(built, (A, B), job)
    for task, well in zip(built.problem.tasks, hoped.tasks, strict=True):
        for seen, more in zip(task.choices, well.choices, strict=True):
            assert np.isin(seen.start, more.start).all()
            assert seen.length == more.length
    assert undecided_tasks(built.problem, built.problem) == ()

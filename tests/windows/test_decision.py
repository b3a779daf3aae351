"""Go or wait by cost: worked examples, the best of all choices, and what must never happen."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure_models.units import to_si
from windows.decision import Stakes, Verdict, decide
from windows.errors import DewgapError

NAN = float("nan")
BEGIN = pd.Timestamp("2026-06-11T12:00Z")
BY = pd.Timestamp("2026-06-10T22:00Z")
AREA = to_si(8000, "ft2")  # of the worked example
LOSS = 11_600.0  # 8,000 ft2 x (0.62 + 0.38 + 0.45)
WAIT = 1_525.0  # 5 people x 60 x 4 h, and half of 650 for the equipment
STAKES = Stakes(LOSS / AREA, WAIT)


def go_or_wait(lost, stakes=STAKES, area=None, low=None, high=None, allowed=None):
    lost = np.atleast_1d(np.asarray(lost, float))
    starts = pd.date_range(BEGIN, periods=len(lost), freq="h")
    return decide(
        stakes,
        starts,
        np.full(len(lost), AREA / len(lost)) if area is None else area,
        lost if low is None else np.broadcast_to(low, lost.shape),
        lost,
        lost if high is None else np.broadcast_to(high, lost.shape),
        np.ones(len(lost), bool) if allowed is None else allowed,
        BY,
        BEGIN + pd.Timedelta(hours=len(lost)),
    )


def hour(number):
    return BEGIN + pd.Timedelta(hours=number)


# --- Worked by hand; amounts to the unit, chances to the tenth of a percent, as they are printed.


@pytest.mark.parametrize(
    ("loss", "wait", "late", "even"),
    [
        (11_600, 1_525, 0, 0.131),
        (11_600, 1_525, 500, 0.175),
        (11_600, 1_525, 1_500, 0.261),
        (0.6 * 11_600, 1_525, 0, 0.219),  # rain spoils the film in 60 % of cases only
        (0.3 * 11_600, 1_525, 0, 0.438),
        (5_200, 900, 0, 0.173),  # cover now, or abrade and prime later
        (2_600, 900, 0, 0.346),
        (5_200, 300, 0, 0.058),
    ],
)
def test_break_even_of_worked_examples(loss, wait, late, even, outside):
    found = go_or_wait(0.1, Stakes(loss / AREA, wait, late))
    outside.agree(
        "break-even chance of eight worked cases", found.break_even, even, within=5e-4, unit="",
        source="the cost-loss example of docs/odds.md, by hand", why="printed to 0.1 %",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("chance", "go", "half", "verdict"),
    [
        (0.05, 580, 1_052.5, Verdict.GO),
        (0.10, 1_160, 1_342.5, Verdict.GO),
        (0.15, 1_740, 1_632.5, Verdict.WAIT),
        (0.30, 3_480, 2_502.5, Verdict.WAIT),
    ],
)
def test_costs_of_worked_examples(chance, go, half, verdict, outside):
    found = go_or_wait([chance, chance])
    assert found.cost_go == pytest.approx(go)
    assert found.cost_wait == pytest.approx(WAIT)
    assert found.verdict is verdict
    assert found.cost_best == pytest.approx(min(go, WAIT))
    forbidden = go_or_wait([chance, chance], allowed=[True, False])
    outside.agree(
        "costs to go, to wait, to lay half", [found.cost_go, found.cost_wait, forbidden.cost_go],
        [go, WAIT, half], within=1e-4, unit="%", why="rounding",
        source="the cost-loss example of docs/odds.md, by hand",
    )  # fmt: skip
    assert found.regret_go == pytest.approx(LOSS - WAIT)
    assert found.regret_wait == pytest.approx(WAIT)
    assert found.decide_by == BY


def test_rain_in_the_afternoon_gives_a_time_to_stop():
    found = go_or_wait([0.02, 0.05, 0.10, 0.20, 0.40])
    assert found.verdict is Verdict.GO_UNTIL
    assert found.stop_at == hour(3)
    assert found.cost_best == pytest.approx(0.17 * LOSS / 5 + 2 * WAIT / 5)
    assert found.cost_best < min(found.cost_go, found.cost_wait)
    assert found.lost == pytest.approx(0.154)
    assert found.regret_go == pytest.approx(3 / 5 * (LOSS - WAIT))
    assert found.regret_wait == pytest.approx(3 / 5 * WAIT)


def test_a_risky_first_hour_is_taken_for_the_good_ones_that_follow():
    """Hour by hour one would not begin; the whole shift is worth it."""
    found = go_or_wait([0.20, 0.01, 0.01, 0.01])
    assert found.verdict is Verdict.GO
    assert go_or_wait([0.20, 0.10, 0.13, 0.13]).verdict is Verdict.WAIT


def test_of_two_that_cost_the_same_the_shorter_is_taken():
    even = WAIT / LOSS
    assert go_or_wait([even] * 7).verdict is Verdict.WAIT
    found = go_or_wait([0.05, 0.05, even, even])
    assert (found.verdict, found.stop_at) == (Verdict.GO_UNTIL, hour(2))


# --- Theory: one block goes if and only if p < C / L; with one chance for all no part is best.

money = st.floats(1, 1e5)
share = st.floats(0, 1)
rows = st.integers(1, 7)


@given(share, money, money)
def test_one_block_goes_if_its_chance_is_below_cost_over_loss(outside, chance, loss, wait):
    found = go_or_wait(chance, Stakes(loss / AREA, wait))
    if abs(chance * loss - wait) > 1e-6 * (loss + wait):
        outside.equal(
            "the verdict on one block", found.verdict,
            Verdict.GO if chance < wait / loss else Verdict.WAIT, points=1,
            source="theory: go if and only if p < C / L",
        )  # fmt: skip


@given(share, rows, money, money)
def test_half_the_area_is_never_best_at_one_chance(chance, blocks, loss, wait):
    found = go_or_wait([chance] * blocks, Stakes(loss / AREA, wait))
    assert found.verdict in {Verdict.GO, Verdict.WAIT}


@st.composite
def shifts(draw):
    blocks = draw(rows)
    bounds = np.sort(
        draw(st.lists(st.tuples(share, share, share), min_size=blocks, max_size=blocks)), axis=1
    )
    area = np.array(draw(st.lists(st.floats(0, 900), min_size=blocks, max_size=blocks)))
    area[draw(st.integers(0, blocks - 1))] += 100.0
    low, lost, high = bounds.T
    unknown = draw(st.lists(st.booleans(), min_size=blocks, max_size=blocks))
    return {
        "lost": np.where(unknown, NAN, lost),
        "low": low,
        "high": high,
        "area": area,
        "allowed": np.array(draw(st.lists(st.booleans(), min_size=blocks, max_size=blocks))),
        "stakes": Stakes(draw(st.floats(0, 100)), draw(st.floats(0, 5e3)), draw(st.floats(0, 5e3))),
    }


def plain_costs(case, chance):
    """Return the cost of each number of blocks that may be laid, straight from the definition."""
    stakes, area = case["stakes"], case["area"]
    costs = []
    for laid in range(len(area) + 1):
        if not all(case["allowed"][:laid]):
            break
        lost = sum(p * a * stakes.lost_per_m2 for p, a in zip(chance[:laid], area, strict=False))
        stood = sum((stakes.wait + stakes.late) * a / sum(area) for a in area[laid:])
        costs.append(lost + stood)
    return costs


def careful(case):
    return np.where(np.isnan(case["lost"]), case["high"], case["lost"])


@given(shifts())
def test_no_choice_of_all_costs_less(outside, case):
    found = go_or_wait(**case)
    costs = plain_costs(case, careful(case))
    near = 1e-8 * (1 + found.cost_wait + case["area"].sum() * case["stakes"].lost_per_m2)
    assert found.cost_wait == pytest.approx(costs[0], abs=near)
    if found.verdict is Verdict.NOT_KNOWN:
        assert found.stop_at is None
        return
    assert found.cost_best == pytest.approx(min(costs), abs=near)
    outside.found(
        "cost of the time to stop, random shifts", points=1, allowed="equal, to rounding",
        worst="equal", source="all times to stop, in plain Python",
    )  # fmt: skip
    laid = 0 if found.stop_at is None else int((found.stop_at - BEGIN) / pd.Timedelta(hours=1))
    assert costs[laid] == pytest.approx(min(costs), abs=near)


@given(shifts())
def test_a_hard_limit_is_never_traded_however_cheap_a_loss_is(case):
    for stakes in (case["stakes"], Stakes(0.0, 1e6, 1e6)):
        found = go_or_wait(**{**case, "stakes": stakes})
        laid = 0 if found.stop_at is None else int((found.stop_at - BEGIN) / pd.Timedelta(hours=1))
        assert all(case["allowed"][:laid])
        if not case["allowed"][0]:
            assert found.verdict is Verdict.NO
        assert found.verdict is not Verdict.GO or all(case["allowed"])


@given(shifts())
def test_worse_odds_never_make_the_shift_longer(case):
    stops = []
    for chance in (case["low"], careful(case), case["high"]):
        found = go_or_wait(**{**case, "lost": chance, "low": chance, "high": chance})
        stops.append(BEGIN if found.stop_at is None else found.stop_at)
    # The last block may hold no area: then all and all but it are the same.
    tail = pd.Timedelta(hours=int((case["area"][::-1].cumsum() == 0).sum()))
    assert all(later <= sooner + tail for sooner, later in pairwise(stops))


@given(shifts())
def test_an_unknown_estimate_never_makes_more_go(case):
    known = go_or_wait(**{**case, "lost": careful(case)})
    unknown = go_or_wait(**{**case, "lost": np.full(len(case["lost"]), NAN)})
    if unknown.stop_at is not None:
        assert known.stop_at is not None
        assert known.stop_at >= unknown.stop_at
    if unknown.verdict is Verdict.GO:
        assert known.verdict is Verdict.GO


# --- Bounds and what is not known.


def test_bounds_on_both_sides_of_the_break_even_are_a_close_call():
    """Break-even 13.1 %."""
    assert go_or_wait([0.08] * 4, low=0.02, high=0.30).verdict is Verdict.CLOSE_CALL
    assert go_or_wait([0.20] * 4, low=0.02, high=0.30).verdict is Verdict.CLOSE_CALL
    assert go_or_wait([0.08] * 4, low=0.02, high=0.12).verdict is Verdict.GO
    assert go_or_wait([0.20] * 4, low=0.14, high=0.30).verdict is Verdict.WAIT
    leaning = go_or_wait([0.08] * 4, low=0.02, high=0.30)
    assert leaning.stop_at == hour(4)  # what the estimate says
    assert go_or_wait([0.20] * 4, low=0.02, high=0.30).stop_at is None


def test_a_wide_afternoon_does_not_spoil_a_sure_morning():
    found = go_or_wait([0.02, 0.02, 0.3, 0.3], low=[0.0, 0.0, 0.2, 0.2], high=[0.04, 0.04, 0.9, 1])
    assert (found.verdict, found.stop_at) == (Verdict.GO_UNTIL, hour(2))
    assert found.lost_low < found.break_even < found.lost_high  # of the whole shift


def test_without_an_estimate_the_high_end_counts():
    found = go_or_wait([NAN] * 4, low=0.02, high=0.10)
    assert (found.verdict, found.lost) == (Verdict.GO, None)
    assert found.cost_go == pytest.approx(0.10 * LOSS)
    assert go_or_wait([NAN] * 4, low=0.02, high=0.30).verdict is Verdict.CLOSE_CALL
    assert go_or_wait([0.02, NAN], low=0.0, high=0.1).lost is None


@pytest.mark.parametrize("bounds", [(0.0, 1.0), (NAN, NAN)])
def test_wholly_unknown_odds_are_not_known(bounds):
    found = go_or_wait([NAN] * 3, low=bounds[0], high=bounds[1])
    assert (found.verdict, found.stop_at, found.lost) == (Verdict.NOT_KNOWN, None, None)
    assert (found.lost_low, found.lost_high) == (0.0, 1.0)
    assert found.cost_go == pytest.approx(LOSS)
    assert found.cost_best == found.cost_wait


def test_an_unknown_rest_of_the_shift_is_not_laid():
    found = go_or_wait([0.02, 0.02, NAN], low=[0.02, 0.02, 0.0], high=[0.02, 0.02, 1.0])
    assert (found.verdict, found.stop_at) == (Verdict.GO_UNTIL, hour(2))


# --- Hard limits and edges.


def test_a_hard_limit_ends_the_shift():
    found = go_or_wait([0.01] * 4, allowed=[True, True, False, True])
    assert (found.verdict, found.stop_at) == (Verdict.GO_UNTIL, hour(2))
    assert found.cost_best == found.cost_go  # whole means until the limit


def test_a_hard_limit_at_the_start_is_a_no():
    found = go_or_wait([0.0] * 3, allowed=[False, True, True])
    assert (found.verdict, found.stop_at) == (Verdict.NO, None)
    assert found.cost_best == found.cost_wait == found.cost_go
    assert found.regret_go == found.regret_wait == 0


def test_blocks_without_work_decide_nothing():
    idle_last = go_or_wait([0.01, 0.01, 1.0], area=np.array([300.0, 300.0, 0.0]))
    assert (idle_last.verdict, idle_last.stop_at) == (Verdict.GO, hour(3))
    assert idle_last.lost == pytest.approx(0.01)
    only_idle = go_or_wait([0.01] * 3, area=[0.0, 9.0, 9.0], allowed=[True, False, True])
    assert only_idle.verdict is Verdict.NO


def test_a_loss_that_costs_nothing_is_always_worth_it():
    found = go_or_wait(0.9, Stakes(0.0, 100.0))
    assert (found.verdict, found.break_even, found.regret_go) == (Verdict.GO, 1.0, 0.0)
    cheap = go_or_wait(0.9, Stakes(50 / AREA, 100.0))
    assert (cheap.verdict, cheap.break_even) == (Verdict.GO, 1.0)


def test_a_shift_that_costs_nothing_to_skip_is_skipped():
    assert go_or_wait(0.01, Stakes(1.0, 0.0)).verdict is Verdict.WAIT
    assert go_or_wait(0.01, Stakes(0.0, 0.0)).verdict is Verdict.WAIT


def test_a_late_day_moves_the_verdict():
    assert go_or_wait([0.15, 0.15]).verdict is Verdict.WAIT
    assert go_or_wait([0.15, 0.15], replace(STAKES, late=500.0)).verdict is Verdict.GO


@pytest.mark.parametrize("wrong", [-1.0, NAN, float("inf")])
@pytest.mark.parametrize("name", ["lost_per_m2", "wait", "late"])
def test_what_is_no_cost_is_refused(name, wrong):
    with pytest.raises(DewgapError, match=f"{name} is .*give money, 0 or more"):
        replace(STAKES, **{name: wrong})


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"area": [1.0]}, "rows of 2 blocks"),
        ({"area": [0.0, 0.0]}, "some of them above 0"),
        ({"area": [NAN, 1.0]}, "must be known"),
        ({"low": 0.5}, "the low one first"),
        ({"high": 1.5}, "must be fractions"),
        ({"low": 0.0, "high": 0.05}, "between its bounds"),
    ],
)
def test_what_does_not_belong_together_is_refused(change, told):
    with pytest.raises(ValueError, match=told):
        go_or_wait([0.1, 0.1], **change)


def test_work_does_not_stop_where_it_may_not():
    """Foam, an hour's rest, and its coat: all, or nothing."""
    starts = pd.DatetimeIndex([hour(0), hour(1), hour(3), hour(4)])
    given = {
        "starts": starts, "area_m2": [100.0] * 4, "lost_low": [0.0] * 4, "lost_high": [1.0] * 4,
        "allowed": [True] * 4, "decide_by": BEGIN, "end": hour(5),
    }  # fmt: skip
    stakes = Stakes(lost_per_m2=10.0, wait=400.0)
    risky = [0.01, 0.01, 0.5, 0.5]
    bounds = {"lost_low": risky, "lost_high": risky}
    split = decide(stakes, lost=risky, **given | bounds)
    assert (split.verdict, split.stop_at) == (Verdict.GO_UNTIL, hour(2))  # as its last hour ends
    whole = decide(stakes, lost=risky, **given | bounds, may_stop=[False, False, False, True])
    assert (whole.verdict, whole.stop_at) == (Verdict.WAIT, None)
    fair = [0.01, 0.01, 0.15, 0.15]
    bounds = {"lost_low": fair, "lost_high": fair}
    whole = decide(stakes, lost=fair, **given | bounds, may_stop=[False, False, False, True])
    assert (whole.verdict, whole.stop_at) == (Verdict.GO, hour(5))
    barred = given | bounds | {"allowed": [True, True, False, True]}
    assert decide(stakes, lost=fair, **barred, may_stop=[False] * 4).verdict is Verdict.NO


def test_a_deadline_counts_if_it_passes_and_if_the_coat_is_lost():
    """Waiting costs 100 and the deadline's 500, losing 1,000 and the 500: 600 / 1,500."""
    found = decide(
        Stakes(lost_per_m2=10.0, wait=100.0), pd.DatetimeIndex([BEGIN]), [100.0], [0.39], [0.39],
        [0.39], [True], BEGIN, hour(1), passing=500.0,
    )  # fmt: skip
    assert found.break_even == pytest.approx(0.4)
    assert (found.verdict, found.cost_wait) == (Verdict.GO, pytest.approx(600.0))
    assert found.cost_go == pytest.approx(0.39 * 1500)
    assert (found.regret_go, found.regret_wait) == (pytest.approx(900.0), pytest.approx(600.0))


def test_an_hour_of_unknown_odds_ends_the_shift():
    unknown = {"lost_low": [0.0, 0.0], "lost": [0.01, np.nan], "lost_high": [0.1, 1.0]}
    found = decide(
        Stakes(lost_per_m2=1.0, wait=1e6), pd.DatetimeIndex([BEGIN, hour(1)]), [100.0] * 2,
        allowed=[True] * 2, decide_by=BEGIN, end=hour(2), **unknown,
    )  # fmt: skip
    assert (found.verdict, found.stop_at) == (Verdict.GO_UNTIL, hour(1))

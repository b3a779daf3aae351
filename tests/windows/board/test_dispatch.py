"""Crews sent to sites against every plan with every crew, against a bound, and by hand."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import plain_dispatch as plain
import pytest
from random_layers import DAY_BEGINS, random_choice

from windows.board.assign import assign
from windows.board.dispatch import (
    Dispatch,
    DispatchCrew,
    DispatchSite,
    Prices,
    Taken,
    Visit,
    kinds_of,
    moves,
    worth_of,
)
from windows.board.outline import day_prices, outline
from windows.board.who_goes import name_crews
from windows.planning.problem import FAR, TICKS_PER_DAY, Choice, Problem, Task

ROUNDED = 1e-6  # share of a bound that a linear program in floats may be off; own choice

# --- Random problems ------------------------------------------------------------------------------


def random_worth(rng, choice, price):
    """Return what each start is worth: one figure for each, or one for all of a day."""
    each = price * rng.integers(-15, 70, choice.start.shape) // 10
    of_day = price * rng.integers(-15, 70, 10) // 10
    return each if rng.random() < 0.4 else of_day[choice.shift]


def random_site(rng, *, tasks, layers, days, at, scale):
    """Return a small site; equal pieces share their choices and what these are worth."""
    bare = tuple(bool(rng.random() < 0.3) and n + 1 < layers for n in range(layers))
    same = tuple(bool(rng.random() < 0.25) and n + 1 < layers for n in range(layers))
    deadline = [[], [30, 40], [30, 54, 78]][rng.integers(3)]
    lengths = {area: [int(rng.integers(2, 5)) for _ in range(layers)] for area in (7, 10)}
    kinds = {
        area: tuple(
            random_choice(
                rng, days, at, lengths[area][n], opens=[1, 2, 4, 24, 45], last=n + 1 == layers,
                bare=bare[n], deadline=deadline,
            )
            for n in range(layers)
        )
        for area in (7, 10)
    }  # fmt: skip
    worth = {
        area: tuple(random_worth(rng, choice, scale * area) for choice in kinds[area])
        for area in (7, 10)
    }
    made, worths, missed = [], [], []
    for t in range(tasks):
        area = int(rng.choice([7, 7, 10]))
        task = Task(f"S{t}", area, 0, 0, kinds[area], same, bare)
        own, cost = worth[area], 0
        if layers > 1 and rng.random() < 0.3:  # one layer lies already
            due = None if rng.random() < 0.4 else int(rng.choice([2, 3])) * TICKS_PER_DAY
            kept = kinds[area][1].start >= int(rng.choice([0, TICKS_PER_DAY]))
            if due is not None:
                kept &= kinds[area][1].hour_end <= due
                cost = scale * int(rng.choice([0, 20, 200]))
            task = replace(
                task, first=1, choices=(kinds[area][1].keep(kept), *kinds[area][2:]),
                same_shift=same[1:], bare=bare[1:], open_since=-5, bare_now=bare[0], due_now=due,
            )  # fmt: skip
            own = (own[1][kept], *own[2:])
        if t and rng.random() < 0.2:
            task = replace(task, over=(int(rng.integers(0, t)),))
        made.append(task)
        worths.append(own)
        missed.append(cost)
    cap = None
    if rng.random() < 0.3:
        now = sum(task.area for task in made if task.bare_now)
        cap = max(now, int(rng.choice([10, 14, 17])))
    problem = Problem(
        tuple(made), (False,) * days, tuple(d % 7 for d in range(days)), 0, days * TICKS_PER_DAY,
        move=int(rng.choice([0, 1])), open_area=cap,
    )  # fmt: skip
    # Some sites have a shift before the first day of the board, others one after its last.
    board = list(range(days))
    if rng.random() < 0.25:
        board = [-1, *range(days - 1)]
    elif rng.random() < 0.25:
        board[-1] = -1
    return DispatchSite(problem, tuple(board), tuple(worths), tuple(missed))


def random_crew(rng, sites, layers, scale):
    """Return a crew with hours, skills and drives of its own."""
    first, last, may, visit = [], [], [], []
    for site in sites:
        day = np.arange(len(site.day)) * TICKS_PER_DAY + DAY_BEGINS
        begins = day + rng.choice([0, 0, 0, 3], len(day))
        ends = day + rng.choice([6, 10, 16, 20], len(day))
        first.append(begins)
        last.append(np.where(rng.random(len(day)) < 0.1, begins, ends))
        may.append(tuple(bool(rng.random() < 0.8) for _ in range(layers)))
        visit.append(scale * int(rng.choice([0, 4, 15])))
    station = None if rng.random() < 0.6 or not sites else int(rng.integers(len(sites)))
    return DispatchCrew(tuple(first), tuple(last), tuple(may), tuple(visit), station)


def random_promises(rng, sites, crews, days):
    """Return promises, most of which can be kept one by one."""
    found = {}
    for n, site in enumerate(sites):
        for t, task in enumerate(site.problem.tasks):
            for layer, choice in enumerate(task.choices):
                if rng.random() < 0.4 and choice.start.size:
                    day = site.day[int(choice.shift[int(rng.integers(choice.start.size))])]
                    found[n, t, layer] = int(rng.integers(crews)), min(max(day, 0), days - 1)
    return found


def random_dispatch(seed, *, sites, crews, tasks, layers, days, at=(0, 3, 6, 10), scale=1):
    """Return a dispatch; about half of its crews are alike."""
    rng = np.random.default_rng(seed)
    made = tuple(
        random_site(
            rng, tasks=int(rng.choice([tasks, tasks, tasks, 1])), layers=layers, days=days, at=at,
            scale=scale,
        )
        for _ in range(sites)
    )  # fmt: skip
    gang = [random_crew(rng, made, layers, scale) for _ in range(crews)]
    if crews and rng.random() < 0.5:
        other = gang[-1]
        gang = [replace(gang[0], station=None)] * crews
        # Alike but for one thing.
        if rng.random() < 0.6:
            thing = str(rng.choice(["station", "visit", "may"]))
            gang[-1] = replace(gang[-1], **{thing: getattr(other, thing)})
    prices = Prices(
        move=scale * int(rng.choice([0, 3, 12, 40])),
        change=scale * int(rng.choice([0, 2, 20, 300])),
    )
    promised = {}
    if crews and rng.random() < 0.6:
        promised = random_promises(rng, made, crews, days)
    return Dispatch(made, tuple(gang), days, prices, promised)


# --- What holds for every answer ------------------------------------------------------------------


def plainly(found):
    """Return visits and starts as the plain count takes them."""
    visits = [(v.crew, v.site, v.shift) for v in found.visits]
    taken = [(t.site, t.task, t.layer, t.at) for t in found.taken]
    return visits, taken


def require_sound(problem, found):
    """Check all rules, and that the worth is counted rightly."""
    visits, taken = plainly(found)
    assert plain.faults(problem, visits, taken) == []
    assert found.worth == worth_of(problem, found.visits, found.taken)
    assert found.worth == plain.worth_of_plan(problem, visits, taken)
    assert found.worth <= found.bound


def allowed(bound):
    """Return a bound with what floats may have lost of it."""
    return bound + ROUNDED * max(1.0, abs(bound))


def equals_the_best_of_all(outside, problem):
    best = plain.best_worth(problem)
    assert outline(problem, seconds=5).bound >= best - ROUNDED * max(1.0, abs(best))
    assert allowed(day_prices(problem)[0]) >= best
    found = assign(problem, seconds=20)
    require_sound(problem, found)
    outside.equal(
        "crews to sites: worth and proof, small random boards", (found.worth, found.optimal),
        (best, True), points=1, source="an exhaustive search, tests/plain_dispatch.py",
    )  # fmt: skip


SHAPES = (
    {"sites": 2, "crews": 2, "tasks": 2, "layers": 2, "days": 4},
    {"sites": 3, "crews": 2, "tasks": 2, "layers": 2, "days": 3},
    {"sites": 2, "crews": 2, "tasks": 3, "layers": 2, "days": 3},
    {"sites": 2, "crews": 3, "tasks": 2, "layers": 1, "days": 4},
    {"sites": 3, "crews": 1, "tasks": 2, "layers": 2, "days": 4},
    {"sites": 3, "crews": 3, "tasks": 2, "layers": 2, "days": 3},
    {"sites": 2, "crews": 2, "tasks": 2, "layers": 3, "days": 4},
    {"sites": 1, "crews": 2, "tasks": 3, "layers": 2, "days": 4},
    {"sites": 3, "crews": 2, "tasks": 3, "layers": 1, "days": 3},
)
# The worth of a board is in the millions and more; the last is no round number.
SCALES = (1, 1000, 1_000_003)


@pytest.mark.exhaustive(every=4)  # of each shape and scale
@pytest.mark.parametrize("seed", range(63))
def test_equals_the_best_of_all(seed, outside):
    equals_the_best_of_all(
        outside, random_dispatch(seed, **SHAPES[seed % len(SHAPES)], scale=SCALES[seed // 21])
    )


def test_what_the_random_problems_hold():
    """They ask what they are meant to ask."""
    problems = [random_dispatch(seed, **SHAPES[seed % len(SHAPES)]) for seed in range(63)]
    sites = [site for problem in problems for site in problem.sites]
    tasks = [task for site in sites for task in site.problem.tasks]
    crews = [crew for problem in problems for crew in problem.crews]
    assert any(len({id(t.choices) for t in s.problem.tasks}) < len(s.worth) for s in sites)
    assert any(any(site.missed) for site in sites)
    assert any(-1 in site.day for site in sites)
    assert any(site.problem.open_area is not None for site in sites)
    assert any(task.over for task in tasks)
    assert any(any(task.same_shift) for task in tasks)
    assert any((worth < 0).any() for site in sites for each in site.worth for worth in each)
    assert any(crew.station is not None for crew in crews)
    assert any(not all(may) for crew in crews for may in crew.may)
    assert any(len(kinds_of(problem)) < len(problem.crews) for problem in problems)
    assert {problem.prices.change for problem in problems if problem.promised} >= {0, 2, 300}


# --- Nobody, nowhere, never -----------------------------------------------------------------------


def test_without_crews_only_what_is_missed_and_promised_counts():
    problem = random_dispatch(5, sites=3, crews=0, tasks=2, layers=2, days=3)
    sites = tuple(replace(site, missed=(7,) * len(site.missed)) for site in problem.sites)
    problem = replace(problem, sites=sites, prices=Prices(3, 100), promised={(0, 0, 0): (0, 0)})
    found = assign(problem, seconds=5)
    require_sound(problem, found)
    assert (found.visits, found.taken, found.optimal) == ((), (), True)
    assert found.worth == -7 * sum(len(site.missed) for site in sites) - 100
    assert outline(problem, seconds=5).bound == day_prices(problem)[0] == found.worth


def test_without_sites_there_is_nothing_to_do():
    problem = Dispatch((), (DispatchCrew((), (), (), ()),), 3)
    found = assign(problem, seconds=5)
    assert (found.visits, found.taken, found.worth, found.optimal) == ((), (), 0, True)


def test_a_site_without_pieces_is_left_alone():
    empty = DispatchSite(Problem((), (False,), (0,), 0, TICKS_PER_DAY), (0,), (), ())
    problem = random_dispatch(2, **SHAPES[0])
    crews = tuple(
        DispatchCrew(
            (*c.first, np.array([16])), (*c.last, np.array([30])), (*c.may, (True, True)),
            (*c.visit, 0), c.station,
        )
        for c in problem.crews
    )  # fmt: skip
    more = replace(problem, sites=(*problem.sites, empty), crews=crews)
    found = assign(more, seconds=20)
    require_sound(more, found)
    assert found.worth == plain.best_worth(problem)


@pytest.mark.parametrize("sites", [3, 10])
def test_without_time_the_answer_is_sound(sites):
    problem = random_dispatch(9, sites=sites, crews=3, tasks=3, layers=2, days=4)
    require_sound(problem, assign(problem, seconds=0.0))


@pytest.mark.parametrize("sites", [1, 10])
def test_shifts_outside_the_board_are_left_alone(sites):
    problem = random_dispatch(7, sites=sites, crews=2, tasks=2, layers=2, days=3)
    never = tuple(replace(site, day=(-1,) * len(site.day)) for site in problem.sites)
    problem = replace(problem, sites=never)
    found = assign(problem, seconds=2)
    require_sound(problem, found)
    assert (found.visits, found.taken, found.optimal) == ((), (), True)


# --- By hand --------------------------------------------------------------------------------------


def one_layer(days, tasks=1, *, length=4):
    """Return pieces of one layer with one start a day, which share their choices."""
    start = np.arange(days) * TICKS_PER_DAY + DAY_BEGINS
    choice = Choice(
        length, start, np.arange(days), start + length, start + 40, np.full(days, FAR),
        np.full(days, False),
    )  # fmt: skip
    shared = (choice,)
    return tuple(Task(f"S{n}", 10, 0, 0, shared, (False,), (False,)) for n in range(tasks))


def small_site(worth, tasks=1):
    """Return a site of pieces of one layer, of a worth on each day."""
    days = len(worth)
    pieces = one_layer(days, tasks)
    problem = Problem(pieces, (False,) * days, tuple(range(days)), 0, days * TICKS_PER_DAY)
    return DispatchSite(problem, tuple(range(days)), ((np.array(worth),),) * tasks, (0,) * tasks)


def small_crew(sites, visit=None, station=None):
    """Return a crew that can come to all sites on all days."""
    first = tuple(np.arange(len(site.day)) * TICKS_PER_DAY + DAY_BEGINS for site in sites)
    return DispatchCrew(
        first, tuple(each + 16 for each in first), ((True,),) * len(sites),
        visit or (0,) * len(sites), station,
    )  # fmt: skip


@pytest.mark.parametrize("filler", [0, 9])
@pytest.mark.parametrize(("gain", "day"), [(-50, 0), (0, 0), (29, 0), (31, 1), (500, 1)])
def test_a_promised_day_moves_when_more_is_gained_than_it_costs(gain, day, filler):
    """So it does on a board of one site, and on one that is planned a few sites at a time."""
    sites = (small_site([100, 100 + gain]), *[small_site([0, 0])] * filler)
    problem = Dispatch(
        sites, (small_crew(sites),), 2, Prices(0, change=30), {(0, 0, 0): (0, 0)}
    )
    found = assign(problem, seconds=2)
    require_sound(problem, found)
    assert found.optimal
    assert [(v.crew, v.shift) for v in found.visits if v.site == 0] == [(0, day)]
    assert found.worth == 100 + (gain - 30 if day else 0)


@pytest.mark.parametrize(("saved", "crew"), [(0, 0), (29, 0), (31, 1)])
def test_a_promised_crew_changes_when_more_is_saved_than_it_costs(saved, crew):
    sites = (small_site([100]),)
    crews = (small_crew(sites, (saved,)), small_crew(sites, (0,)))
    problem = Dispatch(sites, crews, 1, Prices(0, change=30), {(0, 0, 0): (0, 0)})
    found = assign(problem, seconds=2)
    require_sound(problem, found)
    assert found.visits == (Visit(crew, 0, 0),)
    assert found.worth == 100 - (0 if crew else saved) - (30 if crew else 0)


@pytest.mark.parametrize(("worth", "kept"), [(-29, True), (-31, False)])
def test_a_promised_layer_is_dropped_when_it_loses_more_than_that_costs(worth, kept):
    sites = (small_site([worth]),)
    problem = Dispatch(
        sites, (small_crew(sites),), 1, Prices(0, change=30), {(0, 0, 0): (0, 0)}
    )
    found = assign(problem, seconds=2)
    require_sound(problem, found)
    assert found.taken == ((Taken(0, 0, 0, 0),) if kept else ())
    assert found.worth == max(worth, -30)


@pytest.mark.parametrize(("more", "goes"), [(19, False), (21, True)])
def test_a_crew_leaves_its_site_when_more_is_gained_than_the_move_costs(more, goes):
    """It is on the first site already, and one day is left."""
    sites = (small_site([100]), small_site([100 + more]))
    problem = Dispatch(sites, (small_crew(sites, station=0),), 1, Prices(move=20))
    found = assign(problem, seconds=2)
    require_sound(problem, found)
    assert found.visits == (Visit(0, int(goes), 0),)
    assert found.worth == (100 + more - 20 if goes else 100)


def test_the_crew_that_is_needed_on_its_site_again_stays():
    """Two crews alike: one of them goes from B to C, the other is on A on the third day too."""
    never = -1000
    sites = (
        small_site([100, never, 100], tasks=2), small_site([100, never, never]),
        small_site([never, 100, never]),
    )  # fmt: skip
    # One piece a day on A: the crew's day is too short for both.
    crew = small_crew(sites)
    crew = replace(crew, last=tuple(first + 7 for first in crew.first))
    problem = Dispatch(sites, (crew, crew), 3, Prices(move=20))
    found = assign(problem, seconds=5)
    require_sound(problem, found)
    assert (found.worth, found.optimal) == (400 - 3 * 20, True)
    on = {(v.site, v.shift): v.crew for v in found.visits}
    assert on[0, 0] == on[0, 2] != on[1, 0] == on[2, 1]


def test_of_crews_alike_but_for_their_drive_the_nearer_one_comes():
    sites = (small_site([100, 100]), small_site([100, 100]))
    crews = (small_crew(sites, (40, 5)), small_crew(sites, (6, 30)))
    problem = Dispatch(sites, crews, 2)
    found = assign(problem, seconds=5)
    require_sound(problem, found)
    assert {(v.crew, v.site) for v in found.visits} == {(0, 1), (1, 0)}
    assert (found.worth, found.optimal) == (200 - 5 - 6, True)


def fewest_moves(crews, days):
    """Return the fewest moves by which crews alike can be on the sites of each day."""
    least = {(None,) * crews: 0}
    for sites in days:
        after = {}
        for on, count in least.items():
            for who in permutations(range(crews), len(sites)):
                now = list(on)
                for crew, site in zip(who, sites, strict=True):
                    now[crew] = site
                more = count + sum(a != b for a, b in zip(on, now, strict=True))
                after[tuple(now)] = min(more, after.get(tuple(now), more))
        least = after
    return min(least.values())


@pytest.mark.parametrize("seed", range(40))
def test_crews_alike_are_named_with_the_fewest_moves(seed, outside):
    rng = np.random.default_rng(seed)
    crews, places, days = int(rng.integers(1, 4)), int(rng.integers(3, 6)), 5
    asked = [
        rng.permutation(places)[: int(rng.integers(0, crews + 1))].tolist() for _ in range(days)
    ]
    sites = tuple(small_site([1] * days) for _ in range(places))
    problem = Dispatch(sites, (small_crew(sites),) * crews, days, Prices(move=1))
    sent = [(site, day, 0) for day, those in enumerate(asked) for site in those]
    visits = list(name_crews(problem, sent))
    assert sorted((v.site, v.shift) for v in visits) == sorted((s, d) for s, d, _ in sent)
    assert len({(v.crew, v.shift) for v in visits}) == len(visits)
    outside.equal(
        "moves of crews that are alike", moves(problem, visits), fewest_moves(crews, asked),
        source="all ways to name them",
    )  # fmt: skip


def test_unlike_pieces_of_one_length_fit_into_one_shift(outside):
    """The bound lets as many of them in as a crew can lay."""
    start = np.array([16, 22])
    pieces = tuple(
        Task(
            name, 10, 0, 0,
            (Choice(
                4, start, start // TICKS_PER_DAY, start + 4, start + 40, np.full(2, FAR),
                np.full(2, False),
            ),),
            (False,), (False,),
        )
        for name in "AB"
    )  # fmt: skip
    problem = Problem(pieces, (False,), (0,), 0, TICKS_PER_DAY)
    site = DispatchSite(problem, (0,), ((np.array([10, 10]),), (np.array([20, 20]),)), (0, 0))
    dispatch = Dispatch((site,), (small_crew([site]),), 1)
    assert plain.best_worth(dispatch) == 30
    equals_the_best_of_all(outside, dispatch)


# --- Many sites -----------------------------------------------------------------------------------


@pytest.mark.exhaustive(every=2)
@pytest.mark.parametrize("seed", range(8))
def test_a_few_sites_at_a_time_are_sound_and_under_the_bound(seed, monkeypatch):
    """Small enough to know the best of all, planned as many sites are."""
    monkeypatch.setattr("windows.board.assign._FEW_SITES", 0)
    problem = random_dispatch(1000 + seed, **SHAPES[seed % 3 + 3], scale=1000)
    found = assign(problem, seconds=0.6)
    require_sound(problem, found)
    best = plain.best_worth(problem)
    assert found.worth <= best <= allowed(found.bound)
    if found.optimal:
        assert found.worth == best


@pytest.mark.exhaustive(every=2)
@pytest.mark.parametrize("seed", range(3))
def test_many_sites_are_sound_and_better_than_as_they_come(seed):
    problem = random_dispatch(2000 + seed, sites=12, crews=3, tasks=4, layers=2, days=6, scale=1000)
    found = assign(problem, seconds=1)
    require_sound(problem, found)
    visits, taken = plain.greedy(problem)
    assert plain.faults(problem, visits, taken) == []
    as_they_come = plain.worth_of_plan(problem, visits, taken)
    assert as_they_come <= found.worth
    assert as_they_come <= found.bound
    assert len(found.taken) > 12


@pytest.mark.parametrize("layers", [1, 2])
@pytest.mark.parametrize("seed", range(3))
def test_more_than_six_pieces_are_laid_in_order(seed, layers):
    """The bound of the outline holds for every plan, that of the answer perhaps in order only."""
    rng = np.random.default_rng(seed)
    site = random_site(rng, tasks=7, layers=layers, days=3, at=(0, 4), scale=10)
    problem = Dispatch((site,), tuple(random_crew(rng, (site,), layers, 10) for _ in range(2)), 3)
    found = assign(problem, seconds=20)
    require_sound(problem, found)
    best = plain.best_worth(problem)
    assert found.optimal
    assert found.worth <= best <= allowed(outline(problem, seconds=5).bound)
    # The order of equal pieces of one layer loses nothing.
    if not found.in_order or layers == 1:
        assert found.worth == best

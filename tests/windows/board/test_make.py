"""The board as a whole: random folders against its checks, its laws, and every danger."""

import shutil
from dataclasses import replace
from datetime import date, timedelta

import board_folder as folders
import numpy as np
import pandas as pd
import pytest

from windows.board.check import check_board, check_roads
from windows.board.make import load_jobs, make_board
from windows.board.promise import Promise
from windows.board.result import Danger, SiteState
from windows.gates import State
from windows.odds.chance import Chance, Method
from windows.validator import validate
from windows.weather_choice import WeatherChoice

NOW = folders.NOW
SYSTEMS = (
    ("acrylic_two_coat", "single_ply", ("base", "top")),
    ("silicone_one_coat", "metal", ("primer", "top")),
    ("silicone_two_coat", "single_ply", ("primer", "base", "top")),
    ("acrylic_reinforced", "built_up", ("primer", "base", "top", "finish")),
)
"""Systems of the random sites: name, roof, layers."""


# --- Random folders ------------------------------------------------------------------------------


def random_weather(rng, days=9):
    """Return columns of an invented forecast: days and nights, showers, gaps, probabilities."""
    size = 24 * days
    hour = (np.arange(size) + 24 - 4) % 24  # the first row is 04:00 UTC, midnight by the roof
    day_mean = np.repeat(rng.normal(19, 3, days), 24)
    air = day_mean + rng.uniform(4, 7) * np.cos((hour - 11) / 24 * 2 * np.pi)
    dew = np.repeat(rng.normal(10, 3, days), 24)
    rain = np.zeros(size)
    chance = np.full(size, rng.choice([0.0, 0.01, 0.03]))
    for _ in range(int(rng.integers(0, 4))):
        begin, length = int(rng.integers(0, size)), int(rng.integers(2, 12))
        rain[begin : begin + length] = rng.uniform(0.2, 3)
        chance[max(begin - 6, 0) : begin + length + 6] = rng.uniform(0.2, 0.9)
    columns = {
        "air_temp_c": air, "dew_point_c": np.minimum(dew, air - 0.5),
        "wind_m_s": np.clip(rng.normal(3.5, 1.5, size), 0, None), "cloud": np.full(size, 0.5),
        "rain_mm": rain, "rain_prob": chance,
    }  # fmt: skip
    columns["gust_m_s"] = columns["wind_m_s"] * 1.4
    way = rng.random()
    if way < 0.2:
        del columns["rain_prob"]
    elif way < 0.5:  # probabilities of six hours, as several services have them
        blocks = chance.reshape(-1, 6).max(axis=1)
        columns["rain_prob"] = np.repeat(blocks, 6)
        columns["rain_prob_block_h"] = np.full(size, 6.0)
    for name in rng.choice(sorted(set(columns) - {"rain_prob_block_h"}), rng.integers(0, 3)):
        begin = int(rng.integers(0, size))
        columns[name][begin : begin + int(rng.integers(1, 30))] = np.nan
    return columns


def random_folder(rng, path):
    """Write three to five sites in three forecasts, and two or three crews."""
    csvs = [folders.as_csv(random_weather(rng)) for _ in range(3)]
    for n in range(int(rng.integers(3, 6))):
        system, kind, layers = SYSTEMS[rng.integers(len(SYSTEMS))]
        names = "ABC"[: rng.integers(1, 4)]
        sections = {name: float(rng.choice([200, 300, 450])) for name in names}
        laid = "A" if rng.random() < 0.5 else ""
        folders.add_site(
            path, f"site{n}", system=system, kind=kind, sections=sections,
            placed=[(s, layers[0], "2026-05-31 09:00", "2026-05-31 11:30") for s in laid],
            rates=dict.fromkeys(layers, "100 m2/h"),
            needs=["lift"] if rng.random() < 0.3 else [],
            csv=csvs[rng.integers(3)],
            place=(40 + rng.uniform(-0.3, 0.3), -75 + rng.uniform(-0.3, 0.3)),
            hours=(("07:00", "17:00"), ("06:30", "15:00"), ("12:00", "23:00"))[rng.integers(3)],
            crew=rng.choice(["", 'set_up = "1 h"\nclean_up = "15 min"', 'move = "0 h"']),
        )  # fmt: skip
    crews = [random_crew(rng, name) for name in ("Red", "Blue", "Green")[: rng.integers(2, 4)]]
    tables = {"yard": {"latitude": 40.0, "longitude": -75.1}} if rng.random() < 0.7 else {}
    folders.add_company(path, crews, **tables)
    return path


def random_crew(rng, name):
    crew = {"name": name}
    if rng.random() < 0.5:
        crew["skills"] = [str(each) for each in rng.choice(["acrylic", "silicone"], 1)]
    if rng.random() < 0.6:
        crew["equipment"] = ["lift"]
    if rng.random() < 0.7:
        crew["start"], crew["end"] = (("06:00", "16:30"), ("08:10", "17:45"), ("14:00", "01:00"))[
            rng.integers(3)
        ]
    if rng.random() < 0.4:
        days = rng.choice(["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"], 5, replace=False)
        crew["work_days"] = [str(day) for day in days]
    if rng.random() < 0.3:
        crew["days_off"] = ["2026-06-03"]
    if rng.random() < 0.4:
        crew["yard"] = {"latitude": 40 + rng.uniform(-0.5, 0.5), "longitude": -75.3}
    return crew


def sound(board, loaded, promises=()):
    """Check a board and the plan in it, which must both be without fault.

    Work that has begun was decided by an earlier board.
    """
    assert check_board(board, loaded.company, loaded.jobs, promises) == ()
    for job in loaded.jobs:
        if job.built is not None:
            placed = [
                work.placement for each in board.assignments if each.site == job.key
                for work in each.works if work.placement.start >= board.now
            ]  # fmt: skip
            assert validate(placed, job.built.pieces, job.job, job.in_weather, board.now) == ()


@pytest.mark.exhaustive(every=5)
@pytest.mark.parametrize("seed", range(15))
def test_random_folders_make_sound_boards(tmp_path, seed, outside):
    rng = np.random.default_rng([70, seed])
    board, loaded = folders.board_of(random_folder(rng, tmp_path))
    assert board.faults == ()
    sound(board, loaded)
    outside.found(
        "visits of boards of random sites, crews and weathers", points=len(board.assignments),
        allowed="no fault", worst="no fault",
        source="the validator of plans, and a check of crews' rules written apart",
    )  # fmt: skip


# --- The check itself ----------------------------------------------------------------------------

YARD = {"latitude": 40.2, "longitude": -75.0}
DAY_SHIFT = {"start": "06:00", "end": "17:30"}
CREWS = (
    {"name": "Red", "skills": ["acrylic"], "equipment": ["lift"], **DAY_SHIFT},
    {"name": "Blue", "skills": ["silicone", "acrylic"], **DAY_SHIFT},
)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Return a sound board of two sites and two crews, and what it was made of."""
    path = tmp_path_factory.mktemp("made")
    folders.add_company(path, CREWS, yard=YARD)
    folders.add_site(path, "one", needs=["lift"], rates=folders.RATES)
    folders.add_site(
        path, "two", system="silicone_one_coat", kind="metal", sections={"A": 300.0},
        rates={"primer": "100 m2/h", "top": "100 m2/h"},
    )  # fmt: skip
    promises = promise_of("2026-06-01 08:00"), promise_of("2026-06-01 12:00", piece="B")
    board, loaded = folders.board_of(path, promises=promises)
    sound(board, loaded, promises)
    assert {(each.crew, each.site) for each in board.assignments} == {
        ("Red", "one"), ("Blue", "two")
    }
    assert sum(w.promised for each in board.assignments for w in each.works) == 2
    return board, loaded, promises


def promise_of(start, piece="A"):
    start = folders.local(start)
    day = date(start.year, start.month, start.day)
    return Promise("Red", "one", piece, piece, 0, "base", start, start + timedelta(hours=3), day)


def later(moment, hours):
    return moment + timedelta(hours=hours)


def with_first(board, **changes):
    """Return a board whose first assignment is another."""
    return replace(
        board, assignments=(replace(board.assignments[0], **changes), *board.assignments[1:])
    )


def with_work(board, at=0, **changes):
    """Return a board of which one work of the first assignment, or its placement, is another."""
    works = list(board.assignments[0].works)
    own = {key: changes.pop(key) for key in ("chance", "promised") if key in changes}
    works[at] = replace(works[at], **own)
    works[at] = replace(works[at], placement=replace(works[at].placement, **changes))
    return with_first(board, works=tuple(works))


def shifted(board, hours):
    """Return a board whose first assignment is some hours later, whole."""
    first = board.assignments[0]
    works = tuple(
        replace(work, placement=replace(
            work.placement, start=later(work.placement.start, hours),
            end=later(work.placement.end, hours),
        ))
        for work in first.works
    )  # fmt: skip
    return with_first(
        board, works=works, arrive=later(first.arrive, hours), leave=later(first.leave, hours)
    )


def blue_of(board):
    return next(each for each in board.assignments if each.crew == "Blue")


def with_chance(board, *told):
    return with_work(board, chance=Chance(*told))


SPOILED = {
    "there is no such crew": lambda b: with_first(b, crew="Grey"),
    "the site cannot be planned": lambda b: with_first(b, site="gone"),
    "Blue is sent to": lambda b: with_first(b, crew="Blue", day=blue_of(b).day),
    "two is given to": lambda b: with_first(b, site="two", day=blue_of(b).day),
    "may not lay silicone": lambda b: replace(
        b, assignments=tuple(replace(each, crew="Red") for each in b.assignments)
    ),
    "needs 'lift', which the crew does not bring": lambda b: with_first(b, crew="Blue"),
    "the day is not on the board": lambda b: replace(b, days=b.days[1:]),
    "nobody works on the site that day": lambda b: with_first(b, day=date(2026, 6, 6)),
    "is of the shift of": lambda b: with_first(b, day=date(2026, 6, 9)),
    "begins before now": lambda b: shifted(b, -6),
    "is too early by the site's hours": lambda b: shifted(b, -2),
    "is too late by the site's hours": lambda b: shifted(b, 3),
    "crew's own hours, drive included": lambda b: shifted(b, 2.5),
    "ends before it begins": lambda b: with_work(b, end=b.now),
    "arrived and set up": lambda b: with_first(b, arrive=later(b.assignments[0].arrive, 0.25)),
    "leaves before it has laid": lambda b: with_first(
        b, leave=later(b.assignments[0].leave, -0.25)
    ),
    "overlap, or are not in order": lambda b: with_first(b, works=b.assignments[0].works[::-1]),
    "nothing is to be laid": lambda b: with_first(b, works=()),
    "the drive is told as": lambda b: with_first(b, drive_h=0.0),
    "cannot come from": lambda b: with_first(b, leave=later(b.assignments[0].leave, 24)),
    "has a chance of": lambda b: with_chance(b, 0.9, 0.5, 1.0, Method.CHAIN),
    "has a chance, and is told as not known": lambda b: with_chance(
        b, 0.9, 0.9, 0.9, Method.UNKNOWN
    ),
    "it must be planned or told as undone once, and is 0": lambda b: replace(
        b, assignments=b.assignments[1:]
    ),
    "it must be planned or told as undone once, and is 2": lambda b: replace(
        b, assignments=(b.assignments[0], *b.assignments)
    ),
    "m2 are planned of": lambda b: with_work(b, area_m2=100.0),
    "it is told as tar": lambda b: with_work(b, coating="tar"),
    "there is no piece 'Z'": lambda b: with_work(b, piece="Z"),
    "is called promised and was not": lambda b: replace(
        b, assignments=tuple(
            replace(each, works=tuple(replace(work, promised=True) for work in each.works))
            for each in b.assignments
        ),
    ),
    "the area is told as": lambda b: replace(b, area_m2=b.area_m2 + 1),
    "the expected area is told as": lambda b: replace(b, expected_m2=b.expected_m2 + 1),
    "is told as 'finished'": lambda b: replace(
        b, sites=(replace(b.sites[0], state=SiteState.FINISHED), *b.sites[1:])
    ),
    "must be told as work or as idle": lambda b: replace(
        b, crews=(replace(b.crews[0], idle={}), *b.crews[1:])
    ),
    "the cover that is told is not planned": lambda b: replace(
        b, deadlines=(replace(b.deadlines[0], cover=b.now), *b.deadlines[1:])
    ),
    "planned over one that is overdue": lambda b: replace(
        b, deadlines=(replace(b.deadlines[0], danger=Danger.OVERDUE), *b.deadlines[1:])
    ),
    "which is told as blocked (no_rain)": lambda b: replace(
        b, sites=tuple(
            replace(site, strips=tuple(
                replace(strip, hours=tuple(
                    replace(hour, state="blocked", why=("no_rain",)) for hour in strip.hours
                ))
                for strip in site.strips
            ))
            for site in b.sites
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("told", SPOILED)
def test_the_check_finds_what_is_spoiled(made, told):
    board, loaded, promises = made
    spoiled = SPOILED[told](board)
    found = check_board(spoiled, loaded.company, loaded.jobs, promises) + check_roads(spoiled)
    assert any(told in each for each in found), found
    assert len(set(found)) == len(found)
    assert all("\n" not in each for each in found)


def test_the_check_reads_crews_and_days_off_from_the_company(made):
    board, loaded, promises = made
    day = board.assignments[0].day
    for changes, told in (
        ({"days_off": (day,)}, "a day off of the crew"),
        ({"work_days": ("Sun",)}, "the crew does not work on Mon"),
        ({"yard": loaded.company.yard.model_copy(update={"latitude": 41.0})}, "the drive is told"),
    ):
        red = loaded.company.crew[0].model_copy(update=changes)
        company = loaded.company.model_copy(update={"crew": (red, loaded.company.crew[1])})
        assert any(told in each for each in check_board(board, company, loaded.jobs, promises))
    assert any(
        "is called promised" in each for each in check_board(board, loaded.company, loaded.jobs)
    )


# --- Laws ----------------------------------------------------------------------------------------


def blinded(rng, csv):
    """Return a forecast with gaps of all columns in it, and the rows that are gone."""
    lines = csv.splitlines()
    head = next(n for n, line in enumerate(lines) if line.startswith("time_utc"))
    gone = set()
    for _ in range(3):
        begin = int(rng.integers(24, len(lines) - head - 1))
        gone |= set(range(begin, min(begin + int(rng.integers(1, 9)), len(lines) - head - 1)))
    for row in gone:
        at = head + 1 + row
        lines[at] = lines[at].split(",")[0] + "," * lines[head].count(",")
    return "\n".join(lines) + "\n", gone


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("seed", range(6))
def test_what_is_not_known_never_sends_anybody(tmp_path, seed):
    """Values taken away leave fewer starts, and nobody is sent into hours that need them."""
    rng = np.random.default_rng([71, seed])
    random_folder(rng, tmp_path)
    full = load_jobs(tmp_path, WeatherChoice(), NOW)
    gone = {}
    for job in full.jobs:
        path = tmp_path / job.key / "weather.csv"
        text, gone[job.key] = blinded(rng, path.read_text())
        path.write_text(text)
    board, loaded = folders.board_of(tmp_path, seconds=1)
    sound(board, loaded)
    for seen, blind in zip(full.jobs, loaded.jobs, strict=True):
        pairs = zip(seen.built.problem.tasks, blind.built.problem.tasks, strict=True)
        for task, other in pairs:
            for known, unknown in zip(task.choices, other.choices, strict=True):
                assert set(unknown.start.tolist()) <= set(known.start.tolist())
    jobs = {job.key: job for job in full.jobs}
    for each in board.assignments:
        job = jobs[each.site]
        for work in each.works:
            first = int(np.floor(job.in_weather.moment(work.placement.start)))
            after = int(np.ceil(job.in_weather.moment(work.placement.end)))
            assert gone[each.site].isdisjoint(range(first, after))
            assert (job.built.states[work.placement.layer][first:after] == State.OK).all()
            assert work.chance.method is not Method.UNKNOWN


@pytest.mark.parametrize("seed", [3, 4])
def test_a_forecast_too_old_sends_nobody(tmp_path, seed):
    random_folder(np.random.default_rng([70, seed]), tmp_path)
    now = NOW + pd.Timedelta(hours=25)
    board, loaded = folders.board_of(tmp_path, now=now)
    sound(board, loaded)
    assert board.assignments == ()
    assert {each.danger for each in board.deadlines} <= {Danger.NOT_KNOWN}
    assert all(each.laid and each.cover is None for each in board.deadlines)
    assert {site.state for site in board.sites} == {SiteState.STALE}
    assert len(board.faults) == len(board.sites)


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("seed", [2, 4, 11, 13, 16, 19])
def test_promises_in_the_same_weather_are_all_kept(tmp_path, seed):
    random_folder(np.random.default_rng([70, seed]), tmp_path)
    first, loaded = folders.board_of(tmp_path, seconds=10)
    assert first.proof.optimal
    promises = folders.promises_of(first)
    again = make_board(loaded, NOW, seconds=10, promises=promises)
    sound(again, loaded, promises)
    assert again.moved == ()
    until = NOW + timedelta(hours=48)
    before, after = folders.works_of(first), folders.works_of(again)
    for key, (crew, day, start, _) in before.items():
        if start < until:
            assert after[key][:2] == (crew, day)
    for each in again.assignments:
        for work in each.works:
            key = (each.site, work.placement.piece, work.placement.layer)
            bound = key in before and before[key][2] < until
            assert work.promised == (bound and before[key][:2] == (each.crew, each.day))
    kept = sum(start < until for _, _, start, _ in before.values())
    gained = again.proof.worth - first.proof.worth - 500 * kept
    assert -0.01 <= gained <= len(before) + 0.01  # and a little for hours that stay as they were


PRIMED = {
    "system": "silicone_one_coat",
    "kind": "metal",
    "sections": {"A": 300.0},
    "rates": {"primer": "100 m2/h", "top": "100 m2/h"},
    "placed": [("A", "primer", "2026-05-31 09:00", "2026-05-31 12:00")],
}
"""A primer of Sunday: its top is due within a week."""


def calm_on(*days, wind=3.0, length=10):
    """Return a wind that lets nobody spray but on some local days."""
    column = np.full(24 * length, 18.0)
    for day in days:
        first = folders.row_of(f"{day} 00:00")
        column[first : first + 24] = wind
    return column


@pytest.mark.exhaustive(every=3)
@pytest.mark.parametrize("seed", range(6))
def test_second_boards_are_sound_and_tell_of_every_promise(tmp_path, seed):
    """Later, in another weather, with other crews: each promise is kept or named as moved."""
    rng = np.random.default_rng([72, seed])
    first, _ = folders.board_of(random_folder(rng, tmp_path), seconds=0.3)
    promises = folders.promises_of(first)
    now = NOW + timedelta(minutes=int(rng.choice([0, 165, 300, 540, 800, 1700])))
    for path in sorted(tmp_path.glob("*/weather.csv")):
        text = path.read_text().replace(f"{NOW:%Y-%m-%dT%H:%MZ}", f"{now:%Y-%m-%dT%H:%MZ}", 1)
        again = rng.random() < 0.5
        path.write_text(folders.as_csv(random_weather(rng), issued=now) if again else text)
    if rng.random() < 0.5:
        folders.add_company(tmp_path, [random_crew(rng, name) for name in ("Red", "Blue")])
    board, loaded = folders.board_of(tmp_path, now=now, promises=promises, seconds=0.5)
    sound(board, loaded, promises)
    works = folders.works_of(board)
    told = {(each.site, each.piece, each.layer_name) for each in board.moved}
    for each in promises:
        if now <= each.start < now + timedelta(hours=48):
            work = works.get((each.site, each.piece, each.layer))
            kept = work is not None and work[:2] == (each.crew, each.day)
            assert kept != ((each.site, each.piece, each.layer_name) in told)


def test_in_steady_fine_weather_nobody_waits(tmp_path):
    """Tomorrow is as good as any later day: a board that puts it off does so every evening."""
    for chance in (0.0, 0.003):
        folder = folders.folder_of(tmp_path / str(chance), csv=folders.weather(rain_prob=chance))
        board, _ = folders.board_of(folder)
        assert board.assignments[0].day == date(2026, 6, 1)


def test_a_night_shift_and_the_next_day_at_once_are_told(tmp_path):
    """The shift of Monday night goes on on Tuesday, when the other site has its only good day.

    A crew is not sent to both, or the board says that it cannot come in time.
    """
    csv = folders.weather(wind_m_s=calm_on("2026-06-02"), dew_point_c=-5.0)
    folders.add_company(tmp_path)
    folders.add_site(tmp_path, "night", hours=("20:00", "12:00"), rates=folders.RATES, csv=csv)
    folders.add_site(tmp_path, "day", csv=csv, **PRIMED | {"placed": []})
    board, loaded = folders.board_of(tmp_path)
    sound(board, loaded)
    told = any("cannot come from night" in each.text for each in board.faults)
    assert told == (len(board.assignments) > 1)


@pytest.fixture(scope="module")
def evening(tmp_path_factory):
    """Return a folder of one small site, and a board's promises of its Monday."""
    path = folders.folder_of(tmp_path_factory.mktemp("evening"), sections={"A": 300.0, "B": 200.0})
    monday = folders.local("2026-06-01 08:00")
    promise = Promise(
        "Red", "one", "A", "A", 0, "base", monday, monday + timedelta(hours=3), date(2026, 6, 1)
    )
    board, loaded = folders.board_of(path, promises=(promise,))
    assert folders.works_of(board)["one", "A", 0][:2] == ("Red", date(2026, 6, 1))
    kept = folders.promises_of(board, folders.local("2026-06-02 00:00"))
    again = make_board(loaded, NOW, seconds=3, promises=kept)
    assert again.moved == ()
    assert all(work.promised for each in again.assignments if each.day == date(2026, 6, 1)
               for work in each.works)  # fmt: skip
    return path, kept


@pytest.fixture
def kept(evening, tmp_path):
    """Return what was promised of the Monday of a site, whose folder is copied to be changed."""
    path, promises = evening
    shutil.copytree(path, tmp_path, dirs_exist_ok=True)
    return promises


def on_day(day, value, rest=0.0, days=10):
    """Return a column with one value in the hours of a local day, and another in the rest."""
    column = np.full(24 * days, rest)
    first = folders.row_of(f"{day} 00:00")
    column[first : first + 24] = value
    return column


@pytest.mark.parametrize(
    ("column", "gate"),
    [
        ({"rain_mm": on_day("2026-06-01", 2.0)}, "no_rain"),
        ({"wind_m_s": on_day("2026-06-01", 18.0, 3.0)}, "wind"),
        ({"air_temp_c": on_day("2026-06-01", np.nan, 20.0)}, "is not known"),
    ],
)
def test_a_promise_whose_hours_break_is_named_with_the_gate(tmp_path, kept, column, gate):
    (tmp_path / "one" / "weather.csv").write_text(folders.weather(**column))
    board, loaded = folders.board_of(tmp_path, promises=kept)
    sound(board, loaded, kept)
    told = {(each.piece, each.layer_name): each for each in board.moved}
    assert set(told) == {(each.piece, each.layer_name) for each in kept}
    for each in told.values():
        assert each.was == "Red, Mon Jun 1"
        assert "Mon Jun 1" not in each.now
        assert gate in each.why


def test_odds_move_a_promise_only_if_they_are_much_worse(tmp_path, kept):
    path = tmp_path / "one" / "weather.csv"
    path.write_text(folders.weather(rain_prob=on_day("2026-06-01", 0.004)))
    board, loaded = folders.board_of(tmp_path, promises=kept)
    sound(board, loaded, kept)
    assert board.moved == ()
    path.write_text(folders.weather(rain_prob=on_day("2026-06-01", 0.5)))
    board, loaded = folders.board_of(tmp_path, promises=kept)
    sound(board, loaded, kept)
    assert {(each.piece, each.layer_name) for each in board.moved} == {
        (each.piece, each.layer_name) for each in kept
    }
    assert all("the odds are against it now" in each.why for each in board.moved)
    assert all("its old hours hold with" in each.why for each in board.moved)


@pytest.mark.parametrize(
    ("crew", "word"),
    [
        ({"days_off": ["2026-06-01"]}, "day off"),
        ({"work_days": ["Tue", "Wed", "Thu", "Fri"]}, "day off"),
        ({"skills": ["silicone"]}, "may not lay acrylic"),
        ({"start": "15:00", "end": "20:00"}, "hours"),
    ],
)
def test_a_promise_that_the_crew_cannot_keep_says_so(tmp_path, kept, crew, word):
    """Not that something else gains more: nothing does."""
    folders.add_company(tmp_path, [folders.RED | crew, {"name": "Blue"}])
    board, loaded = folders.board_of(tmp_path, promises=kept)
    sound(board, loaded, kept)
    assert len(board.moved) == len(kept)
    assert all(word in each.why and "gains more" not in each.why for each in board.moved)


# --- Deadlines: every danger ---------------------------------------------------------------------

DATA_SHEET = """\
schema = 1
name = "own"
title = "with the deadlines of a data sheet"
[[layer]]
name = "primer"
coating = "primer_acrylic"
dry_film = { value = 3, unit = "mil", source = "data sheet: invented" }
over = ["metal"]
[layer.next]
closes = { value = 168, unit = "h", source = "data sheet: invented" }
cover_by = { value = 336, unit = "h", source = "data sheet: invented" }
[[layer]]
name = "top"
coating = "silicone_high_solids"
dry_film = { value = 22, unit = "mil", source = "data sheet: invented" }
over = ["acrylic"]
"""
SHEET = {"system": "own.toml"}


def daily(chance):
    """Return one probability of rain for each day."""
    return {"rain_prob": chance, "rain_prob_block_h": 24.0}


LAID_CASES = (
    ({"wind_m_s": calm_on("2026-06-03", "2026-06-04")}, SHEET, Danger.IN_TIME),
    ({"wind_m_s": calm_on("2026-06-03", "2026-06-04")}, {}, Danger.DATA_SHEET),
    ({"wind_m_s": calm_on("2026-06-03")}, SHEET, Danger.NO_SPARE),
    ({"wind_m_s": calm_on("2026-06-03"), **daily(0.55)}, SHEET, Danger.LIKELY_LOST),
    ({"wind_m_s": calm_on("2026-06-03"), **daily(0.55)}, {}, Danger.LIKELY_LOST),
    ({"wind_m_s": calm_on("2026-06-03", "2026-06-04"), **daily(0.4)}, SHEET, Danger.WAITS),
    ({"wind_m_s": calm_on("2026-06-03"), "rain_prob": 0.2}, {}, Danger.NOT_KNOWN),
    ({"wind_m_s": calm_on()}, SHEET, Danger.NO_COVER),
    ({"wind_m_s": calm_on(length=4), "days": 4}, SHEET, Danger.NOT_KNOWN),
    ({"rain_prob": None, "wind_m_s": calm_on("2026-06-03")}, SHEET, Danger.NO_COVER),
)
"""Weather, job, and how the deadline of the primer stands."""


@pytest.mark.parametrize(("given", "site", "danger"), LAID_CASES)
def test_every_danger_of_a_laid_layer(tmp_path, given, site, danger):
    dear = {"costs": {"missed_1000ft2": 1e5}}
    folders.folder_of(tmp_path, tables=dear, csv=folders.weather(**given), **PRIMED | site)
    (tmp_path / "one" / "own.toml").write_text(DATA_SHEET)
    board, loaded = folders.board_of(tmp_path)
    sound(board, loaded)
    assert [(d.laid, d.layer_name, d.danger) for d in board.deadlines if d.laid] == [
        (True, "primer", danger)
    ]
    deadline = board.deadlines[0]
    planned = danger not in {Danger.NO_COVER, Danger.NOT_KNOWN} or given.get("rain_prob") == 0.2
    assert (deadline.cover is not None) == planned == (deadline.crew == "Red")
    assert (deadline.chance is not None) == planned
    if danger is Danger.LIKELY_LOST:
        assert deadline.chance.careful < 0.5


def test_an_overdue_layer_comes_first(tmp_path):
    now = folders.local("2026-06-08 06:00")
    folders.folder_of(
        tmp_path, csv=folders.weather(14, issued=now), **PRIMED | {
            "sections": {"A": 300.0, "B": 300.0},
            "placed": [*PRIMED["placed"], ("B", "primer", "2026-06-05 09:00", "2026-06-05 12:00")],
        }
    )  # fmt: skip
    board, loaded = folders.board_of(tmp_path, now=now)
    sound(board, loaded)
    assert (board.deadlines[0].piece, board.deadlines[0].danger) == ("A", Danger.OVERDUE)
    assert [d.danger for d in board.deadlines] == sorted(
        (d.danger for d in board.deadlines), key=list(Danger).index
    )
    assert {key[1] for key in folders.works_of(board)} == {"B"}


@pytest.mark.parametrize(
    ("calm", "site", "danger"),
    [
        (("2026-06-03", "2026-06-04"), SHEET, Danger.IN_TIME),
        (("2026-06-03", "2026-06-04"), {}, Danger.DATA_SHEET),
        (("2026-06-03",), SHEET, Danger.NO_SPARE),
    ],
)
def test_deadlines_of_planned_layers(tmp_path, calm, site, danger):
    """A layer that is to be laid must be covered as well; its cover and spare are told."""
    csv = folders.weather(12, wind_m_s=calm_on(*calm, length=12))
    folders.folder_of(tmp_path, csv=csv, **PRIMED | {"placed": []} | site)
    (tmp_path / "one" / "own.toml").write_text(DATA_SHEET)
    board, loaded = folders.board_of(tmp_path)
    sound(board, loaded)
    assert [(d.laid, d.layer_name, d.danger) for d in board.deadlines] == [
        (False, "primer", danger)
    ]
    works = folders.works_of(board)
    assert board.deadlines[0].cover == works["one", "A", 1][2]


@pytest.mark.parametrize("file", ["weather.csv", "forecast_error.toml"])
def test_a_site_at_fault_still_tells_what_the_clock_tells(tmp_path, file):
    folders.folder_of(tmp_path, **PRIMED)
    path = tmp_path / "one" / file
    path.write_text("rain = [")
    board, loaded = folders.board_of(tmp_path)
    sound(board, loaded)
    assert board.site("one").state is SiteState.FAULT
    told = board.deadlines[0]
    assert (told.due, told.danger) == (folders.local("2026-06-07 09:00"), Danger.NOT_KNOWN)
    late = folders.local("2026-06-08 06:00")
    board, _ = folders.board_of(tmp_path, now=late)
    assert board.deadlines[0].danger is Danger.OVERDUE


def test_every_danger_is_reached():
    """By the cases above and a layer that is overdue: a new one needs a case."""
    assert {danger for *_, danger in LAID_CASES} | {Danger.OVERDUE} == set(Danger)

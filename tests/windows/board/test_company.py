"""Bad input of the board: the fault is named on it in a sentence, and the rest of it stands."""

import gzip
from dataclasses import replace
from datetime import date
from itertools import product
from os import sep

import board_folder as folders
import pandas as pd
import pytest
from one_sentence import one_sentence

from windows.board.check import check_board
from windows.board.company import Company, load_company
from windows.board.make import load_jobs, make_board
from windows.board.promise import Promise
from windows.board.result import Danger, SiteState
from windows.decision import Verdict
from windows.errors import DewgapError, HoursError, SiteError
from windows.odds.chance import Method
from windows.weather_choice import WeatherChoice

NOW = folders.NOW
BLUE = {"name": "Blue"}
SOUND = Company.model_validate({"crew": [folders.RED]})


@pytest.fixture
def folder(tmp_path):
    """Return a folder of two sites and a crew, all of them sound."""
    folders.folder_of(tmp_path)
    folders.add_site(tmp_path, "two", rates=folders.RATES)
    return tmp_path


@pytest.fixture
def small(tmp_path):
    """Return a folder of one sound site and a crew, for what no second site has a part in."""
    return folders.folder_of(tmp_path)


def named(faults, where, *parts):
    """Return the one fault of a place: a sentence that says what is wrong and how to mend it."""
    told = [each.text for each in faults if each.where == where]
    assert len(told) == 1, faults
    one_sentence(_refuse, f"here: {told[0]}", *parts)
    return told[0]


def _refuse(content, _):
    raise HoursError(content)


def board_of(folder, *, promises=(), now=NOW, seconds=2.0):
    """Return the board of a folder, which is sound whatever is wrong with the input."""
    board, loaded = folders.board_of(folder, now, promises, seconds)
    assert check_board(board, loaded.company, loaded.jobs, promises) == ()
    return board


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """Return two sound sites and a crew as they are loaded, for boards that change no file."""
    path = folders.folder_of(tmp_path_factory.mktemp("sound"))
    folders.add_site(path, "two", rates=folders.RATES)
    return load_jobs(path, WeatherChoice(), NOW)


def board_with(loaded, *, promises=(), seconds=2.0):
    """Return the board of what is loaded, which is sound."""
    board = make_board(loaded, NOW, seconds=seconds, promises=promises)
    assert check_board(board, loaded.company, loaded.jobs, promises) == ()
    return board


def at_work(board):
    return {(each.crew, each.site) for each in board.assignments}


def test_a_sound_folder_has_no_fault(folder):
    board = board_of(folder)
    assert board.faults == ()
    assert [site.key for site in board.sites] == ["one", "two"]
    assert board.assignments
    assert board.folder == folder.name


# --- The company file ----------------------------------------------------------------------------


def test_of_two_crews_of_one_name_the_first_stands(small):
    folders.add_company(small, [folders.RED | {"skills": ["acrylic"]}, folders.RED])
    board = board_of(small)
    text = named(board.faults, "Red", "two crews are named 'Red'", "the second is left out")
    assert text.startswith("board.toml")
    assert [(crew.name, crew.skills) for crew in board.crews] == [("Red", ("acrylic",))]
    assert board.assignments


@pytest.mark.parametrize("key", ["start", "end"])
def test_a_crew_with_one_end_of_its_hours_is_left_out(small, key):
    folders.add_company(small, [folders.RED, BLUE | {key: "07:00"}])
    board = board_of(small)
    named(board.faults, "Blue", "crew 'Blue' has only one of start and end", "give both, or none")
    assert [crew.name for crew in board.crews] == ["Red"]


@pytest.mark.parametrize(
    ("crew", "parts"),
    [
        (BLUE | {"skills": ["acrilic"]}, ("crew 2", "'acrilic' is no chemistry", "acrylic")),
        (BLUE | {"skills": "acrylic"}, ("crew 2", "skills")),
        (BLUE | {"start": "7 o'clock", "end": "17:00"}, ("crew 2", "is not a time of day")),
        (BLUE | {"work_days": ["Monday"]}, ("crew 2", "work_days")),
        (BLUE | {"days_off": ["3 June"]}, ("crew 2", "is not a date")),
        (BLUE | {"yard": {"latitude": 95.0, "longitude": 0.0}}, ("crew 2", "latitude")),
        (BLUE | {"lift": True}, ("crew 2", "lift")),
        ({"name": " "}, ("crew 2", "give it a name")),
        ({"name": "a\nb"}, ("crew 2", "give it a name on one line")),
        ({"skills": ["acrylic"]}, ("crew 2", "name")),
    ],
)
def test_a_crew_with_a_fault_is_left_out(tmp_path, crew, parts):
    folders.add_company(tmp_path, [folders.RED, crew])
    company, faults, _ = load_company(tmp_path)
    text = named(faults, "board.toml", *parts)
    assert text.startswith(str(tmp_path / "board.toml"))
    assert company.crew == (SOUND.crew[0],)


@pytest.mark.parametrize(
    ("name", "table", "parts"),
    [
        ("costs", {"lost_1000ft2": -1.0}, ("costs", "lost_1000ft2")),
        ("costs", {"lost_1000ft2": "much"}, ("costs", "lost_1000ft2")),
        ("costs", {"lost": 1.0}, ("costs", "lost")),
        ("board", {"days": 0}, ("board", "days")),
        ("board", {"stale_after": 24}, ("board", "stale_after", "has no unit")),
        ("drive", {"speed": "0 mph"}, ("drive", "speed")),
        ("yard", {"latitude": 40.0}, ("yard", "longitude")),
        ("yards", {"latitude": 40.0}, ("yards",)),
    ],
)
def test_a_table_with_a_fault_is_left_out(tmp_path, name, table, parts):
    folders.add_company(tmp_path, **{name: table})
    company, faults, _ = load_company(tmp_path)
    text = named(faults, "board.toml", *parts)
    assert text.startswith(str(tmp_path / "board.toml"))
    assert company == SOUND


def test_what_is_left_out_of_the_company_file_leaves_the_board_standing(small):
    folders.add_company(
        small, [folders.RED, BLUE | {"skills": ["acrilic"]}], costs={"lost_1000ft2": -1.0},
        yards={"latitude": 40.0},
    )  # fmt: skip
    board = board_of(small)
    assert [each.where for each in board.faults] == ["board.toml"] * 3
    assert all(each.text.startswith("board.toml") for each in board.faults)
    assert [row.name for row in board.crews] == ["Red"]
    assert board.assignments


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("[[crew]\nname = 'Red'\n", ("board.toml",)),
        ("crew = 3\n", ("write each crew as [[crew]]",)),
        ("crew = ['Red']\n", ("crew 1", "must be a table")),
        ("", ("board.toml", "the file is empty")),
        ("note = 'no crew'\n", ("there is no crew to send", "[[crew]]")),
        ("[costs]\npromise = 100\n", ("there is no crew to send",)),
        ("note = '\xff'\n", ("board.toml",)),
        (None, ("board.toml", "without it there is no crew")),
    ],
)
def test_without_a_crew_the_file_says_so(tmp_path, text, parts):
    if text is not None:
        (tmp_path / "board.toml").write_bytes(text.encode("latin-1"))
    company, faults, _ = load_company(tmp_path)
    assert any(all(part in each.text for part in parts) for each in faults)
    for each in faults:
        assert each.where == "board.toml"
        assert each.text.startswith(str(tmp_path / "board.toml"))
        assert "\n" not in each.text
    assert company.crew == ()


@pytest.mark.parametrize("text", [None, "note = 'no crew'\n"])
def test_without_a_crew_nobody_is_sent(folder, text):
    """The board still tells sites, hours and deadlines."""
    path = folder / "board.toml"
    path.unlink()
    if text is not None:
        path.write_text(text)
    board = board_of(folder)
    assert [each.where for each in board.faults] == ["board.toml"]
    assert board.faults[0].text.startswith("board.toml")
    assert (board.crews, board.assignments, board.proof) == ((), (), None)
    assert len(board.sites) == 2
    assert all(site.strips and site.state is SiteState.IDLE for site in board.sites)
    assert {each.reason for each in board.undone if each.layer == 0} == {"there is no crew"}


def test_every_fault_of_a_company_file_is_told_at_once(folder):
    folders.add_company(
        folder, [{"name": ""}, folders.RED, {"name": "Blue", "skills": ["tar"]}, folders.RED],
        costs={"move": -1.0}, board={"days": 99}, drives={"speed": "10 mph"},
    )  # fmt: skip
    company, faults, _ = load_company(folder)
    assert [crew.name for crew in company.crew] == ["Red"]
    assert (company.costs, company.board) == (Company().costs, Company().board)
    assert len(faults) == 6
    assert all("\n" not in each.text for each in faults)


# --- Sites ---------------------------------------------------------------------------------------


def spoil(folder, file, text, key="two"):
    path = folder / key / file
    if text is None:
        path.unlink()
    else:
        path.write_bytes(text.encode("latin-1"))
    return path


FAULTS = (
    ("weather.csv", None, ("there is no such file",)),
    ("weather.csv", "", ("weather.csv",)),
    ("weather.csv", "time_utc,air_temp_c\n2026-06-01T00:00Z,warm\n", ("warm",)),
    ("weather.csv", "\x00\x01\xff", ("weather.csv",)),
    ("job.toml", None, ("job.toml", "there is no such file", "system =")),
    ("job.toml", "", ("job.toml", "the file is empty")),
    ("job.toml", "note = 'no system'\n", ("job.toml", "key 'system' is missing")),
    ("job.toml", "system = 'tar'\n", ("tar",)),
    ("job.toml", "system = [\n", ("job.toml",)),
    ("job.toml", "system = 'acrylic_two_coat'\nneeds = 'lift'\n", ("job.toml", "needs")),
    ("forecast_error.toml", "rain = [\n", ("forecast_error.toml",)),
    ("site.toml", "name = [", ("site.toml",)),
    ("site.toml", "name = 'x'\n", ("site.toml",)),
    ("site.toml", "\xff", ("site.toml",)),
)
"""A file of a site, what stands in it (None: it is gone), and what is told of it."""


@pytest.fixture(scope="module")
def spoiled(tmp_path_factory):
    """Return the board of a sound site and of one site for each of the faults, by its number."""
    path = folders.folder_of(tmp_path_factory.mktemp("spoiled"))
    for number, (file, text, _) in enumerate(FAULTS):
        folders.add_site(path, f"site{number}", rates=folders.RATES)
        spoil(path, file, text, key=f"site{number}")
    return board_of(path)


@pytest.mark.parametrize("number", range(len(FAULTS)))
def test_a_site_with_a_fault_leaves_the_others(spoiled, number):
    file, _, parts = FAULTS[number]
    key = f"site{number}"
    told = named(spoiled.faults, key, *parts)
    if file == "site.toml":  # it is named by its folder
        assert f"{key}{sep}site.toml" in told
    assert spoiled.site(key).state is SiteState.FAULT
    assert spoiled.site(key).strips == ()
    assert at_work(spoiled) == {("Red", "one")}
    assert all(each.site == "one" for each in (*spoiled.undone, *spoiled.deadlines))


def test_a_broken_site_file_leaves_its_place_on_the_board(folder):
    spoil(folder, "site.toml", "name = [")
    board = board_of(folder)
    assert [site.key for site in board.sites] == ["one", "two"]
    assert at_work(board) == {("Red", "one")}


def test_all_sites_at_fault_still_make_a_board(folder):
    for key in ("one", "two"):
        (folder / key / "weather.csv").unlink()
    board = board_of(folder)
    assert [each.where for each in board.faults] == ["one", "two"]
    assert (board.assignments, board.undone, board.deadlines) == ((), (), ())
    assert set(board.crews[0].idle.values()) == {"no site can be planned"}
    for key in ("one", "two"):
        (folder / key / "site.toml").write_text("name = [")
    board = board_of(folder)
    assert [each.where for each in board.faults] == ["one", "two"]
    assert {site.state for site in board.sites} == {SiteState.FAULT}
    assert len(board.days) == 10


def test_a_folder_without_sites_is_one_sentence(tmp_path):
    folders.add_company(tmp_path)
    a_file = tmp_path / "board.toml"
    for path, parts in (
        (tmp_path, ("holds no folder with a site.toml", "job.toml and weather.csv")),
        (tmp_path / "nowhere", ("cannot be read", "name a folder")),
        (a_file, ("cannot be read", "name a folder")),
    ):
        with pytest.raises(SiteError) as caught:
            load_jobs(path, WeatherChoice(), NOW)
        text = str(caught.value)
        assert text.startswith(f"{path}: ")
        assert "\n" not in text
        assert all(part in text for part in parts)
    assert issubclass(SiteError, DewgapError)


def test_years_that_cannot_be_read_are_a_note(small):
    """Odds come from the probabilities then; a broken file of years spoils no site."""
    for content in (b"no gzip", gzip.compress(b"no,table\n1,2\n"), gzip.compress(b"")[:-4]):
        (small / "years.csv.gz").write_bytes(content)
        board = board_of(small)
        for site in board.sites:
            assert any("years.csv.gz" in note and "\n" not in note for note in site.notes)
        assert board.assignments


# --- The forecast's age --------------------------------------------------------------------------


def issued(folder, hours_ago, kind="forecast", key="two"):
    made = NOW - pd.Timedelta(hours=hours_ago)
    (folder / key / "weather.csv").write_text(folders.weather(issued=made, kind=kind))


def test_a_stale_forecast_sends_nobody(folder):
    issued(folder, 24.5)
    board = board_of(folder)
    named(board.faults, "two", "the forecast is 24 h old", "is not used past 24 h", "fetch a new")
    site = board.site("two")
    assert (site.state, site.stale, site.strips) == (SiteState.STALE, True, ())
    assert site.issued == NOW - pd.Timedelta(hours=24.5)
    assert at_work(board) == {("Red", "one")}


def test_a_forecast_of_an_age_is_shown_as_old_and_used(folder):
    issued(folder, 12.5)
    board = board_of(folder)
    assert board.faults == ()
    assert (board.site("one").stale, board.site("two").stale) == (False, True)
    assert board.site("two").strips
    assert {site for _, site in at_work(board)} == {"one", "two"}
    issued(folder, 24)
    assert board_of(folder).site("two").state is SiteState.PLANNED


def test_the_age_limit_is_the_companys(small):
    folders.add_company(small, board={"stale_after": "6 h"})
    issued(small, 6.5, key="one")
    assert board_of(small).site("one").state is SiteState.STALE
    issued(small, 5.5, key="one")
    assert board_of(small).site("one").state is SiteState.PLANNED


def test_hours_that_were_are_not_stale(small):
    issued(small, 300, kind="observed", key="one")
    assert board_of(small).site("one").state is not SiteState.STALE


def test_a_forecast_issued_after_now_is_a_fault(folder):
    issued(folder, -3)
    board = board_of(folder)
    named(board.faults, "two", "issued 3 h after now", "clock")
    assert board.site("two").state is SiteState.FAULT
    assert at_work(board) == {("Red", "one")}
    issued(folder, -0.5)  # clocks are not that exact
    assert board_of(folder).faults == ()


def test_weather_that_ends_before_now_is_a_fault(folder):
    text = folders.weather(3, first="2026-05-25T04:00Z", issued=NOW)
    (folder / "two" / "weather.csv").write_text(text)
    board = board_of(folder)
    named(board.faults, "two", "weather")
    assert board.site("two").state is SiteState.FAULT
    assert at_work(board) == {("Red", "one")}


# --- What is laid --------------------------------------------------------------------------------


def job_site(folder, **given):
    return folders.add_site(folder, "three", **({"rates": folders.RATES} | given))


LAID = [("A", "base", "2026-05-31 09:00", "2026-05-31 12:00")]


def test_weather_that_begins_after_a_laid_layer_is_a_fault(small):
    job_site(small, placed=[("A", "base", "2026-05-29 09:00", "2026-05-29 12:00")])
    board = board_of(small)
    named(board.faults, "three", "weather")
    assert at_work(board) & {("Red", "three")} == set()


def test_a_finished_job_is_no_work(folder):
    placed = [
        (section, layer, f"2026-05-{day} {hour}:00", f"2026-05-{day} {hour + 2}:00")
        for layer, day in (("base", 28), ("top", 29))
        for section, hour in (("A", 10), ("B", 13))
    ]
    (job_site(folder, placed=placed) / "weather.csv").unlink()  # nothing of it is asked
    board = board_of(folder)
    site = board.site("three")
    assert (site.state, site.laid, site.layers) == (SiteState.FINISHED, 4, 4)
    assert board.faults == ()
    assert all(each.site != "three" for each in (*board.undone, *board.deadlines))
    assert at_work(board) == {("Red", "one"), ("Red", "two")}


URETHANE = {
    "system": "urethane_two_part_aliphatic",
    "kind": "metal",
    "rates": {"primer": "100 m2/h", "base": "100 m2/h", "top": "100 m2/h"},
}
LATE = folders.local("2026-06-05 05:00")
TWO_LAID = [
    ("A", "primer", "2026-05-31 09:00", "2026-05-31 12:00"),
    ("A", "base", "2026-06-01 09:00", "2026-06-01 12:00"),
]


def test_an_overdue_layer_is_told_and_the_rest_is_planned(tmp_path):
    folders.folder_of(
        tmp_path, **URETHANE, placed=TWO_LAID, csv=folders.weather(14, issued=LATE)
    )
    board = board_of(tmp_path, now=LATE)
    assert board.faults == ()
    first = board.deadlines[0]
    assert (first.piece, first.layer_name, first.danger) == ("A", "base", Danger.OVERDUE)
    why = {(each.piece, each.layer): each.reason for each in board.undone}
    assert why["A", 2].startswith("the layer below is overdue: ")
    assert "prepared" in why["A", 2]
    assert {work[1] for work in folders.works_of(board)} <= {"B"}


def test_an_overdue_layer_leaves_none_above_untold(tmp_path):
    """A board tells of every layer that is not laid, once: check_board counts them."""
    folders.folder_of(
        tmp_path, **URETHANE, placed=TWO_LAID[:1], csv=folders.weather(16, issued=LATE)
    )
    now = folders.local("2026-06-12 05:00")
    csv = folders.weather(16, issued=now)
    (tmp_path / "one" / "weather.csv").write_text(csv)
    board = board_of(tmp_path, now=now)
    assert board.deadlines[0].danger is Danger.OVERDUE
    told = {(each.piece, each.layer) for each in board.undone if each.piece == "A"}
    assert told == {("A", 1), ("A", 2)}


# --- What crews cannot do ------------------------------------------------------------------------


def test_needs_that_nobody_brings_are_named(small):
    job_site(small, needs=["lift", "spray rig"])
    folders.add_company(small, [folders.RED | {"equipment": ["lift"]}])
    board = board_of(small)
    told = {each.reason for each in board.undone if each.site == "three"}
    assert "no crew brings what the job needs (lift, spray rig)" in told
    assert ("Red", "three") not in at_work(board)
    folders.add_company(small, [folders.RED | {"equipment": ["spray rig", "lift"]}])
    board = board_of(small)
    assert ("Red", "three") in at_work(board)


def test_a_chemistry_that_nobody_may_lay_is_named(small):
    folders.add_company(small, [folders.RED | {"skills": ["silicone"]}])
    board = board_of(small)
    assert board.assignments == ()
    told = {each.reason for each in board.undone}
    assert "no crew that brings what the job needs may lay acrylic" in told


PRIMED = {
    "system": "silicone_one_coat",
    "kind": "metal",
    "rates": {"primer": "100 m2/h", "top": "100 m2/h"},
    "placed": [("A", "primer", "2026-05-31 09:00", "2026-05-31 12:00")],
}


@pytest.mark.parametrize("site", [{}, {"placed": LAID}, PRIMED])
def test_odds_that_are_not_known_send_nobody(tmp_path, site):
    """Neither probabilities of rain nor runs nor years: nobody goes, whatever a deadline costs."""
    folders.folder_of(tmp_path, csv=folders.weather(rain_prob=None), **site)
    board = board_of(tmp_path)
    assert board.faults == ()
    assert board.assignments == ()
    told = {each.reason for each in board.undone} - {"the layer below it is not planned"}
    assert len(told) == 1
    assert told.pop().startswith("its odds are not known: ")
    assert {each.danger for each in board.deadlines} <= {Danger.NO_COVER, Danger.NOT_KNOWN}


def test_a_promise_does_not_make_odds_known(tmp_path):
    """A small section whose odds are gone is not laid, though a promise would cost more."""
    folders.folder_of(tmp_path, sections={"A": 30.0}, tables={"costs": {"promise": 1e5}})
    told = promise()
    assert folders.works_of(board_of(tmp_path, promises=(told,)))["one", "A", 0][0] == "Red"
    (tmp_path / "one" / "weather.csv").write_text(folders.weather(rain_prob=None))
    board = board_of(tmp_path, promises=(told,))
    assert board.assignments == ()
    assert [(each.piece, each.now) for each in board.moved] == [("A", "nobody")]


# --- Promises of sites of which nothing can be told ----------------------------------------------


def held(folder, file, text):
    """Return the board when a site has a fault after it was promised to the crew on Monday."""
    path = folder / "one" / file
    if text is None:
        path.unlink()
    else:
        path.write_text(text)
    told = promise("A"), promise("B", "2026-06-01 11:30", "2026-06-01 14:30")
    return board_of(folder, promises=told), told


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("weather.csv", None),
        ("weather.csv", folders.weather(issued=NOW - pd.Timedelta(hours=30))),
        ("job.toml", "system = ["),
        ("site.toml", "name = ["),
    ],
)
def test_a_promise_of_a_site_at_fault_stands_and_is_not_known(folder, file, text):
    """Nobody else is sent there, its crew nowhere else; whether to go is not known."""
    board, told = held(folder, file, text)
    assert board.moved == ()
    monday = [each for each in board.assignments if each.site == "one"]
    assert [(each.crew, each.day) for each in monday] == [("Red", date(2026, 6, 1))]
    assert monday[0].decision.verdict is Verdict.NOT_KNOWN
    assert [(w.placement.piece, w.placement.start) for w in monday[0].works] == [
        (each.piece, each.start) for each in told
    ]
    assert {work.chance.method for work in monday[0].works} == {Method.UNKNOWN}
    days = [each.day for each in board.assignments]
    assert len(set(days)) == len(days)


def test_a_promise_of_a_site_whose_folder_is_gone_is_told_as_moved(folder):
    for path in (folder / "one").iterdir():
        path.unlink()
    (folder / "one").rmdir()
    board = board_of(folder, promises=(promise(),))
    assert [(each.site, each.now) for each in board.moved] == [("one", "nobody")]
    assert at_work(board) == {("Red", "two")}


# --- Promises ------------------------------------------------------------------------------------


def promise(piece="A", start="2026-06-01 08:00", end="2026-06-01 11:00", **given):
    start, end = folders.local(start), folders.local(end)
    told = {
        "crew": "Red", "site": "one", "section": piece, "layer": 0, "layer_name": "base",
        "day": date(start.year, start.month, start.tz_convert(folders.ZONE).day),
        "area_m2": 300.0, "coating": "acrylic",
    }  # fmt: skip
    return Promise(piece=piece, start=start, end=end, **(told | given))


@pytest.mark.parametrize(
    "second",
    [
        promise("B", "2026-06-01 10:00", "2026-06-01 13:00"),
        promise("B", "2026-06-01 13:00", "2026-06-01 16:00", site="two"),
        promise("A", "2026-06-02 08:00", "2026-06-02 11:00"),
        promise("B", "2026-06-01 09:00", "2026-06-01 12:00", crew="Blue"),
    ],
)
def test_of_two_promises_that_clash_the_first_is_kept(loaded, second):
    both = Company.model_validate({"crew": [folders.RED, BLUE]})
    board = board_with(replace(loaded, company=both), promises=(second, promise()))
    named(board.faults, second.crew, "two promises cannot both be kept", "the first is kept")
    assert folders.works_of(board)["one", "A", 0][:2] == ("Red", date(2026, 6, 1))


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"crew": "Grey"}, "there is no crew 'Grey' in board.toml now"),
        ({"site": "gone"}, "the site cannot be planned now"),
        ({"piece": "Z"}, "the job has no such section any more"),
        ({"layer": 7}, "the system has no such layer any more"),
    ],
)
def test_a_promise_of_what_is_gone_is_told_as_moved(loaded, given, why):
    board = board_with(loaded, promises=(promise(**given),))
    assert [(each.was, each.why) for each in board.moved] == [
        (f"{given.get('crew', 'Red')}, Mon Jun 1", why)
    ]
    assert board.faults == ()


def test_a_promise_of_a_layer_that_is_laid_since_is_no_move_of_it(small):
    job_site(small, placed=LAID)
    board = board_of(small, promises=(promise(site="three"),))
    assert [each.why for each in board.moved] == ["it is laid"]


def test_promises_never_make_a_traceback(loaded, sweep):
    """Whatever an old board file says: other layers, times, days, names."""
    loaded = replace(loaded, jobs=loaded.jobs[:1])
    days = ("2026-05-20", "2026-05-31", "2026-06-01", "2026-06-02", "2026-06-09", "2026-07-30")
    changes = ({}, {"piece": "Z"}, {"site": "two"}, {"crew": "x"}, {"site": "x"})
    layers = (0, 1, 2, 9)
    cases = list(product(days, changes))
    for n in sweep(len(cases), every=3):
        day, given = cases[n]
        layer = layers[n % len(layers)]
        told = promise(start=f"{day} 04:00", end=f"{day} 08:00", layer=layer, **given)
        board = board_with(loaded, promises=(told,), seconds=1)
        assert len(board.moved) <= 1


def test_a_promise_under_way_of_a_layer_that_is_gone_is_no_traceback(small):
    """The section is finished, by a system of two layers; the old board had a third."""
    placed = [
        ("A", "base", "2026-05-31 04:30", "2026-05-31 07:00"),
        ("A", "top", "2026-05-31 16:00", "2026-05-31 18:00"),
    ]
    job_site(small, placed=placed)
    told = promise(start="2026-06-01 04:00", end="2026-06-01 08:00", site="three", layer=2)
    board = board_of(small, promises=(told,))
    assert {each.piece for each in board.undone if each.site == "three"} <= {"B"}


@pytest.mark.parametrize("given", [{"area_m2": 100.0}, {"coating": "tar"}, {"crew": "Grey"}])
def test_a_promise_under_way_is_told_as_the_job_is_now(loaded, given):
    """The section was made larger since, or its coating is another, or the crew is gone."""
    told = promise(start="2026-06-01 04:30", end="2026-06-01 07:30", **given)
    board = board_with(loaded, promises=(told,))
    works = [
        work.placement for each in board.assignments for work in each.works
        if (each.site, work.placement.piece, work.placement.layer) == ("one", "A", 0)
    ]  # fmt: skip
    left = [each for each in board.undone if (each.site, each.piece, each.layer) == ("one", "A", 0)]
    assert len(works) + len(left) == 1
    if "crew" not in given:
        assert [(each.area_m2, each.coating) for each in works] == [(300.0, "acrylic")]


def test_what_was_under_way_when_the_board_is_made_goes_on(folder):
    """Work that has begun is told as it was promised; it is neither moved nor undone."""
    told = (
        promise("A", "2026-06-01 07:30", "2026-06-01 10:30"),
        promise("B", "2026-06-01 11:00", "2026-06-01 14:00"),
    )
    now = folders.local("2026-06-01 09:00")
    board = board_of(folder, promises=told, now=now)
    works = folders.works_of(board)
    assert works["one", "A", 0] == ("Red", date(2026, 6, 1), told[0].start, told[0].end)
    assert ("one", "A", 0) not in {(each.site, each.piece, each.layer) for each in board.undone}
    assert all(each.piece != "A" or each.layer_name != "base" for each in board.moved)
    # Its crew stays: what it was promised for later that day is still its.
    assert works["one", "B", 0][:2] == ("Red", date(2026, 6, 1))


def test_work_that_ended_unrecorded_is_a_fault(small):
    told = promise("A", "2026-06-01 07:30", "2026-06-01 10:30")
    board = board_of(small, promises=(told,), now=folders.local("2026-06-01 12:00"))
    named(board.faults, "one", "is not recorded", "it is planned again", "dewgap log place")


def test_odds_of_every_kind_are_told(loaded):
    methods = {
        work.chance.method for each in board_with(loaded).assignments for work in each.works
    }
    assert methods
    assert Method.UNKNOWN not in methods


def test_a_slip_in_the_company_file_calls_nothing_off(tmp_path):
    """The file of the evening is read again when it is mended."""
    folders.folder_of(tmp_path)
    loaded = folders.board_of(tmp_path)[1]
    assert loaded.crews_known
    text = (tmp_path / "board.toml").read_text()
    (tmp_path / "board.toml").write_text(text + "\n[[crew]]\nname = 'Blue'\nskills = 3\n")
    assert not folders.board_of(tmp_path)[1].crews_known
    (tmp_path / "board.toml").write_text(text + "bad = [\n")
    board, loaded = folders.board_of(tmp_path)
    assert not loaded.crews_known
    assert board.crews == ()
    (tmp_path / "board.toml").write_text(text + "\n[[crew]]\nname = 'Red'\n")  # told, not lost
    assert folders.board_of(tmp_path)[1].crews_known


def test_hours_that_were_are_no_forecast(tmp_path):
    for kind in ("typical", "observed", "reanalysis"):
        csv = f"# kind: {kind}\n" + folders.weather()
        (tmp_path / kind).mkdir()
        folders.folder_of(tmp_path / kind, csv=csv)
        board, _ = folders.board_of(tmp_path / kind)
        assert board.assignments == ()
        assert any("not a forecast" in fault.text for fault in board.faults), kind

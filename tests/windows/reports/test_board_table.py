"""The tables of the evening board as texts."""

from dataclasses import replace

import board_cases as cases
import pandas as pd
import pytest

from windows.board.result import BoardProof, SiteState
from windows.decision import Verdict
from windows.found import Tightest
from windows.odds.chance import Chance, Method
from windows.reports import board_table as tables
from windows.reports.wording import Wording

WORDS = Wording("us", cases.EAST)
DAY = cases.FIRST_DAY


@pytest.fixture(scope="module")
def board():
    return cases.rich()


def test_the_evening_is_on_the_clock_of_most_sites(board):
    told = tables.evening(board)
    assert told == "Thu May 7 2026, 18:30 EDT; every other time is on the clock of its site"
    east = tuple(each for each in board.sites if each.zone == cases.EAST)
    assert tables.evening(replace(board, sites=east)) == "Thu May 7 2026, 18:30 EDT"
    assert tables.evening(cases.empty()) == "Thu May 7 2026, 22:30 UTC"


def test_a_site_that_is_not_read_has_no_clock(board):
    only = replace(board, sites=(board.sites[1], board.sites[4], board.sites[4]))
    assert only.sites[1].state is SiteState.FAULT
    assert tables.board_zone(only) == cases.MOUNTAIN
    assert ";" not in tables.evening(only)


def test_the_summary_tells_area_and_proof(board):
    assert tables.summary(board, "si") == (
        "5 sites, 3 crews, 10 visits; 2,520 of 3,900 m² planned is expected to hold (65%); "
        "at most 2.6% from the best plan, found in 18.2 s."
    )
    assert tables.summary(cases.empty(), "us") == "0 sites, 0 crews, 0 visits; no plan was sought."


@pytest.mark.parametrize(
    ("proof", "told"),
    [
        (BoardProof(10, 10, True, 1.0), "proved the best plan in 1.0 s"),
        (BoardProof(8, 10, False, 1.0), "at most 20.0% from the best plan, found in 1.0 s"),
        (BoardProof(0, 0, False, 1.0), "not proved the best plan in 1.0 s"),
    ],
)
def test_the_proof(board, proof, told):
    assert tables.proof_told(replace(board, proof=proof)) == told


def test_visits_stand_by_day_and_by_the_order_of_crews(board):
    rows = tables.assignment_rows(board, "us")
    assert all(len(row) == len(tables.ASSIGNMENT_COLUMNS) for row in rows)
    assert [row[:2] for row in rows[:3]] == [
        ["Fri May 8", crew.name] for crew in board.crews
    ]  # fmt: skip
    assert rows[0] == [
        "Fri May 8", cases.NASTY_CREW, cases.NASTY, "07:30-15:30",
        "1 base on North <1> 1, North <1> 2", "70% (64% to 76%, probability of the period)",
        "surface above dew point, least: 5.2°F to spare; "
        "wind while spraying, most: 2.9 mph to spare",
        "GO, all of it, until 15:30", "Thu May 7 17:00, has passed", "partly new",
    ]  # fmt: skip
    mesa = next(row for row in rows if row[2] == "Mesa school, gym")
    assert mesa[3] == "07:30-15:30"  # on the site's own clock
    told = {row[7] for row in rows}
    assert told == {
        "GO, all of it, until 15:30", "GO, STOP at 12:15", "WAIT",
        "CLOSE CALL, leans to go until 14:00", "NO", "NOT KNOWN; STALE weather", "under way",
        "GO, all of it, until 15:30; STALE weather",
    }  # fmt: skip


def test_every_crew_has_a_visit_or_a_reason_each_day(board):
    idle = tables.idle_rows(board)
    assert len(idle) + len(board.assignments) == len(board.crews) * len(board.days)
    assert ["Mon May 11", cases.NASTY_CREW, "rain on every site that it may work on"] in idle
    silent = replace(board, crews=tuple(replace(crew, idle={}) for crew in board.crews))
    assert {row[2] for row in tables.idle_rows(silent)} == {"no reason is known"}


def test_deadlines_tell_how_far_off_they_are(board):
    rows = tables.deadline_rows(board, "us")
    assert rows[0] == [
        "overdue", "Cold store", "Bay 3, base", "Wed May 6 15:00, 27.5 h ago", "none", "nobody",
        "-",
    ]  # fmt: skip
    assert rows[1][3] == "Sat May 9 12:00, in 43.5 h"  # in Denver
    assert rows[2][3] == "not known"
    assert rows[5][2] == "North <1> 1, base (planned)"
    assert tables.deadline_rows(board, "us", board.deadlines[6:]) == rows[6:]


def test_the_other_tables(board):
    assert tables.undone_rows(board)[0] == [
        cases.NASTY, "North <1> 2, 2 top", "no hours left once the base bears a crew",
    ]  # fmt: skip
    assert [row[1] for row in tables.site_rows(board)] == [
        "planned", "planned", "STALE: forecast too old", "finished", "fault",
    ]  # fmt: skip
    assert [row[0] for row in tables.moved_rows(board)] == ["Mesa school, gym", "gone"]
    assert tables.fault_lines(board)[1].startswith("crews.toml: crew 'Borja'")
    for rows, columns in (
        (tables.undone_rows(board), tables.UNDONE_COLUMNS),
        (tables.site_rows(board), tables.SITE_COLUMNS),
        (tables.moved_rows(board), tables.MOVED_COLUMNS),
        (tables.deadline_rows(board, "us"), tables.DEADLINE_COLUMNS),
        (tables.idle_rows(board), tables.IDLE_COLUMNS),
    ):
        assert {len(row) for row in rows} == {len(columns)}


def test_old_weather_is_told_whatever_the_state(board):
    stale = replace(board, sites=(replace(board.sites[0], stale=True),))
    assert tables.site_rows(stale)[0][1] == "planned; STALE weather"


def test_names_that_come_twice_have_their_key_beside_them(board):
    twin = replace(board.sites[1], name=cases.NASTY)
    names = tables.site_names(replace(board, sites=(board.sites[0], twin, board.sites[2])))
    assert names == {
        "depot": f"{cases.NASTY} (depot)", "mesa": f"{cases.NASTY} (mesa)", "yard": "Cold store",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("chance", "told"),
    [
        (Chance(0.81, 0.88, 0.93, Method.MEMBERS), "88% (81% to 93%, share of forecast runs)"),
        (Chance(0.31, None, 0.9, Method.BOUNDS), "31% to 90% (bounds only)"),
        (Chance(0.0, None, 1.0, Method.UNKNOWN), "not known"),
        (
            Chance(0.001, 0.996, 1.0, Method.CHAIN),
            "over 99% (under 1% to over 99%, wet-hour chain)",
        ),
    ],
)
def test_chances_are_never_rounded_to_certainty(chance, told):
    assert tables.chance_told(chance) == told


def test_the_least_chance_is_the_careful_one():
    works = [
        cases.work("A", 0, DAY, 8, 10, chance) for chance in (cases.CHANCES[4], cases.CHANCES[3])
    ]
    assert tables.least_chance(works) == cases.CHANCES[3]
    works.append(cases.work("B", 0, DAY, 8, 10, cases.CHANCES[5]))
    assert tables.least_chance(works) == cases.CHANCES[5]


def test_of_each_gate_the_least_margin_is_told():
    gate = cases.GATES["spread_min"]
    works = [
        cases.work("A", 0, DAY, 8, 10, cases.CHANCES[0], tightest=tight)
        for tight in (replace(cases.TIGHT[0], margin=4.0), None, replace(cases.TIGHT[0], margin=1))
    ]
    assert [each.tightest.margin for each in tables.worst_gates(works)] == [1]
    assert tables.tightest_told(works, WORDS).startswith(f"{gate.rule.label}: ")
    assert tables.tightest_told(works[1:2], WORDS) == "none"


def test_layers_are_told_in_the_order_of_work():
    works = [
        cases.work(piece, layer, DAY, 8, 10, cases.CHANCES[0], promised=True)
        for piece, layer in (("A", 1), ("B", 0), ("C", 1))
    ]
    assert tables.layers_told(works) == "2 top on A, C; 1 base on B"
    assert tables.promise_told(works) == "kept"
    assert tables.promise_told([replace(works[0], promised=False)]) == "new"


@pytest.mark.parametrize("verdict", list(Verdict))
def test_a_stop_time_goes_only_with_a_go(verdict):
    stop = pd.Timestamp("2026-05-08T16:00Z")
    decided = replace(cases.decision(verdict, DAY), stop_at=stop)
    timed = tables.verdict_told(decided, WORDS).endswith(" 12:00")
    assert timed == (verdict in (Verdict.GO, Verdict.GO_UNTIL, Verdict.CLOSE_CALL))


def test_every_verdict_has_its_own_words_and_a_close_call_its_lean():
    stop = pd.Timestamp("2026-05-08T16:00Z")

    def told(verdict, stop_at=stop):
        return tables.verdict_told(replace(cases.decision(verdict, DAY), stop_at=stop_at), WORDS)

    assert len({told(verdict) for verdict in Verdict}) == len(Verdict)
    assert told(Verdict.GO) == "GO, all of it, until 12:00"
    assert told(Verdict.GO_UNTIL) == "GO, STOP at 12:00"
    assert told(Verdict.CLOSE_CALL) == "CLOSE CALL, leans to go until 12:00"
    assert told(Verdict.CLOSE_CALL, None) == "CLOSE CALL, leans to wait"
    assert tables.verdict_told(None, WORDS) == "under way"


def test_a_time_to_call_off_is_told_until_it_has_passed():
    decided = cases.decision(Verdict.GO, DAY)  # by Thu May 7 17:00
    by = decided.decide_by
    hour = pd.Timedelta(hours=1)
    for now in (by - 24 * hour, by - hour, by):
        assert tables.call_off_told(decided, now, WORDS) == "Decide by Thu May 7 17:00"
    late = tables.call_off_told(decided, by + hour, WORDS)
    assert late == "Time to call off (Thu May 7 17:00) has passed"


def test_the_last_moment_to_decide_stands_in_its_column(board):
    column = tables.ASSIGNMENT_COLUMNS.index("decide by")
    told = {row[0]: row[column] for row in tables.assignment_rows(board, "us")}
    assert told["Fri May 8"] == "Thu May 7 17:00, has passed"
    assert told["Sat May 9"] == "Fri May 8 17:00"
    assert told["Wed May 13"] == "-"


def test_margins_of_shares_are_points_and_gates_have_their_labels():
    gate = cases.GATES["humidity_max"]
    told = [tables.margin_told(Tightest(gate, margin), WORDS) for margin in (0.2, 0.01, 0.001)]
    spare = ("20 points", "1 point", "under 1 point")
    assert told == [f"relative humidity, most: {each} to spare" for each in spare]
    assert tables.margin_told(None, WORDS) == "none"
    assert tables.margin_told(cases.TIGHT[1], WORDS).endswith("least: 7.4°F to spare")


def test_areas_have_thousands():
    assert tables.area_told(8_000.0, WORDS) == "86,111 ft²"
    assert tables.area_told(80.0, Wording("si", cases.EAST)) == "80 m²"


def test_an_outlook_counts_its_years(board):
    told = tables.outlook_told(board.sites[0].outlook[0])
    assert told == "Thu May 14: workable 40% of like days in 30 years"

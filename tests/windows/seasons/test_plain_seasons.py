"""The plain reference for seasons against small cases that are worked by hand."""

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import plain_seasons as plain
import pytest

DAY = timedelta(days=1)
OK, UNKNOWN, BLOCKED = "OK", "UNKNOWN", "BLOCKED"


# --- days, months, years --------------------------------------------------------------------------


def rows(count):
    begin = datetime(2026, 6, 1, tzinfo=UTC)
    return [begin + k * timedelta(hours=1) for k in range(count)]


def states_of(letters):
    return [{"o": OK, "?": UNKNOWN, "x": BLOCKED}[letter] for letter in letters]


def test_a_day_is_workable_by_its_longest_run_inside_its_shift():
    first, second = date(2026, 6, 1), date(2026, 6, 2)
    shifts = [first] * 5 + [None] * 2 + [second] * 5
    #                     first    off   second
    states = states_of("oo?ox" + "oo" + "xooo?")
    told = plain.workable(rows(12), shifts, states, min_window=3)
    # First: valid 0, 1, 3, at most two in a row. Second: three in a row. One unknown in each.
    assert told == {
        first: {"crew_h": 5, "known_h": 4, "valid_h": 3, "workable": False},
        second: {"crew_h": 5, "known_h": 4, "valid_h": 3, "workable": True},
    }


def test_a_window_is_whole_hours_and_stays_inside_one_shift():
    shifts = [date(2026, 6, 1)] * 2 + [date(2026, 6, 2)] * 2  # night shifts that follow each other
    told = plain.workable(rows(4), shifts, states_of("oooo"), min_window=2.5)
    assert [day["workable"] for day in told.values()] == [False, False]  # 2.5 h are 3 hours
    told = plain.workable(rows(4), shifts, states_of("oooo"), min_window=2)
    assert [day["workable"] for day in told.values()] == [True, True]


def hours_of(crew, known, valid=0, workable=False):
    return {"crew_h": crew, "known_h": known, "valid_h": valid, "workable": workable}


def test_a_month_counts_at_nine_tenths_of_its_crew_hours():
    calendar = {date(2026, 6, day): 10 for day in range(1, 11)}  # 100 h
    known = {date(2026, 6, day): hours_of(10, 10, 4, day % 2 == 0) for day in range(1, 10)}
    told = plain.months(known, calendar)  # the tenth day is outside of the table: 90 h
    assert told == {
        (2026, 6): {"crew_h": 100, "known_h": 90, "valid_h": 36, "workable_days": 4, "counts": True}
    }
    known[date(2026, 6, 9)] = hours_of(10, 9, 9, True)
    assert not plain.months(known, calendar)[2026, 6]["counts"]  # 89 h


def test_a_week_belongs_to_its_iso_year():
    # Thursday 31 December 2020 and Friday 1 January 2021 are of week 53 of 2020.
    days = [date(2020, 12, 31), date(2021, 1, 1), date(2021, 1, 4)]
    told = plain.weeks({day: hours_of(8, 8, 8, True) for day in days}, dict.fromkeys(days, 8))
    assert {week: total["workable_days"] for week, total in told.items()} == {
        (2020, 53): 2,
        (2021, 1): 1,
    }


def test_pxx_is_a_value_of_one_year_without_interpolation():
    assert plain.inverse_cdf([10, 9, 8, 7, 6, 5, 4, 3, 2, 1], 0.8) == 8  # "the eighth smallest"
    assert plain.inverse_cdf(range(1, 11), 0.2) == 2  # 0.2 as a float is above 1/5
    assert plain.inverse_cdf([1, 2, 3, 4, 5], Fraction(4, 5)) == 4
    assert plain.inverse_cdf([1, 2, 3, 4, 5, 6], Fraction(4, 5)) == 5  # 4 of 6 are too few
    assert plain.inverse_cdf([1, 1, 1, 5], 0.5) == 1
    assert plain.inverse_cdf([1, 1, 1, 5], 0.8) == 5
    assert plain.inverse_cdf([], 0.5) is None
    told = plain.over_years([3, 1, 2, 4])
    assert told == {"mean": Fraction(5, 2), "P20": 1, "P50": 2, "P80": 4}


# --- season years ---------------------------------------------------------------------------------


def season(first, last, good):
    """Every day from first to last scheduled, workable where `good` says so."""
    return {first + k * DAY: (True, good(first + k * DAY)) for k in range((last - first).days + 1)}


def year_2025(good):
    return season(date(2025, 1, 1), date(2025, 12, 31), good)


def test_a_lone_good_day_in_winter_is_not_practical():
    days = year_2025(
        lambda day: 3 <= day.month <= 10 or day in (date(2025, 1, 10), date(2025, 12, 20))
    )
    assert plain.practical(days, "north") == {2025: (date(2025, 3, 1), date(2025, 10, 31))}


def test_half_of_the_scheduled_days_is_enough():
    # Every second day from 1 April (day 91 of the year): 14 of 28. Back from the last one, 30
    # September (day 273): 14 of 28 as well.
    def odd(day):
        return 91 <= day.timetuple().tm_yday <= 273 and day.timetuple().tm_yday % 2 == 1

    assert plain.practical(year_2025(odd), "north") == {2025: (date(2025, 4, 1), date(2025, 9, 30))}
    # Without the 27th it is 13 of 28 from 1 April on, and so from each day whose stretch holds the
    # 27th. The first workable day after it is the 29th.
    bad = year_2025(lambda day: odd(day) and day != date(2025, 4, 27))
    assert plain.practical(bad, "north")[2025][0] == date(2025, 4, 29)
    # If it was no scheduled day at all, it is 13 of 27 from the 1st on, still less than half; with
    # the 28th off too it is 13 of 26.
    bad[date(2025, 4, 27)] = (False, False)
    assert plain.practical(bad, "north")[2025][0] == date(2025, 4, 29)
    bad[date(2025, 4, 28)] = (False, False)
    assert plain.practical(bad, "north")[2025][0] == date(2025, 4, 1)


def test_both_stretches_lie_wholly_inside_the_year():
    # From 10 December 28 days reach into January. 28 days that end on 31 December begin on the 4th:
    # 22 of them are workable; those that end on the 30th hold 21, and so on.
    days = year_2025(lambda day: day >= date(2025, 12, 10))
    assert plain.practical(days, "north") == {2025: (None, date(2025, 12, 31))}
    # 28 days that end on 20 January or before begin in December.
    days = year_2025(lambda day: day <= date(2025, 1, 20))
    assert plain.practical(days, "north") == {2025: (date(2025, 1, 1), None)}
    assert plain.practical(year_2025(lambda day: False), "north") == {2025: (None, None)}


def test_a_southern_year_runs_from_july():
    begin, end = date(2024, 7, 1), date(2025, 6, 30)
    days = season(begin, end, lambda day: date(2024, 10, 1) <= day <= date(2025, 3, 31))
    assert plain.practical(days, "south") == {2024: (date(2024, 10, 1), date(2025, 3, 31))}
    twelve = {(day.year, day.month) for day in days}
    assert set(plain.practical(days, "south", twelve)) == {2024}
    assert plain.practical(days, "south", twelve - {(2025, 2)}) == {}


# --- the steady crew ------------------------------------------------------------------------------
# The crew works from 07:00 to 17:00 each day; with set-up and clean-up it lays from 07:30 to 16:30.


def at(day, hour):
    return 48 * day + round(2 * hour)


def shifts_of(days, first=7, last=16):
    return [k // 24 if first <= k % 24 <= last else None for k in range(24 * days)]


def layer(days, opens=12, due=None, must=False, same_shift=False, bad=lambda day, hour: False):
    """Opens so many hours after its last touched hour, due so many after its first one began."""
    n = 24 * days
    return {
        "states": [BLOCKED if bad(k // 24, k % 24) else OK for k in range(n)],
        "opens": [float(k + 1 + opens) if k + 1 + opens <= n else None for k in range(n)],
        "due": [None if due is None else float(k + due) for k in range(n)],
        "must": must,
        "same_shift": same_shift,
    }


def piece(name, *hours, area=100, over=()):
    return {"name": name, "area": area, "hours": list(hours), "over": list(over)}


def run(layers, pieces, look_ahead=True, begin=0, cap=None, **more):
    days = len(layers[0]["states"]) // 24
    crew = {"set_up": 0.5, "clean_up": 0.5, "move": 0.5, "open_area": cap}
    return plain.steady(layers, pieces, crew, shifts_of(days), begin, look_ahead, **more)


def test_two_coats_on_two_days():
    # 07:30-10:30 touches the hours up to 11:00; + 12 h is 23:00. The top goes on the next morning.
    told = run([layer(2), layer(2)], [piece("A", 3, 3)])
    assert told == {
        "placements": [("A", 0, at(0, 7.5), at(0, 10.5)), ("A", 1, at(1, 7.5), at(1, 10.5))],
        "finish": at(1, 10.5),
        "crew_days": 2,
        "stranded": 0,
        "finish_day": None,
        "over_winter": None,
    }


def test_nothing_is_laid_before_the_case_begins():
    told = run([layer(2)], [piece("A", 3)], begin=24 + 7)
    assert told["placements"] == [("A", 0, at(1, 7.5), at(1, 10.5))]


@pytest.mark.parametrize(
    ("hours", "ends"), [(9, 16.5), (1.2, 9), (0.01, 8), (0.5 + 1e-12, 8), (0, 8)]
)
def test_work_is_whole_half_hours(hours, ends):
    told = run([layer(1)], [piece("A", hours)])
    assert told["placements"] == [("A", 0, at(0, 7.5), at(0, ends))]


def test_work_that_no_shift_holds_is_never_done():
    told = run([layer(3)], [piece("A", 9.5)])
    assert (told["placements"], told["finish"], told["crew_days"]) == ([], None, 0)


def test_unknown_is_not_valid_and_a_touched_hour_counts_whole():
    top = layer(1)
    top["states"][9] = UNKNOWN
    # 07:30-09:00 ends before it; 07:30-09:30 touches it, so it waits for 10:00.
    assert run([top], [piece("A", 1.5)])["placements"] == [("A", 0, at(0, 7.5), at(0, 9))]
    assert run([top], [piece("A", 2)])["placements"] == [("A", 0, at(0, 10), at(0, 12))]


def test_of_equal_new_pieces_the_first_in_the_list_and_a_move_between():
    told = run([layer(1)], [piece("A", 2), piece("B", 2)])
    assert told["placements"] == [
        ("A", 0, at(0, 7.5), at(0, 9.5)),
        ("B", 0, at(0, 10), at(0, 12)),
    ]


def test_a_new_piece_that_can_start_earlier_goes_first():
    # The hour from 09:00 is blocked: five hours fit from 10:00 on, one hour from 07:30 on.
    told = run([layer(1, bad=lambda day, hour: hour == 9)], [piece("A", 5), piece("B", 1)])
    assert told["placements"] == [
        ("B", 0, at(0, 7.5), at(0, 8.5)),
        ("A", 0, at(0, 10), at(0, 15)),
    ]


def test_what_was_begun_longest_ago_goes_first_though_a_new_piece_could_start_earlier():
    # A top can be laid from 11:00 on. C waits at 07:30 on days 1 and 2, A and B were begun.
    layers = [layer(5), layer(5, bad=lambda day, hour: hour < 11)]
    told = run(layers, [piece("A", 3, 3), piece("B", 3, 3), piece("C", 3, 3)])
    assert told["placements"] == [
        ("A", 0, at(0, 7.5), at(0, 10.5)),
        ("B", 0, at(0, 11), at(0, 14)),  # C would end at 17:30
        ("A", 1, at(1, 11), at(1, 14)),
        ("B", 1, at(2, 11), at(2, 14)),
        ("C", 0, at(3, 7.5), at(3, 10.5)),
        ("C", 1, at(4, 11), at(4, 14)),
    ]
    assert (told["finish"], told["crew_days"]) == (at(4, 14), 5)


def test_what_was_begun_longest_ago_goes_first_though_another_begun_one_could_start_earlier():
    # Day 1, 09:00 is blocked for tops: A's five hours fit from 10:00 on, B's hour from 07:30 on.
    layers = [layer(2), layer(2, bad=lambda day, hour: (day, hour) == (1, 9))]
    told = run(layers, [piece("A", 3, 5), piece("B", 3, 1)])
    assert told["placements"][2:] == [
        ("A", 1, at(1, 10), at(1, 15)),
        ("B", 1, at(1, 15.5), at(1, 16.5)),
    ]


def test_a_new_piece_is_begun_in_a_shift_in_which_nothing_begun_can_go_on():
    # No top on day 1. Two times five hours do not fit in a shift.
    layers = [layer(4), layer(4, bad=lambda day, hour: day == 1)]
    told = run(layers, [piece("A", 5, 5), piece("B", 5, 5)])
    assert [(name, i, start) for name, i, start, _ in told["placements"]] == [
        ("A", 0, at(0, 7.5)),
        ("B", 0, at(1, 7.5)),
        ("A", 1, at(2, 7.5)),
        ("B", 1, at(3, 7.5)),
    ]


def test_a_move_lies_between_two_layers_of_one_piece_as_well():
    # 07:30-09:00 opens at 09:00, but the crew moves until 09:30.
    told = run([layer(1, opens=0), layer(1)], [piece("A", 1.5, 1)])
    assert told["placements"][1] == ("A", 1, at(0, 9.5), at(0, 10.5))


def test_an_opening_inside_a_half_hour_waits_for_its_end():
    # 07:30-09:00 opens at 09:00 + 2.2 h = 11:12.
    told = run([layer(1, opens=2.2), layer(1)], [piece("A", 1.5, 1)])
    assert told["placements"][1] == ("A", 1, at(0, 11.5), at(0, 12.5))


def test_a_layer_is_not_laid_whose_opening_is_not_known():
    base = layer(3)
    base["opens"] = [None] * 72
    told = run([base, layer(3)], [piece("A", 3, 3)])
    assert (told["finish"], told["placements"], told["stranded"]) == (None, [], 0)


@pytest.mark.parametrize("look_ahead", [True, False])
def test_a_pair_is_laid_in_one_shift_whoever_looks_ahead(look_ahead):
    # Foam 07:30-09:30 touches the hours up to 10:00, opens at 11:00; its coat 11:00-13:00. B could
    # be foamed at 10:00 meanwhile, but the pair comes first. B's foam 13:30-15:30 would open at
    # 17:00, so it is left for the next day.
    layers = [layer(2, opens=1, same_shift=True), layer(2)]
    told = run(layers, [piece("A", 2, 2), piece("B", 2, 2)], look_ahead)
    assert told["placements"] == [
        ("A", 0, at(0, 7.5), at(0, 9.5)),
        ("A", 1, at(0, 11), at(0, 13)),
        ("B", 0, at(1, 7.5), at(1, 9.5)),
        ("B", 1, at(1, 11), at(1, 13)),
    ]
    assert (told["finish"], told["crew_days"], told["stranded"]) == (at(1, 13), 2, 0)


@pytest.mark.parametrize("look_ahead", [True, False])
def test_no_foam_where_its_coat_cannot_follow(look_ahead):
    # On day 0 the coat is blocked from noon on; coats fit 11:00-12:00 only. Foam of three hours
    # opens at 11 + 1 = 12:00 at the earliest, so day 1.
    bad = layer(2, bad=lambda day, hour: day == 0 and hour >= 12)
    told = run([layer(2, opens=1, same_shift=True), bad], [piece("A", 3, 1)], look_ahead)
    assert [start for _, _, start, _ in told["placements"]] == [at(1, 7.5), at(1, 12)]


def test_a_pair_is_not_begun_where_only_the_move_is_in_its_way():
    # Foam 07:30-09:00 opens at 09:00. With the move its coat can start at 09:30: seven hours fit.
    layers = [layer(1, opens=0, same_shift=True), layer(1)]
    assert run(layers, [piece("A", 1.5, 7)])["finish"] == at(0, 16.5)
    assert run(layers, [piece("A", 1.5, 7.5)])["placements"] == []


def test_a_pair_is_followed_before_a_piece_that_was_begun_longer_ago():
    # On day 1 the second layer can be laid from 07:00 to 09:00: B's hour, not A's three. On day 2
    # the cap keeps A from its second layer while B's lies bare. B's foam, 07:30-08:30, covers that,
    # so A could go on at 09:00; but B's coat comes first, once the foam is open at 10:00.
    layers = [
        layer(5),
        layer(5, must=True, bad=lambda day, hour: day == 1 and hour > 8),
        layer(5, opens=1, same_shift=True),
        layer(5),
    ]
    told = run(layers, [piece("A", 0.5, 3, 1, 1), piece("B", 0.5, 1, 1, 1)], cap=100)
    assert [(name, i, start) for name, i, start, _ in told["placements"]] == [
        ("A", 0, at(0, 7.5)),
        ("B", 0, at(0, 8.5)),
        ("B", 1, at(1, 7.5)),
        ("B", 2, at(2, 7.5)),
        ("B", 3, at(2, 10)),
        ("A", 1, at(2, 11.5)),
        ("A", 2, at(3, 7.5)),
        ("A", 3, at(3, 10)),
    ]


def test_who_looks_ahead_lays_no_base_that_cannot_be_covered_in_time():
    # Due 34 h after the start of the first hour. A base from 07:30 on day 0 is due on day 1 at
    # 17:00, one from 13:30, the last start, at 23:00; no top can be laid on day 1. From 07:30 on
    # day 1 it is due on day 2 at 17:00.
    layers = [layer(4, due=34, must=True), layer(4, bad=lambda day, hour: day == 1)]
    told = run(layers, [piece("A", 3, 3)])
    assert [start for _, _, start, _ in told["placements"]] == [at(1, 7.5), at(2, 7.5)]
    assert told["stranded"] == 0
    # Who does not look ahead covers late: one layer is stranded. The finish is the same.
    blind = run(layers, [piece("A", 3, 3)], look_ahead=False)
    assert [start for _, _, start, _ in blind["placements"]] == [at(0, 7.5), at(2, 7.5)]
    assert (blind["stranded"], blind["finish"]) == (1, told["finish"])


def test_the_deadline_is_that_of_the_end_of_the_last_hour():
    # The top of day 1 ends at 10:30, its last hour at 11:00, row 35 of the table. A base from 07:30
    # that is due after 28 h (7 + 28 = 35) is just in time.
    pieces = [piece("A", 3, 3)]
    told = run([layer(2, due=28), layer(2)], pieces)
    assert [start for _, _, start, _ in told["placements"]] == [at(0, 7.5), at(1, 7.5)]
    # 7 + 27.7 is not; a base from 08:00 is due at 8 + 27.7 = 35.7. That holds as its deadline lies
    # in the data, though it need not be covered.
    told = run([layer(2, due=27.7), layer(2)], pieces)
    assert [start for _, _, start, _ in told["placements"]] == [at(0, 8), at(1, 7.5)]
    blind = run([layer(2, due=27.7), layer(2)], pieces, look_ahead=False)
    assert [start for _, _, start, _ in blind["placements"]] == [at(0, 7.5), at(1, 7.5)]
    assert (told["stranded"], blind["stranded"]) == (0, 1)


def test_a_start_in_time_goes_on_to_the_last_layer():
    # Nine hours: one layer a day, 07:30-16:30. The base is due 48 h after 07:00, so the middle goes
    # on the day after; that is due after 34 h, so the top goes on the day after that. No top can be
    # laid on day 2: a base on day 0 has a middle in time on day 1, but that has no top in time.
    layers = [
        layer(5, due=48, must=True),
        layer(5, due=34, must=True),
        layer(5, bad=lambda day, hour: day == 2),
    ]
    told = run(layers, [piece("A", 9, 9, 9)])
    assert [start for _, _, start, _ in told["placements"]] == [at(day, 7.5) for day in (1, 2, 3)]
    blind = run(layers, [piece("A", 9, 9, 9)], look_ahead=False)
    assert [start for _, _, start, _ in blind["placements"]] == [at(day, 7.5) for day in (0, 1, 3)]
    assert (told["stranded"], blind["stranded"]) == (0, 1)


def test_it_does_not_foresee_that_it_may_be_busy():
    # A's base from 07:30 is due on day 1 at 17:00 (7 + 34 = 41), B's from 13:00 at 23:00. Either
    # top, five hours, alone would fit on day 1; both do not. B is covered late, on day 2.
    layers = [layer(3, due=34, must=True), layer(3)]
    told = run(layers, [piece("A", 5, 5), piece("B", 3, 5)])
    assert told["placements"] == [
        ("A", 0, at(0, 7.5), at(0, 12.5)),
        ("B", 0, at(0, 13), at(0, 16)),
        ("A", 1, at(1, 7.5), at(1, 12.5)),
        ("B", 1, at(2, 7.5), at(2, 12.5)),
    ]
    assert told["stranded"] == 1


def test_what_must_be_covered_is_not_laid_where_the_data_end_first():
    pieces = [piece("A", 3, 3)]
    assert run([layer(1, must=True), layer(1)], pieces)["placements"] == []
    blind = run([layer(1, must=True), layer(1)], pieces, look_ahead=False)
    assert blind["placements"] == [("A", 0, at(0, 7.5), at(0, 10.5))]
    assert (blind["finish"], blind["stranded"]) == (None, 0)


@pytest.mark.parametrize(("due", "stranded"), [(12, 1), (17, 1), (17.2, 0), (18, 0)])
def test_a_deadline_that_passes_in_the_data_strands_the_layer(due, stranded):
    # The base of 07:30 is due at 7 + due; the data end at 24.
    blind = run([layer(1, due=due), layer(1)], [piece("A", 3, 3)], look_ahead=False)
    assert blind["stranded"] == stranded


def test_a_deadline_after_the_data_binds_nobody():
    # Begun in the hour from 07:00 it is due at 24, the end of the data; in that from 08:00, later.
    told = run([layer(1, due=17), layer(1)], [piece("A", 3, 3)])
    assert told["placements"] == [("A", 0, at(0, 8), at(0, 11))]
    assert told["stranded"] == 0


def test_bare_area_stays_under_its_cap():
    layers = [layer(3, must=True), layer(3)]
    pieces = [piece(name, 2, 2) for name in "ABC"]
    told = run(layers, pieces, cap=200)
    assert told["placements"] == [
        ("A", 0, at(0, 7.5), at(0, 9.5)),
        ("B", 0, at(0, 10), at(0, 12)),  # C would fit 12:30-14:30, but 300 > 200
        ("A", 1, at(1, 7.5), at(1, 9.5)),
        ("B", 1, at(1, 10), at(1, 12)),
        ("C", 0, at(1, 12.5), at(1, 14.5)),
        ("C", 1, at(2, 7.5), at(2, 9.5)),
    ]
    assert run(layers, pieces, cap=300)["finish"] == at(1, 14.5)
    assert run(layers, pieces, cap=99)["placements"] == []
    # A base that need not be covered is not bare, nor is a last layer, which nothing covers.
    assert run([layer(3), layer(3, must=True)], pieces, cap=99)["finish"] == at(1, 14.5)
    # A piece that lies bare already is not counted twice.
    layers = [layer(3, must=True), layer(3, must=True), layer(3)]
    assert run(layers, [piece("A", 2, 2, 2)], cap=100)["finish"] == at(2, 9.5)


def test_a_pair_is_not_begun_where_its_second_layer_would_break_the_cap():
    # Foam 07:30-08:30 opens at 9 + 1 = 10:00, base 10:00-11:00. B's foam at 11:30 is not bare, but
    # its base would be, beside that of A: it waits until A has its top.
    layers = [layer(3, opens=1, same_shift=True), layer(3, must=True), layer(3)]
    told = run(layers, [piece("A", 1, 1, 1), piece("B", 1, 1, 1)], cap=100)
    assert [(name, i, start) for name, i, start, _ in told["placements"]] == [
        ("A", 0, at(0, 7.5)),
        ("A", 1, at(0, 10)),
        ("A", 2, at(1, 7.5)),
        ("B", 0, at(1, 9)),
        ("B", 1, at(1, 11)),
        ("B", 2, at(2, 7.5)),
    ]
    assert told["stranded"] == 0


def test_nobody_walks_over_what_has_not_opened():
    # A's base opens at 23:00 on day 0, its top, 07:30-10:30 on day 1, at 23:00 on day 1.
    layers = [layer(4), layer(4)]
    told = run(layers, [piece("A", 3, 3), piece("B", 3, 3, over=["A"])])
    assert [(name, i, start) for name, i, start, _ in told["placements"]] == [
        ("A", 0, at(0, 7.5)),
        ("A", 1, at(1, 7.5)),
        ("B", 0, at(2, 7.5)),
        ("B", 1, at(3, 7.5)),
    ]
    # B first: what has nothing on it may be walked over; A's base (11:00-14:00) is open at 02:00.
    told = run(layers, [piece("B", 3, 3, over=["A"]), piece("A", 3, 3)])
    assert [(name, i, start) for name, i, start, _ in told["placements"]] == [
        ("B", 0, at(0, 7.5)),
        ("A", 0, at(0, 11)),
        ("B", 1, at(1, 7.5)),
        ("A", 1, at(1, 11)),
    ]


def local_day(tick):
    return date(2025, 12, 1) + tick // 48 * DAY


@pytest.mark.parametrize(
    ("top_day", "hemisphere", "over"),
    [(28, "north", True), (27, "north", False), (28, "south", False)],
)
def test_a_coat_lies_open_over_midwinter(top_day, hemisphere, over):
    # The base is laid on 1 December; 28 days later it is the 29th.
    layers = [layer(30), layer(30, bad=lambda day, hour: day < top_day)]
    told = run(layers, [piece("A", 3, 3)], local_day=local_day, hemisphere=hemisphere)
    assert told["finish_day"] == date(2025, 12, 1) + top_day * DAY
    assert told["over_winter"] is over


def test_28_days_without_midwinter_are_no_winter():
    def base_and_top(*days):
        return [(at(day, 7.5), at(day, 10.5)) for day in days]

    assert plain.over_winter(base_and_top(20, 48), local_day, "north")  # from 21 December on
    assert not plain.over_winter(base_and_top(21, 60), local_day, "north")
    assert plain.over_winter(base_and_top(-10, 20), local_day, "north")  # up to 21 December
    assert not plain.over_winter(base_and_top(-10, 19), local_day, "north")
    assert plain.over_winter(base_and_top(160, 210), local_day, "south")  # 10 May to 29 June
    # A base that ends at midnight is one of 21 December.
    assert plain.over_winter([(at(20, 20), at(20, 24)), (at(60, 8), at(60, 9))], local_day, "north")


def test_laying_that_ends_at_midnight_ends_on_that_day():
    crew = {"set_up": 0.5, "clean_up": 0, "move": 0.5, "open_area": None}
    shifts = shifts_of(2, first=14, last=23)
    told = plain.steady([layer(2)], [piece("A", 9.5)], crew, shifts, begin=0, local_day=local_day)
    assert (told["finish"], told["finish_day"]) == (48, date(2025, 12, 1))


# --- cases that are open --------------------------------------------------------------------------

# Remission of leukemia with 6-mercaptopurine, in weeks (Freireich and others 1963).
# Those still in remission are open.
FINISHED = [6, 6, 6, 7, 10, 13, 16, 22, 23]
STILL_OPEN = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
TIMES = FINISHED + STILL_OPEN
OPEN = [False] * len(FINISHED) + [True] * len(STILL_OPEN)


@pytest.mark.parametrize(
    ("week", "still"),
    [
        (5, 1.0), (6, 0.857), (7, 0.807), (9, 0.807), (10, 0.753), (13, 0.690), (16, 0.627),
        (21, 0.627), (22, 0.538), (23, 0.448), (35, 0.448), (99, 0.448),
    ],
)  # fmt: skip
def test_the_textbook_estimate(week, still, outside):
    outside.agree(
        "product-limit estimate of the plain reference: remission with 6-MP",
        float(1 - plain.chance_by(TIMES, OPEN, week)), still, within=0.0005, unit="",
        source="the textbook's figures, Freireich (1963), from memory", why="printed to 0.001",
    )  # fmt: skip


def test_the_textbook_estimate_is_exact_in_its_first_steps():
    # 21 at risk, three end at 6; one is open at 6, so 17 at risk at 7.
    assert plain.chance_by(TIMES, OPEN, 6) == Fraction(3, 21)
    assert plain.chance_by(TIMES, OPEN, 7) == 1 - Fraction(18, 21) * Fraction(16, 17)


def test_pxx_of_the_textbook():
    assert plain.product_limit(TIMES, OPEN, 0.1) == 6
    assert plain.product_limit(TIMES, OPEN, 0.25) == 13  # 0.247 at 10, 0.310 at 13
    assert plain.product_limit(TIMES, OPEN, 0.5) == 23
    assert plain.product_limit(TIMES, OPEN, 0.8) is None  # it ends at 0.552


def test_without_open_cases_it_is_the_empirical_distribution():
    times = [4, 1, 3, 5, 2, 5, 9, 1, 7, 6]
    for p in (0.05, 0.1, 0.2, 0.5, 0.8, 0.9, 1):
        assert plain.product_limit(times, [False] * 10, p) == plain.inverse_cdf(times, p)
    assert plain.chance_by(times, [False] * 10, 5) == Fraction(7, 10)


def test_nothing_finished_and_nothing_at_all():
    assert plain.chance_by([3, 4], [True, True], 9) == 0
    assert plain.product_limit([3, 4], [True, True], 0.5) is None
    assert plain.chance_by([], [], 9) is None
    assert plain.product_limit([], [], 0.5) is None


def test_an_open_case_is_at_risk_on_its_last_day():
    # Two cases, one finished and one open on day 3: half at 3, not all.
    assert plain.chance_by([3, 3], [False, True], 3) == Fraction(1, 2)
    # Open on day 2 it is not at risk on day 3: the one at risk finishes.
    assert plain.chance_by([3, 2], [False, True], 3) == 1

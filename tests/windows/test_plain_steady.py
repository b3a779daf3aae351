"""The plain reference for the steady crew against small cases that are worked by hand."""

import random
from itertools import product

import plain_steady as plain
import pytest

LETTERS = {"o": "OK", "?": "UNKNOWN", "x": "BLOCKED"}


def layer(states, opens=1, due=None, must=False, same_shift=False):
    """A layer: `opens` and `due` in hours from the start of a row, or a list as it is."""
    rows = range(len(states))
    return {
        "states": [LETTERS[letter] for letter in states],
        "opens": opens if isinstance(opens, list) else [row + opens for row in rows],
        "due": [None if due is None else row + due for row in rows],
        "must": must,
        "same_shift": same_shift,
    }


def piece(*hours, section="roof", area=10.0, over=()):
    return {"name": section, "section": section, "area": area, "hours": list(hours), "over": over}


def lay(layers, *pieces, shifts=None, begin=0, **given):
    crew = {"set_up": 0, "clean_up": 0, "move": 0, "open_area": None} | given
    rows = len(layers[0]["states"])
    return plain.steady_crew(layers, pieces, crew, shifts or [1] * rows, begin)


# --- one layer, one piece after the other ---------------------------------------------------------


def test_a_half_touched_hour_must_be_ok_and_unknown_is_not():
    # 1.2 h are three half hours. Ticks 0-2 touch rows 0, 1; 1 is blocked. From tick 4, rows 2, 3: 3
    # is unknown. From tick 8: rows 4 and 5.
    assert lay([layer("oxo?ooo")], piece(1.2)) == ([(0, 0, 8, 11)], 11)


def test_work_takes_at_least_a_half_hour_and_a_whole_number_but_for_a_hair():
    told, _ = lay([layer("oooo")], piece(0.0), piece(1.0000000000001), piece(0.51))
    assert told == [(0, 0, 0, 1), (1, 0, 1, 3), (2, 0, 3, 5)]


def test_set_up_and_clean_up_are_inside_the_shift():
    shifts = [None] * 2 + [1] * 5 + [None] + [2] * 3
    # Shift 1 is ticks 4 to 14: work from 5 (0.3 h are one tick) to 12. Three hours: 5 to 11. One
    # more hour would end at 13. Shift 2 is ticks 16 to 22, work from 17 to 20.
    crew = {"set_up": 0.3, "clean_up": 1, "shifts": shifts}
    told, finish = lay([layer("o" * 11)], piece(3), piece(1), **crew)
    assert told == [(0, 0, 5, 11), (1, 0, 17, 19)]
    assert finish == 19
    # Begun at tick 6, three hours end at 12, still in time; at 7 they do not, nor in shift 2.
    assert lay([layer("o" * 11)], piece(3), begin=6, **crew) == ([(0, 0, 6, 12)], 12)
    assert lay([layer("o" * 11)], piece(3), begin=7, **crew) == ([], None)


def test_work_lies_in_one_shift_also_where_the_next_one_follows_at_once():
    # Two hours from tick 2 or 3 would run from shift 1 into shift 2; begun at tick 1 it is tick 4.
    assert lay([layer("oooo")], piece(2), shifts=[1, 1, 2, 2], begin=1) == ([(0, 0, 4, 8)], 8)


def test_a_later_piece_fills_the_gap_that_an_earlier_one_leaves():
    layers = [layer("o" * 10, opens=4), layer("o" * 10)]
    # First: row 0, opens at 4 h, tick 8. Second: row 1, opens at 5 h, tick 10, after the first's
    # top.
    told, finish = lay(layers, piece(1, 1), piece(1, 1))
    assert told == [(0, 0, 0, 2), (0, 1, 8, 10), (1, 0, 2, 4), (1, 1, 10, 12)]
    assert finish == 12


def test_the_finish_is_the_last_end_of_all_pieces():
    layers = [layer("o" * 10, opens=6), layer("o" * 10)]
    # First: rows 0-1, opens at 7 h: ticks 14 to 16. Second: half an hour of row 2, opens at 8 h,
    # tick 16. Third: no work is shorter than half an hour, its base at tick 5, row 2 as well: tick
    # 17.
    told, finish = lay(layers, piece(2, 1), piece(0.5, 0.5), piece(0, 0))
    assert told[:2] == [(0, 0, 0, 4), (0, 1, 14, 16)]
    assert told[2:] == [(1, 0, 4, 5), (1, 1, 16, 17), (2, 0, 5, 6), (2, 1, 17, 18)]
    assert finish == 18


# --- moves ----------------------------------------------------------------------------------------


def test_a_move_lies_between_layers_of_one_piece():
    # Opens at tick 2, but 0.75 h of move are two ticks.
    told, _ = lay([layer("oooo"), layer("oooo")], piece(1, 1), move=0.75)
    assert told == [(0, 0, 0, 2), (0, 1, 4, 6)]


def test_a_gap_must_hold_the_work_and_a_move_on_both_sides():
    layers = [layer("o" * 10, opens=4), layer("o" * 10)]
    # First: ticks 0-2 and 8-10. Its gap is six ticks: four of work and two moves of one tick fit,
    # from 3 to 7. Rows 1 to 3, opens at 7 h: tick 14.
    told, _ = lay(layers, piece(1, 1), piece(2, 1), move=0.5)
    assert told[2:] == [(1, 0, 3, 7), (1, 1, 14, 16)]
    # Five of work do not fit: from tick 11 to 16. Rows 5 to 7, opens at 11 h, past the end.
    told, finish = lay(layers, piece(1, 1), piece(2.5, 1), move=0.5)
    assert (told, finish) == ([(0, 0, 0, 2), (0, 1, 8, 10)], None)


# --- openings and deadlines -----------------------------------------------------------------------


def test_the_next_waits_for_the_opening_of_the_last_touched_row():
    # 1.5 h touch rows 0 and 1. Row 1 opens at 1 + 1.6 = 2.6 h, in tick 5: the first start is 6.
    told, _ = lay([layer("ooooo", opens=1.6), layer("ooooo")], piece(1.5, 1))
    assert told == [(0, 0, 0, 3), (0, 1, 6, 8)]
    # A hair after 2.5 h is 2.5 h.
    told, _ = lay([layer("ooooo", opens=1.5 + 1e-12), layer("ooooo")], piece(1.5, 1))
    assert told == [(0, 0, 0, 3), (0, 1, 5, 7)]


@pytest.mark.parametrize("must", [False, True])
def test_a_layer_waits_for_an_hour_whose_opening_is_known(must):
    # One hour of work: the first start whose last touched row is 2 is tick 3; opens at tick 6.
    base = layer("ooooo", opens=[None, None, 3.0, 4.0, 5.0], must=must)
    assert lay([base, layer("ooooo")], piece(1, 1))[0] == [(0, 0, 3, 5), (0, 1, 6, 8)]


def test_a_layer_is_laid_later_to_be_covered_in_time():
    # The top can be laid from row 5, until 6 h. That is in time for a base whose first row is 3.
    # From tick 5 it would touch row 2 first. From 6 it opens at 3 + 2 = 5 h, tick 10.
    layers = [layer("o" * 10, opens=2, due=3), layer("xxxxxooooo")]
    assert lay(layers, piece(1, 1)) == ([(0, 0, 6, 8), (0, 1, 10, 12)], 12)


def test_the_due_counts_from_the_first_touched_row():
    # 1.5 h from tick 1 touch rows 0 and 1: due at 0 + 3, opens at 1 + 1 = 2 h, tick 4. A top of one
    # hour ends at 3 h, just in time.
    layers = [layer("oooo", due=3), layer("oooo")]
    assert lay(layers, piece(1.5, 1), begin=1) == ([(0, 0, 1, 4), (0, 1, 4, 6)], 6)
    # The last row of a top of 1.5 h ends at 4 h, too late. A base from tick 2 on opens at 3 h at
    # the earliest, and 1.5 h from there run past the data.
    assert lay(layers, piece(1.5, 1.5), begin=1) == ([], None)


def test_the_due_asks_for_the_end_of_the_last_touched_hour():
    # The top would end at 1.5 h, but its hour ends at 2 h. So in all rows; row 3, whose due is past
    # the data, opens at 4 h, the end.
    tops = layer("oooo")
    assert lay([layer("oooo", due=1.5), tops], piece(0.5, 0.5)) == ([], None)
    assert lay([layer("oooo", due=2), tops], piece(0.5, 0.5))[0] == [(0, 0, 0, 1), (0, 1, 2, 3)]
    # A hair before 2 h is 2 h.
    told, _ = lay([layer("oooo", due=2 - 1e-12), tops], piece(0.5, 0.5))
    assert told == [(0, 0, 0, 1), (0, 1, 2, 3)]


def test_a_due_past_the_data_counts_as_none():
    top = layer("xxxxxo")
    # Due at 6 h, the end of the data: in the data, kept by row 5. At 5.5 h: the base waits; a first
    # row of 1 is due at 6.5 h, past the data, and counts as none.
    assert lay([layer("oooooo", due=6), top], piece(1, 1))[0] == [(0, 0, 0, 2), (0, 1, 10, 12)]
    assert lay([layer("oooooo", due=5.5), top], piece(1, 1))[0] == [(0, 0, 2, 4), (0, 1, 10, 12)]
    assert lay([layer("oooooo", due=99), top], piece(1, 1))[0] == [(0, 0, 0, 2), (0, 1, 10, 12)]


def test_the_highest_layer_that_can_be_later_moves_first():
    # The finish can be laid from row 6, until 7 h: in time for a middle whose first row is 4, tick
    # 8, which opens at 4 + 2 = 6 h, tick 12. The base has no due, and stays.
    middle, finish = layer("o" * 10, opens=2, due=3), layer("xxxxxxoooo")
    told, _ = lay([layer("o" * 10, opens=2), middle, finish], piece(1, 1, 1))
    assert told == [(0, 0, 0, 2), (0, 1, 8, 10), (0, 2, 12, 14)]
    # With a base that is due after 3 h the middle, until 5 h, is in time for a first row of 2, tick
    # 4.
    told, _ = lay([layer("o" * 10, opens=2, due=3), middle, finish], piece(1, 1, 1))
    assert told == [(0, 0, 4, 6), (0, 1, 8, 10), (0, 2, 12, 14)]


def test_a_busy_crew_is_seen_ahead():
    pieces = piece(1, 2), piece(1, 1)
    tops = layer("xxxooooo")
    # Without a due. First: 0-2, its top of two hours from row 3 on. Second: 2-4, its top when the
    # crew is free again, tick 10.
    told, _ = lay([layer("o" * 8), tops], *pieces)
    assert told == [(0, 0, 0, 2), (0, 1, 6, 10), (1, 0, 2, 4), (1, 1, 10, 12)]
    # Due after 3 h. First: its top takes rows 3 and 4, until 5 h, so the first row of its base is
    # 2. Second: rows 0 and 1 are free, but due at 3 and 4 h: no top in row 3, the crew is busy. So
    # from tick 10 on: row 5, opens at 6 h.
    told, finish = lay([layer("o" * 8, due=3), tops], *pieces)
    assert told == [(0, 0, 4, 6), (0, 1, 6, 10), (1, 0, 10, 12), (1, 1, 12, 14)]
    assert finish == 14


# --- followed in the shift ------------------------------------------------------------------------


def test_a_pair_of_one_shift_waits_for_a_shift_that_holds_both():
    shifts = [1] * 3 + [None] * 2 + [2] * 4
    layers = [layer("o" * 9, opens=3, same_shift=True), layer("o" * 9)]
    # Laid in row 0 it opens at 3 h, as shift 1 ends. Shift 2: row 5, opens at 8 h, tick 16.
    assert lay(layers, piece(1, 1), shifts=shifts) == ([(0, 0, 10, 12), (0, 1, 16, 18)], 18)
    # With clean-up there is no time for the top.
    assert lay(layers, piece(1, 1), shifts=shifts, clean_up=0.5) == ([], None)
    # Without the rule the top follows in shift 2.
    layers[0]["same_shift"] = False
    assert lay(layers, piece(1, 1), shifts=shifts)[0] == [(0, 0, 0, 2), (0, 1, 10, 12)]


def test_a_last_layer_has_no_next():
    # Nothing of it asks for a cover, though all its marks are set.
    top = layer("oo", opens=[None, None], due=1, must=True, same_shift=True)
    assert lay([top], piece(1, area=50), open_area=10) == ([(0, 0, 0, 2)], 2)


# --- bare area ------------------------------------------------------------------------------------


def bare_layers(count=2, rows=12):
    """All must be covered, and open one hour after the end of the row."""
    return [layer("o" * rows, opens=2, must=True) for _ in range(count)]


def test_bare_area_is_kept_from_start_to_the_end_of_the_cover():
    # First: 0-2, opens at 2 h, 4-6: bare until tick 6. Second, without a cap, 2-4, opens at 3 h,
    # 6-8.
    both = piece(1, 1, area=60), piece(1, 1, area=60)
    assert lay(bare_layers(), *both)[0][2:] == [(1, 0, 2, 4), (1, 1, 6, 8)]
    assert lay(bare_layers(), *both, open_area=120)[0][2:] == [(1, 0, 2, 4), (1, 1, 6, 8)]
    # With 100 it begins as the first one is covered: 6-8, row 3, opens at 5 h.
    assert lay(bare_layers(), *both, open_area=100)[0][2:] == [(1, 0, 6, 8), (1, 1, 10, 12)]


def test_a_piece_above_the_cap_is_never_laid():
    told = lay(bare_layers(), piece(1, 1, area=101), piece(1, 1, area=60), open_area=100)
    assert told == ([(1, 0, 0, 2), (1, 1, 4, 6)], None)


def test_what_needs_no_cover_is_not_bare_and_the_cap_itself_is_kept():
    free = [layer("o" * 8, opens=2), layer("o" * 8, opens=2)]
    told, _ = lay(free, piece(1, 1, area=60), piece(1, 1, area=60), open_area=10)
    assert told == [(0, 0, 0, 2), (0, 1, 4, 6), (1, 0, 2, 4), (1, 1, 6, 8)]
    # In binary 0.1 + 0.2 is a hair more than 0.3.
    told, _ = lay(bare_layers(), piece(1, 1, area=0.1), piece(1, 1, area=0.2), open_area=0.3)
    assert told[2:] == [(1, 0, 2, 4), (1, 1, 6, 8)]


def test_all_that_lie_bare_at_some_time_are_counted():
    pieces = piece(1, 1, area=60), piece(1, 1, area=60), piece(1, 1, area=40)
    told, _ = lay(bare_layers(), *pieces, open_area=100)
    # As above: bare 0-6 and 6-12. The third from tick 2 would be covered in the next gap, 8-10: it
    # overlaps both, 160, though never more than 100 at one time. From tick 8: row 4, opens at 6 h,
    # 12-14; it overlaps the second, 100.
    assert told[4:] == [(2, 0, 8, 10), (2, 1, 12, 14)]


def test_a_piece_counts_once_for_each_of_its_bare_layers():
    # First: 0-2, 4-6, 8-10, bare 0-6 and 4-10. Second, from tick 2: 6-8 and 10-12, its base bare
    # 2-8, which overlaps both. 20 + 40 + 40 are 100.
    three = piece(1, 1, 1, area=40)
    told, _ = lay(bare_layers(3), three, piece(1, 1, 1, area=20), open_area=100)
    assert told[3:] == [(1, 0, 2, 4), (1, 1, 6, 8), (1, 2, 10, 12)]
    # 30 are too much. From tick 6: row 3, opens at 5 h, 10-12, bare 6-12, which overlaps 4-10 only.
    told, _ = lay(bare_layers(3), three, piece(1, 1, 1, area=30), open_area=100)
    assert told[3:] == [(1, 0, 6, 8), (1, 1, 10, 12), (1, 2, 14, 16)]


# --- ways -----------------------------------------------------------------------------------------


def test_a_piece_is_not_reached_over_a_fresh_layer():
    front, back = piece(1, section="front"), piece(1, section="back", over=["front"])
    # The front is shut from 0 to the opening of its row 0: 3 h, tick 6.
    assert lay([layer("o" * 8, opens=3)], front, back)[0] == [(0, 0, 0, 2), (1, 0, 6, 8)]
    # Laid first, the back is in nobody's way.
    assert lay([layer("o" * 8, opens=3)], back, front)[0] == [(0, 0, 0, 2), (1, 0, 2, 4)]


def test_a_fresh_layer_does_not_shut_the_way_to_a_piece_planned_before():
    back, front = piece(1, 1, section="back", over=["front"]), piece(1, 1, section="front")
    layers = [layer("o" * 10, opens=3), layer("o" * 10, opens=3)]
    # Back: 0-2, opens at 3 h, 6-8. The front from 2: row 1, shut until 4 h, tick 8, over the 6-8.
    # From 4: shut until 5 h. So from 8: row 4, opens at 7 h, tick 14.
    told, _ = lay(layers, back, front)
    assert told == [(0, 0, 0, 2), (0, 1, 6, 8), (1, 0, 8, 10), (1, 1, 14, 16)]


def test_a_way_is_shut_for_good_where_the_opening_is_unknown():
    front, back = piece(1, section="front"), piece(1, section="back", over=["front"])
    never = [layer("oooo", opens=[None] * 4)]
    assert lay(never, front, back) == ([(0, 0, 0, 2)], None)
    assert lay(never, back, front) == ([(0, 0, 0, 2), (1, 0, 2, 4)], 4)


# --- the end of the data --------------------------------------------------------------------------


def test_a_piece_that_cannot_be_finished_has_no_placements_and_the_others_go_on():
    # First: 8 ticks and 8 ticks do not go into 12. The second is laid as if it were alone.
    layers = [layer("oooooo"), layer("oooooo")]
    assert lay(layers, piece(4, 4), piece(1, 1)) == ([(1, 0, 0, 2), (1, 1, 2, 4)], None)
    assert lay(layers, piece(1, 1), piece(4, 4)) == ([(0, 0, 0, 2), (0, 1, 2, 4)], None)
    # Work that ends with the data is in the data.
    assert lay(layers, piece(3, 3)) == ([(0, 0, 0, 6), (0, 1, 6, 12)], 12)


# --- all ways to lay a piece ----------------------------------------------------------------------


def random_case(draw, count):
    rows = 9
    layers = [
        layer(
            "".join(draw.choices("ox?", [16, 1, 1], k=rows)),
            opens=[draw.choice([row + 1, row + 1.4, row + 2, None]) for row in range(rows)],
            due=draw.choice([None, 2, 3, 4.5]),
            must=draw.random() < 0.6,
            same_shift=draw.random() < 0.2,
        )
        for _ in range(count)
    ]
    pieces = [
        piece(
            *draw.choices([0.5, 0.5, 1, 1.5], k=count),
            section=draw.choice("ab"),
            area=draw.choice([20, 30]),
            over=draw.choice([(), ("a",), ("b",)]),
        )
        for _ in range(3)
    ]
    crew = {
        "set_up": draw.choice([0, 0.5]),
        "clean_up": draw.choice([0, 0.5]),
        "move": draw.choice([0, 0.5]),
        "open_area": draw.choice([None, 50, 60]),
    }
    shifts = draw.choice([[1] * rows, [1] * 4 + [2] * 5, [1] * 4 + [None] + [2] * 4])
    return layers, pieces, crew, shifts, draw.choice([0, 1])


def works_alone(case, plan):
    """A plan of some pieces, {(piece, layer): (start, end)}, without what lies between pieces."""
    layers, _, crew, shifts, begin = case
    for (_, at), (start, end) in plan.items():
        hours = [tick // 2 for tick in range(start, end)]
        if start < begin or end > 2 * len(shifts):
            return False
        if {layers[at]["states"][hour] for hour in hours} != {"OK"}:
            return False
        # Set-up and clean-up are half an hour or none here: that half hour lies in the shift as
        # well.
        ticks = range(start - int(2 * crew["set_up"]), end + int(2 * crew["clean_up"]))
        if {shifts[t // 2] if 0 <= t < 2 * len(shifts) else None for t in ticks} not in ({1}, {2}):
            return False
    return True


def intervals_kept(case, plan):
    layers, _, _, shifts, _ = case
    for (number, at), (start, end) in plan.items():
        if (number, at + 1) not in plan:
            continue
        then, until = plan[number, at + 1]
        opens, due = layers[at]["opens"][(end - 1) // 2], layers[at]["due"][start // 2]
        if opens is None or then / 2 < opens or then < end:
            return False
        if due is not None and due <= len(shifts) and (until + 1) // 2 > due:
            return False
        if layers[at]["same_shift"] and shifts[then // 2] != shifts[start // 2]:
            return False
    return True


def crew_and_ways_kept(case, plan):
    layers, pieces, crew, _, _ = case
    for (one, (start, end)), (other, (then, until)) in product(plan.items(), plan.items()):
        if one == other:
            continue
        if start <= then < end + 2 * crew["move"]:
            return False
        opens = layers[one[1]]["opens"][(end - 1) // 2]
        shut = range(start, 99 if opens is None else max(end, int(2 * opens + 0.99)))
        walks = one[0] != other[0] and pieces[one[0]]["section"] in pieces[other[0]]["over"]
        if walks and set(shut) & set(range(then, until)):
            return False
    return True


def cap_kept(case, plan, newest):
    layers, pieces, crew, _, _ = case
    bare = [
        (number, set(range(start, plan[number, at + 1][1])))
        for (number, at), (start, _) in plan.items()
        if layers[at]["must"] and (number, at + 1) in plan
    ]
    for number, ticks in bare:
        others = [pieces[other]["area"] for other, its in bare if other != newest and its & ticks]
        total = pieces[newest]["area"] + sum(others)
        if number == newest and crew["open_area"] is not None and total > crew["open_area"]:
            return False
    return True


def first_of_all(case):
    """Try all starts of all layers of each piece, by rising first start, then second, and so on."""
    layers, pieces, _, shifts, _ = case
    plan = {}
    for number, one in enumerate(pieces):
        lengths = [int(2 * hours) for hours in one["hours"]]
        for starts in product(range(2 * len(shifts)), repeat=len(layers)):
            new = {(number, at): (s, s + lengths[at]) for at, s in enumerate(starts)}
            if (
                works_alone(case, new)
                and intervals_kept(case, new)
                and crew_and_ways_kept(case, plan | new)
                and cap_kept(case, plan | new, number)
            ):
                plan |= new
                break
    return plan


@pytest.mark.parametrize(("count", "cases"), [(1, 100), (2, 300), (3, 60)])
def test_it_is_the_first_of_all_sound_ways(count, cases, sweep):
    draw = random.Random(20260601)
    finished = set()
    for _ in sweep(cases, every=3):
        case = random_case(draw, count)
        plan = first_of_all(case)
        told, finish = plain.steady_crew(*case)
        assert {(number, at): (start, end) for number, at, start, end in told} == plan
        all_laid = len(plan) == 3 * count
        assert finish == (max(end for _, end in plan.values()) if all_laid else None)
        finished.add(len(plan) // count)
    assert len(finished) >= 3  # of how many pieces are laid: cases of many kinds

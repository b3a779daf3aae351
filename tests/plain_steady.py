"""A slow, plain reference for the steady crew: piece after piece, every interval kept.

It restates "The steady crew" of the project's definitions ("Seasons", "Plan") with lists, dicts and
loops, so that a person can check it line by line. Nothing of the fast code is imported here. Where
the definitions leave a choice, the comment begins with "Reading:".

Row k covers the hours [k, k + 1) since the table began. The crew works in half hours, called ticks:
tick t begins t / 2 hours after the table, row k is ticks 2 k and 2 k + 1. A placement takes the
ticks from its start up to, but not with, its end. Intervals are half open throughout.
"""

from math import ceil, floor

# Reading: a time less than this many ticks beside a whole tick is that tick (lengths of work,
# set-up, clean-up, moves, openings, dues), an area above the cap by less than this share is not
# above it.
SLACK = 1e-9


def steady_crew(layers, pieces, crew, shifts, begin):
    """(placements, finish): [(piece, layer, start, end), ...] in ticks, and the last end or None.

    layers  from the lowest up, dicts with, per row, "states" ("OK", "UNKNOWN", "BLOCKED"), "opens"
            (hours since the first row at which the layer opens if that row is the last it touches,
            None: unknown) and "due" (hours since the first row by which its next must be laid if
            that row is the first it touches, None: none, or not known); and "must" (be covered) and
            "same_shift" (its next is laid in its own shift), bools
    pieces  in the order in which they are laid, dicts: "name", "section", "area", "hours" of work
            per layer, "over" (sections that a crew walks over to reach it)
    crew    {"set_up", "clean_up", "move": hours, "open_area": cap or None}
    shifts  per row the id of the shift that it lies in, or None
    begin   the tick before which nothing starts

    Placements come by piece, then by layer. A piece that cannot be finished in the data has none,
    is in nobody's way, and makes the finish None.
    """
    check(layers, pieces, shifts)
    job = {
        "layers": layers,
        "rows": len(shifts),
        "shifts": shifts,
        "working_hours": working_hours(crew, shifts),
        "move": ticks_up(crew["move"]),
        "cap": crew["open_area"],
        "begin": begin,
    }
    laid, all_finished = [], True
    for number, piece in enumerate(pieces):
        found = lay_piece(job, number, piece, laid)
        if found is None:
            all_finished = False
        else:
            laid = laid + found
    placements = [(one["number"], one["layer"], one["start"], one["end"]) for one in laid]
    finish = max(one["end"] for one in laid) if all_finished else None
    return placements, finish


def check(layers, pieces, shifts):
    assert layers, "at least one layer"
    assert pieces, "at least one piece"
    for layer in layers:
        for name in ("states", "opens", "due"):
            assert len(layer[name]) == len(shifts), "one value per row"
    for piece in pieces:
        assert len(piece["hours"]) == len(layers), "one length of work per layer"


# --- half hours and shifts ------------------------------------------------------------------------


def ticks_up(hours):
    return ceil(2 * hours - SLACK)


def ticks_down(hours):
    return floor(2 * hours + SLACK)


def working_hours(crew, shifts):
    """Shift id -> the first tick at which work can begin in it, the last at which it can end.

    Reading: a shift is its rows in the table. One that the table cuts off at its head has its
    set-up in the first row of the table; one that is cut off at its tail its clean-up in the last.
    """
    rows_of = {}
    for row, shift in enumerate(shifts):
        if shift is not None:
            rows_of.setdefault(shift, []).append(row)
    hours = {}
    for shift, rows in rows_of.items():
        assert rows == list(range(rows[0], rows[-1] + 1)), "a shift is rows that follow each other"
        first_tick, last_tick = 2 * rows[0], 2 * (rows[-1] + 1)
        hours[shift] = (
            first_tick + ticks_up(crew["set_up"]),
            last_tick - ticks_up(crew["clean_up"]),
        )
    return hours


# --- one piece ------------------------------------------------------------------------------------


def lay_piece(job, number, piece, laid):
    """Placements of all layers of a piece among those `laid` before it, or None.

    Of all sound ways to lay the whole piece it is the one with the earliest first layer, of these
    the one with the earliest second layer, and so on. A search in depth with rising starts meets
    this one first: a layer is laid later only if what lies above it cannot be completed from here,
    and the highest layer that has a later start is the first to move.
    """
    layers = job["layers"]
    possible = [all_placements(job, number, piece, at, laid) for at in range(len(layers))]
    # What can follow a placement hangs on that placement alone, not on those below it. So a
    # placement whose rest failed once fails always.
    failed = set()

    def search(at, below):
        if at == len(layers):
            return []
        for here in possible[at]:
            if below is not None and too_late(job, below, here):
                return None  # all that come later in this list end later
            if (at, here["start"]) in failed:
                continue
            if below is not None and not can_follow(job, below, here, laid):
                continue
            rest = search(at + 1, here)
            if rest is not None:
                return [here, *rest]
            failed.add((at, here["start"]))
        return None

    found = search(0, None)
    return None if found is None else with_bare_times(job, found)


def all_placements(job, number, piece, at, laid):
    """Placements of one layer, by rising start, that are sound whatever lies below and above."""
    found = []
    # Reading: `begin` shortens no set-up; in a shift that runs at `begin` work starts at `begin` or
    # set-up after the start of the shift, whichever is later.
    for start in range(job["begin"], 2 * job["rows"]):
        here = placement(job, number, piece, at, start)
        if (
            here["end"] <= 2 * job["rows"]
            and hours_are_ok(job, here)
            and lies_in_one_shift(job, here)
            and all(crew_is_free(job, here, other) for other in laid)
            and all(ways_are_free(here, other) for other in laid)
        ):
            found.append(here)
    return found


def placement(job, number, piece, at, start):
    end = start + max(1, ticks_up(piece["hours"][at]))
    return {
        "number": number,
        "layer": at,
        "start": start,
        "end": end,
        "first_row": start // 2,
        "last_row": (end - 1) // 2,  # the row of the last half hour of work
        "opens": opening(job, at, (end - 1) // 2),
        "section": piece["section"],
        "over": piece["over"],
        "area": piece["area"],
    }


def opening(job, at, last_row):
    """The first tick at which the next layer can start; None: not known."""
    if last_row >= job["rows"]:
        return None  # runs past the data, and is never laid
    hours = job["layers"][at]["opens"][last_row]
    return None if hours is None else ticks_up(hours)


# --- a placement by itself and among other pieces -------------------------------------------------


def touched(here):
    return range(here["first_row"], here["last_row"] + 1)


def hours_are_ok(job, here):
    """Every touched hour, also one that is touched for half of it, is OK: UNKNOWN is not."""
    states = job["layers"][here["layer"]]["states"]
    return all(states[row] == "OK" for row in touched(here))


def lies_in_one_shift(job, here):
    shift = job["shifts"][here["first_row"]]
    if shift is None or any(job["shifts"][row] != shift for row in touched(here)):
        return False
    work_begins, work_ends = job["working_hours"][shift]
    return work_begins <= here["start"] and here["end"] <= work_ends


def crew_is_free(job, here, other):
    """Between two placements lies a move, whichever is first.

    Reading: also between shifts, where it matters only if one follows the other without a break.
    """
    return (
        here["start"] >= other["end"] + job["move"] or other["start"] >= here["end"] + job["move"]
    )


def ways_are_free(here, other):
    """Neither crew walks over the other's section while a fresh layer there is not open yet."""
    if other["section"] in here["over"] and overlap(here["start"], here["end"], *shut(other)):
        return False
    return not (
        here["section"] in other["over"] and overlap(other["start"], other["end"], *shut(here))
    )


def shut(one):
    """A section from the start of a placement to the opening of that layer, the last one's too.

    Reading: where the opening is not known it is shut for good.
    """
    return one["start"], (float("inf") if one["opens"] is None else max(one["end"], one["opens"]))


def overlap(from_1, to_1, from_2, to_2):
    """Half-open intervals: one that begins where the other ends does not overlap it."""
    return from_1 < to_2 and from_2 < to_1


# --- a placement on the layer below ---------------------------------------------------------------


def too_late(job, below, here):
    """The end of the last touched hour of `here` lies after the due of the layer `below` it."""
    due = due_tick(job, below)
    return due is not None and 2 * (here["last_row"] + 1) > due


def due_tick(job, below):
    """Counted from the first touched hour; the end of the data lies in the data."""
    hours = job["layers"][below["layer"]]["due"][below["first_row"]]
    return None if hours is None or hours > job["rows"] else ticks_down(hours)


def can_follow(job, below, here, laid):
    """All but the due.

    That a layer which must be covered, must be followed in its shift, or has a due in the data has
    a next in time needs no rule of its own: no layer counts as laid unless its next is laid.
    Reading: so a layer with none of these, whose opening is not known, is laid later as well.
    """
    if below["opens"] is None or here["start"] < below["opens"]:
        return False
    if here["start"] < below["end"] + job["move"]:
        return False
    layer, shifts = job["layers"][below["layer"]], job["shifts"]
    # Both lie in one shift each, so their first rows tell it.
    if layer["same_shift"] and shifts[here["first_row"]] != shifts[below["first_row"]]:
        return False
    return not layer["must"] or bare_area_is_kept(job, below, here, laid)


# --- bare area ------------------------------------------------------------------------------------


def bare_area_is_kept(job, below, cover, laid):
    """The cap, while `below` lies bare: from its start to the end of the layer that covers it.

    "All pieces that lie bare at some time while this one does", though perhaps not at one time.
    Reading: those laid before count once per bare layer that overlaps, this piece counts once; the
    sums of those laid before are not looked at again.
    """
    if job["cap"] is None:
        return True
    area = below["area"]
    for other in laid:
        if other["bare"] is not None and overlap(below["start"], cover["end"], *other["bare"]):
            area += other["area"]
    return area <= job["cap"] * (1 + SLACK)


def with_bare_times(job, found):
    """Note with each placement of a finished piece when it lies bare: (from, to) or None.

    The last layer has nothing above it and does not count.
    """
    noted = []
    for at in range(len(found)):
        is_bare = job["layers"][at]["must"] and at + 1 < len(found)
        bare = (found[at]["start"], found[at + 1]["end"]) if is_bare else None
        noted.append({**found[at], "bare": bare})
    return noted

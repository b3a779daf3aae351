"""A slow, plain reference for seasons: workable days, months, and one steady crew followed.

It restates "Seasons" and "Plan" of the project's definitions with lists, dicts and loops, so that a
person can check it line by line. Nothing of the fast code is imported here. Quotes in the comments
are from the definitions; where these leave a choice, the comment begins with "Reading:".

Rows are consecutive hours, row k covers the hours [k, k + 1) since the table began. The crew works
in half hours, called ticks: tick t begins t / 2 hours after the table, row k is ticks 2 k and
2 k + 1. A placement takes the ticks from its start up to, but not with, its end.
"""

from datetime import date, timedelta
from fractions import Fraction
from math import ceil, floor

OK, BLOCKED, UNKNOWN = "OK", "BLOCKED", "UNKNOWN"
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
MIDWINTER = {"north": (12, 21), "south": (6, 21)}  # month, day

# Reading: a length that is above a whole half hour by less than this many ticks is that half hour
# (area / rate in floats), an area above the cap by less than this share is not above it.
SLACK = 1e-9


# --- days -----------------------------------------------------------------------------------------


def workable(rows, shift_days, states, min_window):
    """date of a scheduled day -> {"crew_h", "known_h", "valid_h", "workable"}.

    rows        aware UTC starts of consecutive hours
    shift_days  per row the day whose shift it is a crew hour of, or None
    states      per row OK, UNKNOWN or BLOCKED: gates and safety together, crew apart
    min_window  hours, rounded up; at least one
    """
    check_rows(rows)
    assert len(rows) == len(shift_days) == len(states), "one shift and one state per row"
    rows_of = {}
    for k in range(len(rows)):
        if shift_days[k] is not None:
            rows_of.setdefault(shift_days[k], []).append(k)
    needed = max(1, ceil(min_window))
    return {day: one_day(held, states, needed) for day, held in rows_of.items()}


def one_day(held, states, needed):
    """Hours of one shift, which holds these rows, and whether its day is workable."""
    return {
        "crew_h": len(held),
        "known_h": sum(states[k] in (OK, BLOCKED) for k in held),
        "valid_h": sum(states[k] == OK for k in held),
        "workable": longest_run([k for k in held if states[k] == OK]) >= needed,
    }


def longest_run(numbers):
    """How many of the rising numbers follow each other without a gap, at most."""
    best = run = 0
    for at in range(len(numbers)):
        run = run + 1 if at > 0 and numbers[at] == numbers[at - 1] + 1 else 1
        best = max(best, run)
    return best


def check_rows(rows):
    """Rows are aware, in UTC, one hour apart."""
    for k in range(len(rows)):
        assert rows[k].utcoffset() == timedelta(0), "rows must be aware and in UTC"
        assert k == 0 or rows[k] - rows[k - 1] == HOUR, "rows must be consecutive hours"


# --- months and weeks -----------------------------------------------------------------------------


def months(days, calendar):
    """(year, month) -> {"counts", "crew_h", "known_h", "valid_h", "workable_days"}.

    days      what `workable` returns
    calendar  date -> crew hours of that day, for all scheduled days of the months that the table
              touches, those outside the table as well: "an hour outside the table is not known"
    """
    return grouped(days, calendar, lambda day: (day.year, day.month))


def weeks(days, calendar):
    """The same by (ISO year, ISO week): a week "belongs to its ISO year"."""
    return grouped(days, calendar, lambda day: (day.isocalendar()[0], day.isocalendar()[1]))


def grouped(days, calendar, group_of):
    """Reading: an hour of a shift past midnight is one of the day, and month, of its shift.

    A group of which the calendar knows no day is not in the result. One of days without a crew hour
    counts: none of its hours is unknown.
    """
    assert set(days) <= set(calendar), "the calendar must know every day of the table"
    groups = {}
    for day in sorted(calendar):
        total = groups.setdefault(
            group_of(day), {"crew_h": 0, "known_h": 0, "valid_h": 0, "workable_days": 0}
        )
        total["crew_h"] += calendar[day]
        if day in days:
            total["known_h"] += days[day]["known_h"]
            total["valid_h"] += days[day]["valid_h"]
            total["workable_days"] += days[day]["workable"]
    for total in groups.values():
        # "at least 90 % of its crew hours are known", in whole numbers
        total["counts"] = 10 * total["known_h"] >= 9 * total["crew_h"]
    return groups


def inverse_cdf(values, p):
    """The smallest value that at least the share p of the values does not exceed."""
    for value in sorted(values):
        if sum(other <= value for other in values) >= exact(p) * len(values):
            return value
    return None  # no values


def over_years(values):
    """Mean (an exact fraction) and P20, P50, P80 of one value per year that counts."""
    mean = sum(exact(value) for value in values) / len(values) if values else None
    return {
        "mean": mean,
        "P20": inverse_cdf(values, Fraction(1, 5)),
        "P50": inverse_cdf(values, Fraction(1, 2)),
        "P80": inverse_cdf(values, Fraction(4, 5)),
    }


def exact(number):
    """The fraction that is written: 0.2 is 1/5, not the float that is nearest to it."""
    return Fraction(repr(number)) if isinstance(number, float) else Fraction(number)


# --- season years ---------------------------------------------------------------------------------


def practical(days, hemisphere, counting=None):
    """Season year -> (first, last) practical day, each a date or None.

    days      date -> (scheduled, workable), for all local days; one that is not there is taken as
              not scheduled
    counting  (year, month) that count; a season year is left out unless all twelve do. None: all
    """
    years = sorted({season_year(day, hemisphere) for day in days})
    found = {}
    for year in years:
        span = year_days(year, hemisphere)
        if counting is None or all((day.year, day.month) in counting for day in span):
            good = [day for day in span if days.get(day, (False, False)) == (True, True)]
            firsts = [day for day in good if half_of(days, day, span)]
            lasts = [day for day in good if half_of(days, day - 27 * DAY, span)]
            found[year] = (firsts[0] if firsts else None, lasts[-1] if lasts else None)
    return found


def season_year(day, hemisphere):
    """Calendar year in the north; in the south the year in which its July lies."""
    return day.year - 1 if hemisphere == "south" and day.month < 7 else day.year


def year_days(year, hemisphere):
    """All dates of a season year."""
    begin, end = date(year, 1, 1), date(year + 1, 1, 1)
    if hemisphere == "south":
        begin, end = date(year, 7, 1), date(year + 1, 7, 1)
    return [begin + k * DAY for k in range((end - begin).days)]


def half_of(days, begin, span):
    """Of the 28 days from begin, wholly inside the year, at least half of the scheduled ones."""
    if begin < span[0] or begin + 27 * DAY > span[-1]:
        return False
    stretch = [days.get(begin + k * DAY, (False, False)) for k in range(28)]
    scheduled = sum(bool(is_scheduled) for is_scheduled, _ in stretch)
    good = sum(bool(is_scheduled and is_workable) for is_scheduled, is_workable in stretch)
    return scheduled > 0 and 2 * good >= scheduled


# --- the steady crew ------------------------------------------------------------------------------


def steady(
    layers, pieces, crew, shifts, begin, look_ahead=True, local_day=None, hemisphere="north"
):
    """One case: the steady crew from the row `begin` on, up to the end of the rows.

    layers     from the bottom up, dicts:
               "states"      per row OK, UNKNOWN or BLOCKED
               "opens"       per row: recoat opens, for a layer whose last touched row it is, hours
                             since the table began; None: not known
               "due"         per row: latest end of the next layer's last hour, for a layer whose
                             first touched row it is, hours; None: none, or not known
               "must"        it must be covered
               "same_shift"  its next layer has to be laid in the same shift
    pieces     dicts: "name", "area", "hours" (work on each layer), "over" (names walked over)
    crew       "set_up", "clean_up", "move" in hours, "open_area" the cap on bare area or None
    shifts     per row the shift it lies in (anything that tells shifts apart), or None
    local_day  callable, tick -> local date; without it there is no finish_day, no over_winter

    Of the last layer, which has no next one, must, due and same_shift are not read. Rows after
    "known until" must be cut off by the caller.
    """
    job = Job(layers, pieces, crew, shifts, look_ahead)
    return followed(job, begin, local_day, hemisphere)


class Job:
    """A job in ticks; `starts` are allowed whatever else is going on (see `pruned`)."""

    def __init__(self, layers, pieces, crew, shifts, look_ahead):
        assert all(len(layer["states"]) == len(shifts) for layer in layers), "one state per row"
        assert all(len(piece["hours"]) == len(layers) for piece in pieces), "hours of each layer"
        self.layers, self.pieces, self.shifts = layers, pieces, shifts
        self.rows = len(shifts)
        self.last = len(layers) - 1
        self.look_ahead = look_ahead
        self.cap = crew["open_area"]
        self.set_up, self.clean_up, self.move = (
            ticks_up(crew[name]) for name in ("set_up", "clean_up", "move")
        )
        self.ends = shift_ends(shifts)
        self.lengths = [[max(1, ticks_up(hours)) for hours in piece["hours"]] for piece in pieces]
        self.starts = [pruned(self, lengths) for lengths in self.lengths]
        self.first = [[first_from(starts, self.rows) for starts in piece] for piece in self.starts]


def ticks_up(hours):
    """Half hours that hold so many hours; the tick at or after a moment."""
    return ceil(2 * hours - SLACK)


def ticks_down(hours):
    """The tick at or before a moment."""
    return floor(2 * hours + SLACK)


def touched(start, end):
    """Rows that a placement touches."""
    return range(start // 2, (end - 1) // 2 + 1)


def shift_ends(shifts):
    """Per row the first and last row of the shift it lies in, or None."""
    found = []
    for k in range(len(shifts)):
        if shifts[k] is None:
            found.append(None)
            continue
        first = last = k
        while first > 0 and shifts[first - 1] == shifts[k]:
            first -= 1
        while last + 1 < len(shifts) and shifts[last + 1] == shifts[k]:
            last += 1
        found.append((first, last))
    return found


def valid_starts(job, layer, length):
    """Ticks at which a placement of the layer can start, by hours and shift alone."""
    return [
        start
        for start in range(2 * job.rows)
        if in_shift(job, start, start + length)
        and all(layer["states"][row] == OK for row in touched(start, start + length))
    ]


def in_shift(job, start, end):
    """It lies in one shift, "set-up after the shift's start and clean-up before its end"."""
    if job.ends[start // 2] is None:
        return False
    first, last = job.ends[start // 2]
    return start >= 2 * first + job.set_up and end <= 2 * (last + 1) - job.clean_up


def pruned(job, lengths):
    """Allowed starts of each layer of a piece whose layers take so many ticks.

    The last layer may start wherever its hours are valid. Going down from it, a layer that is bound
    to be followed keeps the starts that leave its next layer a start in time. Looking ahead, only
    starts of the next layer count that are allowed themselves; "and so on up to the last layer".
    """
    valid = [
        [
            start
            for start in valid_starts(job, layer, length)
            if i == job.last or opens_at(job, i, start + length) is not None
        ]
        for i, (layer, length) in enumerate(zip(job.layers, lengths, strict=True))
    ]
    allowed = list(valid)
    for i in reversed(range(job.last)):
        after = allowed[i + 1] if job.look_ahead else valid[i + 1]
        next_start = first_from(after, job.rows)
        allowed[i] = [
            start
            for start in valid[i]
            if not is_bound(job, i, start)
            or leaves_next(job, i, start, lengths[i], next_start, lengths[i + 1])
        ]
    return allowed


def first_from(starts, rows):
    """Per tick the first of the starts at or after it, or None; one entry more than ticks."""
    found = [None] * (2 * rows + 1)
    chosen = set(starts)
    for tick in reversed(range(2 * rows)):
        found[tick] = tick if tick in chosen else found[tick + 1]
    return found


def look_up(next_start, tick):
    """The same for any tick: after the data nothing starts."""
    return next_start[tick] if tick < len(next_start) else None


def is_bound(job, i, start):
    """Whether layer i, if it starts there, is laid only where its next layer can follow."""
    layer = job.layers[i]
    if layer["same_shift"]:
        return True
    return job.look_ahead and (layer["must"] or due_in_data(job, i, start))


def due_in_data(job, i, start):
    """Whether the deadline of layer i, begun at the tick, lies in the data."""
    due = job.layers[i]["due"][start // 2]
    return due is not None and due <= job.rows


def leaves_next(job, i, start, length, next_start, next_length):
    """Whether layer i + 1 has a start in time on a layer i that starts there.

    Only the first start has to be looked at: if that is late, so are all that follow.
    """
    opening = opens_at(job, i, start + length)
    if opening is None:
        return False
    # Reading: the crew cannot be back before its own move, so this much is no foresight.
    found = look_up(next_start, max(opening, free_after(job, start, start + length)))
    return found is not None and in_time(job, i, start, found, found + next_length)


def opens_at(job, i, end):
    """The tick from which layer i, laid up to the end, may be recoated or walked on, or None."""
    opens = job.layers[i]["opens"][(end - 1) // 2]
    return None if opens is None else ticks_up(opens)


def free_after(job, start, end):
    """The tick from which the crew can lay again: "within a shift a move lies between them".

    Reading: the move is asked inside the shift only, so it never reaches past the shift's end.
    """
    _, last = job.ends[start // 2]
    return min(end + job.move, 2 * (last + 1))


def in_time(job, i, start, next_start, next_end):
    """Whether a next layer there is in time for layer i that began at `start`."""
    layer = job.layers[i]
    if layer["same_shift"] and job.shifts[start // 2] != job.shifts[next_start // 2]:
        return False
    due = layer["due"][start // 2]
    last_hour_ends = 2 * (touched(next_start, next_end)[-1] + 1)
    return due is None or last_hour_ends <= ticks_down(due)


def followed(job, begin, local_day=None, hemisphere="north"):
    """Follow the crew of a job from the row on, placement by placement, and sum it up."""
    laid = [[] for _ in job.pieces]  # per piece (start, end) of its layers, from the bottom up
    order = []
    free = 2 * begin
    while True:
        chosen = next_placement(job, laid, free, order[-1] if order else None)
        if chosen is None:
            return summed_up(job, laid, order, local_day, hemisphere)
        p, start = chosen
        i = len(laid[p])
        end = start + job.lengths[p][i]
        laid[p].append((start, end))
        order.append((p, i, start, end))
        free = free_after(job, start, end)


def next_placement(job, laid, free, latest):
    """(piece, start) of what the crew lays next, or None."""
    able = {}
    for p in range(len(job.pieces)):
        start = first_start(job, laid, p, free)
        if start is not None:
            able[p] = start
    if not able:
        return None
    pair = pair_begun(job, latest)
    if pair in able and same_shift_as(job, able[pair], latest[2]):
        return pair, able[pair]
    # "in the first shift in which it can lay anything"
    earliest = min(able.values())
    here = [p for p in able if same_shift_as(job, able[p], earliest)]
    begun = [p for p in here if laid[p]]
    if begun:
        # "goes on with the piece that was begun longest ago and has a start there"
        chosen = min(begun, key=lambda p: laid[p][0][0])
    else:
        # "the piece whose first layer can start earliest, of equal ones the first in the list"
        chosen = min(here, key=lambda p: (able[p], p))
    return chosen, able[chosen]


def same_shift_as(job, tick, other):
    """Whether two ticks lie in one shift."""
    return job.shifts[tick // 2] == job.shifts[other // 2]


def pair_begun(job, latest):
    """The piece whose latest layer has to be followed in its shift, or None.

    It can only be the latest placement of all: nothing comes between the two of a pair.
    """
    if latest is None:
        return None
    p, i, _, _ = latest
    return p if i < job.last and job.layers[i]["same_shift"] else None


def first_start(job, laid, p, free):
    """The first tick at which the next layer of the piece can start, or None.

    A deadline that has passed does not bar it: a late cover is still laid, late.
    """
    i = len(laid[p])
    if i > job.last or breaks_cap(job, laid, p, i):
        return None
    openings = [opens_at(job, len(laid[q]) - 1, laid[q][-1][1]) for q in waits_for(job, laid, p)]
    if None in openings:
        return None  # it is not known when it opens: never, as far as the data tell
    return look_up(job.first[p][i], max([free, *openings]))


def waits_for(job, laid, p):
    """Begun pieces whose top layer must be open: the piece itself and those walked over."""
    over = job.pieces[p]["over"]
    return [
        q for q in range(len(job.pieces)) if laid[q] and (q == p or job.pieces[q]["name"] in over)
    ]


def breaks_cap(job, laid, p, i):
    """Whether laying layer i of the piece brings the bare area above the cap.

    Reading: of layers that follow in the same shift each has to keep to the cap, else the first is
    not begun.
    """
    if job.cap is None or not any(is_bare(job, j) for j in chain(job, i)):
        return False
    bare = sum(
        job.pieces[q]["area"]
        for q in range(len(job.pieces))
        if q != p and laid[q] and is_bare(job, len(laid[q]) - 1)
    )
    return bare + job.pieces[p]["area"] > job.cap * (1 + SLACK)


def is_bare(job, i):
    """Whether a piece with layer i on top lies bare; the last layer is covered by nothing."""
    return i < job.last and job.layers[i]["must"]


def chain(job, i):
    """Layer i and those that have to be laid in the same shift with it."""
    layers = [i]
    while layers[-1] < job.last and job.layers[layers[-1]]["same_shift"]:
        layers.append(layers[-1] + 1)
    return layers


def summed_up(job, laid, order, local_day, hemisphere):
    """What is told of a case."""
    done = bool(laid) and all(len(placed) == job.last + 1 for placed in laid)
    told = {
        "placements": [(job.pieces[p]["name"], i, start, end) for p, i, start, end in order],
        "finish": max(end for _, _, _, end in order) if done else None,
        "crew_days": len({job.shifts[start // 2] for _, _, start, _ in order}),
        "stranded": sum(stranded_of(job, placed) for placed in laid),
        "finish_day": None,
        "over_winter": None,
    }
    if local_day:
        # Reading: laying that ends at midnight ended on the day before.
        told["finish_day"] = local_day(told["finish"] - 1) if done else None
        told["over_winter"] = any(over_winter(placed, local_day, hemisphere) for placed in laid)
    return told


def stranded_of(job, placed):
    """Layers of one piece that were laid late, and a top layer that lies past its deadline."""
    count = 0
    for i in range(len(placed) - 1):
        count += not in_time(job, i, placed[i][0], *placed[i + 1])
    top = len(placed) - 1
    if 0 <= top < job.last:
        # "A layer with same_shift is due at the end of its own shift as well", which is in the data
        count += job.layers[top]["same_shift"] or due_in_data(job, top, placed[top][0])
    return count


def over_winter(placed, local_day, hemisphere):
    """Whether between two layers of a piece 28 days or more pass that hold midwinter.

    Reading: from the day on which the lower one ends to the day on which the upper one starts;
    midwinter may be either of the two.
    """
    for i in range(len(placed) - 1):
        ended, started = local_day(placed[i][1] - 1), local_day(placed[i + 1][0])
        if (started - ended).days >= 28 and holds_midwinter(ended, started, hemisphere):
            return True
    return False


def holds_midwinter(first, last, hemisphere):
    """Whether one of the days from first to last is midwinter."""
    month, day = MIDWINTER[hemisphere]
    return any(first <= date(year, month, day) <= last for year in range(first.year, last.year + 1))


# --- cases that are open --------------------------------------------------------------------------


def product_limit(times, open_flags, p):
    """The first day at which the estimated share of finished cases reaches p, or None.

    times       days after which each case finished, or, where its flag is True, was still open
    """
    for day in sorted(set(times)):
        if chance_by(times, open_flags, day) >= exact(p):
            return day
    return None


def chance_by(times, open_flags, day):
    """The estimated share of cases that are finished by the day, as a fraction; None without cases.

    The product, over the days with a finish up to this one, of the share of cases at risk that do
    not finish then (Kaplan and Meier 1958). "One that is open after d days is at risk up to and
    with day d". Reading: after the last case the estimate stays what it was.
    """
    cases = list(zip(times, open_flags, strict=True))
    if not cases:
        return None
    unfinished = Fraction(1)
    for moment in sorted({time for time, is_open in cases if not is_open and time <= day}):
        at_risk = sum(time >= moment for time, _ in cases)
        finished = sum(time == moment and not is_open for time, is_open in cases)
        unfinished *= Fraction(at_risk - finished, at_risk)
    return 1 - unfinished

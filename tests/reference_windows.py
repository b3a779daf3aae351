"""A slow, plain reference for "which hours can this coating be laid".

It restates the project's definitions of hours, gates, cure clock and windows with lists, floats
and loops, so that a person can check it line by line. The fast code is compared with it hour for
hour. Nothing of the fast code is imported here. Quotes in the comments are from the definitions.

Inside, a moment is a whole number of seconds since the start of the first row: row k covers the
seconds [3600 k, 3600 (k + 1)).
"""

from datetime import timedelta
from math import isnan
from zoneinfo import ZoneInfo

OK, BLOCKED, UNKNOWN = "OK", "BLOCKED", "UNKNOWN"
HOUR = timedelta(hours=1)

# A sum of rates that falls short of E by less than this many equivalent hours (some microseconds
# of cure) has reached it: 0.3 + 0.3 + 0.3 in floats is just below 0.9, and must not wait for the
# next hour, which may have a rate of zero or none at all.
REACHED = 1e-9


def evaluate(rows, coating, crew=None, extra=None):
    """States of every gate and hour, milestones, windows and provisional runs.

    rows     one dict per consecutive UTC hour: "time_utc" (aware), "cure_rate" and the quantities
             that the gates name; NaN (or None) is unknown
    coating  {"gates", "milestones", "milestone_clock_min_h", "min_window_h"}
    crew     {"zone", "start", "end", "weekdays" (Monday is 0), "holidays" (dates)}; None: any hour
    extra    one more state per row, e.g. crew safety
    """
    n = len(rows)
    # "The canonical hourly table has a timezone-aware UTC index."
    for k in range(n):
        if rows[k]["time_utc"].utcoffset() != timedelta(0):
            raise ValueError("time_utc must be aware and in UTC")
        if k and rows[k]["time_utc"] - rows[k - 1]["time_utc"] != HOUR:
            raise ValueError("rows must be consecutive hours")
    assert extra is None or len(extra) == n, "extra must hold one state per row"

    rates = [number(row["cure_rate"]) for row in rows]
    assert not any(rate < 0 for rate in rates)  # "a dimensionless rate r >= 0"
    late = [number(row.get("cure_rate_late", row["cure_rate"])) for row in rows]
    stage = coating.get("first_stage_h") or 0.0

    ends = {}  # milestone -> per row (second or None, first hour not certainly before it)
    clock_min = coating.get("milestone_clock_min_h") or {}
    assert set(clock_min) <= set(coating["milestones"]), "a clock minimum without a milestone"
    for name, needed in coating["milestones"].items():
        assert needed >= 0, f"milestone {name} needs zero or more equivalent hours"
        ends[name] = [
            milestone_end(rates, h, needed, clock_min.get(name), late, stage) for h in range(n)
        ]

    gates = {}
    for gate in coating["gates"]:
        assert gate["name"] not in gates, "two gates have one name"
        gates[gate["name"]] = gate_states(gate, rows, ends)

    # "Valid hour for a coating at a site: all placement and hold gates OK, inside crew hours."
    # "a safety stop overrides a coating's OK"
    shifts = [shift_day(row["time_utc"], crew) for row in rows]
    hour = []
    for k in range(n):
        parts = [states[k] for states in gates.values()]
        parts.append(OK if shifts[k] is not None else BLOCKED)
        if extra is not None:
            parts.append(extra[k])
        hour.append(combine(parts))

    found = find_windows(rows, hour, shifts, coating.get("min_window_h", 3))
    milestones = {}
    for name, at_rows in ends.items():
        moments = [None if end is None else timedelta(seconds=end) for end, _ in at_rows]
        milestones[name] = [None if at is None else rows[0]["time_utc"] + at for at in moments]
    return {
        "gates": gates,
        "milestones": milestones,
        "deadlines": deadlines(rows, coating),
        "hour": hour,
        **found,
    }


def deadlines(rows, coating):
    """The latest times after a placement in each row, None if unknown."""
    # "A latest time counts from the start of the placement hour: h + H for clock hours H."
    start = rows[0]["time_utc"]
    times = {
        name: [start + timedelta(seconds=seconds(h + hours)) for h in range(len(rows))]
        for name, hours in (coating.get("deadlines_clock_h") or {}).items()
    }
    dose = coating.get("cover_by_dose_sed")
    if dose is None:
        return times
    # "Cover-by may have a dose too [...] summed from the start of hour h and linear inside an
    # hour. The earlier of both counts. If the data end before the dose is reached, cover-by is
    # the clock's if that lies within the data, else unknown."
    taken = [number(row["uv_dose_sed"]) for row in rows]
    end, found = start + len(rows) * HOUR, []
    for h in range(len(rows)):
        by_clock = times["cover_by"][h] if "cover_by" in times else None
        moment = gain(taken, h, dose)
        if moment is not None:
            by_dose = start + timedelta(seconds=seconds(moment))
            found.append(by_dose if by_clock is None else min(by_dose, by_clock))
        else:
            found.append(by_clock if by_clock is not None and by_clock <= end else None)
    return times | {"cover_by": found}


def gate_states(gate, rows, ends):
    """The state of one gate for placement in each row."""
    plain = [compare(gate, number(row[gate["quantity"]])) for row in rows]
    if gate["kind"] == "placement":
        return plain  # "Placement gates must be OK in the hour of placement"
    if gate["kind"] == "hold":
        return [hold(plain, h, *hold_end(gate, h, ends)) for h in range(len(rows))]
    raise ValueError(f"no such kind of gate: {gate['kind']}")


def find_windows(rows, hour, shifts, shortest):
    """The window number of each row, the windows and the provisional runs."""
    # "Application window: a maximal run of consecutive valid hours within one crew shift, at least
    # min_window long (default 3 h)." "UNKNOWN hours never sit inside a window; runs that would be
    # windows if they turned out OK are listed apart as provisional".
    window, windows, provisional = [None] * len(rows), [], []
    for first, after in runs(hour, shifts, (OK,)):
        if after - first >= shortest:
            windows.append((rows[first]["time_utc"], rows[after - 1]["time_utc"] + HOUR))
            for k in range(first, after):
                window[k] = len(windows)
    for first, after in runs(hour, shifts, (OK, UNKNOWN)):
        if after - first >= shortest and UNKNOWN in hour[first:after]:
            provisional.append((rows[first]["time_utc"], rows[after - 1]["time_utc"] + HOUR))
    return {"window": window, "windows": windows, "provisional": provisional}


def number(value):
    """The value as a float. "Missing is NaN. NaN is never zero, never dry, never warm." """
    return float("nan") if value is None else float(value)


def combine(states):
    """ "any BLOCKED -> BLOCKED; else any UNKNOWN -> UNKNOWN; else OK" """
    assert set(states) <= {OK, BLOCKED, UNKNOWN}, states
    if BLOCKED in states:
        return BLOCKED
    if UNKNOWN in states:
        return UNKNOWN
    return OK


def compare(gate, value):
    """One known or unknown value against the limit of a gate."""
    # "A check is UNKNOWN when a value that it needs is NaN"
    if isnan(value):
        return UNKNOWN
    limit, inclusive = gate["limit"], gate["inclusive"]
    # "Limits are inclusive: a value equal to its limit is OK. Rain blocks at or above the
    # profile's threshold": the rain gate is the one that says inclusive = false.
    if gate["sense"] == "min":
        good = value >= limit if inclusive else value > limit
    elif gate["sense"] == "max":
        good = value <= limit if inclusive else value < limit
    else:
        raise ValueError(f"no such sense: {gate['sense']}")
    return OK if good else BLOCKED


def seconds(hours):
    """Hours as the nearest whole second."""
    return round(3600 * hours)


def hours_before(end):
    """The first hour k that is not before the second `end`: hours with k < end are inside."""
    return -(-end // 3600)


def gain(rates, moment, needed):
    """The moment, in hours, at which `needed` has been gained since a moment; None if unknown."""
    if needed <= REACHED:
        return moment
    cured, k = 0.0, int(moment)
    while k < len(rates):
        if isnan(rates[k]):
            return None
        begins = max(moment, k)
        here = rates[k] * (k + 1 - begins)
        if cured + here >= needed - REACHED:
            return begins + min(k + 1 - begins, (needed - cured) / rates[k])
        cured, k = cured + here, k + 1
    return None


def tau(rates, h, needed, late=None, first_stage_h=0.0):
    """(second at which the cure clock of placement hour h reaches `needed`, None), or
    (None, m) where hour m is the first one with an unknown rate, or is the end of the data.
    """
    # "hazards count from the start of hour h; cure counts from its end (h + 1)."
    # "Up to first_stage_h the cure is gained at cure_rate; from the very moment that this much is
    # reached, not rounded, at cure_rate_late."
    late = rates if late is None else late
    moment = gain(rates, h + 1, min(needed, first_stage_h))
    if moment is not None and needed > first_stage_h:
        moment = gain(late, moment, needed - first_stage_h)
    if moment is not None:
        return seconds(moment), None
    # "Let m be the first hour from h + 1 on in which one of the two rates is unknown, or n."
    for k in range(h + 1, len(rates)):
        if isnan(rates[k]) or isnan(late[k]):
            return None, k
    return None, len(rates)


def milestone_end(rates, h, needed, clock_min_h, late=None, first_stage_h=0.0):
    """(second of the milestone or None, first hour that is not certainly before it)."""
    end, m = tau(rates, h, needed, late, first_stage_h)
    # "A data sheet's plain clock minimum can be given as well: then both must have passed."
    # It counts from h + 1, as cure does.
    least = seconds(h + 1 + (clock_min_h or 0.0))
    if end is not None:
        end = max(end, least)
        return end, hours_before(end)
    # "If the data end (or r is NaN) before tau, the milestone [...] UNKNOWN": but at the start of
    # hour m it was not reached, so hours h..m are before it, and so is the whole clock minimum.
    return None, max(m + 1, hours_before(least))


def hold_end(gate, h, ends):
    """(second at which the hold of placement hour h ends or None, first hour not surely inside)."""
    # "until a milestone of that placement, or for a fixed number of clock hours"
    milestone, clock_h = gate.get("milestone"), gate.get("clock_h")
    if (milestone is None) == (clock_h is None):
        raise ValueError(f"hold {gate['name']} needs a milestone or clock_h, and not both")
    if milestone is not None:
        return ends[milestone][h]
    end = seconds(h + clock_h)  # clock hours from the start of the placement hour
    return end, hours_before(end)


def hold(plain, h, end, after):
    """The state of a hold, from the states of its quantity in every single hour."""
    # "A hazard in hour k breaks the hold if h <= k < tau." "A known rain hour that breaks a hold
    # is BLOCKED even if other hours of that hold are missing."
    unknown = False
    for k in range(h, min(after, len(plain))):
        if plain[k] == BLOCKED:
            return BLOCKED
        if plain[k] == UNKNOWN:
            unknown = True
    # "UNKNOWN when a value that it needs is NaN, or when the data end before it can be decided"
    if unknown or end is None or end > 3600 * len(plain):
        return UNKNOWN
    return OK


def shift_day(start, crew):
    """The day that owns the shift in which the whole hour from `start` lies, or None.

    Every minute of the hour is looked up on the site's wall clock, so that offsets of :30 or :45
    and days of 23 or 25 hours need no rule of their own.
    """
    # "Crew hours, daylight and days are the site's local clock (IANA zone)"
    if crew is None:
        return "any"
    zone = ZoneInfo(crew["zone"])
    opens, closes = minute_of_day(crew["start"]), minute_of_day(crew["end"])
    days = set()
    for minute in range(60):
        local = (start + timedelta(minutes=minute)).astimezone(zone)
        now, day = 60 * local.hour + local.minute, local.date()
        if opens < closes:
            inside = opens <= now < closes
        else:  # crosses midnight, and belongs to the day on which it starts
            inside = now >= opens or now < closes
            if now < opens:
                day -= timedelta(days=1)
        if not inside or day.weekday() not in crew["weekdays"] or day in crew["holidays"]:
            return None
        days.add(day)
    return days.pop() if len(days) == 1 else None


def minute_of_day(clock):
    """Minutes after midnight of "07:00"."""
    hours, minutes = clock.split(":")
    return 60 * int(hours) + int(minutes)


def runs(hour, shifts, wanted):
    """Maximal runs [first, after) of hours in the wanted states, each within one shift."""
    found, first = [], None
    for k in range(len(hour) + 1):
        inside = k < len(hour) and hour[k] in wanted
        if first is not None and (not inside or shifts[k] != shifts[first]):
            found.append((first, k))
            first = None
        if inside and first is None:
            first = k
    return found

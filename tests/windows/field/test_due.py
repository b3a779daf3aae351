"""Readings due, against days worked by hand and against a plain loop that shares no code."""

import time
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from windows.field.due import due
from windows.log.entries import OCCASIONS, Entry, Note, Placement, Reading

NEW_YORK = ZoneInfo("America/New_York")
LATER = datetime(2027, 1, 1, tzinfo=UTC)
WHOLE = {"air_temp_c": 20.0, "surface_temp_c": 22.0, "rel_humidity": 0.5}


def at(text, month=6, fold=0):
    """Return "8 10:30" of June 2026 by the clock of New York, as UTC."""
    day, clock = text.split()
    hour, minute = map(int, clock.split(":"))
    local = datetime(2026, month, int(day), hour, minute, tzinfo=NEW_YORK, fold=fold)
    return local.astimezone(UTC)


def entry(number, body):
    return Entry(number, body.at, "A", None, body, "0" * 64, "0" * 64)


def placed(number, start, end, section="north", layer="base"):
    start, end = (at(each) if isinstance(each, str) else each for each in (start, end))
    return entry(
        number, Placement(at=start, end=end, section=section, layer=layer, area_m2=10.0)
    )


def read(number, when, section="", **values):
    when = at(when) if isinstance(when, str) else when
    return entry(number, Reading(at=when, section=section, **(values or WHOLE)))


def asked(placements, readings=(), now=LATER, **more):
    """Return what is due as text: "finish 16:30-17:30 north 7", "-" where not met."""
    return [
        f"{d.what} {d.start.astimezone(NEW_YORK):%H:%M}-{d.end.astimezone(NEW_YORK):%H:%M} "
        f"{d.section} {d.met_by or ('coming' if d.coming else 'overdue' if d.overdue else 'now')}"
        for d in due(placements, readings, zone=NEW_YORK, now=now, **more)
    ]


def test_a_day_on_one_section():
    # 08:00 to 17:00: before it, at 12:00 and 16:00, at the end
    day = [placed(1, "8 08:00", "8 17:00")]
    assert asked(day) == [
        "before start 07:00-08:00 north overdue",
        "every 4 hours 11:30-12:30 north overdue",
        "every 4 hours 15:30-16:30 north overdue",
        "finish 16:30-17:30 north overdue",
    ]
    readings = [
        read(2, "8 07:00"), read(3, "8 12:30"), read(4, "8 15:29"), read(5, "8 16:30"),
    ]  # fmt: skip
    assert asked(day, readings) == [
        "before start 07:00-08:00 north 2",
        "every 4 hours 11:30-12:30 north 3",
        "every 4 hours 15:30-16:30 north 5",
        "finish 16:30-17:30 north 5",
    ]


def test_every_occasion_is_one_of_the_log():
    day = [
        placed(1, "8 07:00", "8 09:00"), placed(2, "8 09:00", "8 11:00", "south"),
        placed(3, "8 12:30", "8 16:00", "south"),
    ]  # fmt: skip
    told = asked(day)
    assert told == [
        "before start 06:00-07:00 north overdue",
        "change 08:30-09:30 south overdue",
        # 11:00 is the end of a piece of work and not inside the stop
        "every 4 hours 10:30-11:30 south overdue",
        "after a stop 12:00-13:00 south overdue",
        "every 4 hours 14:30-15:30 south overdue",
        "finish 15:30-16:30 south overdue",
    ]
    assert {each.what for each in due(day, [], zone=NEW_YORK, now=LATER)} <= set(OCCASIONS)


def test_an_hour_is_a_pause_and_more_is_a_stop_in_which_nothing_is_due():
    def told(begins):
        return asked([placed(1, "8 08:00", "8 11:30"), placed(2, begins, "8 15:00")])

    assert [each.split(" north")[0] for each in told("8 12:30")] == [
        "before start 07:00-08:00", "every 4 hours 11:30-12:30", "finish 14:30-15:30",
    ]  # fmt: skip
    assert [each.split(" north")[0] for each in told("8 12:31")] == [
        "before start 07:00-08:00", "after a stop 12:01-13:01", "finish 14:30-15:30",
    ]  # fmt: skip


def test_work_of_four_hours_has_no_mark_and_one_at_a_change_is_that_of_what_begins():
    assert [each.split()[0] for each in asked([placed(1, "8 08:00", "8 12:00")])] == [
        "before", "finish",
    ]  # fmt: skip
    day = [placed(1, "8 08:00", "8 12:00"), placed(2, "8 12:00", "8 14:00", "south")]
    assert [each for each in asked(day) if each.startswith("every")] == [
        "every 4 hours 11:30-12:30 south overdue"
    ]


def test_in_a_pause_a_reading_is_due_where_work_was_last():
    day = [
        placed(1, "8 08:00", "8 11:55"), placed(2, "8 09:00", "8 10:00", "south"),
        placed(3, "8 12:30", "8 13:00", "south"),
    ]  # fmt: skip
    assert "every 4 hours 11:30-12:30 north overdue" in asked(day)


def test_one_reading_is_asked_for_once_and_the_first_one_meets_it():
    four = [placed(n, "8 08:00", "8 10:00", ("north", "south")[n % 2]) for n in range(1, 5)]
    told = asked(four)
    assert len(told) == len(set(told)) == 4
    day = [placed(1, "8 08:00", "8 10:00")]
    early, late = "8 07:10", "8 07:50"
    for first, then in (("", "north"), ("north", "")):
        readings = [read(5, late, then), read(6, early, first), read(7, early, then)]
        assert asked(day, readings)[0] == "before start 07:00-08:00 north 6"


def test_a_layer_on_the_same_section_is_a_change():
    day = [placed(1, "8 08:00", "8 09:00"), placed(2, "8 09:30", "8 11:00", layer="top")]
    assert [(d.what, d.layer) for d in due(day, [], zone=NEW_YORK, now=LATER)] == [
        ("before start", "base"), ("change", "top"), ("finish", "top"),
    ]  # fmt: skip


def test_two_crews_read_where_each_of_them_works():
    day = [placed(1, "8 08:00", "8 13:00"), placed(2, "8 08:00", "8 13:00", "south")]
    told = asked(day, [read(3, "8 12:00", "south")])
    assert [each for each in told if each.startswith("every")] == [
        "every 4 hours 11:30-12:30 north overdue", "every 4 hours 11:30-12:30 south 3",
    ]  # fmt: skip


def test_a_reading_counts_on_its_section_or_without_one():
    day = [placed(1, "8 08:00", "8 10:00")]
    for section, met in (("", True), ("north", True), ("south", False)):
        [before, _] = due(day, [read(2, "8 07:30", section)], zone=NEW_YORK, now=LATER)
        assert (before.met_by == 2) is met


@pytest.mark.parametrize(
    ("values", "counts"),
    [
        (WHOLE, True),
        ({"air_temp_c": 20.0, "surface_temp_c": 22.0, "dew_point_c": 9.0}, True),
        ({"air_temp_c": 20.0, "rel_humidity": 0.5}, False),
        ({"surface_temp_c": 22.0, "dew_point_c": 9.0}, False),
        ({"air_temp_c": 20.0, "surface_temp_c": 22.0, "wind_m_s": 1.0}, False),
    ],
)
def test_a_reading_counts_if_it_tells_a_spread(values, counts):
    day = [placed(1, "8 08:00", "8 10:00")]
    [before, _] = due(day, [read(2, "8 07:30", **values)], zone=NEW_YORK, now=LATER)
    assert (before.met_by == 2) is counts


def test_what_comes_is_coming_and_what_is_over_is_overdue():
    day = [placed(1, "8 08:00", "8 17:00")]
    told = asked(day, now=at("8 12:30"))
    assert told == [
        "before start 07:00-08:00 north overdue",
        "every 4 hours 11:30-12:30 north now",
        "every 4 hours 15:30-16:30 north coming",
        "finish 16:30-17:30 north coming",
    ]
    assert asked(day, now=at("8 12:31"))[1] == "every 4 hours 11:30-12:30 north overdue"
    assert asked(day, now=at("8 15:30"))[2] == "every 4 hours 15:30-16:30 north now"
    assert asked(day, [read(2, "8 12:00")], now=at("8 11:00"))[1].endswith("north 2")


def test_a_day_alone():
    work = [placed(1, "8 08:00", "8 10:00"), placed(2, "9 08:00", "9 10:00")]
    assert {d.day for d in due(work, [], zone=NEW_YORK, now=LATER)} == {
        date(2026, 6, 8), date(2026, 6, 9),
    }  # fmt: skip
    [before, finish] = due(work, [], zone=NEW_YORK, now=LATER, day=date(2026, 6, 9))
    assert (before.day, finish.day) == (date(2026, 6, 9),) * 2
    assert due(work, [], zone=NEW_YORK, now=LATER, day=date(2026, 6, 10)) == ()
    assert due([], [read(1, "8 08:00")], zone=NEW_YORK, now=LATER) == ()
    note = entry(3, Note(at=at("8 08:00"), note="no work"))
    assert due([note], [note], zone=NEW_YORK, now=LATER) == ()


def test_the_day_is_that_of_the_site():
    # 21:00 in New York is 01:00 of the next day in UTC
    [before, *_] = due([placed(1, "8 21:00", "8 23:00")], [], zone=NEW_YORK, now=LATER)
    assert before.day == date(2026, 6, 8)


def test_work_past_midnight_belongs_to_the_day_on_which_it_began():
    night = [placed(1, "8 22:00", "8 23:50"), placed(2, "9 00:10", "9 03:00")]
    assert asked(night) == [
        "before start 21:00-22:00 north overdue",
        "every 4 hours 01:30-02:30 north overdue",
        "finish 02:30-03:30 north overdue",
    ]
    assert {d.day for d in due(night, [], zone=NEW_YORK, now=LATER)} == {date(2026, 6, 8)}
    assert len(asked([placed(1, "8 22:00", "8 23:30"), placed(2, "9 00:30", "9 01:00")])) == 2
    assert len(asked([placed(1, "8 22:00", "8 23:30"), placed(2, "9 00:31", "9 01:00")])) == 4
    beside = [placed(4, "8 22:10", "8 22:20"), placed(2, "9 00:30", "9 01:00")]
    assert len(asked([placed(1, "8 22:00", "8 23:30"), *beside])) == 2
    morning = placed(3, "9 08:00", "9 09:00")
    days = [d.day.day for d in due([*night, morning], [], zone=NEW_YORK, now=LATER)]
    assert days == [8, 8, 8, 9, 9]


@pytest.mark.parametrize(
    ("month", "day", "clock"),
    # 00:00 and 4 hours: 05:00 where the clock skips an hour, 03:00 where it has one twice
    [(3, 8, "05:00"), (11, 1, "03:00"), (6, 8, "04:00")],
)
def test_four_hours_pass_on_days_of_23_and_25_hours(month, day, clock):
    work = [placed(1, at(f"{day} 00:00", month), at(f"{day} 08:00", month))]
    told = [d for d in due(work, [], zone=NEW_YORK, now=LATER) if d.what == "every 4 hours"]
    mark = told[0].start + timedelta(minutes=30)
    assert f"{mark.astimezone(NEW_YORK):%H:%M}" == clock
    assert mark - work[0].at == timedelta(hours=4)
    assert {d.day for d in told} == {date(2026, month, day)}


# Against a plain loop.


def minutes(moment):
    return round(moment.timestamp() / 60)


def plain_days(placements):
    """Return (start, number, end, section, layer, local day) of each placement, day by day."""
    work = sorted(
        (minutes(e.body.at), e.number, minutes(e.body.end), e.body.section, e.body.layer,
         e.body.at.astimezone(NEW_YORK).date())
        for e in placements
    )  # fmt: skip
    days = []
    for each in work:
        before = [x for day in days for x in day]
        on = before and (each[5] == days[-1][0][5] or each[0] - max(x[2] for x in before) <= 60)
        if on:
            days[-1].append(each)
        else:
            days.append([each])
    return days


def plain_times(day):
    """Return (what, section, layer, start, end) of a day, in minutes since the epoch."""
    first, end = day[0], max(x[2] for x in day)
    last = next(x for x in day if x[2] == end)
    found = {
        ("before start", first[3], first[4], first[0] - 60, first[0]),
        ("finish", last[3], last[4], end - 30, end + 30),
    }
    busy = set(range(first[0], first[2] + 1))  # minutes that are no stop
    for n, x in enumerate(day[1:], start=1):
        until = max(y[2] for y in day[:n])
        busy |= set(range(x[0], x[2] + 1))
        if x[0] - until > 60:
            found.add(("after a stop", x[3], x[4], x[0] - 30, x[0] + 30))
        else:
            busy |= set(range(until, x[0] + 1))
        if (x[3], x[4]) != (day[n - 1][3], day[n - 1][4]):
            found.add(("change", x[3], x[4], x[0] - 30, x[0] + 30))
    for mark in range(first[0] + 240, end, 240):
        there = {x[3]: x for x in day if x[0] <= mark < x[2]}
        if not there:
            gone = [x for x in day if x[2] <= mark]
            there = {0: next(x for x in gone if x[2] == max(y[2] for y in gone))}
        if mark in busy:
            found |= {("every 4 hours", x[3], x[4], mark - 30, mark + 30) for x in there.values()}
    return found


def tells_a_spread(body):
    moist = body.rel_humidity is not None or body.dew_point_c is not None
    return moist and body.air_temp_c is not None and body.surface_temp_c is not None


def plain(placements, readings, now):
    """Return what is due, each with the number that meets it, overdue and coming, by loops."""
    told = []
    in_order = sorted(readings, key=lambda e: (e.body.at, e.number))
    for day in plain_days(placements):
        for what, section, layer, start, end in plain_times(day):
            met = None
            for e in in_order:
                there = e.body.section in ("", section) and start <= minutes(e.body.at) <= end
                if met is None and there and tells_a_spread(e.body):
                    met = e.number
            open_ = met is None
            told.append(
                (what, section, layer, start, end, met, open_ and minutes(now) > end,
                 open_ and minutes(now) < start)
            )  # fmt: skip
    return sorted(told, key=str)


def as_plain(found):
    return sorted(
        (
            (d.what, d.section, d.layer, round(d.start.timestamp() / 60),
             round(d.end.timestamp() / 60), d.met_by, d.overdue, d.coming)
            for d in found
        ),
        key=str,
    )  # fmt: skip


START = datetime(2026, 10, 31, 10, tzinfo=UTC)  # the clock of New York goes back on the next day
SOON = st.integers(0, 60 * 60).map(lambda minutes: START + timedelta(minutes=minutes))
PLACEMENTS = st.lists(
    st.tuples(
        SOON, st.integers(1, 600), st.sampled_from(["north", "south"]),
        st.sampled_from(["base", "top"]),
    ),
    max_size=6,
)  # fmt: skip
READINGS = st.lists(
    st.tuples(
        SOON, st.sampled_from(["", "north", "south", "west"]),
        st.sampled_from([WHOLE, {"air_temp_c": 20.0, "surface_temp_c": 5.0}]),
    ),
    max_size=40,
)  # fmt: skip


def entries(placements, readings):
    return (
        [
            placed(n, start, start + timedelta(minutes=length), section, layer)
            for n, (start, length, section, layer) in enumerate(placements, start=1)
        ],
        [
            read(n, when, section, **values)
            for n, (when, section, values) in enumerate(readings, start=1000)
        ],
    )


@given(PLACEMENTS, READINGS, SOON)
def test_against_a_plain_loop(outside, placements, readings, now):
    laid, taken = entries(placements, readings)
    outside.equal(
        "readings due, random days on which the clock goes back",
        as_plain(due(laid, taken, zone=NEW_YORK, now=now)), plain(laid, taken, now),
        source="a plain loop",
    )  # fmt: skip


@given(PLACEMENTS, READINGS, READINGS, SOON)
def test_more_readings_leave_no_more_unmet(placements, readings, more, now):
    laid, taken = entries(placements, readings + more)
    some = due(laid, taken[: len(readings)], zone=NEW_YORK, now=now)
    every = due(laid, taken, zone=NEW_YORK, now=now)
    assert len(some) == len(every)
    for one, other in zip(some, every, strict=True):
        assert (one.what, one.start, one.end) == (other.what, other.start, other.end)
        assert one.met_by is None or other.met_by is not None
        assert other.overdue <= one.overdue


def test_a_hundred_thousand_readings_are_quick():
    first = at("8 00:00")
    readings = [read(n, first + timedelta(minutes=5 * n), n % 2 * "north") for n in range(1, 500)]
    readings *= 200
    laid = [
        placed(n, first + timedelta(days=n, hours=8), first + timedelta(days=n, hours=17))
        for n in range(200)
    ]
    begun = time.perf_counter()
    found = due(laid, readings, zone=NEW_YORK, now=LATER)
    assert time.perf_counter() - begun < 2.0  # 0.2 s on one core; shared machines are slow
    assert len(found) == 800

"""The plan as a calendar file: what a calendar program reads from it, now and the next time."""

import io
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from damage import damaged
from dateutil.tz import tzical
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from windows.errors import OutputError
from windows.plan import Figures, Placement, Plan
from windows.reports.calendar_file import plan_calendar
from windows.reports.wording import Wording
from windows.safety import GOVERNS

NEW_YORK = ZoneInfo("America/New_York")
NOW = pd.Timestamp("2026-05-01 12:00", tz="UTC")
FIGURES = Figures(0, 0, None, 0.0, 0.0, 0, 0, 0, 0, 0, 0.0)
HOUR = pd.Timedelta(hours=1)


def placement(start="2026-05-04 11:00", hours=6.0, due=None, **other):
    begin = pd.Timestamp(start, tz="UTC")
    told = {
        "piece": "A",
        "section": "A",
        "area_m2": 500.0,
        "layer": 0,
        "layer_name": "base",
        "coating": "acrylic",
        "opens": None,
        "spare": None,
    } | other
    return Placement(
        shift=begin.date(),
        start=begin,
        end=begin + hours * HOUR,
        due=None if due is None else pd.Timestamp(due, tz="UTC"),
        **told,
    )


def plan(*placements):
    return Plan("cheapest", placements, (), FIGURES, None)


def written(*placements, before=None, now=NOW, project="Roof", zone=NEW_YORK, issued="now"):
    """Write a calendar by a forecast of that moment, unless another is given, None if unknown."""
    issued = now if isinstance(issued, str) else issued
    return plan_calendar(
        plan(*placements),
        project=project,
        zone=zone,
        now=now,
        issued=issued,
        before=before,
        words=Wording("us"),
    )


def events(content):
    return list(Calendar.from_ical(content).walk("VEVENT"))


def only(content):
    (event,) = events(content)
    return event


def number_and_status(content):
    event = only(content)
    return int(event["SEQUENCE"]), str(event["STATUS"])


def times(event):
    """Return start and end in UTC: in a zone, an hour told twice equals none (PEP 495)."""
    return event.start.astimezone(UTC), event.end.astimezone(UTC)


def unfolded(content):
    return content.decode().replace("\r\n ", "").split("\r\n")


# ------------------------------------------------------------------------------ one calendar


def test_a_placement_is_an_event_at_the_site_s_time():
    content = written(placement(opens=pd.Timestamp("2026-05-04 22:00", tz="UTC")))
    event = only(content)
    assert event["SUMMARY"] == "base on A (acrylic)"
    assert (event.start, event.end) == (
        datetime(2026, 5, 4, 7, tzinfo=NEW_YORK),
        datetime(2026, 5, 4, 13, tzinfo=NEW_YORK),
    )
    assert event["DTSTART"].params["TZID"] == "America/New_York"
    assert event["TRANSP"] == "OPAQUE"
    assert event["DTSTAMP"].dt == NOW
    assert str(event["DESCRIPTION"]).split("\n") == [
        "Layer 1: base (acrylic) on A",
        "Section: A",
        "Area: 5382 ft²",
        "Next layer and foot traffic from: Mon May 4 18:00",
        "Cover by: no deadline known",
        "Forecast issued: Fri May 1 08:00",
        GOVERNS,
    ]


def test_the_calendar_says_what_it_is():
    calendar = Calendar.from_ical(written(placement()))
    assert {name: str(calendar[name]) for name in calendar} == {
        "VERSION": "2.0",
        "PRODID": "-//dewgap//plan//EN",
        "CALSCALE": "GREGORIAN",
        "NAME": "Roof",
    }


def test_a_plan_without_placements_is_a_calendar_without_events():
    assert events(written()) == []


def test_words_are_in_the_site_s_time_whatever_the_reader_s():
    event = only(written(placement(), zone=ZoneInfo("Europe/Berlin"), issued=None))
    assert "Forecast issued: not known" in event["DESCRIPTION"]
    assert "start Mon May 4 13:00" in event.subcomponents[0]["DESCRIPTION"]


def test_a_deadline_is_a_moment_of_its_own_that_takes_no_time():
    work, deadline = events(written(placement(due="2026-05-06 18:00")))
    assert deadline["SUMMARY"] == "deadline: cover base on A"
    assert "DTEND" not in deadline
    assert deadline.start == deadline.end == datetime(2026, 5, 6, 14, tzinfo=NEW_YORK)
    assert deadline["TRANSP"] == "TRANSPARENT"
    assert deadline["UID"] != work["UID"]
    assert "Cover by: Wed May 6 14:00" in work["DESCRIPTION"]


def test_alarms_ring_before_the_start():
    work, deadline = events(written(placement(due="2026-05-06 18:00")))
    for event, hours in ((work, [14]), (deadline, [24, 4])):
        alarms = event.walk("VALARM")
        assert [alarm["TRIGGER"].dt for alarm in alarms] == [timedelta(hours=-h) for h in hours]
        assert all(alarm["ACTION"] == "DISPLAY" for alarm in alarms)
        assert all("RELATED" not in alarm["TRIGGER"].params for alarm in alarms)  # START
    assert work.walk("VALARM")[0]["DESCRIPTION"] == (
        "confirm or call off base on A (acrylic), start Mon May 4 07:00"
    )
    assert deadline.walk("VALARM")[0]["DESCRIPTION"] == (
        "deadline: cover base on A by Wed May 6 14:00"
    )


@pytest.mark.parametrize(
    ("start", "status"),
    [
        ("2026-05-01 11:00", "CONFIRMED"),
        ("2026-05-02 12:00", "CONFIRMED"),
        ("2026-05-02 12:01", "TENTATIVE"),
    ],
)
def test_what_starts_within_a_day_is_confirmed(start, status):
    assert number_and_status(written(placement(start))) == (0, status)


NAMES = [
    'A "north" <b>1</b>, of 2; see \\n and C:\\new',
    "line one\nline two",
    "屋根 🏠👩‍👩‍👧 é",
    "x" * 300,
    " lead and trail\t",
    "🏗️" * 60,
    "END:VEVENT\nBEGIN:VALARM",
    "",
]


@pytest.mark.parametrize("name", NAMES)
def test_names_come_back_as_they_were(name):
    content = written(
        placement(piece=name, section=name, layer_name=name, coating=name), project=name
    )
    assert only(content)["SUMMARY"] == f"{name} on {name} ({name})"
    as_text = content.replace(b"\r\nNAME:", b"\r\nDESCRIPTION:")  # icalendar 7.3 leaves NAME raw
    assert Calendar.from_ical(as_text)["DESCRIPTION"] == name
    check_form(content)


def test_control_characters_cannot_break_a_line():
    content = written(placement(piece="a\rb\x85c\x00d\x0be\u2028f\ud800"))
    assert only(content)["SUMMARY"] == "base on a\nb\nc\ufffdd\ne\nf\ufffd (acrylic)"
    check_form(content)


def check_form(content):
    """Check what RFC 5545 asks of every file: lines, UID, DTSTAMP and time zones."""
    assert content.endswith(b"END:VCALENDAR\r\n")
    lines = content.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert not any(b"\r" in line or b"\n" in line for line in lines)
    for line in lines:
        line.decode()  # no character is cut by a fold
    calendar = Calendar.from_ical(content)
    told = calendar.walk("VEVENT")
    assert all(event["UID"] for event in told)
    stamps = [line for line in unfolded(content) if line.startswith("DTSTAMP")]
    assert len(stamps) == len(told)
    assert all(re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", stamp) for stamp in stamps)
    assert len({event["UID"] for event in told}) == len(told)
    named = (re.match(r"[A-Z-]+;TZID=([^:;]+):", line) for line in unfolded(content))
    used = {found[1] for found in named if found}
    assert used == {str(zone["TZID"]) for zone in calendar.walk("VTIMEZONE")}
    assert not any(component.errors for component in calendar.walk())


# ------------------------------------------------------------------------------------ clocks


def test_offsets_are_right_on_both_sides_of_a_change_of_clocks():
    days = ("2026-10-31 12:00", "2026-11-01 12:00", "2026-11-02 12:00")
    content = written(*(placement(day, piece=day) for day in days))
    told = events(content)
    assert [event.start for event in told] == [pd.Timestamp(day, tz="UTC") for day in days]
    assert [event.start.utcoffset() / timedelta(hours=1) for event in told] == [-4, -5, -5]
    assert "DTSTART;TZID=America/New_York:20261031T080000" in unfolded(content)
    assert "DTSTART;TZID=America/New_York:20261101T070000" in unfolded(content)


@pytest.mark.parametrize("start", ["2026-11-01 05:30", "2026-11-01 06:30", "2026-11-01 04:30"])
def test_an_hour_that_comes_twice_is_told_so_that_it_is_one(start):
    content = written(placement(start, hours=1))
    begin = datetime.fromisoformat(start).replace(tzinfo=UTC)
    (work,) = events(content)
    assert work.start.astimezone(UTC) == begin
    assert work.end.astimezone(UTC) == begin + timedelta(hours=1)
    check_form(content)
    assert written(placement(start, hours=1), before=content) == content


def test_a_deadline_that_comes_twice_is_one_moment():
    due = "2026-11-01 06:30"
    _, deadline = events(written(placement("2026-10-31 11:00", due=due)))
    assert deadline.start.astimezone(UTC) == datetime.fromisoformat(due).replace(tzinfo=UTC)


def test_a_deadline_of_the_same_day_is_no_event():
    # The next layer is planned for that day as well, as on foam.
    assert len(events(written(placement("2026-05-04 11:00", due="2026-05-04 23:00")))) == 1


def test_no_alarm_rings_before_the_layer_lies_there():
    # Laid until 17:00; 24 h before the deadline it was not there yet, 4 h before it was.
    _, deadline = events(written(placement("2026-05-04 11:00", due="2026-05-05 12:00")))
    assert [alarm["TRIGGER"].dt for alarm in deadline.walk("VALARM")] == [timedelta(hours=-4)]


DAY = timedelta(days=1)
ZONES = [
    "America/New_York",
    "Europe/Dublin",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "Africa/Casablanca",
    "America/Santiago",
    "America/Phoenix",
    "Pacific/Chatham",
    "UTC",
]


@pytest.mark.parametrize("name", ZONES)
def test_the_file_s_own_rules_of_the_zone_are_those_of_the_zone(name):
    """Read by dateutil from the file alone; twice-told hours apart, the two agree.

    Every half hour of the days around a change of the clock, and every seventh hour of the others.
    """
    zone = ZoneInfo(name)
    content = written(
        placement("2026-01-03 12:00"), placement("2026-12-28 12:00", piece="B"), zone=zone
    )
    check_form(content)
    if name == "UTC":
        assert b"VTIMEZONE" not in content
        return
    told = tzical(io.StringIO(content.decode().replace("\r\n", "\n"))).get(name)
    moment = datetime(2025, 12, 31, tzinfo=UTC)
    while moment < datetime(2027, 12, 31, tzinfo=UTC):
        local = moment.astimezone(zone)
        if not local.fold:
            naive = local.replace(tzinfo=None)
            assert naive.replace(tzinfo=told).utcoffset() == local.utcoffset(), moment
        offsets = {(moment + n * DAY).astimezone(zone).utcoffset() for n in (-1, 0, 1)}
        moment += timedelta(minutes=30) if len(offsets) > 1 else timedelta(hours=7)


# ------------------------------------------------------------------------- the file again


def test_the_uid_is_of_project_piece_and_layer():
    def uid(project="Roof", **told):
        return str(only(written(placement(**told), project=project))["UID"])

    assert re.fullmatch("[0-9a-f]{16}-[0-9a-f]{32}@dewgap", uid())
    assert uid() == uid(start="2026-06-01 11:00", coating="silicone", layer_name="first")
    assert len({uid(), uid("Other"), uid(piece="B"), uid(layer=1), uid(piece="A0")}) == 5


def test_a_move_keeps_the_uid_and_raises_the_number_by_one():
    first = written(placement())
    for moved in (placement("2026-05-05 11:00"), placement(hours=7)):
        second = written(moved, before=first)
        assert only(second)["UID"] == only(first)["UID"]
        assert number_and_status(second) == (1, "TENTATIVE")


def test_nothing_new_is_the_same_file():
    args = placement(due="2026-05-06 18:00"), placement(piece="B, <🏠>\n")
    first = written(*args)
    assert written(*args, before=first) == first
    later = written(*args, before=first, now=NOW + HOUR, issued=NOW)
    assert later != first
    stamps = re.compile(rb"DTSTAMP:.*\r\n")
    assert stamps.sub(b"", later) == stamps.sub(b"", first)


def test_new_words_change_the_time_of_modification_only():
    first = written(placement())
    second = written(placement(), before=first, now=NOW + HOUR, issued=NOW + HOUR)
    assert number_and_status(second) == (0, "TENTATIVE")
    assert only(second)["LAST-MODIFIED"].dt == NOW + HOUR


def test_a_change_of_status_alone_raises_the_number():
    first = written(placement())
    second = written(placement(), before=first, now=pd.Timestamp("2026-05-03 12:00", tz="UTC"))
    assert number_and_status(second) == (1, "CONFIRMED")
    moved = written(placement("2026-05-08 11:00"), before=second, now=NOW)
    assert number_and_status(moved) == (2, "TENTATIVE")


def test_what_is_no_longer_planned_is_cancelled_once_and_comes_back():
    first = written(placement(due="2026-05-06 18:00"))
    gone = written(before=first, now=NOW + HOUR)
    for event, old in zip(events(gone), events(first), strict=True):
        assert (int(event["SEQUENCE"]), str(event["STATUS"])) == (1, "CANCELLED")
        assert (event["UID"], event.start, event.end) == (old["UID"], old.start, old.end)
        assert (event["SUMMARY"], event["DESCRIPTION"]) == (old["SUMMARY"], old["DESCRIPTION"])
        assert event["TRANSP"] == "TRANSPARENT"
        assert event.walk("VALARM") == []
    check_form(gone)
    assert written(before=gone, now=NOW + HOUR) == gone
    still = written(before=gone, now=NOW + 2 * HOUR)
    assert [int(event["SEQUENCE"]) for event in events(still)] == [1, 1]
    assert [event["LAST-MODIFIED"].dt for event in events(still)] == [NOW + HOUR] * 2
    back = written(placement(due="2026-05-06 18:00"), before=still)
    assert [(int(e["SEQUENCE"]), str(e["STATUS"])) for e in events(back)] == [(2, "TENTATIVE")] * 2


def test_a_deadline_that_vanishes_is_cancelled_and_the_work_is_not():
    first = written(placement(due="2026-05-06 18:00"))
    work, deadline = events(written(placement(), before=first))
    assert (work["STATUS"], int(work["SEQUENCE"])) == ("TENTATIVE", 0)
    assert (deadline["STATUS"], int(deadline["SEQUENCE"])) == ("CANCELLED", 1)


def test_what_has_passed_is_dropped_unless_planned_and_its_number_goes_on():
    first = written(placement("2026-05-04 11:00"))
    moved = written(placement("2026-05-05 11:00"), before=first)
    at_end = pd.Timestamp("2026-05-05 17:00", tz="UTC")
    assert number_and_status(written(before=moved, now=at_end)) == (2, "CANCELLED")
    later = at_end + HOUR
    assert number_and_status(written(placement("2026-05-05 11:00"), before=moved, now=later)) == (
        2,
        "CONFIRMED",
    )
    gone = written(before=moved, now=later)
    assert events(gone) == []
    assert b"VTIMEZONE" not in gone
    for _ in range(2):
        gone = written(placement(piece="B"), before=gone, now=later)
    back = written(placement("2026-05-09 11:00"), before=gone, now=later)
    assert int(events(back)[0]["SEQUENCE"]) == 2
    assert back.count(b"X-DEWGAP-LAST-SEQUENCE:1 ") == 0
    assert back.count(b"X-DEWGAP-LAST-SEQUENCE:0 ") == 1  # B's


def test_other_projects_and_other_programs_are_left_out():
    other = written(placement(), project="Other")
    foreign = written(placement()).replace(b"-//dewgap//plan//EN", b"-//Someone//else//EN")
    without = re.sub(rb"UID:(.*\r\n )*.*\r\n", b"", written(placement()))
    for before in (other, foreign, without):
        assert written(before=before) == written()
    assert number_and_status(written(placement("2026-05-09 11:00"), before=other)) == (
        0,
        "TENTATIVE",
    )


def test_a_uid_told_twice_counts_once_with_its_highest_number():
    first = written(placement())
    second = written(placement("2026-05-05 11:00"), before=first)
    assert number_and_status(written(placement(), before=second + first)) == (2, "TENTATIVE")


def test_a_zone_that_changes_its_name_only_is_no_move():
    first = written(placement())
    second = written(placement(), before=first, zone=ZoneInfo("US/Eastern"))
    assert number_and_status(second) == (0, "TENTATIVE")
    check_form(second)
    gone = written(before=first, zone=ZoneInfo("Europe/Berlin"))
    assert only(gone).start == only(first).start
    check_form(gone)


# ------------------------------------------------------------------------ damaged files


def refused(before):
    with pytest.raises(OutputError) as caught:
        written(placement(), before=before)
    text = str(caught.value)
    assert text.startswith("the calendar file written before ")
    assert "\n" not in text
    assert "put back" in text
    return text


@pytest.mark.parametrize(
    "before", [b"", b"\r\n", b"hello", b"\xff\xfe\x00", b"BEGIN:VEVENT\r\nEND:VEVENT\r\n", b"END:X"]
)
def test_what_is_no_calendar_is_refused_in_a_sentence(before):
    assert "calendar (RFC 5545)" in refused(before)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (b"SEQUENCE:0", b"SEQUENCE:many", "SEQUENCE"),
        (b"SEQUENCE:0", b"SEQUENCE:-3", "SEQUENCE"),
        (b"SEQUENCE:0", b"SEQUENCE:2147483648", "SEQUENCE"),
        (b"SEQUENCE:0", b"SEQUENCE:" + b"9" * 5000, "SEQUENCE"),
        (b"SEQUENCE:0", b"SEQUENCE:1\r\nSEQUENCE:2", "SEQUENCE"),
        (b"DTSTART;TZID=America/New_York:20260504T070000", b"X-A:1", "no DTSTART"),
        (b"DTSTART;TZID=America/New_York:20260504T070000", b"DTSTART:20260504T070000", "DTSTART"),
        (b"20260504T070000", b"20260504T990000", "DTSTART"),
        (b"20260504T070000", b"99990504T070000", "DTSTART"),
        (b"DTSTART;TZID=America/New_York:20260504T070000", b"DTSTART:00010101T000000Z", "DTSTART"),
        # A name that no other test defines: icalendar keeps the zones that it has read of any file.
        (b"DTSTART;TZID=America/New_York", b"DTSTART;TZID=Never/Told", "DTSTART"),
        (b"20260504T130000", b"20260503T130000", "DTEND before DTSTART"),
        (b"LAST-MODIFIED:2026", b"LAST-MODIFIED:x", "LAST-MODIFIED"),
    ],
)
def test_a_damaged_event_is_refused_by_its_uid(old, new, told):
    first = written(placement())
    assert old in first
    text = refused(first.replace(old, new, 1))
    assert told in text
    assert str(only(first)["UID"]) in text


def test_a_number_that_was_not_written_is_0():
    before = written(placement()).replace(b"SEQUENCE:0\r\n", b"")
    assert number_and_status(written(placement(hours=7), before=before)) == (1, "TENTATIVE")


@pytest.mark.parametrize("rule", [b"RRULE:FREQ=SECONDLY", b"RR\r\n ULE:FREQ=SECONDLY"])
def test_a_rule_without_end_does_not_hold_up_the_writing(rule):
    first = written(placement(), issued=None)
    endless = first.replace(b"America/New_York", b"Own").replace(b"TZNAME", rule + b"\r\nTZNAME")
    assert number_and_status(written(placement(hours=7), before=endless)) == (1, "TENTATIVE")


def survives(before):
    """Write with a file of any bytes: it is taken, or refused in a sentence."""
    try:
        content = written(placement("2026-05-05 11:00"), before=before)
    except OutputError:
        refused(before)
    else:
        check_form(content)


WHOLE = written(
    placement("2026-05-09 11:00"),
    before=written(
        placement("2026-05-02 11:00", layer=1), placement(due="2026-05-06 18:00"), now=NOW
    ),
    now=pd.Timestamp("2026-05-03 12:00", tz="UTC"),
)


def test_a_file_that_breaks_off_is_refused():
    assert b"X-DEWGAP-LAST-SEQUENCE" in WHOLE
    assert b"CANCELLED" in WHOLE
    for length in range(0, WHOLE.rindex(b"END:VCALENDAR"), 7):
        refused(WHOLE[:length])


@given(st.binary(max_size=200))
def test_any_bytes_are_taken_or_refused(content):
    survives(content)


@settings(deadline=None)
@given(st.data())
def test_any_damage_is_taken_or_refused(data):
    survives(damaged(data, WHOLE))


@settings(deadline=None)
@given(st.data())
def test_any_lines_lost_doubled_or_swapped_are_taken_or_refused(data):
    lines = WHOLE.split(b"\r\n")
    order = data.draw(st.lists(st.integers(0, len(lines) - 1), max_size=2))
    for at in order:
        lines.insert(data.draw(st.integers(0, len(lines))), lines[at])
    del lines[data.draw(st.integers(0, len(lines) - 1))]
    survives(b"\r\n".join(lines))


# -------------------------------------------------------------------------- any sequence

MINUTES = st.integers(0, 60 * 24 * 400)


@st.composite
def plans(draw):
    """Return some of the layers of two pieces, each at any minute, and the time of writing."""
    begin = pd.Timestamp("2026-03-01", tz="UTC")
    keys = draw(st.sets(st.sampled_from([("A", 0), ("A", 1), ("B\n,;", 0)])))
    told = []
    for piece, layer in sorted(keys):
        start = begin + pd.Timedelta(minutes=draw(MINUTES))
        due = draw(st.none() | MINUTES)
        one = placement(piece=piece, layer=layer)
        told.append(
            replace(
                one,
                start=start,
                end=start + pd.Timedelta(minutes=draw(st.integers(1, 900))),
                due=None if due is None else begin + pd.Timedelta(minutes=due),
            )
        )
    return told, begin + pd.Timedelta(minutes=draw(MINUTES))


@settings(deadline=None)
@given(
    st.lists(plans(), min_size=1, max_size=6),
    st.sampled_from(["America/New_York", "Australia/Lord_Howe", "UTC", "Europe/Dublin"]),
)
def test_numbers_never_fall_and_the_plan_s_times_come_back(sequence, zone):
    before, last, told = None, {}, {}
    for placements, now in sequence:
        before = written(*placements, before=before, now=now, zone=ZoneInfo(zone))
        check_form(before)
        there, told = told, {str(event["UID"]): event for event in events(before)}
        for uid, event in told.items():
            number = int(event["SEQUENCE"])
            state = (str(event["STATUS"]), *times(event))
            old_number, old_state = last.get(uid, (-1, None))
            assert number == old_number + (state != old_state or uid not in there)
            last[uid] = number, state
        live = [event for event in told.values() if event["STATUS"] != "CANCELLED"]
        told_times = sorted(times(event) for event in live)
        work = [(one.start, one.end) for one in placements]
        deadlines = [
            (one.due, one.due) for one in placements
            if one.due is not None
            and len({t.tz_convert(zone).date() for t in (one.due, one.end)}) == 2
        ]  # fmt: skip
        assert told_times == sorted(work + deadlines)
        assert all(times(event)[1] >= now for event in told.values() if event not in live)


def test_times_are_kept_to_the_second():
    odd = replace(placement(), start=pd.Timestamp("2026-05-04 11:00:00.123456789", tz="UTC"))
    first = written(odd, now=NOW + pd.Timedelta(nanoseconds=7))
    assert only(first).start == pd.Timestamp("2026-05-04 11:00", tz="UTC")
    assert number_and_status(written(placement(), before=first)) == (0, "TENTATIVE")


# --------------------------------------------------------------------- another program


def test_another_parser_reads_the_same():
    vobject = pytest.importorskip("vobject")
    name = 'A "1", <b>; \\ 🏠\nsecond'
    content = written(
        placement("2026-10-31 12:00", piece=name, due="2026-11-02 18:00"),
        placement("2026-11-01 12:00", piece="B"),
    )
    calendar = vobject.readOne(content.decode())
    told = {str(event["UID"]): event for event in events(content)}
    assert len(calendar.vevent_list) == len(told) == 3
    for event in calendar.vevent_list:
        ours = told[event.uid.value]
        assert event.summary.value == ours["SUMMARY"]
        assert event.description.value == ours["DESCRIPTION"]
        assert event.dtstart.value == ours.start
        assert event.sequence.value == str(int(ours["SEQUENCE"]))
        assert [alarm.trigger.value for alarm in event.valarm_list] == [
            alarm["TRIGGER"].dt for alarm in ours.walk("VALARM")
        ]

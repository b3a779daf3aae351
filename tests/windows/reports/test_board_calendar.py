"""A crew's calendar: what a calendar program reads from it, tonight and tomorrow night."""

import io
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import board_cases
import pandas as pd
import pytest
import vobject
from damage import damaged
from dateutil.tz import tzical
from how_many import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from outside import library

from windows.board.result import Danger
from windows.decision import Verdict
from windows.errors import OutputError
from windows.reports.board_calendar import calendar_name, crew_calendar
from windows.safety import GOVERNS

RICH = board_cases.rich()
CREWS = [crew.name for crew in RICH.crews]
NASTY = CREWS[0]
HOUR = pd.Timedelta(hours=1)
DAY = board_cases.FIRST_DAY
EAST, MOUNTAIN = board_cases.EAST, board_cases.MOUNTAIN


def events(content):
    return list(Calendar.from_ical(content).walk("VEVENT"))


def by_summary(content):
    return {str(event["SUMMARY"]): event for event in events(content)}


def state(event):
    return int(event["SEQUENCE"]), str(event["STATUS"])


def visit(
    crew="Borja", site="depot", pieces=("A 1",), day=DAY, verdict=Verdict.GO, start=8, layer=0
):
    """Return a visit that lays a layer on each piece, two hours each."""
    zone = MOUNTAIN if site == "mesa" else EAST
    works = tuple(
        board_cases.work(piece, layer, day, start + 2 * n, start + 2 * n + 2,
                         board_cases.CHANCES[0], zone=zone)
        for n, piece in enumerate(pieces)
    )  # fmt: skip
    given = RICH.assignments[0]
    decision = None if verdict is None else board_cases.decision(verdict, day, zone)
    return replace(
        given, crew=crew, site=site, day=day, works=works, decision=decision,
        arrive=board_cases.at(day, start - 0.5, zone),
        leave=board_cases.at(day, start + 2 * len(pieces) + 0.5, zone),
    )  # fmt: skip


def board(*visits, deadlines=(), now=RICH.now, **given):
    sites = tuple(
        replace(site, issued=None if site.issued is None else now - HOUR) for site in RICH.sites
    )
    given = {"sites": sites} | given
    return replace(RICH, assignments=visits, deadlines=deadlines, now=now, **given)


def only(content):
    (event,) = events(content)
    return event


def check_form(content):
    """Check what RFC 5545 asks of every file: lines, UID, DTSTAMP and time zones."""
    assert content.endswith(b"END:VCALENDAR\r\n")
    lines = content.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert not any(b"\r" in line or b"\n" in line for line in lines)
    unfolded = content.decode().replace("\r\n ", "").split("\r\n")
    calendar = Calendar.from_ical(content)
    told = calendar.walk("VEVENT")
    assert len({event["UID"] for event in told}) == len(told)
    stamps = [line for line in unfolded if line.startswith("DTSTAMP")]
    assert len(stamps) == len(told)
    named = (re.match(r"[A-Z-]+;TZID=([^:;]+):", line) for line in unfolded)
    zones = [str(zone["TZID"]) for zone in calendar.walk("VTIMEZONE")]
    assert {found[1] for found in named if found} == set(zones)
    assert len(zones) == len(set(zones))
    assert not any(component.errors for component in calendar.walk())
    for event in told:
        for name in ("UID", "DTSTART", "SUMMARY", "DESCRIPTION", "SEQUENCE", "STATUS", "LOCATION"):
            assert name in event


# ----------------------------------------------------------------------------------- what is told


def test_an_event_says_all_that_a_crew_needs():
    event = only(crew_calendar(board(visit(verdict=Verdict.GO_UNTIL)), "Borja"))
    assert event["SUMMARY"] == f"base on A 1 (acrylic), {board_cases.NASTY}"
    assert event["LOCATION"] == board_cases.NASTY
    assert event["DTSTART"].params["TZID"] == "America/New_York"
    assert (event.start, event.end) == (
        datetime(2026, 5, 8, 8, tzinfo=EAST), datetime(2026, 5, 8, 10, tzinfo=EAST),
    )  # fmt: skip
    assert event["TRANSP"] == "OPAQUE"
    told = str(event["DESCRIPTION"]).split("\n")
    assert told[:7] == [
        "Layer 1: base (acrylic) on A 1",
        f"Site: {board_cases.NASTY}",
        "Section: A",
        "Area: 3,229 ft²",
        "On site: Fri May 8 07:30-10:30, drive 42 min one way",
        "Chance to hold: 88% (81% to 93%, share of forecast runs)",
        "Nearest limit: surface above dew point, least: 5.2°F to spare",
    ]
    assert told[7].startswith("Go or wait: Go until Fri May 8 12:15, then stop: ")
    assert told[7].endswith("the time to call off (Thu May 7 17:00) has passed.")
    assert told[8:] == [
        "Next layer and foot traffic from: Sat May 9 09:00",
        "Cover by: Tue May 12 15:00",
        "Weather: National Weather Service, issued 3 h ago",
        "Forecast issued: Thu May 7 17:30",
        board_cases.EDGE.text,
        board_cases.WIND.text,
        "no readings of the roof were given",
        GOVERNS,
    ]


def test_units_and_currency_are_the_reader_s():
    told = str(
        only(crew_calendar(board(visit()), "Borja", units="si", currency="EUR"))["DESCRIPTION"]
    )
    assert "Area: 300 m²" in told
    assert "EUR" in told
    assert "$" not in told


def test_the_money_is_the_board_s_where_no_currency_is_given():
    told = str(only(crew_calendar(board(visit(), currency="EUR"), "Borja"))["DESCRIPTION"])
    assert "1,525 EUR" in told


@pytest.mark.parametrize(
    ("verdict", "start", "told"),
    [(Verdict.GO_UNTIL, 8, ""), (Verdict.GO_UNTIL, 11, ", STOP at 12:15"),
     (Verdict.GO_UNTIL, 13, ", STOP at 12:15"), (Verdict.GO, 14, ""), (Verdict.WAIT, 11, "")],
)  # fmt: skip
def test_a_time_to_stop_stands_in_the_name_of_work_that_would_go_on(verdict, start, told):
    event = only(crew_calendar(board(visit(verdict=verdict, start=start)), "Borja"))
    assert event["SUMMARY"] == f"base on A 1 (acrylic), {board_cases.NASTY}{told}"


def test_a_time_to_call_off_that_has_passed_is_told():
    now = RICH.now  # 18:30, of a visit to be decided on by 17:00
    told = str(only(crew_calendar(board(visit(), now=now), "Borja"))["DESCRIPTION"])
    assert "the time to call off (Thu May 7 17:00) has passed" in told
    told = str(only(crew_calendar(board(visit(), now=now - 3 * HOUR), "Borja"))["DESCRIPTION"])
    assert "decide by Thu May 7 17:00" in told


def test_old_weather_and_work_under_way_are_told():
    told = str(only(crew_calendar(board(visit(site="yard", verdict=None)), "Borja"))["DESCRIPTION"])
    assert "This forecast is OLD: check before you go" in told
    assert "Go or wait: under way" in told


def test_an_alarm_rings_once_a_visit_at_the_last_moment_to_decide():
    first, second = events(crew_calendar(board(visit(pieces=("A 1", "A 2"))), "Borja"))
    (alarm,) = first.walk("VALARM")
    assert first.start + alarm["TRIGGER"].dt == datetime(2026, 5, 7, 17, tzinfo=EAST)
    assert alarm["ACTION"] == "DISPLAY"
    assert alarm["DESCRIPTION"] == (
        f"confirm or call off base on A 1 (acrylic), {board_cases.NASTY}, on site Fri May 8 07:30"
    )
    assert second.walk("VALARM") == []
    (alarm,) = only(crew_calendar(board(visit(verdict=None)), "Borja")).walk("VALARM")
    assert alarm["TRIGGER"].dt == timedelta(hours=-14)


@pytest.mark.parametrize(
    ("verdict", "status"),
    [(None, "CONFIRMED"), (Verdict.GO, "CONFIRMED"), (Verdict.GO_UNTIL, "CONFIRMED"),
     (Verdict.WAIT, "TENTATIVE"), (Verdict.CLOSE_CALL, "TENTATIVE"), (Verdict.NO, "TENTATIVE"),
     (Verdict.NOT_KNOWN, "TENTATIVE")],
)  # fmt: skip
def test_only_what_the_costs_do_not_speak_against_is_confirmed(verdict, status):
    content = crew_calendar(board(visit(verdict=verdict)), "Borja")
    assert state(only(content)) == (0, status)


def test_what_is_far_ahead_or_by_old_weather_is_not_confirmed():
    later = visit(day=DAY + timedelta(days=1))
    assert state(only(crew_calendar(board(later), "Borja")))[1] == "TENTATIVE"
    assert state(only(crew_calendar(board(visit(site="yard")), "Borja")))[1] == "TENTATIVE"
    old = tuple(replace(site, issued=RICH.now - 25 * HOUR) for site in RICH.sites)
    content = crew_calendar(board(visit(), sites=old), "Borja")
    assert state(only(content))[1] == "TENTATIVE"


def test_a_crew_has_its_own_work_only():
    both = board(visit("Borja", pieces=("A 1",)), visit(NASTY, pieces=("B 1",)))
    assert list(by_summary(crew_calendar(both, "Borja"))) == [
        f"base on A 1 (acrylic), {board_cases.NASTY}"
    ]
    assert events(crew_calendar(both, "nobody of that name")) == []
    assert Calendar.from_ical(crew_calendar(both, "Borja"))["NAME"] == "Borja"


@pytest.mark.parametrize("crew", CREWS)
def test_the_rich_board_is_read_by_every_crew(crew):
    content = crew_calendar(RICH, crew)
    check_form(content)
    work = [(w.placement.start, w.placement.end) for a in RICH.assignments if a.crew == crew
            for w in a.works]  # fmt: skip
    told = [(event.start, event.end) for event in events(content) if event["TRANSP"] == "OPAQUE"]
    assert told == work


# -------------------------------------------------------------------------------------- deadlines


def deadline(**given):
    told = {
        "piece": "A 1", "crew": "Borja", "laid": True,
        "due": board_cases.at(DAY + timedelta(days=2), 15),
    }  # fmt: skip
    return replace(RICH.deadlines[5], **(told | given))


def test_a_deadline_is_a_moment_of_its_own_with_alarms():
    told = board(deadlines=(deadline(),))
    event = only(crew_calendar(told, "Borja"))
    assert event["SUMMARY"] == f"deadline: cover base on A 1, {board_cases.NASTY}"
    assert "DTEND" not in event
    assert event.start == datetime(2026, 5, 10, 15, tzinfo=EAST)
    assert event["TRANSP"] == "TRANSPARENT"
    alarms = event.walk("VALARM")
    assert [alarm["TRIGGER"].dt for alarm in alarms] == [timedelta(hours=-h) for h in (24, 4)]
    assert alarms[0]["DESCRIPTION"] == f"{event['SUMMARY']} by Sun May 10 15:00"
    lines = str(event["DESCRIPTION"]).split("\n")
    assert lines[:5] == [
        "Cover base on A 1 by: Sun May 10 15:00",
        f"Site: {board_cases.NASTY}",
        "How it stands: the planned cover is the last that is in time",
        "Cover: Sat May 9 09:00, Borja",
        "Chance to hold: 67% (52% to 83%, wet-hour chain)",
    ]
    assert lines[-1] == GOVERNS


def test_deadlines_go_to_who_covers_who_lays_and_who_is_there_when_nobody_covers():
    there = visit("Borja", pieces=("A 1",))

    def told(crew, one):
        return len([e for e in events(crew_calendar(board(there, deadlines=(one,)), crew))
                    if e["TRANSP"] == "TRANSPARENT"])  # fmt: skip

    assert told("Borja", deadline(crew="Borja", piece="Z 9")) == 1
    assert told(NASTY, deadline(crew=NASTY, piece="Z 9")) == 1
    assert told("Borja", deadline(crew=NASTY, piece="Z 9")) == 0
    assert told("Borja", deadline(crew=NASTY, laid=False)) == 1  # it lays the base
    nobody = {"crew": None, "cover": None, "chance": None, "danger": Danger.NO_COVER}
    assert told("Borja", deadline(piece="Z 9", **nobody)) == 1
    assert told("Borja", deadline(piece="Z 9", site="mesa", **nobody)) == 0
    assert told(NASTY, deadline(piece="Z 9", **nobody)) == 0


def test_a_deadline_that_is_not_known_has_no_moment():
    one = replace(deadline(), due=None)
    assert events(crew_calendar(board(deadlines=(one,)), "Borja")) == []


def test_no_alarm_rings_before_the_layer_lies_there():
    there = visit(pieces=("A 1",))  # until Friday 10:00
    due = board_cases.at(DAY + timedelta(days=1), 9)
    content = crew_calendar(board(there, deadlines=(deadline(laid=False, due=due),)), "Borja")
    event = by_summary(content)[f"deadline: cover base on A 1, {board_cases.NASTY}"]
    assert [alarm["TRIGGER"].dt for alarm in event.walk("VALARM")] == [timedelta(hours=-4)]


@pytest.mark.parametrize(("danger", "count"), [(Danger.IN_TIME, 1), (Danger.NO_COVER, 2)])
def test_a_deadline_of_the_same_day_is_told_if_it_is_in_danger(danger, count):
    due = board_cases.at(DAY, 20)
    one = deadline(laid=False, due=due, danger=danger)
    assert len(events(crew_calendar(board(visit(), deadlines=(one,)), "Borja"))) == count


# ------------------------------------------------------------------------------------ several zones


def test_each_site_has_its_own_clock_and_the_file_the_rules_of_both():
    told = board(visit(), visit(site="mesa", pieces=("G 1",), day=DAY + timedelta(days=1)))
    content = crew_calendar(told, "Borja")
    check_form(content)
    east, mountain = events(content)
    assert east["DTSTART"].params["TZID"] == "America/New_York"
    assert mountain["DTSTART"].params["TZID"] == "America/Denver"
    assert "On site: Sat May 9 07:30-10:30" in mountain["DESCRIPTION"]
    assert "Forecast issued: Thu May 7 15:30" in mountain["DESCRIPTION"]
    zones = tzical(io.StringIO(content.decode().replace("\r\n", "\n")))
    assert sorted(zones.keys()) == ["America/Denver", "America/New_York"]
    moment = datetime(2026, 1, 1, tzinfo=UTC)
    while moment < datetime(2027, 1, 1, tzinfo=UTC):
        for name in zones.keys():  # noqa: SIM118 (no mapping)
            local = moment.astimezone(ZoneInfo(name))
            if not local.fold:
                bare = local.replace(tzinfo=None)
                assert bare.replace(tzinfo=zones.get(name)).utcoffset() == local.utcoffset()
        moment += timedelta(hours=3)


def test_days_of_23_and_25_hours_and_hours_told_twice():
    days = [datetime(2026, 3, 8).date(), datetime(2026, 11, 1).date()]
    visits = [
        visit(day=day, start=start, pieces=(f"A {start}",), verdict=None)
        for day, start in ((days[0], 4), (days[0], 7), (days[1], 5), (days[1], 8))
    ]
    second = replace(
        visits[3].works[0].placement, start=pd.Timestamp("2026-11-01T06:30Z"),
        end=pd.Timestamp("2026-11-01T07:30Z"), piece="A 9",
    )  # fmt: skip
    visits.append(replace(visits[3], works=(replace(visits[3].works[0], placement=second),)))
    told = board(*visits, now=pd.Timestamp("2026-03-01T00:00Z"))
    content = crew_calendar(told, "Borja")
    check_form(content)
    placed = [v.works[0].placement for v in visits]
    assert [(e.start.astimezone(UTC), e.end.astimezone(UTC)) for e in events(content)] == [
        (p.start, p.end) for p in placed
    ]
    assert crew_calendar(told, "Borja", before=content) == content


# -------------------------------------------------------------------------------- the file again


def test_the_same_board_is_the_same_file():
    for crew in CREWS:
        first = crew_calendar(RICH, crew)
        assert crew_calendar(RICH, crew, before=first) == first


def test_the_name_of_an_event_is_not_its_time_or_its_visit_s():
    def uids(*visits, crew="Borja", **given):
        return [str(e["UID"]) for e in events(crew_calendar(board(*visits), crew, **given))]

    first = uids(visit(pieces=("A 1", "A 2")))
    assert all(re.fullmatch("[0-9a-f]{16}-[0-9a-f]{32}@dewgap", uid) for uid in first)
    assert uids(visit(pieces=("A 1", "A 2"), day=DAY + timedelta(days=2), start=9)) == first
    assert uids(visit(pieces=("A 0", "A 2", "A 1")))[1:] == first[::-1]  # another order, one more
    elsewhere = board(visit(pieces=("A 1", "A 2")), folder="/another/place")
    assert [str(e["UID"]) for e in events(crew_calendar(elsewhere, "Borja"))] == first
    others = (
        uids(visit(site="mesa"))[0], uids(visit(crew=NASTY), crew=NASTY)[0],
        uids(visit(layer=1))[0], uids(visit(), project="other")[0], uids(visit(pieces=("A",)))[0],
    )  # fmt: skip
    assert len({first[0], *others}) == 6


def test_a_move_raises_the_number_and_words_do_not():
    first = crew_calendar(board(visit(day=DAY + timedelta(days=2))), "Borja")
    moved = crew_calendar(board(visit(day=DAY + timedelta(days=3))), "Borja", before=first)
    assert state(only(moved)) == (1, "TENTATIVE")
    assert only(moved)["UID"] == only(first)["UID"]
    new = board(visit(day=DAY + timedelta(days=3)), now=RICH.now + HOUR)
    words = crew_calendar(new, "Borja", before=moved)
    assert state(only(words)) == (1, "TENTATIVE")
    assert only(words)["LAST-MODIFIED"].dt == RICH.now + HOUR
    near = crew_calendar(board(visit()), "Borja", before=words)
    assert state(only(near)) == (2, "CONFIRMED")


def test_work_that_goes_to_another_crew_is_called_off_in_the_file_of_the_first():
    day = DAY + timedelta(days=2)
    borja = crew_calendar(board(visit("Borja", day=day, site="mesa")), "Borja")
    given = board(visit(NASTY, day=day, site="mesa"))
    gone = crew_calendar(given, "Borja", before=borja)
    old, event = only(borja), only(gone)
    assert state(event) == (1, "CANCELLED")
    for name in ("UID", "SUMMARY", "DESCRIPTION", "LOCATION"):
        assert event[name] == old[name]
    assert (event.start, event.end) == (old.start, old.end)
    assert event["DTSTART"].params["TZID"] == "America/Denver"
    assert event["TRANSP"] == "TRANSPARENT"
    assert event.walk("VALARM") == []
    check_form(gone)
    assert crew_calendar(given, "Borja", before=gone) == gone
    assert state(only(crew_calendar(given, NASTY))) == (0, "TENTATIVE")
    back = crew_calendar(board(visit("Borja", day=day, site="mesa")), "Borja", before=gone)
    assert state(only(back)) == (2, "TENTATIVE")


def test_work_of_a_site_or_a_crew_that_is_gone_is_called_off_at_its_own_clock():
    first = crew_calendar(board(visit(site="mesa", verdict=None)), "Borja")
    gone = crew_calendar(
        replace(board_cases.empty(), now=RICH.now + HOUR), "Borja", before=first
    )
    assert state(only(gone)) == (1, "CANCELLED")
    assert only(gone)["DTSTART"].params["TZID"] == "America/Denver"
    check_form(gone)


def test_another_crew_s_file_is_not_taken_over():
    first = crew_calendar(board(visit("Borja")), "Borja")
    assert events(crew_calendar(board(), NASTY, before=first)) == []
    assert events(crew_calendar(board(), "Borja", before=first, project="other")) == []
    plan = first.replace(b"-//dewgap//board//EN", b"-//dewgap//plan//EN")
    assert events(crew_calendar(board(), "Borja", before=plan)) == []


def test_a_layer_that_is_laid_twice_has_two_names():
    twice = board(visit(), visit(day=DAY + timedelta(days=2)))
    content = crew_calendar(twice, "Borja")
    check_form(content)
    assert len(events(content)) == 2
    assert crew_calendar(twice, "Borja", before=content) == content


@pytest.mark.parametrize("before", [b"", b"hello", b"BEGIN:VCALENDAR\r\n", b"\xff\x00"])
def test_a_file_that_is_no_calendar_is_refused_in_a_sentence(before):
    with pytest.raises(OutputError) as caught:
        crew_calendar(RICH, "Borja", before=before)
    assert "calendar (RFC 5545)" in str(caught.value)
    assert "\n" not in str(caught.value)


def taken_or_refused(told, crew, before):
    """Return the calendar, None where the file before is refused, in one line."""
    try:
        return crew_calendar(told, crew, before=before)
    except OutputError:
        with pytest.raises(OutputError, match=r"^the calendar file written before [^\n]*$"):
            crew_calendar(told, crew, before=before)
        return None


@pytest.mark.parametrize(
    "zone", [b"Nowhere/At_All", b"/etc/passwd", b"../../etc/passwd", b"Own", b"US"]
)
def test_a_zone_of_any_name_in_the_file_before_is_taken_or_refused(zone):
    first = crew_calendar(board(visit()), "Borja").replace(b"America/New_York", zone)
    gone = taken_or_refused(board(), "Borja", first)
    if gone is None:
        return
    check_form(gone)
    assert only(gone).start == datetime(2026, 5, 8, 8, tzinfo=EAST)


MORE = replace(RICH, assignments=(*RICH.assignments, visit(NASTY, "mesa", ("Z", "Y"))))
WHOLE = crew_calendar(RICH, NASTY, before=crew_calendar(MORE, NASTY))


@settings(deadline=None)
@given(st.data())
def test_any_damage_is_taken_or_refused(data):
    told = taken_or_refused(RICH, NASTY, damaged(data, WHOLE))
    if told is not None:
        check_form(told)


@settings(deadline=None, max_examples=examples(40))
@example([[("depot", 0, 5, "Borja")], [], [("depot", 0, 5, "Borja")]])
@given(
    st.lists(
        st.lists(
            st.tuples(st.sampled_from(["depot", "mesa"]), st.integers(0, 30), st.integers(5, 12),
                      st.sampled_from(["Borja", NASTY])),
            max_size=3, unique_by=lambda told: told[0],
        ),
        min_size=1, max_size=5,
    )
)  # fmt: skip
def test_numbers_never_fall_and_times_come_back(sequence):
    before, last = None, {}
    for n, told in enumerate(sequence):
        visits = [visit(crew, site, ("A 1",), DAY + timedelta(days=day), None, start)
                  for site, day, start, crew in told]  # fmt: skip
        before = crew_calendar(
            board(*visits, now=RICH.now + n * 24 * HOUR), "Borja", before=before
        )
        check_form(before)
        live = []
        for event in events(before):
            uid, (number, status) = str(event["UID"]), state(event)
            at = status, event.start, event.end
            # one that has passed is left out: should its time be planned again, it is a revision
            raised = uid in last and (at, n - 1) != last[uid][1:]
            assert number == (last[uid][0] + raised if uid in last else 0)
            last[uid] = number, at, n
            live += [] if status == "CANCELLED" else [(event.start, event.end)]
        mine = [v.works[0].placement for v in visits if v.crew == "Borja"]
        assert sorted(live) == sorted((p.start, p.end) for p in mine)


# --------------------------------------------------------------------- names, and another program

NAMES = [
    'A "north" <b>1</b>, of 2; see \\n and C:\\new',
    "line one\nline two",
    "屋根 🏠👩‍👩‍👧 é",
    "x" * 300,
    "🏗️" * 60,
    "END:VEVENT\nBEGIN:VALARM",
]


@pytest.mark.parametrize("name", NAMES)
def test_names_come_back_as_they_were_in_two_programs(name):
    sites = tuple(replace(site, name=name, weather=name, notes=(name,)) for site in RICH.sites[:1])
    one = visit(name, pieces=(name,))
    placed = replace(one.works[0].placement, section=name, layer_name=name, coating=name)
    one = replace(one, works=(replace(one.works[0], placement=placed),))
    late = deadline(piece=name, crew=name, layer_name=name)
    told = board(one, deadlines=(late,), sites=sites, crews=())
    content = crew_calendar(told, name)
    check_form(content)
    work, moment = events(content)
    assert work["SUMMARY"] == f"{name} on {name} ({name}), {name}"
    assert moment["SUMMARY"] == f"deadline: cover {name} on {name}, {name}"
    assert work["LOCATION"] == name
    other = vobject.readOne(content.decode())
    assert len(other.vevent_list) == 2
    for theirs, ours in zip(other.vevent_list, (work, moment), strict=True):
        assert theirs.uid.value == ours["UID"]
        assert theirs.summary.value == ours["SUMMARY"]
        assert theirs.location.value == ours["LOCATION"]
        assert theirs.description.value == ours["DESCRIPTION"]
        assert theirs.dtstart.value == ours.start
        assert [alarm.trigger.value for alarm in theirs.valarm_list] == [
            alarm["TRIGGER"].dt for alarm in ours.walk("VALARM")
        ]
    assert crew_calendar(told, name, before=content) == content


def test_control_characters_cannot_break_a_line():
    name = "a\rb\x85c\x00d\x0be\u2028f\ud800"
    content = crew_calendar(board(visit(name, pieces=(name,))), name)
    check_form(content)
    assert only(content)["SUMMARY"].startswith("base on a\nb\nc\ufffdd\ne\nf\ufffd (acrylic)")


@pytest.mark.parametrize("crew", CREWS)
def test_another_program_reads_the_rich_board_the_same(crew, outside):
    content = crew_calendar(RICH, crew)
    ours = {str(event["UID"]): event for event in events(content)}
    theirs = vobject.readOne(content.decode()).vevent_list
    assert {event.uid.value for event in theirs} == set(ours)
    for event in theirs:
        mine = ours[event.uid.value]
        outside.equal(
            "events of the crews' calendars as icalendar reads them: start, text, status",
            (mine.start, mine["DESCRIPTION"], mine["STATUS"]),
            (event.dtstart.value, event.description.value, event.status.value), points=1,
            source=library("vobject"),
        )  # fmt: skip


# ---------------------------------------------------------------------------------- file names


def test_the_name_of_a_file_can_be_read():
    assert re.fullmatch("north-crew-2-[0-9a-f]{8}.ics", calendar_name("North crew 2"))
    assert calendar_name("Čenda's crew").startswith("cenda-s-crew-")
    assert calendar_name("North crew 2") == calendar_name("North crew 2")


def test_crews_whose_letters_are_the_same_have_files_of_their_own():
    crews = [
        "North", "north", "NORTH ", "north!", "nörth", "🏠", "🏡", "", " ", "a/b", "a\\b", "a b",
        "x" * 100, "x" * 101,
    ]  # fmt: skip
    assert len({calendar_name(crew).casefold() for crew in crews}) == len(crews)


@given(st.text())
def test_no_name_leaves_the_folder(crew):
    assert re.fullmatch("[a-z0-9][a-z0-9-]{0,40}-[0-9a-f]{8}[.]ics", calendar_name(crew))


@pytest.mark.parametrize(
    "crew", ["../../etc/passwd", "/etc/passwd", "C:\\x", "..", ".", "con", "nul", "a\0b", "\ud800"]
)
def test_names_that_mean_something_to_a_system_do_not(crew):
    assert re.fullmatch("[a-z0-9][a-z0-9-]*-[0-9a-f]{8}[.]ics", calendar_name(crew))

"""Invented boards made by hand, for tests of tables and pages: a rich one, an empty one, a big one.

The engine has no part in them, so numbers need not fit one another; they show every case.
"""

from datetime import date, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pandas as pd

from cure_models import load_profile
from cure_models.coating import resolve
from windows.board.result import (
    Assignment,
    Board,
    BoardProof,
    BoardSite,
    CrewRow,
    Danger,
    DayStrip,
    Deadline,
    Fault,
    MovedVisit,
    Outlook,
    SiteState,
    StripHour,
    Undone,
    Work,
)
from windows.decision import Decision, Verdict
from windows.found import Tightest
from windows.odds.chance import Chance, Method
from windows.plan import Placement
from windows.safety import Caution

NASTY = "\"<b>Ann's</b> & 🏠\""
NASTY_CREW = "Ann's \"A\" <img src=x onerror=alert(1)> & co"
RIGHT_TO_LEFT = "סככה </script><script>alert(2)</script>"
EAST, MOUNTAIN = ZoneInfo("America/New_York"), ZoneInfo("America/Denver")
NOW = pd.Timestamp("2026-05-07T22:30Z")
FIRST_DAY = date(2026, 5, 8)
AREA = 300.0
EDGE = Caution(
    text="Fall edges: guard rails or tie-off before the first pail goes up.",
    source="common practice",
)
WIND = Caution(
    text="Gusts near the limit: watch overspray, secure pails & lids <2 m from the edge.",
    source="own choice",
)
HEAT = Caution(
    text="Heat index above 91 °F: water, shade and rest each hour.", source="common practice"
)

CHANCES = (
    Chance(0.81, 0.88, 0.93, Method.MEMBERS),
    Chance(0.64, 0.7, 0.76, Method.PERIOD),
    Chance(0.52, 0.67, 0.83, Method.CHAIN),
    Chance(0.31, None, 0.9, Method.BOUNDS),
    Chance(0.35, 0.55, 0.72, Method.CLIMATE),
    Chance(0.0, None, 1.0, Method.UNKNOWN),
)


def days(count=6):
    return tuple(FIRST_DAY + timedelta(days=n) for n in range(count))


def at(day, clock, zone=EAST):
    """Return a local time of a day as UTC; ``clock`` is hours after midnight of the wall clock."""
    hour, minute = divmod(round(clock * 60), 60)
    local = pd.Timestamp(day.year, day.month, day.day, hour, minute)
    return local.tz_localize(zone).tz_convert("UTC")


def gates(coating="acrylic"):
    return {gate.name: gate for gate in resolve(load_profile(coating)).gates}


GATES = gates()
TIGHT = (
    Tightest(GATES["spread_min"], 2.9), Tightest(GATES["surface_temp_min"], 4.1),
    Tightest(GATES["wind_max_spray"], 1.3), None,
)  # fmt: skip


def decision(verdict, day, zone=EAST, lost=0.14):
    """Return a decision of a verdict; the money is invented."""
    stop = {Verdict.GO: 15.5, Verdict.GO_UNTIL: 12.25, Verdict.CLOSE_CALL: 14.0}.get(verdict)
    return Decision(
        verdict=verdict, stop_at=None if stop is None else at(day, stop, zone), break_even=0.131,
        lost_low=0.0 if verdict is Verdict.NOT_KNOWN else 0.06,
        lost=None if verdict is Verdict.NOT_KNOWN else lost,
        lost_high=1.0 if verdict is Verdict.NOT_KNOWN else 0.22,
        cost_go=1_624.0, cost_wait=1_525.0, cost_best=870.0,
        regret_go=10_075.0, regret_wait=1_525.0,
        decide_by=at(day - timedelta(days=1), 17, zone),
    )  # fmt: skip


def work(piece, layer, day, start, end, chance, *, zone=EAST, tightest=TIGHT[0], promised=False):
    name, coating = (("base", "acrylic"), ("top", "acrylic"), ("finish", "silicone"))[layer]
    return Work(
        placement=Placement(
            piece=piece, section=piece.rsplit(" ", 1)[0], area_m2=AREA, layer=layer,
            layer_name=name, coating=coating, shift=day, start=at(day, start, zone),
            end=at(day, end, zone), opens=at(day + timedelta(days=1), 9, zone),
            due=at(day + timedelta(days=4), 15, zone) if layer == 0 else None,
            spare=True if layer == 0 else None,
        ),
        chance=chance, tightest=tightest, promised=promised,
    )  # fmt: skip


def strip(site, day, zone=EAST, *, kind="fine", layer="base"):
    """Return a day of hours: dew until 8, rain at 18 where wet; some hours not known."""
    return DayStrip(site, day, layer, "acrylic", hours_of(day, zone, kind))


@cache  # a big board has the same day at each of its sites
def hours_of(day, zone, kind):
    begin = pd.Timestamp(day).tz_localize(zone).tz_convert("UTC")
    end = pd.Timestamp(day + timedelta(days=1)).tz_localize(zone).tz_convert("UTC")
    told = []
    for start in pd.date_range(begin, end, freq="h", inclusive="left"):
        hour = start.tz_convert(zone).hour
        warm = 12.0 + 9.0 * max(0.0, 1 - abs(hour - 14) / 9)
        state, why, rain = "ok", (), 0.0
        if hour < 8:
            state, why = "blocked", ("no_dew", "spread_min")
        elif kind == "wet" and hour >= 11:
            rain = 0.6 if hour in (13, 14) else 0.0
            state, why = "blocked", ("no_rain until rain-safe",)
        elif kind == "unknown" and hour >= 10:
            state, why, warm = "unknown", ("wind_max_spray", "no_rain until rain-safe"), None
        elif hour >= 17:
            state, why = "blocked", ("no_dew until dew-safe",)
        known = warm is not None
        told.append(
            StripHour(
                start=start, state=state, why=why, crew=7 <= hour < 17,
                air_temp_c=warm, surface_temp_c=warm + 4.0 if known else None,
                dew_point_c=9.5 if known else None, wind_m_s=3.4 if known else None,
                rain_mm=rain if known else None, rain_prob=0.2 if known else None,
                chance=(0.8 if state == "ok" else 0.0) if known else None,
            )
        )  # fmt: skip
    return tuple(told)


def site(key, name, state=SiteState.PLANNED, zone=EAST, **other):
    kinds = ("fine", "wet", "unknown", "fine", "fine", "wet")
    given = {
        "system": "Acrylic, two coats (acrylic_two_coat)",
        "weather": "National Weather Service, issued 3 h ago", "issued": NOW - timedelta(hours=3),
        "stale": False, "laid": 3, "layers": 12, "notes": (), "outlook": (),
        "strips": tuple(strip(key, d, zone, kind=k) for d, k in zip(days(), kinds, strict=True)),
    }  # fmt: skip
    return BoardSite(key=key, name=name, zone=zone, state=state, **(given | other))


def rich():
    """Return a board with every case: all verdicts, methods, dangers and states of a site."""
    d = days()
    outlook = tuple(Outlook(d[-1] + timedelta(days=n + 1), 0.4 + 0.06 * n, 30) for n in range(4))
    sites = (
        site("depot", NASTY, outlook=outlook, notes=("no readings of the roof were given",)),
        site("mesa", "Mesa school, gym", zone=MOUNTAIN, laid=0, layers=8),
        site("yard", "Cold store", SiteState.STALE, stale=True, laid=2, layers=4,
             weather="MET Norway, issued 31 h ago", issued=NOW - timedelta(hours=31),
             notes=("the service gave no new answer; hours are those of yesterday",)),
        site("done", "Ferry terminal", SiteState.FINISHED, laid=6, layers=6, strips=()),
        site("bad", RIGHT_TO_LEFT, SiteState.FAULT, laid=0, layers=0, strips=(), weather="none",
             issued=None, system="not known"),
    )  # fmt: skip
    crews = (
        CrewRow(NASTY_CREW, ("spray", "roller"), ("spray rig",),
                {d[3]: "rain on every site that it may work on", d[5]: "not a work day"}),
        CrewRow("Borja", ("roller",), (), {d[2]: "hours not known: depot", d[4]: "vacation"}),
        CrewRow("Čenda's crew", (), ("lift", "heater"),
                dict.fromkeys(d[1:5], "no skill 'spray'")),
    )  # fmt: skip

    def visit(crew, key, day, works, verdict, cautions=(EDGE,), start=7.5, end=15.5):
        zone = MOUNTAIN if key == "mesa" else EAST
        return Assignment(
            crew=crew, site=key, day=day, arrive=at(day, start, zone), leave=at(day, end, zone),
            drive_h=0.7, works=works, cautions=cautions,
            decision=None if verdict is None else decision(verdict, day, zone),
        )  # fmt: skip

    def mountain(day, n):
        return work("Gym 1", 0, day, 9, 13, CHANCES[n], zone=MOUNTAIN, tightest=TIGHT[1])

    assignments = (
        visit(NASTY_CREW, "depot", d[0], (
            work("North <1> 1", 0, d[0], 8, 11, CHANCES[0], promised=True),
            work("North <1> 2", 0, d[0], 11, 14, CHANCES[1], tightest=TIGHT[2]),
        ), Verdict.GO, (EDGE, WIND)),
        visit(NASTY_CREW, "depot", d[1], (
            work("North <1> 1", 1, d[1], 9, 11.5, CHANCES[2], tightest=TIGHT[1]),
        ), Verdict.GO_UNTIL),
        visit(NASTY_CREW, "mesa", d[2], (mountain(d[2], 3),), Verdict.CLOSE_CALL, (EDGE, HEAT)),
        visit(NASTY_CREW, "mesa", d[4], (mountain(d[4], 4),), Verdict.WAIT),
        visit("Borja", "yard", d[0], (
            work("Bay 1", 1, d[0], 8, 12, CHANCES[5], tightest=None),
        ), Verdict.NOT_KNOWN),
        visit("Borja", "mesa", d[1], (mountain(d[1], 1),), Verdict.NO),
        visit("Borja", "depot", d[3], (
            work("South 1", 0, d[3], 8, 10.5, CHANCES[1], promised=True),
            work("South 2", 0, d[3], 10.5, 13, CHANCES[1], promised=True),
            work("South 3", 0, d[3], 13, 15, CHANCES[2], promised=True),
        ), Verdict.GO),
        visit("Borja", "depot", d[5], (work("South 1", 1, d[5], 8, 11, CHANCES[4]),), None),
        visit("Čenda's crew", "yard", d[0], (
            work("Bay 2", 1, d[0], 9, 12, CHANCES[2], tightest=TIGHT[2]),
        ), Verdict.GO, (EDGE, WIND, HEAT)),
        visit("Čenda's crew", "depot", d[5], (work("East 1", 0, d[5], 8, 12, CHANCES[3]),), None),
    )  # fmt: skip
    deadlines = (
        Deadline("yard", "Bay 3", "base", True, at(d[0] - timedelta(days=2), 15), None, None, None,
                 Danger.OVERDUE),
        Deadline("mesa", "Gym 2", "base", True, at(d[1], 12, MOUNTAIN), None, None, None,
                 Danger.NO_COVER),
        Deadline("yard", "Bay 1", "base", True, None, at(d[0], 8), "Borja", CHANCES[5],
                 Danger.NOT_KNOWN),
        Deadline("yard", "Bay 2", "base", True, at(d[1], 9), at(d[0], 9), "Čenda's crew",
                 Chance(0.3, 0.41, 0.5, Method.CHAIN), Danger.LIKELY_LOST),
        Deadline("mesa", "Gym 1", "base", True, at(d[5], 12, MOUNTAIN), at(d[4], 9, MOUNTAIN),
                 NASTY_CREW, CHANCES[4], Danger.WAITS),
        Deadline("depot", "North <1> 1", "base", False, at(d[2], 7), at(d[1], 9), NASTY_CREW,
                 CHANCES[2], Danger.NO_SPARE),
        Deadline("depot", "South 2", "base", False, at(d[5] + timedelta(days=1), 15), at(d[5], 9),
                 "Borja", CHANCES[4], Danger.DATA_SHEET),
        Deadline("depot", "South 1", "base", False, at(d[5] + timedelta(days=2), 15), at(d[5], 8),
                 "Borja", CHANCES[4], Danger.IN_TIME),
    )  # fmt: skip
    return Board(
        folder="sites", now=NOW, days=d, crews=crews, sites=sites, assignments=assignments,
        undone=(
            Undone("depot", "North <1> 2", 1, "top", "no hours left once the base bears a crew"),
            Undone("mesa", "Gym 2", 1, "top", "crew with skill 'spray' is elsewhere & <busy>"),
        ),
        deadlines=deadlines,
        moved=(
            MovedVisit("mesa", "Gym 1", "base", "Borja, Fri May 8", "Borja, Sat May 9",
                       "rain from 11:00 on Fri May 8"),
            MovedVisit("gone", "Roof 1", "base", f"{NASTY_CREW}, Fri May 8", "nobody",
                       "the site's folder is no longer there"),
        ),
        faults=(
            Fault(RIGHT_TO_LEFT, "bad/site.toml: [roof] area is '12': write '12 ft2'"),
            Fault("crews.toml", "crew 'Borja': end 06:00 is before start 07:00; swap them"),
        ),
        proof=BoardProof(worth=9_400.0, bound=9_650.0, optimal=False, seconds=18.2),
        area_m2=13 * AREA, expected_m2=8.4 * AREA,
    )  # fmt: skip


def empty():
    """Return a board without crews, sites and days."""
    return Board(
        folder="sites", now=NOW, days=(), crews=(), sites=(), assignments=(), undone=(),
        deadlines=(), moved=(), faults=(), proof=None, area_m2=0.0, expected_m2=0.0,
    )


def big(sites=100, crews=10, count=10):
    """Return a board of many sites, crews and days: every crew works every day."""
    d = days(count)
    verdicts = tuple(Verdict)
    places = tuple(
        site(f"s{n:03}", f"Site {n:03}", laid=n % 7, layers=12, outlook=(),
             strips=tuple(strip(f"s{n:03}", day, kind="wet" if n % 3 else "fine") for day in d))
        for n in range(sites)
    )  # fmt: skip
    visits = tuple(
        Assignment(
            crew=f"Crew {c:02}", site=f"s{(c * count + k) % sites:03}", day=day,
            arrive=at(day, 7.5), leave=at(day, 15.5), drive_h=0.5,
            works=tuple(
                work(f"Section {p}", 0, day, 8 + 2 * p, 10 + 2 * p, CHANCES[(c + k + p) % 6])
                for p in range(3)
            ),
            decision=decision(verdicts[(c + k) % 6], day), cautions=(EDGE, WIND, HEAT),
        )
        for c in range(crews) for k, day in enumerate(d)
    )  # fmt: skip
    return Board(
        folder="sites", now=NOW, days=d, crews=tuple(
            CrewRow(f"Crew {c:02}", ("spray",), ("rig",), {}) for c in range(crews)
        ), sites=places, assignments=visits,
        undone=tuple(
            Undone(place.key, f"Section {p}", 1, "top", "no crew is free in time")
            for place in places for p in range(3)
        ),
        deadlines=tuple(
            Deadline(place.key, "Section 1", "base", True, at(d[-1], 15), at(d[3], 8), "Crew 01",
                     CHANCES[0], Danger.IN_TIME)
            if n % 20
            else Deadline(place.key, "Section 1", "base", True, at(d[1], 15), None, None, None,
                          Danger.NO_COVER)
            for n, place in enumerate(places)
        ),
        moved=(), faults=(), proof=BoardProof(1.0, 1.0, True, 30.0),
        area_m2=300 * AREA, expected_m2=240 * AREA,
    )  # fmt: skip

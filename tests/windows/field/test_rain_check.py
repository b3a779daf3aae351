"""Rain against what lay open to it, in whichever order the two were written down."""

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import plan_cases
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from cure_models.system import load_system
from windows.field.rain_check import RAIN_SPAN, rain_flags, rained_on_flags
from windows.layers import system_hours
from windows.log.entries import Entry, Note, Placement, Rain

NEW_YORK = ZoneInfo("America/New_York")
ACRYLIC = load_system("acrylic_two_coat")
SITE = plan_cases.site()
STEADY = system_hours(SITE, ACRYLIC, plan_cases.weather(25), start_wet_mm=0.0)


def june(text):
    """Return "2 10:30" of June 2026 by the clock of New York, as UTC."""
    day, clock = text.split()
    hour, minute = map(int, clock.split(":"))
    return datetime(2026, 6, int(day), hour, minute, tzinfo=NEW_YORK).astimezone(UTC)


def placed(start="2 10:00", end="2 14:00", layer="base", area=40.0, section="north"):
    return Placement(at=june(start), end=june(end), section=section, layer=layer, area_m2=area)


def rain(at, end=None, section=""):
    return Rain(at=june(at), end=None if end is None else june(end), section=section)


def after(seen, *before, weather=STEADY):
    """Return what is told where the rain is written down last."""
    log = [
        Entry(n, body.at, "A", None, body, "0" * 64, "0" * 64)
        for n, body in enumerate(before, start=2)
    ]
    return rain_flags(
        seen, site=SITE, system=ACRYLIC, areas={"north": 40.0}, before=log, in_weather=weather
    )


def late(laid, *before, weather=STEADY):
    """Return what is told where the placement is written down last."""
    return rained_on_flags(
        laid, site=SITE, system=ACRYLIC, section_m2=40.0, before=before, in_weather=weather
    )


def test_rain_while_a_layer_was_laid():
    seen = rain("2 12:00", "2 12:20")
    assert after(seen, placed()) == ("Rain fell while 'base' on section 'north' was being laid.",)
    assert late(placed(), seen) == (
        "The rain of 2026-06-02 12:00 fell while 'base' on section 'north' was being laid.",
    )
    # it had begun before, and went on
    begun = rain("2 09:00", "2 10:01")
    assert len(after(begun, placed())) == len(late(placed(), begun)) == 1
    over = rain("2 09:00", "2 10:00")
    assert after(over, placed()) == late(placed(), over) == ()


def test_rain_on_a_film_before_it_was_rain_safe():
    seen = rain("2 14:10")
    [told] = after(seen, placed())
    assert re.fullmatch(
        r"Rain fell on 'base' on section 'north' before it was rain-safe: by its weather at "
        r"2026-06-0\d \d\d:\d\d\. Look at the film\.",
        told,
    )
    assert late(placed(), seen) == (told.replace("Rain", "The rain of 2026-06-02 14:10", 1),)


def test_rain_on_a_film_that_was_rain_safe():
    seen = rain("5 14:10")
    assert after(seen, placed()) == late(placed(), seen) == ()


def test_what_is_not_known_is_told():
    unknown = "Rain fell on 'base' on section 'north', and whether it was rain-safe by then is " \
        "not known."  # fmt: skip
    blind = system_hours(
        SITE, ACRYLIC, plan_cases.weather(25, air_temp_c=np.nan), start_wet_mm=0.0
    )
    short = system_hours(SITE, ACRYLIC, plan_cases.weather(2), start_wet_mm=0.0)
    seen = rain("4 14:10")
    for weather in (None, blind, short):
        assert after(seen, placed(), weather=weather) == (unknown,)
        [told] = late(placed(), seen, weather=weather)
        assert told == unknown.replace("Rain", "The rain of 2026-06-04 14:10", 1)


@pytest.mark.parametrize(
    "seen",
    [
        rain("2 12:00", section="south"),
        rain("2 09:59"),
        rain("16 14:00"),  # 14 days after its end
    ],
)
def test_rain_elsewhere_earlier_or_long_after(seen):
    assert after(seen, placed(), weather=None) == late(placed(), seen, weather=None) == ()


def test_rain_is_looked_at_for_14_days():
    assert timedelta(days=14) == RAIN_SPAN
    seen = rain("16 13:59")
    assert len(after(seen, placed(), weather=None)) == 1
    assert len(late(placed(), seen, weather=None)) == 1


def test_what_the_next_layer_covered_is_not_told():
    top = placed("3 10:00", "3 14:00", "top")
    for at, told in (("3 14:00", 0), ("3 13:59", 1)):
        seen = rain(at)
        of_base = [e for e in after(seen, placed(), top, weather=None) if "'base'" in e]
        assert len(of_base) == told
        assert len(late(placed(), top, seen, weather=None)) == told


def test_what_the_next_layer_covers_in_part_lies_open_with_the_rest():
    half = placed("3 10:00", "3 12:00", "top", area=20.0)
    rest = placed("3 12:00", "3 14:00", "top", area=20.0)
    seen = rain("3 15:00")
    assert len(late(placed(), half, seen, weather=None)) == 1
    assert late(placed(), half, rest, seen, weather=None) == ()
    assert not any("'base'" in e for e in after(seen, placed(), half, rest, weather=None))


def test_a_half_is_covered_by_what_planning_puts_on_it():
    """Two halves of the base, and one of the top, which lies on the first of them."""
    first = placed("2 08:00", "2 09:00", area=20.0)
    second = placed("2 10:00", "2 11:00", area=20.0)
    top = placed("3 10:00", "3 12:00", "top", area=20.0)
    seen = rain("3 15:00")
    assert late(first, second, top, seen, weather=None) == ()
    assert len(late(second, first, top, seen, weather=None)) == 1
    told = after(seen, first, second, top, weather=None)
    assert sum("'base'" in each for each in told) == 1


def test_where_planning_cannot_divide_only_a_layer_over_all_of_it_covers():
    """The base was written down twice: more than the section has."""
    twice = placed("2 15:00", "2 16:00")
    top, half = (placed("3 10:00", "3 12:00", "top", area=a) for a in (40.0, 20.0))
    seen = rain("3 15:00")
    assert late(placed(), twice, top, seen, weather=None) == ()
    assert len(late(placed(), twice, half, seen, weather=None)) == 1


def test_each_rain_is_told_and_not_without_end():
    many = [rain(f"{day} 14:00") for day in range(3, 16)]
    found = late(placed(), *reversed(many), Note(at=june("3 10:00"), note="x"), weather=None)
    assert [each[12:22] for each in found[:2]] == ["2026-06-03", "2026-06-04"]
    assert len(found) == 11
    assert found[-1] == "Rain: so it is for 3 more in the log."


@settings(max_examples=examples(60), deadline=None)
@given(
    st.integers(-600, 14 * 1440), st.integers(0, 600), st.sampled_from(["", "north", "south"]),
    st.booleans(),
)  # fmt: skip
def test_the_order_of_entry_makes_no_difference(minutes, lasts, section, known):
    """What is told of one rain and one layer is the same whichever was written down first."""
    at = june("2 10:00") + timedelta(minutes=minutes)
    end = at + timedelta(minutes=lasts) if lasts else None
    seen, weather = Rain(at=at, end=end, section=section), STEADY if known else None
    one, other = after(seen, placed(), weather=weather), late(placed(), seen, weather=weather)
    assert [each.removeprefix("Rain ") for each in one] == [
        re.sub(r"^The rain of \S+ \S+ ", "", each) for each in other
    ]

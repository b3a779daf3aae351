"""Ordinary mistakes of a program end in one sentence that tells how to mend them."""

import inspect
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import windows
from windows import (
    DewgapError,
    check_bare_layers,
    count_workable_days,
    find_windows,
    hour_by_hour,
    load_site,
    plan_job,
    read_weather,
    replay_bid,
    send_crews,
)
from windows.frames.checks import day_of, require_number

SITES = Path(__file__).parents[3] / "demo_sites"
FOLDER = SITES / "cool_north"
NOW = "2026-09-22T17:00"


def refused(call, *given, **words):
    """Run what must be refused in one line; return the sentence."""
    with pytest.raises(DewgapError) as fault:
        call(*given, **words)
    told = str(fault.value)
    assert "\n" not in told
    return told


@pytest.fixture(scope="module")
def asked():
    """Return what each function is given when nothing is wrong."""
    site, hours = load_site(FOLDER), read_weather(FOLDER / "weather.csv")
    years = replace(hours, provenance=replace(hours.provenance, kind="observed"))
    windows_of = {"site": site, "coating": "acrylic", "hours": hours}
    return {
        find_windows: windows_of,
        hour_by_hour: windows_of,
        check_bare_layers: {"folder": FOLDER, "now": NOW},
        plan_job: {"folder": FOLDER, "now": NOW},
        count_workable_days: {"site": site, "coating": "acrylic", "years": years},
        replay_bid: {"folder": FOLDER, "now": "2027-01-04T08:00"},
        send_crews: {"folder": SITES / "tri_county", "now": "2026-06-10T18:00"},
    }


CALLS = [
    getattr(windows, name)
    for name in windows.__all__
    if inspect.isfunction(getattr(windows, name))
    and getattr(windows, name).__module__.startswith("windows.frames.")
    and name != "hours_from"
]
TABLE = pd.DataFrame({"air_temp_c": [20.0]}, index=pd.DatetimeIndex(["2026-05-01T00:00Z"]))
MISTAKES = {
    "limits": [
        ("Careful", "limits: 'Careful' is not known; did you mean 'careful'?"),
        ("strict", "limits: 'strict' is not known; known: careful, generic, lenient"),
        (None, "limits: None is not known;"),
    ],
    "dry_at_start": [("no", "dry_at_start: 'no' is neither True nor False")],
    "open_beyond": [(1, "open_beyond: 1 is neither True nor False")],
    "site": [(str(FOLDER), "site: a str is no Site; give load_site(path)")],
    "hours": [
        (TABLE, "hours: a DataFrame is no HourlyTable; give hours_from(frame)"),
        (FOLDER / "weather.csv", "is no HourlyTable; give read_weather(path)"),
        ({}, "hours: a dict is no HourlyTable; give hours_from(frame) or read_weather(path)"),
    ],
    "years": [
        (TABLE, "years: a DataFrame is no HourlyTable; give hours_from(frame)"),
        (30, "years: a int is no HourlyTable"),
    ],
    "folder": [
        (load_site(FOLDER), "folder: a Site is no path; give the path itself"),
        (None, "folder: a NoneType is no path"),
    ],
    "job": [(load_site(FOLDER), "job: a Site is no path")],
    "system": [(3, "system: a int is no path")],
    "log": [(3, "log: a int is no path")],
    "coating": [(None, "coating: a NoneType is no path")],
    "now": [
        (date(2026, 9, 22), "now: '2026-09-22' is not a time"),
        (pd.NaT, "now: 'NaT' is not"),
        (20260922, "now: '20260922' is not a time"),
    ],
    "by": [
        ("soon", "by: 'soon' is not a date; give one, or text as \"2026-07-03\""),
        ("2027-02-30", "by: '2027-02-30' is not a date"),
        (pd.NaT, "by: NaT is not a date"),
        (20270915, "by: 20270915 is not a date"),
        (pd.Timestamp("2026-09-01T12:00"), "by 2026-09-01 is past"),
    ],
} | {
    name: [
        (wrong, f"{name}: {told} is not a number from 0.001 to 1e+09")
        for wrong, told in (
            (float("inf"), "inf"), (float("nan"), "nan"), (0, "0"), (-1.5, "-1.5"),
            (np.float32("nan"), "nan"), ("900", "'900'"), (True, "True"), (pd.NA, "<NA>"),
            (1e-9, "1e-09"), (1e300, "1e+300"),
        )
    ]
    for name in ("area_m2", "dry_film_um", "crew_rate_m2_h", "seconds")
}  # fmt: skip


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.__name__)
def test_each_mistake_is_one_sentence_in_each_function(asked, call):
    assert set(CALLS) == set(asked)
    tried = [name for name in inspect.signature(call).parameters if name in MISTAKES]
    assert tried
    for name in tried:
        for wrong, told in MISTAKES[name]:
            assert told in refused(call, **asked[call] | {name: wrong}), name


def test_every_mistake_has_a_function_that_can_be_given_it():
    assert set(MISTAKES) <= {name for call in CALLS for name in inspect.signature(call).parameters}


@pytest.mark.parametrize(
    "given",
    [
        date(2027, 9, 15), datetime(2027, 9, 15, 23), "2027-09-15", " 2027-09-15 ",
        pd.Timestamp("2027-09-15"), pd.Timestamp("2027-09-15T23:00", tz="America/Chicago"),
    ],
)  # fmt: skip
def test_a_day_may_be_a_date_a_time_or_text(given):
    found = day_of("by", given)
    assert type(found) is date
    assert found == date(2027, 9, 15)


@pytest.mark.parametrize("given", [1, 0.5, np.float32(2), np.int64(3), 1e-3])
def test_a_number_may_have_any_type(given):
    require_number("area_m2", given)


def test_nothing_is_a_number_only_where_there_is_a_default():
    require_number("area_m2", None, or_none=True)
    told = refused(require_number, "seconds", None)
    assert told == "seconds: None is not a number from 0.001 to 1e+09"


def test_a_coating_and_a_system_may_be_named_by_their_paths(tmp_path, asked):
    own = tmp_path / "own.toml"
    own.write_text('based_on = "acrylic"\n')
    frame = find_windows(**asked[find_windows] | {"coating": own})
    assert set(frame["coating"]) == {"own"}
    told = refused(check_bare_layers, FOLDER, now=NOW, system=tmp_path / "none.toml")
    assert "none.toml: no such file" in told

"""Seasons: real years against a plain reference and against sums in pandas; and what is refused."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import nyc_weather
import pandas as pd
import plain_seasons
import plain_site
import pytest
from outside import library
from season_cases import airport

from cure_models import load_profile
from windows.crew import NO_SHIFT, shifts
from windows.errors import HoursError
from windows.gates import State
from windows.hours import check_hours
from windows.job import check_job
from windows.provenance import Provenance
from windows.reports.season_sheets import practical_line
from windows.seasons.days import local_days
from windows.seasons.season import in_nominal_year, season_of
from windows.seasons.statistics import inverse_cdf, spread, trend
from windows.seasons.workable import checks, lost_hours, state_of, workable_days
from windows.site import CrewHours

NAMES = {State.OK: "OK", State.UNKNOWN: "UNKNOWN", State.BLOCKED: "BLOCKED"}
FIFTY_F = 10.0


def calendar(site, first, last):
    """Return the crew hours of each local day by the clock on the wall, hour by hour."""
    zone, found = site.zone, {}
    day = first - timedelta(days=1)
    while day <= last:
        count = 0
        if not site.crew.is_day_off(day):
            begin = datetime.combine(day, site.crew.start, zone)
            end = datetime.combine(day, site.crew.end, zone)
            if site.crew.end <= site.crew.start:
                end = datetime.combine(day + timedelta(days=1), site.crew.end, zone)
            hour = begin.astimezone(UTC)
            hour = hour.replace(minute=0) + timedelta(hours=hour.minute > 0)
            while hour + timedelta(hours=1) <= end.astimezone(UTC):
                count += 1
                hour += timedelta(hours=1)
        found[day] = count
        day += timedelta(days=1)
    return {day: count for day, count in found.items() if first <= day <= last}


@pytest.mark.parametrize(
    ("origin", "coating", "crew"),
    [
        ("JFK", "acrylic", {}),
        ("EWR", "silicone_high_solids", {"work_days": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat")}),
        ("LGA", "asphalt_emulsion", {"start": "19:30", "end": "04:00"}),
    ],
)
def test_a_real_year_equals_the_plain_reference(origin, coating, crew, outside):
    source = "a plain reference that knows only the definitions, tests/plain_seasons.py"
    hours, site = airport(origin, crew)
    profile = load_profile(coating)
    each = check_job(site, profile, hours)
    number = shifts(hours.index, site)
    shift_days = [
        None if n == NO_SHIFT else date(1970, 1, 1) + timedelta(days=n) for n in number.tolist()
    ]
    plain = plain_seasons.workable(
        list(hours.index.to_pydatetime()), shift_days,
        [NAMES[State(s)] for s in state_of(each).tolist()], each.coating.min_window_h,
    )  # fmt: skip
    days = local_days(hours.index, site)
    found = workable_days(state_of(each), each.coating.min_window_h, days)
    by_date = {day: n for n, day in enumerate(days.date.astype(object).tolist())}
    for day, told in plain.items():
        n = by_date[day]
        outside.equal(
            "known and valid hours and workability of each day; JFK, EWR and LGA 2013",
            (found.known[n], found.valid[n], found.workable[n]),
            (told["known_h"], told["valid_h"], told["workable"]), points=1, source=source,
        )  # fmt: skip
    asked = calendar(site, min(by_date), max(by_date))
    assert [asked[day] for day in by_date] == days.crew_hours.tolist()
    season = season_of(site, profile, hours)
    parts = [
        (season.months, plain_seasons.months(plain, asked)),
        (season.weeks, plain_seasons.weeks(plain, asked)),
    ]
    for got, want in parts:
        for part in got:
            mine = {year: told for (year, n), told in want.items() if n == part.number}
            counted = {year: told for year, told in mine.items() if told["counts"]}
            assert part.years == tuple(sorted(counted))
            workable = [told["workable_days"] for told in counted.values()]
            valid = [told["valid_h"] for told in counted.values()]
            for spread_of, values in ((part.workable, workable), (part.valid_hours, valid)):
                if not values:
                    assert np.isnan(spread_of.mean)
                    continue
                over = plain_seasons.over_years(values)
                outside.agree(
                    "mean and P50 of workable days and valid hours, months and ISO weeks",
                    [spread_of.mean, spread_of.p50], [float(over["mean"]), float(over["P50"])],
                    within=1e-6, unit="", source=source, why="rounding",
                )  # fmt: skip
                assert np.isnan([spread_of.p20, spread_of.p80]).all()  # of one year
    flags = {day: (asked[day] > 0, bool(found.workable[n])) for day, n in by_date.items()}
    counts = {key for key, told in parts[0][1].items() if told["counts"]}
    want = plain_seasons.practical(flags, "north", counts)
    outside.equal(
        "first and last practical day", {y.year: (y.first, y.last) for y in season.years},
        {year: ends for year, ends in want.items()
         if all((year, m) in counts for m in range(1, 13))}, source=source,
    )  # fmt: skip


def test_hours_at_50_degf_equal_a_count_in_pandas(outside):
    """Crew hours of each month that are warm enough, counted on the file's own Fahrenheit."""
    raw = pd.DataFrame(nyc_weather.raw("JFK"))
    local = pd.to_datetime(raw["time_hour"], utc=True).dt.tz_convert("America/New_York")
    temp = pd.to_numeric(raw["temp"])
    inside = local.dt.hour.between(7, 15) | (local.dt.hour == 16)  # whole hours to 17:00
    weekday = local.dt.day_of_week < 5
    cold = (temp < 50.0) & inside & weekday
    want = cold.groupby(local.dt.month).sum()

    hours, site = airport("JFK", {"end": "17:00"})
    site = site.model_copy(
        update={"crew": site.crew.model_copy(update={"holidays": None})}
    )
    each = check_job(site, load_profile("acrylic"), hours)
    gate = next(g for g in each.coating.gates if g.name == "air_temp_min")
    assert gate.limit == pytest.approx(FIFTY_F)
    days = local_days(hours.index, site)
    lost = lost_hours(checks(each), days)["air_temp_min"]
    months = days.months()
    blocked = months.total(lost.blocked)[months.year == 2013]
    outside.equal(
        "crew hours of each month below 50 °F, JFK 2013",
        dict(enumerate(blocked.tolist(), start=1)), want.to_dict(),
        source=library("pandas", "a count on the file's own Fahrenheit"),
    )  # fmt: skip


def table(start, days, zone="UTC", **given):
    """Return steady mild hours from a local midnight on, but for the columns given."""
    index = pd.date_range(
        pd.Timestamp(start, tz=zone).tz_convert("UTC"), periods=24 * days, freq="h"
    )
    columns = {
        "air_temp_c": 22.0, "rel_humidity": 0.4, "wind_m_s": 2.0, "cloud": 0.5, "rain_mm": 0.0,
    } | given  # fmt: skip
    made = {name: np.broadcast_to(np.asarray(v, float), len(index)) for name, v in columns.items()}
    return check_hours(dict(made), index, Provenance("invented", "a test"))


def roof(latitude=40.0, zone="UTC", **crew):
    hours = CrewHours.model_validate({"start": "07:00", "end": "17:00"} | crew)
    site = plain_site.site(absorptance=0.3, latitude=latitude)
    return site.model_copy(update={"crew": hours, "timezone": zone})


def test_a_leap_day_is_a_day_like_others():
    season = season_of(roof(), load_profile("acrylic"), table("2024-01-01", 366))
    february = next(part for part in season.months if part.number == 2)
    assert february.scheduled == 21  # 29 days from a Thursday on
    assert season.years[0].year == 2024
    assert in_nominal_year(date(2024, 2, 29), 1) == in_nominal_year(date(2023, 2, 28), 1)


def test_one_year_alone_tells_what_happened():
    season = season_of(roof(), load_profile("acrylic"), table("2023-01-01", 365))
    june = season.months[5]
    assert june.years == (2023,)
    assert june.workable.p50 == june.workable.mean == 22
    assert np.isnan([june.workable.p20, june.workable.p80]).all()
    assert season.warming is None
    assert season.gaining is None


def test_rain_that_is_never_known_is_no_season():
    hours = table("2023-01-01", 365, rain_mm=np.nan)
    with pytest.raises(HoursError, match=r"no month has 90 % .* rain_mm 0%.*no_rain"):
        season_of(roof(), load_profile("acrylic"), hours)


def test_a_table_without_cloud_says_how_to_go_on():
    hours = table("2023-01-01", 365)
    hours = check_hours(
        {n: hours.frame[n].to_numpy() for n in hours.frame if n != "cloud"}, hours.index,
        hours.provenance,
    )  # fmt: skip
    with pytest.raises(HoursError, match=r"there is no cloud column .--assume-cloud."):
        season_of(roof(), load_profile("acrylic"), hours)


def test_a_southern_season_runs_across_the_new_year():
    """Warm from October to April, frost between: practical from spring to autumn in one year."""
    days = 3 * 365
    start = pd.Timestamp("2020-07-01")
    month = pd.date_range(start, periods=days, freq="D").month.to_numpy()
    warm = np.repeat(np.isin(month, (10, 11, 12, 1, 2, 3, 4)), 24)
    hours = table(start, days, air_temp_c=np.where(warm, 22.0, -5.0))
    season = season_of(roof(latitude=-35.0), load_profile("acrylic"), hours)
    told = [(y.year, y.first, y.last) for y in season.years]
    assert [first for _, first, _ in told] == [
        date(2020, 10, 1), date(2021, 10, 1), date(2022, 10, 3)  # 1 October 2022 was a Saturday
    ]
    # The coat needs a day without frost after it: the last day or two of April are lost.
    assert all(last.month == 4 and last.year == year + 1 for year, _, last in told)
    assert season.first.p50 == (date(2001, 10, 1) - date(2001, 7, 1)).days


def test_the_same_weather_in_the_north_has_two_halves():
    """The calendar year cuts it: practical from January on, up to December."""
    days = 2 * 365
    month = pd.date_range("2021-01-01", periods=days, freq="D").month.to_numpy()
    warm = np.repeat(np.isin(month, (10, 11, 12, 1, 2, 3, 4)), 24)
    hours = table("2021-01-01", days, air_temp_c=np.where(warm, 22.0, -5.0))
    season = season_of(roof(), load_profile("acrylic"), hours)
    first, last = season.years[0].first, season.years[0].last
    assert (first.month, last.month) == (1, 12)
    assert season.years[0].is_broken
    assert "broken in 2 of them" in practical_line(season)


def test_a_whole_good_year_is_not_broken():
    season = season_of(roof(), load_profile("acrylic"), table("2021-01-01", 365))
    assert not season.years[0].is_broken
    assert "broken" not in practical_line(season)


def test_a_shift_without_a_whole_hour_is_refused():
    hours = table("2021-01-01", 365)
    with pytest.raises(HoursError, match="no shift holds a whole hour"):
        season_of(roof(start="16:30", end="17:00"), load_profile("acrylic"), hours)


def test_a_month_with_a_tenth_unknown_still_counts_and_with_more_does_not():
    """June 2023 has 22 work days of 10 crew hours: 22 hours may be unknown, 23 not."""
    index = pd.date_range("2023-01-01", periods=24 * 365, freq="h", tz="UTC")
    crew = (index.hour >= 7) & (index.hour < 17) & (index.day_of_week < 5) & (index.month == 6)
    wind = np.full(len(index), 2.0)
    for unknown, counts in ((22, True), (23, False)):
        # Wind is asked in the hour itself and by no hold; so just these hours are unknown.
        broken = wind.copy()
        broken[np.flatnonzero(crew)[:: 220 // 23][:unknown]] = np.nan
        state = np.where(np.isnan(broken), State.UNKNOWN, State.OK).astype(np.int8)
        days = local_days(index, roof())
        found = workable_days(state, 3, days)
        months = days.months()
        good = months.counts(found.known, days.crew_hours)
        assert bool(good[(months.year == 2023) & (months.number == 6)][0]) is counts


def test_clock_changes_do_not_move_shifts():
    zone = ZoneInfo("America/New_York")
    hours = table("2023-01-01", 365, zone.key)
    site = roof(zone=zone.key, work_days=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"))
    days = local_days(hours.index, site)
    inside = days.year == 2023
    assert (days.crew_hours[inside] == 10).all()
    assert (days.by_shift(np.full(len(hours.index), True))[inside] == 10).all()
    night = roof(zone=zone.key, start="22:00", end="04:00",
                 work_days=("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"))  # fmt: skip
    crew = local_days(hours.index, night)
    by_day = dict(zip(crew.date.astype(object).tolist(), crew.crew_hours.tolist(), strict=True))
    assert by_day[date(2023, 3, 11)] == 5  # the night of the lost hour
    assert by_day[date(2023, 11, 4)] == 7  # and of the hour that comes twice
    assert by_day[date(2023, 6, 1)] == 6


def test_quantiles_are_ranks():
    years = np.array([3.0, 9.0, 1.0, 7.0, 5.0, 2.0, 8.0, 10.0, 4.0, 6.0])
    assert (inverse_cdf(years, 0.8), inverse_cdf(years, 0.2)) == (8.0, 2.0)
    assert inverse_cdf(np.array([4.0]), 0.8) == 4.0
    told = spread(years)
    assert (told.mean, told.p20, told.p50, told.p80, told.years) == (5.5, 2.0, 5.0, 8.0, 10)
    assert np.isnan([spread(years[:4]).p20, spread(years[:4]).p80]).all()
    assert spread(years[:5]).p80 == 7.0  # of 3 9 1 7 5 the fourth
    plain = plain_seasons.over_years([3, 9, 1, 7, 5])
    assert (spread(years[:5]).p20, spread(years[:5]).p80) == (plain["P20"], plain["P80"])


def test_a_trend_is_that_of_least_squares(outside):
    stats = pytest.importorskip("scipy.stats")
    rng = np.random.default_rng(3)
    years, values = np.arange(1990, 2020), rng.normal(0, 1, 30) + 0.04 * np.arange(30)
    found = trend(years, values)
    want = stats.linregress(years, values)
    outside.agree(
        "trend over the years and its standard error", [found.per_decade, found.error],
        [10 * want.slope, 10 * want.stderr], within=1e-4, unit="%",
        source=library("scipy", "linregress"), why="rounding",
    )  # fmt: skip
    assert trend(years[:4], values[:4]) is None


@pytest.mark.parametrize("seed", range(6))
def test_values_taken_away_never_make_a_better_day(seed):
    """Single hours, columns over some days, whole days: no day gains a valid hour or a window."""
    hours, site = airport("JFK")
    profile = load_profile(["acrylic", "silicone_high_solids", "asphalt_emulsion"][seed % 3])
    rng = np.random.default_rng(seed)
    columns = {name: hours.frame[name].to_numpy().copy() for name in hours.frame}
    for _ in range(40):
        begin = int(rng.integers(0, len(hours.index) - 100))
        gone = slice(begin, begin + int(rng.choice([1, 3, 24, 90])))
        names = list(columns) if rng.random() < 0.3 else [str(rng.choice(list(columns)))]
        for name in names:
            columns[name][gone] = np.nan
    less = check_hours(columns, hours.index, hours.provenance)
    days = local_days(hours.index, site)
    found = []
    for table_ in (hours, less):
        each = check_job(site, profile, table_)
        found.append(workable_days(state_of(each), each.coating.min_window_h, days))
    before, after = found
    assert (after.valid <= before.valid).all()
    assert (~after.workable | before.workable).all()
    assert after.workable.sum() < before.workable.sum()

"""Bids: known climates against the negative binomial, years by hand, open cases, bad input."""

from datetime import date

import numpy as np
import pandas as pd
import plain_seasons
import plain_site
import plan_cases as cases
import pytest
from outside import library

from cure_models.system import load_system
from windows.errors import HoursError, SiteError
from windows.gates import State
from windows.hours import check_hours
from windows.job_file import JobFile
from windows.planning.build import problems
from windows.planning.layer_times import LayerTimes
from windows.planning.problem import FAR
from windows.planning.replay import replay_steady
from windows.planning.work_shifts import WorkShifts
from windows.provenance import Provenance
from windows.reports.bid_sheets import Asked, division_line, screen_rows, start_lines
from windows.seasons.bid import bid_of
from windows.seasons.statistics import (
    LEAST_YEARS,
    Finishes,
    draws,
    first_day,
    inverse_cdf,
    percentiles,
)
from windows.site import CrewHours
from windows.work_rate import equal_parts

ALL_WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
CALM, STORM = 2.0, 30.0


def roof(latitude=40.0, **crew):
    hours = {"start": "07:00", "end": "17:00", "work_days": ALL_WEEK} | crew
    site = plain_site.site(absorptance=0.3, latitude=latitude)
    return site.model_copy(
        update={
            "timezone": "UTC", "longitude": 0.0, "crew": CrewHours.model_validate(hours),
        }
    )


def table(start, days, **given):
    """Return steady mild dry hours, but for the columns that are given; one value a day, or all."""
    index = pd.date_range(pd.Timestamp(start, tz="UTC"), periods=24 * days, freq="h")
    columns = {
        "air_temp_c": 22.0, "rel_humidity": 0.5, "wind_m_s": CALM, "cloud": 0.5, "rain_mm": 0.0,
    } | given  # fmt: skip
    made = {
        name: np.repeat(values, 24).astype(float) if np.size(values) == days
        else np.broadcast_to(np.asarray(values, float), len(index))
        for name, values in columns.items()
    }  # fmt: skip
    return check_hours(made, index, Provenance("invented", "a test"))


@pytest.fixture
def one_coat(tmp_path):
    """Return what makes a coat of silicone in parts of a whole shift each, and its job."""
    system = cases.system(tmp_path, [("coat", "silicone_high_solids", "20 mil", "")])
    job = JobFile.model_validate({"crew": {"rates": {"coat": "100 m2/h"}}})
    return lambda shifts: (system, job, [cases.piece(f"S{n}", area=850.0) for n in range(shifts)])


def test_a_climate_of_independent_days_follows_the_negative_binomial(one_coat, outside):
    """Each day is calm with p = 0.75 and twelve are needed: scipy's nbinom counts the lost ones.

    Forty years give about 900 jobs that do not overlap: the share finished by a day is known to
    about 0.014, and the quantiles are asked where the next day's share is three times that away.
    """
    stats = pytest.importorskip("scipy.stats")
    need, p, years = 12, 0.75, 40
    source = library("scipy", "negative binomial")
    days = (date(1980 + years, 1, 1) - date(1980, 1, 1)).days
    calm = np.random.default_rng(11).random(days) < p
    hours = table("1980-01-01", days, wind_m_s=np.where(calm, CALM, STORM))
    system, job, parts = one_coat(need)
    bid = bid_of(roof(), system, hours, job, parts)
    assert bid.cases.is_open.sum() < 30  # the last days of the record only
    finishes = Finishes(bid.cases.duration, bid.cases.is_open, bid.cases.year)
    told = percentiles(finishes)
    lost = stats.nbinom(need, p)
    for share, got in ((0.5, told.p50), (0.8, told.p80), (0.9, told.p90)):
        day = need + int(lost.ppf(share))
        assert lost.cdf(day - need - 1) < share - 0.02
        assert lost.cdf(day - need) > share + 0.02
        outside.equal(
            "P50, P80 and P90 of twelve shifts, 0.75 good days, 40 years", got, day, source=source
        )
    for day in range(need, need + 12):
        outside.agree(
            "the share of these jobs finished by each day", finishes.by(day),
            lost.cdf(day - need), within=0.045, unit="", source=source,
            why="three times the error of 900 jobs",
        )  # fmt: skip


def test_durations_are_what_the_calendar_gives(one_coat):
    """Three shifts, the second day of each job stormy: four days; holidays and weekends count."""
    days = 3 * 365
    wind = np.full(days, CALM)
    storm = (date(2022, 6, 14) - date(2022, 1, 1)).days
    wind[storm] = STORM
    hours = table("2022-01-01", days, wind_m_s=wind)
    system, job, parts = one_coat(3)
    site = roof(work_days=("Mon", "Tue", "Wed", "Thu", "Fri"), days_off=["2022-06-16"])
    bid = bid_of(site, system, hours, job, parts)

    def length(day):
        at = np.flatnonzero(bid.cases.day == np.datetime64(day))
        return bid.cases.duration[at].tolist()

    assert length("2022-06-06") == [3]  # Monday to Wednesday
    assert length("2022-06-09") == [5]  # Thursday, Friday, Monday
    assert length("2022-06-13") == [5]  # storm on Tuesday, day off on Thursday: Friday
    assert length("2022-06-11") == length("2022-06-16") == []  # no crew begins then
    assert length("2022-06-14") == [7]  # begun on the stormy day: Wednesday, Friday, Monday
    week = bid.week(24)  # 13 to 17 June 2022, 12 to 16 June 2023, 10 to 14 June 2024
    assert week.cases.day.size == 14
    assert set(week.cases.year.tolist()) == {2022, 2023, 2024}
    assert week.duration.p80 is None  # three years do not tell one in five
    assert week.crew_days == 3


def test_a_start_is_followed_up_to_a_month_that_does_not_count(one_coat):
    """March 2023 is unknown: a start on 27 February is open after two days, those in it are out."""
    days = 365
    index = pd.date_range("2023-01-01", periods=days, freq="D")
    rain = np.where(index.month == 3, np.nan, 0.0)
    hours = table("2023-01-01", days, rain_mm=rain)
    system, job, parts = one_coat(4)
    bid = bid_of(roof(), system, hours, job, parts)
    assert bid.left_out == ((2023, 3),)
    assert not (bid.cases.day.astype("datetime64[M]") == np.datetime64("2023-03")).any()
    at = bid.cases.day == np.datetime64("2023-02-27")
    assert bid.cases.is_open[at].all()
    assert bid.cases.duration[at].tolist() == [2]
    assert not bid.cases.is_open[bid.cases.day == np.datetime64("2023-02-20")].any()
    # A start after it does not wait for the weather before the roof is known to be dry.
    assert (bid.cases.day > np.datetime64("2023-04-02")).any()


def test_open_cases_do_not_make_a_job_look_short(one_coat):
    """All starts of November are open: no percentile of them is told, though some days pass."""
    days = 365
    index = pd.date_range("2023-01-01", periods=days, freq="D")
    cold = np.where(index.month >= 11, -10.0, 22.0)
    hours = table("2023-01-01", days, air_temp_c=cold)
    system, job, parts = one_coat(4)
    bid = bid_of(roof(), system, hours, job, parts)
    november = bid.week(46)
    assert november.duration.still_open == november.duration.cases == 7
    assert november.duration.p50 is None
    assert november.finishes.by(15) == 0.0
    assert np.isnan(november.finishes.by(60))  # nobody was followed so long
    assert np.isnan(november.crew_days)


def test_a_job_longer_than_the_season_ends_in_the_next(one_coat):
    """Good in June and July only, and 80 shifts to work: the second summer ends it."""
    days = 4 * 365 + 1
    month = pd.date_range("2021-01-01", periods=days, freq="D").month.to_numpy()
    good = (month == 6) | (month == 7)
    hours = table("2021-01-01", days, wind_m_s=np.where(good, CALM, STORM))
    system, job, parts = one_coat(80)
    bid = bid_of(roof(), system, hours, job, parts)
    at = bid.cases.day == np.datetime64("2021-06-01")
    # 61 days of the first summer, 19 of the second: to 19 June 2022.
    assert bid.cases.duration[at].tolist() == [(date(2022, 6, 19) - date(2021, 6, 1)).days + 1]
    june = bid.week(22)
    assert bid.before_winter(date(2027, 5, 31), june) == 0.0
    assert bid.last_safe_start(date(2026, 1, 1)) is None


def test_best_and_last_safe_start_of_a_northern_and_a_southern_summer(one_coat):
    """Half a year is good and five shifts are needed: the last safe week ends before its last five.

    A week's number falls on days that differ by up to six from year to year, so a week is safe only
    if nearly all of these days are.
    """
    days = 6 * 365 + 1
    month = pd.date_range("2015-07-01", periods=days, freq="D").month.to_numpy()
    system, job, parts = one_coat(5)
    today = date(2026, 2, 1)
    for latitude, good, last_day, by in (
        (40.0, (5, 6, 7, 8, 9, 10), date(2026, 10, 31), date(2026, 9, 30)),
        (-35.0, (11, 12, 1, 2, 3, 4), date(2026, 4, 30), date(2026, 3, 20)),
    ):
        wind = np.where(np.isin(month, good), CALM, STORM)
        hours = table("2015-07-01", days, wind_m_s=wind)
        bid = bid_of(roof(latitude=latitude), system, hours, job, parts)
        assert bid.best_start(today)[1].duration.p80 == 5
        assert 10 <= (last_day - bid.last_safe_start(today)).days <= 18
        assert 9 <= (by - bid.last_safe_start(today, by)).days <= 15


def test_a_coat_left_over_winter_is_counted_for_the_crew_that_does_not_look_ahead():
    """Two coats; frost from 2 November on: a base of 1 November waits until May."""
    days = 2 * 365
    index = pd.date_range("2021-01-01", periods=days, freq="D")
    cold = (index.month >= 11) | (index.month <= 4)
    hours = table("2021-01-01", days, air_temp_c=np.where(cold, -8.0, 22.0))
    system = load_system("silicone_two_coat")
    rates = {layer.name: "100 m2/h" for layer in system.layers}
    job = JobFile.model_validate({"crew": {"rates": rates}})
    parts = [cases.piece(f"S{n}", area=800.0) for n in range(4)]
    bid = bid_of(roof(), system, hours, job, parts)
    by_day = dict(zip(bid.cases.day.astype(str).tolist(), bid.cases.over_winter, strict=True))
    assert by_day["2021-06-01"] == 0
    assert max(by_day[f"2021-10-{day}"] for day in range(20, 32)) > 0
    assert (bid.cases.over_winter[bid.cases.week == 30] == 0).all()


@pytest.mark.parametrize(
    ("frost", "counts"),
    [
        (("2021-11-25", "2022-01-10"), True),  # 46 days, midwinter among them
        (("2021-12-14", "2022-01-03"), False),  # 20 days
        (("2022-01-20", "2022-03-10"), False),  # 49 days after midwinter
    ],
)
def test_only_a_long_gap_over_midwinter_is_left_over_winter(frost, counts):
    days = 2 * 365
    index = pd.date_range("2021-06-01", periods=days, freq="D")
    cold = (index >= frost[0]) & (index < frost[1])
    hours = table("2021-06-01", days, air_temp_c=np.where(cold, -8.0, 22.0))
    system = load_system("silicone_two_coat")
    rates = {layer.name: "100 m2/h" for layer in system.layers}
    job = JobFile.model_validate({"crew": {"rates": rates}})
    bid = bid_of(roof(), system, hours, job, [cases.piece(f"S{n}", area=800.0) for n in range(4)])
    before = pd.Timestamp(frost[0]) - pd.Timedelta(days=12)
    near = bid.cases.day > np.datetime64(before.date())
    near &= bid.cases.day < np.datetime64(frost[0])
    assert (bid.cases.over_winter[near] > 0).any() == counts
    assert not bid.cases.blind_open[near].any()


def test_a_chance_is_not_told_where_open_starts_could_change_it():
    """Winters that are not known: what a coat left in autumn comes to is not known either."""
    days = 2 * 365
    index = pd.date_range("2021-01-01", periods=days, freq="D")
    rain = np.where(index.month >= 10, np.nan, 0.0)
    hours = table("2021-01-01", days, rain_mm=rain)
    system = load_system("silicone_two_coat")
    rates = {layer.name: "100 m2/h" for layer in system.layers}
    job = JobFile.model_validate({"crew": {"rates": rates}})
    bid = bid_of(roof(), system, hours, job, [cases.piece(f"S{n}", area=800.0) for n in range(9)])
    late = bid.week(38)
    assert late.duration.still_open == late.duration.cases
    assert np.isnan([late.strands, late.leaves_over_winter]).all()
    assert bid.week(20).leaves_over_winter == 0.0


def test_the_division_is_crew_days_over_the_share_of_workable_days(one_coat):
    """Every second day calm, six work days a week: eight shifts over a half times 7/6."""
    system, job, parts = one_coat(8)
    days = 2 * 364
    calm = np.arange(days) % 2 == 0
    hours = table("2021-01-04", days, wind_m_s=np.where(calm, CALM, STORM))
    bid = bid_of(roof(work_days=ALL_WEEK[:6]), system, hours, job, parts)
    week = bid.week(30)
    assert week.crew_days == 8
    assert week.divided_days == pytest.approx(8 / 0.5 * 7 / 6, rel=0.05)
    # Calm days fall on Monday, Wednesday, Friday, then Tuesday, Thursday, Saturday.
    assert week.duration.p50 >= 17


@pytest.mark.parametrize(
    ("share", "cell", "told"),
    [(np.nan, "-", "cannot be told, for that share is not known"),
     (0.0, "no end", "would never end, for no day is workable")],
)
def test_a_division_by_a_share_that_is_not_known_is_not_known(
    one_coat, monkeypatch, share, cell, told
):
    system, job, parts = one_coat(8)
    monkeypatch.setattr(
        "windows.seasons.bid._shares", lambda layers, *_: np.full((len(layers), 12), share)
    )
    bid = bid_of(roof(), system, table("2021-01-04", 2 * 364), job, parts)
    assert bid.week(30).crew_days == 8
    assert {row[-1] for row in screen_rows(bid, Asked(date(2021, 7, 1)))} == {cell}
    assert f"over the share of workable days {told}; " in division_line(bid.week(30))


def test_an_open_start_is_at_risk_on_the_days_on_which_it_was_followed(one_coat):
    """On both scales: a start on Wednesday that is followed for two days is so up to Thursday."""
    system, job, parts = one_coat(4)
    index = pd.date_range("2023-01-01", periods=365, freq="D")
    rain = np.where(index.month == 3, np.nan, 0.0)
    bid = bid_of(roof(), system, table("2023-01-01", 365, rain_mm=rain), job, parts)
    week = bid.week(9)  # Monday 27 February: two days are followed, and one of Tuesday
    assert week.cases.duration.tolist() == [2, 1]
    assert week.cases.is_open.all()
    assert week.finishes.by(1) == 0.0
    assert np.isnan(week.finishes.by(2))


def test_the_interval_is_that_of_years_drawn_anew(outside):
    """Against a loop that draws whole years with the same seed, and counts cases one by one."""
    rng = np.random.default_rng(5)
    years = np.repeat(np.arange(2000, 2012), 6)
    days = rng.integers(10, 40, years.size) + 5 * (years % 3)
    is_open = rng.random(years.size) < 0.1
    told = percentiles(Finishes(days, is_open, years))
    found = []
    for weights in draws(12)[:200].astype(int):
        drawn = [n for n, year in enumerate(years) for _ in range(weights[year - 2000])]
        value = plain_seasons.product_limit(days[drawn].tolist(), is_open[drawn].tolist(), 0.8)
        found.append(np.inf if value is None else value)
    whole = Finishes(days, is_open, years)
    got = first_day(whole.days, whole.share_by_day(draws(12)[:200]), 0.8)
    outside.equal(
        "P80 of years drawn anew, with open jobs", got.tolist(), found,
        source="a loop that counts every case",
    )  # fmt: skip
    low, high = told.interval_p80
    assert low <= told.p80 <= high
    assert draws(12).sum(axis=1).tolist() == [12.0] * len(draws(12))


def test_few_years_tell_less():
    days = np.arange(1, 12)
    for count in range(1, 12):
        told = percentiles(
            Finishes(days[:count], np.zeros(count, bool), np.arange(2000, 2000 + count))
        )
        given = {0.5: told.p50, 0.8: told.p80, 0.9: told.p90}
        assert {s: v is not None for s, v in given.items()} == {
            s: count >= least for s, least in LEAST_YEARS.items()
        }
        assert (told.interval_p80 is None) == (count < LEAST_YEARS[0.8])
        assert (told.interval_p90 is None) == (count < LEAST_YEARS[0.9])
    ten = percentiles(Finishes(days[:10], np.zeros(10, bool), np.arange(2000, 2010)))
    assert (ten.p50, ten.p80, ten.p90) == (5, 8, 9)  # the 5th, 8th and 9th of ten


def test_weeks_of_few_years_are_not_safe(one_coat):
    """Three years of good weather: no week tells one case in five, whatever it shows."""
    system, job, parts = one_coat(3)
    bid = bid_of(roof(), system, table("2021-01-01", 3 * 365), job, parts)
    assert bid.best_start(date(2026, 2, 1))[1].duration.p50 == 3
    assert bid.last_safe_start(date(2026, 2, 1)) is None
    told = start_lines(bid, Asked(date(2026, 2, 1)))
    assert told[1] == "Last safe start: not told from fewer than 5 years."


def test_where_every_week_is_good_the_last_safe_start_lies_before_midwinter(one_coat):
    """Midwinter shuts no work here: the weeks are safe up to the last that ends before it.

    From a best start just before midwinter, or on it, the next year's weeks are looked at.
    """
    system, job, parts = one_coat(3)
    bid = bid_of(roof(), system, table("2015-01-01", 8 * 365 + 2), job, parts)
    for today, winter in (
        (date(2026, 2, 1), date(2026, 12, 21)), (date(2026, 12, 14), date(2027, 12, 21)),
        (date(2026, 12, 21), date(2027, 12, 21)),
    ):  # fmt: skip
        assert 7 <= (winter - bid.last_safe_start(today)).days <= 16
    assert bid.before_winter(date(2026, 12, 21), bid.week(52)) == 1.0  # by the next one


def test_a_record_that_ends_before_the_work_of_its_last_shift_begins(one_coat):
    """The table ends at 08:00 and an hour and more is set-up: that shift is a start, and open."""
    system, job, parts = one_coat(2)
    crew = job.crew.model_copy(update={"set_up": 2.0, "clean_up": 0.0})
    parts = [cases.piece("A", area=400.0)]
    hours = table("2022-01-01", 365)
    cut = hours.frame.iloc[: -24 * 30 - 16]
    short = check_hours(
        {name: cut[name].to_numpy() for name in cut}, cut.index, hours.provenance
    )
    bid = bid_of(roof(), system, short, job.model_copy(update={"crew": crew}), parts)
    assert bid.cases.day.size > 300


def test_what_can_never_be_laid_is_told(one_coat):
    """Foam and its coat each fit a shift of six hours, but not both."""
    system = load_system("spf_silicone")
    rates = {layer.name: "100 m2/h" for layer in system.layers}
    job = JobFile.model_validate({"crew": {"rates": rates}})
    site = roof(start="09:00", end="16:00")
    hours = table("2022-01-01", 365)
    bid = bid_of(site, system, hours, job, [cases.piece("A", area=550.0)])
    assert bid.cases.is_open.all()
    assert any("'foam' of section 'A' has no start in all these years" in n for n in bid.notes)
    small = bid_of(site, system, hours, job, [cases.piece("A", area=150.0)])
    assert not small.cases.is_open.all()
    assert small.notes == ()


def test_a_part_larger_than_the_cap_is_refused():
    system = load_system("urethane_two_part_aliphatic")
    rates = {layer.name: "100 m2/h" for layer in system.layers}
    job = JobFile.model_validate({"crew": {"rates": rates, "open_area": "300 m2"}})
    assert any(system.must_be_covered(n) for n in range(len(system.layers)))
    with pytest.raises(SiteError, match=r"section 'A' is larger than crew.open_area"):
        bid_of(roof(), system, table("2022-01-01", 365), job, [cases.piece("A", area=400.0)])


def test_what_a_bid_leaves_aside_is_said(one_coat):
    system, job, parts = one_coat(2)
    crew = job.crew.model_copy(update={"extra_days": ("Sun",)})
    site = roof(days_off=["2026-07-03"])
    hours = table("2022-01-01", 365)
    bid = bid_of(site, system, hours, job.model_copy(update={"crew": crew}), parts)
    assert "extra days are not worked" in bid.notes[0]
    assert "days_off of the site are dates of their own years" in bid.notes[1]


def test_no_month_is_no_bid(one_coat):
    hours = table("2023-01-01", 200, rain_mm=np.nan)
    system, job, parts = one_coat(2)
    with pytest.raises(HoursError, match="no month has 90 %"):
        bid_of(roof(), system, hours, job, parts)


def test_a_part_that_fits_no_shift_is_refused(one_coat):
    system, job, _ = one_coat(2)
    with pytest.raises(SiteError, match=r"'.*' takes 20 h at a stretch, and no shift has more"):
        bid_of(roof(), system, table("2023-01-01", 365), job, [cases.piece("A", area=2000.0)])


def test_a_reading_of_today_says_nothing_of_other_years():
    """A film that holds moisture in asks for the time without rain, and takes no reading for it."""
    system = load_system("sebs_two_coat")
    rates = {layer.name: "100 m2/h" for layer in system.layers}
    reading = {
        "kind": "metal", "moisture": "3 %", "moisture_limit": "5 %", "method": "meter",
        "read_at": "2026-05-01 08:00",
    }  # fmt: skip
    hours, parts = table("2022-01-01", 365), [cases.piece("A", area=400.0)]

    def bid(**ground):
        job = JobFile.model_validate({"crew": {"rates": rates}, "substrate": reading | ground})
        return bid_of(roof(), system, hours, job, parts)

    with pytest.raises(SiteError, match="a reading of today says nothing of other years"):
        bid()
    with_reading = bid(dry_out="48 h").cases.duration
    assert with_reading.size > 300
    late = bid(dry_out="48 h", read_at="2022-06-01 08:00").cases.duration
    assert with_reading.tolist() == late.tolist()


def test_parts_of_a_whole_roof_fit_the_shortest_window(one_coat):
    system, job, _ = one_coat(2)
    parts = equal_parts(system, 2000.0, job)
    assert sum(part.area_m2 for part in parts) == pytest.approx(2000.0)
    assert all(part.area_m2 <= 300.0 for part in parts)


def test_two_coats_never_finish_before_one():
    """Tried on invented years: the system of two layers takes longer from every day."""
    rng = np.random.default_rng(8)
    days = 2 * 365
    hours = table("2021-01-01", days, wind_m_s=np.where(rng.random(days) < 0.6, CALM, STORM))
    crew = {"crew": {"rates": {"1": "100 m2/h", "2": "100 m2/h"}}}
    one, two = load_system("silicone_one_coat"), load_system("silicone_two_coat")
    parts = [cases.piece(f"S{n}", area=400.0) for n in range(3)]
    single = bid_of(
        roof(), one, hours, JobFile.model_validate({"crew": {"rates": {"1": "100 m2/h"}}}), parts
    )
    double = bid_of(roof(), two, hours, JobFile.model_validate(crew), parts)
    both = ~single.cases.is_open & ~double.cases.is_open
    assert both.sum() > 600
    assert (double.cases.duration[both] >= single.cases.duration[both]).all()
    assert not (single.cases.is_open & ~double.cases.is_open).any()


def chain(good, correlation, days):
    """Return whether each day is good: a two-state chain with this share and correlation."""
    draws_ = np.random.default_rng(1).random(days)
    ok = np.zeros(days, dtype=bool)
    for n in range(days):
        after_good = good + correlation * (1 - good)
        ok[n] = draws_[n] < (after_good if n and ok[n - 1] else good * (1 - correlation))
    return ok


@pytest.mark.parametrize(
    ("good", "correlation", "want"),
    [(0.75, 0.0, (23, 25, 29)), (0.75, 0.4, (22, 26, 31)), (0.60, 0.4, (30, 38, 44))],
)
def test_six_sections_of_two_coats_in_days_that_come_in_runs(good, correlation, want, outside):
    """Calculated elsewhere from 8,000 runs: base and top, the top within three calendar days.

    Calendar days from a Monday, five-day week, one coat a day; P50, P80, P90. The division, 12 over
    the share times 7/5, says 22.4, 22.4 and 28.0. 2,000 Mondays here: about 400 jobs that do not
    overlap, which is worth two days at P90.
    """
    days = 14000
    ok = chain(good, correlation, days)
    system, count = load_system("acrylic_two_coat"), 6
    hour = np.arange(24 * days)
    due = (hour // 24 + 4) * 48
    times = LayerTimes(
        states=np.where(np.repeat(ok, 24), State.OK, State.BLOCKED).astype(np.int8),
        opens=((hour // 24 + 1) * 48).astype(np.int32),
        due=np.where(due <= 48 * days, due, FAR).astype(np.int32),
    )
    week = np.array([day for day in range(days) if day % 7 < 5])
    shifts = WorkShifts(48 * week + 14, 48 * week + 32, week, np.full(week.shape, False))
    rates = {layer.name: f"{100 * layer.area_share} m2/h" for layer in system.layers}
    job = JobFile.model_validate({"crew": {"rates": rates}})
    parts = [cases.piece(f"S{n}", area=900.0) for n in range(count)]
    problem, _ = problems(system, [times] * 2, shifts, parts, job, 0, whole=True)
    finish = replay_steady(problem, shifts.first).finish
    mondays = (week % 7 == 0) & (finish < FAR)
    length = ((finish - 1) // 48 - week + 1)[mondays].astype(float)
    got = [inverse_cdf(length, share) for share in (0.5, 0.8, 0.9)]
    outside.agree(
        f"P50, P80, P90 of six sections of two coats: good {good:.2f}, correlation {correlation}",
        got, want, within=2, unit="days", source="8,000 runs calculated elsewhere",
        why="400 jobs that do not overlap",
    )  # fmt: skip

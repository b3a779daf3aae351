"""Days beyond the forecast: how many of the past days like them were workable."""

from datetime import date

import board_folder as folders
import numpy as np
import pandas as pd
import pytest

from windows.board.make import load_jobs
from windows.board.outlook import outlook
from windows.hours import check_hours
from windows.provenance import Provenance
from windows.weather_choice import WeatherChoice

YEARS = range(2014, 2026)
DAYS = [date(2026, 6, 1), date(2026, 6, 15)]  # the forecast reaches the first


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = folders.folder_of(tmp_path_factory.mktemp("one"))
    (found,) = load_jobs(folder, WeatherChoice(), folders.NOW).jobs
    return found


def past(change=None, *, wet=None, lost=None):
    """Return twelve years with rain in the crew hours of every second day, and where ``wet``.

    Gusts are not known where ``change`` says so, nothing is where ``lost`` does.
    """
    index = pd.date_range("2014-01-01T05:00Z", f"{YEARS[-1] + 1}-01-01T04:00Z", freq="h")
    columns = {
        name: np.full(len(index), value) for name, value in folders.FINE.items()
        if name != "rain_prob"
    }  # fmt: skip
    local = index.tz_convert(folders.ZONE)
    columns["rain_mm"][(local.day % 2 == 0) & (local.hour >= 7) & (local.hour < 20)] = 5.0
    if wet is not None:
        columns["rain_mm"][wet(local)] = 5.0
    if change is not None:
        columns["gust_m_s"][change(local)] = np.nan  # a stop that is not known wets no roof
    for name in columns if lost is not None else ():
        columns[name][lost(local)] = np.nan
    return check_hours(columns, index, Provenance("invented", "years.csv", kind="observed"))


def test_the_share_is_that_of_days_like_it(job):
    (found,) = outlook(job, DAYS, past())
    assert (found.day, found.years) == (DAYS[1], len(YEARS))
    assert 0.3 < found.workable < 0.7


def test_days_whose_hours_are_not_known_make_it_no_better(job):
    """Days are not left out one by one: a good one of each year that is half known is lost."""
    (whole,) = outlook(job, DAYS, past())
    (fewer,) = outlook(job, DAYS, past(lambda at: (at.day == 15) & (at.hour >= 8)))
    assert fewer.years == whole.years
    assert 0.8 * whole.workable < fewer.workable < whole.workable
    # Two wet ones that nobody knows are still not workable.
    (same,) = outlook(job, DAYS, past(lambda at: (at.day == 16) & (at.hour >= 8)))
    assert same == whole


def test_a_year_that_is_not_known_does_not_count(job):
    (whole,) = outlook(job, DAYS, past())
    (fewer,) = outlook(job, DAYS, past(lost=lambda at: at.year < 2016))
    assert (fewer.years, whole.years) == (10, 12)
    assert fewer.workable == pytest.approx(whole.workable, abs=0.1)


def test_bad_years_that_are_known_in_part_stay_in_the_count(job):
    """A third of the days is lost of two years of storms: they would go, and the share rise."""
    (calm,) = outlook(job, DAYS, past())
    bad = past(wet=lambda at: at.year < 2016)
    (storms,) = outlook(job, DAYS, bad)
    assert storms.workable < calm.workable
    holed = past(lambda at: (at.year < 2016) & (at.day % 3 == 0), wet=lambda at: at.year < 2016)
    assert outlook(job, DAYS, holed) == (storms,)


def test_without_years_or_with_few_of_them_nothing_is_told(job):
    assert outlook(job, DAYS, None) == ()
    few = past(lost=lambda at: at.year < YEARS[-1] - 3)
    assert outlook(job, DAYS, few) == ()

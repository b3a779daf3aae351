"""Kept forecasts against what came: on invented archives whose errors and chances are known."""

import gzip
import json
import os
import shutil
import tomllib
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pandas as pd
import plain_site
import pytest
from scipy.stats import norm

from cure_models import load_profile
from cure_models.system import load_system
from windows.conditions import roof_in_table
from windows.errors import HoursError, OutputError
from windows.gates import State, combine
from windows.hours import check_hours
from windows.job import check_job, run_job
from windows.odds.forecast_error import load_forecast_error
from windows.provenance import Provenance
from windows.reports.skill_file import forecast_error_toml
from windows.reports.skill_page import (
    errors_figure,
    goes_figure,
    rain_skill_figure,
    reliability_figure,
    skill_page,
)
from windows.reports.skill_sheets import recalibration_lines, skill_sheet
from windows.reports.wording import Wording
from windows.skill.goes import Coat, coats_of, goes_of
from windows.skill.measures import brier
from windows.skill.pairs import (
    Cases,
    Errors,
    Kind,
    lead_days,
    rain_cases,
    temperature_errors,
)
from windows.skill.recalibrate import LEAST_DAYS, RainMap, rain_map_of, recalibration_of
from windows.skill.score import of_one_source, skill_of
from windows.skill.store import Stored, issue_time, keep_forecast, stored
from windows.sources import read_weather
from windows.sources.canonical_csv import write

HOUR = pd.Timedelta(hours=1)
START = pd.Timestamp("2026-03-01T00:00Z")
SITE = plain_site.site(absorptance=0.3)
DAYS = 10


def table(columns, index, **told):
    """Return hours with what a roof needs; columns replace the plain ones."""
    plain = {
        "air_temp_c": np.full(len(index), 20.0),
        "dew_point_c": np.full(len(index), 5.0),
        "wind_m_s": np.full(len(index), 2.0),
        "rain_mm": np.zeros(len(index)),
        "cloud": np.full(len(index), 0.3),
    }
    given = {"source": "invented forecasts", "place": "nowhere", "kind": "forecast"} | told
    return check_hours(plain | columns, index, Provenance(**given))


def hours_from(start, hours):
    return pd.date_range(start, periods=hours, freq="h")


def forecast(columns, start=START, hours=240, issued=None, **told):
    """Return a kept forecast, issued when its first hour begins unless it is said otherwise."""
    issued = start if issued is None else issued
    made = table(columns, hours_from(start, hours), issued=issued, **told)
    return Stored(Path("nowhere.csv"), issued, made)


def observed(columns, start=START, hours=240, **told):
    told = {"source": "invented station", "kind": "observed"} | told
    return table(columns, hours_from(start, hours), **told)


def archive(days, block=1, over=1.0, bias=None, sd=None, seed=3, every_h=24):
    """Return forecasts issued daily for ten days, and the hours that came: invented, but known.

    Whether a block of hours is wet is a sum of ten causes above a threshold; on lead day d those
    from d on are known, so the chance told of it is true on every lead day. ``over`` multiplies it.
    Temperatures err by ``bias`` and ``sd`` of each lead day, in each hour anew. [K]
    """
    rng = np.random.default_rng(seed)
    bias = np.zeros(DAYS) if bias is None else np.asarray(bias, dtype=float)
    sd = np.full(DAYS, 0.5) if sd is None else np.asarray(sd, dtype=float)
    hours = (days + DAYS) * 24
    blocks = hours // block
    causes = rng.normal(size=(DAYS + 1, blocks)) / np.sqrt(DAYS + 1)
    threshold = norm.ppf(0.8)
    wet = causes.sum(axis=0) > threshold
    rain = np.zeros(hours)
    rain[np.flatnonzero(wet) * block + rng.integers(0, block, wet.sum())] = 1.2
    index = hours_from(START, hours)
    local = (index.hour.to_numpy() - 20) / 24 * 2 * np.pi
    air = 16 + 7 * np.cos(local) + np.repeat(rng.normal(0, 3, hours // 24), 24)
    dew = air - 7
    came = observed({"air_temp_c": air, "dew_point_c": dew, "rain_mm": rain}, hours=hours)
    made = []
    for first in range(0, days * 24, every_h):
        rows = np.arange(first, first + DAYS * 24)
        lead = (rows - first) // 24
        known = np.cumsum(causes[::-1], axis=0)[::-1]  # row d: causes from d on
        which = rows // block
        # On lead day 1 (row 0 of lead) the causes 1 to 10 are known, and cause 0 is not.
        sure = known[np.minimum(lead + 1, DAYS), which]
        spread = np.sqrt((lead + 1) / (DAYS + 1))
        chance = norm.cdf((sure - threshold) / spread)
        if block > 1:
            chance = chance[(rows // block) * block - first]  # the chance of its first hour
        columns = {
            "air_temp_c": air[rows] + bias[lead] + sd[lead] * rng.normal(size=rows.size),
            "dew_point_c": dew[rows] - 0.5 * bias[lead] + sd[lead] * rng.normal(size=rows.size),
            "rain_mm": np.where(chance > 0.5, 0.8, 0.0),
            "rain_prob": np.minimum(over * chance, 1.0),
        }
        columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temp_c"])
        if block > 1:
            columns["rain_prob_block_h"] = np.full(rows.size, float(block))
        made.append(forecast(columns, START + first * HOUR))
    return made, came


@pytest.fixture(scope="module")
def learnt():
    """Return the skill of forecasts of just enough days, one coating with it."""
    made, came = archive(32, bias=np.linspace(0.2, 1, DAYS))
    return skill_of(SITE, made, came, [Coat(SITE, load_profile("acrylic"))])


@pytest.fixture(scope="module")
def honest():
    """Return an archive whose chances are true."""
    return archive(80)


def lead_of(forecasts, came, coats=()):
    return skill_of(SITE, forecasts, came, coats)


# Leads


def test_the_first_day_is_the_24_hours_from_the_issue():
    made = forecast({}, START, 300, START + 5.5 * HOUR)
    days = lead_days(made)
    assert (days[:6] == 0).all()  # begun before the issue
    assert (days[6:30] == 1).all()
    assert days[30] == 2
    assert days[245] == 10
    assert (days[246:] == 0).all()


# Temperatures


def test_a_constant_error_is_found_exactly():
    air = 20 + np.sin(np.arange(240.0))
    made = forecast({"air_temp_c": air + 1.5, "dew_point_c": np.full(240, 3.0)})
    skill = lead_of([made], observed({"air_temp_c": air}))
    for air_day, dew_day in zip(skill.air, skill.dew, strict=True):
        assert air_day.error.count == air_day.told == 24
        assert air_day.error.bias == pytest.approx(1.5)
        assert air_day.error.mae == pytest.approx(1.5)
        assert air_day.error.sd == pytest.approx(0, abs=1e-9)
        assert dew_day.error.bias == pytest.approx(-2.0)


def test_bias_and_spread_of_each_lead_day_are_found_back():
    bias, sd = np.linspace(-1, 2, DAYS), np.linspace(0.5, 3, DAYS)
    skill = lead_of(*archive(40, bias=bias, sd=sd))
    for n, day in enumerate(skill.air):
        # Errors are drawn hour by hour: the standard error of a mean and of a spread; five of them.
        assert abs(day.error.bias - bias[n]) < 5 * sd[n] / np.sqrt(day.error.count)
        assert abs(day.error.sd - sd[n]) < 5 * sd[n] / np.sqrt(2 * day.error.count)
        assert day.issue_days == 40
        assert day.both == 1


def test_what_is_not_observed_is_left_out_and_counted():
    air = np.full(240, 20.0)
    air[24:36] = np.nan
    skill = lead_of([forecast({})], observed({"air_temp_c": air[:200]}, hours=200))
    assert [day.error.count for day in skill.air] == [24, 12, *[24] * 6, 8, 0]
    assert [day.told for day in skill.air] == [24] * 10
    assert skill.air[1].both == 0.5
    assert np.isnan(skill.air[9].error.bias)


def test_a_dew_point_is_worked_out_where_a_table_has_only_humidity():
    humid = observed({"rel_humidity": np.full(240, 0.5)})
    only = replace(humid, frame=humid.frame.drop(columns="dew_point_c"))
    found = temperature_errors([forecast({})], only, "dew_point_c")
    # 20 degC at 50 %: dew point 9.3 degC; 5 was told.
    assert found.error == pytest.approx(np.full(240, 5 - 9.27), abs=0.05)


# Rain


def chances(prob, block=None, hours=48):
    columns = {"rain_prob": np.asarray(prob, dtype=float)}
    if block is not None:
        columns["rain_prob_block_h"] = np.asarray(block, dtype=float)
    return forecast(columns, hours=hours)


def rain(wet_at, hours=48, amount=1.0, **columns):
    fell = np.zeros(hours)
    fell[list(wet_at)] = amount
    return observed({"rain_mm": fell} | columns, hours=hours)


def test_a_chance_of_a_period_counts_once():
    prob = np.repeat([0.1, 0.4, 0.4, 0.8, 0.8, 0.3, 0.2, 0.2], 6)
    found = rain_cases([chances(prob, np.full(48, 6.0))], rain([13, 14, 40]))
    cases = found[Kind("told", 6)]
    assert list(found) == [Kind("told", 6)]
    assert cases.told.tolist() == [0.1, 0.4, 0.4, 0.8, 0.8, 0.3, 0.2, 0.2]
    assert cases.wet.tolist() == [False, False, True, False, False, False, True, False]
    assert cases.lead_day.tolist() == [1] * 4 + [2] * 4


def test_hours_of_a_period_add_up_to_a_hundredth_of_an_inch():
    made = chances(np.full(48, 0.5), np.full(48, 6.0))
    for amount, wet in ((0.254, True), (0.25, True), (0.24, False)):
        cases = rain_cases([made], rain([3], amount=amount))[Kind("told", 6)]
        assert bool(cases.wet[0]) is wet
    assert rain_cases([made], rain([3, 4], amount=0.2))[Kind("told", 6)].wet[0]


def test_periods_of_different_lengths_are_kept_apart():
    prob, block = np.r_[np.full(12, 0.2), np.full(36, 0.3)], np.r_[np.ones(12), np.full(36, 12.0)]
    found = rain_cases([chances(prob, block)], rain([]))
    assert {kind: cases.told.size for kind, cases in found.items()} == {
        Kind("told", 12): 3, Kind("told", 1): 12
    }  # fmt: skip


def test_a_period_with_a_gap_is_left_out_wet_or_not():
    made = chances(np.full(48, 0.4), np.full(48, 6.0))
    fell = np.zeros(48)
    fell[[1, 13]] = 1.0
    fell[[2, 20]] = np.nan  # in a wet period, and in a dry one
    cases = rain_cases([made], observed({"rain_mm": fell}, hours=48))[Kind("told", 6)]
    assert cases.told.size == 6
    assert cases.wet.sum() == 1
    assert cases.not_observed.tolist()[:2] == [2, 0]


def test_a_period_that_the_table_cuts_off_or_that_had_begun_is_left_out():
    cut = chances(np.r_[np.full(44, 0.4), np.full(4, 0.9)], np.r_[np.ones(44), np.full(4, 6.0)])
    assert Kind("told", 6) not in {
        kind for kind, each in rain_cases([cut], rain([])).items() if each.told.size
    }
    begun = chances(np.full(48, 0.4), np.full(48, 6.0))
    begun = replace(begun, issued=START + 2 * HOUR)
    assert rain_cases([begun], rain([]))[Kind("told", 6)].told.size == 7


def test_a_sum_over_hours_is_no_reading_of_an_hour():
    fell, block = np.zeros(48), np.ones(48)
    fell[12:18], block[12:18] = 0.5, 6
    came = observed({"rain_mm": fell, "rain_block_h": block}, hours=48)
    hourly = rain_cases([chances(np.full(48, 0.3))], came)[Kind("told", 1)]
    assert hourly.told.size == 42
    assert not hourly.wet.any()
    assert hourly.in_sums[0] == 6
    # The same sum is a reading of the period that it is of, and not of one that it overlaps.
    whole = rain_cases([chances(np.full(48, 0.3), np.full(48, 6.0))], came)[Kind("told", 6)]
    assert whole.wet.tolist() == [False, False, True, *[False] * 5]
    longer = rain_cases([chances(np.full(48, 0.3), np.full(48, 4.0))], came)[Kind("told", 4)]
    assert longer.in_sums[0] == 2


def test_a_trace_is_no_rain():
    came = rain([5], amount=0.0, rain_trace=np.ones(48))
    assert not rain_cases([chances(np.full(48, 0.3))], came)[Kind("told", 1)].wet.any()


def test_the_share_of_wet_runs_is_a_chance():
    runs = np.zeros((4, 48))
    runs[:3, 7] = 0.6
    runs[0, 8] = np.nan
    made = forecast({"rain_mm": runs[0]}, hours=48)
    made = replace(made, hours=replace(made.hours, members={"rain_mm": runs}))
    cases = rain_cases([made], rain([7]))[Kind("runs", 1)]
    assert cases.told.size == 47  # not the hour of which a run is not known
    assert cases.told[7] == 0.75
    assert cases.wet[7]


def test_taking_observed_hours_away_adds_no_case_and_changes_none():
    made, came = archive(12, block=3)
    full = rain_cases(made, came)[Kind("told", 3)]
    holes = np.random.default_rng(2).random(len(came.index)) < 0.1
    frame = came.frame.assign(rain_mm=came.frame["rain_mm"].mask(holes))
    less = rain_cases(made, replace(came, frame=frame))[Kind("told", 3)]
    assert less.told.size < full.told.size
    assert less.told.size + less.not_observed.sum() == full.told.size + full.not_observed.sum()
    of_all = set(zip(full.told.tolist(), full.wet.tolist(), strict=True))
    assert set(zip(less.told.tolist(), less.wet.tolist(), strict=True)) <= of_all


def test_true_chances_are_found_reliable_on_every_lead_day(honest):
    cases = rain_cases(*honest)[Kind("told", 1)]
    for day in range(1, DAYS + 1):
        mine = cases.lead_day == day
        found = brier(cases.told[mine], cases.wet[mine])
        assert found.count == 80 * 24
        # Ten bins: the mean of the term is their share of the variance of a share, the rest luck.
        assert found.reliability < 4 * 10 * 0.25 / found.count
    skills = [brier(cases.told[m], cases.wet[m]).skill for d in (1, 5, 10)
              for m in [cases.lead_day == d]]  # fmt: skip
    assert skills == sorted(skills, reverse=True)


# Goes


NIGHT = pd.Timestamp("2026-06-01T04:00Z")
"""Midnight at the site, a Monday."""
WEEK = 24 * 8


def test_goes_that_failed_counted_by_hand():
    """Three hours of gale on Wednesday: all else is as it was told."""
    wind = np.full(WEEK, 2.0)
    wind[2 * 24 + np.array([10, 11, 12])] = 20.0
    made = forecast({}, NIGHT, WEEK)
    (goes,) = goes_of(
        [Coat(SITE, load_profile("acrylic"))], [made], observed({"wind_m_s": wind}, NIGHT, WEEK)
    )
    # Monday waits for a roof that nobody has looked at; a shift is 10 hours, the weekend is off.
    assert [day.go for day in goes.days] == [9, 10, 10, 10, 10, 0, 0, 0, 0, 0]
    assert [day.failed for day in goes.days] == [0, 0, 3, 0, 0, 0, 0, 0, 0, 0]
    assert [day.held for day in goes.days] == [9, 10, 7, 10, 10, 0, 0, 0, 0, 0]
    # Of Wednesday's usable hours, 07:00-10:00 and 13:00-17:00, none was missed.
    assert goes.days[2].usable == 7
    assert goes.total.missed == 0
    assert dict(goes.broke) == {"wind_max_spray": 3, "safety_wind": 3}


def test_usable_hours_that_were_missed_counted_by_hand():
    wind = np.full(WEEK, 2.0)
    wind[2 * 24 + np.array([10, 11, 12])] = 20.0
    made = forecast({"wind_m_s": wind}, NIGHT, WEEK)
    (goes,) = goes_of([Coat(SITE, load_profile("acrylic"))], [made], observed({}, NIGHT, WEEK))
    assert [day.missed for day in goes.days][:5] == [0, 0, 3, 0, 0]
    assert goes.total.failed == goes.total.unsure == 0
    blind = wind.copy()
    blind[wind > 10] = np.nan
    made = forecast({"wind_m_s": blind}, NIGHT, WEEK)
    (goes,) = goes_of([Coat(SITE, load_profile("acrylic"))], [made], observed({}, NIGHT, WEEK))
    assert goes.days[2].missed >= goes.days[2].unsure >= 3


def test_goes_are_counted_as_a_plain_loop_counts_them(honest, outside):
    made, came = honest[0][40:50], honest[1]
    coat = Coat(SITE, load_profile("acrylic"))
    (goes,) = goes_of([coat], made, came)
    seen = check_job(SITE, coat.profile, came, roof=roof_in_table(came, SITE))
    truth = dict(zip(came.index, combine(seen.checked.state, seen.safety), strict=True))
    counts = np.zeros((DAYS + 1, 3), dtype=int)
    for each in made:
        job = run_job(SITE, coat.profile, each.hours)
        for window in job.found.windows:
            for when in pd.date_range(window.start, window.end, freq="h", inclusive="left"):
                day = int((when - each.issued) / HOUR // 24) + 1
                if day <= DAYS:
                    counts[day, truth.get(when, State.UNKNOWN)] += 1
    assert counts.sum() > 50
    for day in goes.days:
        outside.equal(
            "goes that held, failed or were not observed, by lead day",
            [day.held, day.not_known, day.failed], counts[day.lead_day].tolist(),
            source="a plain loop over windows and hours",
        )  # fmt: skip
        assert day.go == counts[day.lead_day].sum()


def test_what_was_not_observed_never_holds(honest):
    made, came = honest[0][20:24], honest[1]
    coat = Coat(SITE, load_profile("acrylic"))
    (full,) = goes_of([coat], made, came)
    holes = np.random.default_rng(4).random(len(came.index)) < 0.05
    frame = came.frame.mask(np.broadcast_to(holes[:, None], came.frame.shape))
    (less,) = goes_of([coat], made, replace(came, frame=frame))
    for before, after in zip(full.days, less.days, strict=True):
        assert after.go == before.go
        assert after.held <= before.held
        assert after.held + after.failed + after.not_known == after.go
    assert less.total.not_known > full.total.not_known


def test_coats_of_a_system_lie_on_the_layer_below():
    coats = coats_of(SITE, load_system("acrylic_reinforced"))
    assert len({coat.profile.name for coat in coats}) == len(coats)
    assert coats[0].site == SITE
    assert coats[1].site.surface.name == coats[0].profile.title


# What is learnt


def test_a_known_over_forecast_is_found_back(tmp_path, outside):
    source = "put into invented forecasts of 60 days"
    skill = lead_of(*archive(60, over=1.5, bias=np.full(DAYS, 0.8)))
    learnt = skill.recalibration
    assert learnt.lacking == ()
    assert learnt.rain.after < learnt.rain.before
    path = tmp_path / "forecast_error.toml"
    path.write_text(forecast_error_toml(skill))
    read = load_forecast_error(path)
    assert read.lead_day.tolist() == list(range(1, 11))
    outside.agree(
        "bias learnt from forecasts", read.air_temp_bias_k, np.full(DAYS, 0.8),
        within=0.07, unit="K", source=source, why="five standard errors",
    )  # fmt: skip
    outside.agree(
        "spread learnt from forecasts", read.air_temp_sd_k, np.full(DAYS, 0.5),
        within=0.05, unit="K", source=source,
    )  # fmt: skip
    assert read.source == "measured: 60 forecasts of invented forecasts, 2026-03-01 to 2026-04-29"
    # Higher ones are mixed with those that were cut off at 1.
    told = np.array([0.15, 0.3, 0.45, 0.6, 0.75])
    outside.agree(
        "chances of rain told 1.5 times too high, set right", read.rain_prob(told), told / 1.5,
        within=0.06, unit="", source=source,
        why="bins of 10 % as lines, and hours that share their causes",
    )  # fmt: skip
    lines = recalibration_lines(skill, Wording("us", SITE.zone))
    score = f"{learnt.rain.before:.4f} before, {learnt.rain.after:.4f} after; standard error"
    assert f"Brier score on forecasts left out of the fit: {score}" in lines[1]


def test_any_name_of_a_source_can_be_read_again(tmp_path, learnt):
    name = 'Joe\'s "flat" \\ roof 🏠 \x7f </b>'
    path = tmp_path / "forecast_error.toml"
    path.write_text(forecast_error_toml(replace(learnt, source=name)), encoding="utf-8")
    assert load_forecast_error(path).source.startswith(f"measured: 32 forecasts of {name}, 2026")


def test_a_page_shows_texts_as_texts_and_stands_without_rain_or_coatings(learnt):
    nasty = "<b>roof</b> </script><img src=x onerror=alert(1)> & 🏠"
    words = Wording("us", SITE.zone)
    told = skill_page(replace(learnt, site=SITE.model_copy(update={"name": nasty})), words)
    assert nasty not in told
    assert "&lt;b&gt;roof&lt;/b&gt;" in told
    dry = lead_of([forecast({})], observed({}))
    page = skill_page(dry, words)
    assert "Chance of rain" not in page
    assert "Not yet: rain: 30 days of issue" in unescape(page)


def test_figures_tell_the_numbers_of_the_skill(learnt):
    words = Wording("us", SITE.zone)
    errors = errors_figure(learnt, words)
    bias, _, size, _ = errors.data
    assert list(bias.x) == list(range(1, 11))
    assert bias.y == pytest.approx([1.8 * day.error.bias for day in learnt.air])
    assert size.y == pytest.approx([1.8 * day.error.mae for day in learnt.air])
    # What has a sign and what is a size have axes of their own; sizes begin at zero.
    assert [trace.yaxis for trace in errors.data] == ["y", "y", "y2", "y2"]
    assert errors.layout.yaxis.title.text == "forecast less observed, °F"
    assert errors.layout.yaxis2.title.text == "mean error, °F"
    assert errors.layout.yaxis2.rangemode == "tozero"
    assert rain_skill_figure(learnt, [Kind("told", 1)]).layout.yaxis.rangemode == "tozero"
    kind = Kind("told", 1)
    drawn = reliability_figure(learnt, kind).data[-1]
    bins = [each for each in learnt.rain[0].bins if each.count]
    assert list(drawn.text) == [str(each.count) for each in bins]
    assert drawn.y == pytest.approx([100 * each.found for each in bins])
    high = np.array(drawn.y) + np.array(drawn.error_y.array)
    assert high == pytest.approx([100 * each.found_high for each in bins])
    (goes,) = learnt.goes
    stacked = {trace.name: sum(trace.y) for trace in goes_figure(goes).data}
    total = goes.total
    assert stacked == {"held": total.held, "failed": total.failed, "not known": total.not_known}


def test_the_long_table_has_every_figure_once(learnt):
    rows = skill_sheet(learnt).rows
    keys = [row[:5] for row in rows]
    assert len(set(keys)) == len(keys)
    told = {row[:5]: row[6] for row in rows}
    assert told["temperature", "dew_point_c", 3, None, "sd"] == learnt.dew[2].error.sd
    assert told["rain", "hourly", "all", None, "score"] == learnt.rain[0].brier.score
    assert told["go", "acrylic", 2, None, "held"] == learnt.goes[0].days[1].held


def test_true_chances_are_left_as_they_are(honest):
    learnt = lead_of(*honest).recalibration
    assert learnt.rain is None
    assert any("does not surely help" in each for each in learnt.lacking)


NO_ERRORS = Errors(*[np.empty(0)] * 4)


def storms(days, over=1.0, seed=0):
    """Return hourly chances of daily issues, ten days each, of rain that lasts whole days.

    All issues tell of a day the same chance; it is true, or ``over`` times the true one.
    """
    rng = np.random.default_rng(seed)
    true = np.clip(rng.beta(1, 2, days + DAYS), 0.02, 0.95)
    wet = rng.random(days + DAYS) < true
    issue, lead = np.repeat(np.arange(days), DAYS * 24), np.tile(np.arange(DAYS * 24) // 24, days)
    told = np.minimum(over * true, 1.0)[issue + lead]
    return Cases(told, wet[issue + lead], lead + 1, issue, np.zeros(DAYS), np.zeros(DAYS))


def learnt_of(cases):
    return recalibration_of(NO_ERRORS, NO_ERRORS, [cases])


@pytest.mark.parametrize("days", [40, 75, 120])
def test_true_chances_of_days_of_rain_are_left_as_they_are(days):
    found = [learnt_of(storms(days, seed=seed)).rain for seed in range(20)]
    gains = [rain.before - rain.after for rain in found if rain is not None]
    assert len(gains) <= 2  # of 20, by luck of the draw
    assert all(gain < 0.02 for gain in gains)


def read_by(rain, told):
    """Return chances as the odds read them by a map."""
    points = {"rain_prob_told": np.array(rain.told), "rain_prob_found": np.array(rain.found)}
    return replace(load_forecast_error(), **points).rain_prob(told)


def test_the_gain_that_is_told_is_that_in_other_weather():
    """Forecasts of other days tell of the same rain: a map that has seen it seems to help."""
    fresh = storms(2000, seed=999)
    as_told = brier(fresh.told, fresh.wet).score
    told, true = [], []
    for seed in range(20):
        rain = rain_map_of([storms(75, seed=seed)])
        told.append(rain.before - rain.after)
        true.append(as_told - brier(read_by(rain, fresh.told), fresh.wet).score)
    # Three standard errors of the mean; with no days between, it is told twice that too well.
    assert abs(np.mean(told) - np.mean(true)) < 3 * np.std(told) / np.sqrt(len(told))
    assert np.mean(told) < 0


@pytest.mark.parametrize("seed", range(5))
def test_a_known_over_forecast_of_days_of_rain_is_found_and_helps_in_other_weather(seed):
    rain = learnt_of(storms(240, over=2.0, seed=seed)).rain
    assert rain is not None
    assert rain.tried == 1
    assert rain.before - rain.after > rain.gain_error > 0
    fresh = storms(300, over=2.0, seed=100 + seed)
    after = brier(read_by(rain, fresh.told), fresh.wet).score
    assert after < brier(fresh.told, fresh.wet).score - 0.02


def test_hours_that_go_together_make_the_gain_no_surer():
    cases = storms(240)
    first = np.arange(cases.told.size) % 24 == 0
    fields = ("told", "wet", "lead_day", "issue_day")
    thin = replace(cases, **{name: getattr(cases, name)[first] for name in fields})
    # Alike but for the one dry and one wet case that each share is rounded by.
    error = rain_map_of([cases]).gain_error
    assert error == pytest.approx(rain_map_of([thin]).gain_error, rel=0.2)
    # 250 days foretold, each by ten issues: squares of a Brier score spread by a tenth or so.
    assert 0.02 / np.sqrt(250) < error < 0.2 / np.sqrt(250)


@pytest.mark.parametrize(
    ("after", "tried", "helps"),
    [(0.19, 1.0, True), (0.1951, 1.0, False), (0.21, 1.0, False), (0.19, 0.4, False)],
)
def test_a_map_helps_if_its_gain_is_above_its_error_and_half_was_tried(after, tried, helps):
    found = RainMap((0.1, 0.5), (0.1, 0.3), 1000, 0.2, after, 0.005, tried)
    assert found.helps is helps


def test_what_cannot_be_tried_on_other_weather_is_not_offered():
    learnt = learnt_of(storms(50, seed=2))
    assert learnt.rain is None
    assert "issued more than 10 days from those it is learnt from" in learnt.lacking[-1]


@pytest.mark.parametrize("chance", [0.55, 0.85])
def test_one_storm_makes_no_bin(chance):
    """Ten issues foretell one day, 24 hours each; all else is told and found nearly dry."""
    cases = storms(80)
    told = np.full(cases.told.size, 0.05)
    day = cases.issue_day + cases.lead_day - 1
    told[day == 40] = chance
    learnt = learnt_of(replace(cases, told=told, wet=day == 40))
    assert learnt.rain is None
    assert "two bins of 10 % with 50 chances of 10 days each" in learnt.lacking[-1]


def test_one_issue_makes_no_bin():
    """One issue foretells ten days, all of them wet."""
    cases = storms(80)
    one = cases.issue_day == 40
    learnt = learnt_of(replace(cases, told=np.where(one, 0.55, 0.05), wet=one))
    assert learnt.rain is None
    assert "two bins of 10 %" in learnt.lacking[-1]


def test_forecasts_of_few_days_teach_nothing():
    made, came = archive(LEAST_DAYS - 1, every_h=6)
    assert len(made) > 100
    skill = lead_of(made, came)
    assert skill.recalibration.days == ()
    assert skill.recalibration.rain is None
    assert any("29 are there" in each for each in skill.recalibration.lacking)
    with pytest.raises(OutputError, match="not enough to learn from yet"):
        forecast_error_toml(skill)


def test_forecasts_scored_against_themselves_teach_nothing():
    made, came = archive(31, sd=np.zeros(DAYS))
    learnt = lead_of(made, came).recalibration
    assert learnt.days == ()
    assert "not those of a forecast" in learnt.lacking[0]


# The store


def test_a_kept_forecast_is_read_again_as_it_was(tmp_path):
    made, _ = archive(1, block=6)
    path = keep_forecast(tmp_path / "forecasts", made[0].hours)
    assert path.name == "20260301T0000Z.csv.gz"
    (back,), unread = stored(tmp_path / "forecasts")
    assert unread == ()
    assert back.issued == made[0].issued
    pd.testing.assert_frame_equal(back.hours.frame, made[0].hours.frame, check_freq=False)
    assert back.hours.provenance.kind == "forecast"


def test_the_runs_of_an_ensemble_are_kept_and_scored(tmp_path):
    runs = np.zeros((5, 240))
    runs[:2, 30] = 0.7
    hours = replace(forecast({"rain_mm": runs[0]}).hours, members={"rain_mm": runs})
    keep_forecast(tmp_path, hours)
    found, _ = stored(tmp_path)
    assert np.array_equal(found[0].hours.members["rain_mm"], runs)
    skill = lead_of(found, rain([30], hours=240))
    day = next(each for each in skill.rain if each.lead_day == 2)
    assert day.kind == Kind("runs", 1)
    # 0.4 told of the wet hour, nothing of the 23 dry ones.
    assert day.brier.score == pytest.approx(0.6**2 / 24)
    assert skill.recalibration.rain is None  # only chances that are told are learnt


def test_one_issue_is_kept_once_and_another_source_apart(tmp_path):
    made = forecast({})
    assert keep_forecast(tmp_path, made.hours) is not None
    assert keep_forecast(tmp_path, made.hours) is None
    other = forecast({}, source="another source").hours
    assert keep_forecast(tmp_path, other).name == "20260301T0000Z_2.csv.gz"
    assert keep_forecast(tmp_path, other) is None
    found, _ = stored(tmp_path)
    with pytest.raises(HoursError, match=r"several sources.*choose one with --of"):
        of_one_source(found, None)
    mine, others = of_one_source(found, "another source")
    assert len(mine) == 1
    assert others == {"invented forecasts": 1}
    with pytest.raises(HoursError, match="no forecast of 'nobody' is kept"):
        of_one_source(found, "nobody")


def test_the_time_of_fetching_stands_in_for_that_of_issue(tmp_path):
    fetched = START + 7 * HOUR
    hours = table({}, hours_from(START, 48), retrieved=fetched)
    assert issue_time(hours) == fetched
    assert keep_forecast(tmp_path, hours).name == "20260301T0700Z.csv.gz"


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"kind": "observed", "issued": START}, "its hours are observed, not a forecast"),
        ({"kind": "reanalysis", "issued": START}, "its hours are reanalysis, not a forecast"),
        ({"kind": "forecast"}, "tells no time of issue"),
        ({"issued": START + 60 * HOUR}, "no hour of it begins after its issue"),
    ],
)
def test_what_is_no_forecast_is_not_kept(tmp_path, told, words):
    with pytest.raises(HoursError, match=words):
        keep_forecast(tmp_path / "forecasts", table({}, hours_from(START, 48), **told))
    assert not (tmp_path / "forecasts").exists()


def test_a_damaged_file_is_told_and_mended_by_the_same_issue(tmp_path):
    made, _ = archive(3)
    paths = [keep_forecast(tmp_path, each.hours) for each in made]
    paths[1].write_bytes(paths[1].read_bytes()[:200])
    found, unread = stored(tmp_path)
    assert [each.issued for each in found] == [made[0].issued, made[2].issued]
    assert [each.path for each in unread] == [paths[1]]
    assert "is broken or ends too early" in unread[0].text
    assert keep_forecast(tmp_path, made[1].hours) == paths[1]
    assert len(stored(tmp_path)[0]) == 3


def test_an_issue_that_is_there_twice_counts_once(tmp_path):
    path = keep_forecast(tmp_path, forecast({}).hours)
    shutil.copy(path, tmp_path / "copy.csv.gz")
    found, unread = stored(tmp_path)
    assert len(found) == 1
    assert "has the issue of 20260301T0000Z.csv.gz" in unread[0].text


def test_a_kept_forecast_has_the_rights_of_any_new_file_and_links_are_followed(tmp_path):
    mask = os.umask(0o027)
    try:
        path = keep_forecast(tmp_path / "forecasts", forecast({}).hours)
    finally:
        os.umask(mask)
    assert path.stat().st_mode & 0o777 == 0o640
    real = tmp_path / "real.csv.gz"
    real.write_bytes(b"damaged")
    path.unlink()
    path.symlink_to(real)
    assert keep_forecast(tmp_path / "forecasts", forecast({}).hours) == path
    assert path.is_symlink()
    assert len(stored(tmp_path / "forecasts")[0]) == 1
    assert read_weather(real).provenance.kind == "forecast"


def test_a_folder_that_cannot_be_written_to_is_a_sentence(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="cannot be written"):
        keep_forecast(tmp_path / "file", forecast({}).hours)
    with pytest.raises(OutputError, match="cannot be written"):
        keep_forecast(tmp_path / "none" / "forecasts", forecast({}).hours)


# The command


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Return a site's folder with 35 kept forecasts and the hours that came."""
    folder = tmp_path_factory.mktemp("kept")
    demo = Path(__file__).parents[3] / "demo_sites" / "cool_north"
    for name in ("site.toml", "job.toml", "weather.csv"):
        shutil.copy(demo / name, folder / name)
    made, came = archive(35, block=6, over=1.4, bias=np.full(DAYS, 1.0))
    for each in made:
        keep_forecast(folder / "forecasts", each.hours)
    (folder / "came.csv").write_bytes(write(came))
    return folder


@pytest.fixture(scope="module")
def few(kept, tmp_path_factory):
    """Return the same folder with the first five of its forecasts: too few to learn from."""
    folder = tmp_path_factory.mktemp("few")
    for path in kept.iterdir():
        if path.is_file():
            shutil.copy(path, folder / path.name)
    (folder / "forecasts").mkdir()
    for path in sorted((kept / "forecasts").iterdir())[:5]:
        shutil.copy(path, folder / "forecasts")
    return folder


def test_a_forecast_is_kept_from_the_command(good, site, tmp_path):
    told = good("skill", site, "--store")
    assert told.startswith("Kept: invented weather for the demo")
    (path,) = (site / "forecasts").iterdir()
    assert path.name == "20260921T0500Z.csv.gz"
    assert gzip.decompress(path.read_bytes()).startswith(b"# source: invented weather")
    assert good("skill", site, "--store").startswith("Kept already: ")
    told = json.loads(good("skill", site, "--store", "--json", "--forecasts", tmp_path / "else"))
    assert told["new"] is True
    assert told["issued"] == "2026-09-21T05:00:00Z"
    assert Path(told["file"]).parent == tmp_path / "else"
    assert len(read_weather(told["file"]).index) == len(read_weather(site / "weather.csv").index)


def test_kept_forecasts_are_scored_and_written_and_units_change_the_words(good, kept, tmp_path):
    asked = ("skill", kept, "--observed", kept / "came.csv", "--coating", "acrylic")
    us = good(*asked, "--page", "p.html", "--csv", "s.csv", "--write", "e.toml")
    assert "35 forecasts of invented forecasts, issued 2026-03-01 00:00 to 2026-04-04" in us
    assert "Chance of rain, 6 h at a time" in us
    assert "Acrylic, water-based (acrylic): what became of the goes" in us
    assert "Not yet: rain: on forecasts left out of the fit it does not surely help" in us
    page = (tmp_path / "p.html").read_text()
    assert "how often it rained where it was told" in page
    rows = (tmp_path / "s.csv").read_text().splitlines()
    assert rows[0] == "table,of,lead day,bin from,measure,unit,value"
    day = next(row for row in rows if row.startswith("temperature,air_temp_c,1,,bias,K,"))
    assert float(day.rpartition(",")[2]) == pytest.approx(1.0, abs=0.1)
    read = tomllib.loads((tmp_path / "e.toml").read_text())
    assert read["schema"] == 1
    assert read["lead_day"] == list(range(1, 11))
    assert len(load_forecast_error(tmp_path / "e.toml").air_temp_sd_k) == 10
    si = good(*asked, "--units", "si")
    assert "air: known  bias °F  error °F" in us
    assert "air: known  bias K  error K" in si
    assert "air +1.8°F with a spread of 0.9°F" in us
    assert "air +1.0 K with a spread of 0.5 K" in si
    figures = [told.split("Chance of rain")[1].split("What can be learnt")[0] for told in (us, si)]
    assert figures[0] == figures[1]


def test_scores_as_json_with_the_coatings_of_the_system(good, kept):
    told = json.loads(good("skill", kept, "--observed", kept / "came.csv", "--json"))
    assert [goes["coating"] for goes in told["goes"]] == ["primer_acrylic", "acrylic"]
    whole = next(each for each in told["rain"] if each["lead_day"] is None)
    assert (whole["way"], whole["hours"]) == ("told", 6)
    assert whole["brier"]["count"] == 35 * 40
    assert told["air_temp_k"][0]["both_share"] == 1
    assert len(told["issued"]) == 35
    assert told["recalibration"]["days"][0]["lead_day"] == 1


def test_nothing_to_score_ends_with_4(dewgap, few, tmp_path):
    later = observed({}, START + 9000 * HOUR)
    (tmp_path / "later.csv").write_bytes(write(later))
    asked = ("skill", few, "--observed", tmp_path / "later.csv", "--coating", "acrylic")
    status, out, err = dewgap(*asked, "--page", "p.html", "--write", "e.toml")
    assert (status, err) == (4, "")
    assert "Nothing can be scored" in out
    assert not (tmp_path / "p.html").exists()
    assert not (tmp_path / "e.toml").exists()
    status, out, _ = dewgap(*asked, "--json")
    assert status == 4
    assert json.loads(out)["scored"] == 0


def test_a_damaged_forecast_does_not_stop_the_others(good, few, tmp_path):
    shutil.copytree(few / "forecasts", tmp_path / "some")
    (tmp_path / "some" / "20260302T0000Z.csv.gz").write_bytes(b"\x1f\x8b no")
    (tmp_path / "some" / "notes.csv").write_bytes(write(observed({})))
    told = good("skill", few, "--observed", few / "came.csv", "--forecasts", tmp_path / "some",
                "--coating", "acrylic")  # fmt: skip
    assert "4 forecasts of invented forecasts" in told
    assert "note: left out: " in told
    assert "20260302T0000Z.csv.gz: the compressed file is broken" in told
    assert "notes.csv: its hours are observed, not a forecast" in told


def test_bad_input_is_a_sentence(fault, few, site, tmp_path):
    came = few / "came.csv"
    assert "give --store to keep a forecast, or --observed" in fault("skill", few)
    assert "not both" in fault("skill", few, "--store", "--observed", came)
    assert "--write goes with --observed" in fault("skill", few, "--store", "--write", "e.toml")
    told = fault("skill", site, "--observed", came)
    assert "keep some first: dewgap skill SITE --store" in told
    (tmp_path / "empty").mkdir()
    told = fault("skill", few, "--observed", came, "--forecasts", tmp_path / "empty")
    assert "holds no forecast" in told
    told = fault("skill", few, "--observed", few / "weather.csv")
    assert "tells a time of issue, as a forecast does" in told
    first = few / "forecasts" / "20260301T0000Z.csv.gz"
    assert "is a forecast, and says nothing" in fault("skill", few, "--observed", first)
    assert "no such weather file" in fault("skill", few, "--observed", tmp_path / "none.csv")
    told = fault("skill", few, "--observed", came, "--source", "nws")
    assert "choose the forecast that --store keeps" in told
    told = fault("skill", few, "--observed", came, "--of", "nobody")
    assert "no forecast of 'nobody' is kept" in told
    told = fault("skill", few, "--observed", came, "--coating", "acrylic", "--system", "x")
    assert "stands in place of --system" in told
    told = fault("skill", few, "--observed", came, "--coating", "acrilic")
    assert "did you mean 'acrylic'" in told


def test_nothing_is_written_over_what_is_read(fault, few):
    came = few / "came.csv"
    first = few / "forecasts" / "20260301T0000Z.csv.gz"
    before = first.read_bytes(), came.read_bytes()
    for option, path in (
        ("--write", came), ("--page", first), ("--csv", few / "site.toml"),
        ("--write", few / "weather.csv"),
    ):  # fmt: skip
        told = fault("skill", few, "--observed", came, option, path)
        assert "is read, or written as another output" in told
    told = fault("skill", few, "--observed", came, "--csv", "a.x", "--page", "a.x")
    assert "is read, or written as another output" in told
    assert (first.read_bytes(), came.read_bytes()) == before


def test_too_little_to_learn_from_writes_nothing(fault, few, tmp_path):
    told = fault("skill", few, "--observed", few / "came.csv", "--coating", "acrylic",
                 "--write", "e.toml", "--page", "p.html")  # fmt: skip
    assert "not enough to learn from yet" in told
    assert not (tmp_path / "e.toml").exists()
    assert not (tmp_path / "p.html").exists()

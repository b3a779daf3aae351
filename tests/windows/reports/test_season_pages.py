"""The pages of a season and of a bid: figures tell the engine's numbers, texts stay texts."""

import re
from dataclasses import replace
from datetime import date, timedelta
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import plain_site
import pytest
from plotly.offline import get_plotlyjs

from cure_models import load_profile
from windows.hours import check_hours
from windows.job_file import load_job
from windows.provenance import Provenance
from windows.reports.bid_page import (
    bid_page,
    chances_figure,
    fan_figure,
    starts_told,
    winter_figure,
)
from windows.reports.bid_page import years_figure as strip
from windows.reports.bid_sheets import Asked, bid_notes, detail_lines, division_line, start_lines
from windows.reports.season_page import (
    costs_figure,
    months_figure,
    season_page,
    week_grid,
    weeks_figure,
    years_figure,
)
from windows.reports.season_sheets import practical_line, season_notes, trends, year_months
from windows.reports.wording import Wording
from windows.safety import GOVERNS
from windows.seasons.bid import bid_of
from windows.seasons.season import season_of
from windows.system_check import system_for
from windows.work_rate import equal_parts

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
NASTY = 'Joe\'s "flat" <b>roof</b> </script><img src=x onerror=alert(1)> & 🏠'
TODAY = date(2027, 1, 4)
PLOTLY = get_plotlyjs()
ASKED = Asked(TODAY, date(2027, 9, 15), date(2027, 7, 5))


def record(first, last, latitude=40.0, middle=8.0, missing=(), name="a roof"):
    """Return a site and its invented hours; months that are missing have no temperature."""
    site = plain_site.site(absorptance=0.3, latitude=latitude).model_copy(update={"name": name})
    zone = site.zone
    index = pd.date_range(
        pd.Timestamp(f"{first}-01-01", tz=zone).tz_convert("UTC"),
        pd.Timestamp(f"{last + 1}-01-01", tz=zone).tz_convert("UTC"), freq="h", inclusive="left",
    )  # fmt: skip
    rng = np.random.default_rng(5)
    local = index.tz_convert(zone)
    warmth = -np.cos((local.day_of_year - 15) / 365.25 * 2 * np.pi) * (1 if latitude > 0 else -1)
    daily = np.repeat(rng.normal(0, 2, index.size // 24 + 2), 24)[: index.size]
    air = middle + 15 * warmth + 6 * np.cos((local.hour - 15) / 24 * 2 * np.pi) + daily
    wet = np.repeat(rng.random(index.size // 6 + 1) < 0.06, 6)[: index.size]
    months = local.tz_localize(None).to_period("M")
    air = np.where(months.isin(pd.PeriodIndex(missing, freq="M")), np.nan, air)
    columns = {
        "air_temp_c": air, "dew_point_c": air - 9, "wind_m_s": np.full(index.size, 2.0),
        "rain_mm": np.where(wet, 1.0, 0.0), "cloud": np.full(index.size, 0.4),
    }  # fmt: skip
    told = Provenance(source=f"invented {name}", place="nowhere")
    return site, check_hours(columns, index, told)


def season(**asked):
    site, hours = record(**asked)
    return season_of(site, load_profile("acrylic"), hours)


def bid(**asked):
    site, hours = record(**asked)
    job = load_job(DEMO_SITES / "cool_north", None)
    system = system_for(job, None)
    return bid_of(site, system, hours, job, equal_parts(system, 400.0, job))


@pytest.fixture(scope="module")
def seasons():
    return {
        "north": season(first=2016, last=2021, missing=("2018-06", "2018-07")),
        "south": season(first=2018, last=2021, latitude=-35.0),
        "one year": season(first=2021, last=2021, name=NASTY),
        "too cold": season(first=2020, last=2021, middle=-30.0),
    }


@pytest.fixture(scope="module")
def bids():
    return {
        "north": bid(first=2015, last=2020, missing=("2018-06",)),
        "south": bid(first=2019, last=2021, latitude=-35.0),
        "one year": bid(first=2021, last=2021, name=NASTY),
        "too cold": bid(first=2021, last=2021, middle=-30.0),
    }


SEASONS = ("north", "south", "one year", "too cold")


def words(found):
    return Wording("us", found.site.zone)


class Tags(HTMLParser):
    """The tags of a page, what it would fetch, and its text outside scripts and styles."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.fetched, self.texts, self.quiet = [], [], [], 0
        self.feed(html)
        self.text = re.sub(r"\s+", " ", " ".join(self.texts))

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.fetched += [value for key, value in attrs if key in ("src", "href")]
        self.quiet += tag in ("script", "style")

    def handle_endtag(self, tag):
        self.quiet -= tag in ("script", "style")

    def handle_data(self, data):
        if not self.quiet:
            self.texts.append(data)


def checked(html, found):
    """Return the parsed page, self-contained and with every text in its place."""
    assert PLOTLY in html
    html = html.replace(PLOTLY, "")
    assert "http" not in html
    page = Tags(html)
    assert page.fetched == []
    assert not {"img", "link", "b", "iframe"} & set(page.tags)
    assert re.sub(r"\s+", " ", found.site.name) in page.text
    assert GOVERNS in page.text
    assert "nan" not in page.text.split()
    return page


def holds(page, lines):
    """Tell that each line stands on the page, its first letter a capital."""
    for line in lines:
        told = re.sub(r"\s+", " ", line.strip())
        assert f"{told[0].upper()}{told[1:]}" in page.text


def rows_of(figure):
    return {trace.name: trace for trace in figure.data}


def small_texts(node, inside=""):
    """Yield the sizes of the texts of a figure that are below 11 px."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "size" and inside.endswith("font") and np.min(value) < 11:
                yield inside, value
            yield from small_texts(value, key)
    elif isinstance(node, list | tuple):
        for value in node:
            yield from small_texts(value, inside)


@pytest.mark.parametrize("name", SEASONS)
def test_texts_are_readable_and_axes_have_titles(seasons, bids, name):
    season, bid = seasons[name], bids[name]
    figures = [weeks_figure(season), months_figure(season), costs_figure(season),
               years_figure(season), fan_figure(bid, ASKED), chances_figure(bid, ASKED),
               winter_figure(bid, ASKED), strip(bid.weeks[0])]  # fmt: skip
    for figure in figures:
        told = figure.to_plotly_json()
        told["layout"].pop("template", None)
        assert not list(small_texts(told))
        assert figure.layout.font.size >= 11
        titles = [axis.title.text for axis in figure.select_xaxes()] + [
            axis.title.text for axis in figure.select_yaxes()
        ]
        assert len(titles) - titles.count(None) >= 2


# --- The season page ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SEASONS)
def test_a_season_page_tells_all(seasons, name):
    found = seasons[name]
    page = checked(season_page(found, words(found)), found)
    holds(page, [practical_line(found), *trends(found, words(found)), *season_notes(found)])


@pytest.mark.parametrize("name", SEASONS)
def test_cells_are_the_workable_days_of_the_weeks(seasons, name):
    found = seasons[name]
    figure = weeks_figure(found)
    empty, filled = figure.data
    grid = week_grid(found)
    drawn = {}
    for row, year in enumerate(grid.years):
        for column, week in enumerate(grid.weeks):
            value = filled.z[row][column]
            if np.isfinite(value):
                iso_year = year + (name == "south" and week < 27)
                drawn[iso_year, week] = value
                assert filled.text[row][column] == f"{value:.0f}"
                assert np.isnan(empty.z[row][column])
    days = found.days.days
    expected = {
        (year, week): found.days.workable[
            (days.iso_year == year) & (days.iso_week == week)
        ].sum()
        for part in found.weeks for year in part.years for week in [part.number]
    }  # fmt: skip
    assert drawn == expected


def test_a_week_that_does_not_count_is_empty_and_not_zero(seasons):
    figure = weeks_figure(seasons["north"])
    empty, filled = figure.data
    row, column = 2018 - 2016, 24 - 1  # week 24 of 2018 lies in June, which is missing
    assert np.isnan(filled.z[row][column])
    assert empty.text[row][column] == "?"
    assert "does not count: 0% of crew hours known" in empty.hovertext[row][column]
    assert filled.z[row + 1][column] > 0
    assert "work days workable" in filled.hovertext[row + 1][column]
    assert "valid hours" in filled.hovertext[row + 1][column]
    assert filled.text[row][52] == ""
    assert filled.hovertext[row][52] == ""  # 2018 has no week 53


def test_a_southern_season_begins_in_july(seasons):
    found = seasons["south"]
    figure = weeks_figure(found)
    assert week_grid(found).weeks == [*range(27, 54), *range(1, 27)]
    assert figure.layout.xaxis.ticktext[0] == "27<br>Jul"
    assert list(figure.data[0].y)[:2] == ["2017/18", "2018/19"]
    assert [trace.name for trace in months_figure(found).data][:2] == ["Jul", "Aug"]
    assert costs_figure(found).data[0].x[0] == "Jul"
    assert years_figure(found).layout.yaxis2.ticktext[0] == "Jul 1"
    # Summer is in the middle.
    z = np.array(figure.data[1].z, dtype=float)
    assert np.nanmean(z[:, 20:30]) > np.nanmean(z[:, :5])


def test_no_week_known_leaves_every_cell_empty(seasons):
    found = seasons["one year"]
    none = replace(found, days=replace(found.days, known=np.zeros_like(found.days.known)))
    empty, filled = weeks_figure(none).data
    assert np.isnan(np.array(filled.z, dtype=float)).all()
    assert {text for row in empty.text for text in row} <= {"?", "", "·"}
    assert not months_figure(none).data
    checked(season_page(none, words(none)), none)


@pytest.mark.parametrize("name", SEASONS)
def test_chances_of_the_months_fall_from_the_years(seasons, name):
    found = seasons[name]
    drawn = rows_of(months_figure(found))
    sheet = year_months(found)
    assert len(drawn) == 12
    for month, label in enumerate(sheet.columns[1:], start=1):
        counts = [row[month] for row in sheet.rows if row[month] is not None]
        trace = drawn[label]
        for n, share in zip(trace.x, trace.y, strict=True):
            assert share == pytest.approx(100 * sum(c >= n for c in counts) / len(counts))
        assert trace.y[0] == 100
        assert trace.y[-1] == 0
        hidden = not any(counts) and name != "too cold"
        assert (trace.visible == "legendonly") == hidden
    looks = {(t.line.color, t.line.dash) for t in drawn.values()}
    assert len(looks) == 12


@pytest.mark.parametrize("name", SEASONS)
def test_costs_are_those_of_the_months(seasons, name):
    found = seasons[name]
    drawn = costs_figure(found).data[0]
    by_label = {pd.Timestamp(2021, part.number, 1).strftime("%b"): part for part in found.months}
    for column, month in enumerate(drawn.x):
        costs = {cost.name: cost for cost in by_label[month].costs}
        for row, gate in enumerate(drawn.y):
            assert drawn.z[row][column] == pytest.approx(100 * costs[gate].blocked)
            assert drawn.customdata[row][column] == pytest.approx(100 * costs[gate].alone)
        first = [cost.name for cost in by_label[month].costs[:3] if cost.blocked]
        assert set(first) <= set(drawn.y)


def test_years_have_their_days_and_dates(seasons):
    found = seasons["north"]
    days, spans, none = years_figure(found).data
    assert list(days.x) == ["2016", "2017", "2019", "2020", "2021"]  # 2018 lacks two months
    assert list(days.y) == [year.workable for year in found.years]
    for year, begin, length in zip(found.years, spans.base, spans.y, strict=True):
        assert (year.last - year.first).days - length in (0, 1)  # 29 February is not drawn
        leap = year.first > date(year.year, 2, 29 if year.year % 4 == 0 else 28)
        assert year.first.timetuple().tm_yday - 1 - begin == (leap and year.year % 4 == 0)
    assert not none.x
    cold = years_figure(seasons["too cold"])
    assert list(cold.data[2].x) == ["2020", "2021"]
    assert not cold.data[1].x


# --- The bid page ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SEASONS)
@pytest.mark.parametrize("asked", [ASKED, Asked(TODAY)], ids=["asked", "plain"])
def test_a_bid_page_tells_all(bids, name, asked):
    found = bids[name]
    page = checked(bid_page(found, asked, words(found)), found)
    holds(page, [*start_lines(found, asked), *bid_notes()])
    told = [line.strip() for line in detail_lines(found, asked)]
    holds(page, told)
    shown = starts_told(found, asked)
    if shown:
        _, week = shown.get("start asked", shown.get("best start"))
        assert page.text.count(division_line(week)) == 1
    assert page.tags.count("tr") == 1 + len(found.mondays(TODAY))


@pytest.mark.parametrize("name", ["north", "south", "one year"])
def test_the_fan_is_the_engine_s(bids, name):
    found = bids[name]
    drawn = rows_of(fan_figure(found, ASKED))
    mondays = found.mondays(TODAY)
    for share in ("p50", "p80", "p90"):
        expected = [getattr(week.duration, share) for _, week in mondays]
        if any(value is not None for value in expected):
            trace = drawn[share.upper()]
            assert list(trace.x) == [day for day, _ in mondays]
            assert list(trace.y) == expected
        else:
            assert share.upper() not in drawn
    bars = {}
    for label in ("P80, 5-95 %", "P80, 5 % to open end"):
        trace = drawn.get(label, SimpleNamespace(x=(), base=(), y=()))
        for day, low, length in zip(trace.x, trace.base, trace.y, strict=True):
            bars[day] = (low, low + length if label == "P80, 5-95 %" else None)
    assert bars == {
        day: week.duration.interval_p80 for day, week in mondays
        if week.duration.interval_p80 is not None and week.duration.interval_p80[0] is not None
    }  # fmt: skip
    left = drawn["days left to Sep 15 2027"]
    assert list(left.x)[-1] == date(2027, 9, 13)
    assert list(left.y)[-1] == 3  # begun on Monday, ended on Wednesday
    assert "P90" not in drawn or name == "north"


def test_marks_of_the_starts_stand_where_they_are(bids):
    figure = fan_figure(bids["north"], ASKED)
    told = starts_told(bids["north"], ASKED)
    assert [shape.x0 for shape in figure.layout.shapes] == [day for day, _ in told.values()]
    assert told["best start"] == bids["north"].best_start(TODAY)
    assert told["last safe start"][0] == bids["north"].last_safe_start(TODAY, ASKED.by)
    assert told["start asked"][0] == date(2027, 7, 5)
    rows = [label.yshift for label in figure.layout.annotations]
    assert len(set(rows)) == len(rows) == 3


def test_a_start_on_a_day_off_is_that_of_the_next_work_day(bids):
    found = bids["north"]
    assert starts_told(found, Asked(TODAY, None, date(2027, 7, 4)))["start asked"][0] == date(
        2027, 7, 5
    )


def test_chances_are_the_estimate_by_day(bids):
    found = bids["north"]
    figure = chances_figure(found, ASKED)
    told = starts_told(found, ASKED)
    assert len(figure.data) == len({day for day, _ in told.values()})
    for trace in figure.data:
        name = re.split(r" and |, week", trace.name)[0]
        monday, week = told[name]
        known = week.finishes.days.size
        assert list(trace.x)[1 : known + 1] == [
            monday + timedelta(days=int(n)) for n in week.finishes.days
        ]
        assert list(trace.y)[1 : known + 1] == pytest.approx(100 * week.finishes.share_by_day())
        assert list(trace.y)[known + 1 :] in ([], [trace.y[known]])
        assert (trace.x[0], trace.y[0]) == (monday, 0)
        assert trace.line.shape == "hv"


def test_the_strip_hatches_what_is_open(bids):
    week = next(w for w in bids["north"].weeks if 0 < sum(o for *_, o in w.by_year()) < 7)
    drawn = rows_of(strip(week))
    for name, is_open in (("finished", False), ("still open", True)):
        expected = [(str(y), d) for y, d, still in week.by_year() if still == is_open]
        assert list(zip(drawn[name].x, drawn[name].y, strict=True)) == expected
    assert drawn["still open"].marker.pattern.shape == "/"
    assert all(text.startswith(">") for text in drawn["still open"].text)
    assert not drawn["finished"].marker.pattern.shape


@pytest.mark.parametrize("name", SEASONS)
def test_chances_of_a_bare_coat(bids, name):
    drawn = rows_of(winter_figure(bids[name], ASKED))
    weeks = [week for _, week in bids[name].mondays(TODAY)]
    assert list(drawn["left over winter"].y) == pytest.approx(
        [100 * week.leaves_over_winter for week in weeks], nan_ok=True
    )
    assert list(drawn["stranded past its deadline"].y) == pytest.approx(
        [100 * week.strands for week in weeks], nan_ok=True
    )


def test_all_open_says_so(bids):
    found = bids["too cold"]
    assert {week.duration.p50 for week in found.weeks} == {None}
    figure = fan_figure(found, Asked(TODAY))
    assert not figure.data
    assert [label.text for label in figure.layout.annotations] == [
        "not known: too many starts are still open"
    ]
    assert not starts_told(found, Asked(TODAY))
    asked = chances_figure(found, ASKED).data
    assert [list(trace.y) for trace in asked] == [[0, 0]]
    html = bid_page(found, ASKED, words(found))
    assert 'class="mistake"' not in html
    assert html.count("No year finishes the job from this week.") == 1
    assert html.count('class="verdict"') == 1
    html = bid_page(found, Asked(TODAY), words(found))
    assert "Chance to be finished by a date" not in unescape(html)

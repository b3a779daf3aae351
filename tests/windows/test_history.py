"""Long histories: what becomes of each year, tables that are joined, and what of them is known."""

import gzip
import re
import sqlite3
from dataclasses import replace
from types import SimpleNamespace

import invented_week as week
import loopback
import numpy as np
import pandas as pd
import pytest
from plain_site import site as plain_site

from windows.answer import Answer
from windows.errors import HoursError, SourceError
from windows.flags import Flag
from windows.history import coverage, fetch_history, join, require_record
from windows.hours import check_hours
from windows.provenance import Location, Provenance
from windows.settings import Settings
from windows.sources import meteostat, open_meteo_archive, read_weather, tmy3
from windows.web import Web

TODAY = pd.Timestamp("2026-06-01").date()
NAN = np.nan
SITE = plain_site()
FETCHED = pd.Timestamp("2026-05-30T12:00Z")


def shifted(year):
    """Return the invented week in another year."""
    truth = week.truth()
    return truth.set_axis(truth.index + (pd.Timestamp(f"{year}-10-27", tz="UTC") - week.START))


def yearly(year):
    return week.meteostat_year(shifted(year), year)


class Shelf:
    """A stand-in for the web: an answer or a fault for each year."""

    def __init__(self, write=yearly, **answers):
        self.settings = Settings()
        self.asked = []
        self._write = write
        self._answers = {int(name[1:]): each for name, each in answers.items()}

    def get(self, source, url, *, kept, check, params=None, contact=False):
        told = params["start_date"] if params else url.rpartition("/hourly/")[2]
        year = int(told[:4])
        self.asked.append(year)
        given = self._answers.get(year, {})
        if isinstance(given, Exception):
            raise given
        content = given.pop("content", None) or self._write(year)
        check(content)
        return Answer(content, url, **{"retrieved": FETCHED} | given)


GONE = SourceError("Meteostat: refused: HTTP 404", 404)
DOWN = SourceError("Meteostat: it took too long")


def fetch(shelf, years, source=meteostat.NAME, **options):
    options = {"station": "99001"} | options if source == meteostat.NAME else options
    return fetch_history(shelf, SITE, source, years, TODAY, **options)


# --- years -----------------------------------------------------------------------------------


def test_years_are_fetched_in_turn_and_told():
    shelf, told = Shelf(y2024={"from_cache": True}), []
    found = fetch(shelf, [2023, 2024, 2025], told=told.append)
    assert shelf.asked == [2023, 2024, 2025]
    assert [(y.year, y.outcome) for y in told] == [
        (2023, "fetched"), (2024, "from the cache"), (2025, "fetched"),
    ]  # fmt: skip
    assert found.years == tuple(told)
    hours = found.hours
    assert (hours.provenance.kind, hours.provenance.read_as) == ("observed", "meteostat")
    assert hours.provenance.place == "station 99001"
    assert hours.provenance.retrieved == FETCHED
    for year in (2023, 2024, 2025):
        truth = shifted(year)
        np.testing.assert_allclose(hours.frame["rain_mm"].loc[truth.index], truth["rain_mm"])
        np.testing.assert_allclose(hours.frame["air_temp_c"].loc[truth.index], truth["air_temp_c"])
    between = hours.frame.loc["2024-01-01":"2024-09-30"]
    assert between.isna().all(axis=None), "what lies between is unknown"


def test_year_that_is_not_there_is_told_and_no_failure():
    found = fetch(Shelf(y2024=GONE), [2023, 2024, 2025])
    assert [y.outcome for y in found.years] == ["fetched", "not there", "fetched"]
    assert any(note.startswith("2024 not there: ") for note in found.hours.provenance.notes)
    assert found.hours.frame.loc["2024"].isna().all(axis=None)


def test_year_that_failed_stops_or_is_left_out_on_request():
    shelf = Shelf(y2024=DOWN)
    with pytest.raises(SourceError, match=r"took too long; 1 years are kept.*--allow-partial"):
        fetch(shelf, [2023, 2024, 2025])
    assert shelf.asked == [2023, 2024]
    found = fetch(Shelf(y2024=DOWN), [2023, 2024, 2025], allow_partial=True)
    assert [y.outcome for y in found.years] == ["fetched", "failed", "fetched"]
    assert any(note.startswith("2024 failed: ") for note in found.hours.provenance.notes)
    assert found.hours.frame.loc["2024"].isna().all(axis=None)


@pytest.mark.parametrize(("fault", "partial"), [(GONE, False), (GONE, True), (DOWN, True)])
def test_no_year_at_all_is_a_fault(fault, partial):
    with pytest.raises(SourceError, match="none of the years 2024 to 2025"):
        fetch(Shelf(y2024=fault, y2025=fault), [2024, 2025], allow_partial=partial)


def test_answer_that_stands_in_is_told_as_stale():
    old = pd.Timestamp("2026-01-02T03:00Z")
    found = fetch(
        Shelf(y2025={"stale": True, "from_cache": True, "retrieved": old, "notes": ("old one",)}),
        [2024, 2025],
    ).hours.provenance
    assert found.stale
    assert found.retrieved == old
    assert "old one" in found.notes
    assert not fetch(Shelf(), [2025]).hours.provenance.stale


def test_broken_year_is_a_failure_and_never_an_empty_one():
    with pytest.raises(HoursError, match="ends too early"):
        fetch(Shelf(y2025={"content": yearly(2025)[:-40]}), [2025])


def archive(year):
    """Return an answer of the archive: the last days of a year and a day of the next."""
    hours = pd.date_range(
        f"{year}-12-29", f"{year + 1}-01-02", freq="h", inclusive="left", tz="UTC"
    )
    table = week.truth().iloc[: len(hours)].set_axis(hours)
    return week.open_meteo(table)


def test_years_of_the_archive_meet_without_a_gap():
    found = fetch(Shelf(archive), [2023, 2024], open_meteo_archive.NAME)
    hours = found.hours
    assert hours.provenance.kind == "reanalysis"
    assert hours.provenance.read_as == open_meteo_archive.NAME
    assert hours.index[-1] == pd.Timestamp("2024-12-31T23:00Z")
    for year in (2023, 2024):
        days = hours.frame.loc[f"{year}-12-29" : f"{year}-12-31"]
        np.testing.assert_allclose(days["rain_mm"], week.truth()["rain_mm"][:72])
        assert days.notna().all(axis=None)


def test_archive_has_no_stations():
    with pytest.raises(SourceError, match="drop --station"):
        fetch(Shelf(archive), [2024], open_meteo_archive.NAME, station="99001")


# --- over the wire ---------------------------------------------------------------------------


@pytest.fixture
def served(tmp_path):
    with loopback.serving() as server:
        server.give(loopback.STATIONS, loopback.stations(("99001", 40.1, -75.0, "2015-01-01")))
        for year in (2023, 2024):
            server.give(f"/hourly/{year}/99001.csv.gz", yearly(year))
        yield server


def web_of(server, folder, **options):
    settings = Settings(meteostat_url=server.url, cache_dir=folder, timeout_s=5)
    return Web(settings, **options)


def test_history_of_the_nearest_station_is_kept_and_read_again_offline(served, tmp_path):
    years = [2022, 2023, 2024]
    web = web_of(served, tmp_path)
    first = fetch_history(web, SITE, meteostat.NAME, years, TODAY)
    assert [y.outcome for y in first.years] == ["not there", "fetched", "fetched"]
    assert first.hours.provenance.location == Location("INVENTED", 40.1, -75.0, 200.0)
    again = fetch_history(web, SITE, meteostat.NAME, years[1:], TODAY)
    assert [y.outcome for y in again.years] == ["from the cache"] * 2
    web.close()
    offline = web_of(served, tmp_path, offline=True)
    last = fetch_history(offline, SITE, meteostat.NAME, years[1:], TODAY)
    offline.close()
    pd.testing.assert_frame_equal(last.hours.frame, again.hours.frame)
    assert served.count("/hourly/2023/99001.csv.gz") == 1


def test_broken_file_is_a_failure_and_is_not_kept(served, tmp_path):
    path = "/hourly/2024/99001.csv.gz"
    served.fail(path, loopback.Reply(200, yearly(2024)[:-40]))
    web = web_of(served, tmp_path)
    with pytest.raises(SourceError, match="ends too early"):
        fetch_history(web, SITE, meteostat.NAME, [2023, 2024], TODAY, station="99001")
    found = fetch_history(web, SITE, meteostat.NAME, [2023, 2024], TODAY, station="99001")
    web.close()
    assert [y.outcome for y in found.years] == ["from the cache", "fetched"]


# --- the nearest station ---------------------------------------------------------------------


def nearest(content, first_year=2020, place=SITE):
    def get(source, url, *, kept, check):
        check(content)
        return Answer(content, url, FETCHED)

    web = SimpleNamespace(settings=Settings(), get=get)
    return meteostat.nearest_station(web, place, first_year)


OLD, NEW = "2010-01-01", "2021-05-01"
FAR = 40.0 + 51 / 111.2
"""Latitude 51 km to the north of the site. [deg]"""


@pytest.mark.parametrize(
    ("stations", "chosen"),
    [
        ([("A", 40.3, -75.0, OLD), ("B", 40.1, -75.0, OLD)], "B"),
        ([("A", 40.3, -75.0, OLD), ("B", 40.1, -75.0, NEW)], "A"),
        ([("A", 40.0, -74.5, OLD), ("B", 40.0, -75.4, OLD)], "B"),
        ([("A", 40.4, -75.0, "2020-12-31")], "A"),
        ([("A", FAR, -75.0, OLD)], None),
        ([("A", 40.1, -75.0, "2021-01-01")], None),
        ([], None),
    ],
)
def test_nearest_station_that_has_what_is_needed(stations, chosen):
    content = loopback.stations(*stations)
    if chosen is None:
        with pytest.raises(SourceError, match=r"no station within 50 km.*since 2020.*--station"):
            nearest(content)
        return
    identifier, where = nearest(content)
    assert identifier == chosen
    _, latitude, longitude, _ = next(each for each in stations if each[0] == chosen)
    assert where == Location("INVENTED", latitude, longitude, 200.0)


@pytest.mark.parametrize(
    "change",
    [
        "DELETE FROM inventory WHERE station = 'A' AND parameter = 'prcp'",
        "UPDATE inventory SET provider = 'dwd_mosmix' WHERE station = 'A'",
    ],
    ids=["no rain by the hour", "hours of a model"],
)
def test_station_without_what_is_needed_is_passed_over(change, tmp_path):
    path = tmp_path / "stations.db"
    path.write_bytes(loopback.stations(("A", 40.1, -75.0, OLD), ("B", 40.3, -75.0, OLD)))
    with sqlite3.connect(path) as connection:
        connection.execute(change)
    connection.close()
    assert nearest(path.read_bytes())[0] == "B"


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"<!DOCTYPE html>", "is not a database"),
        (b"SQLite format 3\0" + b"x" * 4000, "list of stations cannot be read"),
    ],
)
def test_list_of_stations_that_cannot_be_read_is_one_sentence(content, part):
    with pytest.raises((SourceError, HoursError), match=part) as caught:
        nearest(content)
    assert "\n" not in str(caught.value)


# --- tables that are joined ------------------------------------------------------------------


def table(start, n, kind="observed", flags=None, notes=(), **columns):
    plain = {"air_temp_c": 15.0, "dew_point_c": 8.0, "wind_m_s": 4.0, "rain_mm": 0.0} | columns
    return check_hours(
        {name: np.broadcast_to(np.asarray(each, float), n).copy() for name, each in plain.items()},
        pd.date_range(start, periods=n, freq="h", tz="UTC"),
        Provenance("somebody", "here", kind=kind, notes=notes),
        flags=flags,
        recorded=True,
    )


def test_tables_that_follow_each_other():
    first = table("2024-12-30", 48, rain_mm=np.arange(48) / 10, notes=("one", "both"))
    then = table("2025-01-01", 24, rain_mm=1, notes=("both", "two"))
    for tables in ([first, then], [then, first]):
        found = join(tables)
        assert len(found.index) == 72
        assert found.column("rain_mm").tolist() == [*(np.arange(48) / 10), *[1.0] * 24]
        assert found.column("air_temp_c").tolist() == [15] * 72
        assert sorted(found.provenance.notes) == ["both", "one", "two"]
        assert found.flags == {}


def test_hours_between_tables_are_unknown():
    found = join([table("2024-12-30", 24), table("2025-01-01", 24)])
    assert len(found.index) == 72
    assert found.frame.isna().all(axis=1).to_numpy().nonzero()[0].tolist() == list(range(24, 48))


def test_halves_of_a_file_that_touch_are_the_whole_again():
    """The row of a file that begins with its last label has nothing yet; the next file tells it."""
    whole = read_years(shifted(2024))
    cut = pd.Timestamp("2024-10-31T00:00Z")
    halves = [shifted(2024).loc[:cut].iloc[:-1], shifted(2024).loc[cut:]]
    found = join([read_years(half) for half in halves])
    known = whole.frame.iloc[:-1]  # of its last row nothing is known
    pd.testing.assert_frame_equal(found.frame, known, check_freq=False)


def read_years(rows):
    return meteostat.parse(week.meteostat_year(rows, 2024), "here")


@pytest.mark.parametrize("turn", [False, True])
@pytest.mark.parametrize(
    ("name", "values", "stands"),
    [
        ("rain_mm", (0, 2), 2), ("rain_mm", (0, NAN), NAN), ("air_temp_c", (15, 16), NAN),
        ("air_temp_c", (15, NAN), NAN), ("wind_m_s", (4, 4), 4),
    ],
)  # fmt: skip
def test_hours_told_twice_must_agree(name, values, stands, turn):
    tables = [
        table(
            "2025-01-01", 24, **{name: np.r_[[{"rain_mm": 0.0}.get(name, 15.0)] * 23, values[0]]}
        ),
        table("2025-01-01T23:00", 24, **{name: values[1]}),
    ]
    found = join(tables[::-1] if turn else tables)
    np.testing.assert_equal(found.column(name)[23], stands)
    differ = values[0] != values[1]
    assert any("rows of one hour differ" in told for told in found.warnings) == differ
    assert (found.flags.get(name, np.zeros(47))[23] == Flag.DUPLICATE) == differ


def test_flags_of_joined_tables_stay_with_their_hours():
    mark = np.zeros(24, dtype=np.int64)
    mark[5] = Flag.BLOCK
    found = join([table("2025-01-01", 24), table("2025-01-02", 24, flags={"rain_mm": mark})])
    assert np.flatnonzero(found.flags["rain_mm"]).tolist() == [29]
    assert found.flags["rain_mm"][29] == Flag.BLOCK


def test_tables_of_far_years_are_not_joined():
    with pytest.raises(HoursError, match="more than ten years"):
        join([table("1950-01-01", 24), table("2025-01-01", 24)])


def test_columns_that_one_table_lacks_are_unknown_in_its_hours():
    found = join([table("2025-01-01", 24, cloud=0.5), table("2025-01-02", 24)])
    assert np.isnan(found.column("cloud")).tolist() == [False] * 24 + [True] * 24


def test_typical_year_is_refused_with_the_reason(tmp_path):
    typical = tmp_path / "typical.csv"
    typical.write_bytes(week.tmy3(week.truth()))
    told = read_weather(typical)
    reason = rf"{re.escape(str(typical))}.*typical year.*rain is no record.*dewgap weather history"
    with pytest.raises(HoursError, match=reason):
        require_record(told)
    with pytest.raises(HoursError, match="typical year"):
        join([table("2025-01-01", 24), tmy3.parse(week.tmy3(week.truth()), "here")])
    for kind in ("observed", "reanalysis", "not told"):
        require_record(table("2025-01-01", 2, kind))


ISSUED = pd.Timestamp("2025-01-03", tz="UTC")


@pytest.mark.parametrize("foretold", [{"kind": "forecast"}, {"kind": "not told", "issued": ISSUED}])
def test_a_forecast_is_no_year_that_was_wherever_it_stands(foretold):
    record, other = table("2025-01-01", 24), table("2025-01-02", 24)
    told = replace(other, provenance=replace(other.provenance, **foretold))
    for tables in ([record, told], [told, record]):
        with pytest.raises(HoursError, match=r"is a forecast|different kinds"):
            join(tables)
    with pytest.raises(HoursError, match="is a forecast"):
        require_record(told)


# --- coverage --------------------------------------------------------------------------------


def test_coverage_of_whole_years():
    found = coverage(table("2023-01-01", 24 * (365 + 366)))
    assert [each.month for each in found] == list(range(1, 13))
    assert all(each.years == 2 and each.short == () for each in found)
    assert all(set(each.known) == {"rain_mm", "air_temp_c", "wind_m_s"} for each in found)
    assert all(share == 1.0 for each in found for share in each.known.values())


@pytest.mark.parametrize(("year", "days"), [(2023, 28), (2024, 29)])
def test_february_has_the_days_of_its_year(year, days):
    rain = np.zeros(24 * days)
    rain[: 24 * 28 // 10] = NAN  # a tenth of 28 days, rounded down
    (found,) = coverage(table(f"{year}-02-01", 24 * days, rain_mm=rain))
    assert found.known["rain_mm"] == pytest.approx(1 - (24 * 28 // 10) / (24 * days))
    assert found.known["air_temp_c"] == 1
    assert (found.years, found.short) == (1, ())
    if year == 2024:
        (short,) = coverage(table("2024-02-01", 24 * 28))
        assert short.known["rain_mm"] == pytest.approx(28 / 29)


@pytest.mark.parametrize("name", ["rain_mm", "air_temp_c", "wind_m_s"])
@pytest.mark.parametrize(("missing", "counts"), [(72, True), (73, False)])
def test_month_counts_from_nine_tenths_of_its_hours(name, missing, counts):
    values = np.full(720, 15.0)
    values[100 : 100 + missing] = NAN
    (found,) = coverage(table("2025-06-01", 720, **{name: values}))
    assert found.known[name] == pytest.approx(1 - missing / 720)
    assert (found.years, found.short) == ((1, ()) if counts else (0, (2025,)))


def test_humidity_is_not_counted():
    (found,) = coverage(table("2025-06-01", 720, dew_point_c=NAN))
    assert found.years == 1


def test_month_that_is_cut_short_counts_its_missing_days():
    june, july = coverage(table("2025-06-15", 24 * (16 + 28)))
    assert june.known["rain_mm"] == pytest.approx(16 / 30)
    assert (june.years, june.short) == (0, (2025,))
    assert july.known["rain_mm"] == pytest.approx(28 / 31)
    assert (july.years, july.short) == (1, ())


def test_short_names_the_years_and_shares_are_means_of_them():
    hours = join([table("2023-06-01", 720), table("2024-06-16", 360), table("2025-06-01", 720)])
    june = next(each for each in coverage(hours) if each.month == 6)
    assert (june.years, june.short) == (2, (2024,))
    assert june.known["rain_mm"] == pytest.approx(2.5 / 3)
    january = next(each for each in coverage(hours) if each.month == 1)
    assert (january.years, january.short) == (0, (2024, 2025))
    assert january.known["rain_mm"] == 0


def test_month_without_an_hour_is_not_listed():
    assert [each.month for each in coverage(table("2025-11-20", 24 * 60))] == [1, 11, 12]


def test_packed_and_plain_yearly_files_are_the_same():
    plain = gzip.decompress(yearly(2024))
    pd.testing.assert_frame_equal(
        meteostat.parse(plain, "here").frame, meteostat.parse(yearly(2024), "here").frame
    )

"""Weather services over a loopback server: what is right comes through, no fault becomes a go."""

import gzip
import json
import shutil
import time
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from types import ModuleType

import invented_week
import loopback
import numpy as np
import pandas as pd
import pytest
from loopback import (
    CELL,
    COMPLETE,
    FORECAST,
    POINT,
    STATION,
    STATIONS,
    Reply,
    page,
    problem,
    reason,
    session,
)
from requests_cache import SQLiteCache

from cure_models import load_profile
from windows.errors import DewgapError, SettingsError, SourceError
from windows.gates import State
from windows.hours import HourlyTable
from windows.job import run_job
from windows.settings import Settings
from windows.site import load_site
from windows.sources import (
    from_answer,
    met_norway,
    meteostat,
    nws,
    open_meteo,
    open_meteo_archive,
    open_meteo_ensemble,
)
from windows.web import Web

SITE = load_site(Path(__file__).parents[3] / "demo_sites" / "cool_north")
pytestmark = pytest.mark.usefixtures("waits")
KEY = "k3yThatNobodyMaySee"
YEAR, LATER = 2025, date(2026, 6, 1)
HOUR = pd.Timedelta(hours=1)
YEAR_FILE = f"/hourly/{YEAR}/{STATION}.csv.gz"
CACHE = "http.sqlite"
NEEDED = ["air_temp_c", "wind_m_s", "rain_mm"]


# --- the week, the services ------------------------------------------------------------------


@cache
def week(start=None):
    """Return the invented week, warm enough to coat in; by default it begins today."""
    table = invented_week.truth()[: 7 * 24]
    first = pd.Timestamp.now("UTC").floor("D") if start is None else start
    table.index = table.index + (first - invented_week.START)
    air, dew = table["air_temp_c"] + 10, table["dew_point_c"] + 8
    exponent = 17.625 * (dew / (243.04 + dew) - air / (243.04 + air))
    return table.assign(air_temp_c=air, dew_point_c=dew, rel_humidity=np.exp(exponent))


def old_week():
    return week(invented_week.START)


def ensemble(table, members=3):
    """Write an ensemble: the control run and members that are as wet."""
    answer = json.loads(invented_week.open_meteo(table))
    for part in ("hourly", "hourly_units"):
        del answer[part]["precipitation_probability"]
        for name in [each for each in answer[part] if each != "time"]:
            for number in range(1, members):
                answer[part][f"{name}_member{number:02d}"] = answer[part][name]
    return json.dumps(answer).encode()


@dataclass(frozen=True)
class Service:
    """A service: its module, path, right answer, and how it is asked."""

    module: ModuleType
    path: str
    encode: object
    table: object
    fetch: object

    @property
    def body(self):
        return _encoded(self.module.NAME)

    def ask(self, web):
        return from_answer(self.module, self.fetch(web))


SERVICES = {
    each.module.NAME: each
    for each in (
        Service(nws, CELL, invented_week.nws, week, lambda web: nws.fetch(web, SITE)),
        Service(
            open_meteo, FORECAST, invented_week.open_meteo, week,
            lambda web: open_meteo.fetch(web, SITE),
        ),
        Service(
            open_meteo_ensemble, loopback.ENSEMBLE, ensemble, week,
            lambda web: open_meteo_ensemble.fetch(web, SITE),
        ),
        Service(
            open_meteo_archive, loopback.ARCHIVE, invented_week.open_meteo, old_week,
            lambda web: open_meteo_archive.fetch_year(web, SITE, YEAR, LATER),
        ),
        Service(
            met_norway, COMPLETE, invented_week.met_norway, week,
            lambda web: met_norway.fetch(web, SITE),
        ),
        Service(
            meteostat, YEAR_FILE, lambda table: invented_week.meteostat_year(table, YEAR), old_week,
            lambda web: meteostat.fetch_year(web, STATION, YEAR, LATER),
        ),
    )
}  # fmt: skip
FORECASTS = ("nws", "open_meteo", "open_meteo_ensemble", "met_norway")
every_service = pytest.mark.parametrize("service", SERVICES.values(), ids=SERVICES)


@cache
def _encoded(name):
    return SERVICES[name].encode(SERVICES[name].table())


@cache
def _stations():
    return loopback.stations((STATION, 46.8, -92.1, "2000-01-01"))


@cache
def clean(name):
    """Return the table of a service's right answer."""
    return SERVICES[name].module.parse(SERVICES[name].body, "the right answer")


@pytest.fixture(scope="module")
def any_server():
    with loopback.serving() as found:
        yield found


@pytest.fixture
def server(any_server):
    """Return a server that gives right answers."""
    any_server.begin_anew()
    any_server.give(
        POINT,
        {"properties": {"gridId": "ILN", "gridX": 80, "gridY": 80}},
        Cache_Control="public, max-age=20000",
    )
    for service in SERVICES.values():
        any_server.give(service.path, service.body)
    any_server.give(STATIONS, _stations())
    return any_server


@pytest.fixture(scope="module")
def caches(tmp_path_factory):
    """Return a folder of caches to begin with: one that is empty, and what `kept` has filled."""
    folder = tmp_path_factory.mktemp("caches")
    Web(Settings(cache_dir=folder)).close()
    return folder


@pytest.fixture
def settings(server, caches, tmp_path):
    (tmp_path / "cache").mkdir()
    shutil.copyfile(caches / CACHE, tmp_path / "cache" / CACHE)
    return Settings(
        contact="tests@example.org", cache_dir=tmp_path / "cache", timeout_s=10,
        nws_url=server.url, met_norway_url=server.url + COMPLETE.removesuffix("/complete"),
        open_meteo_url=f"{server.url}/v1", open_meteo_ensemble_url=f"{server.url}/v1",
        open_meteo_archive_url=f"{server.url}/v1", open_meteo_key=KEY, meteostat_url=server.url,
    )  # fmt: skip


def ask(service, settings, **options):
    with session(settings, **options) as web:
        return service.ask(web)


@pytest.fixture
def kept(service, settings, caches):
    """Have the right answer of a service in the cache, as it was when it was first asked for."""
    file, cache = caches / service.module.NAME, settings.cache_dir / CACHE
    if not file.exists():
        ask(service, settings)
        shutil.copyfile(cache, file)
    shutil.copyfile(file, cache)


def refusal(service, settings, **options):
    """Return the one sentence with which an answer is refused."""
    with session(settings, **options) as web, pytest.raises(DewgapError) as caught:
        service.ask(web)
    return sentence(caught.value)


def sentence(fault):
    text = str(fault)
    assert text
    assert "\n" not in text
    assert KEY not in text + repr(fault)
    assert "Traceback" not in text
    assert "object at 0x" not in text
    assert "cache is damaged" not in text, "the cache is sound, the answer is not"
    return text


def let_age(settings, hours):
    """Make all that is kept so many hours older."""
    kept = SQLiteCache(settings.cache_dir / CACHE, serializer="json")
    try:
        for key in list(kept.responses):
            response = kept.responses[key]
            response.created_at -= timedelta(hours=hours)
            response.expires -= timedelta(hours=hours)
            kept.responses[key] = response
    finally:
        kept.close()


def notes_or_refusal(service, settings, **options):
    """Return what is told about an answer, or why there is none."""
    try:
        return "; ".join(ask(service, settings, **options).provenance.notes)
    except DewgapError as fault:
        return sentence(fault)


@cache
def _acrylic():
    return load_profile("acrylic")


def goes(table):
    """Return the hours in which the main job would have acrylic laid."""
    job = run_job(SITE, _acrylic(), table)
    return set(table.index[job.found.hour == State.OK])


@cache
def clean_goes(name):
    return goes(clean(name))


def assert_no_new_go(name, table):
    assert sorted(goes(table) - clean_goes(name)) == []


def assert_as_clean(name, table):
    pd.testing.assert_frame_equal(table.frame, clean(name).frame, rtol=1e-6, atol=1e-6)


# --- right answers ---------------------------------------------------------------------------

ROUNDED = {"meteostat": {"rel_humidity": 0.006, "wind_m_s": 0.02, "gust_m_s": 0.02}}


@every_service
def test_right_answer_is_the_truth(service, settings):
    name = service.module.NAME
    before = pd.Timestamp.now("UTC")
    found = ask(service, settings)
    truth = service.table()
    frame = found.frame.loc[truth.index]
    shared = [each for each in truth if each in frame and (name, each) != ("nws", "rain_mm")]
    assert set(shared) >= {"air_temp_c", "wind_m_s", "cloud", "gust_m_s", "rel_humidity"}
    for column in shared:
        inside = slice(None, -1) if name == "meteostat" else slice(None)
        np.testing.assert_allclose(
            frame[column][inside], truth[column][inside],
            atol=ROUNDED.get(name, {}).get(column, 1e-5), err_msg=column,
        )  # fmt: skip
    sums = frame["rain_mm"].resample("6h").sum(min_count=1)
    truth_sums = truth["rain_mm"].resample("6h").sum()
    np.testing.assert_allclose(sums, truth_sums, atol=1e-5)
    source = found.provenance
    assert source.source
    assert source.attribution
    assert not source.stale
    assert before <= source.retrieved <= pd.Timestamp.now("UTC")
    assert source.read_as == name
    assert source.kind == {"meteostat": "observed", "open_meteo_archive": "reanalysis"}.get(
        name, "forecast"
    )
    assert source.issued == (truth.index[0] if name in {"nws", "met_norway"} else None)
    assert source.notes == ()
    assert KEY not in repr(source)


@every_service
def test_right_answer_has_hours_to_coat_in_and_others(service):
    found = clean_goes(service.module.NAME)
    assert 0 < len(found) < len(clean(service.module.NAME).index)


def test_sum_of_six_hours_is_told_as_such():
    found = clean("nws").frame
    assert (found["rain_block_h"] == 6).all()
    wet = week()["rain_mm"].resample("6h").transform("sum") > 0
    assert ((found["rain_mm"] > 0) == wet).all()


def test_ensemble_has_runs_and_their_share_of_rain():
    found = clean("open_meteo_ensemble")
    assert found.members["rain_mm"].shape == (3, len(found.index))
    rain = week()["rain_mm"]
    np.testing.assert_allclose(found.frame["rain_prob"].loc[rain.index], rain >= 0.1)


@every_service
def test_request_keeps_to_the_service_s_rules(service, settings, server):
    ask(service, settings)
    asked = server.asked[-1]
    assert asked.headers["user-agent"].startswith("dewgap/")
    assert "tests@example.org" in asked.headers["user-agent"]
    if asked.path.startswith("/v1/"):
        assert asked.query["timezone"] == "GMT"
        assert asked.query["timeformat"] == "unixtime"
        assert asked.query["apikey"] == KEY


@every_service
def test_what_the_check_has_read_is_as_if_read_anew(service, settings):
    with session(settings) as web:
        answer = service.fetch(web)
    found = from_answer(service.module, answer)
    anew = from_answer(service.module, replace(answer, checked=None))
    assert isinstance(answer.checked, HourlyTable)
    assert (found.provenance, found.warnings) == (anew.provenance, anew.warnings)
    pd.testing.assert_frame_equal(found.frame, anew.frame)
    for name in ("flags", "members"):
        left, right = getattr(found, name), getattr(anew, name)
        assert left.keys() == right.keys()
        for column, values in right.items():
            np.testing.assert_array_equal(left[column], values)


def test_years_that_the_check_has_read_are_as_if_read_anew(settings):
    with session(settings) as web:
        answer = SERVICES["meteostat"].fetch(web)
    found = meteostat.years_together([answer], "here")
    anew = meteostat.years_together([replace(answer, checked=None)], "here")
    assert (found.provenance, found.warnings) == (anew.provenance, anew.warnings)
    pd.testing.assert_frame_equal(found.frame, anew.frame)


# --- faults on the way -----------------------------------------------------------------------


@dataclass(frozen=True)
class Trouble:
    """Replies before the right one, or instead of it; the words for it, requests, waits. [s]"""

    replies: tuple[Reply, ...]
    words: tuple[str, ...] = ()
    lasts: bool = True
    most_requests: int = 4
    longest_wait_s: float = 30.0


EXPIRED = problem(503, "ForecastGridExpired", "The requested forecast grid has expired.")
ON_THE_WAY = {
    "too many, no wait told": Trouble((Reply(429),), ("429",), most_requests=1, longest_wait_s=0),
    "too many, wait 1 s": Trouble((Reply(429, headers={"Retry-After": "1"}),), lasts=False),
    "too many, wait 2 h": Trouble(
        (Reply(429, headers={"Retry-After": "7200"}),), ("429", "7200 s"),
        most_requests=1, longest_wait_s=0,
    ),
    "too many, wait told in words": Trouble(
        (Reply(429, headers={"Retry-After": "later"}),), ("429",), longest_wait_s=0
    ),
    "overloaded, wait 2 h": Trouble(
        (Reply(503, headers={"Retry-After": "7200"}),), ("503",), most_requests=1, longest_wait_s=0
    ),
    "overloaded once": Trouble((Reply(500),), lasts=False),
    "overloaded twice": Trouble((Reply(502), Reply(504)), lasts=False),
    "overloaded for long": Trouble((Reply(500),), ("500",)),
    "web page for an error": Trouble((page(500),), ("500",)),
    "expired grid": Trouble((EXPIRED,), ("503", "The requested forecast grid has expired.")),
    "not welcome": Trouble((Reply(403, b"403 Forbidden"),), ("403",), most_requests=1),
    "gone": Trouble((Reply(410),), ("410",), most_requests=1),
    "no content": Trouble((Reply(204),), ("204",), most_requests=1),
    "not modified, though nothing is kept": Trouble((Reply(304),), most_requests=1),
    "web page": Trouble((page(),), most_requests=1),
    "nothing": Trouble((Reply(),), most_requests=1),
    "spaces": Trouble((Reply(body=b" \n"),), most_requests=1),
    "null": Trouble((Reply(body=b"null"),), most_requests=1),
    "a number": Trouble((Reply(body=b"42"),), most_requests=1),
    "an empty object": Trouble((Reply(body=b"{}"),), most_requests=1),
    "other letters": Trouble((Reply(body=b'{"a": "\xff\xfe"}'),), most_requests=1),
    "deep": Trouble((Reply(body=b"[" * 100_000),), most_requests=1),
    "not compressed as told": Trouble(
        (Reply(body=b"plain", headers={"Content-Encoding": "gzip"}),), most_requests=4
    ),
    "circle": Trouble((Reply(302, headers={"Location": "?again"}),), most_requests=40),
    "sent nowhere": Trouble((Reply(302, headers={"Location": "ftp://127.0.0.1/"}),)),
}  # fmt: skip


COMMON = (
    *("too many, no wait told", "too many, wait 1 s", "too many, wait 2 h", "overloaded once"),
    *("overloaded for long", "expired grid", "not welcome", "web page", "nothing", "circle"),
)


@pytest.mark.parametrize(
    ("service", "trouble"),
    [
        pytest.param(service, trouble, id=f"{name}-{label}")
        for name, service in SERVICES.items()
        for label, trouble in ON_THE_WAY.items()
        if name == "open_meteo" or label in COMMON
    ],
)
def test_trouble_on_the_way(service, trouble, settings, server, waits):
    server.fail(service.path, *trouble.replies, always=trouble.lasts)
    if trouble.lasts:
        text = refusal(service, settings)
        for words in trouble.words:
            assert words in text
    else:
        assert_as_clean(service.module.NAME, ask(service, settings))
        assert server.count(service.path) == len(trouble.replies) + 1
    assert server.count(service.path) <= trouble.most_requests
    assert sum(waits) <= trouble.longest_wait_s


def test_asked_to_wait_a_second_it_waits(settings, server, waits):
    server.fail(FORECAST, Reply(429, headers={"Retry-After": "1"}))
    ask(SERVICES["open_meteo"], settings)
    assert waits == [1]


@every_service
def test_service_that_hangs_is_given_up(service, settings, server):
    server.fail(service.path, Reply(delay_s=30), always=True)
    begin = time.monotonic()
    text = refusal(service, settings.model_copy(update={"timeout_s": 0.1}))
    assert time.monotonic() - begin < 5
    assert "it took too long" in text


@pytest.mark.exhaustive(every=3)
@every_service
def test_service_that_hangs_once_is_asked_again(service, settings, server):
    server.fail(service.path, Reply(delay_s=30))
    found = ask(service, settings.model_copy(update={"timeout_s": 1}))
    assert_as_clean(service.module.NAME, found)


@every_service
@pytest.mark.parametrize("share", [0.0, 0.4, 0.999])
def test_body_that_breaks_off_is_no_answer(service, share, settings, server):
    sent = int(len(service.body) * share)
    server.fail(service.path, Reply(body=service.body, cut=len(service.body) - sent), always=True)
    text = refusal(service, settings)
    assert "broke off" in text or "cannot be reached" in text


@every_service
@pytest.mark.parametrize("share", [0.01, 0.4, 0.999])
def test_body_cut_before_it_was_sent_is_no_answer(service, share, settings, server):
    server.give(service.path, service.body[: int(len(service.body) * share)])
    refusal(service, settings)


@every_service
def test_service_that_is_not_there(service, settings, server):
    nowhere = "http://127.0.0.1:9"
    gone = {name: nowhere for name in Settings.model_fields if name.endswith("_url")}
    assert "cannot be reached" in refusal(service, settings.model_copy(update=gone))
    assert server.asked == []


@every_service
def test_redirect_is_followed(service, settings, server):
    server.give("/moved", service.body)
    server.fail(service.path, Reply(301, headers={"Location": "/moved"}))
    if service.module.NAME.startswith("open_meteo"):  # asked with a key, which is sent nowhere else
        with pytest.raises(SourceError, match="status 301"):
            ask(service, settings)
    else:
        assert_as_clean(service.module.NAME, ask(service, settings))


@every_service
@pytest.mark.parametrize(("hours", "way"), [(1, "behind"), (-1, "ahead of")])
def test_clock_that_is_off_is_told(service, hours, way, settings, server):
    moment = loopback.http_date(pd.Timestamp.now("UTC") + hours * HOUR)
    server.give(service.path, service.body, Date=moment)
    (note,) = ask(service, settings).provenance.notes
    assert f"clock is 60 min {way}" in note


@pytest.mark.parametrize("told", ["", "yesterday", "Thu, 99 Foo 2026 00:00:00 GMT"])
def test_date_that_cannot_be_read_is_no_matter(told, settings, server):
    server.give(FORECAST, SERVICES["open_meteo"].body, Date=told)
    assert ask(SERVICES["open_meteo"], settings).provenance.notes == ()


@pytest.mark.parametrize("name", ["nws", "met_norway"])
def test_who_asks_must_be_told_before_anything_is_asked(name, settings, server):
    nobody = settings.model_copy(update={"contact": None})
    with session(nobody) as web, pytest.raises(SettingsError) as caught:
        SERVICES[name].ask(web)
    assert "DEWGAP_CONTACT" in sentence(caught.value)
    assert server.asked == []


@pytest.mark.parametrize("name", ["open_meteo", "open_meteo_archive", "meteostat"])
def test_others_do_not_want_to_know(name, settings):
    nobody = settings.model_copy(update={"contact": None, "open_meteo_key": None})
    assert_as_clean(name, ask(SERVICES[name], nobody))


@pytest.mark.parametrize("name", ["open_meteo", "open_meteo_ensemble", "open_meteo_archive"])
@pytest.mark.parametrize(
    ("reply", "words"),
    [
        (reason(400, "Parameter 'hourly' is wrong."), "Parameter 'hourly' is wrong."),
        (reason(429, "Daily API request limit exceeded."), "Daily API request limit exceeded."),
        (reason(200, "Out of hours."), "the service refused: Out of hours."),
        (reason(400, "two\nlines"), "two lines"),
        (reason(200, "two\nlines"), "two"),
        (reason(400, f"no such key: apikey={KEY}"), "no such key"),
        (reason(200, f"no such key: apikey={KEY}"), "no such key"),
    ],
)
def test_open_meteo_says_why_and_is_asked_once(name, reply, words, settings, server, waits):
    server.fail(SERVICES[name].path, reply, always=True)
    assert words in refusal(SERVICES[name], settings)
    assert server.count(SERVICES[name].path) == 1
    assert waits == []


# --- National Weather Service: which cell ----------------------------------------------------


def test_outside_of_the_united_states(settings, server):
    server.fail(POINT, problem(404, "InvalidPoint", "Data Unavailable"), always=True)
    text = refusal(SERVICES["nws"], settings)
    assert "which must be in the United States" in text
    assert server.count(CELL) == 0


@pytest.mark.parametrize(
    "body",
    [
        {}, {"properties": None}, {"properties": {"gridId": "ILN", "gridX": "80", "gridY": 80}},
        {"properties": {"gridId": "../../x", "gridX": 80, "gridY": 80}},
        {"properties": {"gridId": None, "gridX": 80, "gridY": 80}}, [],
    ],
)  # fmt: skip
def test_point_without_a_cell(body, settings, server):
    server.give(POINT, json.dumps(body).encode())
    refusal(SERVICES["nws"], settings)
    assert [each.path for each in server.asked] == [POINT]


@pytest.mark.parametrize("dated", [False, True], ids=["no Last-Modified", "Last-Modified"])
@pytest.mark.parametrize("known", [False, True], ids=["cell not kept", "cell kept"])
def test_cell_with_a_new_number_is_looked_up_again(known, dated, settings, server):
    past, now = (pd.Timestamp.now("UTC") - hours * HOUR for hours in (48, 0))
    headers = {"Cache_Control": "public, max-age=20000"}
    old = {"Last_Modified": loopback.http_date(past)} if dated else {}
    new = {"Last_Modified": loopback.http_date(now)} if dated else {}
    server.give(
        POINT, {"properties": {"gridId": "ILN", "gridX": 80, "gridY": 80}}, **headers, **old
    )
    if known:
        ask(SERVICES["nws"], settings)
    else:
        with session(settings) as web:
            nws._cell_url(web, SITE)
    let_age(settings, 1)
    server.give(POINT, {"properties": {"gridId": "DLH", "gridX": 7, "gridY": 9}}, **headers, **new)
    server.give("/gridpoints/DLH/7,9", SERVICES["nws"].body)
    del server.answers[CELL]
    found = ask(SERVICES["nws"], settings)
    assert_as_clean("nws", found)
    assert not found.provenance.stale, "the new cell has a new forecast"


def test_cell_that_is_gone_for_good(settings, server):
    del server.answers[CELL]
    assert "404" in refusal(SERVICES["nws"], settings)
    assert server.count(CELL) <= 2


# --- bodies that are not right ---------------------------------------------------------------


def changed(name, change):
    """Return a right answer with a change made to its object."""
    answer = json.loads(SERVICES[name].body)
    return json.dumps(change(answer) or answer).encode()


def layer(name):
    return lambda answer: answer["properties"][name]


def unit(name, word, factor=1.0, offset=0.0):
    """Put a layer into another unit."""

    def change(answer):
        found = answer["properties"][name]
        found["uom"] = word
        for each in found["values"]:
            each["value"] = None if each["value"] is None else each["value"] * factor + offset

    return change


def entry(name, position, **fields):
    """Change an entry of a layer."""
    return lambda answer: answer["properties"][name]["values"][position].update(fields)


def entries(name, change):
    """Change the list of entries of a layer."""

    def apply(answer):
        found = answer["properties"][name]
        found["values"] = change(found["values"])

    return apply


def properties(**fields):
    return lambda answer: answer["properties"].update(fields)


def without(name):
    def change(answer):
        del answer["properties"][name]

    return change


def nulls(values):
    return [each | {"value": None} for each in values]


def when(text):
    return lambda answer: answer["properties"]["temperature"]["values"][30].update(validTime=text)


TODAY = f"{pd.Timestamp.now('UTC'):%Y-%m-%d}"
RAIN = "quantitativePrecipitation"
SAME, UNKNOWN = "as the right one", "unknown"
# a change, and: the words of its refusal, SAME, or (UNKNOWN, columns in which hours go missing)
NWS_BODIES = {
    "degF": (unit("temperature", "wmoUnit:degF", 1.8, 32), SAME),
    "old prefix": (unit("temperature", "unit:degC"), SAME),
    "no prefix": (unit("temperature", "degC"), SAME),
    "wind in m/s": (unit("windSpeed", "wmoUnit:m_s-1", 1 / 3.6), SAME),
    "rain in m": (unit(RAIN, "wmoUnit:m", 1e-3), SAME),
    "rain in inches": (unit(RAIN, "inch", 1 / 25.4), SAME),
    "kelvin": (unit("temperature", "wmoUnit:K", 1, 273.15), ["temperature is in 'wmoUnit:K'"]),
    "no unit": (unit("temperature", None), ["temperature is in None"]),
    "unit of another kind": (unit("temperature", "wmoUnit:mm"), ["no known unit"]),
    "unit that is a list": (unit("temperature", ["degC"]), ["no known unit"]),
    "rain without unit": (unit(RAIN, ""), ["no known unit"]),
    "nulls": (entry("temperature", 30, value=None), (UNKNOWN, ["air_temp_c"])),
    "null rain": (entry(RAIN, 8, value=None), (UNKNOWN, ["rain_mm"])),
    "no wind at all": (entries("windSpeed", nulls), (UNKNOWN, ["wind_m_s"])),
    "no rain at all": (entries(RAIN, nulls), (UNKNOWN, ["rain_mm"])),
    "no dew point at all": (entries("dewpoint", nulls), (UNKNOWN, ["dew_point_c"])),
    "no sky at all": (entries("skyCover", nulls), (UNKNOWN, ["cloud"])),
    "no gusts at all": (entries("windGust", nulls), (UNKNOWN, [])),
    "empty rain layer": (properties(**{RAIN: {"values": []}}), ["is missing or empty"]),
    "empty temperature layer": (properties(temperature={"values": []}), ["missing or empty"]),
    "no rain layer": (without(RAIN), ["'quantitativePrecipitation' is missing or empty"]),
    "no dew point layer": (without("dewpoint"), ["'dewpoint' is missing or empty"]),
    "no sky layer": (without("skyCover"), ["'skyCover' is missing or empty"]),
    "no gust layer": (without("windGust"), (UNKNOWN, [])),
    "no humidity layer": (without("relativeHumidity"), (UNKNOWN, [])),
    "no chance layer": (without("probabilityOfPrecipitation"), (UNKNOWN, [])),
    "layer is a list": (properties(temperature=[]), ["missing or empty"]),
    "entries are numbers": (properties(temperature={"values": [1, 2]}), ["missing or empty"]),
    "rain ends early": (entries(RAIN, lambda v: v[:-6]), (UNKNOWN, ["rain_mm"])),
    "wind ends early": (entries("windSpeed", lambda v: v[: len(v) // 2]), (UNKNOWN, ["wind_m_s"])),
    "all states begin late": (entries("temperature", lambda v: v[40:]), (UNKNOWN, ["air_temp_c"])),
    "hole in the rain": (entries(RAIN, lambda v: v[:9] + v[12:]), (UNKNOWN, ["rain_mm"])),
    "twice the same": (entries(RAIN, lambda v: [v[3], *v, v[3]]), SAME),
    "in no order": (entries("temperature", lambda v: v[::-1]), SAME),
    "twice, a wet one first": (
        entries(RAIN, lambda v: [v[20] | {"value": 9.0}, *v]), (UNKNOWN, [])
    ),
    "twice, a wet one last": (entries(RAIN, lambda v: [*v, v[20] | {"value": 9.0}]), (UNKNOWN, [])),
    "twice, one unknown": (
        entries(RAIN, lambda v: [*v, v[20] | {"value": None}]), (UNKNOWN, ["rain_mm"])
    ),
    "overlap of rain": (
        entries(RAIN, lambda v: [*v, {"validTime": f"{TODAY}T03:00:00+00:00/P2D", "value": 4}]),
        (UNKNOWN, []),
    ),
    "overlap of dry over wet": (
        entries(RAIN, lambda v: [*v, {"validTime": f"{TODAY}T00:00:00+00:00/P9D", "value": 0}]),
        (UNKNOWN, []),
    ),
    "overlap of states": (
        entries("temperature", lambda v: [*v, v[30] | {"value": 25.0}]),
        (UNKNOWN, ["air_temp_c"]),
    ),
    "off the hour": (when(f"{TODAY}T06:30:00+00:00/PT1H"), ["is not whole hours"]),
    "half an hour": (when(f"{TODAY}T06:00:00+00:00/PT30M"), ["is not whole hours"]),
    "no hours": (when(f"{TODAY}T06:00:00+00:00/PT0H"), ["is not whole hours"]),
    "a month": (when(f"{TODAY}T06:00:00+00:00/P1M"), ["is not whole hours"]),
    "no duration": (when(f"{TODAY}T06:00:00+00:00"), ["is not whole hours"]),
    "duration in words": (when(f"{TODAY}T06:00:00+00:00/soon"), ["is not whole hours"]),
    "duration NaT": (when(f"{TODAY}T06:00:00+00:00/NaT"), ["is not whole hours"]),
    "backward": (when(f"{TODAY}T06:00:00+00:00/-PT6H"), ["is not whole hours"]),
    "endless": (when(f"{TODAY}T06:00:00+00:00/P99999999999D"), ["is not whole hours"]),
    "no zone": (when(f"{TODAY}T06:00:00/PT1H"), ["not a time with a zone"]),
    "no time": (when(None), ["not a time with a zone"]),
    "empty time": (when(""), ["not a time with a zone"]),
    "a mistyped century": (when("2199-01-01T06:00:00+00:00/PT1H"), [""]),
    "text for a number": (entry("temperature", 30, value="mild"), ["not a number"]),
    "truth for a number": (entry(RAIN, 9, value=False), ["not a number"]),
    "endless number": (entry("temperature", 30, value=10**400), [""]),
    "one impossible value": (entry("temperature", 30, value=99.0), (UNKNOWN, ["air_temp_c"])),
    "one rain below zero": (entry(RAIN, 9, value=-5.0), (UNKNOWN, ["rain_mm"])),
    "humidity as a share": (unit("relativeHumidity", "wmoUnit:1", 0.01), SAME),
    "wind far too strong": (unit("windSpeed", "wmoUnit:km_h-1", 100), ["is not possible"]),
    "not renewed": (
        properties(updateTime=f"{pd.Timestamp.now('UTC') - 40 * HOUR:%Y-%m-%dT%H:%M:%SZ}"),
        ["issued 40 h ago"],
    ),
    "no time of issue": (without("updateTime"), ["updateTime"]),
    "time of issue in words": (properties(updateTime="lately"), ["updateTime"]),
    "properties are a list": (lambda answer: {**answer, "properties": []}, ["'properties'"]),
    "no corners": (lambda answer: {**answer, "geometry": None}, SAME),
    "corners are words": (
        lambda answer: {**answer, "geometry": {"coordinates": [["a", "b"]]}}, SAME
    ),
    "list of answers": (lambda answer: [answer, answer], ["a list of answers"]),
}  # fmt: skip


def series(name, change):
    """Change a column of an Open-Meteo answer."""

    def apply(answer):
        answer["hourly"][name] = change(answer["hourly"][name])

    return apply


def converted(name, word, factor=1.0, offset=0.0):
    """Put a column of an Open-Meteo answer into another unit."""

    def change(answer):
        answer["hourly_units"][name] = word
        answer["hourly"][name] = [
            None if value is None else value * factor + offset for value in answer["hourly"][name]
        ]

    return change


def put(position, value):
    def change(values):
        return [*values[:position], value, *values[position + 1 :]]

    return change


def none(values):
    return [None] * len(values)


def lacks(name):
    def change(answer):
        del answer["hourly"][name]
        del answer["hourly_units"][name]

    return change


def local_times(answer):
    """Write times on the local clock, with the one offset that the service uses for all."""
    offset = -4 * 3600
    answer["utc_offset_seconds"] = offset
    answer["hourly_units"]["time"] = "iso8601"
    local = pd.to_datetime(answer["hourly"]["time"], unit="s") + pd.Timedelta(seconds=offset)
    answer["hourly"]["time"] = [f"{each:%Y-%m-%dT%H:%M}" for each in local]


def times_in_words(answer):
    local_times(answer)
    answer["hourly"]["time"][9] = "noon"


def times_without_offset(answer):
    local_times(answer)
    del answer["utc_offset_seconds"]


def three_hourly(answer):
    """Keep each third label; what belongs to the time before it is summed up or averaged."""
    for name, values in answer["hourly"].items():
        known = [0 if value is None else value for value in values]
        if name == "precipitation":
            thirds = [sum(known[i - 2 : i + 1]) for i in range(3, len(known), 3)]
            answer["hourly"][name] = [0.0, *thirds]
        else:
            answer["hourly"][name] = values[::3]


PRECIPITATION, AIR = "precipitation", "temperature_2m"
OPEN_METEO_BODIES = {
    "degF": (converted(AIR, "°F", 1.8, 32), SAME),
    "wind in km/h": (converted("wind_speed_10m", "km/h", 3.6), SAME),
    "wind in mph": (converted("wind_speed_10m", "mp/h", 1 / 0.44704), SAME),
    "gusts in knots": (converted("wind_gusts_10m", "kn", 3600 / 1852), SAME),
    "rain in inches": (converted(PRECIPITATION, "inch", 1 / 25.4), SAME),
    "kelvin": (converted(AIR, "K", 1, 273.15), ["temperature_2m is in 'K'"]),
    "undefined unit": (converted(AIR, "undefined"), ["no known unit"]),
    "no unit": (lambda answer: answer["hourly_units"].pop(AIR) and None, ["no known unit"]),
    "local times of a day with a change of clocks": (local_times, SAME),
    "local times without offset": (times_without_offset, ["'utc_offset_seconds' is missing"]),
    "time in words": (times_in_words, ["time holds 'noon'"]),
    "endless offset": (
        lambda answer: local_times(answer) or answer.update(utc_offset_seconds=10**30), [""]
    ),
    "no time": (series("time", put(9, None)), ["time holds"]),
    "text among the times": (series("time", put(9, "noon")), ["time holds"]),
    "times in ms": (series("time", lambda v: [each * 1000 for each in v]), [""]),
    "times far away": (series("time", lambda v: [each * 10**9 for each in v]), [""]),
    "endless time": (series("time", put(9, 10**400)), [""]),
    "time twice": (series("time", lambda v: [*v[:9], v[8], *v[10:]]), ["not in order"]),
    "times in no order": (series("time", lambda v: [v[1], v[0], *v[2:]]), ["not in order"]),
    "times reversed": (series("time", lambda v: v[::-1]), ["not in order"]),
    "half hours": (series("time", lambda v: [v[0] + n * 1800 for n in range(len(v))]), [""]),
    "one time": (lambda answer: answer["hourly"].update({n: v[:1] for n, v in
                                                         answer["hourly"].items()}), ["no hours"]),
    "no hours": (lambda answer: answer["hourly"].update({n: [] for n in answer["hourly"]}),
                 ["no hours"]),
    "short column": (series(AIR, lambda v: v[:-3]), ["166 values for 169 times"]),
    "long column": (series(PRECIPITATION, lambda v: [*v, 0.0]), ["170 values for 169 times"]),
    "column is no list": (series(AIR, lambda v: 20.0), ["'temperature_2m' is not"]),
    "column is null": (series(AIR, lambda v: None), ["'temperature_2m' is missing"]),
    "nulls": (series(AIR, put(30, None)), (UNKNOWN, ["air_temp_c"])),
    "null rain": (series(PRECIPITATION, put(30, None)), (UNKNOWN, ["rain_mm"])),
    "no rain at all": (series(PRECIPITATION, none), (UNKNOWN, ["rain_mm"])),
    "no wind at all": (series("wind_speed_10m", none), (UNKNOWN, ["wind_m_s"])),
    "no dew point at all": (series("dew_point_2m", none), (UNKNOWN, [])),
    "no humidity at all": (series("relative_humidity_2m", none), (UNKNOWN, [])),
    "no sky at all": (series("cloud_cover", none), (UNKNOWN, [])),
    "no sun at all": (series("shortwave_radiation", none), (UNKNOWN, [])),
    "no gusts at all": (series("wind_gusts_10m", none), (UNKNOWN, [])),
    "rain is missing": (lacks(PRECIPITATION), ["precipitation"]),
    "wind is missing": (lacks("wind_speed_10m"), ["wind_speed_10m"]),
    "gusts are missing": (lacks("wind_gusts_10m"), (UNKNOWN, [])),
    "sky is missing": (lacks("cloud_cover"), (UNKNOWN, [])),
    "dew point is missing": (lacks("dew_point_2m"), (UNKNOWN, [])),
    "three-hourly": (three_hourly, (UNKNOWN, ["air_temp_c"])),
    "text for a number": (series(AIR, put(30, "mild")), ["not a number"]),
    "endless number": (series(AIR, put(30, 10**400)), [""]),
    "one impossible value": (series(AIR, put(30, 99.0)), (UNKNOWN, ["air_temp_c"])),
    "one rain below zero": (series(PRECIPITATION, put(30, -1.0)), (UNKNOWN, ["rain_mm"])),
    "no hourly": (lambda answer: answer.pop("hourly") and None, ["'hourly' is missing"]),
    "units are a list": (lambda answer: answer.update(hourly_units=[]), ["'hourly_units'"]),
    "place in words": (lambda answer: answer.update(latitude="north"), SAME),
    "list of answers": (lambda answer: [answer, answer], ["a list of answers"]),
}  # fmt: skip


def steps(change):
    """Change the time series of MET Norway."""

    def apply(answer):
        found = answer["properties"]
        found["timeseries"] = change(found["timeseries"])

    return apply


def instant(position, **details):
    return lambda answer: answer["properties"]["timeseries"][position]["data"]["instant"][
        "details"
    ].update(details)


def units(name, word, factor=1.0, offset=0.0):
    """Put readings of MET Norway into another unit."""

    def change(answer):
        answer["properties"]["meta"]["units"][name] = word
        for each in answer["properties"]["timeseries"]:
            details = each["data"]["instant"]["details"]
            if name in details:
                details[name] = details[name] * factor + offset

    return change


def no_detail(name, period="instant"):
    def change(answer):
        for each in answer["properties"]["timeseries"]:
            each["data"].get(period, {}).get("details", {}).pop(name, None)

    return change


def no_period(*names, at=slice(None)):
    """Take forecasts for the following hours out of some steps."""

    def change(answer):
        for each in answer["properties"]["timeseries"][at]:
            for name in names:
                each["data"].pop(name, None)

    return change


def coarse(values):
    """Go from hourly steps to steps of six hours, as far forecasts do."""
    for each in values[96::6]:
        each["data"].pop("next_1_hours", None)
    return values[:96] + values[96::6]


def at(position, text):
    return lambda answer: answer["properties"]["timeseries"][position].update(time=text)


def twice(position, **details):
    """Give a step again with other readings."""

    def change(values):
        again = json.loads(json.dumps(values[position]))
        again["data"]["instant"]["details"].update(details)
        return [*values[: position + 1], again, *values[position + 1 :]]

    return steps(change)


MET_NORWAY_BODIES = {
    "degF": (units("air_temperature", "fahrenheit", 1.8, 32), SAME),
    "wind in km/h": (units("wind_speed", "km/h", 3.6), SAME),
    "kelvin": (units("air_temperature", "K", 1, 273.15), ["air_temperature is in 'K'"]),
    "no unit": (
        lambda answer: answer["properties"]["meta"]["units"].pop("wind_speed") and None,
        ["wind_speed is in None"],
    ),
    "no units": (lambda answer: answer["properties"]["meta"].pop("units") and None, ["'units'"]),
    "nulls": (instant(30, air_temperature=None), (UNKNOWN, ["air_temp_c"])),
    "no wind at all": (no_detail("wind_speed"), ["wind"]),
    "no temperature at all": (no_detail("air_temperature"), (UNKNOWN, ["air_temp_c"])),
    "no dew point at all": (no_detail("dew_point_temperature"), (UNKNOWN, [])),
    "no humidity at all": (no_detail("relative_humidity"), (UNKNOWN, [])),
    "no sky at all": (no_detail("cloud_area_fraction"), (UNKNOWN, [])),
    "no gusts at all": (no_detail("wind_speed_of_gust"), (UNKNOWN, [])),
    "no rain at all": (
        no_period("next_1_hours", "next_6_hours"), (UNKNOWN, ["rain_mm"])
    ),
    "no amounts": (
        no_detail("precipitation_amount", "next_1_hours"), (UNKNOWN, [])
    ),
    "rain ends early": (
        no_period("next_1_hours", "next_6_hours", at=slice(120, None)), (UNKNOWN, ["rain_mm"])
    ),
    "six hours in place of one": (no_period("next_1_hours", at=slice(60, 70)), (UNKNOWN, [])),
    "six hours in place of one hour": (no_period("next_1_hours", at=slice(84, 85)), (UNKNOWN, [])),
    "steps of six hours": (steps(coarse), (UNKNOWN, ["air_temp_c"])),
    "hole": (steps(lambda v: v[:60] + v[70:]), (UNKNOWN, ["air_temp_c", "rain_mm"])),
    "twice the same": (twice(30), SAME),
    "twice, warmer": (twice(30, air_temperature=25.0), (UNKNOWN, ["air_temp_c"])),
    "in no order": (steps(lambda v: v[::-1]), ["not whole hours in order"]),
    "half hour": (at(30, f"{TODAY}T06:30:00Z"), ["not whole hours in order"]),
    "no zone": (at(30, f"{TODAY}T06:00:00"), ["not a time with a zone"]),
    "no time": (at(30, None), ["not a time with a zone"]),
    "a mistyped century": (at(-1, "2199-01-01T00:00:00Z"), [""]),
    "empty series": (steps(lambda v: []), ["empty or broken"]),
    "series of numbers": (steps(lambda v: [1, 2]), ["empty or broken"]),
    "endless series": (steps(lambda v: v * 9), ["empty or broken"]),
    "step is broken": (
        lambda answer: answer["properties"]["timeseries"][30]["data"].update(instant=[]),
        ["broken"],
    ),
    "details are a list": (
        lambda answer: answer["properties"]["timeseries"][30]["data"].update(
            next_1_hours={"details": []}
        ),
        ["broken"],
    ),
    "text for a number": (instant(30, air_temperature="mild"), ["not a number"]),
    "endless number": (instant(30, air_temperature=10**400), [""]),
    "one impossible value": (instant(30, air_temperature=99.0), (UNKNOWN, ["air_temp_c"])),
    "no time of issue": (
        lambda answer: answer["properties"]["meta"].pop("updated_at") and None, ["updated_at"]
    ),
    "place in words": (lambda answer: {**answer, "geometry": {"coordinates": ["a", "b"]}}, SAME),
    "list of answers": (lambda answer: [answer, answer], ["a list of answers"]),
}  # fmt: skip


def rows(change):
    """Change the lines of a yearly file."""

    def apply(body):
        return gzip.compress("\n".join(change(gzip.decompress(body).decode().split("\n"))).encode())

    return apply


def cell(position, column, text):
    """Change a cell of a yearly file."""

    def change(lines):
        number = lines[0].split(",").index(column)
        cells = lines[position].split(",")
        cells[number] = text
        return [*lines[:position], ",".join(cells), *lines[position + 1 :]]

    return change


def column(name, text=None):
    """Write one text into a column, or take the column out."""

    def change(lines):
        number = lines[0].split(",").index(name)
        found = [line.split(",") for line in lines if line]
        if text is None:
            return [",".join(cells[:number] + cells[number + 1 :]) for cells in found] + [""]
        rest = [",".join([*cells[:number], text, *cells[number + 1 :]]) for cells in found[1:]]
        return [lines[0], *rest, ""]

    return change


def again(position, name, text):
    """Give a row a second time with another value, after it and before it."""

    def after(lines):
        other = cell(position, name, text)(lines)[position]
        return [*lines[: position + 1], other, *lines[position + 1 :]]

    def before(lines):
        other = cell(position, name, text)(lines)[position]
        return [*lines[:position], other, *lines[position:]]

    return after, before


WARM_AGAIN = again(160, "temp", "25.0")
DRY_AGAIN = again(88, "prcp", "0")
METEOSTAT_BODIES = {
    "not compressed": (gzip.decompress, SAME),
    "in no order": (rows(lambda v: [v[0], *v[-2:0:-1], ""]), SAME),
    "web page, compressed": (lambda body: gzip.compress(page().body), ["not a yearly file"]),
    "nothing, compressed": (lambda body: gzip.compress(b""), ["not a yearly file"]),
    "header only": (rows(lambda v: [v[0], ""]), ["no hours in it"]),
    "cut, then compressed": (rows(lambda v: [*v[:100], v[100][:9]]), (UNKNOWN, [])),
    "two files in one": (lambda body: body + body, ["the year 2025"]),
    "half a file more": (lambda body: body + body[:90], ["ends too early"]),
    "wrong bytes": (lambda body: body[:200] + bytes(9) + body[209:], ["ends too early"]),
    "empty cell": (rows(cell(30, "temp", "")), (UNKNOWN, ["air_temp_c"])),
    "empty rain cell": (rows(cell(30, "prcp", "")), (UNKNOWN, ["rain_mm"])),
    "nan cell": (rows(cell(30, "temp", "nan")), (UNKNOWN, ["air_temp_c"])),
    "row is missing": (rows(lambda v: v[:60] + v[70:]), (UNKNOWN, ["air_temp_c", "rain_mm"])),
    "no rain at all": (rows(column("prcp", "")), (UNKNOWN, ["rain_mm"])),
    "no wind at all": (rows(column("wspd", "")), (UNKNOWN, ["wind_m_s"])),
    "no gusts at all": (rows(column("wpgt", "")), (UNKNOWN, [])),
    "no sky at all": (rows(column("cldc", "")), (UNKNOWN, [])),
    "rain column is missing": (rows(column("prcp")), (UNKNOWN, ["rain_mm"])),
    "text for a number": (rows(cell(30, "temp", "mild")), [""]),
    "thirteenth month": (rows(cell(30, "month", "13")), [""]),
    "half a row": (rows(lambda v: [*v[:30], v[30][:20], *v[31:]]), (UNKNOWN, [])),
    "from a model": (rows(cell(30, "temp_source", "dwd_mosmix")), (UNKNOWN, ["air_temp_c"])),
    "all from a model": (rows(column("temp_source", "dwd_mosmix")), (UNKNOWN, ["air_temp_c"])),
    "rain below zero": (rows(cell(30, "prcp", "-0.1")), (UNKNOWN, ["rain_mm"])),
    "impossible value": (rows(cell(30, "temp", "99")), (UNKNOWN, ["air_temp_c"])),
    "humidity above 100": (rows(cell(30, "rhum", "140")), (UNKNOWN, ["rel_humidity"])),
    "twice, warmer after": (rows(WARM_AGAIN[0]), ["the year 2025"]),
    "twice, warmer before": (rows(WARM_AGAIN[1]), ["the year 2025"]),
    "twice, dry after": (rows(DRY_AGAIN[0]), ["the year 2025"]),
    "twice, dry before": (rows(DRY_AGAIN[1]), ["the year 2025"]),
    "twice the same": (rows(lambda v: [v[0], v[9], *v[1:]]), ["the year 2025"]),
}  # fmt: skip
ALIKE = (
    *("degF", "kelvin", "local times of a day with a change of clocks", "short column", "nulls"),
    *("null rain", "no rain at all", "no wind at all", "rain is missing", "three-hourly"),
)
BODIES = [
    pytest.param(name, change, expected, id=f"{name}-{label}")
    for name, faults in (
        ("nws", NWS_BODIES),
        ("open_meteo", OPEN_METEO_BODIES),
        ("open_meteo_ensemble", OPEN_METEO_BODIES),
        ("open_meteo_archive", OPEN_METEO_BODIES),
        ("met_norway", MET_NORWAY_BODIES),
        ("meteostat", METEOSTAT_BODIES),
    )
    for label, (change, expected) in faults.items()
    if name not in {"open_meteo_ensemble", "open_meteo_archive"} or label in ALIKE
]


@pytest.mark.parametrize(("name", "change", "expected"), BODIES)
def test_body_that_is_not_right(name, change, expected, settings, server):
    service = SERVICES[name]
    body = change(service.body) if name == "meteostat" else changed(name, change)
    server.give(service.path, body)
    if isinstance(expected, list):
        text = refusal(service, settings)
        assert all(words in text for words in expected)
        return
    found = ask(service, settings)
    assert found.provenance.stale is False
    if expected == SAME:
        assert_as_clean(name, found)
    else:
        right = clean(name).frame
        for column in expected[1]:
            lost = found.frame[column].reindex(right.index).isna() & right[column].notna()
            assert lost.any(), f"{column} is known throughout"
    assert_no_new_go(name, found)


MARK = 123456.75
MARKED = {
    "nws": entry("temperature", 30, value=MARK),
    "open_meteo": series(AIR, put(30, MARK)),
    "open_meteo_ensemble": series(f"{AIR}_member02", put(30, MARK)),
    "met_norway": instant(30, air_temperature=MARK),
}


@pytest.mark.parametrize("name", MARKED)
@pytest.mark.parametrize("token", ["NaN", "Infinity", "-Infinity"])
def test_number_that_json_does_not_have(name, token, settings, server):
    body = changed(name, MARKED[name]).replace(str(MARK).encode(), token.encode())
    server.give(SERVICES[name].path, body)
    assert f"{token} is no JSON" in refusal(SERVICES[name], settings)


@pytest.mark.parametrize("name", ["nws", "open_meteo", "met_norway"])
@pytest.mark.parametrize("number", ["1e999", "-1e999", "1e300"])
def test_number_beyond_all_numbers_is_unknown(name, number, settings, server):
    body = changed(name, MARKED[name]).replace(str(MARK).encode(), number.encode())
    server.give(SERVICES[name].path, body)
    table = ask(SERVICES[name], settings)
    assert table.frame["air_temp_c"].abs().max() < 60
    assert table.frame["air_temp_c"].isna().sum() > clean(name).frame["air_temp_c"].isna().sum()
    assert_no_new_go(name, table)


def test_rain_of_two_blocks_that_differ_is_the_more(settings, server):
    wet = entries(RAIN, lambda v: [v[20] | {"value": 9.0}, *v])
    server.give(CELL, changed("nws", wet))
    found = ask(SERVICES["nws"], settings)
    start = week().index[0] + 120 * HOUR
    np.testing.assert_allclose(found.frame["rain_mm"].loc[start : start + 5 * HOUR], 1.5)
    assert any("given twice" in text for text in found.warnings)


def test_past_the_end_of_a_layer_rain_is_unknown_and_not_zero(settings, server):
    server.give(CELL, changed("nws", entries(RAIN, lambda v: v[:-6])))
    rain = ask(SERVICES["nws"], settings).frame["rain_mm"]
    assert rain[-36:].isna().all()
    assert rain[:-36].notna().all()


def test_three_hourly_rain_is_told_as_a_sum(settings, server):
    server.give(FORECAST, changed("open_meteo", three_hourly))
    found = ask(SERVICES["open_meteo"], settings).frame
    assert (found["rain_block_h"][:-1] == 3).all()
    truth = week()["rain_mm"].resample("3h").sum()
    sums = found["rain_mm"].loc[week().index].resample("3h").sum(min_count=1)
    np.testing.assert_allclose(sums, truth, atol=1e-6)


# --- what is kept ----------------------------------------------------------------------------


@every_service
def test_answer_of_a_moment_ago_is_not_asked_for_again(service, settings, server):
    first = ask(service, settings)
    asked = len(server.asked)
    second = ask(service, settings)
    assert len(server.asked) == asked
    assert second.provenance.retrieved == pytest.approx(first.provenance.retrieved, abs=HOUR / 60)
    assert not second.provenance.stale
    pd.testing.assert_frame_equal(first.frame, second.frame)


FAILURES = {
    "overloaded": Reply(500),
    "too many": Reply(429),
    "wait 2 h": Reply(429, headers={"Retry-After": "7200"}),
    "web page": page(),
    "broken off": Reply(body=b'{"a": 1}', cut=4),
    "empty": Reply(),
    "hangs": Reply(delay_s=30),
}
STALE_H = {"meteostat": 10 * 24, "open_meteo_archive": 31 * 24}
TOO_OLD_H = {"meteostat": 32 * 24, "open_meteo_archive": 3682 * 24}


@pytest.mark.exhaustive(every=5)  # of each service and each failure
@every_service
@pytest.mark.parametrize("failure", FAILURES.values(), ids=FAILURES)
@pytest.mark.usefixtures("kept")
def test_what_it_said_before_stands_in_marked_as_stale(service, failure, settings, server):
    name = service.module.NAME
    hurried = settings.model_copy(update={"timeout_s": 0.2 if failure.delay_s else 10})
    age = STALE_H.get(name, 3)
    let_age(settings, age)
    server.fail(service.path, failure, always=True)
    found = ask(service, hurried)
    assert found.provenance.stale
    assert_as_clean(name, found)
    told = pd.Timestamp.now("UTC") - found.provenance.retrieved
    assert abs(told - age * HOUR) < HOUR / 6
    note = found.provenance.notes[-1]
    assert "\n" not in note
    assert KEY not in note
    assert f"{age:.1f} h old" in note
    if failure.status != 200:
        assert str(failure.status) in note
    assert_no_new_go(name, found)


@every_service
@pytest.mark.usefixtures("kept")
def test_what_is_too_old_does_not_stand_in(service, settings, server):
    let_age(settings, TOO_OLD_H.get(service.module.NAME, 8))
    server.fail(service.path, Reply(500), always=True)
    text = refusal(service, settings)
    assert "is too old to stand in" in text
    assert "500" in text


@every_service
@pytest.mark.usefixtures("kept")
def test_stale_answer_gives_way_to_a_new_one(service, settings, server):
    let_age(settings, STALE_H.get(service.module.NAME, 3))
    server.fail(service.path, Reply(500), always=True)
    assert ask(service, settings).provenance.stale
    server.heal()
    found = ask(service, settings)
    assert not found.provenance.stale
    assert found.provenance.retrieved > pd.Timestamp.now("UTC") - HOUR / 6


@every_service
def test_offline_takes_what_is_kept_and_asks_for_nothing(service, settings, server):
    nobody = settings.model_copy(update={"contact": None})
    assert "--offline forbids to ask" in refusal(service, nobody, offline=True)
    assert server.asked == []
    ask(service, settings)
    asked = len(server.asked)
    found = ask(service, nobody, offline=True)
    assert not found.provenance.stale
    stale = STALE_H.get(service.module.NAME, 3)
    let_age(settings, stale)
    found = ask(service, nobody, offline=True)
    assert found.provenance.stale
    assert "--offline" in found.provenance.notes[-1]
    let_age(settings, TOO_OLD_H.get(service.module.NAME, 8) - stale)
    assert "too old" in refusal(service, nobody, offline=True)
    assert len(server.asked) == asked


@every_service
@pytest.mark.parametrize("dated", [False, True], ids=["no Last-Modified", "Last-Modified"])
def test_refresh_asks_again(dated, service, settings, server):
    if dated:
        server.give(
            service.path, service.body, Last_Modified=loopback.http_date(pd.Timestamp.now("UTC"))
        )
    ask(service, settings)
    let_age(settings, 0.2)
    asked = server.count(service.path)
    found = ask(service, settings, refresh=True)
    assert server.count(service.path) == asked + 1
    assert not found.provenance.stale
    assert_as_clean(service.module.NAME, found)


@every_service
@pytest.mark.usefixtures("kept")
def test_refresh_that_fails_says_so(service, settings, server):
    let_age(settings, 0.2)
    server.fail(service.path, Reply(500), always=True)
    told = notes_or_refusal(service, settings, refresh=True)
    assert "500" in told


@every_service
def test_answer_that_has_not_changed_counts_as_new(service, settings, server):
    moment = pd.Timestamp.now("UTC")
    server.give(
        service.path, service.body, Last_Modified=loopback.http_date(moment - 2 * HOUR),
        Expires=loopback.http_date(moment + HOUR),
    )  # fmt: skip
    first = ask(service, settings)
    let_age(settings, STALE_H.get(service.module.NAME, 3))
    sent = server.asked[-1]
    assert "if-modified-since" not in sent.headers
    second = ask(service, settings)
    assert "if-modified-since" in server.asked[-1].headers
    assert not second.provenance.stale
    pd.testing.assert_frame_equal(first.frame, second.frame)
    asked = server.count(service.path)
    third = ask(service, settings)
    assert server.count(service.path) == asked
    assert not third.provenance.stale


@pytest.mark.parametrize("name", FORECASTS)
@pytest.mark.parametrize(
    "headers",
    [
        {"Cache_Control": "public, max-age=31536000"},
        {"Cache_Control": "public, immutable"},
        {"Expires": "Fri, 01 Jan 2100 00:00:00 GMT"},
    ],
)
def test_service_cannot_make_a_forecast_new_for_ever(name, headers, settings, server):
    server.give(SERVICES[name].path, SERVICES[name].body, **headers)
    ask(SERVICES[name], settings)
    kept = SQLiteCache(settings.cache_dir / CACHE, serializer="json")
    try:
        for key in list(kept.responses):
            response = kept.responses[key]
            response.created_at -= timedelta(hours=30)
            kept.responses[key] = response
    finally:
        kept.close()
    server.fail(SERVICES[name].path, Reply(500), always=True)
    assert "30.0 h old" in (told := notes_or_refusal(SERVICES[name], settings)) or "too old" in told


@pytest.mark.exhaustive(every=3)  # of each service and each header
@pytest.mark.parametrize(
    "headers", [{"Expires": "0"}, {"Expires": "soon"}, {"Cache_Control": "no-store"}, {"Vary": "*"}]
)
@every_service
def test_header_about_keeping_is_no_fault(service, headers, settings, server):
    server.give(service.path, service.body, **headers)
    assert_as_clean(service.module.NAME, ask(service, settings))
    assert_as_clean(service.module.NAME, ask(service, settings))


# --- Meteostat: years and stations -----------------------------------------------------------


def test_year_that_is_not_there_is_told_by_its_status(settings, server):
    del server.answers[YEAR_FILE]
    with session(settings) as web, pytest.raises(SourceError) as caught:
        SERVICES["meteostat"].ask(web)
    assert caught.value.status == 404
    sentence(caught.value)


def test_nearest_station_with_records(settings, server):
    near, far = ("99002", 46.72, -92.03, "2024-01-01"), (STATION, 46.9, -92.1, "2000-01-01")
    server.give(STATIONS, loopback.stations(far, near, ("99003", 40.0, -83.0, "1990-01-01")))
    with session(settings) as web:
        assert meteostat.nearest_station(web, SITE, 2024)[0] == "99002"
        name, place = meteostat.nearest_station(web, SITE, 2010)
    assert (name, place.name, place.latitude) == (STATION, "INVENTED", 46.9)
    assert server.count(STATIONS) == 1


@pytest.mark.parametrize(
    "body",
    [
        loopback.stations(), loopback.stations(("99003", 40.0, -83.0, "1990-01-01")),
        loopback.stations((STATION, 46.8, -92.1, "2020-01-01")), page().body, b"",
        loopback.stations((STATION, 46.8, -92.1, "2000-01-01"))[:5000],
        b"SQLite format 3\0" + bytes(4000),
    ],
    ids=["no station", "far away", "too young", "web page", "nothing", "cut", "damaged"],
)  # fmt: skip
def test_no_station(body, settings, server):
    server.give(STATIONS, body)
    with session(settings) as web, pytest.raises(SourceError) as caught:
        meteostat.nearest_station(web, SITE, 2010)
    sentence(caught.value)


def test_faults_are_many():
    assert len(ON_THE_WAY) + len(FAILURES) + len(BODIES) > 40


def test_table_of_another_week_has_other_hours():
    other = replace(clean("nws"), frame=clean("nws").frame.assign(rain_mm=np.nan))
    assert goes(other) == set()

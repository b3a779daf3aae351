"""The session with weather services: what is kept, who asks, and that no key gets out."""

import logging
import pickle
import sqlite3
import traceback
from contextlib import contextmanager
from datetime import timedelta

import loopback
import pytest
from loopback import Reply, reason, session
from requests_cache import SQLiteCache

from windows.answer import Kept
from windows.errors import DewgapError, HoursError, SettingsError, SourceError
from windows.settings import Settings, load_settings, settings_path
from windows.web import Web
from windows.web_session import clear_cache

pytestmark = pytest.mark.usefixtures("waits")
KEY = "k3yThatNobodyMaySee"
PLACE = "/v1/forecast"
HOURS = Kept(timedelta(hours=1), timedelta(hours=6))
GOOD = b'{"weather": "fine"}'


@pytest.fixture
def server():
    with loopback.serving() as found:
        found.give(PLACE, GOOD)
        yield found


@pytest.fixture
def settings(server, tmp_path):
    return Settings(
        contact="tests@example.org", cache_dir=tmp_path / "cache", timeout_s=5, open_meteo_key=KEY
    )


def fine(body):
    """Accept one body only."""
    if body != GOOD:
        raise HoursError("the weather is not fine")


def get(web, server, *, path=PLACE, check=fine, kept=HOURS, **options):
    params = {"latitude": "1", "longitude": "2", "hourly": "all", "apikey": KEY}
    return web.get(
        "Open-Meteo", server.url + path, kept=kept, check=check, params=params, **options
    )


def refusal(web, server, **options):
    with pytest.raises(DewgapError) as caught:
        get(web, server, **options)
    return sentence(caught.value)


def sentence(fault):
    text = str(fault)
    assert text
    assert "\n" not in text
    assert KEY not in text + repr(fault) + "".join(traceback.format_exception(fault))
    return text


@contextmanager
def kept_by(settings):
    cache = SQLiteCache(settings.cache_dir / "http.sqlite", serializer="json")
    try:
        yield cache.responses
    finally:
        cache.close()


def let_age(settings, hours):
    """Make all that is kept so many hours older."""
    with kept_by(settings) as responses:
        for key in list(responses):
            response = responses[key]
            response.created_at -= timedelta(hours=hours)
            response.expires -= timedelta(hours=hours)
            responses[key] = response


def cache_bytes(settings):
    return b"".join(path.read_bytes() for path in settings.cache_dir.rglob("*") if path.is_file())


# --- what is kept ----------------------------------------------------------------------------


def test_answer_and_what_is_told_of_it(settings, server):
    with session(settings) as web:
        found = get(web, server)
    assert found.content == GOOD
    assert found.place == server.url.removeprefix("http://") + PLACE
    assert (found.stale, found.from_cache, found.notes) == (False, False, ())


def test_answer_has_what_its_check_made_of_the_body(settings, server):
    params = {"latitude": "1", "longitude": "2", "hourly": "all"}
    for _ in range(2):  # new, and from the cache
        with session(settings) as web:
            found = web.get(
                "Open-Meteo", server.url + PLACE, kept=HOURS, check=len, params=params
            )
        assert found.checked == len(found.content)


def test_kept_answer_makes_no_request(settings, server):
    for number in range(3):
        with session(settings) as web:
            assert get(web, server).from_cache == (number > 0)
    assert server.count(PLACE) == 1


def test_key_does_not_divide_the_cache(settings, server):
    with session(settings) as web:
        get(web, server)
        params = {"latitude": "1", "longitude": "2", "hourly": "all", "apikey": "another"}
        again = web.get("Open-Meteo", server.url + PLACE, kept=HOURS, check=fine, params=params)
    assert again.from_cache


def test_other_places_are_kept_apart(settings, server):
    server.give("/v1/archive", GOOD)
    with session(settings) as web:
        get(web, server)
        assert not get(web, server, path="/v1/archive").from_cache
        other = {"latitude": "1.0001", "longitude": "2", "hourly": "all"}
        found = web.get("Open-Meteo", server.url + PLACE, kept=HOURS, check=fine, params=other)
    assert not found.from_cache


@pytest.mark.parametrize(("hours", "requests"), [(0.9, 1), (1.1, 2)])
def test_answer_counts_as_new_for_its_time(hours, requests, settings, server):
    with session(settings) as web:
        get(web, server)
    let_age(settings, hours)
    with session(settings) as web:
        assert not get(web, server).stale
    assert server.count(PLACE) == requests


@pytest.mark.parametrize(("hours", "stands"), [(1.1, True), (6.9, True), (7.1, False), (99, False)])
def test_answer_stands_in_for_its_time(hours, stands, settings, server):
    with session(settings) as web:
        get(web, server)
    let_age(settings, hours)
    server.fail(PLACE, Reply(500), always=True)
    with session(settings) as web:
        if stands:
            found = get(web, server)
            assert (found.content, found.stale, found.from_cache) == (GOOD, True, True)
            assert f"{hours:.1f} h old" in found.notes[0]
            assert "status 500" in found.notes[0]
        else:
            assert "too old to stand in" in refusal(web, server)


@pytest.mark.parametrize(
    "reply",
    [
        Reply(body=b'{"weather": "foul"}'), Reply(), loopback.page(), Reply(body=GOOD, cut=3),
        Reply(500), Reply(404), Reply(204), Reply(203, GOOD), Reply(body=GOOD[:-1]),
    ],
)  # fmt: skip
def test_bad_body_never_replaces_a_good_one(reply, settings, server):
    with session(settings) as web:
        get(web, server)
    let_age(settings, 2)
    server.fail(PLACE, reply, always=True)
    for _ in range(2):
        with session(settings) as web:
            found = get(web, server)
        assert (found.content, found.stale) == (GOOD, True)
    with session(settings, refresh=True) as web:
        assert get(web, server).content == GOOD
    server.heal()
    with session(settings) as web:
        assert not get(web, server).stale


@pytest.mark.parametrize("reply", [Reply(body=b"foul"), Reply(), loopback.page(), Reply(500)])
def test_bad_body_is_not_kept(reply, settings, server):
    server.fail(PLACE, reply, always=True)
    with session(settings) as web:
        refusal(web, server)
        assert web.entries() == []
    with session(settings, offline=True) as web:
        assert "--offline forbids to ask" in refusal(web, server)


@pytest.mark.parametrize("fault", [ValueError("a\nb"), KeyError("a"), OverflowError("a")])
def test_check_that_fails_by_itself_does_not_blame_the_cache(fault, settings, server):
    def check(body):
        raise fault

    with session(settings) as web:
        assert "cache is damaged" not in refusal(web, server, check=check)
        assert web.entries() == []


def test_entries_tell_no_parameters_and_clear_forgets(settings, server):
    server.give("/v1/archive", GOOD)
    with session(settings) as web:
        assert web.entries() == []
        get(web, server)
    let_age(settings, 2)
    with session(settings) as web:
        get(web, server, path="/v1/archive")
        entries = sorted((place, size, old) for place, size, _, old in web.entries())
        host = server.url.removeprefix("http://")
        assert entries == [
            (f"{host}/v1/archive", len(GOOD), False), (f"{host}{PLACE}", len(GOOD), True)
        ]  # fmt: skip
        assert KEY not in repr(web.entries())
    clear_cache(settings)
    with session(settings) as web:
        assert web.entries() == []
        assert not get(web, server).from_cache
    assert server.count(PLACE) == 2


# --- the cache file --------------------------------------------------------------------------


class Bomb:
    """Something that leaves a trace when it is unpickled."""

    def __reduce__(self):
        return (exec, ("raise SystemExit('a planted file was run')",))


def stored(settings):
    connection = sqlite3.connect(settings.cache_dir / "http.sqlite")
    try:
        return [value for (value,) in connection.execute("SELECT value FROM responses")]
    finally:
        connection.close()


def plant(settings, value):
    connection = sqlite3.connect(settings.cache_dir / "http.sqlite")
    try:
        connection.execute("UPDATE responses SET value = ?", (value,))
        connection.commit()
    finally:
        connection.close()


def test_cache_is_a_database_of_json(settings, server):
    with session(settings) as web:
        get(web, server)
    (value,) = stored(settings)
    text = value if isinstance(value, str) else value.decode()
    assert text.startswith("{")
    assert (settings.cache_dir / "http.sqlite").read_bytes().startswith(b"SQLite format 3\0")


PLANTED = {
    "pickle": pickle.dumps(Bomb()),
    "no JSON": "{",
    "empty": "",
    "null": "null",
    "list": "[1]",
    "empty object": "{}",
    "bytes": b"\xff\xfe\x00",
    "old format": '{"url": 1, "content": {}}',
}


@pytest.mark.parametrize("planted", PLANTED.values(), ids=PLANTED)
def test_damaged_entry_is_asked_for_again_or_told(planted, settings, server):
    with session(settings) as web:
        get(web, server)
    plant(settings, planted)
    with session(settings) as web:
        try:
            assert get(web, server).content == GOOD
        except DewgapError as fault:
            told = str(fault)
        else:
            told = ""
        assert "\n" not in told
        assert not told or "cache --clear" in told


@pytest.mark.parametrize("planted", PLANTED.values(), ids=PLANTED)
def test_damaged_entry_can_be_listed_and_cleared(planted, settings, server):
    with session(settings) as web:
        get(web, server)
    plant(settings, planted)
    with session(settings) as web:
        try:
            web.entries()
        except DewgapError as fault:
            told = str(fault)
        else:
            told = "cache --clear"
        assert "cache --clear" in told
    clear_cache(settings)
    with session(settings) as web:
        assert not get(web, server).from_cache


@pytest.mark.parametrize(
    "content", [b"no database", b"SQLite format 3\0" + bytes(5000), b"x" * 9999]
)
def test_damaged_cache_file_is_told_in_one_sentence(content, settings):
    settings.cache_dir.mkdir()
    (settings.cache_dir / "http.sqlite").write_bytes(content)
    with pytest.raises(SettingsError) as caught:
        Web(settings)
    text = sentence(caught.value)
    assert str(settings.cache_dir) in text
    assert "--cache-dir" in text


def test_damaged_cache_can_be_cleared(settings, server):
    settings.cache_dir.mkdir()
    (settings.cache_dir / "http.sqlite").write_bytes(b"no database")
    clear_cache(settings)
    with session(settings) as web:
        assert not get(web, server).from_cache


def test_clearing_what_is_not_there_is_no_fault(settings):
    clear_cache(settings)
    assert not settings.cache_dir.exists()


def test_clearing_leaves_other_files(settings, server):
    with session(settings) as web:
        get(web, server)
    (settings.cache_dir / "notes.txt").write_text("mine")
    clear_cache(settings)
    assert [path.name for path in settings.cache_dir.iterdir()] == ["notes.txt"]


def test_cache_file_cut_short_is_told_or_begun_anew(settings, server):
    with session(settings) as web:
        get(web, server)
    path = settings.cache_dir / "http.sqlite"
    path.write_bytes(path.read_bytes()[:5000])
    told = ""
    try:
        with session(settings) as web:
            assert get(web, server).content == GOOD
    except DewgapError as fault:
        told = sentence(fault)
    assert not told or str(settings.cache_dir) in told


@pytest.mark.parametrize("name", ["file", "file/below", "folder/http.sqlite"])
def test_folder_that_cannot_be_used_is_told_in_one_sentence(name, settings, tmp_path):
    (tmp_path / "file").write_text("")
    (tmp_path / "folder" / "http.sqlite").mkdir(parents=True)
    folder = tmp_path / name.removesuffix("/http.sqlite")
    with pytest.raises(SettingsError) as caught:
        Web(settings.model_copy(update={"cache_dir": folder}))
    text = sentence(caught.value)
    assert str(folder) in text
    assert "--cache-dir" in text


def test_folders_above_the_cache_are_made(settings, server, tmp_path):
    deep = settings.model_copy(update={"cache_dir": tmp_path / "a" / "b" / "c"})
    with session(deep) as web:
        get(web, server)
    assert (tmp_path / "a" / "b" / "c" / "http.sqlite").is_file()


# --- who asks, and the key -------------------------------------------------------------------


def test_who_asks(settings, server):
    nobody = settings.model_copy(update={"contact": None})
    with session(settings) as web, session(nobody, refresh=True) as other:
        get(web, server, contact=True)
        with pytest.raises(SettingsError) as caught:
            get(other, server, contact=True)
    assert "DEWGAP_CONTACT" in sentence(caught.value)
    (asked,) = server.asked
    agent = asked.headers["user-agent"]
    assert agent.startswith("dewgap/")
    assert agent.endswith(" (tests@example.org)")


@pytest.fixture
def every_record(caplog):
    """Return a function that turns every logger to its most talkative, and restores them after."""
    before = {}

    def talk():
        caplog.set_level(logging.DEBUG)
        for name in list(logging.root.manager.loggerDict):
            logger = logging.getLogger(name)
            before.setdefault(logger, (logger.level, logger.disabled))
            logger.setLevel(logging.DEBUG)
            logger.disabled = False

    yield talk
    for logger, (level, disabled) in before.items():
        logger.setLevel(level)
        logger.disabled = disabled


def echo(status):
    return reason(status, f"bad address {PLACE}?latitude=1&apikey={KEY}&hourly=all")


ECHOES = {
    "good": (),
    "overloaded": (Reply(500),) * 9,
    "wait a second": (Reply(429, headers={"Retry-After": "1"}),) * 9,
    "wait 2 h": (Reply(503, headers={"Retry-After": "7200"}),) * 9,
    "hangs": (Reply(delay_s=30),) * 9,
    "broken off": (Reply(body=GOOD, cut=2),) * 9,
    "key in the reason": (echo(400),) * 9,
    "key in a right answer": (echo(200),) * 9,
    "circle": (Reply(302, headers={"Location": f"{PLACE}?apikey={KEY}"}),) * 40,
    "moved": (
        Reply(301, headers={"Location": f"{PLACE}?latitude=1&longitude=2&hourly=3&apikey={KEY}"}),
    ),
    "no compression": (Reply(body=b"x", headers={"Content-Encoding": "gzip"}),) * 9,
    "wait in words": (Reply(429, headers={"Retry-After": f"apikey={KEY}"}),) * 9,
    "header": (Reply(body=GOOD, headers={"Content-Location": f"{PLACE}?apikey={KEY}"}),),
}


@pytest.mark.parametrize("kept", [False, True], ids=["nothing kept", "stale answer kept"])
@pytest.mark.parametrize("replies", ECHOES.values(), ids=ECHOES)
def test_key_gets_nowhere(replies, kept, settings, server, caplog, every_record):
    hurried = settings.model_copy(
        update={"timeout_s": 0.1 if replies and replies[0].delay_s else 5}
    )
    told = []
    if kept:
        with session(settings) as web:
            get(web, server)
        let_age(settings, 2)
    server.fail(PLACE, *replies)
    with session(hurried) as web:
        every_record()
        try:
            told.append(repr(get(web, server)))
        except DewgapError as fault:
            told += [sentence(fault)]
        told += [repr(web), repr(vars(web)), repr(web.entries()), repr(settings), str(settings)]
    assert server.asked[0].query["apikey"] == KEY, "the service itself needs it"
    form = logging.Formatter("%(name)s %(message)s")
    for text in (*told, *(form.format(record) for record in caplog.records)):
        assert KEY not in text
    assert KEY.encode() not in cache_bytes(settings)


def test_faults_are_told_once_and_not_logged(settings, server, caplog):
    with session(settings) as web:
        get(web, server)
    let_age(settings, 2)
    server.fail(PLACE, Reply(500), always=True)
    with session(settings) as web:
        assert get(web, server).stale
    assert [record for record in caplog.records if record.levelno >= logging.WARNING] == []


# --- settings --------------------------------------------------------------------------------


@pytest.fixture
def settings_file(tmp_path, monkeypatch):
    """Return a function that writes the settings file and reads the settings."""
    for name in [*Settings.model_fields, "settings"]:
        monkeypatch.delenv(f"DEWGAP_{name.upper()}", raising=False)
    path = tmp_path / "settings.toml"
    monkeypatch.setenv("DEWGAP_SETTINGS", str(path))

    def read(text=None):
        path.write_text("# nothing\n" if text is None else text, encoding="utf-8")
        return load_settings()

    return read


def settings_fault(read, text=None):
    with pytest.raises(SettingsError) as caught:
        read(text)
    return sentence(caught.value)


def test_settings_without_a_file_are_the_published_addresses(monkeypatch, tmp_path):
    for name in [*Settings.model_fields, "settings"]:
        monkeypatch.delenv(f"DEWGAP_{name.upper()}", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    found = load_settings()
    assert found.nws_url == "https://api.weather.gov"
    assert (found.contact, found.open_meteo_key) == (None, None)


def test_settings_come_from_the_file_and_variables_win(settings_file, monkeypatch, tmp_path):
    text = (
        f'contact = "a@b.org"\ntimeout_s = 9\nopen_meteo_key = "{KEY}"\nnws_url = "http://h:1/x/"'
    )
    found = settings_file(text)
    assert (found.contact, found.timeout_s, found.nws_url) == ("a@b.org", 9, "http://h:1/x")
    assert found.open_meteo_key.get_secret_value() == KEY
    assert KEY not in repr(found) + str(found) + repr(found.model_dump())
    monkeypatch.setenv("DEWGAP_CONTACT", " https://b.org/me ")
    monkeypatch.setenv("DEWGAP_TIMEOUT_S", "0.5")
    monkeypatch.setenv("DEWGAP_OPEN_METEO_KEY", "another")
    monkeypatch.setenv("DEWGAP_CACHE_DIR", str(tmp_path / "kept"))
    found = settings_file(text)
    assert (found.contact, found.timeout_s) == ("https://b.org/me", 0.5)
    assert found.open_meteo_key.get_secret_value() == "another"
    assert found.cache_dir == tmp_path / "kept"
    assert load_settings(tmp_path / "other").cache_dir == tmp_path / "other"
    assert settings_path() == tmp_path / "settings.toml"


BAD_SETTINGS = {
    "contact": ['contact = "me"', 'contact = ""', "contact = 3", 'contact = "a@b\\nX: y"',
                'contact = "ä@b.org"'],
    "timeout_s": ["timeout_s = 0", "timeout_s = -1", "timeout_s = 301", 'timeout_s = "soon"',
                  "timeout_s = nan", "timeout_s = inf", "timeout_s = []"],
    "nws_url": ['nws_url = "api.weather.gov"', 'nws_url = "ftp://a/b"', 'nws_url = "https://"',
                'nws_url = "https://h:port/"', 'nws_url = "https://a/?q=1"', "nws_url = 1",
                'nws_url = "file:///etc/passwd"', 'nws_url = "https://[::1/"'],
    "nws_ulr": ['nws_ulr = "https://a"'],
    "cache_dir": ["cache_dir = 3"],
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text"), [(name, text) for name, texts in BAD_SETTINGS.items() for text in texts]
)
def test_bad_setting_is_one_clear_sentence(name, text, settings_file):
    told = settings_fault(settings_file, text)
    assert f"'{name}'" in told
    assert "settings.toml" in told


@pytest.mark.parametrize(
    "text", ["contact = ", "[", "", "contact = 'a@b.org'\ncontact = 'c@d.org'"]
)
def test_broken_settings_file_is_one_clear_sentence(text, settings_file):
    assert "settings.toml" in settings_fault(settings_file, text)


def test_settings_file_that_is_named_must_be_there(settings_file, monkeypatch, tmp_path):
    monkeypatch.setenv("DEWGAP_SETTINGS", str(tmp_path / "nowhere.toml"))
    assert "nowhere.toml: no such file" in settings_fault(settings_file)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("CONTACT", "me"), ("CONTACT", "a@b.org\nHost: x"), ("TIMEOUT_S", "soon"),
        ("TIMEOUT_S", "nan"), ("TIMEOUT_S", "0"), ("NWS_URL", "weather"),
        ("OPEN_METEO_KEY", "two words"), ("OPEN_METEO_KEY", "k\ney"),
    ],
)  # fmt: skip
def test_bad_variable_is_one_clear_sentence(name, value, settings_file, monkeypatch):
    monkeypatch.setenv(f"DEWGAP_{name}", value)
    told = settings_fault(settings_file)
    assert f"'{name.lower()}'" in told
    assert "DEWGAP_" in told


@pytest.mark.parametrize(
    "text",
    [
        f'open_meteo_key = "{KEY} {KEY}"', f'open_meteo_key = ["{KEY}"]', 'open_meteo_key = ""',
        f'open_meteo_key = {{ is = "{KEY}" }}', f'open_meteo_key = "{KEY}ä"',
        f"open_meteo_key = {KEY}", f'open_meteo_key = "{KEY}', f'"{KEY}"',
        f'open_meteo_url = "https://h/v1?apikey={KEY}"', f'open_meteo_url = "https://u:{KEY}@h/v1"',
        f'open_meteo_url = "https://u:{KEY}@h/v1?q=1"',
    ],
)  # fmt: skip
def test_bad_setting_does_not_show_the_key(text, settings_file):
    settings_fault(settings_file, text)


def test_key_of_digits_is_not_shown(settings_file):
    with pytest.raises(SettingsError) as caught:
        settings_file("open_meteo_key = 987654321987")
    assert "987654321987" not in str(caught.value)
    assert "open_meteo_key" in str(caught.value)


def test_error_of_a_source_has_its_status(settings, server):
    server.fail(PLACE, reason(400, "no"))
    with session(settings) as web, pytest.raises(SourceError) as caught:
        get(web, server)
    assert caught.value.status == 400

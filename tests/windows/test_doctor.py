"""``dewgap doctor``: every check, well and at fault, on this machine and against a small server."""

import json
import shlex
import socket
import sqlite3
import threading
import time
from contextlib import closing, contextmanager, suppress
from zoneinfo import ZoneInfoNotFoundError

import loopback
import pytest

from windows import doctor
from windows.finding import State
from windows.reachable import services
from windows.settings import Settings

ASKED = {
    "nws": "/points/40.0000,-83.0000", "open_meteo": "/v1/forecast",
    "open_meteo_ensemble": "/v1/ensemble", "met_norway": "/norway/complete",
    "open_meteo_archive": "/v1/archive", "meteostat": "/stations.db",
}  # fmt: skip


@pytest.fixture
def server():
    """A server on which every service answers."""
    with loopback.serving() as found:
        for path in ASKED.values():
            found.give(path, b"{}")
        yield found


def addresses(url):
    return {
        "nws_url": url, "met_norway_url": f"{url}/norway", "open_meteo_url": f"{url}/v1",
        "open_meteo_ensemble_url": f"{url}/v1", "open_meteo_archive_url": f"{url}/v1",
        "meteostat_url": url,
    }  # fmt: skip


@pytest.fixture
def at_home(monkeypatch, tmp_path):
    """Settings of nobody, and a cache of its own."""
    monkeypatch.setenv("DEWGAP_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("DEWGAP_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.delenv("DEWGAP_CONTACT", raising=False)
    (tmp_path / "settings.toml").write_text("timeout_s = 5\n")
    return tmp_path


def by_name(found):
    return {each.what: each for each in found}


def test_all_is_well_where_all_is_well(server, at_home):
    told = Settings(contact="office@example.org", **addresses(server.url))
    found = by_name(services(told))
    assert {name: each.state for name, each in found.items()} == {
        f"service {name}": State.OK for name in ASKED
    }
    assert {each.path for each in server.asked} == set(ASKED.values())
    agents = {each.headers["user-agent"] for each in server.asked}
    assert all("(office@example.org)" in agent for agent in agents)


def test_a_service_that_refuses_is_told_with_what_to_do(server, at_home):
    server.fail(ASKED["open_meteo"], loopback.reason(429, "slow down"), always=True)
    server.fail(ASKED["meteostat"], loopback.Reply(503), always=True)
    server.fail(ASKED["nws"], loopback.problem(403, "Forbidden", "no"), always=True)
    found = by_name(services(Settings(contact="a@b.org", **addresses(server.url))))
    told = {name: (each.told, each.mend) for name, each in found.items()}
    assert told["service open_meteo"] == (
        "refuses: HTTP 429", "it was asked too often: wait an hour"
    )  # fmt: skip
    assert "try again later" in told["service meteostat"][1]
    assert "contact" in told["service nws"][1]
    assert {each.state for each in found.values()} == {State.OK, State.LOOK}


def test_without_a_contact_those_that_want_one_are_not_asked(server, at_home):
    found = by_name(services(Settings(**addresses(server.url))))
    assert found["service nws"].mend == "set DEWGAP_CONTACT"
    assert not server.count(ASKED["nws"])
    assert not server.count(ASKED["met_norway"])


def test_a_machine_without_network_is_told_so_once_and_is_no_fault(at_home):
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{closed.getsockname()[1]}"
    (found,) = services(Settings(**addresses(url)))
    assert found.state is State.LOOK
    assert found.told == "no answer: only files and what was fetched before can be used"


def test_a_service_that_is_silent_is_not_waited_for(server, at_home):
    server.fail(ASKED["meteostat"], loopback.Reply(delay_s=1.5), always=True)
    found = by_name(services(Settings(**addresses(server.url)), timeout_s=0.3))
    assert found["service meteostat"].state is State.LOOK
    assert found["service open_meteo"].state is State.OK


@contextmanager
def dripping():
    """A server that sends a header every 0.1 s and never ends; gives its address."""
    over = threading.Event()

    def drip(caller):
        with caller, suppress(OSError):
            caller.sendall(b"HTTP/1.1 200 OK\r\n")
            while not over.wait(0.1):
                caller.sendall(b"X-More: 1\r\n")

    def answer(server):
        while True:
            try:
                caller, _ = server.accept()
            except OSError:
                return
            threading.Thread(target=drip, args=(caller,), daemon=True).start()

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=answer, args=(server,), daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.getsockname()[1]}"
        finally:
            over.set()
            server.shutdown(socket.SHUT_RDWR)
            thread.join()


def test_a_service_that_drips_holds_nothing_up(server, at_home):
    with dripping() as slow:
        began = time.monotonic()
        told = Settings(**addresses(server.url) | {"meteostat_url": slow})
        found = by_name(services(told, timeout_s=0.5))
        assert time.monotonic() - began < 5
    assert found["service meteostat"].state is State.LOOK
    assert found["service meteostat"].told == "no whole answer in time"
    assert found["service open_meteo"].state is State.OK


@pytest.mark.parametrize("host", ["a" * 64 + ".example.org", "a..b"])
def test_an_address_that_no_library_can_read_is_one_finding(server, at_home, host):
    told = Settings(**addresses(server.url) | {"meteostat_url": f"http://{host}/x"})
    found = by_name(services(told))
    bad = found.pop("service meteostat")
    assert bad.state is State.LOOK
    assert "address in the settings" in bad.mend
    assert found["service open_meteo"].state is State.OK


def test_a_host_with_a_label_too_long_is_told_by_its_name(at_home):
    host = "a" * 64 + ".example.org"
    told = Settings(**addresses(f"http://{host}"))
    found = by_name(services(told))
    assert found["service meteostat"].told.startswith(f"cannot be asked at {host} (")


def test_the_key_goes_to_its_service_and_is_never_shown(server, at_home, monkeypatch):
    monkeypatch.setenv("DEWGAP_OPEN_METEO_KEY", "s3cret")
    settings, told = doctor.settings_told()
    found = services(settings.model_copy(update=addresses(server.url)))
    assert by_name(told)["open_meteo_key"].told == "set (not shown)"
    assert {each.query.get("apikey") for each in server.asked} == {"s3cret", None}
    assert "s3cret" not in repr((told, found))


def test_a_broken_settings_file_is_a_fault_and_hides_nothing_else(at_home):
    (at_home / "settings.toml").write_text("contakt = 'a@b.org'\n")
    found = by_name(doctor.examine(network=False))
    assert found["settings"].state is State.FAULT
    assert "did you mean 'contact'?" in found["settings"].told
    assert "settings.toml" in found["settings"].mend
    assert found["this folder"].state is State.OK


def test_a_cache_that_cannot_be_written_is_a_fault(tmp_path):
    (tmp_path / "file").write_text("")
    found = doctor.cache_folder(tmp_path / "file" / "cache")
    assert found.state is State.FAULT
    assert "cannot be written" in found.told
    assert "--cache-dir" in found.mend


def test_the_cache_tells_its_size(tmp_path):
    with closing(sqlite3.connect(tmp_path / "http.sqlite")) as answers, answers:
        answers.execute("CREATE TABLE responses (value)")
        answers.execute("INSERT INTO responses VALUES (zeroblob(2500000))")
    (tmp_path / "notes.txt").write_bytes(b"x" * 9_000_000)  # of somebody else
    found = doctor.cache_folder(tmp_path)
    assert found.state is State.OK
    assert "2.5 MB" in found.told


def test_a_cache_that_is_not_there_yet_is_well_and_is_not_made(tmp_path):
    assert doctor.cache_folder(tmp_path / "a" / "cache").state is State.OK
    assert not (tmp_path / "a").exists()


def test_a_damaged_cache_is_a_fault_that_the_command_beside_it_mends(dewgap, at_home):
    cache = at_home / "my cache"
    cache.mkdir()
    (cache / "http.sqlite").write_bytes(b"no database at all, " * 500)
    found = doctor.cache_folder(cache)
    assert found.state is State.FAULT
    assert "is damaged (file is not a database)" in found.told
    command = found.mend.removeprefix("run: dewgap ")
    assert command == f"weather cache --clear --cache-dir '{cache}'"
    assert dewgap(*shlex.split(command))[0] == 0
    assert doctor.cache_folder(cache).state is State.OK


def test_a_cache_with_a_damaged_page_is_a_fault(tmp_path):
    path = tmp_path / "http.sqlite"
    with closing(sqlite3.connect(path)) as answers, answers:
        answers.execute("CREATE TABLE responses (value)")
        answers.executemany("INSERT INTO responses VALUES (?)", [("x" * 900,)] * 50)
    content = bytearray(path.read_bytes())
    content[4096:8192] = b"\xff" * 4096
    path.write_bytes(content)
    found = doctor.cache_folder(tmp_path)
    assert found.state is State.FAULT
    assert "\n" not in found.told


def test_a_folder_that_cannot_be_written_is_only_to_be_looked_at(tmp_path):
    assert doctor.here(tmp_path / "gone").state is State.LOOK
    assert doctor.here(tmp_path).state is State.OK


def refuse(*_):
    raise ZoneInfoNotFoundError("none")


def test_no_zone_data_is_a_fault(monkeypatch):
    monkeypatch.setattr(doctor, "ZoneInfo", refuse)
    (found,) = doctor.zones()
    assert found.state is State.FAULT
    assert "tzdata" in found.mend


def test_zones_are_known_here():
    (found,) = doctor.zones()
    assert found.state is State.OK


def test_an_old_or_missing_library_is_a_fault(monkeypatch):
    have = {"dewgap": "1.0", "numpy": "1.25.9", "pandas": "2.10.0rc1"}
    wanted = ({"numpy": "1.26", "pandas": "2.3", "rich": "13.7"}, ["dask"])
    monkeypatch.setattr(doctor, "_installed", have.get)
    monkeypatch.setattr(doctor, "_requirements", lambda: wanted)
    found = by_name(doctor.libraries())
    assert found["numpy"].state is State.FAULT
    assert found["numpy"].mend == "run: python -m pip install --upgrade 'numpy>=1.26'"
    assert found["rich"].told == "is not installed"
    assert found["libraries"].told == "pandas 2.10.0rc1"
    assert found["extra cluster"].state is State.OK
    assert "dask" in found["extra cluster"].told


def test_an_old_sqlite_is_a_fault(monkeypatch):
    monkeypatch.setattr(doctor.sqlite3, "sqlite_version_info", (3, 7, 17))
    monkeypatch.setattr(doctor.sqlite3, "sqlite_version", "3.7.17")
    found = by_name(doctor.examine(network=False))
    assert found["SQLite"].state is State.FAULT


@pytest.mark.parametrize(
    ("encoding", "state"),
    [("utf-8", State.OK), ("UTF8", State.OK), ("cp1252", State.LOOK), (None, State.LOOK)],
)
def test_an_output_that_lacks_signs_is_told(encoding, state):
    assert doctor.terminal(encoding).state is state


# --- the command -------------------------------------------------------------------------------


def test_the_command_ends_with_0_where_nothing_needed_is_broken(dewgap, at_home):
    status, out, err = dewgap("doctor", "--no-network")
    assert (status, err) == (0, "")
    assert "LOOK   contact: not set" in out
    assert "service" not in out


def test_the_command_ends_with_1_at_a_fault_and_tells_the_same_as_json(dewgap, at_home):
    (at_home / "cache").write_text("a file")
    status, out, err = dewgap("doctor", "--no-network")
    assert (status, err) == (1, "")
    assert "FAULT  cache: " in out
    status, out, _ = dewgap("doctor", "--no-network", "--json", "--quiet")
    told = json.loads(out)
    assert status == 1
    assert told["state"] == "fault"
    (cache,) = [each for each in told["findings"] if each["what"] == "cache"]
    assert cache["state"] == "fault"
    assert "--cache-dir" in cache["mend"]


def test_the_command_asks_the_services_of_the_settings(dewgap, server, at_home, monkeypatch):
    for key, url in addresses(server.url).items():
        monkeypatch.setenv(f"DEWGAP_{key.upper()}", url)
    status, out, _ = dewgap("doctor")
    assert status == 0
    assert "OK     service open_meteo: answers in " in out

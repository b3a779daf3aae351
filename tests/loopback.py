"""A small web server on the loopback address that speaks the published paths of weather services.

It keeps to what each service publishes about its callers: who must say who asks, how precise
a place may be, which parameters there are. Right answers are bodies that a test hands over; faults
are queued for a path and come first, one a request; the last of `always` stays.
"""

import json
import sqlite3
from collections import defaultdict, deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from email.utils import format_datetime, parsedate_to_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Event, Thread
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pandas as pd

from windows.settings import Settings
from windows.web import Web

POINT, CELL = "/points/46.7100,-92.0200", "/gridpoints/ILN/80,80"
FORECAST, ENSEMBLE, ARCHIVE = "/v1/forecast", "/v1/ensemble", "/v1/archive"
COMPLETE = "/locationforecast/2.0/complete"
STATIONS = "/stations.db"
STATION = "99001"

_OPEN_METEO_PARAMETERS = {
    *("latitude", "longitude", "elevation", "hourly", "temperature_unit", "wind_speed_unit"),
    *("precipitation_unit", "timeformat", "timezone", "cell_selection", "models", "apikey"),
    *("forecast_days", "past_days", "start_date", "end_date"),
}


@dataclass(frozen=True)
class Reply:
    """What the server says to one request."""

    status: int = 200
    body: bytes = b""
    headers: dict[str, str] = field(default_factory=dict)
    delay_s: float = 0.0
    cut: int = 0
    """So many bytes of the promised body are not sent."""


@dataclass(frozen=True)
class Asked:
    """One request as it came in."""

    path: str
    query: dict[str, str]
    headers: dict[str, str]


def problem(status: int, kind: str, detail: str, **headers: str) -> Reply:
    """Return an error as problem details (RFC 9457)."""
    told = {"type": f"https://problems/{kind}", "title": kind, "status": status, "detail": detail}
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return Reply(
        status, json.dumps(told).encode(), {"Content-Type": "application/problem+json"} | named
    )


def reason(status: int, text: str, **headers: str) -> Reply:
    """Return an error in the words of Open-Meteo."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return Reply(status, json.dumps({"error": True, "reason": text}).encode(), named)


def page(status: int = 200) -> Reply:
    """Return a web page, as a captive portal or a proxy shows one."""
    body = b"<!DOCTYPE html>\n<html><body>Please sign in.\n</body></html>"
    return Reply(status, body, {"Content-Type": "text/html"})


def http_date(moment: pd.Timestamp) -> str:
    """Return a time as headers write it."""
    return format_datetime(moment.to_pydatetime().replace(microsecond=0), usegmt=True)


@dataclass
class Loopback:
    """The server: its right answers and faults by path, and what was asked."""

    url: str
    answers: dict[str, Reply] = field(default_factory=dict)
    faults: dict[str, deque[Reply]] = field(default_factory=lambda: defaultdict(deque))
    always: dict[str, Reply] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    closing: Event = field(default_factory=Event)

    def give(self, path: str, body: bytes | dict[str, Any], **headers: str) -> None:
        """Set the right answer of a path."""
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        self.answers[path] = Reply(200, content, named)

    def fail(self, path: str, *replies: Reply, always: bool = False) -> None:
        """Queue faults of a path; with ``always`` the last one stays."""
        if always:
            self.always[path] = replies[-1]
        self.faults[path].extend(replies)

    def begin_anew(self) -> None:
        """Forget answers, faults and what was asked; who waits for a late reply waits no longer."""
        self.closing.set()
        self.closing = Event()
        self.answers.clear()
        self.asked.clear()
        self.heal()

    def heal(self) -> None:
        """Forget all faults."""
        self.faults.clear()
        self.always.clear()

    def count(self, path: str) -> int:
        """Return how often a path was asked for."""
        return sum(each.path == path for each in self.asked)

    def reply(self, asked: Asked) -> Reply:
        """Return the reply to a request: a fault, a refusal, or the answer."""
        self.asked.append(asked)
        if self.faults[asked.path]:
            return self.faults[asked.path].popleft()
        if asked.path in self.always:
            return self.always[asked.path]
        return _refusal(asked) or _not_modified(asked, self._answer(asked.path))

    def _answer(self, path: str) -> Reply:
        if path in self.answers:
            return self.answers[path]
        if path.startswith(("/points/", "/gridpoints/")):
            return problem(404, "InvalidPoint", "Data Unavailable For Requested Point")
        return reason(404, "Not Found")


def _refusal(asked: Asked) -> Reply | None:
    """Return why a service turns a caller away, by what it publishes."""
    agent = asked.headers.get("user-agent", "")
    named = "@" in agent or "://" in agent
    if asked.path.startswith(("/points/", "/gridpoints/")):
        if not named:
            return problem(403, "Forbidden", "Please identify yourself")
        if asked.query:
            return problem(400, "BadRequest", f"Query parameter {min(asked.query)!r} is unknown")
        place = asked.path.removeprefix("/points/").split(",")
        if asked.path.startswith("/points/") and max(map(_decimals, place)) > 4:
            return problem(400, "InvalidParameter", "At most 4 decimals")
    if asked.path.endswith("/complete") and not (
        named and max(_decimals(asked.query.get(name, "")) for name in ("lat", "lon")) <= 4
    ):
        return Reply(403, b"403 Forbidden")
    if asked.path.startswith("/v1/"):
        unknown = sorted(asked.query.keys() - _OPEN_METEO_PARAMETERS)
        if unknown:
            return reason(400, f"Unknown parameter {unknown[0]}")
        if not {"latitude", "longitude", "hourly"} <= asked.query.keys():
            return reason(400, "Parameter 'latitude' and 'longitude' must be given")
    return None


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])


def _not_modified(asked: Asked, answer: Reply) -> Reply:
    """Return 304 in place of an answer that the caller has."""
    since, changed = asked.headers.get("if-modified-since"), answer.headers.get("Last-Modified")
    if since is None or changed is None:
        return answer
    if parsedate_to_datetime(since) < parsedate_to_datetime(changed):
        return answer
    return replace(answer, status=304, body=b"")


class _Handler(BaseHTTPRequestHandler):
    """Hand a request to the server's script."""

    loopback: Loopback

    def do_GET(self) -> None:
        parts = urlsplit(self.path)
        headers = {name.lower(): value for name, value in self.headers.items()}
        reply = self.loopback.reply(Asked(parts.path, dict(parse_qsl(parts.query)), headers))
        self.loopback.closing.wait(reply.delay_s)
        now = http_date(pd.Timestamp.now("UTC"))
        fields = {"Date": now, "Content-Length": str(len(reply.body))} | reply.headers
        try:
            self.send_response_only(reply.status)
            for name, value in fields.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(reply.body[: len(reply.body) - reply.cut])
        except ConnectionError:
            self.close_connection = True  # the caller has gone

    def log_message(self, *_: object) -> None:
        """Stay quiet."""


@contextmanager
def serving() -> Iterator[Loopback]:
    """Run a server while the block runs."""
    handler = type("Handler", (_Handler,), {})
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        loopback = Loopback(f"http://127.0.0.1:{server.server_port}")
        handler.loopback = loopback
        thread = Thread(target=server.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        try:
            yield loopback
        finally:
            loopback.closing.set()
            server.shutdown()
            thread.join()


def stations(*rows: tuple[str, float, float, str]) -> bytes:
    """Return a database of stations: identifier, latitude, longitude, start of its records."""
    connection = sqlite3.connect(":memory:")
    try:
        connection.executescript(
            "CREATE TABLE stations (id TEXT PRIMARY KEY, country TEXT, region TEXT,"
            " latitude REAL, longitude REAL, elevation INTEGER, timezone TEXT);"
            "CREATE TABLE names (station TEXT, language TEXT, name TEXT);"
            "CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);"
            "CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT,"
            " start TEXT, end TEXT, completeness REAL);"
        )
        for name, latitude, longitude, start in rows:
            connection.execute(
                "INSERT INTO stations VALUES (?, 'US', 'MN', ?, ?, 200, 'America/Chicago')",
                (name, latitude, longitude),
            )
            connection.execute("INSERT INTO names VALUES (?, 'en', 'INVENTED')", (name,))
            connection.executemany(
                "INSERT INTO inventory VALUES (?, 'isd_lite', ?, ?, '2026-01-01', 1.0)",
                [(name, parameter, start) for parameter in ("temp", "rhum", "wspd", "prcp")],
            )
        connection.commit()
        return connection.serialize()
    finally:
        connection.close()


@contextmanager
def session(settings: Settings, **options: bool) -> Iterator[Web]:
    """Open a session with the services while the block runs."""
    web = Web(settings, **options)
    try:
        yield web
    finally:
        web.close()

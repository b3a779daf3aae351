"""Show a page on this machine alone, made anew when its files change or its time is up.

Pages are served from memory, whole: what is shown is one value that is put in place at once. The
server listens on a loopback address, and answers only those who ask for one by name, so that no
page from elsewhere can read the board through a name that it made point here (DNS rebinding).
"""

from __future__ import annotations

import errno
import hashlib
import ipaddress
import os
import re
import threading
import time
from dataclasses import dataclass
from html import escape
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from socketserver import TCPServer
from typing import TYPE_CHECKING, Any

from windows.errors import DewgapError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

__all__ = ["serve"]

_POLL_S = 1.0
"""Time between two looks at the files. [s]"""
_PATIENCE_S = 10.0
"""How long a connection may say nothing. [s]"""
_HEADERS = {
    "Cache-Control": "no-store",
    # All that a page needs is in it. It may ask for its own version, and for nothing else.
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; "
        "img-src data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}
# By elements alone: a page's own policy may forbid any style and script that it does not know.
_BANNER = b'<p class="stays" role="alert"><mark>%s</mark></p>'
_VERSION = b'<meta name="version" content="%s">'
_BODY = re.compile(rb"</head>\s*<body[^>]*>", re.IGNORECASE)


@dataclass(frozen=True)
class _Shown:
    """A page as it is sent, and its version."""

    body: bytes
    version: bytes


def serve(
    make: Callable[[], str],
    watched: Callable[[], Sequence[Path]],
    port: int,
    host: str = "127.0.0.1",
    every: float = 900.0,
    *,
    tell: Callable[[str], None],
    stop: threading.Event | None = None,
    poll: float = _POLL_S,
) -> None:
    """Serve a page at ``/`` and its version at ``/version`` until Ctrl-C.

    The page is made in this thread, one at a time. It is made again when a watched file is
    changed, added or gone (by the time and size that the file system tells), and every so often,
    for the weather services. If that fails the page of before stays, with a sentence on top that
    says so. ``/version`` is a text that is another when the page is, for a script of the page that
    looks at it and loads the page anew; the page has its own as ``<meta name="version">``.

    Parameters
    ----------
    make
        Returns the page, a whole HTML document.
    watched
        Returns the files to look at, folders too (for what is added in them); none that ``make``
        writes.
    port
        0 for any that is free.
    host
        A loopback address.
    every
        How often to make the page even if no file changed. [s]
    tell
        Is given each line for the screen: the address, and what fails.
    stop
        Ends the serving when it is set.
    poll
        Time between two looks at the files. [s]

    Raises
    ------
    SettingsError
        If the address is not on this machine alone, or the port cannot be had.
    DewgapError
        If the first page cannot be made.
    """
    stop = threading.Event() if stop is None else stop
    with _listen(host, port) as server:
        try:
            seen, made = _stamps(watched), time.monotonic()
            page = make()
            good = time.time()
            server.shown = _shown(page)
            thread = threading.Thread(target=server.serve_forever, args=(0.1,), daemon=True)
            thread.start()
        except KeyboardInterrupt:
            return
        try:
            tell(f"Serving at http://{host}:{server.server_port}/ (Ctrl-C ends)")
            while not stop.wait(poll):
                now = _stamps(watched)
                if now == seen and time.monotonic() - made < every:
                    continue
                seen, made = now, time.monotonic()
                fault = ""
                try:
                    page, good = make(), time.time()
                except Exception as raised:  # whatever it is, the page of before is still good
                    fault = _fault(raised, good)
                    tell(fault)
                server.shown = _shown(page, fault)
        except KeyboardInterrupt:
            pass
        finally:
            server.shutdown()
            thread.join()


def _fault(raised: Exception, good: float) -> str:
    """Return why there is no new page, in one line, and of when the old one is."""
    what = str(raised) if isinstance(raised, DewgapError) else type(raised).__name__
    of = time.strftime("%Y-%m-%d %H:%M UTC", time.gmtime(good))
    return f"This page is of {of} and cannot be made anew: {' '.join(what.split())}"


def _shown(page: str, fault: str = "") -> _Shown:
    """Return a page with its version in its head, and what is wrong on top of it."""
    given, wrong = (text.encode("utf-8", "backslashreplace") for text in (page, escape(fault)))
    version = hashlib.sha256(given + b"\0" + wrong).hexdigest()[:16].encode()
    banner = _BANNER % wrong if fault else b""
    found = _BODY.search(given)
    if found is None:
        return _Shown(banner + given, version)
    head, body = given[: found.start()], given[found.end() :]
    return _Shown(head + _VERSION % version + found[0] + banner + body, version)


def _stamps(watched: Callable[[], Sequence[Path]]) -> object:
    """Return what changes when a watched file does."""
    try:
        paths = watched()
    except (DewgapError, OSError) as fault:
        return str(fault)
    return [(str(path), _stamp(path)) for path in paths]


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        told = path.stat()
    except (OSError, ValueError):
        return None
    return told.st_mtime_ns, told.st_size


def _listen(host: str, port: int) -> _Server:
    try:
        loopback = ipaddress.IPv4Address(host).is_loopback
    except ValueError:
        loopback = False
    if not loopback:
        raise SettingsError(
            f"'{host}' is not an address of this machine alone; the page is served at 127.0.0.1"
        )
    try:
        return _Server((host, port), _Handler)
    except OverflowError:
        raise SettingsError(f"port {port}: is none; give one from 0 to 65535") from None
    except OSError as fault:
        used = fault.errno == errno.EADDRINUSE
        why = "is in use" if used else f"cannot be had ({fault.strerror})"
        raise SettingsError(
            f"port {port}: {why}; give another, or 0 for any that is free"
        ) from None


class _Server(ThreadingHTTPServer):
    """A server of one page; ``shown`` is put in place whole."""

    daemon_threads = True
    block_on_close = False
    # Elsewhere it lets two programs listen on one port.
    allow_reuse_address = os.name == "posix"
    shown: _Shown

    def server_bind(self) -> None:
        """Bind, without the look-up of this machine's name that is made otherwise."""
        TCPServer.server_bind(self)
        self.server_name, self.server_port = self.socket.getsockname()[:2]

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing: a browser that goes away while it is answered is no fault."""


class _Handler(BaseHTTPRequestHandler):
    server: _Server
    server_version = "dewgap"
    sys_version = ""
    timeout = _PATIENCE_S

    def do_GET(self) -> None:
        """Answer with the page or its version."""
        self._answer(with_body=True)

    def do_HEAD(self) -> None:
        """Answer as to GET, without the body."""
        self._answer(with_body=False)

    def _no_method(self) -> None:
        self._send(HTTPStatus.METHOD_NOT_ALLOWED, b"GET and HEAD only\n", with_body=True)

    do_POST = do_PUT = do_PATCH = do_DELETE = do_OPTIONS = _no_method

    def _answer(self, with_body: bool) -> None:
        path = self.path.partition("?")[0]
        shown = self.server.shown  # once: the next page may come while this one is sent
        if not self._asked_here():
            self._send(
                HTTPStatus.FORBIDDEN, b"ask for 127.0.0.1 or localhost\n", with_body=with_body
            )
        elif path == "/":
            self._send(HTTPStatus.OK, shown.body, kind="text/html", with_body=with_body)
        elif path == "/version":
            self._send(HTTPStatus.OK, shown.version, with_body=with_body)
        else:
            self._send(HTTPStatus.NOT_FOUND, b"nothing here\n", with_body=with_body)

    def _asked_here(self) -> bool:
        """Tell whether the host that is asked for is this machine; its port may be a tunnel's."""
        hosts = self.headers.get_all("Host", [])
        if len(hosts) != 1:
            return False
        name, _, port = hosts[0].strip().lower().partition(":")
        if port and not (port.isascii() and port.isdigit()):
            return False
        return name in {"localhost", "127.0.0.1", self.server.server_name}

    def _send(
        self, status: HTTPStatus, body: bytes, *, kind: str = "text/plain", with_body: bool
    ) -> None:
        self.send_response(status)
        self.send_header("Content-Type", f"{kind}; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        if status is HTTPStatus.METHOD_NOT_ALLOWED:
            self.send_header("Allow", "GET, HEAD")
        self.end_headers()
        if with_body:
            self.wfile.write(body)

    def end_headers(self) -> None:
        """End the headers of every answer, of a refusal too, with those that keep it safe."""
        for name, value in _HEADERS.items():
            self.send_header(name, value)
        super().end_headers()

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing: the screen is for the board."""

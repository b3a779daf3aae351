"""No command of a page reaches beyond this machine: Python reads this file when it starts."""

from __future__ import annotations

import socket

_connect = socket.socket.connect


def _near(self: socket.socket, address: object) -> None:
    host = address[0] if isinstance(address, tuple) else "127.0.0.1"
    if host not in {"127.0.0.1", "::1", "localhost"}:
        raise OSError(f"no network while the documents are built: {host}")
    _connect(self, address)


def _none(host: object, *_: object, **__: object) -> list[object]:
    raise socket.gaierror(f"no network while the documents are built: {host}")


_ask = socket.getaddrinfo


def _look(host: object, *rest: object, **named: object) -> list[object]:
    if host in {"127.0.0.1", "::1", "localhost", None}:
        return _ask(host, *rest, **named)
    return _none(host)


socket.socket.connect = _near
socket.getaddrinfo = _look

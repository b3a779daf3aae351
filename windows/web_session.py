"""The HTTP session: its cache, its patience, and the keys that it must not tell.

A key that a service wants stands in the parameter ``apikey`` of an address; nothing that is written
down, told or kept has it.
"""

from __future__ import annotations

import logging
import re
import sqlite3
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Self

from requests.adapters import HTTPAdapter
from requests_cache import DO_NOT_CACHE, CachedSession
from urllib3.exceptions import InvalidHeader, MaxRetryError, ResponseError
from urllib3.util.retry import Retry

from windows.errors import SettingsError

if TYPE_CHECKING:
    from windows.settings import Settings

__all__ = ["clear_cache", "open_session", "quiet", "without_key"]

_CACHE_FILE = "http.sqlite"
_LIBRARIES = {"urllib3", "requests_cache"}
_LONGEST_WAIT_S = 30.0
"""A longer Retry-After is not waited for: the caller is told. [s]"""
_LONGEST_STALE = timedelta(days=3653)
_SECRET = re.compile(r"(apikey=)[^&\s'\"]+", re.IGNORECASE)


def without_key(text: str) -> str:
    """Return a text in which no address has its key.

    Examples
    --------
    >>> without_key("GET /v1/forecast?apikey=abc&hourly=rain")
    'GET /v1/forecast?apikey=...&hourly=rain'
    """
    return _SECRET.sub(r"\1...", text)


class _NoSecrets(logging.Filter):
    """Take keys out of what the HTTP library logs: it writes whole addresses."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = without_key(record.getMessage())
        record.args, record.exc_info, record.exc_text = (), None, None
        return True


def quiet() -> None:
    """Keep the HTTP libraries' logs to errors without keys: faults are told as errors, once."""
    for name in (*_LIBRARIES, *logging.root.manager.loggerDict):
        if name.partition(".")[0] not in _LIBRARIES:
            continue
        logger = logging.getLogger(name)
        if not any(isinstance(kind, _NoSecrets) for kind in logger.filters):
            logger.addFilter(_NoSecrets())
        logger.setLevel(max(logger.level, logging.ERROR))


class _Patience(Retry):
    """Retries that do not sit out a long Retry-After."""

    def increment(  # the names are those of the base class
        self,
        method: Any = None,
        url: Any = None,
        response: Any = None,
        error: Any = None,
        _pool: Any = None,
        _stacktrace: Any = None,
    ) -> Self:
        try:
            wait = 0.0 if response is None else self.get_retry_after(response) or 0.0
        except InvalidHeader:
            wait = float("inf")
        if wait > _LONGEST_WAIT_S:
            raise MaxRetryError(_pool, "", ResponseError("asked to wait too long"))
        return super().increment(method, url, response, error, _pool, _stacktrace)


def open_session(settings: Settings) -> CachedSession:
    """Return a session that keeps answers in a folder, and asks again a few times.

    Raises
    ------
    SettingsError
        If the cache cannot be used.
    """
    path = settings.cache_dir / _CACHE_FILE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        session = CachedSession(
            path,
            backend="sqlite",
            serializer="json",  # the default, pickle, runs what a planted file says
            expire_after=DO_NOT_CACHE,
            cache_control=False,
            stale_if_error=int(_LONGEST_STALE.total_seconds()),
            allowable_codes=(200,),
            ignored_parameters=["apikey"],
            wal=True,
            busy_timeout=10_000,
        )
        len(session.cache.responses)
    except (OSError, sqlite3.Error) as fault:
        raise SettingsError(
            f"{path}: the cache cannot be used ({fault}); name another folder with "
            "--cache-dir, or delete that file"
        ) from None
    retry = _Patience(
        total=3, connect=2, read=1, status=2, other=0, backoff_factor=1, backoff_jitter=0.5,
        status_forcelist=(500, 502, 503, 504), allowed_methods={"GET"}, raise_on_status=False,
    )  # fmt: skip
    for scheme in ("http://", "https://"):
        session.mount(scheme, HTTPAdapter(max_retries=retry))
    return session


def clear_cache(settings: Settings) -> None:
    """Forget all answers, also of a damaged cache.

    Raises
    ------
    SettingsError
        If the files cannot be deleted.
    """
    for path in settings.cache_dir.glob(f"{_CACHE_FILE}*"):
        try:
            path.unlink()
        except OSError as fault:
            raise SettingsError(
                f"{path}: cannot be deleted ({fault.strerror}); delete it by hand"
            ) from None

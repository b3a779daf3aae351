"""The one way to the network: identified, patient, cached, and honest about what is old.

A body is checked by the source that asked for it before it is kept, so a broken answer neither
enters the cache nor drives a good one out. When a service fails, what it said before stands in,
marked as stale, for as long as its source allows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from importlib.metadata import version
from typing import TYPE_CHECKING, Any, NoReturn
from urllib.parse import urlsplit

import pandas as pd
import requests

from windows.answer import Answer, Kept
from windows.errors import DewgapError, HoursError, SettingsError, SourceError
from windows.web_session import open_session, quiet, without_key

if TYPE_CHECKING:
    from windows.settings import Settings

__all__ = ["Web"]

_KEPT_HEADERS = {"Date", "ETag", "Last-Modified", "Content-Type"}
_CONNECT_TIMEOUT_S = 5.0
_CLOCK_SKEW = timedelta(minutes=10)
_OFFLINE_MISS = 504


@dataclass
class _Inspection:
    """A look at each response on the way to an answer, called by the session before it keeps it.

    It gathers what went wrong, the last status, that of a refusal, the body found sound, and what
    its check made of it.
    """

    check: Callable[[bytes], object]
    follows: bool
    damaged: Callable[[str], SettingsError]
    troubles: list[str] = field(default_factory=list)
    status: int | None = None
    refused: int | None = None
    sound: bytes | None = None
    checked: object = None

    def __call__(self, response: requests.Response, **_: Any) -> None:
        self.status = response.status_code
        if not response.status_code:
            raise self.damaged("an answer without a status")
        if response.status_code == requests.codes.ok:
            if response.content == self.sound:  # the session shows each answer twice
                return
            self.checked = self._check(response.content)
            self.sound = response.content
            response.history = []
            for name in set(response.headers) - _KEPT_HEADERS:
                del response.headers[name]  # one of them may repeat a key
                response.raw.headers.pop(name, None)
        elif response.status_code != requests.codes.not_modified:
            self.troubles.append(_refusal(response))
            self.refused = response.status_code
            if response.ok and not (response.is_redirect and self.follows):
                raise HoursError(self.troubles[-1])

    def _check(self, body: bytes) -> object:
        """Return what the check makes of a body; refuse one that cannot be used, and keep why."""
        try:
            return self.check(body)
        except DewgapError as fault:
            self.troubles.append(" ".join(str(fault).split()))
            raise
        except requests.RequestException:
            raise
        except Exception as fault:
            self.troubles.append(f"the answer cannot be read ({type(fault).__name__})")
            raise HoursError(self.troubles[-1]) from None


class Web:
    """A session with every weather service.

    Parameters
    ----------
    settings
        Contact, cache folder, patience.
    offline
        Take answers from the cache only.
    refresh
        Ask again even where a kept answer counts as new.
    """

    def __init__(self, settings: Settings, *, offline: bool = False, refresh: bool = False) -> None:
        self.settings, self.offline, self.refresh = settings, offline, refresh
        quiet()
        self._session = open_session(settings)

    def get(
        self,
        source: str,
        url: str,
        *,
        kept: Kept,
        check: Callable[[bytes], object],
        params: Mapping[str, str] | None = None,
        contact: bool = False,
        refresh: bool = False,
    ) -> Answer:
        """Return a service's answer, from the cache while that counts as new.

        Parameters
        ----------
        source
            The service's name, for messages.
        url, params
            What to ask. A parameter ``apikey`` never enters the cache, a log or a message.
        kept
            How long the answer counts.
        check
            Raises DewgapError for a body that cannot be used; such a body is not kept. What it
            returns is the answer's ``checked``.
        contact
            The service asks its callers to say who they are.
        refresh
            Ask again, as with the session's own.

        Raises
        ------
        SourceError
            If there is no answer, and none before that is young enough.
        SettingsError
            If the service wants a contact and none is set, or the cache is damaged.
        """
        follows = "apikey" not in (params or {})  # a key is sent nowhere else
        agent = self._agent(source, contact)
        place = _place(url)
        told = _Inspection(check, follows, self._damaged)

        def ask(*, kept_only: bool, anew: bool) -> Any:
            return self._session.get(
                url, params=dict(params or {}), headers={"User-Agent": agent},
                timeout=(_CONNECT_TIMEOUT_S, self.settings.timeout_s),
                expire_after=kept.fresh, only_if_cached=kept_only, force_refresh=anew,
                allow_redirects=follows, hooks={"response": told},
            )  # fmt: skip

        anew = (self.refresh or refresh) and not self.offline
        try:
            response, failed = self._asked(ask, anew, told)
        except DewgapError as fault:
            raise SourceError(self._redact(f"{source}: {fault}; try again later")) from None
        except requests.RequestException as fault:
            raise SourceError(
                f"{source}: no answer from {place} ({_cause(fault)}); check the connection, or "
                "use --offline with an answer from before"
            ) from None
        except Exception as fault:  # whatever a damaged file of answers brings up
            raise self._damaged(type(fault).__name__) from None
        if response.status_code != requests.codes.ok:
            self._refused(source, place, response, told)
        return self._answer(source, place, response, kept, told, failed)

    def _asked(self, ask: Callable[..., Any], anew: bool, told: _Inspection) -> tuple[Any, bool]:
        """Return a response, and whether an older one stands in for one that was asked for anew."""
        if not anew:
            return ask(kept_only=self.offline, anew=False), False
        response, fault = None, None
        try:
            response = ask(kept_only=False, anew=True)
        except (DewgapError, requests.RequestException) as raised:
            fault = raised
            told.troubles = told.troubles or [_cause(raised)]
        if response is not None and response.status_code == requests.codes.ok:
            return response, False
        troubles, status = list(told.troubles), told.status
        before = ask(kept_only=True, anew=False)
        told.troubles, told.status = troubles, status
        if before.status_code == requests.codes.ok:
            return before, True
        if fault is not None:
            raise fault
        return response, False

    def _redact(self, text: str) -> str:
        """Return a message in one line and without the key."""
        key = self.settings.open_meteo_key
        text = " ".join(without_key(text).split())
        return text if key is None else text.replace(key.get_secret_value(), "...")

    def _agent(self, source: str, wanted: bool) -> str:
        if wanted and self.settings.contact is None and not self.offline:
            raise SettingsError(
                f"{source} wants to know who asks: set DEWGAP_CONTACT, or contact in the settings "
                "file, to your e-mail address or web page"
            )
        contact = f" ({self.settings.contact})" if self.settings.contact else ""
        return f"dewgap/{version('dewgap')}{contact}"

    def _refused(
        self, source: str, place: str, response: requests.Response, told: _Inspection
    ) -> NoReturn:
        if self.offline and response.status_code == _OFFLINE_MISS:
            raise SourceError(
                f"{source}: no answer from {place} is in the cache, and --offline forbids to ask; "
                "ask once without it"
            )
        why = told.troubles[-1] if told.troubles else "no reason"
        raise SourceError(self._redact(f"{source}: {place} refused: {why}"), response.status_code)

    def _answer(
        self,
        source: str,
        place: str,
        response: Any,
        kept: Kept,
        told: _Inspection,
        failed: bool,
    ) -> Answer:
        from_cache = bool(getattr(response, "from_cache", False))
        created = getattr(response, "created_at", None)
        now = pd.Timestamp.now("UTC")
        when = now if created is None or not from_cache else _utc(created)
        too_old = now - when > kept.fresh + kept.stale
        stale = from_cache and (
            failed
            or bool(response.is_expired)
            or when > now + _CLOCK_SKEW
            or (too_old and not response.revalidated)
        )
        notes: list[str] = []
        if stale:
            why = "--offline" if self.offline else (told.troubles or ["it could not be reached"])[0]
            if too_old:
                raise SourceError(
                    f"{source}: no new answer ({why}), and the last one, of "
                    f"{when:%Y-%m-%d %H:%M} UTC, is too old to stand in for it; try again later"
                )
            age = (now - when).total_seconds() / 3600
            notes.append(
                self._redact(f"{source} gave no new answer ({why}); this one is {age:.1f} h old")
            )
        elif not from_cache:
            notes += _skew(response.headers.get("Date"), now)
        return Answer(
            response.content, place, when, stale, from_cache, tuple(notes),
            told.refused if stale else None,
            told.checked if response.content == told.sound else None,
        )  # fmt: skip

    def entries(self) -> list[tuple[str, int, pd.Timestamp, bool]]:
        """Return address without parameters, bytes, time and whether old, of what is kept."""
        try:
            return [
                (_place(each.url), each.size, _utc(each.created_at), each.is_expired)
                for each in self._session.cache.filter(expired=True)
            ]
        except Exception as fault:  # whatever a damaged file of answers brings up
            raise self._damaged(type(fault).__name__) from None

    def _damaged(self, why: str) -> SettingsError:
        return SettingsError(
            f"{self.settings.cache_dir}: the cache is damaged ({why}); empty it with dewgap "
            "weather cache --clear"
        )

    def close(self) -> None:
        """Close connections and cache."""
        self._session.close()  # type: ignore[no-untyped-call]


def _utc(moment: datetime) -> pd.Timestamp:
    stamp = pd.Timestamp(moment)
    return stamp.tz_localize("UTC") if stamp.tz is None else stamp.tz_convert("UTC")


def _place(url: str) -> str:
    """Return an address without its parameters, which may hold a key."""
    parts = urlsplit(url)
    return f"{parts.netloc}{parts.path}"


def _skew(date: str | None, now: pd.Timestamp) -> list[str]:
    """Tell of a clock that differs from the service's."""
    told = pd.to_datetime(date, utc=True, errors="coerce") if date else pd.NaT
    if pd.isna(told) or abs(told - now) <= _CLOCK_SKEW:
        return []
    minutes = (now - told).total_seconds() / 60
    return [
        f"this machine's clock is {abs(minutes):.0f} min {'ahead of' if minutes > 0 else 'behind'} "
        "the service's: ages and 'now' may be wrong; set the clock"
    ]


def _refusal(response: requests.Response) -> str:
    """Return a service's own words for an error: problem details (RFC 9457) or a reason."""
    words = f"status {response.status_code}"
    try:
        body = response.json()
    except ValueError:
        body = None
    if isinstance(body, dict):
        told = body.get("detail") or body.get("reason") or body.get("title")
        if isinstance(told, str):
            words += f", {' '.join(told.split())[:200]}"
    wait = response.headers.get("Retry-After")
    if wait:
        words += f"; it asks to wait {wait} s" if wait.strip().isdigit() else f" until {wait}"
    return without_key(words)


def _cause(fault: Exception) -> str:
    if isinstance(fault, requests.Timeout):
        return "it took too long"
    if isinstance(fault, requests.exceptions.ChunkedEncodingError):
        return "the answer broke off"
    if isinstance(fault, requests.exceptions.SSLError):
        return "its certificate is not trusted"
    if "timed out" in str(fault):
        return "it took too long"
    return "it cannot be reached"

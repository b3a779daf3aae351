"""Whether the services of weather can be reached from here: a small question to each."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from windows.finding import Finding, State

if TYPE_CHECKING:
    from windows.settings import Settings

__all__ = ["services"]

_PLACE = {"latitude": "40.0", "longitude": "-83.0"}
"""The place that services are asked about, somewhere in the US, which all of them know. [deg]"""
_SHORT_S = 4.0
"""A service that says nothing for longer is told as silent (own choice). [s]"""
_PATIENCE = 2.0
"""So many times as long may all of it take, however slowly a service speaks (own choice)."""
_OFFLINE = "no answer: only files and what was fetched before can be used"
_ADDRESS = "check its address in the settings"
_UNFINISHED = "no whole answer in time"
_NOT_ASKED = "not asked: it wants a contact"


@dataclass(frozen=True)
class _Call:
    """A small question to a service: its address without parameters, and these."""

    name: str
    url: str
    params: dict[str, str]
    wants_contact: bool = False


def _calls(settings: Settings) -> list[_Call]:
    """Return one small question for each service that has an address in the settings."""
    day = dict.fromkeys(("start_date", "end_date"), "2024-05-01")
    key = settings.open_meteo_key
    secret = {} if key is None else {"apikey": key.get_secret_value()}
    of_hour = {**_PLACE, "hourly": "temperature_2m", **secret}
    point = f"{float(_PLACE['latitude']):.4f},{float(_PLACE['longitude']):.4f}"
    short = {"lat": _PLACE["latitude"], "lon": _PLACE["longitude"]}
    ahead = {**of_hour, "forecast_days": "1"}
    return [
        _Call("nws", f"{settings.nws_url}/points/{point}", {}, wants_contact=True),
        _Call("open_meteo", f"{settings.open_meteo_url}/forecast", ahead),
        _Call("open_meteo_ensemble", f"{settings.open_meteo_ensemble_url}/ensemble",
              {**ahead, "models": "gfs025"}),
        _Call("met_norway", f"{settings.met_norway_url}/complete", short, wants_contact=True),
        _Call("open_meteo_archive", f"{settings.open_meteo_archive_url}/archive", of_hour | day),
        _Call("meteostat", f"{settings.meteostat_url}/stations.db", {}),
    ]  # fmt: skip


def services(settings: Settings, timeout_s: float = _SHORT_S) -> list[Finding]:
    """Return whether each service answers; none that does not is a fault, for files do as well.

    Nothing is kept, and nothing is asked twice: the bodies are not even read.

    Parameters
    ----------
    settings
        Addresses, contact and key.
    timeout_s
        Most time without a word; twice that in all, even if a service lets its answer drip. [s]
    """
    calls = _calls(settings)
    answered: dict[str, Finding] = {}

    def ask(call: _Call) -> None:
        answered[call.name] = _asked(call, settings, timeout_s)

    # A pool is waited for when the program ends; these threads hold nothing up.
    threads = [threading.Thread(target=ask, args=(call,), daemon=True) for call in calls]
    for thread in threads:
        thread.start()
    end = time.monotonic() + _PATIENCE * timeout_s
    for thread in threads:
        thread.join(max(0.0, end - time.monotonic()))
    found = [answered.get(call.name) or _unfinished(call) for call in calls]
    silent = [each for each in found if each.told == _OFFLINE]
    asked = [each for each in found if each.told != _NOT_ASKED]
    if len(silent) == len(asked):
        mend = "look whether this machine is connected, and whether a proxy or firewall is between"
        return [Finding("services", State.LOOK, _OFFLINE, mend)]
    return found


def _unfinished(call: _Call) -> Finding:
    mend = "try again later, or look at the connection"
    return Finding(f"service {call.name}", State.LOOK, _UNFINISHED, mend)


def _asked(call: _Call, settings: Settings, timeout_s: float) -> Finding:
    """Return how a service answers to a small question."""
    import requests

    what = f"service {call.name}"
    if call.wants_contact and settings.contact is None:
        return Finding(what, State.LOOK, _NOT_ASKED, "set DEWGAP_CONTACT")
    contact = "" if settings.contact is None else f" ({settings.contact})"
    began = time.monotonic()
    try:
        with requests.get(
            call.url, params=call.params, timeout=timeout_s, stream=True, allow_redirects=False,
            headers={"User-Agent": f"dewgap/{version('dewgap')}{contact}"},
        ) as answer:  # fmt: skip
            status = answer.status_code
    except requests.exceptions.SSLError:
        mend = "ask who runs this network: a proxy with a certificate of its own may be between"
        return Finding(what, State.LOOK, "its certificate is not trusted", mend)
    except (requests.ConnectionError, requests.Timeout):
        mend = "look at the connection, or at its address in the settings"
        return Finding(what, State.LOOK, _OFFLINE, mend)
    except Exception as fault:  # whatever the libraries say of an address that they cannot read
        told = f"cannot be asked at {urlsplit(call.url).netloc} ({type(fault).__name__})"
        return Finding(what, State.LOOK, told, f"{_ADDRESS}, and the proxy and its certificate")
    took = f"{time.monotonic() - began:.1f} s"
    if status == requests.codes.ok:
        return Finding(what, State.OK, f"answers in {took}")
    return Finding(what, State.LOOK, f"refuses: HTTP {status}", _mended(status))


def _mended(status: int) -> str:
    """Return what to do about a refusal."""
    if status in {401, 403}:
        return "check contact and key in the settings; the service may also bar this address"
    if status == 429:
        return "it was asked too often: wait an hour"
    if status >= 500:
        return "the service has a fault of its own: try again later"
    return _ADDRESS

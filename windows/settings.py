"""Settings of a person or a machine: contact, keys, addresses of services, the cache folder.

They come from ``settings.toml`` in the user's configuration folder (or the file that the variable
``DEWGAP_SETTINGS`` names); a variable such as ``DEWGAP_CONTACT`` wins over the file.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated
from urllib.parse import urlsplit

from platformdirs import user_cache_path, user_config_path
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, SecretStr

from cure_models.toml_input import parse_toml, read_text, validated
from windows.errors import SettingsError

__all__ = ["Settings", "load_settings", "settings_path"]

_PREFIX = "DEWGAP_"


def _address(text: str) -> str:
    """Return the address of a service without a slash at its end."""
    try:
        parts = urlsplit(text)
        sound = parts.scheme in {"http", "https"} and bool(parts.hostname) and not parts.query
        sound = sound and "@" not in parts.netloc
        parts.port  # noqa: B018 - a port that is no number is told here
    except ValueError:
        sound = False
    if not sound:
        raise ValueError("is not an address without parameters; write it as https://host/path")
    return text.rstrip("/")


def _contact(text: str) -> str:
    text = text.strip()
    if not (text.isascii() and text.isprintable() and ("@" in text or "://" in text)):
        raise ValueError(
            f"{text!r} is not a contact; give an e-mail address or the address of a web page"
        )
    return text


def _key(key: SecretStr) -> SecretStr:
    text = key.get_secret_value()
    if not (text.isascii() and text.isprintable()) or " " in text or not text:
        raise ValueError("is not a key; give letters and digits without a space")
    return key


Address = Annotated[str, AfterValidator(_address)]


class Settings(BaseModel):
    """Settings, checked. The names of the keys are those of the file.

    Addresses are the services' published ones; another one (a paid host, a mirror) may be given.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)

    contact: Annotated[str, AfterValidator(_contact)] | None = None
    cache_dir: Path = Field(default_factory=lambda: user_cache_path("dewgap", appauthor=False))
    nws_url: Address = "https://api.weather.gov"
    met_norway_url: Address = "https://api.met.no/weatherapi/locationforecast/2.0"
    open_meteo_url: Address = "https://api.open-meteo.com/v1"
    open_meteo_ensemble_url: Address = "https://ensemble-api.open-meteo.com/v1"
    open_meteo_archive_url: Address = "https://archive-api.open-meteo.com/v1"
    open_meteo_key: Annotated[SecretStr, AfterValidator(_key)] | None = None
    meteostat_url: Address = "https://data.meteostat.net"
    timeout_s: Annotated[float, Field(gt=0, le=300)] = 30.0


def settings_path() -> Path:
    """Return where the settings file is, or would be."""
    named = os.environ.get(f"{_PREFIX}SETTINGS")
    return Path(named) if named else user_config_path("dewgap", appauthor=False) / "settings.toml"


def load_settings(cache_dir: Path | None = None) -> Settings:
    """Return the settings of this machine; ``cache_dir`` wins over all.

    Raises
    ------
    SettingsError
        If the file has a fault, or names a key that is not known.
    """
    path = settings_path()
    told = bool(os.environ.get(f"{_PREFIX}SETTINGS"))
    data = {}
    if told or path.is_file():
        data = parse_toml(read_text(path, SettingsError), str(path), SettingsError)
    where = str(path)
    for key in Settings.model_fields:
        value = os.environ.get(f"{_PREFIX}{key.upper()}")
        if value:
            data[key] = value
            where = f"settings ({path} and the variables {_PREFIX}...)"
    if not isinstance(data.get("open_meteo_key", ""), str):
        raise SettingsError(f"{where}: open_meteo_key must be text in quotes")  # it is not shown
    if cache_dir is not None:
        data["cache_dir"] = cache_dir
    return validated(Settings, data, where, SettingsError)

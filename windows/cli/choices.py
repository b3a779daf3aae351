"""Blocks of options that several commands share, each taken as one parameter."""

from __future__ import annotations

import functools
import inspect
from typing import TYPE_CHECKING, Any, get_type_hints

from windows.cli.options import (
    AssumeCloud,
    CacheDir,
    FillCloud,
    FormatOption,
    HistorySource,
    MappingOption,
    Offline,
    Refresh,
    SourceOption,
    Station,
    Uncorrected,
    WeatherOption,
    YearCount,
    YearsOption,
)
from windows.weather_choice import WeatherChoice, YearsChoice

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

__all__ = [
    "takes_forecasts", "takes_raw_weather", "takes_weather", "takes_years", "with_options",
]  # fmt: skip

_WEATHER: dict[str, tuple[Any, object]] = {
    "file": (WeatherOption, None),
    "form": (FormatOption, None),
    "mapping": (MappingOption, None),
    "source": (SourceOption, None),
    "offline": (Offline, False),
    "refresh": (Refresh, False),
    "cache_dir": (CacheDir, None),
    "assume_cloud": (AssumeCloud, None),
    "uncorrected": (Uncorrected, False),
}

_YEARS: dict[str, tuple[Any, object]] = {
    "files": (YearsOption, None),
    "source": (HistorySource, "open_meteo_archive"),
    "station": (Station, None),
    "count": (YearCount, 30),
    "offline": (Offline, False),
    "cache_dir": (CacheDir, None),
    "assume_cloud": (FillCloud, None),
}


def takes_weather(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that choose its weather, in place of its ``weather`` parameter."""
    return with_options(command, "weather", _WEATHER, WeatherChoice)


def takes_raw_weather(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of `takes_weather` that takes weather as its source gave it."""
    options = {name: given for name, given in _WEATHER.items() if name != "uncorrected"}
    return with_options(command, "weather", options, WeatherChoice)


def takes_forecasts(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command of many sites the options of `takes_weather` that do not name one file."""
    of_one_file = {"file", "form", "mapping"}
    options = {name: given for name, given in _WEATHER.items() if name not in of_one_file}
    return with_options(command, "weather", options, WeatherChoice)


def takes_years(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that choose its years, in place of its ``years`` parameter."""

    def chosen(files: list[Path] | None, **given: Any) -> YearsChoice:
        return YearsChoice(tuple(files or ()), **given)

    return with_options(command, "years", _YEARS, chosen)


def with_options(
    command: Callable[..., None],
    replaced: str,
    options: dict[str, tuple[Any, object]],
    choice: Callable[..., object],
) -> Callable[..., None]:
    """Give a command options in place of one parameter, which gets what ``choice`` makes of them.

    ``options`` are names with their annotation and their default.
    """
    hints = get_type_hints(command, include_extras=True)
    parameters = []
    for parameter in inspect.signature(command).parameters.values():
        if parameter.name == replaced:
            parameters += [
                inspect.Parameter(
                    name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=option
                )
                for name, (option, default) in options.items()
            ]
        else:
            parameters.append(
                parameter.replace(
                    kind=inspect.Parameter.KEYWORD_ONLY, annotation=hints[parameter.name]
                )
            )

    @functools.wraps(command)
    def run(**given: Any) -> None:
        made = choice(**{name: given.pop(name) for name in options})
        command(**{replaced: made}, **given)

    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in parameters}
    del run.__wrapped__
    return run

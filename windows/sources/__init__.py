"""Weather sources, one file each: every module turns bytes into the canonical table.

A source module has ``NAME``, ``HELP``, ``KIND``, ``recognises(head)`` and
``parse(content, place)``; one with KIND ``forecast`` also ``fetch(web, site)``, one with KIND
``history`` ``fetch_year``. It says which hour its labels mean and moves them to row ``T`` =
``[T, T + 1 h)``. To add one: write the module and name it in `SOURCES`.
"""

from __future__ import annotations

import codecs
import gzip
import zlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal, Protocol, cast, runtime_checkable

from windows.errors import DewgapError, HoursError, did_you_mean
from windows.hours import HourlyTable
from windows.sources import (
    canonical_csv,
    csv_cells,
    epw,
    ghcnh,
    isd_lite,
    logger,
    logger_mapping,
    met_norway,
    meteostat,
    nws,
    open_meteo,
    open_meteo_archive,
    open_meteo_ensemble,
    tmy3,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from windows.answer import Answer
    from windows.site import Site
    from windows.web import Web

__all__ = [
    "FORECASTS", "FORMATS", "LOGGER", "SOURCES", "Forecast", "Source", "fetch_weather",
    "from_answer", "read_weather", "table_of",
]  # fmt: skip


class Source(Protocol):
    """What a source module offers."""

    NAME: str
    HELP: str
    KIND: Literal["file", "forecast", "history"]

    def recognises(self, head: str) -> bool:
        """Tell whether a text is this source's.

        It is the first 4,000 characters below any # lines, or all of it where it is JSON.
        """

    def parse(self, content: bytes, place: str) -> HourlyTable:
        """Return the canonical table, or raise HoursError naming ``place``."""


@runtime_checkable
class Forecast(Source, Protocol):
    """A source that can be asked for the coming days."""

    def fetch(self, web: Web, site: Site) -> Answer:
        """Return the service's answer, checked; raise SourceError where there is none."""


SOURCES: tuple[Source, ...] = tuple(
    cast("Source", module)
    for module in (
        nws, open_meteo, open_meteo_ensemble, met_norway, open_meteo_archive, meteostat,
        epw, tmy3, ghcnh, isd_lite, canonical_csv,
    )
)  # fmt: skip
FORECASTS: dict[str, Forecast] = {
    source.NAME: cast("Forecast", source) for source in SOURCES if source.KIND == "forecast"
}
LOGGER = "logger"
FORMATS = (*(source.NAME for source in SOURCES), LOGGER)

_GZIP = b"\x1f\x8b"


def read_weather(
    path: Path | str, *, form: str | None = None, mapping: Path | str | None = None
) -> HourlyTable:
    """Read a weather file, compressed by gzip or not.

    Parameters
    ----------
    path
        The file.
    form
        One of `FORMATS`; by default it is told by the content.
    mapping
        How to read a logger's table; makes the format ``logger``.

    Raises
    ------
    HoursError
        If the file is missing, empty, unreadable, of no known source, or has a fault.
    """
    place = str(path)
    content = _unpacked(csv_cells.content_of(path, "weather file"), place)
    if not content.removeprefix(codecs.BOM_UTF8).strip():
        raise HoursError(f"{place}: the file is empty; give a table with a header and hourly rows")
    if mapping is not None and form not in {None, LOGGER}:
        raise HoursError(f"--mapping is for a logger's table, not for --format {form}; drop one")
    if mapping is not None or form == LOGGER:
        if mapping is None:
            raise HoursError(
                f"{place}: a logger's table needs --mapping; begin one with dewgap weather mapping"
            )
        how = logger_mapping.load_mapping(mapping)
        return _named(_parsed(lambda: logger.parse(content, place, how), place, LOGGER), LOGGER)
    source = _recognised(content, place) if form is None else _named_source(form)
    table = _parsed(lambda: source.parse(content, place), place, source.NAME)
    return _named(table, source.NAME)


def _parsed(parse: Callable[[], HourlyTable], place: str, name: str) -> HourlyTable:
    """Return what a reader reads; a fault that it did not foresee is a fault of the file."""
    try:
        return parse()
    except DewgapError:
        raise
    except Exception as fault:
        raise HoursError(
            f"{place}: cannot be read as {name} ({type(fault).__name__}); use a whole, unchanged "
            "file, or another --format"
        ) from None


def fetch_weather(name: str, site: Site, web: Web) -> HourlyTable:
    """Return the forecast of a service at a site.

    Raises
    ------
    SourceError, SettingsError
        If the service does not answer and nothing young enough is kept, or a setting is missing.
    HoursError
        If there is no such service.
    """
    if name not in FORECASTS:
        raise HoursError(f"no forecast source '{name}'; {did_you_mean(name, FORECASTS)}")
    source = FORECASTS[name]
    return from_answer(source, source.fetch(web, site))


def from_answer(source: Source, answer: Answer) -> HourlyTable:
    """Return the table of a service's answer, which says when it was fetched and if it is stale."""
    table = _named(table_of(source, answer), source.NAME)
    told = replace(
        table.provenance,
        retrieved=answer.retrieved,
        stale=answer.stale,
        notes=(*table.provenance.notes, *answer.notes),
    )
    return replace(table, provenance=told)


def table_of(source: Source, answer: Answer, place: str | None = None) -> HourlyTable:
    """Return the table in a service's answer, of another place if one is given.

    It is the one that the check of the answer read. Only its place is another: the check has none.
    """
    place = answer.place if place is None else place
    if not isinstance(answer.checked, HourlyTable):
        return source.parse(answer.content, place)
    return replace(answer.checked, provenance=replace(answer.checked.provenance, place=place))


def _named(table: HourlyTable, name: str) -> HourlyTable:
    return replace(table, provenance=replace(table.provenance, read_as=name))


def _named_source(name: str) -> Source:
    for source in SOURCES:
        if name == source.NAME:
            return source
    raise HoursError(f"no weather format '{name}'; {did_you_mean(name, FORMATS)}")


def _unpacked(content: bytes, place: str) -> bytes:
    if not content.startswith(_GZIP):
        return content
    try:
        return gzip.decompress(content)
    except (OSError, EOFError, zlib.error):
        raise HoursError(
            f"{place}: the compressed file is broken or ends too early; copy or fetch it again"
        ) from None


def _recognised(content: bytes, place: str) -> Source:
    text = content.decode("utf-8-sig", errors="replace")
    head = text.lstrip() if text.lstrip().startswith("{") else _without_remarks(text)
    if not head.strip():
        raise HoursError(
            f"{place}: there is nothing below the # lines; add a header and hourly rows"
        )
    for source in SOURCES:
        if source.recognises(head):
            return source
    raise HoursError(
        f"{place}: not a weather file of a known kind, since it begins with {_shown(head)}; "
        "dewgap weather sources lists the kinds, and a logger's table needs --mapping"
    )


def _without_remarks(text: str) -> str:
    """Return the first 4,000 characters that follow blank lines and lines with #."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    start = 0
    while start < len(text):
        end = text.find("\n", start)
        end = len(text) if end < 0 else end + 1
        line = text[start:end].strip()
        if line and not line.startswith("#"):
            break
        start = end
    return text[start : start + 4000]


def _shown(head: str) -> str:
    line = head.strip().splitlines()[0]
    if not line.isprintable():
        return "bytes that are no text"
    return repr(line if len(line) <= 60 else f"{line[:57]}...")

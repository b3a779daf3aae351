"""Weather sources, one file each: every module turns bytes into the canonical table.

A source module has ``NAME``, ``HELP``, ``recognises(head)`` and ``parse(content, place)``. It says
which hour its labels mean and moves them to row ``T`` = ``[T, T + 1 h)``. To add one: write the
module and name it in `SOURCES`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Protocol, cast

from windows.errors import HoursError
from windows.sources import canonical_csv, csv_cells, epw

if TYPE_CHECKING:
    from windows.hours import HourlyTable

__all__ = ["SOURCES", "Source", "read_weather"]


class Source(Protocol):
    """What a source module offers."""

    NAME: str
    HELP: str

    def recognises(self, head: str) -> bool:
        """Tell from the first 4,000 characters below any # lines whether it is this source's."""

    def parse(self, content: bytes, place: str) -> HourlyTable:
        """Return the canonical table, or raise HoursError naming ``place``."""


SOURCES: tuple[Source, ...] = (cast("Source", epw), cast("Source", canonical_csv))


def read_weather(path: Path | str) -> HourlyTable:
    """Read a weather file of any known source, told by its content.

    Raises
    ------
    HoursError
        If the file is missing, empty, unreadable, of no known source, or has a fault.
    """
    place = str(path)
    content = csv_cells.content_of(path, "weather file")
    text = content.decode("utf-8-sig", errors="replace")
    if not text.strip():
        raise HoursError(f"{place}: the file is empty; give a table with a header and hourly rows")
    head = _without_remarks(text)
    if not head.strip():
        raise HoursError(
            f"{place}: there is nothing below the # lines; add a header and hourly rows"
        )
    for source in SOURCES:
        if source.recognises(head):
            return source.parse(content, place)
    known = " or ".join(f"{source.NAME} ({source.HELP})" for source in SOURCES)
    raise HoursError(
        f"{place}: not a weather file of a known kind, since it begins with {_shown(head)}; "
        f"give {known}"
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

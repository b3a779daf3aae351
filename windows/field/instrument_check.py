"""The instruments of a log: which there were at a moment, and what their calibration lacks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.log.entries import Instrument

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date, datetime

    from windows.log.entries import Entry

__all__ = ["instrument_flags", "instruments_at"]


def instrument_flags(
    serials: Sequence[str], instruments: Mapping[str, Instrument], on: date
) -> list[str]:
    """Say what the log does not tell of the calibration of instruments, or what is overdue."""
    if not serials:
        return ["No instrument is named, so its calibration is not known."]
    return [
        f"Instrument '{serial}' {fault}."
        for serial in dict.fromkeys(serials)
        if (fault := _instrument_fault(instruments.get(serial), on))
    ]


def _instrument_fault(instrument: Instrument | None, on: date) -> str:
    if instrument is None:
        return "is not in the log, so its calibration is not known"
    if instrument.calibrated is None:
        return "has no day of calibration in the log"
    if on < instrument.calibrated:
        return f"was calibrated on {instrument.calibrated}, after this was read"
    if instrument.due is None:
        return "has no day in the log on which its calibration is due"
    if on > instrument.due:
        return f"was due for calibration on {instrument.due}"
    return ""


def instruments_at(entries: Iterable[Entry], at: datetime) -> dict[str, Instrument]:
    """Return the instruments of a log by serial number, as they stood at a moment.

    Of one that was entered more than once, the last entry up to then counts; one entered only
    afterwards counts as it was entered first.
    """
    found: dict[str, Instrument] = {}
    of_instruments = [entry for entry in entries if isinstance(entry.body, Instrument)]
    for entry in sorted(of_instruments, key=lambda each: (each.at, each.number)):
        body = entry.body
        assert isinstance(body, Instrument)  # others were passed over
        if body.serial not in found or body.at <= at:
            found[body.serial] = body
    return found

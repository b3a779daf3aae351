"""What a reader should know about a site and its weather before trusting the hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.safety import safety_notes

if TYPE_CHECKING:
    from windows.hours import HourlyTable
    from windows.site import Site

__all__ = ["site_notes", "weather_notes"]


def site_notes(site: Site, hours: HourlyTable) -> list[str]:
    """Return what speaks for care with a site and its weather."""
    told = [*site.warnings, *safety_notes(site), *weather_notes(hours)]
    return [site.note, *told] if site.note else told


def weather_notes(hours: HourlyTable) -> list[str]:
    """Return what speaks for care with hours, each note once: a file may hold some again."""
    return list(dict.fromkeys((*hours.warnings, *hours.provenance.notes)))

"""The desk at which entries are made: a job, its log, and the weather of the hour.

What is entered is checked against all that is known and written down with what the checks tell.
Weather that cannot be had keeps nobody from writing: its absence is told.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd

from cure_models.coating import resolve
from cure_models.toml_input import validated
from windows.errors import (
    DewgapError,
    HoursError,
    LogError,
    LogMovedError,
    SourceError,
    did_you_mean,
)
from windows.field.beside import beside, is_corrected, model_key, top_of
from windows.field.choose import layer_number
from windows.field.due import Due, due
from windows.field.entry_checks import (
    check_other,
    check_placement,
    check_reading,
    instruments_at,
    unlaid_flags,
)
from windows.field.lessons import taught
from windows.field.rain_check import RAIN_SPAN, rain_flags
from windows.field.record import record
from windows.field.rules import field_rules
from windows.fields import local_moment
from windows.job_file import JobFile, load_job, log_of, same_hours
from windows.layers import SystemHours, system_hours
from windows.log.chain import FIRST, linked
from windows.log.entries import (
    KINDS,
    Draft,
    Instrument,
    Opening,
    Placement,
    Preparation,
    Rain,
    Reading,
)
from windows.log.photos import photo_of
from windows.log.store import FieldLog, begin_log, open_log
from windows.system_check import system_for
from windows.weather import weather_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

    from cure_models.coating import Coating
    from cure_models.system import Layer, System
    from windows.field.record_result import Record
    from windows.hours import HourlyTable
    from windows.job_file import Section
    from windows.log.entries import Beside, Body, Entry
    from windows.site import Site
    from windows.weather_choice import WeatherChoice

__all__ = [
    "Desk", "at_log", "desk", "due_now", "enter", "entry_at", "flagged", "laid_by_file",
    "layers_laid", "opening", "readings_due", "record_of", "with_beside",
]  # fmt: skip

Written = TypeVar("Written")

_NEAR = pd.Timedelta(days=1)
"""Readings so near a day are looked at for it."""


@dataclass(frozen=True)
class Desk:
    """A job and its log; ``without`` tells why no weather is at hand, empty where none was asked.

    ``log`` need not be there yet: the first entry begins it. ``weather`` is as its source gave it,
    to stand beside readings, and to check entries in; with ``corrected`` the layers are in it as
    readings have taught it, as they are for `cover` and plan.
    """

    folder: Path
    log: Path
    site: Site
    job: JobFile
    system: System
    now: pd.Timestamp
    weather: HourlyTable | None
    without: str
    corrected: bool = False

    def section(self, name: str) -> Section:
        """Return a section of the job by name.

        Raises
        ------
        LogError
            If there is none of this name.
        """
        for section in self.job.section:
            if section.name == name:
                return section
        names = [section.name for section in self.job.section]
        mend = did_you_mean(name, names) if names else "name the sections in it: [[section]]"
        raise LogError(f"{self.job.where}: there is no section '{name}'; {mend}")

    def layer(self, name: str) -> Layer:
        """Return a layer of the system by its number or name.

        Raises
        ------
        DewgapError
            If there is none.
        """
        return self.system.layers[self.system.number(name)]

    @cached_property
    def coatings(self) -> tuple[Coating, ...]:
        """The coating of each layer, with its limits by the site's method."""
        layers = zip(self.system.layers, self.system.profiles, strict=True)
        return tuple(
            resolve(profile, method=self.site.method, dry_film_um=layer.dry_film.si)
            for layer, profile in layers
        )

    @cached_property
    def in_weather(self) -> SystemHours | None:
        """The layers of the system in the weather at hand."""
        if self.weather is None:
            return None
        site, hours = self.site, self.weather
        if self.corrected:
            site, hours = taught(self.log, site, hours, self.now)
        return system_hours(site, self.system, hours)


def desk(
    site_path: Path,
    site: Site,
    job_path: Path | None,
    now: pd.Timestamp,
    choice: WeatherChoice | None = None,
) -> Desk:
    """Return the desk of a job.

    Parameters
    ----------
    site_path, site
        Where the site file is, and what it says.
    job_path
        The job file, else ``job.toml`` beside the site file.
    now
        The present.
    choice
        The weather to look at; None for what needs none.

    Raises
    ------
    DewgapError
        If there is no job file, or something is wrong with it, its system or its log.
    """
    job = load_job(site_path, job_path, losses=True)
    if not job.where:
        raise LogError(
            f"{site_path}: there is no job.toml beside the site file, and a log is that of a job; "
            "write one that names the system and the sections"
        )
    folder = site_path if os.path.isdir(site_path) else site_path.parent
    weather, without = _weather(site, folder, choice, now)
    log = log_of(site_path, job_path)
    return Desk(log.parent, log, site, job, system_for(job, None), now, weather, without)


def _weather(
    site: Site, folder: Path, choice: WeatherChoice | None, now: pd.Timestamp
) -> tuple[HourlyTable | None, str]:
    """Return the weather at hand, or why there is none.

    A service that does not answer keeps nobody from writing, nor a file beside the site; a name
    that was given wrong is a slip to be mended first.
    """
    if choice is None:
        return None, ""
    named = choice.file is not None or choice.source is not None
    try:
        hours = weather_of(site, choice, folder / "weather.csv", now)
        if is_corrected(hours):
            raise HoursError(
                f"{hours.provenance.place}: readings have corrected this weather already; give it "
                "as its source had it"
            )
    except DewgapError as fault:
        if named and not isinstance(fault, SourceError):
            raise
        return None, f"the weather cannot be had, and the entry stands without it: {fault}"
    return hours, ""


def enter(
    at: Desk,
    kind: type[Body],
    fields: dict[str, Any],
    photos: Sequence[Path],
    author: str,
    corrects: int | None,
) -> Entry:
    """Write one entry, with its flags, and return it as it stands in the log.

    Raises
    ------
    LogError
        If a field has a fault, a photo lies outside the job's folder, or the log cannot take it;
        nothing is written then.
    """
    pictures = [photo_of(at.folder, path) for path in photos]
    told = {name: _plain(value) for name, value in fields.items()} | {"photos": pictures}
    body = validated(kind, told, f"this {kind.kind.replace('_', ' ')}", LogError)
    known = _known(at.log, body)
    before = [e for e in known if e.number != corrects]
    by_file = laid_by_file(at, [body, *(e.body for e in known)])
    if isinstance(body, Reading):
        (body,) = with_beside(at, [body], [*before, *by_file])
    body = flagged(at, body, [*before, *by_file])
    draft = Draft(author, body, corrects)
    return at_log(at, author, lambda log: log.append([draft])[0])


def at_log(
    at: Desk, author: str, work: Callable[[FieldLog], Written], *, opens: bool = True
) -> Written:
    """Do work that writes to the log, which is begun here if there is none.

    Another program may begin it, or write to it, at the same time: then it is all done anew. A log
    that is begun gets its name when all of the work is written, and is not there if that fails.

    Parameters
    ----------
    at, author
        Which log, and who begins it.
    work
        Writes to a log, and raises `LogMovedError` if others wrote since it looked.
    opens
        Whether a log that is begun gets an opening; entries of an export have their own.
    """
    for _ in range(_TRIES):
        try:
            return _once(at, author, work, opens=opens)
        except LogMovedError:
            continue
    return _once(at, author, work, opens=opens)


_TRIES = 4


def _once(
    at: Desk, author: str, work: Callable[[FieldLog], Written], *, opens: bool
) -> Written:
    if os.path.lexists(at.log):
        with open_log(at.log) as log:
            return work(log)
    first = [Draft(author, opening(at))] if opens else []
    with begin_log(at.log, first) as log:
        return work(log)


def entry_at(at: Desk, number: int) -> datetime:
    """Return when what an entry tells of was; the present if there is no such entry."""
    if os.path.exists(at.log):
        with open_log(at.log, read_only=True) as log:
            found = log.get(number)
        if found is not None:
            return found.at
    return at.now.to_pydatetime()


def opening(at: Desk) -> Opening:
    """Return the first entry of a job's log."""
    from uuid import uuid4

    return Opening(
        at=at.now.to_pydatetime(), log=uuid4().hex, site=at.site.name, zone=at.site.zone.key,
        system=at.system.name,
    )  # fmt: skip


def _plain(value: Any) -> Any:
    """Return a field as an entry takes it."""
    return value.to_pydatetime() if isinstance(value, pd.Timestamp) else value


def _known(log: Path, body: Body) -> list[Entry]:
    """Return what stands and has a part in the checks of what is to be entered."""
    if not os.path.exists(log):
        return []
    ask = pd.Timedelta(hours=field_rules().beside_h)
    with open_log(log, read_only=True) as opened:
        found = list(
            opened.entries(Placement.kind, Preparation.kind, Instrument.kind, standing=True)
        )
        if isinstance(body, Placement):
            found += opened.entries(
                Reading.kind, start=body.at - ask, end=body.end, standing=True
            )
            found += opened.entries(
                Rain.kind, start=body.at, end=body.end + RAIN_SPAN, standing=True
            )
    return found


def laid_by_file(at: Desk, logged: Iterable[Body]) -> list[Entry]:
    """Return what only the job file has laid, as entries that the log does not have (number 0).

    ``logged`` is what the log has, what is being entered or corrected with it: the same work in
    both, to the minute, is one.
    """
    had = [
        (body.section, body.layer, body.at, body.end)
        for body in logged
        if isinstance(body, Placement)
    ]
    # What the log had and has no more is its own matter as well.
    had += [(told.section, told.layer, told.start, told.end) for told in at.job.logged]
    found = []
    for placed in at.job.placed:
        layer = at.layer(placed.layer)
        start, end = (local_moment(t, at.site.zone) for t in (placed.start, placed.end))
        body = Placement(
            at=start.to_pydatetime(), end=end.to_pydatetime(), section=placed.section,
            layer=layer.name, area_m2=placed.area or at.section(placed.section).area,
        )  # fmt: skip
        if not any(_same_work(at.system, body, *other) for other in had):
            found.append(linked(Draft("job file", body), 0, body.end, FIRST))
    return found


def _same_work(
    system: System, one: Placement, section: str, layer: str, start: datetime, end: datetime
) -> bool:
    return (
        one.section == section
        and layer_number(system, layer) == system.number(one.layer)
        and same_hours((one.at, one.end), (start, end))
    )


def with_beside(at: Desk, readings: Sequence[Reading], before: Sequence[Entry]) -> list[Reading]:
    """Return readings with what the source and the model say of their hours, where they do.

    The surface is that of the layer which lay there, by the placements in ``before``.
    """
    if at.weather is None:
        return list(readings)
    laid = [layers_laid(at.system, reading, before) for reading in readings]
    told: list[Beside | None] = [None] * len(readings)
    for layers in set(laid):
        some = [n for n, each in enumerate(laid) if each == layers]
        top = top_of(at.site, at.system, layers)
        found = beside(
            [readings[n].at for n in some], at.weather, top, model=model_key(at.site)
        )
        for n, each in zip(some, found, strict=True):
            told[n] = each
    return [
        reading.model_copy(update={"beside": each})
        for reading, each in zip(readings, told, strict=True)
    ]


def layers_laid(system: System, reading: Reading, before: Sequence[Entry]) -> int:
    """Return how many layers lay where and when a reading was taken; none on no known section."""
    laid = [
        system.number(entry.body.layer) + 1
        for entry in before
        if isinstance(entry.body, Placement)
        and entry.body.section == reading.section
        and entry.body.end <= reading.at
    ]
    return max(laid, default=0)


def flagged(at: Desk, body: Body, before: Sequence[Entry]) -> Body:
    """Return what is to be entered with what the checks tell of it."""
    instruments = instruments_at(before, body.at)
    on = pd.Timestamp(body.at).tz_convert(at.site.zone).date()
    areas = {section.name: section.area for section in at.job.section}
    if isinstance(body, Reading):
        flags = check_reading(body, gates=_next(at, body, before), instruments=instruments, on=on)
    elif isinstance(body, Placement):
        flags = check_placement(
            body, site=at.site, system=at.system, layer=at.system.number(body.layer),
            material=at.job.material, section_m2=areas.get(body.section), before=before,
            in_weather=at.in_weather, instruments=instruments, now=at.now.to_pydatetime(),
        )  # fmt: skip
    elif isinstance(body, Rain):
        flags = rain_flags(
            body, site=at.site, system=at.system, areas=areas, before=before,
            in_weather=at.in_weather,
        )  # fmt: skip
    else:
        flags = check_other(body, system=at.system, instruments=instruments, on=on)
        flags += unlaid_flags(body, system=at.system, before=before)
    return body.model_copy(update={"flags": tuple(dict.fromkeys(flags))})


def _next(at: Desk, reading: Reading, before: Sequence[Entry]) -> Coating | None:
    """Return the coating that comes next where a reading was taken, with its limits."""
    number = layers_laid(at.system, reading, before)
    return at.coatings[number] if number < len(at.coatings) else None


def readings_due(at: Desk) -> tuple[Due, ...]:
    """Return the readings that today's work asks for, with those that meet them.

    Raises
    ------
    LogError
        If the log cannot be read.
    """
    if not os.path.exists(at.log):
        return ()
    today = at.now.tz_convert(at.site.zone).normalize()
    start, end = (each - _NEAR * sign for each, sign in ((today, 1), (today, -2)))
    with open_log(at.log, read_only=True) as log:
        placements = list(log.entries(Placement.kind, start=start, end=end, standing=True))
        readings = list(log.entries(Reading.kind, start=start, end=end, standing=True))
    found = due(placements, readings, zone=at.site.zone, now=at.now.to_pydatetime())
    # Of today's work, and of last night's that has gone on into today.
    return tuple(each for each in found if each.day == today.date() or _within(today, each))


def _within(today: pd.Timestamp, each: Due) -> bool:
    """Tell whether what is due of an earlier day's work reaches into a day."""
    return each.day < today.date() and each.end > today.to_pydatetime()


def due_now(at: Desk) -> tuple[Due, ...]:
    """Return those of the readings due today that are missing."""
    return tuple(each for each in readings_due(at) if each.met_by is None)


def record_of(at: Desk, day: date | None) -> Record:
    """Return the application record of a local day, or of the whole job.

    Raises
    ------
    LogError
        If there is no log, or it cannot be read.
    """
    if day is not None and day > at.now.tz_convert(at.site.zone).date():
        raise LogError(f"{day} is still to come; make the record of a day that is over or begun")
    start, end = (
        None if day is None
        else datetime.combine(day + timedelta(days=n), time(), at.site.zone)
        for n in (-1, 2)
    )  # fmt: skip
    others = [kind for kind in KINDS if kind != Reading.kind]
    with open_log(at.log, read_only=True) as log:
        entries = {entry.number: entry for entry in log.entries(*others)}
        some = log.entries(Reading.kind, start=start, end=end)
        entries |= {entry.number: entry for entry in some}
        # What was corrected is told with what stands for it, whenever that was.
        entries |= {entry.number: entry for entry in log.corrections()}
        head = log.head
    return record(
        list(entries.values()), site=at.site, system=at.system, job=at.job,
        now=at.now.to_pydatetime(), day=day, head=head, in_weather=at.in_weather,
    )  # fmt: skip

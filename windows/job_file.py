"""The job file: the sections of a roof, its substrate, the crew's rates, and what is laid already.

It stands beside the site file, as ``job.toml``. Times without an offset are by the site's clock.
What the field log beside it says is laid counts as if the file had it.
"""

from __future__ import annotations

import os
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StrictStr,
    model_validator,
)

from cure_models.profile import FAMILIES
from cure_models.system import SUBSTRATES, System
from cure_models.toml_input import parse_toml, read_text, validated
from cure_models.units import from_si
from windows.errors import DewgapError, SiteError, did_you_mean
from windows.fields import Moment, Weekday, local_moment, quantity
from windows.log.laid import FILE, Laid, laid_in

if TYPE_CHECKING:
    import pandas as pd

    from windows.site import Site

__all__ = [
    "WHOLE",
    "Crew",
    "JobFile",
    "Material",
    "Piece",
    "Prices",
    "Record",
    "equal_pieces",
    "load_job",
    "log_of",
    "one_record",
    "pieces",
    "plain_name",
    "roof_kind",
    "same_hours",
    "system_of",
    "with_extra_days",
]


_MOST_M2 = 1e6
_MOST_PIECES = 400
WHOLE = 0.995
"""An area of so much of another is all of it: figures from the roof are rounded."""
_MINUTE = timedelta(minutes=1)


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


def _text(number: object) -> object:
    """Take a layer's number as well as its name."""
    is_number = isinstance(number, int) and not isinstance(number, bool)
    return str(number) if is_number else number


Price = Annotated[float, Field(strict=True, ge=0, le=1e6)]
LayerName = Annotated[StrictStr, BeforeValidator(_text)]


def plain_name(name: str) -> str:
    """Return a name as the log has it too: in one Unicode form, without spaces around it."""
    return unicodedata.normalize("NFC", name).strip()


SectionName = Annotated[StrictStr, AfterValidator(plain_name)]


class Section(_Table):
    """A part of the roof that is coated at once; ``access_over`` names those one walks over."""

    name: SectionName
    area: Annotated[float, quantity("area", 0, _MOST_M2, above=True)]
    access_over: tuple[SectionName, ...] = ()


class Placed(_Table):
    """A layer that is laid, on a section or on a part of it.

    ``prepared`` is when a layer that was late has been prepared again as its maker says: its
    deadlines count from then.
    """

    section: SectionName
    layer: LayerName
    start: Moment
    end: Moment
    prepared: Moment | None = None
    area: Annotated[float, quantity("area", 0, _MOST_M2, above=True)] | None = None


def _kind(name: str) -> str:
    known = (*SUBSTRATES, *FAMILIES)
    if name not in known:
        raise ValueError(f"'{name}' is no roof; {did_you_mean(name, known)}")
    return name


class Ground(_Table):
    """The roof below the first layer, and what somebody measured of its moisture.

    A film that holds moisture in is laid only over a reading at most its limit, and only until rain
    falls after it; ``dry_out`` is how long after rain the roof counts as dry again.
    """

    kind: Annotated[StrictStr, AfterValidator(_kind)]
    moisture: Annotated[float, quantity("fraction", 0, 1)] | None = None
    moisture_limit: Annotated[float, quantity("fraction", 0, 1)] | None = None
    method: StrictStr = ""
    read_at: Moment | None = None
    dry_out: Annotated[float, quantity("time", 0)] | None = None

    @model_validator(mode="after")
    def _sound(self) -> Self:
        given = (self.moisture, self.moisture_limit, self.read_at)
        if any(each is not None for each in given) and None in given:
            raise ValueError("moisture, moisture_limit and read_at belong together; give all three")
        if self.moisture is not None and not self.method:
            raise ValueError("method is missing; say how the moisture was measured")
        return self


class Crew(_Table):
    """How fast a crew lays: rates by layer, else what its pump spreads; and the time around it.

    The defaults are our own choice: a pump of 2 gal/min of which a third reaches the roof.
    """

    rates: dict[LayerName, Annotated[float, quantity("work_rate", 0.1, _MOST_M2)]] = {}
    pump: Annotated[float, quantity("flow", 0.01, 1000)] = 2 * 3.785411784
    trigger_share: Annotated[float, Field(strict=True, gt=0, le=1)] = 0.35
    set_up: Annotated[float, quantity("time", 0, 24)] = 0.5
    clean_up: Annotated[float, quantity("time", 0, 24)] = 0.5
    move: Annotated[float, quantity("time", 0, 24)] = 0.5
    open_area: Annotated[float, quantity("area", 0, above=True)] | None = None
    extra_days: tuple[Weekday, ...] = ()
    extra_days_only_after_rain: StrictBool = False


class Prices(_Table):
    """What the plan weighs, in money of any one currency; our own choice, illustrative."""

    day: Price = 1500.0
    extra_day: Price = 2000.0
    move: Price = 100.0
    exposure_1000ft2_day: Price = 20.0
    no_spare: Price = 1500.0
    change: Price = 100.0


class Material(_Table):
    """Losses, texture and containers of the take-off; our own choice for airless spray."""

    loss: Annotated[float, Field(strict=True, ge=0, lt=1)] = 0.10
    texture: Annotated[float, Field(strict=True, ge=1, le=3)] = 1.0
    fabric_laps: Annotated[float, Field(strict=True, ge=0, le=1)] = 0.10
    container: Annotated[float, quantity("volume", 0, above=True)] = 5 * 3.785411784


class JobFile(_Table):
    """A job, checked for what its file alone can tell. See `load_job`.

    ``needs`` is equipment that a crew has to bring, ``late_day`` what a day's delay costs. [money]
    ``logged`` is what the field log says was laid, what no longer stands too.
    """

    system: StrictStr | None = None
    note: StrictStr = ""
    needs: tuple[StrictStr, ...] = ()
    late_day: Price | None = None
    substrate: Ground | None = None
    section: tuple[Section, ...] = ()
    placed: tuple[Placed, ...] = ()
    crew: Crew = Crew()
    prices: Prices = Prices()
    material: Material = Material()
    where: Annotated[StrictStr, Field(exclude=True)] = ""
    logged: Annotated[tuple[Laid, ...], Field(exclude=True)] = ()

    @property
    def has_laid(self) -> bool:
        """Whether the file or the log has something laid."""
        return bool(self.placed) or any(told.stands for told in self.logged)

    @model_validator(mode="after")
    def _sound(self) -> Self:
        names = [section.name for section in self.section]
        for section in self.section:
            if not section.name.strip() or not section.name.isprintable():
                raise ValueError(f"a section is named {section.name!r}; give it a name on one line")
            if " part " in section.name:
                raise ValueError(
                    f"section '{section.name}': so are the parts of a half-laid section named; "
                    "choose another name, without ' part '"
                )
            if names.count(section.name) > 1:
                raise ValueError(f"two sections are named '{section.name}'; rename one")
            for over in section.access_over:
                if over == section.name:
                    raise ValueError(f"section '{over}' names itself in access_over; delete it")
                if over not in names:
                    raise ValueError(
                        f"section '{section.name}': access_over names '{over}', which is no other "
                        f"section; {did_you_mean(over, names)}"
                    )
        for placed in self.placed:
            if placed.section not in names:
                raise ValueError(
                    f"a placement names section '{placed.section}'; "
                    f"{did_you_mean(placed.section, names)}"
                )
        return self


@dataclass(frozen=True)
class Record:
    """A layer that is laid on a piece: its number from 0, and when. UTC.

    Deadlines count from ``start``, or from ``prepared`` where it has been prepared again.
    """

    layer: int
    start: pd.Timestamp
    end: pd.Timestamp
    prepared: pd.Timestamp | None = None


@dataclass(frozen=True)
class Piece:
    """A section, or the part of one, with clocks of its own. [m2]"""

    name: str
    section: str
    area_m2: float
    access_over: tuple[str, ...]
    laid: tuple[Record, ...]

    @property
    def next_layer(self) -> int:
        """Number, from 0, of the first layer that is not laid."""
        return len(self.laid)


def roof_kind(name: str, option: str) -> str:
    """Return a kind of roof as an option names it.

    Raises
    ------
    SiteError
        If there is no such kind.
    """
    try:
        return _kind(name)
    except ValueError as fault:
        raise SiteError(f"{option}: {fault}") from None


def load_job(
    site_path: Path, file: Path | None = None, *, laid: bool = True, losses: bool = False
) -> JobFile:
    """Load the job file of a site: the one given, else ``job.toml`` beside the site file.

    A job without a file has no sections: its whole roof is still to be coated. Who does not ask
    what is ``laid`` needs no log; with ``losses`` one is read too of which entries were lost.

    Raises
    ------
    SiteError
        If the given file is missing, or a file has a fault.
    LogError
        If the log beside it cannot be read, or has losses: what is laid is then not known.
    """
    path = file or _folder(site_path) / "job.toml"
    if file is None and not os.path.exists(path):
        return JobFile()
    where = str(path)
    data = parse_toml(read_text(path, SiteError), where, SiteError)
    for key in ("where", "logged"):
        if key in data:
            raise SiteError(f"{where}: key '{key}' is not known; delete it")
    log = log_of(site_path, file)
    logged = laid_in(log, losses=losses) if laid and os.path.exists(log) else ()
    return validated(JobFile, {**data, "where": where, "logged": logged}, where, SiteError)


def log_of(site_path: Path, file: Path | None = None) -> Path:
    """Return where the field log of a job is: beside its job file, whether it is there or not."""
    return (_folder(site_path) if file is None else file.parent) / FILE


def _folder(site_path: Path) -> Path:
    return site_path if os.path.isdir(site_path) else site_path.parent


def with_extra_days(site: Site, job: JobFile) -> Site:
    """Return a site whose crew works on the job's extra days as well."""
    days = (*site.crew.work_days, *job.crew.extra_days)
    crew = site.crew.model_copy(update={"work_days": tuple(dict.fromkeys(days))})
    return site.model_copy(update={"crew": crew})


def system_of(job: JobFile, given: str | None) -> str:
    """Return the system of a job: the option's, else the file's own, a path as it stands to it.

    Raises
    ------
    SiteError
        If neither names one.
    """
    if given is not None:
        return given
    if job.system is None:
        if not job.where:
            raise SiteError("there is no job.toml beside the site file; give --system")
        raise SiteError(f"{job.where}: key 'system' is missing; add it, or give --system")
    own_file = job.system.endswith(".toml") or "/" in job.system
    return str(Path(job.where).parent / job.system) if own_file else job.system


def pieces(job: JobFile, system: System, site: Site, now: pd.Timestamp) -> tuple[Piece, ...]:
    """Return the pieces of a job: its sections, divided where only a part was laid.

    A placement that the file and the log both have, to the minute, is the log's: it counts once,
    and not at all where it was corrected or withdrawn there.

    Raises
    ------
    SiteError
        If a placement ends before it starts, lies in the future, repeats or skips a layer, names
        a section that the file has not, or if two overlap on one section.
    """
    where = job.where or "job.toml"
    names = [section.name for section in job.section]
    for told in job.logged:
        if told.stands and told.section not in names:
            raise SiteError(
                f"{where}: entry {told.number} of the log has '{told.layer}' laid on section "
                f"'{told.section}', which the file has not; add it, or correct the entry "
                f"({did_you_mean(told.section, names)})"
            )
    found: list[Piece] = []
    for section in job.section:
        here = [told for told in job.logged if told.section == section.name]
        gone = [told for told in here if not told.stands]
        logged = [_logged(t, section, system, site, where, now) for t in here if t.stands]
        placed = [
            _record(told, system, site, where, now)
            for told in job.placed
            if told.section == section.name
        ]
        once = [
            told
            for told in placed
            if not any(_was(told.record, log, system) for log in gone)
            and not any(_twice(told, log, section.area) for log in logged)
        ]
        laid = sorted(logged + once, key=lambda told: (told.record.layer, told.record.start))
        found += _divide(section, laid, system)
    return tuple(found)


@dataclass(frozen=True)
class _Told:
    """A record, its area (None: all that is ready), where it is told, and the log's number of it.

    The areas of a log are rounded.
    """

    record: Record
    area: float | None
    where: str
    entry: int | None = None


def same_hours(
    one: tuple[datetime, datetime], other: tuple[datetime, datetime]
) -> bool:
    """Tell whether two placements have the same start and end, to the minute."""
    return all(abs(a - b) < _MINUTE for a, b in zip(one, other, strict=True))


def _was(placed: Record, gone: Laid, system: System) -> bool:
    """Tell whether the log had the same work, and has it no more."""
    try:
        layer = system.number(gone.layer)
    except DewgapError:
        return False
    return layer == placed.layer and same_hours(
        (placed.start, placed.end), (gone.start, gone.end)
    )


def _twice(placed: _Told, logged: _Told, area_m2: float) -> bool:
    """Tell whether file and log tell of the same work.

    Raises
    ------
    SiteError
        If both tell of a layer at the same time, with other hours, and not of two parts.
    """
    one, other = placed.record, logged.record
    if one.layer != other.layer:
        return False
    if same_hours((one.start, one.end), (other.start, other.end)):
        return True
    parts = (placed.area or area_m2) + (logged.area or area_m2)
    if one.start < other.end and other.start < one.end and WHOLE * parts > area_m2:
        raise SiteError(
            f"{placed.where}: entry {logged.entry} of the log tells of the same work with other "
            "hours; delete the one in the job file, or correct the entry"
        )
    return False


def _record(
    placed: Placed, system: System, site: Site, where: str, now: pd.Timestamp
) -> _Told:
    told = f"{where}: section '{placed.section}', layer '{placed.layer}'"
    given = (placed.start, placed.end, placed.prepared)
    try:
        start, end, prepared = (None if t is None else local_moment(t, site.zone) for t in given)
    except ValueError as fault:
        raise SiteError(f"{told}: {fault}") from None
    assert start is not None  # the file has both
    assert end is not None
    try:
        record = one_record(system.number(placed.layer), start, end, prepared, now, site)
    except DewgapError as fault:
        raise SiteError(f"{told}: {fault}") from None
    return _Told(record, placed.area, told)


def _logged(
    told: Laid, section: Section, system: System, site: Site, where: str, now: pd.Timestamp
) -> _Told:
    """Return a placement of the log; one of nearly the whole section, or more, is of all of it."""
    named = f"{where}: entry {told.number} of the log, section '{told.section}'"
    times = (told.start, told.end, told.prepared)
    start, end, prepared = (None if t is None else local_moment(t, site.zone) for t in times)
    assert start is not None  # an entry has both
    assert end is not None
    try:
        record = one_record(system.number(told.layer), start, end, prepared, now, site)
    except DewgapError as fault:
        raise SiteError(f"{named}: {fault}") from None
    area = None if told.area_m2 >= WHOLE * section.area else told.area_m2
    return _Told(record, area, named, told.number)


def one_record(
    layer: int,
    start: pd.Timestamp,
    end: pd.Timestamp,
    prepared: pd.Timestamp | None,
    now: pd.Timestamp,
    site: Site,
) -> Record:
    """Return a placement, checked.

    Raises
    ------
    SiteError
        If it ends before it starts, lies in the future, or was prepared before it was laid.
    """

    def clock(when: pd.Timestamp) -> str:
        return f"{when.tz_convert(site.zone):%Y-%m-%d %H:%M}"

    if end <= start:
        raise SiteError(
            f"a placement from {clock(start)} to {clock(end)} ends before it starts; mend the times"
        )
    latest, what = (end, "ends") if prepared is None else (prepared, "was prepared again")
    if latest < end:
        raise SiteError(
            f"it was prepared again at {clock(latest)}, before its laying ended at {clock(end)}; "
            "mend the times"
        )
    if latest > now:
        raise SiteError(
            f"the placement {what} at {clock(latest)}, which is in the future (now is "
            f"{clock(now)}); record only what is done, or give --now"
        )
    return Record(layer, start, end, prepared)


def _divide(section: Section, laid: list[_Told], system: System) -> list[Piece]:
    """Return the parts of a section: a partial placement cuts off a piece with its own clock."""
    parts: list[tuple[float, tuple[Record, ...]]] = [(section.area, ())]
    for each in laid:
        record, told = each.record, each.where
        name = system.layers[record.layer].name
        below = [n for n, (_, done) in enumerate(parts) if len(done) == record.layer]
        ready = [n for n in below if all(under.end <= record.start for under in parts[n][1])]
        if below and not ready:
            under = system.layers[record.layer - 1].name
            raise SiteError(
                f"{told}: layer '{name}' starts before '{under}' below it ends; two placements "
                "overlap, mend the times"
            )
        if not ready:
            already = any(len(done) > record.layer for _, done in parts)
            why = (
                "is laid there already" if already
                else "comes before the layer below it is recorded"
            )  # fmt: skip
            raise SiteError(f"{told}: layer '{name}' {why}; mend the placements")
        there = sum(parts[n][0] for n in ready)
        left = there if each.area is None else each.area
        if each.entry is not None:
            left = _as_one_of(left, [there, *(parts[n][0] for n in ready)])
        if left > there * (1 + 1e-6):
            raise SiteError(
                f"{told}: layer '{name}' covers {_area(left)}, but what is ready for it has "
                f"{_area(there)}; mend the area"
            )
        # First the part of that size, so that it is recoated as it was laid; then those that hold
        # it; what covers several is cut off the last of them.
        ready.sort(key=lambda n: (abs(parts[n][0] - left) > 1e-6, parts[n][0] < left - 1e-6, n))
        cut: list[tuple[int, float]] = []
        for n in ready:
            size, done = parts[n]
            if left <= 1e-6 * section.area:
                break
            parts[n] = (min(left, size), (*done, record))
            if size - left > 1e-6 * size:
                cut.append((n, size - left))
            left -= parts[n][0]
        for n, rest in cut:
            parts.insert(n + 1, (rest, parts[n][1][:-1]))
    if len(parts) == 1:
        return [Piece(section.name, section.name, section.area, section.access_over, parts[0][1])]
    return [
        Piece(f"{section.name} part {n}", section.name, size, section.access_over, done)
        for n, (size, done) in enumerate(parts, start=1)
    ]


def _as_one_of(area_m2: float, sizes: list[float]) -> float:
    """Return the first of some sizes that an area, rounded on the roof, may stand for."""
    near = (size for size in sizes if abs(area_m2 - size) <= (1 - WHOLE) * size)
    return next(near, area_m2)


def _area(area_m2: float) -> str:
    return f"{from_si(area_m2, 'ft2'):,.1f} ft2"


def equal_pieces(area_m2: float, most_m2: float) -> tuple[Piece, ...]:
    """Return a roof without sections in equal pieces of at most ``most_m2``. [m2]

    Raises
    ------
    SiteError
        If these would be hundreds.
    """
    count = ceil(area_m2 / most_m2 - 1e-9)
    if count > _MOST_PIECES:
        raise SiteError(
            f"at this crew's pace the roof has {count} parts of the shortest window; give a faster "
            "rate (crew.rates), or sections of your own"
        )
    width = len(str(count))
    return tuple(
        Piece(f"S{n:0{width}d}", f"S{n:0{width}d}", area_m2 / count, (), ())
        for n in range(1, count + 1)
    )

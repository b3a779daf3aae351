"""The kinds of entry of a field log, and the fields of each: SI inside, times in UTC.

An entry is never changed. A correction is a new entry of the same kind that names the old one, a
withdrawal one that takes it back; what stands is what nobody has corrected or withdrawn since.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, StrictBool, model_validator

from windows.errors import LogError, did_you_mean
from windows.log.fields import (
    AirTemperature,
    Count,
    Day,
    Film,
    Hash,
    Line,
    Name,
    Number,
    Share,
    Speed,
    Temperature,
    Text,
    Utc,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "KINDS", "OCCASIONS", "Adhesion", "Beside", "Body", "Covering", "Draft", "DryFilm",
    "Entry", "Instrument", "Moisture", "Note", "Opening", "Photo", "Placement", "Preparation",
    "Rain", "Reading", "Repair", "WetFilm", "Withdrawal", "kinds_of", "standing",
]  # fmt: skip

_MOST_LISTED = 10_000

Occasion = Literal[
    "", "before start", "every 4 hours", "change", "after a stop", "finish", "logger", "other"
]
OCCASIONS: tuple[Occasion, ...] = tuple(each for each in get_args(Occasion) if each)
"""What readings are taken for, where that is told."""


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Photo(_Table):
    """A picture by reference: its file below the job's folder, its SHA-256 and its length."""

    file: Name
    sha256: Hash
    size: Count


class WetFilm(_Table):
    """One reading of a notch gauge: the last tooth that was wet, and where on the section. [um]"""

    film_um: Film
    where: Line = ""


class Beside(_Table):
    """What the weather source and the model say of the hour of a reading, uncorrected.

    ``offset_k`` is the site's own ``surface_offset`` with which the surface was worked out; no
    ``surface_temp_c`` where the weather has a sensor's in its place or leaves it unknown. ``model``
    is the key of the site's other numbers that it was worked out with, empty where nobody told it.
    """

    source: Line
    issued: Utc | None = None
    air_temp_c: AirTemperature | None = None
    dew_point_c: Temperature | None = None
    rel_humidity: Share | None = None
    wind_m_s: Speed | None = None
    surface_temp_c: Temperature | None = None
    offset_k: Number = 0.0
    model: Line = ""
    sun_up: StrictBool = False
    dry: StrictBool = False


class Body(_Table):
    """What every kind of entry has: when, what the checks told on entry, pictures."""

    kind: ClassVar[str] = ""
    at: Utc
    flags: Annotated[tuple[Text, ...], Field(max_length=100)] = ()
    photos: Annotated[tuple[Photo, ...], Field(max_length=1000)] = ()
    note: Text = ""


class _Span(Body):
    """Something that began ``at`` a time and ended, if it has an end."""

    end: Utc | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.end is not None and self.end <= self.at:
            raise ValueError(
                f"it ends at {self.end:%Y-%m-%dT%H:%MZ}, not after its start at "
                f"{self.at:%Y-%m-%dT%H:%MZ}; mend the times"
            )
        return self


class Opening(Body):
    """The first entry: which job it is. ``log`` is a number of its own, drawn at random."""

    kind: ClassVar[str] = "opening"
    log: Name
    site: Name
    zone: Name
    system: Line = ""


class Placement(_Span):
    """A layer laid on a section or a part of it, from ``at`` to ``end``; the film is wet. [m2, L]

    ``direction`` is that of the passes: coats are laid across each other.
    """

    kind: ClassVar[str] = "placement"
    end: Utc
    section: Name
    layer: Name
    coating: Line = ""
    area_m2: Annotated[Number, Field(gt=0, le=1e6)]
    volume_l: Annotated[Number, Field(gt=0, le=1e6)] | None = None
    wet_film: Annotated[tuple[WetFilm, ...], Field(max_length=_MOST_LISTED)] = ()
    batches: Annotated[tuple[Name, ...], Field(max_length=1000)] = ()
    crew: Line = ""
    method: Literal["", "spray", "roller", "brush", "squeegee", "trowel", "other"] = ""
    direction: Line = ""


class Preparation(Body):
    """A layer that was late, prepared again as its maker says: its deadlines count from then."""

    kind: ClassVar[str] = "preparation"
    section: Name
    layer: Name
    what: Text = ""


class Covering(_Span):
    """A cover laid over a layer, from ``at`` until it was taken off; it stops no clock."""

    kind: ClassVar[str] = "covering"
    section: Name
    layer: Line = ""
    what: Name


class Reading(Body):
    """Readings at one moment on the roof; ``dew_point_c`` only where an instrument told it."""

    kind: ClassVar[str] = "reading"
    section: Line = ""
    where: Line = ""
    air_temp_c: AirTemperature | None = None
    surface_temp_c: Temperature | None = None
    rel_humidity: Share | None = None
    dew_point_c: Temperature | None = None
    wind_m_s: Speed | None = None
    gust_m_s: Speed | None = None
    wind_from_deg: Annotated[Number, Field(ge=0, le=360)] | None = None
    cloud: Share | None = None
    instruments: Annotated[tuple[Name, ...], Field(max_length=20)] = ()
    occasion: Occasion = ""
    beside: Beside | None = None

    @model_validator(mode="after")
    def _something(self) -> Self:
        read = (self.air_temp_c, self.surface_temp_c, self.rel_humidity, self.dew_point_c,
                self.wind_m_s, self.gust_m_s, self.wind_from_deg, self.cloud)  # fmt: skip
        if all(value is None for value in read):
            raise ValueError("it has no value; give what was read, as the air temperature")
        return self


class Moisture(Body):
    """Moisture of the roof below, by a stated method, against the limit for it."""

    kind: ClassVar[str] = "moisture"
    section: Line = ""
    where: Line = ""
    moisture: Share
    limit: Share
    method: Name
    instruments: Annotated[tuple[Name, ...], Field(max_length=20)] = ()


class Adhesion(Body):
    """A test of adhesion: pulled off [kPa] or peeled [N/m], how it failed, whether it passes."""

    kind: ClassVar[str] = "adhesion"
    section: Line = ""
    layer: Line = ""
    where: Line = ""
    pull_off_kpa: Annotated[Number, Field(ge=0, le=1e5)] | None = None
    peel_n_m: Annotated[Number, Field(ge=0, le=1e6)] | None = None
    failure: Line = ""
    method: Name
    passes: StrictBool
    instruments: Annotated[tuple[Name, ...], Field(max_length=20)] = ()


class DryFilm(Body):
    """One measurement of dry film, by slit, core or gauge, where it was taken. [um]"""

    kind: ClassVar[str] = "dry_film"
    section: Name
    layer: Line = ""
    where: Line = ""
    film_um: Film
    method: Name
    instruments: Annotated[tuple[Name, ...], Field(max_length=20)] = ()


class Rain(_Span):
    """Rain that somebody saw, from ``at``; its amount where there is a gauge. [mm]"""

    kind: ClassVar[str] = "rain"
    section: Line = ""
    rain_mm: Annotated[Number, Field(ge=0, le=2000)] | None = None


class Note(Body):
    """Anything else worth keeping; the words are in ``note``."""

    kind: ClassVar[str] = "note"
    section: Line = ""
    layer: Line = ""

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not self.note and not self.photos:
            raise ValueError("a note is empty; give words or a photo")
        return self


class Instrument(Body):
    """An instrument, by its serial number, and the days of its calibration."""

    kind: ClassVar[str] = "instrument"
    serial: Name
    what: Name
    maker: Line = ""
    model: Line = ""
    calibrated: Day | None = None
    due: Day | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.calibrated is not None and self.due is not None and self.due < self.calibrated:
            raise ValueError(
                f"its calibration is due {self.due}, before it was made {self.calibrated}; "
                "mend the dates"
            )
        return self


class Withdrawal(Body):
    """An entry taken back, without another in its place; ``note`` says why."""

    kind: ClassVar[str] = "withdrawal"

    @model_validator(mode="after")
    def _why(self) -> Self:
        if not self.note:
            raise ValueError("it does not say why; give the reason")
        return self


class Repair(Body):
    """What was lost of a damaged log: first and last number of each hole; the file's SHA-256."""

    kind: ClassVar[str] = "repair"
    missing: Annotated[tuple[tuple[Count, Count], ...], Field(max_length=_MOST_LISTED)] = ()
    source_sha256: Hash

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        for first, last in self.missing:
            if not 1 <= first <= last:
                raise ValueError(f"{first} to {last} is no hole in a log; mend the numbers")
        return self


KINDS: dict[str, type[Body]] = {
    each.kind: each
    for each in (
        Opening, Placement, Preparation, Covering, Reading, Moisture, Adhesion, DryFilm, Rain, Note,
        Instrument, Withdrawal, Repair,
    )
}  # fmt: skip
"""Every kind of entry by its name."""


def kinds_of(names: Iterable[str]) -> tuple[str, ...]:
    """Return kinds by the names that people give.

    Raises
    ------
    LogError
        If there is no such kind.
    """
    told = [name.strip().replace("-", "_") for name in names]
    for name in told:
        if name not in KINDS:
            raise LogError(f"there is no kind of entry '{name}'; {did_you_mean(name, list(KINDS))}")
    return tuple(told)


@dataclass(frozen=True)
class Draft:
    """An entry that is still to be written; ``corrects`` is the number of the one it replaces."""

    author: str
    body: Body
    corrects: int | None = None


@dataclass(frozen=True)
class Entry:
    """An entry as it stands in the log: its number from 1, when and by whom it was written.

    ``previous`` is the hash of the entry before it, 64 zeros for the first: `windows.log.chain`.
    """

    number: int
    written: datetime
    author: str
    corrects: int | None
    body: Body
    previous: str
    hash: str

    @property
    def kind(self) -> str:
        """Name of its kind."""
        return self.body.kind

    @property
    def at(self) -> datetime:
        """When what it tells of was, or began."""
        return self.body.at


def standing(entries: Iterable[Entry]) -> list[Entry]:
    """Return the entries that stand: neither corrected nor withdrawn, in order of what they tell.

    Withdrawals themselves are left out.
    """
    told = list(entries)
    replaced = {entry.corrects for entry in told}
    return sorted(
        (e for e in told if e.number not in replaced and not isinstance(e.body, Withdrawal)),
        key=lambda entry: (entry.at, entry.number),
    )

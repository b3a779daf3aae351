"""The job file: the sections of a roof, its substrate, the crew's rates, and what is laid already.

It stands beside the site file, as ``job.toml``. Times without an offset are by the site's clock.
What the field log beside it says is laid counts as if the file had it.
"""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Self

from pydantic import AfterValidator, BeforeValidator, Field, StrictBool, StrictStr, model_validator

from cure_models.profile import FAMILIES
from cure_models.system import SUBSTRATES
from cure_models.toml_input import Table, is_own_file, parse_toml, read_text, validated
from cure_models.units import to_si
from windows.errors import SiteError, did_you_mean
from windows.fields import Moment, Weekday, quantity
from windows.log.laid import FILE, Laid, laid_in

if TYPE_CHECKING:
    from windows.site import Site

__all__ = [
    "Crew",
    "JobFile",
    "Material",
    "Prices",
    "load_job",
    "log_of",
    "plain_name",
    "roof_kind",
    "system_of",
    "with_extra_days",
]

_MOST_M2 = 1e6


def _text(number: object) -> object:
    """Take a layer's number as well as its name."""
    is_number = isinstance(number, int) and not isinstance(number, bool)
    return str(number) if is_number else number


Price = Annotated[float, Field(strict=True, ge=0, le=1e6)]
LayerName = Annotated[StrictStr, BeforeValidator(_text)]
WorkRate = Annotated[float, quantity("work_rate", 0.1, _MOST_M2)]


def plain_name(name: str) -> str:
    """Return a name as the log has it too: in one Unicode form, without spaces around it."""
    return unicodedata.normalize("NFC", name).strip()


SectionName = Annotated[StrictStr, AfterValidator(plain_name)]


class Section(Table):
    """A part of the roof that is coated at once; ``access_over`` names those one walks over."""

    name: SectionName
    area: Annotated[float, quantity("area", 0, _MOST_M2, above=True)]
    access_over: tuple[SectionName, ...] = ()


class Placed(Table):
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


class Ground(Table):
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


class Crew(Table):
    """How fast a crew lays: rates by layer, else what its pump spreads; and the time around it.

    The defaults are our own choice: a pump of 2 gal/min that sprays for a third of the hour, and
    half an hour each to set up, clean up and move.
    """

    rates: dict[LayerName, WorkRate] = Field(default_factory=dict)
    pump: Annotated[float, quantity("flow", 0.01, 1000)] = to_si(2.0, "gal/min")
    trigger_share: Annotated[float, Field(strict=True, gt=0, le=1)] = 0.35
    set_up: Annotated[float, quantity("time", 0, 24)] = 0.5
    clean_up: Annotated[float, quantity("time", 0, 24)] = 0.5
    move: Annotated[float, quantity("time", 0, 24)] = 0.5
    open_area: Annotated[float, quantity("area", 0, above=True)] | None = None
    extra_days: tuple[Weekday, ...] = ()
    extra_days_only_after_rain: StrictBool = False


class Prices(Table):
    """What the plan weighs, in money of any one currency; our own choice, illustrative."""

    day: Price = 1500.0
    extra_day: Price = 2000.0
    move: Price = 100.0
    exposure_1000ft2_day: Price = 20.0
    no_spare: Price = 1500.0
    change: Price = 100.0


class Material(Table):
    """Losses, texture and containers of the take-off; our own choice for airless spray."""

    loss: Annotated[float, Field(strict=True, ge=0, lt=1)] = 0.10
    texture: Annotated[float, Field(strict=True, ge=1, le=3)] = 1.0
    fabric_laps: Annotated[float, Field(strict=True, ge=0, le=1)] = 0.10
    container: Annotated[float, quantity("volume", 0, above=True)] = to_si(5.0, "gal")


class JobFile(Table):
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
    return str(Path(job.where).parent / job.system) if is_own_file(job.system) else job.system

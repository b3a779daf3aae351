"""The company file, ``board.toml``: crews, yard, drives, costs. A fault in it spares the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel, Field, StrictStr

from cure_models.profile import FAMILIES
from cure_models.toml_input import Table, parse_toml, read_text, validated
from cure_models.units import from_si, to_si
from windows.board.result import Fault
from windows.errors import SiteError, did_you_mean
from windows.fields import ClockTime, Day, Weekday, quantity
from windows.provenance import distance_km

if TYPE_CHECKING:
    from pathlib import Path

    from windows.site import Site

__all__ = [
    "FILE", "Company", "Costs", "CrewFile", "Drive", "Rules", "Yard", "load_company",
    "thousand_ft2",
]  # fmt: skip

FILE = "board.toml"


Money = Annotated[float, Field(strict=True, ge=0, le=1e7)]


def _family(name: str) -> str:
    if name not in FAMILIES:
        raise ValueError(f"'{name}' is no chemistry; {did_you_mean(name, FAMILIES)}")
    return name


def _one_line(name: str) -> str:
    if not name.strip() or not name.isprintable():
        raise ValueError(f"a crew is named {name!r}; give it a name on one line")
    return name


class Yard(Table):
    """Where crews start from."""

    latitude: Annotated[float, Field(strict=True, ge=-90, le=90)]
    longitude: Annotated[float, Field(strict=True, ge=-180, le=180)]


class CrewFile(Table):
    """A crew: what it may lay, what it brings, and when it works.

    Without ``skills`` it may lay all chemistries. Without ``start`` and ``end`` it keeps the hours
    of each site, and drives outside them; with them the drive both ways lies inside.
    """

    name: Annotated[StrictStr, AfterValidator(_one_line)]
    skills: tuple[Annotated[StrictStr, AfterValidator(_family)], ...] | None = None
    equipment: tuple[StrictStr, ...] = ()
    start: ClockTime | None = None
    end: ClockTime | None = None
    work_days: tuple[Weekday, ...] | None = None
    days_off: tuple[Day, ...] = ()
    yard: Yard | None = None

    def may_lay(self, family: str) -> bool:
        """Tell whether it may lay a chemistry."""
        return self.skills is None or family in self.skills


class Drive(Table):
    """How long drives take: great-circle distance times ``detour`` at ``speed``. Own choice.

    No crew is sent farther than ``most``, one way.
    """

    speed: Annotated[float, quantity("speed", 0.5, 60)] = to_si(40.0, "mph")
    detour: Annotated[float, Field(strict=True, ge=1, le=5)] = 1.3
    most: Annotated[float, quantity("time", 0, 24)] = 3.0


class Costs(Table):
    """What is weighed, in money of any one currency; all our own choice, illustrative.

    ``lost_1000ft2`` is a lost coat: material, labor and removal, 0.62 + 0.38 + 0.45 a square foot.
    ``wait_shift`` is a crew that stands by: 4 hours' pay of five people at 60, and half of a day's
    equipment at 650. It weighs in go or wait, as ``late_day`` does; not in where crews are sent.
    ``late_day`` is a day's delay, ``missed_1000ft2`` a deadline that passes: abrading and priming
    again. ``laid_1000ft2`` is what it is worth to have a layer laid now and
    not on a later day: a crew's shift spread over what it lays. ``promise`` is what every promise
    that is not kept has to gain at least.
    """

    lost_1000ft2: Money = 1450.0
    wait_shift: Money = 1525.0
    late_day: Money = 0.0
    missed_1000ft2: Money = 650.0
    laid_1000ft2: Money = 190.0
    later_1000ft2_day: Money = 5.0
    move: Money = 100.0
    drive_hour: Money = 300.0
    promise: Money = 500.0
    currency: Annotated[StrictStr, Field(max_length=8)] = "$"


class Rules(Table):
    """How far the board looks, and what it takes for granted. Own choice.

    A forecast older than ``stale_after`` is not used. A crew has to know ``call_off`` before it
    leaves whether it stays; work that must be decided before the next board is firm.
    What starts within ``promise`` of now is a promise to keep.
    """

    days: Annotated[int, Field(strict=True, ge=1, le=21)] = 10
    stale_after: Annotated[float, quantity("time", 1, 240)] = 24.0
    call_off: Annotated[float, quantity("time", 0, 72)] = 12.0
    promise: Annotated[float, quantity("time", 0, 240)] = 48.0


class Company(Table):
    """Crews and costs, checked. See `load_company`."""

    note: StrictStr = ""
    yard: Yard | None = None
    crew: tuple[CrewFile, ...] = ()
    drive: Drive = Drive()
    costs: Costs = Costs()
    board: Rules = Rules()

    def drive_h(self, crew: CrewFile, site: Site) -> float:
        """Return the drive from a crew's yard to a site, one way; 0 where no yard is told. [h]"""
        yard = crew.yard or self.yard
        if yard is None:
            return 0.0
        away = distance_km(yard.latitude, yard.longitude, site.latitude, site.longitude)
        return away * 1000 * self.drive.detour / self.drive.speed / 3600


_Model = TypeVar("_Model", bound=BaseModel)


def thousand_ft2(area_m2: float) -> float:
    """Return an area in 1,000 ft2, as prices are."""
    return from_si(area_m2, "ft2") / 1000


@dataclass(frozen=True)
class _Reader:
    """The tables of a company file, and the faults found in them so far."""

    where: str
    faults: list[Fault]

    def table(self, model: type[_Model], data: Any, name: str) -> _Model | None:
        """Return a table, checked; None and a fault if it is wrong."""
        place = f"{self.where}, {name}" if name else self.where
        if not isinstance(data, dict):
            self.faults.append(Fault(FILE, f"{place}: must be a table of keys; mend it"))
            return None
        try:
            return validated(model, data, place, SiteError)
        except SiteError as fault:
            self.faults.append(Fault(FILE, str(fault)))
            return None


def load_company(folder: Path) -> tuple[Company, tuple[Fault, ...], bool]:
    """Return the company of a folder, what is wrong with its file, and whether all crews are there.

    A crew or a table with a fault is left out, the others count. Without a file there is no crew.
    """
    path = folder / FILE
    where = str(path)
    try:
        data = parse_toml(read_text(path, SiteError), where, SiteError)
    except SiteError as fault:
        return Company(), (Fault(FILE, f"{fault}; without it there is no crew to send"),), False
    read = _Reader(where, [])
    given = data.pop("crew", [])
    crews = _crews(read, given)
    names = {str(each.get("name")) for each in given if isinstance(each, dict)} if isinstance(
        given, list
    ) else {""}  # fmt: skip
    whole = names <= {crew.name for crew in crews}
    tables: dict[str, Any] = {}
    for name, model in (("yard", Yard), ("drive", Drive), ("costs", Costs), ("board", Rules)):
        if name in data:
            made = read.table(model, data.pop(name), name)
            if made is not None:
                tables[name] = made
    rest = read.table(Company, data, "")
    note = "" if rest is None else rest.note
    if not crews:
        read.faults.append(
            Fault(FILE, f"{where}: there is no crew to send; add one as [[crew]] with its name")
        )
    return Company(note=note, crew=tuple(crews), **tables), tuple(read.faults), whole


def _crews(read: _Reader, data: Any) -> list[CrewFile]:
    """Return the crews that are sound, each name once."""
    if not isinstance(data, list):
        read.faults.append(Fault(FILE, f"{read.where}: write each crew as [[crew]]"))
        return []
    found: dict[str, CrewFile] = {}
    for number, each in enumerate(data, start=1):
        crew = read.table(CrewFile, each, f"crew {number}")
        if crew is None:
            continue
        if (crew.start is None) != (crew.end is None):
            read.faults.append(
                Fault(crew.name, f"{read.where}: crew '{crew.name}' has only one of start and end; "
                      "give both, or none to keep the hours of the site")
            )  # fmt: skip
            continue
        if crew.name in found:
            read.faults.append(
                Fault(crew.name, f"{read.where}: two crews are named '{crew.name}'; the second is "
                      "left out until one gets another name")
            )  # fmt: skip
            continue
        found[crew.name] = crew
    return list(found.values())

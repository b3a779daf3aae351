"""How much area a crew lays in an hour: as given, or what its pump spreads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cure_models.quantities import coverage
from windows.errors import SiteError
from windows.pieces import Piece, equal_pieces

if TYPE_CHECKING:
    from cure_models.system import System
    from windows.job_file import JobFile
    from windows.site import Site

__all__ = ["at_one_rate", "equal_parts", "parts_to_lay", "rate_m2_h", "work_hours"]


def equal_parts(system: System, area_m2: float, job: JobFile) -> tuple[Piece, ...]:
    """Return a roof without sections in equal parts.

    They are so small that the crew lays each layer of one in the shortest window of its coating.

    Raises
    ------
    SiteError
        See `rate_m2_h`, and if these would be hundreds.
    """
    most = min(
        rate_m2_h(system, n, job) / layer.area_share * profile.shortest_window_h
        for n, (layer, profile) in enumerate(zip(system.layers, system.profiles, strict=True))
    )
    return equal_pieces(area_m2, most)


def parts_to_lay(
    system: System, site: Site, job: JobFile, area_m2: float | None = None
) -> tuple[Piece, ...]:
    """Return the bare parts of a job: of the area asked, else the sections, else the whole roof.

    Raises
    ------
    SiteError
        See `equal_parts`.
    """
    if area_m2 is None and job.section:
        return tuple(Piece(s.name, s.name, s.area, s.access_over, ()) for s in job.section)
    return equal_parts(system, site.roof.area if area_m2 is None else area_m2, job)


def at_one_rate(job: JobFile, system: System, rate_m2_h: float) -> JobFile:
    """Return a job whose crew lays any layer at one rate."""
    rates = {layer.name: rate_m2_h for layer in system.layers}
    return job.model_copy(update={"crew": job.crew.model_copy(update={"rates": rates})})


def work_hours(system: System, layer: int, area_m2: float, job: JobFile) -> float:
    """Return how long the crew lays a layer of an area, strips by their share. [h]

    Raises
    ------
    SiteError
        See `rate_m2_h`.
    """
    return area_m2 * system.layers[layer].area_share / rate_m2_h(system, layer, job)


def rate_m2_h(system: System, layer: int, job: JobFile) -> float:
    """Return the area of a layer, from 0, that the crew lays in an hour. [m2/h]

    A rate that the job gives for the layer's name or number; else the flow of the pump in an hour
    times the share of the time in which it sprays, over the material that an area takes with its
    losses: for 2 gal/min, 35 % and 1.5 gal/100 ft2 that is 2,800 ft2/h.

    Raises
    ------
    SiteError
        If the coating has no solids by volume, as foam has none, and no rate is given; or if the
        job gives a rate for a layer that the system does not have.
    """
    names = {each.name: n for n, each in enumerate(system.layers)}
    names |= {str(n + 1): n for n in range(len(system.layers))}
    for name in job.crew.rates:
        if name not in names:
            raise SiteError(
                f"{job.where}: crew.rates names layer '{name}'; the layers of '{system.name}' are "
                + ", ".join(each.name for each in system.layers)
            )
    given = [rate for name, rate in job.crew.rates.items() if names[name] == layer]
    if given:
        return given[0]
    profile, film = system.profiles[layer], system.layers[layer].dry_film.si
    if "volume_solids" not in profile.film:
        raise SiteError(
            f"{job.where or 'job.toml'}: layer '{system.layers[layer].name}' ({profile.name}) is "
            f"not measured by its solids; give its rate, as in "
            f"crew.rates.{system.layers[layer].name} = \"1,500 ft2/h\""
        )
    wet_l_m2 = coverage(film, profile.film["volume_solids"].si, job.material.loss)
    return job.crew.pump * 60 * job.crew.trigger_share / (wet_l_m2 * job.material.texture)

"""Take-off: the material of a system, layer by layer, for an area."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from cure_models.quantities import coverage, dry_from_wet, wet_from_dry

if TYPE_CHECKING:
    from cure_models.system import System

__all__ = ["TakeOff", "take_off"]

_UP = 1e-9
"""A container that is full to rounding is not a second one."""


@dataclass(frozen=True)
class TakeOff:
    """The material of one layer on an area.

    Attributes
    ----------
    area_m2
        Area that the layer covers, before texture. [m2]
    wet_um, dry_um
        Film of one pass; ``dry_um`` is worked back from the wet film, as a check. [um]
    spread_l_m2
        Material in the film of all passes, without loss or texture. [L/m2]
    volume_l
        Material to take, with loss and texture. [L]
    containers
        Whole containers of it.
    fabric_m2
        Fabric with its laps. [m2]

    Foam has no solids by volume: it is told by ``foam_m3``, and its films and volume are None.
    """

    layer: int
    area_m2: float
    passes: int
    wet_um: float | None
    dry_um: float
    spread_l_m2: float | None
    volume_l: float | None
    containers: int | None
    fabric_m2: float
    foam_m3: float | None


def take_off(
    system: System,
    area_m2: float,
    *,
    loss: float = 0.0,
    texture: float = 1.0,
    fabric_laps: float = 0.0,
    container_l: float,
) -> tuple[TakeOff, ...]:
    """Return the material of each layer.

    Parameters
    ----------
    system
        The layers.
    area_m2
        In plan; strips take their share of it. [m2]
    loss
        Share of the material that does not end in the film: overspray, wind, what stays in the
        container. Divided by ``1 - loss``. [fraction]
    texture
        True surface over the area in plan: granules, corrugation, foam. [1 or more]
    fabric_laps
        Fabric that lies under other fabric, as a share of the area. [fraction]
    container_l
        What one container holds. [L]

    Raises
    ------
    ValueError
        If a number is out of its bounds.
    """
    if not area_m2 > 0:
        raise ValueError(f"area of {area_m2:g} m2: it must be above zero")
    if not texture >= 1:
        raise ValueError(f"texture of {texture:g}: a surface is never smaller than its plan")
    if not 0 <= loss < 1:
        raise ValueError(f"loss of {loss:g}: it must be at least 0 and below 1")
    if not fabric_laps >= 0:
        raise ValueError(f"fabric laps of {fabric_laps:g}: they must not be negative")
    if not container_l > 0:
        raise ValueError(f"container of {container_l:g} L: it must be above zero")
    found = []
    for n, (layer, profile) in enumerate(zip(system.layers, system.profiles, strict=True)):
        area, dry = area_m2 * layer.area_share, layer.dry_film.si
        fabric = area * texture * (1 + fabric_laps) if layer.fabric else 0.0
        entry = profile.film.get("volume_solids")
        if entry is None:
            foam = area * texture * dry / 1e6 / (1 - loss)
            found.append(
                TakeOff(
                    n + 1, area, layer.passes, None, dry / layer.passes, None, None, None,
                    fabric, foam,
                )
            )  # fmt: skip
            continue
        solids = entry.si
        wet = wet_from_dry(dry / layer.passes, solids)
        volume = coverage(dry, solids, loss) * area * texture
        found.append(
            TakeOff(
                layer=n + 1,
                area_m2=area,
                passes=layer.passes,
                wet_um=wet,
                dry_um=dry_from_wet(wet, solids),
                spread_l_m2=coverage(dry, solids),
                volume_l=volume,
                containers=ceil(volume / container_l - _UP),
                fabric_m2=fabric,
                foam_m3=None,
            )
        )
    return tuple(found)

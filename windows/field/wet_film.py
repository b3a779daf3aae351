"""Wet film and volume of a laid layer against what its system asks for.

A notch gauge (ASTM D4414) tells the last tooth that was wet: the film is at least that thick, and
thinner than the next tooth. Readings are counted one by one, never averaged. Foam has no wet film
and is not checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from cure_models.quantities import wet_from_dry
from cure_models.takeoff import TakeOff, take_off
from windows.field.rules import field_rules
from windows.field.told import both

if TYPE_CHECKING:
    from cure_models.system import System
    from windows.job_file import Material
    from windows.log.entries import Placement

__all__ = [
    "VolumeCheck", "WetFilmCheck", "check_volume", "check_wet_film", "film_of", "most_film",
    "needed_readings", "next_tooth", "volume_flags", "wet_film_flags",
]  # fmt: skip

_ROUNDING = 1e-9
"""A number that is its limit to rounding is its limit."""


@dataclass(frozen=True)
class WetFilmCheck:
    """The readings of a notch gauge on one placement, against the wet film of one pass.

    Attributes
    ----------
    needed, taken
        Readings that the area asks for, and those that there are.
    below
        Those whose film is below the target for certain: the next tooth stayed dry and is no more
        than the target.
    cannot_tell
        Those whose target lies between the last wet tooth and the next.
    over
        Those above the most that is laid of this coating, all passes together.
    lowest_um
        The lowest reading, None without one. [um]
    target_um, most_um
        Wet film of one pass; the most of all passes, None if none is known. [um]
    """

    needed: int
    taken: int
    below: int
    cannot_tell: int
    over: int
    lowest_um: float | None
    target_um: float
    most_um: float | None

    @property
    def meets(self) -> int:
        """Readings whose film is at least the target."""
        return self.taken - self.below - self.cannot_tell


@dataclass(frozen=True)
class VolumeCheck:
    """The volume of one placement against what its area needs, with loss and texture.

    ``used_l`` and what follows from it are None where no volume was recorded. ``film_um`` is the
    wet film of all passes that the volume makes on the roof after loss, ``needed_um`` the one it is
    to make. [L], [um]
    """

    used_l: float | None
    needed_l: float
    film_um: float | None
    needed_um: float
    area_m2: float

    @property
    def ratio(self) -> float | None:
        """What was used over what is needed."""
        return None if self.used_l is None else self.used_l / self.needed_l


def next_tooth(film_um: float) -> float:
    """Return the tooth of a notch gauge above one that was wet. [um]

    Of a reading that is no tooth of this gauge the step is that of the teeth around it.
    """
    steps = field_rules().notch_um
    step = next(step for least, step in reversed(steps) if film_um >= least * (1 - _ROUNDING))
    return film_um + step


def needed_readings(area_m2: float) -> int:
    """Return how many readings of the wet film an area asks for: one for each 100 ft2 begun.

    Examples
    --------
    >>> needed_readings(92.90304)  # 1,000 ft2
    10
    """
    return max(1, ceil(area_m2 / field_rules().area_a_reading_m2 - _ROUNDING))


def film_of(volume_l: float, area_m2: float) -> float:
    """Return the wet film of a volume spread over an area, nothing lost. [um]

    Examples
    --------
    >>> round(film_of(3.785411784, 9.290304))  # 1 gal on 100 ft2
    407
    """
    return volume_l / area_m2 * 1000


def most_film(system: System, layer: int) -> float | None:
    """Return the most wet film of all passes of a layer, from 0. [um]

    That is the top of the layer's own range, else of what its coating is spread at; None where
    neither goes above what the layer asks for.
    """
    own, profile = system.layers[layer], system.profiles[layer]
    solids = profile.film.get("volume_solids")
    if solids is None:
        return None
    target = wet_from_dry(own.dry_film.si, solids.si)
    rate = profile.film.get("rate_per_coat")
    most = wet_from_dry(own.dry_film.end("hi"), solids.si)
    if own.dry_film.hi is None and rate is not None:
        most = film_of(rate.end("hi"), 1.0) * own.passes
    return most if most > target * (1 + _ROUNDING) else None


def check_wet_film(placement: Placement, *, system: System, layer: int) -> WetFilmCheck | None:
    """Check the wet film readings of a placement; None for foam.

    Parameters
    ----------
    placement
        With its readings. Its area is in plan: of strips their share counts.
    system, layer
        What was laid, the layer counted from 0.

    Notes
    -----
    The target is the film of one pass, since a gauge may be set between passes: a reading of
    several passes that meets it says nothing about the others.
    """
    needs = _needs(placement, system, layer, None)
    if needs.wet_um is None:
        return None
    target, most = needs.wet_um, most_film(system, layer)
    read = [each.film_um for each in placement.wet_film]
    meets = [film >= target * (1 - _ROUNDING) for film in read]
    below = [next_tooth(film) <= target * (1 + _ROUNDING) for film in read]
    return WetFilmCheck(
        needed=needed_readings(needs.area_m2),
        taken=len(read),
        below=sum(below),
        cannot_tell=sum(not (good or bad) for good, bad in zip(meets, below, strict=True)),
        over=0 if most is None else sum(film > most * (1 + _ROUNDING) for film in read),
        lowest_um=min(read, default=None),
        target_um=target,
        most_um=most,
    )


def check_volume(
    placement: Placement, *, system: System, layer: int, material: Material
) -> VolumeCheck | None:
    """Check the volume of a placement against the take-off of its area; None for foam.

    Parameters
    ----------
    placement, system, layer
        As for `check_wet_film`.
    material
        Loss and texture of the job.
    """
    needs = _needs(placement, system, layer, material)
    if needs.volume_l is None or needs.spread_l_m2 is None:
        return None
    used = placement.volume_l
    on_roof = None if used is None else used * (1 - material.loss) / material.texture
    return VolumeCheck(
        used_l=used,
        needed_l=needs.volume_l,
        film_um=None if on_roof is None else film_of(on_roof, needs.area_m2),
        needed_um=film_of(needs.spread_l_m2, 1.0),
        area_m2=needs.area_m2,
    )


def _needs(
    placement: Placement, system: System, layer: int, material: Material | None
) -> TakeOff:
    """Return the take-off of the layer on the area that was laid."""
    given = (
        {"container_l": 1.0}
        if material is None
        else {
            "loss": material.loss, "texture": material.texture,
            "fabric_laps": material.fabric_laps, "container_l": material.container,
        }
    )  # fmt: skip
    return take_off(system, placement.area_m2, **given)[layer]


def wet_film_flags(check: WetFilmCheck) -> tuple[str, ...]:
    """Say what is wrong with the wet film, or not known of it."""
    target, told = both(check.target_um, "film"), []
    if check.taken < check.needed:
        told.append(
            f"Wet film: {_count(check.taken)} for this area, which asks for {check.needed}, one "
            f"for each {both(field_rules().area_a_reading_m2, 'area')}."
        )
    if check.below:
        assert check.lowest_um is not None  # a reading is below
        told.append(
            f"Wet film: {check.below} of {_count(check.taken)} below the target of {target}, the "
            f"lowest {both(check.lowest_um, 'film')}."
        )
    if check.cannot_tell:
        told.append(
            f"Wet film: {check.cannot_tell} of {_count(check.taken)} cannot tell whether the "
            f"target of {target} is met: it lies between the last wet tooth and the next."
        )
    if check.over:
        assert check.most_um is not None  # a reading is over it
        told.append(
            f"Wet film: {check.over} of {_count(check.taken)} above {both(check.most_um, 'film')}, "
            "the most that is laid of this coating."
        )
    return tuple(told)


def volume_flags(check: VolumeCheck) -> tuple[str, ...]:
    """Say whether the volume is not known, or too far from what the area needs."""
    if check.used_l is None or check.ratio is None:
        return ("Volume: not recorded, so it could not be checked against the area.",)
    off = check.ratio - 1
    if abs(off) <= field_rules().volume_tolerance + _ROUNDING:
        return ()
    assert check.film_um is not None  # there is a volume
    way = "more" if off > 0 else "less"
    return (
        f"Volume: {both(check.used_l, 'volume')} on {both(check.area_m2, 'area')} is "
        f"{100 * abs(off):.0f} % {way} than the {both(check.needed_l, 'volume')} needed with the "
        f"job's loss and texture; it makes a wet film of {both(check.film_um, 'film')} in place of "
        f"{both(check.needed_um, 'film')}.",
    )


def _count(readings: int) -> str:
    return f"{readings} reading{'' if readings == 1 else 's'}"

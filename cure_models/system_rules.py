"""Rules of a system: what must not be laid over what, how thick, and what must not stay bare.

Each finding says whether it refuses the system or only warns, and where the rule comes from.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from cure_models.coating import resolve, thickness_share
from cure_models.units import from_si

if TYPE_CHECKING:
    from cure_models.profile import Profile
    from cure_models.system import System

__all__ = [
    "RETARDER_PERM",
    "Finding",
    "NeededRate",
    "check_layers",
    "check_substrate",
    "first_retarder",
    "is_vapour_retarder",
    "needed_rates",
]

RETARDER_PERM = 1.0
"""A film of at most this permeance is a vapour retarder: classes I and II of the International
Residential Code, R702.7 (from memory, unverified). [perm]"""


@dataclass(frozen=True)
class Finding:
    """What a rule says of a system; ``layer`` is its number from 1, None for the whole."""

    refuses: bool
    rule: str
    layer: int | None
    reason: str
    source: str


@dataclass(frozen=True)
class NeededRate:
    """Least mean cure rate at which a layer opens before its deadline. [h/h]

    ``generic`` is at the values, ``least`` and ``most`` at the ends of the ranges of opening and
    deadline that make it so. ``opens_h`` is hours of cure, ``deadline_h`` clock hours.
    """

    layer: int
    opens_h: float
    deadline_h: float
    generic: float
    least: float
    most: float


def needed_rates(system: System) -> tuple[NeededRate, ...]:
    """Return, for each layer with a deadline, the mean cure rate below which it cannot be met.

    A mean over day and night of the weather that follows the placement: shortest opening over
    longest deadline, and the same for the other ends.
    """
    found = []
    for n, profile in enumerate(system.profiles[:-1]):
        opens = profile.milestones["recoat_opens"]
        coating = resolve(profile, dry_film_um=system.layers[n].dry_film.si)
        slower = 1 / thickness_share(
            coating.reference.dry_film_um, coating.dry_film_um, coating.rate.thickness_exponent
        )
        ends = [e for name, e in profile.deadlines.items() if name != "cover_by_uv_dose"]
        if not ends:
            continue
        value = min(end.si for end in ends)
        low, high = (min(end.end(which) for end in ends) for which in ("lo", "hi"))
        found.append(
            NeededRate(
                n + 1, opens.si * slower, value, _share(opens.si * slower, value),
                _share(opens.end("lo") * slower, high), _share(opens.end("hi") * slower, low),
            )
        )  # fmt: skip
    return tuple(found)


def _share(opens_h: float, deadline_h: float) -> float:
    return opens_h / deadline_h if deadline_h > 0 else float("inf")


def is_vapour_retarder(profile: Profile) -> bool:
    """Tell whether a film is known to hold moisture in, by its permeance at the low end."""
    permeance = profile.film.get("permeance")
    return permeance is not None and permeance.end("lo") <= RETARDER_PERM


def first_retarder(system: System) -> int | None:
    """Return the number, from 0, of the lowest layer that holds moisture in."""
    return next((n for n, p in enumerate(system.profiles) if is_vapour_retarder(p)), None)


def check_layers(system: System) -> tuple[Finding, ...]:
    """Return what the rules say of the layers among themselves."""
    found: list[Finding] = []
    lowest = first_retarder(system)
    for n, profile in enumerate(system.profiles):
        if n:
            found += _bond(system, n)
        found += _thickness(system, n)
        if n == lowest:
            told = profile.film["permeance"]
            found.append(
                Finding(
                    False, "vapour_retarder", n + 1,
                    f"'{system.layers[n].name}' holds moisture in ({told.value:g} perm): it is "
                    "laid only over a substrate that a reading has shown to be dry",
                    told.source,
                )
            )  # fmt: skip
    last = system.profiles[-1]
    if not last.uv_stable:
        found.append(
            Finding(
                True, "uv_last", len(system.layers),
                f"'{system.layers[-1].name}' ({last.name}) is the last layer, but sunlight spoils "
                "it: a layer that is not UV-stable must be covered; add a top layer that is",
                _uv_source(last),
            )
        )  # fmt: skip
    return tuple(found)


def _uv_source(profile: Profile) -> str:
    entry = profile.deadlines.get("cover_by")
    return "common practice, no source" if entry is None else entry.source


def _bond(system: System, n: int) -> list[Finding]:
    """Check that a layer bonds to the one below it, and sees below it what it asks for."""
    below, above = system.profiles[n - 1], system.profiles[n]
    layer, under = system.layers[n], system.layers[n - 1]
    if above.family not in below.may_go_over_it:
        allowed = ", ".join(below.may_go_over_it) or "nothing"
        only = "only silicone bonds to silicone" if below.family == "silicone" else (
            f"what bonds to it: {allowed}"
        )
        return [
            Finding(
                True, "bond", n + 1,
                f"'{layer.name}' ({above.family}) is laid over '{under.name}' ({below.family}); "
                f"{only}",
                "common practice, no source",
            )
        ]  # fmt: skip
    if below.family not in layer.over:
        return [
            Finding(
                True, "order", n + 1,
                f"'{layer.name}' asks for {' or '.join(layer.over)} below it, but lies over "
                f"'{under.name}' ({below.family}); mend the order of the layers",
                f"the system's own file, {system.where}",
            )
        ]
    return []


def _thickness(system: System, n: int) -> list[Finding]:
    """Check the film of one pass against what the coating takes in a coat."""
    layer, profile = system.layers[n], system.profiles[n]
    per_pass, allowed = layer.dry_film.si / layer.passes, profile.film["dry_per_coat"]
    told = f"{from_si(per_pass, 'mil'):.3g} mil dry in one pass"
    if per_pass > allowed.end("hi") * (1 + 1e-9):
        return [
            Finding(
                True, "film_too_thick", n + 1,
                f"'{layer.name}' lays {told}, more than the {allowed.high:g} {allowed.unit} that "
                f"{profile.name} takes; use more passes or layers",
                allowed.source,
            )
        ]  # fmt: skip
    if per_pass < allowed.end("lo") * (1 - 1e-9):
        return [
            Finding(
                False, "film_thin", n + 1,
                f"'{layer.name}' lays {told}, less than the {allowed.low:g} {allowed.unit} that "
                f"{profile.name} usually has",
                allowed.source,
            )
        ]
    return []


def check_substrate(system: System, kind: str) -> tuple[Finding, ...]:
    """Return what the rules say of the first layer on a roof.

    ``kind`` is a bare roof of `cure_models.system.SUBSTRATES`, or the family of an old coating.
    """
    first, profile = system.layers[0], system.profiles[0]
    if kind == "silicone" and profile.family != "silicone":
        return (
            Finding(
                True, "bond", 1,
                f"'{first.name}' ({profile.family}) is laid over an old silicone; only silicone "
                "bonds to silicone",
                "common practice, no source",
            ),
        )  # fmt: skip
    if kind not in first.over:
        return (
            Finding(
                True, "substrate", 1,
                f"'{first.name}' asks for {' or '.join(first.over)} below it, but the roof is "
                f"{kind}; choose another system or primer",
                f"the system's own file, {system.where}",
            ),
        )  # fmt: skip
    return ()

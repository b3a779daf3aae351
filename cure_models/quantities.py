"""Film and quantity arithmetic: wet film, dry film and material per area.

Solids are by *volume* (ASTM D2697), never by weight. One litre over a square metre is a wet film
of one millimetre, so a spread rate in L/m2 is the wet film in mm.
"""

from __future__ import annotations

__all__ = ["coverage", "dry_from_wet", "wet_from_dry"]


def wet_from_dry(dry_um: float, volume_solids: float) -> float:
    """Return the wet film that dries to ``dry_um``. [um]

    Parameters
    ----------
    dry_um
        Dry film. [um]
    volume_solids
        Solids by volume. [fraction]

    Raises
    ------
    ValueError
        If a number is out of its bounds.

    Examples
    --------
    >>> round(wet_from_dry(20 * 25.4, 0.50) / 25.4, 1)
    40.0

    Notes
    -----
    Solids by volume are what of the wet film stays (ASTM D2697).
    """
    return _film(dry_um, "dry film") / _solids(volume_solids)


def dry_from_wet(wet_um: float, volume_solids: float) -> float:
    """Return the dry film that a wet film leaves. [um]

    Parameters
    ----------
    wet_um
        Wet film. [um]
    volume_solids
        Solids by volume. [fraction]

    Raises
    ------
    ValueError
        If a number is out of its bounds.
    """
    return _film(wet_um, "wet film") * _solids(volume_solids)


def coverage(dry_um: float, volume_solids: float, loss: float = 0.0) -> float:
    """Return the material to take per area for a dry film. [L/m2]

    A loss of 20 % needs 25 % more, for what is taken is divided by ``1 - loss``.

    Parameters
    ----------
    dry_um
        Dry film. [um]
    volume_solids
        Solids by volume. [fraction]
    loss
        Share of the material that does not end in the film. [fraction]

    Raises
    ------
    ValueError
        If a number is out of its bounds.
    """
    if not 0 <= loss < 1:
        raise ValueError(f"loss of {loss:g}: it must be at least 0 and below 1")
    return wet_from_dry(dry_um, volume_solids) / 1000 / (1 - loss)


def _film(film_um: float, name: str) -> float:
    if not 0 <= film_um < float("inf"):
        raise ValueError(f"{name} of {film_um:g} um: it must not be negative")
    return film_um


def _solids(volume_solids: float) -> float:
    if not 0 < volume_solids <= 1:
        raise ValueError(f"volume solids of {volume_solids:g}: they must be above 0, at most 1")
    return volume_solids

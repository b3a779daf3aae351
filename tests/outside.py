"""Comparisons with what this project did not make: each asserts, and is kept for a page.

A test asks for the fixture ``outside`` and says what it compares, with what, and how near it must
come::

    def test_dew_point(outside):
        outside.agree(
            "dew point", found, wanted, within=0.06, unit="K", source=library("PsychroLib")
        )

The run leaves the rows of the tests that passed in pytest's cache (keeper.py), and the pages are
made of them (docs/_ext/evidence.py). A source says how it is known, "from memory" where it was not
read; ``why`` says where a tolerance comes from, if the test's reader could wonder.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sized
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

__all__ = ["Outside", "library", "merged", "program"]

Row = dict[str, Any]
Told = float | list[float] | str


def library(name: str, what: str = "") -> str:
    """Return a library's name with its version, and in brackets what it goes by."""
    return f"{name} {version(name)}" + (f" ({what})" if what else "")


def program(root: Path) -> str:
    """Return a hash of the program and its data under a folder: what a comparison hangs on."""
    told = hashlib.sha256()
    for folder in ("cure_models", "windows"):
        for path in sorted((root / folder).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                told.update(str(path.relative_to(root)).encode() + path.read_bytes())
    return told.hexdigest()


class Outside:
    """The comparisons of one test.

    Attributes
    ----------
    rows : list of dict
        What was compared so far: ``quantity``, ``source``, ``points``, ``unit``, ``why``, and
        ``allowed`` (a range or a text) and ``worst`` (a distance, a range or a text).
    """

    def __init__(self) -> None:
        self.rows: list[Row] = []

    def agree(
        self,
        quantity: str,
        found: ArrayLike,
        wanted: ArrayLike,
        *,
        within: float,
        unit: str,
        source: str,
        why: str = "",
        unknown_alike: bool = False,
    ) -> None:
        """Assert that every value found is within a distance of the one wanted.

        Parameters
        ----------
        within : float
            The largest distance. [unit]
        unit : str
            The unit of both; ``"%"`` takes the distance as a share of what is wanted.
        unknown_alike : bool
            Both may be unknown, in the same places only, and are compared in the others.
        """
        ours, theirs = np.asarray(found, float), np.asarray(wanted, float)
        assert ours.shape == theirs.shape, f"{quantity}: {ours.shape} against {theirs.shape}"
        if unknown_alike:
            np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs), err_msg=quantity)
            known = ~np.isnan(theirs)
            ours, theirs = ours[known], theirs[known]
        assert theirs.size > 0, f"{quantity}: nothing to compare"
        apart = np.abs(ours - theirs)
        if unit == "%":
            with np.errstate(divide="ignore", invalid="ignore"):
                apart = np.where(apart == 0, 0.0, 100 * apart / np.abs(theirs))
        worst = float(np.max(apart))
        at = int(np.argmax(apart))
        assert worst <= within, (
            f"{quantity}: {worst:.3g} {unit} from {source}, allowed {within:g}; "
            f"{ours.flat[at]:.6g} against {theirs.flat[at]:.6g}, number {at} of {theirs.size}"
        )
        self._add(quantity, source, theirs.size, [within, within], worst, unit, why)

    def between(
        self,
        quantity: str,
        found: ArrayLike,
        low: float,
        high: float,
        *,
        unit: str,
        source: str,
        why: str = "",
    ) -> None:
        """Assert that every value found is from ``low`` to ``high``. [unit]"""
        ours = np.asarray(found, float)
        assert ours.size > 0, f"{quantity}: nothing to compare"
        least, most = float(np.min(ours)), float(np.max(ours))
        assert low <= least <= most <= high, (
            f"{quantity}: {least:.4g} to {most:.4g} {unit}, {source}: {low:g} to {high:g}"
        )
        self._add(quantity, source, ours.size, [low, high], [least, most], unit, why)

    def equal(
        self,
        quantity: str,
        found: Any,
        wanted: Any,
        *,
        source: str,
        points: int | None = None,
        why: str = "",
    ) -> None:
        """Assert that both are the same: arrays, unknown in the same places, or anything else.

        ``points`` is how many they are where their length is not.
        """
        if hasattr(wanted, "__array__") and np.ndim(wanted):
            np.testing.assert_array_equal(found, wanted, err_msg=quantity)
        else:
            assert found == wanted, quantity
        if points is None:
            plain = isinstance(wanted, str) or not isinstance(wanted, Sized)
            points = 1 if plain else getattr(wanted, "size", len(wanted))
        self._add(quantity, source, points, "equal", "equal", "", why)

    def found(
        self,
        quantity: str,
        *,
        points: int,
        allowed: str,
        worst: str,
        source: str,
        why: str = "",
    ) -> None:
        """Keep, in words, what the test has asserted beside this line."""
        self._add(quantity, source, points, allowed, worst, "", why)

    def _add(
        self,
        quantity: str,
        source: str,
        points: int,
        allowed: Told,
        worst: Told,
        unit: str,
        why: str,
    ) -> None:
        told = {
            "quantity": quantity, "source": source, "points": int(points), "allowed": allowed,
            "worst": worst, "unit": unit, "why": why,
        }  # fmt: skip
        self.rows = merged([*self.rows, told])


def merged(rows: list[Row]) -> list[Row]:
    """Return the rows with one for each quantity and source: points added up, the worst of all."""
    whole: dict[tuple[str, str], Row] = {}
    for row in rows:
        key = (row["quantity"], row["source"])
        if key not in whole:
            whole[key] = dict(row)
            continue
        one = whole[key]
        assert one["unit"] == row["unit"], f"{row['quantity']}: two units"
        one["points"] += row["points"]
        for name in ("allowed", "worst"):
            one[name] = _both(one[name], row[name])
    return list(whole.values())


def _both(one: Told, other: Told) -> Told:
    """Return the larger distance, the range of two ranges, or the texts beside each other."""
    if isinstance(one, float) and isinstance(other, float):
        return max(one, other)
    if isinstance(one, list) and isinstance(other, list):
        return [min(one[0], other[0]), max(one[1], other[1])]
    texts = [text for each in (one, other) for text in str(each).split("; ")]
    return "; ".join(dict.fromkeys(texts))

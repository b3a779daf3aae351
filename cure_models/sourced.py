"""A number as a file gives it: value, unit, range across products, and where it comes from."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StrictStr, model_validator

from cure_models.toml_input import Table
from cure_models.units import to_si

__all__ = ["BASES", "Sourced"]

BASES = (
    "standard",
    "trade",
    "data sheet",
    "contract",
    "calculated",
    "own choice",
    "common practice",
    "from memory",
)
"""How a figure is known, strongest first; the first words of every source."""

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class Sourced(Table):
    """A number with its unit, its range across products and its source."""

    value: Number
    unit: StrictStr
    lo: Number | None = None
    hi: Number | None = None
    source: StrictStr
    note: StrictStr = ""

    @model_validator(mode="after")
    def _in_range(self) -> Sourced:
        if not self.low <= self.value <= self.high:
            raise ValueError(
                f"value {self.value:g} is outside its range, lo {self.low:g} to "
                f"hi {self.high:g}; mend the range"
            )
        if not self.source.startswith(BASES):
            raise ValueError(f"source '{self.source}' must begin with one of: {', '.join(BASES)}")
        return self

    @property
    def low(self) -> float:
        """Low end of the range, in the unit of the file."""
        return self.value if self.lo is None else self.lo

    @property
    def high(self) -> float:
        """High end of the range, in the unit of the file."""
        return self.value if self.hi is None else self.hi

    @property
    def basis(self) -> str:
        """How the figure is known: one of `BASES`."""
        return next(basis for basis in BASES if self.source.startswith(basis))

    def end(self, which: Literal["lo", "value", "hi"]) -> float:
        """Return one end of the range, or the value, in SI."""
        number = {"lo": self.low, "value": self.value, "hi": self.high}[which]
        return to_si(number, self.unit)

    @property
    def si(self) -> float:
        """The value in SI."""
        return self.end("value")

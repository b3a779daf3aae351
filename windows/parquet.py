"""The library that reads and writes Parquet, which an extra of this package brings."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from windows.errors import DewgapError

__all__ = ["pyarrow"]


def pyarrow(without: str) -> Any:
    """Return the library with the parts of it that are in use.

    Raises
    ------
    DewgapError
        If it is not installed: the sentence ``without`` it.
    """
    try:
        for name in ("compute", "csv", "parquet"):
            import_module(f"pyarrow.{name}")
        return import_module("pyarrow")
    except ImportError:
        raise DewgapError(without) from None

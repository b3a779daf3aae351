"""A paper as blocks of words, that are the same on a page and in a PDF."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Block", "Facts", "Heading", "Paper", "Paragraphs", "Signatures", "Table"]


@dataclass(frozen=True)
class Heading:
    """A heading, of level 2 (a part) or 3 (within one)."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Facts:
    """Names and what is told of each."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table; a cell may have several lines. ``numbered``: its first column is entry numbers."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbered: bool = True


@dataclass(frozen=True)
class Paragraphs:
    """Texts; ``small`` are those that say how to read what is above or below."""

    lines: tuple[str, ...]
    small: bool = False


@dataclass(frozen=True)
class Signatures:
    """Places to sign, one for each who signs: name, signature, date; and what is signed."""

    statement: str
    places: tuple[str, ...]


Block = Heading | Facts | Table | Paragraphs | Signatures


@dataclass(frozen=True)
class Paper:
    """A paper: its title, what it is of, its blocks, and the line below each of its pages."""

    title: str
    subject: str
    running: str
    foot: str
    now: pd.Timestamp
    blocks: tuple[Block, ...]

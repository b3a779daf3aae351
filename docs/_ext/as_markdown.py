"""Markdown from the program's own words, and pages that are written when the site is built."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

__all__ = ["code", "plain", "table", "write_pages"]


def plain(text: str) -> str:
    """Return words as Markdown that shows them as they are; what stands in `` `` `` stays code."""
    parts = re.split(r"(``?[^`]+``?)", " ".join(text.split()))
    for at in range(0, len(parts), 2):
        parts[at] = re.sub(r"([\\\[\]<>*_$|`{}~])", r"\\\1", parts[at])
    for at in range(1, len(parts), 2):
        parts[at] = code(parts[at].strip("`"))
    return "".join(parts)


def code(text: object) -> str:
    """Return code for a cell of a table or a line."""
    return "`" + str(text).replace("|", "\\|") + "`"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a Markdown table; its cells are Markdown already."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines) + "\n"


def write_pages(folder: Path, pages: dict[str, str]) -> None:
    """Write pages into a folder of their own; one that is as it was keeps its time."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.iterdir():
        if old.name not in pages:
            old.unlink()
    for name, text in pages.items():
        path = folder / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")

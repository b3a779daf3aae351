"""Tables of the keys of the files that people write, from the models that check them.

```{keys} windows.site:Site sites.md
```

gives a row for each key: what may be written, its range, what stands where it is left out, and what
it means. The meaning is what the page named says of it; a key that it does not name is a warning.
"""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from pathlib import Path
from types import NoneType
from typing import TYPE_CHECKING, Any, ClassVar, Literal, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt
from as_markdown import code, plain, table
from docutils import nodes
from pydantic import BaseModel, BeforeValidator
from pydantic_core import PydanticUndefined
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo
    from sphinx.application import Sphinx

_log = logging.getLogger(__name__)
_DOCS = Path(__file__).parents[1]
_BOUNDS = {Ge: "at least", Gt: "above", Le: "at most", Lt: "below"}
_WORDS: dict[Any, str] = {
    str: "text", float: "number", int: "whole number", bool: "true or false", Path: "path",
    time: 'time, as "07:00"', date: "date, as 2026-07-03", datetime: 'time, as "2026-07-03 08:30"',
}  # fmt: skip


def _units(dimension: str) -> list[str]:
    from cure_models.units import UNITS

    return [name for name, unit in UNITS.items() if unit.dimension == dimension and name != "1"]


def _bare(kind: Any) -> list[Any]:
    """Return what a type may be, None apart, with its marks (``Annotated``) still on."""
    if get_origin(kind) is not None and NoneType in get_args(kind):
        return [each for each in get_args(kind) if each is not NoneType]
    return [kind]


def _marks(kind: Any, marks: tuple[Any, ...]) -> tuple[Any, list[Any]]:
    """Return a type without its marks, and all marks."""
    found = list(marks)
    while hasattr(kind, "__metadata__"):
        found += kind.__metadata__
        kind = kind.__origin__
    for each in list(found):
        found += getattr(each, "metadata", [])
    return kind, found


def _quantity(marks: list[Any]) -> Mapping[str, Any] | None:
    """Return dimension, low, high and above of a quantity's mark."""
    for each in marks:
        if isinstance(each, BeforeValidator):
            told = inspect.getclosurevars(each.func).nonlocals
            if "dimension" in told:
                return told
    return None


def _written(kind: Any, marks: tuple[Any, ...] = ()) -> tuple[str, str]:
    """Return what may be written for a type, and its range. Both are Markdown."""
    from cure_models.units import from_si

    kind, found = _marks(_bare(kind)[0], marks)
    kind, found = _marks(_bare(kind)[0], tuple(found))
    told = _quantity(found)
    if told is not None:
        units = _units(told["dimension"])
        shown = "%" if told["dimension"] == "fraction" else units[0]
        ends = {"low": "above" if told["above"] else "at least", "high": "at most"}
        limits = [
            f"{word} {from_si(told[end], shown):g} {shown}"
            for end, word in ends.items()
            if told[end] is not None
        ]
        units_shown = ", ".join(code(unit) for unit in units)
        return f"text with a unit: {units_shown}", plain(", ".join(limits))
    limits = [
        f"{word} {getattr(each, kind_.__name__.lower()):g}"
        for each in found
        for kind_, word in _BOUNDS.items()
        if isinstance(each, kind_)
    ]
    range_ = ", ".join(dict.fromkeys(limits))
    origin = get_origin(kind)
    if origin is Literal:
        return " or ".join(code(each) for each in get_args(kind)), range_
    if origin is tuple:
        inner, inner_range = _written(get_args(kind)[0])
        return f"list of {inner}", range_ or inner_range
    if origin is dict:
        inner, inner_range = _written(get_args(kind)[1])
        return f"table: a name each, with {inner}", inner_range
    return _WORDS.get(kind, getattr(kind, "__name__", str(kind))), range_


def _inner(field: FieldInfo) -> tuple[type[BaseModel] | None, bool]:
    """Return the model that a field holds, and whether it is a list of them."""
    for kind in _bare(field.annotation):
        bare, _ = _marks(kind, ())
        for each in (bare, *get_args(bare)):
            if inspect.isclass(each) and issubclass(each, BaseModel):
                return each, get_origin(bare) is tuple
    return None, False


def _left_out(field: FieldInfo) -> str:
    """Return what stands where a key is left out."""
    if field.is_required():
        return "**must be given**"
    value = field.default
    if value is PydanticUndefined or value in (None, "", (), {}) or isinstance(value, BaseModel):
        return ""
    if isinstance(value, bool):
        return code(str(value).lower())
    if isinstance(value, tuple):
        return code("[" + ", ".join(f'"{each}"' for each in value) + "]")
    told = _quantity(_marks(field.annotation, tuple(field.metadata))[1])
    if told is not None and not isinstance(value, str):
        from cure_models.units import from_si

        shown = "%" if told["dimension"] == "fraction" else _units(told["dimension"])[0]
        return code(f"{from_si(value, shown):.4g} {shown}")
    return code(f"{value:g}" if isinstance(value, float) else value)


def _fields(model: type[BaseModel], before: str = "") -> Iterator[tuple[str, FieldInfo]]:
    """Yield each key with its path, a number with its source as one key."""
    for name, field in model.model_fields.items():
        if field.exclude:
            continue
        key = f"{before}{field.alias or name}"
        inner, many = _inner(field)
        if inner is None or inner.__name__ == "Sourced":
            yield key, field
        else:
            yield from _fields(inner, f"{key}[]." if many else f"{key}.")


def meanings(page: str) -> dict[str, str]:
    """Return what a page says of names: last cells of its tables, comments of its TOML.

    A name that two tables have is also there with the words above its own, as ``surface name``.
    """
    found: dict[str, str] = {}
    text = (_DOCS / page).read_text(encoding="utf-8")
    heading = above = ""
    for line in text.splitlines():
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line.strip())[1:-1]]
        if line.startswith("#"):
            heading = above = _words(line)
        if cells and cells[0].startswith("key"):
            above = f"{heading} {_words(cells[0])}"
        if len(cells) > 1 and cells[0].startswith("`"):
            for name in re.findall(r"`([^`]+)`", cells[0]):
                found.setdefault(name, cells[-1])
                for word in above.split():
                    found.setdefault(f"{word} {name}", cells[-1])
    for name, said in re.findall(r"^#? ?(\w+) = [^#\n]*# (.*)$", text, re.MULTILINE):
        found.setdefault(name, plain(said))
    return found


def _words(text: str) -> str:
    return re.sub(r"\W+", " ", text).strip().lower()


def _rows(model: type[BaseModel], page: str) -> Iterator[list[str]]:
    told = meanings(page)
    for key, field in _fields(model):
        written, range_ = _written(field.annotation, tuple(field.metadata))
        if _inner(field)[0] is not None:
            written, range_ = "number with `value`, `unit`, `source`", ""
        above, _, last = key.replace("[]", "").rpartition(".")
        whole = told.get(above.rpartition(".")[2], "")  # a row of a table may tell of its keys
        near = told.get(f"{above.rpartition('.')[2]} {last}") or told.get(last)
        meaning = whole if f"`{last}`" in whole else near or whole
        yield [code(key), written, range_, _left_out(field), meaning]


class Keys(SphinxDirective):
    """A table of the keys of one file."""

    required_arguments = 2
    option_spec: ClassVar = {}

    def run(self) -> list[nodes.Node]:
        """Return the table."""
        where, page = self.arguments
        module, _, name = where.partition(":")
        rows = list(_rows(getattr(importlib.import_module(module), name), page))
        self.env.note_dependency(str(_DOCS / page))
        for key, *_, meaning in rows:
            if not meaning:
                _log.warning("%s has no row for %s", page, key, location=self.get_location())
        head = ["key", "what is written", "range", "left out", "meaning"]
        return self.parse_text_to_nodes(_from_here(table(head, rows)))


def _from_here(text: str) -> str:
    """Return Markdown of a page of docs/ as one of docs/reference/ has to write it."""
    return re.sub(r"\]\((?!https?:|#)([^)]+)\)", r"](../\1)", text)


def _sourced(rows: Iterator[tuple[str, str, str]] | list[tuple[str, str, str]]) -> list[list[str]]:
    return [
        [code(key), plain(dimension), ", ".join(code(unit) for unit in _units(dimension)), meaning]
        for key, dimension, meaning in rows
    ]


class CoatingKeys(SphinxDirective):
    """A table of the numbers of a coating's file: gates, clocks, film or cautions."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        """Return the table of one part of the file."""
        rows = _sourced(list(_PARTS[self.arguments[0]]()))
        return self.parse_text_to_nodes(table(["key", "dimension", "units", "meaning"], rows))


def _gates(kinds: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    from cure_models.limits import GATE_RULES

    table_ = "cautions" if "caution" in kinds else "gates"
    for name, rule in GATE_RULES.items():
        if rule.kind in kinds and not rule.limit_of:
            yield f"{table_}.{name}", rule.dimension, plain(f"{rule.label}: {rule.why}")


def _clocks() -> Iterator[tuple[str, str, str]]:
    from cure_models.limits import DEADLINES, GATE_RULES, MILESTONES

    for name, rule in GATE_RULES.items():
        if rule.clocked:
            yield f"clock_holds.{name}", "time", plain(f"clock hours of the hold: {rule.label}")
    for name, label in MILESTONES.items():
        yield f"milestones.{name}", "time", plain(f"{label}: hours of cure at the reference")
        yield f"milestone_clock_min.{name}", "time", plain(f"{label}: clock hours at least")
    for name, deadline in DEADLINES.items():
        yield f"deadlines.{name}", deadline.dimension, plain(f"{deadline.label}, from placement on")


def _film() -> Iterator[tuple[str, str, str]]:
    from cure_models.profile import _DIMENSIONS, _FILM_DIMENSIONS, LAW_PARAMETERS

    told = meanings("coatings.md")
    for name, dimension in _FILM_DIMENSIONS.items():
        yield f"film.{name}", dimension, told.get(f"film.{name}", told.get(name, ""))
    for name, dimension in _DIMENSIONS.items():
        laws = [law for law, needed in LAW_PARAMETERS.items() if name in needed]
        yield f"rate.{name}", dimension, "needed by " + ", ".join(code(law) for law in laws)


_PARTS = {
    "gates": lambda: _gates(("placement", "hold")),
    "cautions": lambda: _gates(("caution",)),
    "clocks": _clocks,
    "film": _film,
}


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directives ``keys`` and ``coating-keys``."""
    app.add_directive("keys", Keys)
    app.add_directive("coating-keys", CoatingKeys)
    return {"parallel_read_safe": True, "parallel_write_safe": True}

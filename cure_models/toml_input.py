"""Read and validate a TOML file; every fault becomes one sentence that names file and key."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from cure_models.errors import DewgapError, did_you_mean

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

__all__ = ["BOUNDS", "Table", "is_own_file", "parse_toml", "read_text", "validated"]

Model = TypeVar("Model", bound=BaseModel)

_DEEPEST = 20


class Table(BaseModel):
    """A table of a file: it has no key that is not known, and is never changed."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def is_own_file(name: str) -> bool:
    """Tell whether a name is the path of a user's own file, and not that of something shipped.

    >>> is_own_file("acrylic"), is_own_file("mine.toml"), is_own_file("ours/acrylic")
    (False, True, True)
    """
    return name.endswith(".toml") or "/" in name


def read_text(path: Path, error: type[DewgapError]) -> str:
    """Return the text of a file.

    Raises
    ------
    DewgapError
        Of the type ``error``, if the file is missing, unreadable, empty or not UTF-8.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise error(f"{path}: no such file; check the path") from None
    except UnicodeDecodeError as fault:
        raise error(
            f"{path}: not UTF-8 text at byte {fault.start}; save the file as UTF-8"
        ) from None
    except OSError as fault:
        raise error(f"{path}: cannot be read ({fault.strerror}); name a readable file") from None
    except ValueError:  # a NUL, or half of a letter: told as Python escapes it
        told = repr(str(path))[1:-1]
        raise error(f"{told}: no file can have such a name; check the path") from None
    if not text.strip():
        raise error(f"{path}: the file is empty; see the shipped demo files for an example")
    return text


def parse_toml(text: str, where: str, error: type[DewgapError]) -> dict[str, Any]:
    """Return the tables of a TOML text; ``where`` is the place that a fault names.

    Raises
    ------
    DewgapError
        Of the type ``error``, if it is not TOML or is nested too deep.
    """
    too_deep = (
        f"{where}: lists or tables stand more than {_DEEPEST} deep in one another; close a bracket "
        "or shorten a key"
    )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise error(f"{where}: not valid TOML: {fault}; mend that line") from None
    except RecursionError:
        raise error(too_deep) from None
    if _is_too_deep(data):
        raise error(too_deep)
    return data


def _is_too_deep(data: dict[str, Any]) -> bool:
    """Tell whether tables and lists go deeper than any file's do: a dotted key needs no bracket."""
    level: list[Any] = [data]
    for _ in range(_DEEPEST):
        inner = [each.values() if isinstance(each, dict) else each for each in level]
        level = [each for some in inner for each in some if isinstance(each, dict | list)]
    return bool(level)


def validated(
    model: type[Model], data: Mapping[str, Any], where: str, error: type[DewgapError]
) -> Model:
    """Return ``data`` as a checked ``model``; the first fault is told, the others counted.

    Raises
    ------
    DewgapError
        Of the type ``error``, if a key is unknown or missing, or a value is not a possible one.
    """
    try:
        return model.model_validate(data)
    except ValidationError as fault:
        # An unknown key first: a misspelt key is also missing under its right name.
        faults = sorted(
            fault.errors(include_url=False), key=lambda each: each["type"] != "extra_forbidden"
        )
        first, others = faults[0], len(faults) - 1
        more = f" (and {others} more fault{'s' * (others > 1)})" if others else ""
        raise error(f"{where}: {_sentence(model, first)}{more}") from None


_MEND = {
    "missing": "is missing; add it",
    "string_type": "must be text in quotes",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "float_type": "must be a number, without quotes",
    "float_parsing": "must be a number",
    "int_type": "must be a whole number, without quotes",
    "list_type": "must be a list in [ ]",
    "tuple_type": "must be a list in [ ]",
    "model_type": "must be a table of keys",
    "dict_type": "must be a table of keys",
    "finite_number": "must be a finite number",
}


BOUNDS = {
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
}
"""Faults of a bound: its words, and the name under which pydantic tells it."""


def _key(path: Sequence[str | int]) -> str:
    """Return the path of a key as people count: the first of a list is number 1."""
    told = ""
    for part in path:
        told += f" {part + 1}" if isinstance(part, int) else f".{part}"
    return told.removeprefix(".")


def _sentence(model: type[BaseModel], fault: Any) -> str:
    path = [str(part) for part in fault["loc"]]
    key = _key(fault["loc"]) or "the file"
    kind = fault["type"]
    if kind == "extra_forbidden":
        return f"key '{key}' is not known; {did_you_mean(path[-1], _fields(model, path[:-1]))}"
    if kind == "value_error":
        reason = str(fault["ctx"]["error"])
        return reason if not path else f"key '{key}': {reason}"
    if kind in _MEND:
        given = "" if kind == "missing" else f", but is {fault['input']!r}"
        return f"key '{key}' {_MEND[kind]}{given}"
    if kind in BOUNDS:
        words, name = BOUNDS[kind]
        return f"key '{key}' must be {words} {fault['ctx'][name]:g}, but is {fault['input']!r}"
    if kind == "literal_error":
        return f"key '{key}' must be {fault['ctx']['expected']}, but is {fault['input']!r}"
    message = fault["msg"]
    return f"key '{key}': {message[0].lower()}{message[1:]}; it is {fault['input']!r}"


def _fields(model: type[BaseModel], path: list[str]) -> list[str]:
    """Return the keys that the table at ``path`` may have; a ``dict`` of tables takes any key."""
    entry: Any = None
    for part in path:
        field = model.model_fields.get(part)
        inner: Any = field.annotation if field is not None else entry
        entry = next((arg for arg in get_args(inner) if _is_model(arg)), None)
        if _is_model(inner):
            model = inner
        elif entry is None:
            return []
    return [f.alias or name for name, f in model.model_fields.items() if not f.exclude]


def _is_model(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)

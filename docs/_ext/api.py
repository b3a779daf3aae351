"""Reference of the Python API: pages of the names that modules offer, written at each build."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from pathlib import Path
from typing import TYPE_CHECKING

from as_markdown import write_pages
from pydantic import BaseModel
from sphinx.pycode import ModuleAnalyzer

if TYPE_CHECKING:
    from sphinx.application import Sphinx

FOLDER = Path(__file__).parents[1] / "reference" / "api"
_OFFERED = {"windows": "dewgap for programs: windows", "cure_models": "Coatings: cure_models"}


def _heading(text: str) -> str:
    return f"{text}\n{'=' * len(text)}\n"


def _entry(module: str, name: str) -> str:
    """Return the directive that documents one name of a module."""
    thing = getattr(importlib.import_module(module), name)
    if inspect.isclass(thing) and issubclass(thing, BaseModel):  # its keys have a page of their own
        options = "   :members:\n   :exclude-members: model_config\n"
        return f".. autoclass:: {module}.{name}()\n{options}"
    if inspect.isclass(thing):
        return f".. autoclass:: {module}.{name}\n   :members:\n"
    if inspect.isroutine(thing) or hasattr(thing, "__wrapped__"):
        return f".. autofunction:: {module}.{name}\n"
    if ("", name) in ModuleAnalyzer.for_module(module).find_attr_docs():
        return f".. autodata:: {module}.{name}\n   :no-value:\n"
    return f".. py:data:: {module}.{name}\n"


def _page(module: str, title: str, names: list[str]) -> str:
    parts = [_heading(title), f".. automodule:: {module}\n   :no-members:\n"]
    return "\n".join([*parts, *(_entry(module, name) for name in names)])


def _offered() -> dict[str, list[object]]:
    """Return what the packages themselves offer, by its name: it has its place there."""
    found: dict[str, list[object]] = {}
    for module in _OFFERED:
        whole = importlib.import_module(module)
        for name in whole.__all__:
            found.setdefault(name, []).append(getattr(whole, name))
    return found


def _write(app: Sphinx) -> None:
    pages = {}
    offered = _offered()
    for module, title in _OFFERED.items():
        names = sorted(importlib.import_module(module).__all__)
        if module == "cure_models":  # what windows offers too is told there
            elsewhere = importlib.import_module("windows").__all__
            names = [name for name in names if name not in elsewhere]
        pages[f"{module}.rst"] = _page(module, title, names)
    physics = []
    package = importlib.import_module("cure_models")
    for found in pkgutil.iter_modules(package.__path__, "cure_models."):
        module = importlib.import_module(found.name)
        names = [
            name
            for name in sorted(getattr(module, "__all__", ()))
            if all(getattr(module, name) is not other for other in offered.get(name, ()))
        ]
        if names:
            physics.append(found.name)
            pages[f"{found.name}.rst"] = _page(found.name, found.name, names)
    toctree = ".. toctree::\n   :maxdepth: 1\n\n" + "".join(f"   {name}\n" for name in physics)
    words = "Materials and moist air, module by module; arrays have hours on the last axis.\n"
    pages["physics.rst"] = "\n".join([_heading("Functions of cure_models"), words, toctree])
    write_pages(FOLDER, pages)


def setup(app: Sphinx) -> dict[str, bool]:
    """Write the pages before any is read."""
    app.connect("builder-inited", _write)
    return {"parallel_read_safe": True, "parallel_write_safe": True}

"""The licences of what is installed with the program, read from what each package says of itself.

```{licences}
```

gives a table of every package that `dewgap` needs at run time, directly or through another.
"""

from __future__ import annotations

import re
from importlib.metadata import PackageNotFoundError, distribution
from typing import TYPE_CHECKING

from docutils import nodes
from packaging.requirements import Requirement
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from email.message import Message

    from sphinx.application import Sphinx

__all__ = ["licence", "needed", "setup"]

_CLASSIFIER = "License :: OSI Approved :: "
_LONG = 40  # characters: a longer one is the licence's whole text, not its name


def needed(name: str) -> dict[str, str]:
    """Return the version of each package that one needs at run time on this machine, by name."""
    found: dict[str, str] = {}
    waiting = [name]
    while waiting:
        for text in distribution(waiting.pop()).requires or []:
            requirement = Requirement(text)
            if requirement.marker and not requirement.marker.evaluate({"extra": ""}):
                continue
            known = re.sub(r"[-_.]+", "-", requirement.name).lower()
            if known not in found:
                try:
                    found[known] = distribution(known).version
                except PackageNotFoundError:
                    continue
                waiting.append(known)
    return found


def licence(told: Message) -> str:
    """Return the name of a licence from a package's metadata."""
    if told.get("License-Expression"):
        return str(told["License-Expression"])
    named = [
        text.removeprefix(_CLASSIFIER)
        for text in told.get_all("Classifier", [])
        if text.startswith(_CLASSIFIER)
    ]
    if named:
        return ", ".join(named)
    text = str(told.get("License", "")).strip()
    return text if text and len(text) <= _LONG and "\n" not in text else "see the package"


class Licences(SphinxDirective):
    """A table: package, version, licence."""

    def run(self) -> list[nodes.Node]:
        """Return the table."""
        table = nodes.table()
        group = nodes.tgroup(cols=3)
        table += group
        for width in (3, 2, 5):
            group += nodes.colspec(colwidth=width)
        head, body = nodes.thead(), nodes.tbody()
        group += [head, body]
        head += _row("package", "version", "licence")
        for name, version in sorted(needed("dewgap").items()):
            body += _row(name, version, licence(distribution(name).metadata))
        return [table]


def _row(*cells: str) -> nodes.row:
    row = nodes.row()
    for cell in cells:
        row += nodes.entry("", nodes.paragraph("", cell))
    return row


def setup(app: Sphinx) -> dict[str, bool]:
    """Add the directive."""
    app.add_directive("licences", Licences)
    return {"parallel_read_safe": True}

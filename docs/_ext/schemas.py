"""Reference of the JSON Schemas, of formats that are read, and of every number of the materials.

``{json-schema} ../../windows/log/log.schema.json`` shows a schema's parts and gives the file,
``{weather-formats}`` the formats of weather, ``{sources}`` every number of coatings and systems.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from as_markdown import code, plain, table
from docutils import nodes
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sphinx.application import Sphinx

    from cure_models.profile import Profile
    from cure_models.sourced import Sourced

_TABLES = (
    "reference", "rate", "film", "gates", "clock_holds", "milestones", "milestone_clock_min",
    "deadlines", "cautions",
)  # fmt: skip
_LIMITS = {"minimum": "at least", "exclusiveMinimum": "above", "maximum": "at most"}


def _kind(part: dict[str, Any]) -> str:
    """Return what a value of a schema may be."""
    if "$ref" in part:
        return code(part["$ref"].rpartition("/")[2])
    if "const" in part:
        return code(json.dumps(part["const"]))
    if "enum" in part:
        return " or ".join(code(json.dumps(each)) for each in part["enum"])
    for several in ("anyOf", "oneOf"):
        if several in part:
            return " or ".join(_kind(each) for each in part[several])
    if part.get("type") == "array":
        items = part.get("prefixItems", [part.get("items")])
        kinds = dict.fromkeys(_kind(each) for each in items if isinstance(each, dict))
        return "list of " + (", ".join(kinds) or "any")
    kind = part.get("type", "any")
    words = " or ".join(kind) if isinstance(kind, list) else kind
    limits = [f"{word} {part[key]:g}" for key, word in _LIMITS.items() if key in part]
    return ", ".join([words, *limits])


def _object(name: str, part: dict[str, Any]) -> str:
    """Return one part of a schema: its words, and a table of its keys."""
    told = f"**{plain(name)}**: {plain(part.get('description', ''))}"
    keys = part.get("properties", {})
    if not keys:
        return f"{told} {_kind(part)}."
    needed = part.get("required", ())
    rows = [
        [code(key), _kind(part), "yes" if key in needed else "", plain(part.get("description", ""))]
        for key, part in keys.items()
    ]
    return told + "\n\n" + table(["key", "what it is", "always there", "meaning"], rows)


class JsonSchema(SphinxDirective):
    """A JSON Schema: its parts, and the file itself to download."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        """Return the parts."""
        relative, path = self.env.relfn2path(self.arguments[0])
        self.env.note_dependency(relative)
        schema = json.loads(Path(path).read_text(encoding="utf-8"))
        parts = [f"{plain(schema['description'])} The file: {{download}}`{self.arguments[0]}`."]
        parts.append(_object("The whole", schema))
        parts += [_object(name, part) for name, part in schema["$defs"].items()]
        return self.parse_text_to_nodes("\n\n".join(parts))


class WeatherFormats(SphinxDirective):
    """The formats of weather that are read, from the modules that read them."""

    def run(self) -> list[nodes.Node]:
        """Return the table."""
        from windows.sources import SOURCES

        kinds = {"file": "file", "forecast": "service, forecast", "history": "service, the past"}
        rows = [[code(each.NAME), kinds[each.KIND], plain(each.HELP)] for each in SOURCES]
        return self.parse_text_to_nodes(table(["`--format`", "from", "what it is"], rows))


def entries(profile: Profile) -> Iterator[tuple[str, Sourced]]:
    """Yield each key and number of a coating in the order of its file."""
    yield "min_window", profile.min_window
    for name in _TABLES:
        for key, entry in dict(getattr(profile, name)).items():
            if entry is not None:
                yield f"{name}.{key}", entry


def _row(key: str, entry: Sourced) -> list[str]:
    unit = "" if entry.unit == "1" else f" {entry.unit}"
    span = "" if entry.low == entry.high else f"{entry.low:g} to {entry.high:g}"
    note = f" ({entry.note})" if entry.note else ""
    return [code(key), plain(f"{entry.value:g}{unit}"), span, plain(entry.source + note)]


def _material(title: str, notes: tuple[str, ...], rows: list[list[str]]) -> list[str]:
    parts = [f"{plain(title)}."]
    if notes:
        parts.append("\n".join(f"- {plain(note)}" for note in notes))
    return [*parts, table(["key", "value", "range", "source"], rows)]


def _counts(profiles: list[Profile]) -> str:
    from cure_models.sourced import BASES

    counts = {each.name: Counter(entry.basis for _, entry in entries(each)) for each in profiles}
    counts["all"] = sum(counts.values(), Counter())
    rows = [
        [name, *(str(count[basis]) for basis in BASES), str(count.total())]
        for name, count in counts.items()
    ]
    return table(["coating", *BASES, "all"], rows)


def numbers() -> list[str]:
    """Return the parts of the page of sources, in Markdown: coatings, then systems."""
    from cure_models.profile_files import coating_names, load_profile
    from cure_models.system import Interval, load_system, system_names

    profiles = [load_profile(name) for name in coating_names()]
    parts = ["## Count of figures by basis", _counts(profiles)]
    for profile in profiles:
        rows = [_row(key, entry) for key, entry in entries(profile)]
        parts += [f"## {plain(profile.name)}", *_material(profile.title, profile.notes, rows)]
    parts += [
        "## Systems",
        "What a layer does not give is its coating's own. Which roof a layer is for is common\n"
        "practice, no source, unless a system's note says otherwise.",
    ]
    for name in system_names():
        system = load_system(name)
        rows = []
        for layer in system.layers:
            rows.append(_row(f"{layer.name}.dry_film", layer.dry_film))
            for key in Interval.model_fields:
                entry = getattr(layer.next, key)
                if key != "same_shift" and entry is not None:
                    rows.append(_row(f"{layer.name}.next.{key}", entry))
        parts += [f"### {plain(system.name)}", *_material(system.title, system.notes, rows)]
    return parts


class Sources(SphinxDirective):
    """Every number of the shipped coatings and systems, with its range and its source."""

    def run(self) -> list[nodes.Node]:
        """Return sections."""
        return self.parse_text_to_nodes("\n\n".join(numbers()), allow_section_headings=True)


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directives."""
    app.add_directive("json-schema", JsonSchema)
    app.add_directive("weather-formats", WeatherFormats)
    app.add_directive("sources", Sources)
    return {"parallel_read_safe": True, "parallel_write_safe": True}

"""Reference of the commands: a page for each command and group, from the command line itself."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer.main
from as_markdown import code, plain, table, write_pages
from docutils import nodes
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sphinx.application import Sphinx

FOLDER = Path(__file__).parents[1] / "reference" / "commands"
STATUSES = FOLDER.parent / "exit_statuses.md"


def _rows(parameters: list[Any], ctx: Any) -> list[list[str]]:
    """Return how each is written, what it is for, and what stands where it is left out."""
    rows = []
    for each in parameters:
        written, told = each.get_help_record(ctx)
        extra = re.search(r"\s*\[((?:default|required|env var)[^\[\]]*)\]$", told)
        default = extra.group(1) if extra else ""
        about = plain(told[: extra.start()] if extra else told)
        named = re.sub(r"\s*\[required\]$|(?<=[A-Z]) <\w+>$", "", written.strip())
        rows.append([code(named), about, plain(re.sub(r"(^|; )default: ", r"\1", default))])
    return rows


def _about(text: str | None) -> list[str]:
    parts = re.split(r"\n\s*\n", (text or "").replace("\b", ""))
    return [plain(part) for part in parts if part.strip()]


def _command(command: Any, ctx: Any, title: str) -> list[str]:
    """Return the parts of one command: how it is written, what it does, arguments, options."""
    usage = " ".join([ctx.command_path, *command.collect_usage_pieces(ctx)])
    parts = [title, f"```text\n{usage}\n```", *_about(command.help)]
    shown = [p for p in command.get_params(ctx) if not getattr(p, "hidden", False)]
    arguments = [p for p in shown if p.param_type_name == "argument"]
    options = [p for p in shown if p.param_type_name == "option" and p.name != "help"]
    if arguments:
        parts.append(table(["argument", "what it is", "default"], _rows(arguments, ctx)))
    if options:
        parts.append(table(["option", "what it does", "default"], _rows(options, ctx)))
    examples = [*getattr(command, "first", ()), *getattr(command, "examples", ())]
    if examples:
        parts.append("```sh\n" + "\n".join(examples) + "\n```")
    return parts


def _page(command: Any, ctx: Any) -> str:
    parts = _command(command, ctx, f"# {ctx.command_path}")
    for name, inner in sorted(getattr(command, "commands", {}).items()):
        if not inner.hidden:
            below = type(ctx)(inner, info_name=name, parent=ctx)
            parts += _command(inner, below, f"## {below.command_path}")
            for last, innermost in sorted(getattr(inner, "commands", {}).items()):
                deepest = type(ctx)(innermost, info_name=last, parent=below)
                parts += _command(innermost, deepest, f"### {deepest.command_path}")
    if STATUSES.exists():
        parts.append("What each exit status says: [exit statuses](../exit_statuses.md).")
    return "\n\n".join(parts) + "\n"


def _write(app: Sphinx) -> None:
    from windows.cli import app as commands

    whole = typer.main.get_command(commands)
    top = whole.make_context("dewgap", [], resilient_parsing=True)
    pages = {}
    panels: dict[str, list[list[str]]] = {}
    for name, command in whole.commands.items():
        ctx = type(top)(command, info_name=name, parent=top)
        pages[f"{name}.md"] = _page(command, ctx)
        panel = getattr(command, "rich_help_panel", None)
        short = (_about(command.help) or [""])[0]
        panels.setdefault(panel if isinstance(panel, str) else "Commands", []).append(
            [f"[dewgap {name}]({name}.md)", short]
        )
    overview = ["# All commands"]
    for panel, rows in panels.items():
        overview += [f"## {panel}", table(["command", "what it does"], rows)]
    pages["all.md"] = "\n\n".join(overview) + "\n"
    write_pages(FOLDER, pages)


def _options(command: Any, ctx: Any) -> Iterator[tuple[str, str, str]]:
    """Yield option, command and words of each option that names a file or a folder."""
    for each in command.get_params(ctx):
        record = each.get_help_record(ctx) if each.param_type_name == "option" else None
        if record and re.search(r" (FILE|DIR)$", record[0]):
            yield record[0], ctx.command_path, record[1].replace("[required]", "").strip()
    for name, inner in getattr(command, "commands", {}).items():
        yield from _options(inner, type(ctx)(inner, info_name=name, parent=ctx))


class FileOptions(SphinxDirective):
    """Every option that names a file or a folder, and the commands that have it."""

    def run(self) -> list[nodes.Node]:
        """Return the table."""
        from windows.cli import app as commands

        whole = typer.main.get_command(commands)
        ctx = whole.make_context("dewgap", [], resilient_parsing=True)
        found: dict[tuple[str, str], list[str]] = {}
        for option, command, words in _options(whole, ctx):
            found.setdefault((option, words), []).append(command)
        rows = [
            [code(option), plain(words), ", ".join(code(name) for name in sorted(names))]
            for (option, words), names in sorted(found.items())
        ]
        return self.parse_text_to_nodes(table(["option", "what it names", "commands"], rows))


def setup(app: Sphinx) -> dict[str, bool]:
    """Write the pages before any is read."""
    app.connect("builder-inited", _write)
    app.add_directive("file-options", FileOptions)
    return {"parallel_read_safe": True, "parallel_write_safe": True}

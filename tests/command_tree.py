"""All commands of ``dewgap``, as click has them."""

import typer

from windows.cli import app


def _walk(command, path=()):
    yield " ".join(path), command
    for name, inner in getattr(command, "commands", {}).items():
        yield from _walk(inner, (*path, name))


def leaves():
    """Return every command that does something, by its name."""
    tree = _walk(typer.main.get_command(app))
    return {name: each for name, each in tree if not hasattr(each, "commands")}


def groups():
    """Return every group of commands, by its name; that of all has none."""
    tree = _walk(typer.main.get_command(app))
    return {name: each for name, each in tree if hasattr(each, "commands")}

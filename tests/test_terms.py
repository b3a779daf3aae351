"""Every command, option, color and verdict stands on the page that says where its term is from."""

import re
from pathlib import Path

import pytest
from typer.main import get_command

from windows.cli import app
from windows.cover import Verdict as Cover
from windows.decision import Verdict as Decision
from windows.gates import State

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "reference" / "terms.md").read_text(encoding="utf-8")


def told(heading):
    """Return what stands in backticks in the first cells of a section's tables."""
    section = PAGE.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
    first = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    return {name for cell in first for name in re.findall(r"`([^`]+)`", cell)}


def walk(command, path=()):
    """Yield each command below one with the words that call it."""
    yield " ".join(path), command
    for name, below in getattr(command, "commands", {}).items():
        yield from walk(below, (*path, name))


COMMANDS = dict(walk(get_command(app)))
OPTIONS = {
    name
    for command in COMMANDS.values()
    for parameter in command.params
    if parameter.param_type_name == "option"
    for name in (*parameter.opts, *parameter.secondary_opts)
}  # fmt: skip


def test_every_command_has_its_origin():
    assert told("Commands") == set(COMMANDS) - {""}


def test_every_option_has_its_origin():
    assert told("Options") - {"--help"} == OPTIONS - {"--help"}


@pytest.mark.parametrize("answers", [State, Cover, Decision])
def test_every_verdict_has_its_origin(answers):
    names = {each.name if answers is State else each.value for each in answers}
    assert names <= told("What answers are called")


def test_every_color_has_its_origin():
    color = re.compile(r"#(?:[0-9a-f]{6}|[0-9a-f]{3})\b")
    sources = [
        *(ROOT / "windows").rglob("*.py"), *(ROOT / "windows").rglob("*.css"),
        *(ROOT / "windows").rglob("*.js"), ROOT / "docs" / "conf.py",
        *(ROOT / "docs" / "_static").glob("*.css"),
    ]  # fmt: skip
    used = {each for path in sources for each in color.findall(path.read_text(encoding="utf-8"))}
    colors = PAGE.partition("\n## Colors\n")[2].partition("\n## ")[0]
    assert set(color.findall(colors)) == used

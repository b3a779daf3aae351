"""Commands of a page, run when the site is built, with what they print.

Every page has a scratch folder with a copy of ``demo_sites``. Its directives work in that folder in
their order: ``{file}`` shows a file and puts it there, ``{run}`` runs commands. What was printed is
kept in ``docs/_made`` under a hash of the program and of all steps of the page so far: a page whose
words alone changed is quick to build.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives
from pygments.lexers.special import TextLexer
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from collections.abc import Callable

    from sphinx.application import Sphinx
    from sphinx.environment import BuildEnvironment

_log = logging.getLogger(__name__)
ROOT = Path(__file__).parents[2]
MADE = ROOT / "docs" / "_made"
_OFFLINE = Path(__file__).parent / "offline"
_LONGEST_S = 120
_HANGS_ON = ("windows", "cure_models", "demo_sites", "docs/examples")
_TEMPORARY = re.escape(tempfile.gettempdir())
# Any folder beside that of the page, as `mktemp -d` makes them, with what follows it or bare.
_OTHER_SCRATCH = re.compile(rf"{_TEMPORARY}/[\w.-]+/|{_TEMPORARY}/(?:dewgap-|tmp)[\w.-]*")
_LANGUAGES = {".toml": "toml", ".csv": "text", ".py": "python", ".json": "json", ".sh": "sh"}


@cache
def program() -> str:
    """Return a hash of the program, its data, the demo and the examples, which a page may copy.

    Whoever only writes words sets ``DOCS_KEEP``: then what was answered stands, whatever changed.
    """
    told = hashlib.sha256()
    if os.environ.get("DOCS_KEEP"):
        return "kept"
    for folder in _HANGS_ON:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                told.update(str(path.relative_to(ROOT)).encode() + path.read_bytes())
    return told.hexdigest()


@dataclass(frozen=True)
class Said:
    """What one command answered: its exit status and all it printed."""

    status: int
    text: str


@dataclass
class Story:
    """The steps of one page and the folder they work in; a folder is made when it is needed."""

    told: str = field(default_factory=program)
    steps: list[Callable[[Path], object]] = field(default_factory=list)
    done: int = 0
    folder: Path | None = None

    def add(self, name: str, step: Callable[[Path], object]) -> str:
        """Add a step; return the hash of all steps so far."""
        self.told = hashlib.sha256(f"{self.told}\n{name}".encode()).hexdigest()
        self.steps.append(step)
        return self.told

    def last(self) -> object:
        """Do what is not done yet, and return what the last step returned."""
        if self.folder is None:
            self.folder = Path(tempfile.mkdtemp(prefix="dewgap-docs-"))
            shutil.copytree(ROOT / "demo_sites", self.folder / "demo_sites")
        made = None
        for step in self.steps[self.done :]:
            made = step(self.folder)
        self.done = len(self.steps)
        return made


_stories: dict[str, Story] = {}


def story(env: BuildEnvironment) -> Story:
    """Return the story of the page that is being read."""
    return _stories.setdefault(env.docname, Story())


def _forget(app: Sphinx, env: BuildEnvironment, docname: str) -> None:
    """Begin a page anew."""
    ended = _stories.pop(docname, None)
    if ended and ended.folder:
        shutil.rmtree(ended.folder, ignore_errors=True)


def _end(app: Sphinx, doctree: nodes.document) -> None:
    _forget(app, app.env, app.env.docname)


def surroundings(folder: Path) -> dict[str, str]:
    """Return the variables for a command: no settings, an empty cache, no colour, no network."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("DEWGAP_", "XDG_", "GITHUB_", "FORCE_COLOR", "PYTHON"))
    }
    home = folder / ".home"
    home.mkdir(exist_ok=True)
    return kept | {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{kept.get('PATH', '')}",
        "PYTHONPATH": f"{_OFFLINE}{os.pathsep}{ROOT}",
        "PYTHONUNBUFFERED": "1",
        "HOME": str(home),
        "DOCS": str(ROOT / "docs"),
        "DEWGAP_CACHE_DIR": str(home / "cache"),
        "COLUMNS": "88",
        "NO_COLOR": "1",
        "TERM": "dumb",
        "LC_ALL": "C.UTF-8",
    }


@cache
def _warm() -> subprocess.Popen[str]:
    """Return the process from which commands are forked; it ends with this one."""
    folder = MADE / "warm"
    folder.mkdir(parents=True, exist_ok=True)
    return subprocess.Popen(
        [sys.executable, Path(__file__).parent / "warm.py"], env=surroundings(folder), cwd=folder,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
    )  # fmt: skip


def _forked(command: str, folder: Path) -> Said | None:
    """Run a plain ``dewgap`` command as a fork, or return None if it is none or cannot be."""
    if set(command) & set("|&;<>$`*?~") or not hasattr(os, "fork"):
        return None
    try:
        words = shlex.split(command.replace("\\\n", " "))
    except ValueError:  # a quote that is not closed: the shell says so
        return None
    if words[:1] != ["dewgap"]:
        return None
    warm = _warm()
    assert warm.stdin is not None
    assert warm.stdout is not None
    output = folder / ".output"
    request = {
        "words": words, "folder": str(folder), "output": str(output), "longest_s": _LONGEST_S,
        "variables": surroundings(folder),
    }  # fmt: skip
    print(json.dumps(request), file=warm.stdin, flush=True)
    status = int(warm.stdout.readline() or -1)
    text = output.read_bytes().decode("utf-8", "replace")
    output.unlink()
    return Said(status, text)


def _shell(command: str, folder: Path) -> Said:
    # In a group of its own, so that what the shell has started can be ended with it.
    shell = subprocess.Popen(
        ["sh", "-c", command], cwd=folder, env=surroundings(folder), start_new_session=True,
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    try:
        told, _ = shell.communicate(timeout=_LONGEST_S)
    except subprocess.TimeoutExpired:
        return Said(-1, f"no answer within {_LONGEST_S} s")
    finally:
        _end_group(shell)
    return Said(shell.returncode, told.decode("utf-8", "replace"))


def _end_group(shell: subprocess.Popen[bytes]) -> None:
    """End a shell and all that it has started and left behind."""
    if hasattr(os, "killpg"):
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(shell.pid, signal.SIGKILL)
    else:
        shell.kill()
    shell.wait()
    assert shell.stdout is not None
    shell.stdout.close()


def ask(command: str, folder: Path) -> Said:
    """Run one command line in a folder; where folder and program lie is left out of the answer."""
    answer = _forked(command, folder) or _shell(command, folder)
    lines = without_places(answer.text, folder).splitlines()
    return Said(answer.status, "\n".join(line.rstrip() for line in lines).strip("\n"))


def without_places(text: str, folder: Path) -> str:
    """Return a text with the files of a folder and of the program told from there on.

    The bare folder is ``.``, as a shell has it, and so is that of any scratch folder.
    """
    for place in dict.fromkeys([folder, folder.resolve(), ROOT]):
        inside = re.compile(rf"{re.escape(str(place))}(?:{re.escape(os.sep)}|(?![\w-]))")
        text = inside.sub(_from_there, text)
    return _OTHER_SCRATCH.sub(_from_there, text)


def _from_there(found: re.Match[str]) -> str:
    return "" if found[0].endswith(os.sep) and _goes_on(found) else "."


def _goes_on(found: re.Match[str]) -> bool:
    """Return whether a name follows, and not the end of what was told of the folder."""
    return bool(re.match(r"[\w.*{<-]", found.string[found.end() :]))


def said(page: Story, command: str, due: int = 0) -> Said:
    """Return what a command of a page answered: from the kept answers, or by running it.

    Only an answer with the exit status that is due is kept.
    """
    key = page.add(f"run {command}", lambda folder: ask(command, folder))
    kept = MADE / "run" / f"{key}.json"
    if kept.exists():
        return Said(**json.loads(kept.read_text(encoding="utf-8")))
    answer = page.last()
    assert isinstance(answer, Said)
    if answer.status == due:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps(vars(answer)), encoding="utf-8")
    return answer


def commands(content: list[str]) -> list[str]:
    """Return the commands of a body: one a line; a line that ends in a backslash goes on."""
    text = "\n".join(line.rstrip() for line in content if line.strip())
    return text.replace("\\\n", "\0").replace("\n", "\n\n").replace("\0", "\\\n").split("\n\n")


def cut(text: str, options: dict[str, object]) -> list[str]:
    """Return the lines of an output that are shown, with an ellipsis where some are left out."""
    lines = text.splitlines()
    count = len(lines)
    shown = set(range(count))
    if "lines" in options:
        first, last = options["lines"]
        shown &= set(range(first - 1, last))
    elif "head" in options or "tail" in options:
        head, tail = options.get("head", 0), options.get("tail", 0)
        shown &= {*range(head), *range(count - tail, count)}
    out: list[str] = []
    for number, line in enumerate(lines):
        if number in shown:
            out.append(line)
        elif out[-1:] != ["…"]:
            out.append("…")
    return out


def _range(argument: str | None) -> tuple[int, int]:
    first, _, last = (argument or "").partition("-")
    return int(first), int(last or first)


class Run(SphinxDirective):
    """Commands of a page, run in its folder, and what they print."""

    has_content = True
    option_spec: ClassVar = {
        "status": int,
        "lines": _range,
        "head": directives.nonnegative_int,
        "tail": directives.nonnegative_int,
        "hide-output": directives.flag,
        "hide": directives.flag,
    }

    def run(self) -> list[nodes.Node]:
        """Return one block with the commands and their output."""
        self.assert_has_content()
        due = self.options.get("status", 0)
        shown: list[str] = []
        for command in commands(list(self.content)):
            answer = said(story(self.env), command, due)
            if answer.status != due:
                _log.warning(
                    "%s\nends with status %d, not %d:\n%s",
                    command, answer.status, due, answer.text,
                    location=self.get_location(),
                )  # fmt: skip
            shown.append("$ " + command.replace("\n", "\n> "))
            if "hide-output" not in self.options:
                shown += cut(answer.text, self.options)
        if "hide" in self.options:
            return []
        text = "\n".join(shown)
        return [nodes.literal_block(text, text, language="console", classes=["run"])]


class File(SphinxDirective):
    """A file of a page: shown, and put into its folder for the commands that follow."""

    required_arguments = 1
    has_content = True
    option_spec: ClassVar = {"hide": directives.flag, "language": directives.unchanged}

    def run(self) -> list[nodes.Node]:
        """Return the file as a block."""
        name, text = self.arguments[0], "\n".join(self.content) + "\n"
        if Path(name).is_absolute() or ".." in Path(name).parts:
            raise self.error(f"file {name}: outside of the page's folder; name one inside of it")

        def write(folder: Path) -> None:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")

        story(self.env).add(f"file {name}\n{text}", write)
        if "hide" in self.options:
            return []
        language = self.options.get("language", _LANGUAGES.get(Path(name).suffix, "text"))
        block = nodes.literal_block(text, text, language=language)
        caption = nodes.caption(name, "", nodes.literal(name, name))
        named = nodes.container("", caption, block, literal_block=True)
        named["classes"].append("literal-block-wrapper")
        return [named]


def _outdated(app: Sphinx, env: BuildEnvironment, *_: set[str]) -> set[str]:
    """Read every page anew when the program has changed since the last build."""
    changed = getattr(env, "dewgap_program", None) != program()
    env.dewgap_program = program()
    return set(env.all_docs) & env.found_docs if changed else set()


def setup(app: Sphinx) -> dict[str, bool]:
    """Register the directives ``run`` and ``file``."""
    app.add_directive("run", Run)
    app.add_directive("file", File)
    app.add_lexer("csv", TextLexer)
    app.connect("env-get-outdated", _outdated)
    app.connect("env-purge-doc", _forget)
    app.connect("doctree-read", _end)
    return {"parallel_read_safe": True, "parallel_write_safe": True}

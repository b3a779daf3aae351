"""What all commands have in common: help that ends in an example, ``--quiet``, what to do next."""

from __future__ import annotations

import functools
import inspect
import re
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer
from typer.core import TyperCommand, TyperGroup

from cure_models.errors import DewgapError
from windows.cli.next_step import next_step
from windows.cli.printing import silenced

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["WORDS", "App", "Command", "Group", "without_examples"]

WORDS = "dewgap.words"
"""Under which a context's ``meta`` holds the words of its command."""

Quiet = Annotated[
    bool,
    typer.Option(
        "--quiet", rich_help_panel="What comes out",
        help="Print only what was asked as data (--json, say); faults still show, files are "
        "written, and the exit status tells.",
    ),
]  # fmt: skip


def without_examples(text: str | None) -> tuple[str, tuple[str, ...]]:
    """Return a help text without its examples, and these, each in one line.

    >>> without_examples("Do it. Example: dewgap do   this")
    ('Do it.', ('dewgap do this',))
    """
    about, *examples = re.split(r"\bExample: ", inspect.cleandoc(text or ""))
    return about.strip(), tuple(" ".join(example.split()) for example in examples)


def _show_examples(first: tuple[str, ...], examples: tuple[str, ...]) -> None:
    """Print examples as they are typed: a terminal wraps them, and they can be copied whole."""
    for word, commands in (("First", first), ("Example", examples)):
        for command in commands:
            typer.echo(f" {word}: {command}")
    if examples:
        typer.echo()


def _untyped_flags(parameters: list[Any]) -> list[Any]:
    """Let the help of flags show no type: who reads ``--json <bool>`` types ``--json true``."""
    for each in parameters:
        if getattr(each, "is_flag", False):
            each.metavar = ""
    return parameters


class Command(TyperCommand):
    """A command whose help ends in examples, as its docstring gives them."""

    def __init__(self, name: str | None, *, help: str | None = None, **settings: Any) -> None:
        about, self.examples = without_examples(help)
        super().__init__(name, help=about, **settings)
        self.first: tuple[str, ...] = getattr(self.callback, "first", ())

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the words, and keep them in ``meta`` for an option that answers at once."""
        ctx.meta[WORDS] = frozenset(args)
        return super().parse_args(ctx, args)

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, flags without a type."""
        return _untyped_flags(super().get_params(ctx))

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the help, then the examples below it."""
        super().format_help(ctx, formatter)
        _show_examples(self.first, self.examples)


class Group(TyperGroup):
    """A group of commands whose help ends in examples."""

    def __init__(self, *, help: str | None = None, **settings: Any) -> None:
        about, self.examples = without_examples(help)
        super().__init__(help=about, **settings)
        self.first: tuple[str, ...] = ()

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the parameters, flags without a type."""
        return _untyped_flags(super().get_params(ctx))

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the help, then the examples below it."""
        super().format_help(ctx, formatter)
        _show_examples(self.first, self.examples)


class App(typer.Typer):
    """A group of commands that all have ``--quiet``, examples and a next step.

    Parameters
    ----------
    about
        What the group is for, with ``Example: dewgap ...`` at its end.
    """

    def __init__(self, about: str, **settings: Any) -> None:
        super().__init__(
            cls=Group, help=about, no_args_is_help=True, pretty_exceptions_enable=False, **settings
        )

    def named(
        self, name: str, *, panel: str | None = None, first: str | None = None
    ) -> Callable[[Callable[..., None]], Callable[..., None]]:
        """Return what adds a function as the command of this name, and returns it as it was.

        Parameters
        ----------
        panel
            Heading in the help under which it stands.
        first
            Command to run before its example.
        """

        def added(function: Callable[..., None]) -> Callable[..., None]:
            whole = _with_quiet(function, name)
            whole.first = () if first is None else (first,)  # type: ignore[attr-defined]
            self.command(name, cls=Command, rich_help_panel=panel)(whole)
            return function

        return added


def _with_quiet(function: Callable[..., None], name: str) -> Callable[..., None]:
    """Return a command with ``--quiet``, whose faults say what to do next."""
    hints = get_type_hints(function, include_extras=True)
    parameters = [
        each.replace(kind=inspect.Parameter.KEYWORD_ONLY, annotation=hints[each.name])
        for each in inspect.signature(function).parameters.values()
    ]
    parameters.append(
        inspect.Parameter("quiet", inspect.Parameter.KEYWORD_ONLY, default=False, annotation=Quiet)
    )

    @functools.wraps(function)
    def run(*, quiet: bool = False, **given: Any) -> None:
        with silenced(quiet):
            try:
                function(**given)
            except DewgapError as fault:
                step = next_step(fault, name, given)
                if step is not None:
                    fault.add_note(step)
                raise

    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in parameters}
    del run.__wrapped__
    return run

"""What may be written to a log: what follows its last entry, and corrects one that stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from pydantic import TypeAdapter

from windows.errors import LogError
from windows.log.chain import FIRST
from windows.log.entries import Opening, Repair, Withdrawal
from windows.log.fields import Name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from windows.log.entries import Body, Draft, Entry

__all__ = [
    "Break", "Chain", "Refusal", "Why", "declared", "entries_of", "name_of", "no_earlier",
    "refusal", "span", "wrong_opening",
]  # fmt: skip

_LASTING = frozenset({Opening.kind, Withdrawal.kind, Repair.kind})
_NAME: TypeAdapter[str] = TypeAdapter(Name)

Break = Literal["before", "hole", "unbound"]
"""Why an entry does not follow: its number came already, some before it are missing, or it was
bound to another."""

Why = Literal["no number", "not there", "lasting", "withdrawn", "corrected", "other kind"]
"""Why a draft cannot correct what it names."""


@dataclass
class Chain:
    """Where a chain has come to, and the holes on the way."""

    declared: dict[tuple[int, int], int]
    number: int = 0
    hash: str = FIRST
    missing: list[tuple[int, int]] = field(default_factory=list)

    def follow(self, number: int, previous: str, its_hash: str, body: Body | None) -> str | None:
        """Go on to a row; return in words why it does not follow."""
        before, hole = self.number, (self.number + 1, number - 1)
        broken = self.step(number, previous, its_hash, body)
        if broken == "before":
            return f"entry {number} does not come after entry {before}"
        if broken == "hole":
            return f"{entries_of(hole)} missing"
        if broken == "unbound":
            return f"entry {number} does not continue " + (
                f"entry {before} as it stands" if before else "nothing, as the first must"
            )
        return None

    def step(self, number: int, previous: str, its_hash: str, body: Body | None) -> Break | None:
        """Go on to a row; return why it does not follow."""
        first = self.number + 1
        broken: Break | None = None
        if number < first:
            return "before"
        if number == first:
            if previous != self.hash:
                broken = "unbound"
        else:
            hole = (first, number - 1)
            self.missing.append(hole)
            mine = isinstance(body, Repair) and hole in body.missing
            if self.declared.get(hole, 0) < number:
                broken = "hole"
            elif mine and previous != self.hash:
                # A repair that follows the hole itself was bound to the last entry that was left.
                broken = "unbound"
        self.number, self.hash = number, its_hash
        return broken

    def is_lost(self, number: int) -> bool:
        """Tell whether a number lies in a declared hole."""
        return any(first <= number <= last for first, last in self.declared)


def declared(entries: Iterable[Entry]) -> dict[tuple[int, int], int]:
    """Return each hole that is declared, with the number of the last entry that declares it."""
    return {
        hole: entry.number
        for entry in entries
        if isinstance(entry.body, Repair)
        for hole in entry.body.missing
    }


def span(hole: tuple[int, int]) -> str:
    """Return the numbers of a hole as the subject of a sentence."""
    first, last = hole
    return f"{first} is" if first == last else f"{first} to {last} are"


def entries_of(hole: tuple[int, int]) -> str:
    """Return the entries of a hole as the subject of a sentence."""
    return f"{'entry' if hole[0] == hole[1] else 'entries'} {span(hole)}"


def no_earlier(number: int, corrects: object) -> str:
    """Return the sentence of an entry that corrects none before it."""
    return f"entry {number} corrects {corrects}, which is no earlier entry"


def wrong_opening(body: Body, number: int) -> str | None:
    """Return why an entry may not have its number: the first, and only it, is an opening."""
    if isinstance(body, Opening) == (number == 1):
        return None
    return (
        "the first entry of a log must be an opening"
        if number == 1
        else "an opening is the first entry of a log and no later one"
    )


@dataclass(frozen=True)
class Refusal:
    """Why a draft cannot correct the entry ``old``: one of ``kind``, replaced by entry ``by``."""

    why: Why
    new: str
    old: int | None = None
    kind: str | None = None
    by: int | None = None

    def told(self, words: Mapping[Why, str], last: str) -> str:
        """Return the sentence; ``words`` name the fields, and ``last`` is the last entry."""
        return words[self.why].format(
            new=self.new, old=self.old, kind=self.kind, by=self.by, last=last
        )


def refusal(
    draft: Draft,
    kind_of: Callable[[int], str | None],
    instead_of: Callable[[int], tuple[int, str] | None],
) -> Refusal | None:
    """Return why a draft cannot correct what it names, None if it can or corrects nothing.

    Parameters
    ----------
    draft
        The draft.
    kind_of
        Returns the kind of the entry of a number, None if there is none.
    instead_of
        Returns number and kind of the last entry in the place of one, None if that one stands.
    """
    old, new = draft.corrects, draft.body.kind
    withdraws = isinstance(draft.body, Withdrawal)
    if old is None:
        return Refusal("no number", new) if withdraws else None
    kind = kind_of(old)
    if kind is None:
        return Refusal("not there", new, old)
    # What a repair lost can be made good; that is told by its withdrawal.
    if kind in _LASTING and not (kind == Repair.kind and withdraws):
        return Refusal("lasting", new, old, kind)
    by = instead_of(old)
    if by is not None:
        why: Why = "withdrawn" if by[1] == Withdrawal.kind else "corrected"
        return Refusal(why, new, old, kind, by[0])
    if new != kind and not withdraws:
        return Refusal("other kind", new, old, kind)
    return None


def name_of(author: str, path: Path) -> str:
    """Return who writes, as a name on one line; LogError if it is none.

    Raises
    ------
    LogError
        If it is none; ``path`` is the log that the fault names.
    """
    try:
        name = _NAME.validate_python(author)
    except ValueError:
        name = ""
    if not name:
        raise LogError(
            f"{path}: an author {str(author)[:60]!r} is not a name on one line; tell who writes"
        )
    return name

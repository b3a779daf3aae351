"""Tell a command of the user's own when the board's answer changed; nothing else is sent anywhere.

What counts as a change is our own choice: who lays what, where and when; the danger of a deadline;
a fault. A chance counts where it moved by five points or more, a time to stop where it moved by
half an hour or more. The times of a run, costs, and numbers inside the words of a fault do not.

Changes are told with the names of sites, and on their own clocks: who reads them on a phone knows
neither a folder's name nor UTC.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shlex
import signal
import subprocess
import tempfile
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import IO, TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from windows.reports.board_table import day_told

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import tzinfo

__all__ = ["TIMEOUT_S", "Told", "changes", "notify"]

TIMEOUT_S = 60.0
"""How long a command may take. [s]"""

_POINTS = 0.05
_STOP_MOVED = timedelta(minutes=30)
_MOST_SAID = 200
_NUMBER = re.compile(r"[0-9]+(?:[.,:][0-9]+)*")
_NOT_SHOWN = re.compile(r"[\x00-\x1f\x7f-\x9f\s]+")

# Verdict: how it is told with a time to stop, and without.
_VERDICTS = {
    "go": ("go, all of it, until {}", "go, all of it"),
    "go_until": ("go, stop at {}", "go, stop early"),
    "close_call": ("close call, leans to go until {}", "close call, leans to wait"),
}

_Work = dict[str, Any]
_Verdict = tuple[str, datetime | None]
_Key = tuple[Any, ...]


@dataclass(frozen=True)
class Told:
    """Whether a command took what it was told, and a sentence on it."""

    well: bool
    text: str


def notify(
    command: str,
    document: dict[str, Any],
    before: dict[str, Any] | None,
    *,
    timeout_s: float = TIMEOUT_S,
) -> Told | None:
    """Run a command where the board changed, with the board on its standard input as JSON.

    The JSON is ``document`` with the changes in words under ``changed``. The command is split into
    words as a shell does, but no shell runs it, so that no name on the board can become a command.
    It has the environment of this program, and nothing that it prints is shown, but for its last
    words if it fails. A command that fails costs nothing but its message.

    Parameters
    ----------
    command
        As typed, with its arguments.
    document, before
        The board now and the one told before, by `board_dict`; None where there was none.
    timeout_s
        After which the command is ended. [s]

    Returns
    -------
    Told or None
        What happened; None where nothing changed and nothing was run.
    """
    changed = changes(document, before)
    if not changed:
        return None
    told = json.dumps(document | {"changed": changed}, ensure_ascii=True, allow_nan=False)
    fault = _run(command, told.encode(), timeout_s)
    if fault is None:
        return Told(True, f"'{_shown(command)}' was told of {_changes(len(changed))}")
    return Told(False, f"'{_shown(command)}' was not told of {_changes(len(changed))}: {fault}")


def changes(document: dict[str, Any], before: dict[str, Any] | None) -> list[str]:
    """Return what is new on a board, a text each, none where the answer is the same.

    Work that had ended by the time of the new board is no news when it goes. A board before that
    is none, or cannot be read, holds nothing: all is new then.
    """
    try:
        old = _BoardAnswer.of({} if before is None else before, document["now"])
    except (LookupError, TypeError, AttributeError, ArithmeticError, ValueError):
        old = _BoardAnswer.of({}, document["now"])
    new = _BoardAnswer.of(document, document["now"])
    names = _Names({**old.sites, **new.sites})
    return [
        *_work_changes(old, new, names),
        *_visit_changes(old, new, names),
        *_danger_changes(old, new, names),
        *(f"fault: {text}" for key, text in new.faults.items() if key not in old.faults),
        *(f"mended: {text}" for key, text in old.faults.items() if key not in new.faults),
    ]


class _BoardAnswer:
    """The parts of a board that make its answer, each by what it is about."""

    def __init__(self) -> None:
        self.sites: dict[str, tuple[str, str]] = {}
        self.works: dict[_Key, _Work] = {}
        self.visits: dict[_Key, _Verdict] = {}
        self.dangers: dict[_Key, str] = {}
        self.faults: dict[_Key, str] = {}

    @classmethod
    def of(cls, board: dict[str, Any], now: str) -> _BoardAnswer:
        """Return what a board says of the time after ``now``."""
        told = cls()
        for each in board.get("sites", ()):
            told.sites[str(each["key"])] = str(each["name"]), str(each["timezone"])
        for each in board.get("assignments", ()):
            works = [work for work in each["works"] if _time(work["end"]) > _time(now)]
            who = {name: str(each[name]) for name in ("crew", "day")}
            for work in works:
                about = each["site"], work["piece"], work["layer"]
                told.works[about] = {
                    **who,
                    "layer_name": str(work["layer_name"]),
                    "start": _time(work["start"]),
                    "end": _time(work["end"]),
                    "chance": _careful(work["chance"]),
                }
            if works and each["decision"] is not None:
                decision = each["decision"]
                visit = each["crew"], each["site"], _day(each["day"])
                told.visits[visit] = str(decision["verdict"]), _stop(decision)
        for each in board.get("deadlines", ()):
            layer = each["site"], each["piece"], each["layer_name"]
            told.dangers[layer] = str(each["danger"])
        for each in board.get("faults", ()):
            fault = each["where"], _NUMBER.sub("0", each["text"])
            told.faults[fault] = f"{each['where']}: {each['text']}"
        return told


class _Names:
    """Names and clocks of sites, for people."""

    def __init__(self, sites: dict[str, tuple[str, str]]) -> None:
        self._sites = sites
        self._counts = Counter(name for name, _ in sites.values())

    def site(self, key: str) -> str:
        """Return the name of a site; the key stands beside a name that comes twice."""
        name, _ = self._sites.get(key, (key, ""))
        return f"{name} ({key})" if self._counts[name] > 1 else name

    def hours(self, key: str, start: datetime, end: datetime) -> str:
        """Return a span on a site's clock: ``"Thu Jun 11 07:30-12:00 CDT"``."""
        zone = self._zone(key)
        first, last = start.astimezone(zone), end.astimezone(zone)
        another_day = "" if last.date() == first.date() else f"{day_told(last)} "
        until = f"{another_day}{last:%H:%M}"
        return f"{day_told(first)} {first:%H:%M}-{until} {first.tzname()}"

    def clock(self, key: str, when: datetime) -> str:
        """Return a time of day on a site's clock: ``"12:00 CDT"``."""
        local = when.astimezone(self._zone(key))
        return f"{local:%H:%M} {local.tzname()}"

    def _zone(self, key: str) -> tzinfo:
        """Return a site's clock; UTC, which names itself, where it is not known."""
        try:
            return ZoneInfo(self._sites[key][1])
        except (LookupError, ValueError, OSError):
            return UTC


def _work_changes(old: _BoardAnswer, new: _BoardAnswer, names: _Names) -> Iterator[str]:
    for key, work in new.works.items():
        what = f"{work['layer_name']} on {key[1]}, {names.site(key[0])}"
        was = old.works.get(key)
        if was is None:
            yield f"new: {what}: {_who(key, work, names)}"
        elif any(was[name] != work[name] for name in ("crew", "day", "start", "end")):
            yield f"moved: {what}: {_who(key, work, names)}, was {_who(key, was, names)}"
        elif _moved(was["chance"], work["chance"]):
            now, before = (_share(each["chance"]) for each in (work, was))
            yield f"chance: {what}: {now} to hold, was {before}"
    for key, was in old.works.items():
        if key not in new.works:
            what = f"{was['layer_name']} on {key[1]}, {names.site(key[0])}"
            yield f"called off: {what}: was {_who(key, was, names)}"


def _moved(was: float | None, now: float | None) -> bool:
    """Tell whether a chance moved by enough to be told."""
    if was is None or now is None:
        return was is not now
    return abs(was - now) >= _POINTS - 1e-9


def _share(chance: float | None) -> str:
    return "not known" if chance is None else f"{chance:.0%}"


def _visit_changes(old: _BoardAnswer, new: _BoardAnswer, names: _Names) -> Iterator[str]:
    """Yield what the costs now say otherwise, of visits that stand on both boards."""
    for key, decision in new.visits.items():
        was = old.visits.get(key)
        if was is not None and (decision[0] != was[0] or _stop_moved(decision[1], was[1])):
            crew, site, day = key
            now, before = (_verdict(each, site, names) for each in (decision, was))
            yield f"decision: {crew} at {names.site(site)} on {day_told(day)}: {now}, was {before}"


def _stop_moved(stop: datetime | None, was: datetime | None) -> bool:
    if stop is None or was is None:
        return stop is not was
    return abs(stop - was) >= _STOP_MOVED


def _danger_changes(old: _BoardAnswer, new: _BoardAnswer, names: _Names) -> Iterator[str]:
    """Yield deadlines whose danger is another; one that is not told is in no danger."""
    for key in dict.fromkeys((*new.dangers, *old.dangers)):
        danger, was = (told.dangers.get(key, "in_time") for told in (new, old))
        if key not in new.dangers and any(where == key[0] for where, _ in new.faults):
            continue  # it is not told because its site is at fault
        if danger != was:
            site, piece, layer = key
            what = f"{layer} on {piece}, {names.site(site)}"
            yield f"deadline: {what}: {_words(danger)}, was {_words(was)}"


def _who(key: _Key, work: _Work, names: _Names) -> str:
    return f"{work['crew']}, {names.hours(key[0], work['start'], work['end'])}"


def _verdict(decision: _Verdict, site: str, names: _Names) -> str:
    verdict, stop = decision
    timed, untimed = _VERDICTS.get(verdict, ("", _words(verdict)))
    return timed.format(names.clock(site, stop)) if stop is not None and timed else untimed


def _words(name: str) -> str:
    return name.replace("_", " ")


def _time(text: str) -> datetime:
    when = datetime.fromisoformat(text)
    if when.tzinfo is None:
        raise ValueError("a time without a zone")
    return when.astimezone(UTC)


def _day(text: str) -> date:
    return date.fromisoformat(text)


def _stop(decision: dict[str, Any]) -> datetime | None:
    return None if decision["stop_at"] is None else _time(decision["stop_at"])


def _careful(chance: dict[str, Any]) -> float | None:
    """Return the number to plan with, None where nothing is known."""
    if chance["method"] == "unknown":
        return None
    number = chance["low"] if chance["estimate"] is None else chance["estimate"]
    return 0.0 if number is None else float(number)


def _changes(count: int) -> str:
    return f"{count} change{'' if count == 1 else 's'}"


def _shown(text: str) -> str:
    """Return a text as part of one line, not too long."""
    line = _NOT_SHOWN.sub(" ", text).strip()
    return line if len(line) <= _MOST_SAID else f"{line[:_MOST_SAID]}..."


def _run(command: str, told: bytes, timeout_s: float) -> str | None:
    """Run a command; return what went wrong, with how to mend it, None if nothing did."""
    try:
        words = shlex.split(command)
    except ValueError:
        return "it has a quote that is not closed; close it, or write it as \\'"
    if not words:
        return "it names no program; give one, with its arguments"
    try:
        # Files, not pipes: no program can block this one by what it does not read or does not end.
        with tempfile.TemporaryFile() as given, tempfile.TemporaryFile() as said:
            given.write(told)
            given.seek(0)
            process = subprocess.Popen(
                words, stdin=given, stdout=subprocess.DEVNULL, stderr=said, start_new_session=True
            )
            try:
                code = process.wait(timeout_s)
            except subprocess.TimeoutExpired:
                return f"it did not end within {timeout_s:g} s and was stopped; let it end sooner"
            finally:
                if process.returncode is None:
                    _end(process)
            return None if code == 0 else f"it ended with {_ended(code)}{_last_words(said)}"
    except OSError as fault:
        return f"it cannot be run ({fault.strerror}); name a program that is there and may be run"
    except ValueError:
        return "it holds a character that no program's name can have; type it anew"


def _end(process: subprocess.Popen[bytes]) -> None:
    """End a command and what it started."""
    with contextlib.suppress(OSError):
        if hasattr(os, "killpg"):
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
    process.wait()


def _ended(code: int) -> str:
    return f"signal {-code}" if code < 0 else f"exit status {code}"


def _last_words(said: IO[bytes]) -> str:
    """Return the last line that a command wrote of its fault."""
    said.seek(max(0, said.seek(0, os.SEEK_END) - 4096))
    lines = said.read().decode("utf-8", "replace").strip().splitlines()
    return f" ({_shown(lines[-1])}); mend it and run it by hand" if lines else "; run it by hand"

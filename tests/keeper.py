"""What a run of the tests leaves for the pages: comparisons with the outside, and faults tried.

Two values in pytest's cache, each by the test that told it: ``dewgap/outside_checks`` (rows of
outside.py) and ``dewgap/faults`` (sentences of errors that arose while a test ran). A run of some
tests replaces what those told before, and a run of whole files also forgets the tests that are no
longer in them. Workers of pytest-xdist hand theirs over with the report of the test.

A test that was skipped leaves an empty entry: it had its chance. One that failed, or was expected
to, leaves an entry that says so, with no rows, until it passes or is no more; that a sample leaves
it out is no pass. A test during which a fault is told in a bad sentence fails.
"""

from __future__ import annotations

import re
import sys
import tempfile
import time
from collections.abc import Generator, Iterable
from pathlib import Path
from typing import Any

import pytest
from outside import Outside, program

from cure_models.errors import DewgapError

__all__ = ["CHECKS", "FAULTS", "Keeper", "breaks_the_rule", "kept", "shape"]

CHECKS, FAULTS = "dewgap/outside_checks", "dewgap/faults"
ROOT = Path(__file__).parents[1]
LONGEST, LONG_WORD = 400, 60
"""The most characters of a fault's sentence, and of a word of it that count."""
_LEFT_OUT = "dewgap_left_out"
_IN_PATH = r"[^\s:,;'\"()]"
_FOLDERS = re.compile(rf"{re.escape(tempfile.gettempdir())}/(?:{_IN_PATH}*/)?({_IN_PATH}*)")
_PORT = re.compile(r"127\.0\.0\.1:\d+")
_MASKS = (
    (re.compile(r"known[a-z ]*: .*"), "known: ..."),
    (re.compile(r"\b[0-9a-f]{12,}\b"), "ID"),
    (re.compile(r"'[^']*'|\"[^\"]*\""), "'...'"),
    (re.compile(r"[^\s:,;()]*/[^\s:,;()]*|[^\s:,;()]+\.[a-z]\w*\b"), "FILE"),
    (re.compile(r"[-+]?\d[\d,.:TZ-]*"), "#"),
)


class Keeper:
    """A plugin of pytest that listens to the tests of one process.

    Attributes
    ----------
    outside : Outside
        What the running test compares; the fixture of that name.
    """

    def __init__(self, config: pytest.Config) -> None:
        self.outside = Outside()
        self.config = config
        self.began = time.time()
        self.checks: dict[str, Any] = {}
        self.faults: dict[str, Any] = {}
        self.seen: set[str] = set()
        self.failed: set[str] = set()
        self.left_out: set[str] = set()
        self._heard: dict[str, tuple[str, str]] = {}
        self._listening = False
        # Of the program as it was when the tests began.
        self._program = "" if hasattr(config, "workerinput") else program(ROOT)
        self._listen()

    # Where the tests run. -----------------------------------------------------------------------

    def _listen(self) -> None:
        """Hear of every error for the user as it arises."""
        plain, keeper = DewgapError.__init__, self

        def heard(error: DewgapError, *args: object, **named: object) -> None:
            plain(error, *args, **named)
            if keeper._listening:
                keeper._hear(error)

        DewgapError.__init__ = heard  # type: ignore[method-assign]

        def forget() -> None:
            DewgapError.__init__ = plain  # type: ignore[method-assign]

        self.config.add_cleanup(forget)

    def _hear(self, error: DewgapError) -> None:
        # The first frame outside of the errors' own modules; a test's own errors are not heard.
        frame = sys._getframe(2)
        while frame.f_globals.get("__name__") in {"windows.errors", "cure_models.errors"}:
            frame = frame.f_back  # type: ignore[assignment]
        module = str(frame.f_globals.get("__name__"))
        if not module.startswith(("windows.", "cure_models.")):
            return
        # What is told again with its place in front is told once.
        inner = sys.exception()
        if isinstance(inner, DewgapError) and str(inner) in str(error):
            self._heard.pop(str(inner), None)
        self._heard[str(error)] = (type(error).__name__, module)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Generator[None, None, None]:
        self.outside.rows.clear()
        self._heard.clear()
        self._listening = True
        try:
            yield
        finally:
            self._listening = False
        for sentence in self._heard:
            why = breaks_the_rule(sentence)
            assert not why, f"a fault's sentence is no good, {why}: {sentence!r}"
        if self.outside.rows:
            item.user_properties.append((CHECKS, list(self.outside.rows)))
        if self._heard:
            item.user_properties.append((FAULTS, distinct(self._heard)))

    # Where the reports come together. -------------------------------------------------------------

    def pytest_deselected(self, items: Iterable[pytest.Item]) -> None:
        self.left_out |= {item.nodeid for item in items}

    @pytest.hookimpl(optionalhook=True)
    def pytest_testnodedown(self, node: Any) -> None:
        # Only workers collect, all of them the same.
        self.left_out |= set(getattr(node, "workeroutput", {}).get(_LEFT_OUT, ()))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if hasattr(self.config, "workerinput"):
            return
        test = report.nodeid
        self.seen.add(test)
        # A failure that was expected is told as skipped, and is one.
        if report.failed or (report.skipped and hasattr(report, "wasxfail")):
            self.failed.add(test)
        elif report.skipped:
            self.checks[test] = self._entry([])
        elif report.when == "call" and report.passed:
            for name, kept_of in ((CHECKS, self.checks), (FAULTS, self.faults)):
                told = dict(report.user_properties).get(name)
                if told:
                    kept_of[test] = self._entry(told)

    def _entry(self, told: list[dict[str, Any]]) -> dict[str, Any]:
        return {"at": self.began, "program": self._program, "told": told}

    def pytest_sessionfinish(self, session: pytest.Session, exitstatus: int) -> None:
        if hasattr(self.config, "workerinput"):
            self.config.workeroutput[_LEFT_OUT] = sorted(self.left_out)  # type: ignore[attr-defined]
            return
        cache = getattr(self.config, "cache", None)
        if cache is None or not self.seen:
            return
        whole = exitstatus in (0, 1) and _whole_files(self.config)
        for name, told in ((CHECKS, self.checks), (FAULTS, self.faults)):
            new = {test: each for test, each in told.items() if test not in self.failed}
            if name == CHECKS:
                new |= {test: self._entry([]) | {"failed": True} for test in self.failed}
            before = {
                test: each
                for test, each in cache.get(name, {}).items()
                if (self.config.rootpath / _file(test)).exists()
            }
            cache.set(name, kept(before, new, self.seen, whole, self.left_out))


def _whole_files(config: pytest.Config) -> bool:
    """Return whether each file that ran was run whole."""
    narrowed = (
        config.getoption(name, None)
        for name in ("keyword", "markexpr", "lf", "maxfail", "stepwise", "deselect")
    )
    return not any(narrowed) and not any("::" in str(arg) for arg in config.args)


def kept(
    before: dict[str, Any],
    new: dict[str, Any],
    seen: Iterable[str],
    whole: bool,
    left_out: Iterable[str] = (),
) -> dict[str, Any]:
    """Return what the cache holds after a run.

    Parameters
    ----------
    before, new : dict
        What tests told in earlier runs and in this one, by test.
    seen : iterable of str
        The tests that ran.
    whole : bool
        The files of these ran whole, so a test that is not among them is gone.
    left_out : iterable of str
        Tests that are there and did not run; of these, what failed before has failed still.
    """
    ran, waiting = set(seen), set(left_out)
    files = {_file(test) for test in ran} if whole else set()
    still = {
        test: each
        for test, each in before.items()
        if test not in ran
        and (_file(test) not in files or (test in waiting and each.get("failed")))
    }
    return still | new


def _file(test: str) -> str:
    return test.partition("::")[0]


# Sentences. --------------------------------------------------------------------------------------


def distinct(heard: dict[str, tuple[str, str]]) -> list[dict[str, str]]:
    """Return the sentences heard, one of each shape, without the folders of this machine."""
    one: dict[tuple[str, str], dict[str, str]] = {}
    for text, (kind, module) in heard.items():
        plain = _PORT.sub("127.0.0.1", _FOLDERS.sub(r"\1", text).replace(f"{ROOT}/", ""))
        told = {"kind": kind, "module": module, "sentence": plain, "shape": shape(plain)}
        key = (kind, told["shape"])
        if key not in one or len(plain) < len(one[key]["sentence"]):
            one[key] = told
    # What is a part of another sentence was told again with more around it.
    return [
        each for each in one.values()
        if not any(each["sentence"] in other["sentence"] for other in one.values()
                   if other is not each)
    ]  # fmt: skip


def shape(sentence: str) -> str:
    """Return a sentence with its files, names and numbers masked: the same fault has one shape."""
    for pattern, mask in _MASKS:
        sentence = pattern.sub(mask, sentence)
    return sentence


def breaks_the_rule(sentence: str) -> str:
    """Return what a fault's sentence must not be and is, or nothing."""
    if not sentence.strip():
        return "it is empty"
    if "Traceback" in sentence or re.search(r"<[\w.]+ object at 0x", sentence):
        return "it shows the program's inside"
    if "\n" in sentence:
        return "it is more than one line"
    # A list of the names that are known is as long as it is, and so is a word of the user.
    words = re.split(r"known[a-z ]*: ", sentence)[0].split(" ")
    length = sum(min(len(word), LONG_WORD) + 1 for word in words) - 1
    if length > LONGEST:
        return f"it has {length} characters"
    return ""

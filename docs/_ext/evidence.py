"""Tables of what the last run of the tests left behind: outside checks, and faults tried.

```{outside-checks} tests/cure_models/test_sun.py tests/cure_models/test_sky.py
```

gives the comparisons of these test files. ``{faults-tried}`` alone gives how many different faults
were tried in each area, ``{faults-tried} weather files`` their sentences. Both read what
``tests/keeper.py`` keeps in pytest's cache. Where a test that compares has left nothing, where one
of its cases failed, and where its file or the program has changed since it ran, that is a warning,
and so an error.
"""

from __future__ import annotations

import ast
import json
import sys
from collections import Counter, defaultdict
from fnmatch import fnmatch
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sphinx.application import Sphinx

ROOT = Path(__file__).parents[2]
CACHE = ROOT / ".pytest_cache" / "v"
sys.path.insert(0, str(ROOT / "tests"))

from outside import merged, program  # noqa: E402 (beside the tests)

_log = logging.getLogger(__name__)
_MEND = "run the tests first: python -m pytest"
_SHOWN = 8  # sentences of an area before the fold
_LONG = 60  # characters of a word that a page can hold

# Areas of faults, and the test files that try them; the first that fits.
AREAS = {
    "site and job files": (
        "tests/windows/test_site.py", "tests/windows/test_job_file.py",
        "tests/windows/test_crew.py", "tests/windows/test_substrate.py",
    ),
    "coatings and systems": ("tests/cure_models/*",),
    "weather services": (
        "tests/windows/sources/test_services*.py", "tests/windows/test_web.py",
        "tests/windows/test_history.py", "tests/windows/test_notify.py",
        "tests/windows/test_serve.py",
    ),
    "weather files": (
        "tests/windows/sources/*", "tests/windows/test_hours.py", "tests/windows/test_quality.py",
    ),
    "field log": ("tests/windows/log/*", "tests/windows/field/*"),
    "plans": ("tests/windows/planning/*", "tests/windows/test_recoat.py"),
    "boards": ("tests/windows/board/*", "tests/windows/reports/test_board*.py"),
    "seasons, bids and claims": ("tests/windows/seasons/*",),
    "odds and skill": ("tests/windows/odds/*", "tests/windows/skill/*"),
    "the command line": ("tests/windows/cli/*",),
    "in Python": ("tests/windows/frames/*", "tests/test_examples.py"),
    "everything else": ("*",),
}  # fmt: skip


def left_behind(name: str) -> dict[str, Any]:
    """Return what the tests left under a name, by test; nothing if they did not run."""
    path = CACHE / "dewgap" / name
    return json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}


def comparing(source: str) -> list[str]:
    """Return the tests of a file's text that ask for the fixture ``outside``, in their order."""
    return [
        node.name
        for node in ast.parse(source).body
        if isinstance(node, ast.FunctionDef)
        and node.name.startswith("test_")
        and "outside" in [a.arg for a in (*node.args.args, *node.args.kwonlyargs)]
    ]


def rows_of(file: str, left: dict[str, Any], root: Path = ROOT) -> tuple[list[dict], list[str]]:
    """Return the rows of a test file in the order of its tests, and what is wrong with them."""
    path = root / file
    if not path.is_file():
        return [], [f"{file}: no such test file"]
    tests = comparing(path.read_text(encoding="utf-8"))
    if not tests:
        return [], [f"{file}: no test of it compares with the outside"]
    by_test, failed = defaultdict(list), defaultdict(list)
    for node, told in left.items():
        where, _, case = node.partition("::")
        test = case.partition("[")[0]
        if where == file and test in tests:
            by_test[test].append(told)
            if told.get("failed"):
                failed[test].append(case)
    wrong = []
    if missing := [test for test in tests if not by_test[test]]:
        wrong.append(f"{file}: {', '.join(missing)}: left nothing; {_MEND}")
    for case in (case for test in tests for case in failed[test]):
        wrong.append(f"{file}: {case}: failed; mend it, and {_MEND}")
    entries = [each for test in tests for each in by_test[test]]
    if entries and path.stat().st_mtime > min(each["at"] for each in entries):
        wrong.append(f"{file} was changed after its tests ran; {_MEND}")
    if {each.get("program") for each in entries} - {_program(root)}:
        wrong.append(f"{file}: the program was changed after its tests ran; {_MEND}")
    rows = []
    for test in tests:
        told = merged([row for each in by_test[test] for row in each["told"]])
        if failed[test]:
            # What its other cases found would look as if the test had passed.
            rows.append(empty(test, "failed"))
        elif by_test[test]:
            rows += told or [empty(test, "not run here")]
    return rows, wrong


@cache
def _program(root: Path) -> str:
    return program(root)


def empty(test: str, why: str) -> dict[str, Any]:
    """Return the row of a test that has no numbers to show, and in their place why."""
    words = test.removeprefix("test_").replace("_", " ")
    none = {"points": 0, "allowed": "-", "worst": why, "unit": "", "why": ""}
    return {"quantity": words, "source": "-"} | none


def allowed(row: dict[str, Any]) -> str:
    """Return what a row allows, with its unit, and why so much."""
    text = in_words(row["allowed"], row["unit"], "g")
    return f"{text}: {row['why']}" if row["why"] else text


def worst(row: dict[str, Any]) -> str:
    """Return the worst that was found, with its unit."""
    return in_words(row["worst"], row["unit"], ".2g" if isinstance(row["worst"], float) else ".3g")


def in_words(told: float | list[float] | str, unit: str, form: str) -> str:
    """Return a number, a range or a text with its unit, which stays on the line of the number."""
    if isinstance(told, str):
        return told
    ends = told if isinstance(told, list) else [told]
    numbers = dict.fromkeys(f"{end:{form}}".replace("e-0", "e-") for end in ends)
    return " to ".join(numbers) + (f"\N{NO-BREAK SPACE}{unit}" if unit else "")


class OutsideChecks(SphinxDirective):
    """The comparisons of some test files with what this project did not make."""

    required_arguments = 1
    final_argument_whitespace = True
    has_content = False

    def run(self) -> list[nodes.Node]:
        """Return the table, in the order of the files and of their tests."""
        self.env.note_dependency(str(CACHE / "dewgap" / "outside_checks"))
        left, lines = left_behind("outside_checks"), []
        for file in self.arguments[0].split():
            rows, wrong = rows_of(file, left)
            for text in wrong:
                _log.warning(text, location=self.get_location(), type="evidence")
            lines += [
                [r["quantity"], r["source"], f"{r['points']:,}", allowed(r), worst(r)] for r in rows
            ]
        heads = ["quantity", "against", "points", "allowed", "worst found"]
        return [table(heads, lines)] if lines else []


def shapes(left: dict[str, Any], area: str) -> list[dict[str, Any]]:
    """Return the different faults of an area, with how many tests tried each; most tried first."""
    heard: dict[tuple[str, str], set[str]] = defaultdict(set)
    example: dict[tuple[str, str], str] = {}
    for node, told in left.items():
        if area_of(node) != area:
            continue
        for fault in told["told"]:
            key, text = (fault["kind"], fault["shape"]), fault["sentence"]
            heard[key].add(node)
            example[key] = min(example.get(key, text), text, key=lambda each: (len(each), each))
    found = [{"sentence": example[key], "tests": len(nodes_)} for key, nodes_ in heard.items()]
    return sorted(found, key=lambda each: (-each["tests"], each["sentence"]))


def area_of(node: str) -> str:
    """Return the area to which the faults of a test belong."""
    file = node.partition("::")[0]
    return next(a for a, patterns in AREAS.items() if any(fnmatch(file, p) for p in patterns))


def short(sentence: str) -> str:
    """Return a sentence whose longest words are cut, for a page."""
    return " ".join(w if len(w) <= _LONG else w[: _LONG - 3] + "..." for w in sentence.split(" "))


class FaultsTried(SphinxDirective):
    """The faults tried in an area, or how many there are in each."""

    optional_arguments = 1
    final_argument_whitespace = True
    has_content = False
    option_spec: ClassVar = {"shown": directives.nonnegative_int}

    def run(self) -> list[nodes.Node]:
        """Return the summary, or the sentences of the area."""
        self.env.note_dependency(str(CACHE / "dewgap" / "faults"))
        left = left_behind("faults")
        if not left:
            _log.warning(
                f"no faults are kept; {_MEND}", location=self.get_location(), type="evidence"
            )
            return []
        if not self.arguments:
            return self.summary(left)
        area = self.arguments[0]
        if area not in AREAS:
            raise self.error(f"no such area: {area}; known: {', '.join(AREAS)}")
        shown = self.options.get("shown", _SHOWN)
        told = [short(each["sentence"]) for each in shapes(left, area)]
        return [*sentences(told[:shown]), *folded(told[shown:])]

    def summary(self, left: dict[str, Any]) -> list[nodes.Node]:
        """Return how many different faults were tried in each area, and in how many tests."""
        tests = Counter(area_of(node) for node in left)
        lines = [[area, f"{len(shapes(left, area)):,}", f"{tests[area]:,}"] for area in AREAS]
        every = {(f["kind"], f["shape"]) for told in left.values() for f in told["told"]}
        text = f"{len(every):,} different faults were told, in {len(left):,} tests."
        return [nodes.paragraph("", text), table(["area", "different faults", "tests"], lines)]


def sentences(told: list[str]) -> list[nodes.Node]:
    """Return sentences as a list, each as the program prints it."""
    if not told:
        return []
    items = [
        nodes.list_item("", nodes.paragraph("", "", nodes.literal("", text))) for text in told
    ]
    return [nodes.bullet_list("", *items)]


def folded(told: list[str]) -> list[nodes.Node]:
    """Return sentences behind a fold that opens without a script."""
    if not told:
        return []
    return [
        nodes.raw("", f"<details><summary>{len(told):,} more</summary>", format="html"),
        *sentences(told),
        nodes.raw("", "</details>", format="html"),
    ]


def table(heads: list[str], lines: Iterable[list[str]]) -> nodes.table:
    """Return a table of plain texts."""
    group = nodes.tgroup("", *(nodes.colspec(colwidth=1) for _ in heads), cols=len(heads))
    group += nodes.thead("", _line(heads))
    group += nodes.tbody("", *(_line(line) for line in lines))
    return nodes.table("", group, classes=["colwidths-auto"])


def _line(cells: list[str]) -> nodes.row:
    return nodes.row("", *(nodes.entry("", nodes.paragraph("", text)) for text in cells))


def setup(app: Sphinx) -> dict[str, bool]:
    """Add both directives."""
    app.add_directive("outside-checks", OutsideChecks)
    app.add_directive("faults-tried", FaultsTried)
    return {"parallel_read_safe": True, "parallel_write_safe": True}

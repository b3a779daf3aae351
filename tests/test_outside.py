"""What the tests keep for the pages: rows of comparisons, faults, and the tables made of them."""

import importlib.util
import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import keeper
import numpy as np
import pandas as pd
import pytest
from outside import Outside, library, merged, program

NAN = float("nan")
TESTS = Path(__file__).parent
K = {"unit": "K", "source": "a table"}


@pytest.fixture
def checks():
    return Outside()


# --- comparisons ----------------------------------------------------------------------------------


def test_a_comparison_keeps_its_worst_and_its_points(checks):
    checks.agree("dew point", [1.0, 2.5], [1.25, 2.5], within=0.3, why="printed", **K)
    (row,) = checks.rows
    assert row == {
        "quantity": "dew point", "source": "a table", "points": 2, "allowed": [0.3, 0.3],
        "worst": 0.25, "unit": "K", "why": "printed",
    }  # fmt: skip
    json.dumps(row)


def test_a_distance_may_be_a_share_of_what_is_wanted(checks):
    checks.agree("rate", np.array([102.0, 0.0]), [100.0, 0.0], within=2, unit="%", source="x")
    assert checks.rows[0]["worst"] == pytest.approx(2.0)
    with pytest.raises(AssertionError, match="rate: inf"):
        checks.agree("rate", [1e-9], [0.0], within=2, unit="%", source="x")


@pytest.mark.parametrize(
    ("found", "wanted"),
    [
        ([1.0, 2.6], [1.0, 2.0]),
        ([1.0], [1.0, 2.0]),
        (1.0, [1.0, 1.0]),
        ([], []),
        ([NAN], [1.0]),
        ([1.0], [NAN]),
        ([1.0, NAN], [1.0, NAN]),
    ],
)
def test_what_does_not_agree_fails_and_leaves_nothing(checks, found, wanted):
    with pytest.raises(AssertionError):
        checks.agree("dew point", found, wanted, within=0.5, **K)
    assert checks.rows == []


def test_unknown_in_the_same_places_is_agreed_upon(checks):
    same = {"within": 0.5, "unknown_alike": True, **K}
    checks.agree("dew point", [1.0, NAN], [1.0, NAN], **same)
    assert checks.rows[0]["points"] == 1
    for found, wanted in (([1.0, NAN], [1.0, 2.0]), ([1.0, 2.0], [1.0, NAN]), ([NAN], [NAN])):
        with pytest.raises(AssertionError):
            checks.agree("dew point", found, wanted, **same)


def test_a_failure_tells_the_values(checks):
    with pytest.raises(AssertionError, match=r"dew point: 0\.6 K .* allowed 0\.5; 2\.6 against 2"):
        checks.agree("dew point", [1.0, 2.6], [1.0, 2.0], within=0.5, **K)


def test_between_keeps_both_ends(checks):
    for value in (0.95, 1.5, 2.25):
        checks.between("ratio", value, 0.9, 2.5, unit="times", source="a plate")
    (row,) = checks.rows
    assert (row["points"], row["allowed"], row["worst"]) == (3, [0.9, 2.5], [0.95, 2.25])
    for wrong in (0.8, 2.6, NAN, [1.0, NAN], []):
        with pytest.raises(AssertionError):
            checks.between("ratio", wrong, 0.9, 2.5, unit="times", source="a plate")


@pytest.mark.parametrize(
    ("same", "other", "points"),
    [
        ([1, 2, 3], [1, 2, 4], 3),
        (np.array([1.0, NAN]), np.array([1.0, 2.0]), 2),
        (pd.Series([1.0, NAN]), pd.Series([1.0, 2.0]), 2),
        (np.float64(7), np.float64(8), 1),
        ({"a": 1}, {"a": 2}, 1),
        ("abc", "abd", 1),
        (7, 8, 1),
        (None, 0, 1),
    ],
)
def test_equal_counts_what_it_compares(checks, same, other, points):
    checks.equal("windows", same, same, source="a loop")
    assert checks.rows[0]["points"] == points
    with pytest.raises(AssertionError):
        checks.equal("windows", other, same, source="a loop")
    assert checks.rows[0]["points"] == points


def test_rows_of_one_quantity_and_source_become_one():
    checks = Outside()
    checks.agree("dew point", 1.0, 1.1, within=0.2, **K)
    checks.agree("dew point", 1.0, 1.05, within=0.3, **K)
    checks.agree("dew point", 1.0, 1.0, within=0.3, unit="K", source="another")
    checks.found("spread", points=4, allowed="all", worst="3 of 4", source="a station")
    checks.found("spread", points=2, allowed="all", worst="2 of 2", source="a station")
    first, second, third = checks.rows
    assert (first["points"], first["allowed"]) == (2, [0.2, 0.3])
    assert first["worst"] == pytest.approx(0.1)
    assert second["source"] == "another"
    assert (third["points"], third["worst"]) == (6, "3 of 4; 2 of 2")
    assert merged([*checks.rows, *checks.rows])[0]["points"] == 4


def test_two_units_are_two_quantities(checks):
    checks.agree("dew point", 1.0, 1.0, within=0.2, **K)
    with pytest.raises(AssertionError, match="two units"):
        checks.agree("dew point", 1.0, 1.0, within=0.2, unit="°F", source="a table")


def test_a_library_is_told_with_its_version():
    assert library("numpy") == f"numpy {np.__version__}"
    assert library("numpy", "its mean") == f"numpy {np.__version__} (its mean)"


# --- runs -----------------------------------------------------------------------------------------

CONFTEST = """
import pytest
from keeper import Keeper


def pytest_configure(config):
    keeper = Keeper(config)
    config.pluginmanager.register(keeper, "keeper")
    config.outside = keeper.outside


@pytest.fixture(scope="session")
def outside(request):
    return request.config.outside
"""
FIRST = """
import pytest
from cure_models.toml_input import read_text
from windows.errors import SiteError


@pytest.mark.parametrize("off", [0.1, 0.3, 0.2])
def test_near(outside, off):
    outside.agree("near", off, 0.0, within=0.5, unit="K", source="nothing")


def test_far(outside):
    outside.agree("far, but first near", 0.1, 0.0, within=0.5, unit="K", source="nothing")
    outside.agree("far", 0.9, 0.0, within=0.5, unit="K", source="nothing")


@pytest.fixture
def broken():
    yield
    raise RuntimeError


def test_ends_badly(outside, broken):
    outside.equal("ends badly", 1, 1, source="nothing")


@pytest.mark.xfail(reason="not yet", strict=True)
def test_expected(outside):
    outside.equal("expected to fail", 1, 2, source="nothing")


@pytest.mark.skip(reason="no browser")
def test_skipped(outside):
    outside.equal("skipped", 1, 1, source="nothing")


def test_fault(tmp_path):
    for name in ("a.toml", "b.toml"):
        with pytest.raises(SiteError):
            read_text(tmp_path / name, SiteError)
    with pytest.raises(SiteError):
        raise SiteError("a test's own")


def test_bad_sentence():
    tell = compile("SiteError('two\\\\nlines')", "x", "eval")
    eval(tell, {"__name__": "windows.x", "SiteError": SiteError})
"""
SECOND = """
def test_other(outside):
    outside.found("other", points=2, allowed="equal", worst="equal", source="nothing")
"""

BARE = {"PYTEST_ADDOPTS": "", "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
"""No other plugin than those it names: half of the time of so small a run is their import."""


@pytest.fixture
def project(tmp_path):
    """Return what runs the tests of a small project and gives what its cache then holds."""
    for name, text in (
        ("conftest", CONFTEST), ("test_first", FIRST), ("test_second", SECOND),
    ):  # fmt: skip
        (tmp_path / f"{name}.py").write_text(textwrap.dedent(text))
    (tmp_path / "pytest.ini").write_text("[pytest]\n")

    def run(*arguments):
        path = os.pathsep.join([str(TESTS), str(TESTS.parent)])
        run.told = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-p", "xdist", *arguments],
            cwd=tmp_path, check=False, env={**os.environ, "PYTHONPATH": path, **BARE},
            capture_output=True, text=True,
        ).stdout  # fmt: skip
        left, run.failed = [], set()
        for name in (keeper.CHECKS, keeper.FAULTS):
            told = json.loads((tmp_path / ".pytest_cache" / "v" / name).read_text())
            left.append({test.partition("::")[2]: each["told"] for test, each in told.items()})
            run.failed |= {test.partition("::")[2] for test in told if told[test].get("failed")}
        return left

    run.folder = tmp_path
    return run


def test_a_run_on_two_workers_and_partial_ones_after_it(project):
    checks, faults = project("-n", "2")
    near = {f"test_near[{off}]": [off] for off in (0.1, 0.3, 0.2)}
    failed = {"test_far", "test_ends_badly", "test_expected", "test_bad_sentence"}
    assert project.failed == failed
    assert {test: [row["worst"] for row in rows] for test, rows in checks.items()} == {
        **near, **{test: [] for test in failed}, "test_skipped": [], "test_other": ["equal"],
    }  # fmt: skip
    assert "a fault's sentence is no good, it is more than one line" in project.told
    assert list(faults) == ["test_fault"]
    (fault,) = faults["test_fault"]
    assert fault == {
        "kind": "SiteError", "module": "cure_models.toml_input", "shape": fault["shape"],
        "sentence": "a.toml: no such file; check the path",
    }  # fmt: skip

    # A test alone changes its own rows only.
    first = project.folder / "test_first.py"
    first.write_text(first.read_text().replace("[0.1, 0.3, 0.2]", "[0.1, 0.4]"))
    checks, _ = project("-n", "0", "test_first.py::test_near[0.4]")
    assert {"test_near[0.3]", "test_near[0.4]", "test_other"} <= set(checks)

    # A whole file forgets the tests that are no longer in it, and no other file's.
    checks, faults = project("-n", "0", "test_first.py")
    assert set(checks) - failed == {
        "test_near[0.1]", "test_near[0.4]", "test_skipped", "test_other",
    }  # fmt: skip
    assert project.failed == failed
    assert list(faults) == ["test_fault"]

    # What failed has failed until it passes, whatever its other cases do.
    first.write_text(first.read_text().replace("[0.1, 0.4]", "[0.1, 0.7]"))
    project("-n", "0", "-k", "near")
    assert project.failed == failed | {"test_near[0.7]"}
    first.write_text(first.read_text().replace("within=0.5", "within=0.95"))
    checks, _ = project("-n", "0")
    assert project.failed == failed - {"test_far"}
    assert [row["worst"] for row in checks["test_near[0.7]"]] == [0.7]


SAMPLED = """
import pytest


@pytest.mark.exhaustive(every=2)
@pytest.mark.parametrize("case", range(5))
def test_seeds(outside, case):
    outside.agree("near", case, 0, within=WITHIN, unit="K", source="nothing")


@pytest.mark.exhaustive(every=2)
@pytest.mark.parametrize("name", ["a", "b"])
@pytest.mark.parametrize("seed", range(3))
def test_two(seed, name): ...


def test_lost(lost):
    print(f"lost: {lost}")


def test_swept(sweep):
    print(f"swept: {[*sweep(7, every=3)]}")
"""


def test_sweeps_are_sampled_and_run_whole_on_request(project):
    (project.folder / "conftest.py").write_text((TESTS / "conftest.py").read_text())
    (project.folder / "test_second.py").unlink()
    first = project.folder / "test_first.py"
    whole = ("--exhaustive", "-m", "exhaustive or sweep")
    first.write_text(SAMPLED.replace("WITHIN", "2.5"))
    project("-n", "0", "-rP", *whole)
    assert "swept: [0, 1, 2, 3, 4, 5, 6]" in project.told
    assert "lost:" not in project.told
    assert project.failed == {"test_seeds[3]", "test_seeds[4]"}

    # A sample without the case that failed does not clear it, here or on workers; what passes does.
    first.write_text(SAMPLED.replace("WITHIN", "4.5"))
    project("-n", "0", "-rP")
    assert project.failed == {"test_seeds[3]"}
    assert "swept: [0, 3, 6]" in project.told
    # Of two lists, one of which is as long as the step, one value only is tried: that is told.
    assert "lost: [\"test_first.py::test_two: name = 'b'\"]" in project.told
    project("-n", "2")
    assert project.failed == {"test_seeds[3]"}
    checks, _ = project("-n", "0", *whole)
    assert project.failed == set()
    assert {test for test in checks if "seeds" in test} == {f"test_seeds[{n}]" for n in range(5)}


def test_the_sample_leaves_out_no_value_of_a_parameter(lost):
    assert lost == []


def test_what_a_run_leaves_of_earlier_ones():
    before = {"a.py::one": 1, "a.py::gone": 2, "b.py::two": 3}
    new = {"a.py::one": 9}
    assert keeper.kept(before, new, {"a.py::one"}, whole=False) == before | new
    assert keeper.kept(before, new, {"a.py::one"}, whole=True) == {"b.py::two": 3, **new}
    # What could not be told anew is no more.
    assert keeper.kept(before, {}, {"a.py::one"}, whole=False) == {
        "a.py::gone": 2, "b.py::two": 3,
    }  # fmt: skip


def test_what_failed_has_failed_still_where_a_sample_leaves_it_out():
    failed = {"told": [], "failed": True}
    before = {"a.py::one": failed, "a.py::two": {"told": []}, "a.py::gone": failed}
    left_out = {"a.py::one", "a.py::two"}
    assert keeper.kept(before, {}, {"a.py::x"}, True, left_out) == {"a.py::one": failed}


def test_the_program_is_known_by_its_files(tmp_path):
    for name in ("windows", "cure_models", "tests"):
        (tmp_path / name / "__pycache__").mkdir(parents=True)
    path = tmp_path / "windows" / "a.py"
    path.write_text("a = 1\n")
    first = program(tmp_path)
    (tmp_path / "tests" / "test_a.py").write_text("")
    (tmp_path / "windows" / "__pycache__" / "a.pyc").write_text("")
    path.touch()
    assert program(tmp_path) == first
    path.write_text("a = 2\n")
    changed = program(tmp_path)
    (tmp_path / "cure_models" / "acrylic.toml").write_text("")
    assert len({first, changed, program(tmp_path)}) == 3


# --- sentences ------------------------------------------------------------------------------------


def test_faults_are_told_once_whatever_their_names_and_numbers_are(tmp_path):
    heard = {
        f"{tmp_path}/one/site.toml: key 'latitude' must be at most 90, but is 95": ("S", "m"),
        f"{tmp_path}/b.toml: key 'longitude' must be at most 180, but is 273.78": ("S", "m"),
        f"{tmp_path}/b.toml: key 'x' is not known; known: area, deck": ("S", "m"),
        "http://127.0.0.1:40123/today: no answer": ("W", "n"),
    }
    heard["in one try: http://127.0.0.1:40123/today: no answer: status 203"] = ("W", "n")
    heard["status 203"] = ("W", "n")
    told = keeper.distinct(heard)
    assert [each["sentence"] for each in told] == [
        "site.toml: key 'latitude' must be at most 90, but is 95",
        "b.toml: key 'x' is not known; known: area, deck",
        "in one try: http://127.0.0.1/today: no answer: status 203",
    ]


@pytest.mark.parametrize(
    ("sentence", "what"),
    [
        ("site.toml: no such file; check the path", ""),
        ("", "it is empty"),
        (" ", "it is empty"),
        ("a\nb", "it is more than one line"),
        ("Traceback (most recent call last)", "it shows the program's inside"),
        ("<windows.site.Site object at 0x7f>: no", "it shows the program's inside"),
        ("four" * 30 + " four" * 68, ""),
        ("a" + " four" * 80, "it has 401 characters"),
        ("no such name; known: " + "a, " * 300, ""),
    ],
)
def test_what_a_sentence_must_not_be(sentence, what):
    assert keeper.breaks_the_rule(sentence) == what


# --- tables ---------------------------------------------------------------------------------------


@pytest.fixture
def evidence():
    pytest.importorskip("sphinx")
    path = TESTS.parent / "docs" / "_ext" / "evidence.py"
    spec = importlib.util.spec_from_file_location("evidence", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


ROW = {"quantity": "q", "source": "s", "points": 3, "allowed": [1, 1], "worst": 0.25,
       "unit": "K", "why": ""}  # fmt: skip


def entry(root, *told, at=1e12, **more):
    return {"at": at, "program": program(root), "told": [*told], **more}


def test_a_table_is_in_the_order_of_the_tests_and_adds_their_cases_up(evidence, tmp_path):
    (tmp_path / "test_a.py").write_text(
        "def test_two(outside): ...\ndef helper(outside): ...\ndef test_one(x, *, outside): ...\n"
        "def test_plain(): ...\n"
    )
    left = {
        "test_a.py::test_one": entry(tmp_path, ROW | {"quantity": "last"}),
        "test_a.py::test_two[a]": entry(tmp_path, ROW),
        "test_a.py::test_two[b]": entry(tmp_path, ROW | {"worst": 0.5}),
        "test_b.py::test_one": entry(tmp_path, ROW),
    }
    rows, wrong = evidence.rows_of("test_a.py", left, tmp_path)
    assert wrong == []
    assert [(r["quantity"], r["points"], r["worst"]) for r in rows] == [
        ("q", 6, 0.5), ("last", 3, 0.25),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("at", "tests", "part"),
    [
        (1e12, ("test_one",), "test_a.py: test_two: left nothing; run the tests first"),
        (1.0, ("test_one", "test_two"), "was changed after its tests ran; run the tests first"),
    ],
)
def test_a_table_that_lacks_a_test_or_is_old_is_a_warning(evidence, tmp_path, at, tests, part):
    text = "def test_one(outside): ...\ndef test_two(outside): ...\n"
    (tmp_path / "test_a.py").write_text(text)
    left = {f"test_a.py::{test}": entry(tmp_path, at=at) for test in tests}
    rows, (wrong,) = evidence.rows_of("test_a.py", left, tmp_path)
    assert [row["quantity"] for row in rows] == [test.removeprefix("test_") for test in tests]
    assert {row["worst"] for row in rows} == {"not run here"}
    assert part in wrong
    assert "python -m pytest" in wrong


def test_a_case_that_failed_is_a_warning_and_no_row_that_looks_passed(evidence, tmp_path):
    text = "def test_one(outside): ...\ndef test_two(outside): ...\n"
    (tmp_path / "test_a.py").write_text(text)
    left = {
        "test_a.py::test_one[1]": entry(tmp_path, ROW),
        "test_a.py::test_one[2]": entry(tmp_path, failed=True),
        "test_a.py::test_one[3]": entry(tmp_path, ROW),
        "test_a.py::test_two": entry(tmp_path, ROW),
        "test_a.py::test_that_compares_nothing": entry(tmp_path, failed=True),
    }
    rows, (wrong,) = evidence.rows_of("test_a.py", left, tmp_path)
    assert wrong.startswith("test_a.py: test_one[2]: failed; mend it, and run the tests first")
    assert [(r["quantity"], r["points"], r["worst"]) for r in rows] == [
        ("one", 0, "failed"), ("q", 3, 0.25),
    ]  # fmt: skip
    left["test_a.py::test_one[2]"] = entry(tmp_path, ROW)
    rows, wrong = evidence.rows_of("test_a.py", left, tmp_path)
    assert (rows[0]["points"], wrong) == (9, [])


def test_a_program_that_has_changed_since_is_a_warning(evidence, tmp_path):
    (tmp_path / "test_a.py").write_text("def test_one(outside): ...\n")
    left = {"test_a.py::test_one": entry(tmp_path, ROW)}
    assert evidence.rows_of("test_a.py", left, tmp_path)[1] == []
    for old in (entry(tmp_path, ROW) | {"program": "another"}, {"at": 1e12, "told": [ROW]}):
        rows, (wrong,) = evidence.rows_of("test_a.py", {"test_a.py::test_one": old}, tmp_path)
        assert rows == [ROW]
        assert "the program was changed after its tests ran; run the tests first" in wrong


def test_a_file_that_is_not_there_or_compares_nothing_is_a_warning(evidence, tmp_path):
    (tmp_path / "test_a.py").write_text("def test_one(): ...\n")
    assert "no test of it compares" in evidence.rows_of("test_a.py", {}, tmp_path)[1][0]
    assert "no such test file" in evidence.rows_of("test_b.py", {}, tmp_path)[1][0]


@pytest.mark.parametrize(
    ("told", "may", "was"),
    [
        ({"allowed": [0.5, 0.5], "worst": 0.1234}, "0.5 K", "0.12 K"),
        ({"allowed": [0.05, 0.06], "worst": 5e-13}, "0.05 to 0.06 K", "5e-13 K"),
        ({"allowed": [0.95, 2.6], "worst": [1.0, 2.504]}, "0.95 to 2.6 K", "1 to 2.5 K"),
        ({"allowed": [1e-7, 1e-7], "worst": 5e-13, "unit": ""}, "1e-7", "5e-13"),
        ({"allowed": "equal", "worst": "equal", "unit": ""}, "equal", "equal"),
        ({"allowed": [1, 1], "worst": 0.0, "why": "rounding"}, "1 K: rounding", "0 K"),
    ],
)
def test_numbers_are_told_with_their_units(evidence, told, may, was):
    row = {"unit": "K", "why": ""} | told
    found = evidence.allowed(row), evidence.worst(row)
    assert tuple(text.replace("\N{NO-BREAK SPACE}", " ") for text in found) == (may, was)


def test_faults_of_an_area_are_told_once_and_most_tried_first(evidence):
    def told(*sentences):
        return {"told": [{"kind": "S", "shape": s[:3], "sentence": s} for s in sentences]}

    left = {
        "tests/windows/test_site.py::test_a": told("abc longer", "xyz"),
        "tests/windows/test_site.py::test_b[1]": told("abc"),
        "tests/windows/log/test_store.py::test_c": told("abc"),
    }
    assert evidence.shapes(left, "site and job files") == [
        {"sentence": "abc", "tests": 2}, {"sentence": "xyz", "tests": 1},
    ]  # fmt: skip
    assert evidence.area_of("tests/nowhere.py::test_x") == "everything else"
    assert evidence.short("x" * 100 + " is long") == "x" * 57 + "... is long"

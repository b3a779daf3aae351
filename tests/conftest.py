"""For all tests: comparisons with the outside and faults are kept for the pages (keeper.py)."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, settings

pytest.register_assert_rewrite("outside")

from keeper import Keeper  # noqa: E402 (after its module is registered)
from outside import Outside  # noqa: E402

KEEPER = pytest.StashKey[Keeper]()
LOST = pytest.StashKey[list[str]]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[KEEPER] = Keeper(config)
    config.pluginmanager.register(config.stash[KEEPER], "keeper")


@pytest.fixture(scope="session")
def outside(request: pytest.FixtureRequest) -> Outside:
    """Return the comparisons of the running test; its methods assert and keep (outside.py)."""
    return request.config.stash[KEEPER].outside


# How much is tried: sweeps and random cases, a sample by default, more on request. ----------------


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--exhaustive", action="store_true", help="Run sweeps whole, and not a sample of them."
    )


# Before -m chooses, which may ask for the marker given here.
@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Keep one in ``every`` of the cases of a test marked ``exhaustive``, from the first on.

    A test with the fixture ``sweep`` is marked so, for ``-m "exhaustive or sweep"``.
    """
    for item in items:
        if "sweep" in getattr(item, "fixturenames", ()):
            item.add_marker("sweep")
    if config.getoption("--exhaustive"):
        return
    cases: dict[str, list[pytest.Item]] = defaultdict(list)
    for item in items:
        if item.get_closest_marker("exhaustive"):
            cases[item.nodeid.partition("[")[0]].append(item)
    gone, lost = set(), []
    for test, every_case in cases.items():
        every = every_case[0].get_closest_marker("exhaustive").kwargs["every"]
        kept = every_case[::every]
        gone |= {*every_case} - {*kept}
        lost += [f"{test}: {value}" for value in lost_values(every_case, kept, every)]
    config.stash[LOST] = lost
    if gone:
        config.hook.pytest_deselected(items=[item for item in items if item in gone])
        items[:] = [item for item in items if item not in gone]


def lost_values(cases: list[pytest.Item], kept: list[pytest.Item], every: int) -> list[str]:
    """Return the values of parameters that several cases have and none of those kept.

    Where each of a list is tried with each of another none may be left out: one in five would try
    one value only of a list of five. Of a single list, such as one of seeds, values may be left out
    that fewer cases have than are skipped.
    """
    counts = _values(cases)
    each_with_each = min(counts.values()) > 1
    several = [v for v, count in counts.items() if count >= (2 if each_with_each else every)]
    return [" = ".join(value) for value in several if value not in _values(kept)]


def _values(cases: list[pytest.Item]) -> Counter[tuple[str, str]]:
    return Counter(
        (name, repr(value)) for case in cases for name, value in case.callspec.params.items()
    )


@pytest.fixture
def lost(request: pytest.FixtureRequest) -> list[str]:
    """Return the values of parameters that the sample of this run's tests leaves out wholly."""
    return request.config.stash.get(LOST, [])


@pytest.fixture(scope="session")
def sweep(request: pytest.FixtureRequest) -> Callable[..., range]:
    """Return what gives the cases of a sweep: one in ``every``, or all with ``--exhaustive``."""
    whole = request.config.getoption("--exhaustive")

    def cases(count: int, *, every: int) -> range:
        return range(0, count, 1 if whole else every)

    return cases


# 20 random cases where hypothesis would draw 100; a test may ask for a share (how_many.py). How
# long one takes to draw or to run is a matter of the machine, and no fault.
_ANY_PACE = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
for _name, _count in (("suite", 20), ("whole", 100), ("deep", 1000)):
    settings.register_profile(_name, settings(), max_examples=_count, **_ANY_PACE)
settings.load_profile("suite")

"""For all tests: comparisons with the outside and faults are kept for the pages (keeper.py)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, settings

pytest.register_assert_rewrite("outside")

from keeper import Keeper  # noqa: E402 (after its module is registered)
from outside import Outside  # noqa: E402

KEEPER = pytest.StashKey[Keeper]()


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


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Keep one in ``every`` of the cases of a test marked ``exhaustive``, from the first on."""
    if config.getoption("--exhaustive"):
        return
    seen: Counter[str] = Counter()
    left = []
    for item in items:
        mark = item.get_closest_marker("exhaustive")
        test = item.nodeid.partition("[")[0]
        if mark is not None and seen[test] % mark.kwargs["every"]:
            left.append(item)
        seen[test] += 1
    if left:
        config.hook.pytest_deselected(items=left)
        gone = set(left)
        items[:] = [item for item in items if item not in gone]


@pytest.fixture(scope="session")
def sweep(request: pytest.FixtureRequest) -> Callable[..., range]:
    """Return what gives the cases of a sweep: one in ``every``, or all with ``--exhaustive``."""
    whole = request.config.getoption("--exhaustive")

    def cases(count: int, *, every: int) -> range:
        return range(0, count, 1 if whole else every)

    return cases


# 40 random cases where hypothesis would draw 100; a test may ask for a share (how_many.py). How
# long one takes to draw or to run is a matter of the machine, and no fault.
_ANY_PACE = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("suite", settings(), max_examples=40, **_ANY_PACE)
settings.register_profile("deep", settings(), max_examples=1000, **_ANY_PACE)
settings.load_profile("suite")

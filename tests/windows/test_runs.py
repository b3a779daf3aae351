"""Runs of hours against a plain loop."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from windows.runs import least_between, runs


def plain(flags, group, at_least):
    found, first = [], None
    for k in range(len(flags) + 1):
        goes_on = (
            first is not None and k < len(flags) and flags[k] and group[k] == group[first]
        )
        if first is not None and not goes_on:
            found.append((first, k))
            first = None
        if k < len(flags) and flags[k] and first is None:
            first = k
    return [(a, b) for a, b in found if b - a >= at_least]


@given(
    st.lists(st.tuples(st.booleans(), st.integers(0, 2)), min_size=1, max_size=30),
    st.integers(1, 4),
)
def test_equals_a_plain_loop(hours, at_least):
    flags = np.array([flag for flag, _ in hours])
    group = np.array([number for _, number in hours], dtype=np.int64)
    assert runs(flags, group, at_least) == plain(flags, group, at_least)


@pytest.mark.parametrize(
    ("flags", "expected"),
    [([], []), ([0], []), ([1], [(0, 1)]), ([1, 1, 1], [(0, 3)]), ([0, 1, 0], [(1, 2)])],
)
def test_edges(flags, expected):
    flags = np.array(flags, dtype=bool)
    assert runs(flags, np.zeros(len(flags), dtype=np.int64), 1) == expected


@given(
    st.lists(st.integers(-9, 9), min_size=1, max_size=30),
    st.lists(st.tuples(st.integers(0, 29), st.integers(1, 30)), min_size=1, max_size=6),
)
def test_least_between_also_where_ranges_overlap(values, spans):
    last = len(values)
    pairs = sorted((min(a, last - 1), min(max(b, a + 1), last)) for a, b in spans)
    pairs = [(a, max(b, a + 1)) for a, b in pairs]
    starts, ends = np.array(pairs).T
    found = least_between(np.array(values, dtype=np.float64), starts, ends)
    assert found.tolist() == [min(values[a:b]) for a, b in pairs]

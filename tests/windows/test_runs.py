"""Runs of hours against a plain loop."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from windows.runs import block_starts, least_between, runs

NAN = float("nan")


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


def test_a_run_ends_where_the_group_does():
    flags = np.array([1, 1, 1, 1, 0, 1], dtype=bool)
    group = np.array([0, 0, 1, 1, 1, 1])
    assert runs(flags, group, 1) == [(0, 2), (2, 4), (5, 6)]
    assert runs(flags, group, 2) == [(0, 2), (2, 4)]
    assert runs(flags, group, 3) == []


@pytest.mark.parametrize(
    ("spans", "least"),
    [
        ([(0, 1)], [4.0]),
        ([(3, 4)], [2.0]),  # the last hour, which ends with the data
        ([(0, 2), (2, 4)], [1.0, 2.0]),
        ([(0, 4), (1, 3)], [1.0, 1.0]),  # overlapping
    ],
)
def test_the_least_of_each_range(spans, least):
    starts, ends = np.array(spans).T
    assert least_between(np.array([4.0, 1.0, 3.0, 2.0]), starts, ends).tolist() == least


# Value and length of the block of each hour, and the hours that begin a block.
BLOCKS = {
    "hourly values": ([0.1, 0.1, 0.4], [1, 1, 1], [1, 1, 1]),
    "one block": ([0.4, 0.4, 0.4], [3, 3, 3], [1, 0, 0]),
    "a block cut off by the end": ([0.4, 0.4, 0.4, 0.4, 0.4], [3, 3, 3, 3, 3], [1, 0, 0, 1, 0]),
    "alike, counted from the first": ([0.4] * 6, [2] * 6, [1, 0, 1, 0, 1, 0]),
    "a new value": ([0.1, 0.1, 0.1, 0.4, 0.4, 0.4], [3] * 6, [1, 0, 0, 1, 0, 0]),
    "a new value before its time": ([0.1, 0.1, 0.4, 0.4, 0.4], [3] * 5, [1, 0, 1, 0, 0]),
    "a new length": ([0.4] * 5, [2, 2, 3, 3, 3], [1, 0, 1, 0, 0]),
    "shorter after longer": ([0.4] * 5, [3, 3, 3, 1, 1], [1, 0, 0, 1, 1]),
    "a length not known: every hour": ([0.4] * 4, [NAN, NAN, 2, 2], [1, 1, 1, 0]),
    "one hour": ([0.4], [6], [1]),
}


@pytest.mark.parametrize("case", BLOCKS)
def test_where_blocks_begin(case):
    values, lengths, begins = BLOCKS[case]
    found = block_starts(np.array(values), np.array(lengths, dtype=np.float64))
    assert found.dtype == bool
    assert found.astype(int).tolist() == begins

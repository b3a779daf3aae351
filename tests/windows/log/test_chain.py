"""The canonical form of entries, which any program must be able to work out again."""

import rfc8785
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import library

from windows.log.chain import canonical

NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(2**53) + 1, 2**53 - 1)
VALUES = st.recursive(
    NUMBERS | st.text(max_size=20) | st.booleans() | st.none(),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(st.from_regex(r"[a-z_]{1,9}", fullmatch=True), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=examples(300))
@given(st.dictionaries(st.from_regex(r"[a-z_]{1,9}", fullmatch=True), VALUES, max_size=6))
def test_the_canonical_form_is_that_of_the_library(outside, fields):
    """Most of it is written by Python's own writer, many times as fast."""
    outside.equal(
        "canonical JSON of random fields", canonical(fields), rfc8785.dumps(fields), points=1,
        source=library("rfc8785"),
    )  # fmt: skip

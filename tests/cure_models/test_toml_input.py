"""A TOML file as it is read: whatever it holds, a fault is one sentence of the error asked for."""

from pathlib import Path

import pytest

from cure_models.errors import ProfileError
from cure_models.toml_input import parse_toml, read_text


@pytest.mark.parametrize("name", ["a\0.toml", "a\ud800.toml"])
def test_a_name_that_no_file_can_have(name):
    with pytest.raises(ProfileError) as caught:
        read_text(Path(name), ProfileError)
    told = str(caught.value)
    assert told.endswith(".toml: no file can have such a name; check the path")
    assert told.isprintable()


@pytest.mark.parametrize(
    "text",
    [
        "name=" + 3_000 * "[",
        "name=" + 300 * "[" + 300 * "]",
        "name=" + 1_000 * "{a=" + "1" + 1_000 * "}",
        "name." + 3_000 * "a." + "a = 1",
        "[name." + 3_000 * "a." + "a]",
    ],
    ids=["open", "lists", "tables", "dotted", "header"],
)
def test_what_stands_too_deep(text):
    with pytest.raises(ProfileError) as caught:
        parse_toml(text, "own.toml", ProfileError)
    assert str(caught.value) == (
        "own.toml: lists or tables stand more than 20 deep in one another; close a bracket or "
        "shorten a key"
    )


def test_what_is_not_too_deep():
    text = "name=" + 19 * "[" + 19 * "]"
    assert str(parse_toml(text, "own.toml", ProfileError)["name"]) == 19 * "[" + 19 * "]"

"""What every fault of a file must be: one sentence that begins with the file."""

import pytest

from windows.errors import HoursError


def one_sentence(parse, content, *parts):
    """Return the sentence with which a reader refuses a content; it must hold the parts."""
    with pytest.raises(HoursError) as caught:
        parse(content, "here")
    text = str(caught.value)
    assert text.startswith("here: ")
    assert "\n" not in text
    for part in parts:
        assert part in text
    return text

"""Files with damage that hypothesis draws."""

from hypothesis import strategies as st


def damaged(data, whole):
    """Return a file's bytes with one to four stretches of them replaced by others."""
    content = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content) - 1))
        content[at : at + data.draw(st.integers(0, 30))] = data.draw(st.binary(max_size=8))
    return bytes(content)

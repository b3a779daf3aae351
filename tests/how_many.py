"""How many random cases a test of hypothesis draws, by the profile of the run (conftest.py)."""

from hypothesis import settings

USUAL = 100
"""What hypothesis draws if nobody says otherwise."""


def examples(usual, least=5):
    """Return how many cases to draw of a test for which ``usual`` would be right of a hundred.

    The suite's own profile draws fewer, ``--hypothesis-profile=whole`` as many, ``deep`` many more.
    """
    return max(least, usual * settings().max_examples // USUAL)

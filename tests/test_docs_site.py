"""The directives of the documents: commands that are run, files, formulas, and what is refused."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CONF = f"""
import sys
sys.path[:0] = [{str(ROOT / "docs" / "_ext")!r}]
import run
from pathlib import Path
run.MADE = Path(__file__).parent / "_made"
extensions = ["myst_parser", "closed", "mathml", "run"]
exclude_patterns = ["_*"]
html_theme = "basic"
html_math_renderer = "mathml"
myst_enable_extensions = ["dollarmath"]
"""


@pytest.fixture
def build(tmp_path):
    """Return what builds a page and gives its exit status, its HTML and what was said."""
    source = tmp_path / "docs"
    source.mkdir()
    (source / "conf.py").write_text(CONF, encoding="utf-8")

    def built(text):
        (source / "index.md").write_text(f"# Page\n\n{text}\n", encoding="utf-8")
        ended = subprocess.run(
            [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", source, tmp_path / "out"],
            capture_output=True, text=True, check=False, timeout=300,
        )  # fmt: skip
        page = tmp_path / "out" / "index.html"
        return ended.returncode, page.read_text(encoding="utf-8"), ended.stderr

    return built


def test_what_a_page_shows_is_what_was_done(build):
    status, html, said = build(
        "```{file} words.txt\none\ntwo\nthree\nfour\n```\n\n"
        "```{run}\n:head: 1\n:tail: 1\ncat words.txt\n```\n\n"
        "```{run}\n:status: 3\n:hide-output:\nls demo_sites && \\\n  exit 3\n```\n\n"
        "```{run}\ndewgap coatings show nothing || echo refused\n```\n\n"
        "$$\nT_d = \\frac{a}{b}\n$$ (dew)\n\nSee {eq}`dew`, with $x^2$."
    )
    assert (status, said) == (0, "")
    assert html.count("<math ") == 2
    assert "<mfrac>" in html
    words = re.sub(r"<[^>]+>", "", html)
    shown = words.partition("cat words.txt")[2]
    assert shown.index("one") < shown.index("…") < shown.index("four")
    assert "three" not in shown
    assert "exit 3" in shown
    assert "tri_county" not in shown
    assert "nothing" in shown
    assert "refused" in shown


def test_every_fault_of_a_page_fails_its_build(build):
    status, _, said = build(
        "```{run}\nls nowhere\n```\n\n"
        "```{run}\n:status: 3\ntrue\n```\n\n"
        "```{file} ask.py\nimport socket\nsocket.create_connection(('192.0.2.1', 80))\n```\n\n"
        "```{run}\npython ask.py\n```\n\n"
        "$x^$\n\n"
        "<img src='https://example.org/a.png'>"
    )
    assert status == 1
    for fault in (
        "ls nowhere\nends with status 2, not 0", "true\nends with status 0, not 3",
        "no network while the documents are built", "formula 'x^' cannot be read",
        "index.html would fetch <img src='https://example.org/a.png'",
    ):  # fmt: skip
        assert fault in said

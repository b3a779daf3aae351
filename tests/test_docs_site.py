"""The directives of the documents: commands that are run, files, formulas, and what is refused."""

import importlib.util
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
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
        "```{file} ../above.txt\nout\n```\n\n"
        "```{file} /above.txt\nout\n```\n\n"
        "```{run}\n```\n\n"
        "```{run}\necho \"open\n```\n\n"
        "$x^$\n\n"
        "<img src='https://example.org/a.png'>"
    )
    assert status == 1
    for fault in (
        "ls nowhere\nends with status 2, not 0", "true\nends with status 0, not 3",
        "no network while the documents are built", "formula 'x^' cannot be read",
        "file ../above.txt: outside of the page's folder; name one inside of it",
        "file /above.txt: outside of the page's folder", "Content block expected",
        'echo "open\nends with status 2, not 0',
        "index.html would fetch <img src='https://example.org/a.png'",
    ):  # fmt: skip
        assert fault in said


# --- what a command's answer hangs on, and what is left out of it -------------------------------


@pytest.fixture
def run():
    pytest.importorskip("sphinx")
    spec = importlib.util.spec_from_file_location("docs_run", ROOT / "docs" / "_ext" / "run.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


@pytest.mark.parametrize("folder", ["windows", "cure_models", "demo_sites", "docs/examples"])
def test_a_kept_answer_hangs_on_program_demo_and_examples(run, tmp_path, monkeypatch, folder):
    monkeypatch.delenv("DOCS_KEEP", raising=False)
    monkeypatch.setattr(run, "ROOT", tmp_path)
    path = tmp_path / folder / "deeper" / "a.py"
    path.parent.mkdir(parents=True)
    told = []
    for text in ("a = 1", "a = 2", "a = 1"):
        path.write_text(text)
        run.program.cache_clear()
        told.append(run.program())
    assert told[0] == told[2] != told[1]


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("wrote {f}/week.html", "wrote week.html"),
        ("wrote '{f}/a b/week.html'", "wrote 'a b/week.html'"),
        ("this folder: {f}", "this folder: ."),
        ("this folder: {f}/", "this folder: ."),
        ("this folder: {f}; no site in it", "this folder: .; no site in it"),
        ("cache: {f}/.home/cache", "cache: .home/cache"),
        ("program: {r}/windows/cli/app.py in {r}", "program: windows/cli/app.py in ."),
        ("{t}/tmpab12/a.csv and {t}/tmp.Xy/b.csv", "a.csv and b.csv"),
        ("{t}/dewgap-docs-a_b1 and {t}/tmp.Xy1", ". and ."),
        ("{t}/dewgap-docs-a_b1/demo_sites/x.csv: no", "demo_sites/x.csv: no"),
        ("0.5 in/h, https://example.org/tmp/a", "0.5 in/h, https://example.org/tmp/a"),
    ],
)
def test_no_place_of_the_machine_is_shown(run, said, shown):
    temporary = tempfile.gettempdir()
    folder = Path(temporary) / "dewgap-docs-q7_x2"
    text = said.format(f=folder, r=run.ROOT, t=temporary)
    assert run.without_places(text, folder) == shown


@pytest.fixture
def scratch(run):
    folder = Path(tempfile.mkdtemp(prefix="dewgap-docs-"))
    yield folder
    shutil.rmtree(folder)


def test_the_answer_of_a_command_is_cleaned_of_its_folder(run, scratch):
    assert run.ask("pwd; echo $PWD/a.txt; echo 'b", scratch).status != 0
    assert run.ask("pwd; echo $PWD/a.txt", scratch) == run.Said(0, ".\na.txt")


def test_a_command_that_takes_too_long_is_ended_with_all_it_started(run, scratch, monkeypatch):
    monkeypatch.setattr(run, "_LONGEST_S", 1)
    began = time.monotonic()
    answer = run.ask("sleep 300 & echo $! > pid; wait", scratch)
    assert answer == run.Said(-1, "no answer within 1 s")
    assert time.monotonic() - began < 60
    assert is_gone(int((scratch / "pid").read_text()))


def test_a_plain_command_is_a_fork_and_ended_as_well(run, scratch, monkeypatch, tmp_path):
    monkeypatch.setattr(run, "MADE", tmp_path)
    try:
        answer = run._forked("dewgap coatings show nothing", scratch)
        assert answer.status == 1
        assert "nothing" in answer.text
        monkeypatch.setattr(run, "_LONGEST_S", 1)
        answer = run._forked(f"dewgap board {ROOT}/demo_sites --serve 0", scratch)
        assert answer.status == -signal.SIGALRM
        monkeypatch.setattr(run, "_LONGEST_S", 100)
        assert run._forked("dewgap --version", scratch).status == 0
    finally:
        run._warm().communicate(timeout=60)


def is_gone(pid):
    """Return whether a process ends within some seconds; one that nobody has waited for is gone."""
    stat = Path(f"/proc/{pid}/stat")
    for _ in range(100):
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        if stat.exists() and stat.read_text().rpartition(")")[2].split()[0] == "Z":
            return True
        time.sleep(0.05)
    return False

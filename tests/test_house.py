"""The house: no module grows past what one purpose needs."""

from pathlib import Path

ROOT = Path(__file__).parents[1]
MOST_LINES = 400


def test_no_module_is_too_long():
    modules = [*(ROOT / "windows").rglob("*.py"), *(ROOT / "cure_models").rglob("*.py")]
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in modules
    }
    assert {name: lines for name, lines in lengths.items() if lines > MOST_LINES} == {}

"""What is shipped: the wheel and the source archive hold what they need, and nothing else."""

import sys
import tarfile
import tomllib
import zipfile
from email import message_from_string
from pathlib import Path

import pytest
from hatchling.builders.sdist import SdistBuilder
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).parents[1]
# Every kind of file that a package may ship: code, knowledge, schemas, style and script of pages,
# fonts with their licence, the demo's invented data, and the mark that the types count.
SHIPPED = {".py", ".toml", ".json", ".css", ".js", ".ttf", ".txt", ".csv", ".gz", ".typed"}
LEFT_OUT = {"__pycache__", "_build", "_made", ".pytest_cache", ".hypothesis", ".benchmarks"}
MADE = ("docs/reference/api/", "docs/reference/commands/")  # by the build of the documents


def files(folder):
    found = {path.relative_to(ROOT) for path in (ROOT / folder).rglob("*") if path.is_file()}
    kept = {path.as_posix() for path in found if not LEFT_OUT & set(path.parts)}
    return {name for name in kept if not name.startswith(MADE)}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Return the names of the wheel's files and its metadata."""
    folder = tmp_path_factory.mktemp("wheel")
    built = next(WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"]))
    with zipfile.ZipFile(built) as archive:
        names = set(archive.namelist())
        told = next(name for name in names if name.endswith(".dist-info/METADATA"))
        return names, message_from_string(archive.read(told).decode())


def test_the_wheel_holds_both_packages_and_the_demo_and_nothing_else(wheel):
    names, _ = wheel
    inside = {name for name in names if ".dist-info/" not in name}
    demo = {f"windows/{name}" for name in files("demo_sites")}
    assert inside == files("windows") | files("cure_models") | demo


def test_every_shipped_file_is_of_a_known_kind(wheel):
    names, _ = wheel
    strange = {name for name in names if Path(name).suffix not in SHIPPED}
    assert {name for name in strange if ".dist-info/" not in name} == set()


def test_the_wheel_tells_its_types_its_licences_and_its_command(wheel):
    names, told = wheel
    assert {"windows/py.typed", "cure_models/py.typed"} <= names
    licences = {name.partition("/licenses/")[2] for name in names if "/licenses/" in name}
    assert licences == {"LICENSE", "windows/reports/fonts/LICENSE.txt"}
    assert set(told.get_all("License-File")) == licences
    assert any(name.endswith(".dist-info/entry_points.txt") for name in names)


def test_the_source_archive_holds_what_the_tests_and_the_documents_need(tmp_path):
    built = next(SdistBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"]))
    with tarfile.open(built) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    wanted = set().union(*map(files, ("windows", "cure_models", "demo_sites", "tests", "docs")))
    top = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "PKG-INFO", ".gitignore"}
    assert names == wanted | top


def test_this_python_is_one_that_the_package_names():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = {text.rpartition(" ")[2] for text in project["classifiers"] if "Python :: 3" in text}
    assert f"{sys.version_info.major}.{sys.version_info.minor}" in named

"""The documents against the code: names, tables, examples, the README's links and commands."""

import re
import shlex
import tomllib
from dataclasses import fields
from pathlib import Path
from typing import get_args

import pytest
from demo_copy import copy_demo
from pydantic import BaseModel
from typer.testing import CliRunner

from cure_models import coating_names, load_profile, resolve
from cure_models.assembly import assemblies
from cure_models.limits import DEADLINES, GATE_RULES, MILESTONES
from cure_models.system import SUBSTRATES, Interval, Layer, load_system, system_names
from windows.cli import app
from windows.cli.show_cover import EXIT
from windows.conditions import Conditions
from windows.cover import Verdict
from windows.hours import COLUMNS
from windows.job_file import JobFile, Prices, load_job
from windows.reports.as_json import coating_dict
from windows.site import Site, load_site
from windows.sources import read_weather
from windows.sources.logger_mapping import LoggerMapping, MappedColumn
from windows.sources.readings import read_readings

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
FRONT = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
PAGES = [*FRONT, *sorted(DOCS.glob("*.md")), *sorted(DOCS.glob("[!_]*/*.md"))]
# Files that the README's commands take, and the pages that have them.
OWN_FILES = {"my_product.toml": "coatings.md"}

def read(name):
    return (DOCS / name).read_text(encoding="utf-8")


def blocks(text):
    """Return the fenced blocks of a page in order: language and content without its indent."""
    found = re.findall(r"^( *)```([^\n]*)\n(.*?)^ *```$", text, re.MULTILINE | re.DOTALL)
    return [
        (language, "".join(line[len(indent) :] for line in content.splitlines(keepends=True)))
        for indent, language, content in found
    ]


def rows(text):
    """Return the rows of all tables of a page by what stands in their first cell."""
    table = {}
    for line in text.splitlines():
        if line.startswith("| `"):
            first, *cells = [cell.strip() for cell in line.strip("| ").split("|")]
            for name in re.findall(r"`([^`]+)`", first):
                table[name] = cells
    return table


def commands(text):
    return [
        line
        for language, content in blocks(text)
        if language == "sh"
        for line in content.splitlines()
        if line.startswith("dewgap ")
    ]


@pytest.mark.parametrize("page", FRONT, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    """Those of the pages in docs/ are followed when the site is built."""
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        if not re.match(r"https?:|mailto:|#", target):
            assert (page.parent / target.partition("#")[0]).exists(), target


def test_every_column_is_on_the_weather_page():
    table = rows(read("weather.md"))
    for column in COLUMNS.values():
        unit, possible, needed, meaning = table[column.name]
        assert unit == column.unit
        assert possible == f"{column.low:g} to {column.high:g}"
        assert (needed == "yes") == column.required, column.name
        assert meaning.startswith(column.meaning), column.name


def test_no_other_column_is_on_the_weather_page():
    keys = {*LoggerMapping.model_fields, *MappedColumn.model_fields}
    assert set(rows(read("weather.md"))) - keys <= set(COLUMNS)


def site_keys(model=Site):
    for name, field in model.model_fields.items():
        inner = field.annotation
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from site_keys(inner)
        else:
            yield name


def test_every_key_of_a_site_is_on_its_page():
    table = rows(read("sites.md"))
    assert set(site_keys()) <= set(table)


def test_no_other_key_of_a_site_is_on_its_page():
    assert set(rows(read("sites.md"))) <= {*site_keys(), *assemblies()}


def test_decks_are_on_the_page_of_sites():
    table = rows(read("sites.md"))
    for name, deck in assemblies().items():
        stored, passed = table[name][-2:]
        assert float(stored) == deck.heat_capacity_kj_m2_k
        assert float(passed) == deck.u_value_w_m2_k


@pytest.mark.parametrize("name", [*GATE_RULES, *MILESTONES, *DEADLINES])
def test_every_limit_is_on_the_page_of_coatings(name):
    row = rows(read("coatings.md"))[name]
    if name in GATE_RULES:
        rule = GATE_RULES[name]
        assert row[0] == f"`{rule.quantity}`"
        assert row[-1] == rule.why


def hours(entry):
    if entry is None:
        return ""
    return f"{entry.si / 24:g} d" if entry.si >= 48 else f"{entry.si:g} h"


@pytest.mark.parametrize("name", coating_names())
def test_every_coating_is_on_its_page(name):
    profile = load_profile(name)
    air = profile.gates["air_temp_min"]
    assert rows(read("coatings.md"))[name] == [
        profile.title,
        ", ".join(profile.roles),
        profile.law,
        f"{air.value:g} °F",
        hours(profile.milestones.get("rain_safe")),
        hours(profile.milestones.get("recoat_opens")),
        hours(profile.deadlines.get("recoat_closes")),
        hours(profile.deadlines.get("cover_by")),
        ", ".join(profile.may_go_over_it),
    ]
    reference = profile.reference
    assert (reference.temperature.value, reference.temperature.unit) == (75, "degF")
    assert reference.humidity.si == 0.5


@pytest.mark.parametrize("name", system_names())
def test_every_system_is_on_its_page(name):
    system = load_system(name)
    assert rows(read("systems.md"))[name] == [
        system.title,
        ", ".join(system.layers[0].over),
        ", ".join(layer.name for layer in system.layers),
    ]


def test_every_key_of_a_system_is_on_its_page():
    text = read("systems.md")
    table = rows(text)
    assert {*Layer.model_fields, *Interval.model_fields} <= set(table)
    assert [name for name in SUBSTRATES if f"`{name}`" not in text] == []


def job_keys(model=JobFile):
    for name, field in model.model_fields.items():
        yield name
        for inner in (field.annotation, *get_args(field.annotation)):
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                yield from job_keys(inner)


def test_every_key_of_a_job_file_is_on_its_page():
    text = read("plans.md")
    keys = set(job_keys()) - {"where", "logged"}  # no keys of the file: its place, and its log
    assert {"access_over", "read_at", "trigger_share", "no_spare", "fabric_laps"} <= keys
    assert [key for key in sorted(keys) if f"`{key}`" not in text] == []


@pytest.mark.parametrize("key", Prices.model_fields)
def test_prices_stand_on_the_page_of_plans(key):
    assert f"`{key}` {getattr(Prices(), key):g}" in read("plans.md")


@pytest.mark.parametrize("verdict", Verdict)
def test_every_verdict_and_its_exit_status_are_on_the_page_of_plans(verdict):
    assert f"| {verdict.value} |" in read("plans.md")
    line = next(t for t in read("plans.md").splitlines() if t.startswith(f"| {verdict.value} |"))
    assert line.endswith(f"| {EXIT[verdict.state]} |")


def test_every_hourly_quantity_has_its_name_explained():
    names = {field.name for field in fields(Conditions)} - {"absent"} | set(COLUMNS)
    assert names <= set(rows(read("nomenclature.md")))


def test_definitions_name_every_column_and_every_key_of_the_json():
    text = read("definitions.md")
    shown = {field.name for field in fields(Conditions)} - {"heat_index_c", "absent"}
    keys = set(coating_dict(resolve(load_profile("acrylic"))))
    assert [name for name in sorted(shown | keys) if f"`{name}`" not in text] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_examples_of_files_can_be_read(page, tmp_path):
    """Those that commands of the page use, ``{file}``, are read when the site is built."""
    for language, content in blocks(page.read_text(encoding="utf-8")):
        if language not in ("toml", "csv"):
            continue
        path = tmp_path / f"example.{language}"
        path.write_text(content, encoding="utf-8")
        if language == "toml":
            data = tomllib.loads(content)
            if "latitude" in data:
                load_site(path)
            elif "based_on" in data:
                load_profile(str(path))
            elif "layer" in data:
                load_system(str(path))
            elif "section" in data:
                load_job(tmp_path, path)
        elif language == "csv" and content.startswith("time,"):
            assert len(read_readings(path).times) >= 3
        elif language == "csv":
            assert len(read_weather(path).index) >= 2


def test_commands_of_the_readme_run(tmp_path, monkeypatch):
    """Those of the pages in docs/ are run when the site is built."""
    copy_demo(tmp_path)
    for name, page in OWN_FILES.items():
        own = next(text for kind, text in blocks(read(page)) if kind == f"{{file}} {name}")
        (tmp_path / name).write_text(own, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    lines = commands((ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(lines) > 10
    for line in lines:
        words = shlex.split(line.replace("SITE", "demo_sites/cool_north"))
        if words[1] == "board":  # its best plan is proved in other tests
            words += ["--seconds", "0.5"]
        result = CliRunner().invoke(app, words[1:], catch_exceptions=False)
        assert result.exit_code == 0, f"{line}\n{result.output}"

"""The documents against the code: links, names, tables, examples, commands and what they print."""

import re
import shlex
import shutil
import tomllib
from dataclasses import fields
from pathlib import Path
from typing import get_args

import pandas as pd
import pytest
from pydantic import BaseModel
from typer.testing import CliRunner

from cure_models import coating_names, load_profile, resolve
from cure_models.assembly import assemblies
from cure_models.limits import DEADLINES, GATE_RULES, MILESTONES
from cure_models.system import SUBSTRATES, Interval, Layer, load_system, system_names
from windows.cli import app
from windows.cli.show_cover import EXIT
from windows.conditions import Conditions
from windows.hours import COLUMNS
from windows.job_file import JobFile, Prices, load_job
from windows.recoat import Verdict
from windows.reports.as_json import coating_dict
from windows.site import Site, load_site
from windows.sources import read_weather
from windows.sources.readings import read_readings

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.glob("*.md"))]
WITH_COMMANDS = [
    "README.md", "docs/tutorial.md", "docs/coatings.md", "docs/weather.md", "docs/systems.md",
    "docs/plans.md", "docs/seasons.md", "docs/weather_days.md", "docs/portfolio.md",
    "docs/board.md", "docs/skill.md", "docs/log.md",
]  # fmt: skip
OWN_FILES = {
    "my_acrylic.toml": ("tutorial.md", "based_on"),
    "my_product.toml": ("coatings.md", "based_on"),
    "our_roof.toml": ("systems.md", "schema"),
}


def read(name):
    return (DOCS / name).read_text(encoding="utf-8")


def blocks(text):
    """Return the fenced blocks of a page in order: language and content without its indent."""
    found = re.findall(r"^( *)```(\w*)\n(.*?)^ *```$", text, re.MULTILINE | re.DOTALL)
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


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
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
    assert set(rows(read("weather.md"))) - {"rel_humidity", "dew_point_c"} <= set(COLUMNS)


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
    assert line.endswith(f"| {EXIT[verdict]} |")


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
    for language, content in blocks(page.read_text(encoding="utf-8")):
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


def place_examples(folder):
    """Put the files that the pages name into a folder: sites, weather and own coatings."""
    shutil.copytree(ROOT / "demo_sites", folder / "demo_sites")
    shutil.copytree(ROOT / "demo_sites" / "cool_north", folder / "my_roof")
    examples = [content for language, content in blocks(read("tutorial.md")) if language == "toml"]
    (folder / "my_roof" / "site.toml").write_text(examples[0], encoding="utf-8")
    for name, (page, begin) in OWN_FILES.items():
        own = next(
            content
            for language, content in blocks(read(page))
            if language == "toml" and content.startswith(begin)
        )
        (folder / name).write_text(own, encoding="utf-8")
    readings = next(
        content
        for language, content in blocks(read("tutorial.md"))
        if language == "csv" and content.startswith("time,")
    )
    (folder / "readings.csv").write_text(readings, encoding="utf-8")
    table = pd.read_csv(folder / "my_roof" / "weather.csv", comment="#")
    table.drop(columns="cloud").to_csv(folder / "no_cloud.csv", index=False)


def run(line):
    words = shlex.split(line.replace("SITE", "my_roof"))
    result = CliRunner().invoke(app, words[1:], catch_exceptions=False)
    assert result.exit_code == 0, f"{line}\n{result.output}"
    return result.output


def plain(line):
    return " ".join(line.split())


@pytest.mark.parametrize("name", WITH_COMMANDS)
def test_commands_run_and_print_what_the_page_shows(name, tmp_path, monkeypatch):
    """What a ``text`` block shows is printed by the commands before it; ``...`` stands for more."""
    place_examples(tmp_path)
    monkeypatch.chdir(tmp_path)
    page = (ROOT / name).read_text(encoding="utf-8")
    assert commands(page)
    printed = []
    for language, content in blocks(page):
        if language == "sh":
            for line in commands(f"```sh\n{content}```\n"):
                printed += [plain(text) for text in run(line).splitlines()]
        elif language == "text":
            for shown in map(plain, content.splitlines()):
                start = shown.removesuffix("...").rstrip()
                assert any(
                    text == shown or (shown.endswith("...") and text.startswith(start))
                    for text in printed
                ), shown

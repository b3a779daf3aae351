"""What the shell is offered after Tab, asked as the scripts of bash, zsh and fish ask."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from windows.cli import complete

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
SCRIPT = Path(sys.executable).with_name("dewgap")
SHELLS = ["bash", "zsh", "fish"]


def asked(shell, line, folder):
    """Return what the shell is told for a line that ends where Tab was pressed."""
    told = {"_DEWGAP_COMPLETE": f"complete_{shell}"}
    if shell == "bash":
        told |= {"COMP_WORDS": line, "COMP_CWORD": str(len(line.split(" ")) - 1)}
    else:
        told |= {"_TYPER_COMPLETE_ARGS": line, "_TYPER_COMPLETE_FISH_ACTION": "get-args"}
    found = subprocess.run(
        [SCRIPT], env=os.environ | told, cwd=folder, capture_output=True, text=True, check=False
    )
    assert found.stderr == ""
    return found.stdout


@pytest.mark.parametrize("shell", SHELLS)
def test_a_coating_that_is_begun_is_proposed(shell, tmp_path):
    told = asked(shell, "dewgap windows demo_sites/x --coating acr", tmp_path)
    assert "acrylic" in told
    assert "silicone" not in told
    if shell != "bash":
        assert "Acrylic, water-based" in told


@pytest.mark.parametrize("shell", SHELLS)
def test_the_script_for_a_shell_can_be_had(shell):
    env = os.environ | {"_DEWGAP_COMPLETE": f"source_{shell}"}
    found = subprocess.run([SCRIPT], env=env, capture_output=True, text=True, check=True)
    assert f"complete_{shell}" in found.stdout
    assert "dewgap" in found.stdout


def test_the_options_for_completion_are_in_the_help(good):
    text = good("--help")
    assert "--install-completion" in text
    assert "--show-completion" in text


def names(offers):
    return [name for name, _ in offers]


@pytest.mark.parametrize(
    ("offer", "begun", "expected"),
    [
        (complete.coatings, "silicone_h", ["silicone_high_solids"]),
        (complete.systems, "acrylic_two", ["acrylic_two_coat"]),
        (complete.contracts, "county", ["county_tenth_inch"]),
        (complete.forecasts, "", ["auto", "nws", "open_meteo", "open_meteo_ensemble",
                                  "met_norway"]),
        (complete.histories, "met", ["meteostat"]),
        (complete.formats, "log", ["logger"]),
        (complete.kinds, "plac", ["placement"]),
    ],
    ids=lambda each: getattr(each, "__name__", None),
)  # fmt: skip
def test_names_are_proposed(offer, begun, expected, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert names(offer(begun)) == expected


def test_ones_own_file_is_proposed_beside_the_shipped(tmp_path, monkeypatch):
    (tmp_path / "acrylic_ours.toml").write_text("")
    monkeypatch.chdir(tmp_path)
    assert "acrylic_ours.toml" in names(complete.coatings("acr"))


def test_sites_are_proposed_and_ways_to_them(monkeypatch):
    monkeypatch.chdir(DEMO_SITES.parent)
    found = names(complete.sites("demo_sites/"))
    assert {"demo_sites/cool_north", "demo_sites/tri_county/"} <= set(found)
    assert names(complete.sites("demo_sites/cool")) == ["demo_sites/cool_north"]
    assert complete.sites("no/such/folder/") == []


def test_sections_and_layers_are_those_of_the_job_that_was_typed(monkeypatch):
    monkeypatch.chdir(DEMO_SITES.parent)
    monkeypatch.setenv("COMP_WORDS", "dewgap log place demo_sites/cool_north --section ")
    assert names(complete.sections("")) == ["A", "B", "C"]
    assert "base" in names(complete.layers(""))
    monkeypatch.setenv("COMP_WORDS", "dewgap recoat demo_sites/cool_north --system spf_silicone")
    assert "foam" in names(complete.layers(""))


@pytest.mark.parametrize(
    "line",
    ["dewgap log place", "dewgap log place nowhere", "dewgap log place 'demo_sites/cool"],
)
def test_without_a_site_nothing_is_proposed_and_nothing_breaks(line, monkeypatch):
    monkeypatch.setenv("COMP_WORDS", line)
    assert complete.sections("") == []
    assert complete.layers("") == []

"""What every shipped system must keep, the facts of the trade, and the faults of a user's file."""

import re
from itertools import pairwise
from pathlib import Path

import pytest

from cure_models.coating import resolve, thickness_share
from cure_models.errors import ProfileError
from cure_models.profile import FAMILIES
from cure_models.profile_files import coating_names, load_profile
from cure_models.sourced import BASES
from cure_models.system import SUBSTRATES, Interval, load_system, system_names
from cure_models.system_rules import check_layers, needed_rates
from cure_models.units import WET_MILS_PER_GAL_PER_SQUARE, from_si

NAMES = (
    "acrylic_metal", "acrylic_reinforced", "acrylic_two_coat", "aluminum_recoat",
    "emulsion_aluminum", "emulsion_one_ply_acrylic", "emulsion_two_ply_acrylic", "pmma_fleece",
    "polyurea_aliphatic", "sebs_two_coat", "silicone_one_coat", "silicone_recoat",
    "silicone_two_coat", "spf_acrylic", "spf_butyl", "spf_silicone", "spf_urethane",
    "spray_rubber_acrylic", "urethane_moisture_aliphatic", "urethane_two_part_aliphatic",
)  # fmt: skip
COATINGS = [load_profile(name) for name in coating_names()]
SYSTEMS = {name: load_system(name) for name in system_names()}
FOAM = [system for name, system in SYSTEMS.items() if name.startswith("spf_")]
INTERVALS = [key for key in Interval.model_fields if key != "same_shift"]
CALCULATED = re.compile(r"calculated: ([\d. +]+) gal/100 ft2 x 16\.04 x (\d+) % solids")

every_system = pytest.mark.parametrize("system", SYSTEMS.values(), ids=SYSTEMS.keys())
every_foam = pytest.mark.parametrize("system", FOAM, ids=lambda system: system.name)


def pairs(system):
    """Yield each layer with its coating."""
    return zip(system.layers, system.profiles, strict=True)


def junctions(system):
    """Yield the layer below with its coating, then the layer above with its own."""
    return pairwise(pairs(system))


def mil(entry):
    return from_si(entry.si, "mil")


def opens_h(system, layer, end="value"):
    """Return the cure that a layer takes at the reference, at its own film, until recoat opens."""
    n = system.number(layer)
    coating = resolve(system.profiles[n], dry_film_um=system.layers[n].dry_film.si)
    share = thickness_share(
        coating.reference.dry_film_um, coating.dry_film_um, coating.rate.thickness_exponent
    )
    return pytest.approx(system.profiles[n].milestones["recoat_opens"].end(end) / share)


def dry_mil(system, *families):
    return sum(mil(layer.dry_film) for layer, p in pairs(system) if p.family in families)


def gallons(system, family):
    """Return what the dry films of a family take, without loss. [gal/100 ft2]"""
    return sum(
        mil(layer.dry_film) / profile.film["volume_solids"].si / WET_MILS_PER_GAL_PER_SQUARE
        for layer, profile in pairs(system)
        if profile.family == family
    )


def test_all_are_shipped():
    assert system_names() == sorted(NAMES)


@every_system
def test_named_after_its_file_and_generic(system):
    assert SYSTEMS[system.name] is system
    assert system.where == f"cure_models/systems/{system.name}.toml"
    assert system.generic
    assert system.title


@every_system
def test_every_number_is_sourced_and_in_its_range(system):
    for layer in system.layers:
        told = {key: getattr(layer.next, key) for key in INTERVALS}
        for key, entry in {"dry_film": layer.dry_film, **told}.items():
            if entry is None:
                continue
            assert entry.basis in BASES, (layer.name, key)
            assert entry.low <= entry.value <= entry.high, (layer.name, key)
            assert entry.basis != "data sheet", "a generic value is from no data sheet"


@every_system
def test_an_interval_is_given_only_where_it_differs(system):
    for layer in system.layers:
        coating = load_profile(layer.coating)
        for own, entry in (
            (coating.milestones.get("recoat_opens"), layer.next.opens),
            (coating.deadlines.get("recoat_closes"), layer.next.closes),
            (coating.deadlines.get("cover_by"), layer.next.cover_by),
        ):
            if entry is not None and own is not None:
                assert [entry.end(e) for e in ("lo", "value", "hi")] != [
                    own.end(e) for e in ("lo", "value", "hi")
                ], layer.name


@every_system
def test_no_interval_after_the_last_layer(system):
    assert system.layers[-1].next == Interval()


@every_system
def test_coatings_are_shipped_and_layers_are_named_once(system):
    assert all(layer.coating in coating_names() for layer in system.layers)
    names = [layer.name for layer in system.layers]
    assert [system.number(name) for name in names] == list(range(len(names)))


@every_system
def test_each_layer_bonds_to_the_one_below(system):
    for (_, below), (layer, above) in junctions(system):
        assert above.family in below.may_go_over_it, layer.name
        assert below.family in layer.over, layer.name
        assert set(layer.over) <= set(FAMILIES), "only the first layer is laid on a bare roof"


@every_system
def test_first_layer_bonds_to_the_old_coatings_that_it_names(system):
    first, family = system.layers[0], system.profiles[0].family
    for kind in first.over:
        old = [p for p in COATINGS if p.family == kind]
        assert kind in SUBSTRATES or any(
            family in p.may_go_over_it for p in old if "primer" not in p.roles
        ), kind


@every_system
def test_no_rule_refuses_a_shipped_system(system):
    assert [finding for finding in check_layers(system) if finding.refuses] == []
    assert system.profiles[-1].uv_stable


@every_system
def test_film_of_a_pass_is_one_that_the_coating_takes(system):
    for layer, profile in pairs(system):
        per_pass, allowed = layer.dry_film.si / layer.passes, profile.film["dry_per_coat"]
        assert allowed.end("lo") <= per_pass <= allowed.end("hi"), layer.name


@every_system
def test_films_make_at_least_the_total_of_their_coating(system):
    for profile in system.profiles:
        in_all = sum(
            layer.dry_film.si for layer in system.layers if layer.coating == profile.name
        )
        assert in_all >= profile.film["dry_total"].end("lo")


@every_system
def test_film_rate_and_solids_agree(system):
    for layer, profile in pairs(system):
        if profile.family == "foam":
            continue
        rates, solids = CALCULATED.fullmatch(layer.dry_film.source).groups()
        passes = [float(rate) for rate in rates.split("+")]
        assert float(solids) == profile.film["volume_solids"].value
        assert len(passes) == layer.passes
        most = from_si(profile.film["rate_per_coat"].end("hi"), "gal/100ft2")
        assert max(passes) <= most * (1 + 1e-9)
        exact = sum(passes) * WET_MILS_PER_GAL_PER_SQUARE * float(solids) / 100
        # A data sheet prints whole mils.
        assert mil(layer.dry_film) == pytest.approx(exact, abs=0.5), layer.name


@every_system
def test_fabric_is_laid_into_wet_passes(system):
    for layer in system.layers:
        assert not layer.fabric or layer.passes >= 2, layer.name


@every_system
def test_recoat_opens_before_every_deadline(system):
    for profile in system.profiles[:-1]:
        for deadline in profile.deadlines.values():
            assert profile.milestones["recoat_opens"].si < deadline.si


@every_system
def test_what_the_sun_spoils_must_be_covered(system):
    for n, profile in enumerate(system.profiles):
        if not profile.uv_stable:
            assert system.must_be_covered(n)
            assert profile.deadlines


# Facts of the trade. ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "families", "least"),
    [
        # MIL-HDBK-1001/5A, p. 39: 30 mil silicone; 40 mil urethane or acrylic, urethane 45 in hot
        # climates.
        ("spf_silicone", ["silicone"], 30),
        ("spf_acrylic", ["acrylic"], 40),
        ("spf_urethane", ["urethane"], 45),
    ],
)
def test_coating_over_foam_is_thick_enough(name, families, least):
    assert dry_mil(SYSTEMS[name], *families) >= least
    # Two or more coats, the same page.
    assert len(SYSTEMS[name].layers) >= 3


@every_foam
def test_foam_is_followed_in_the_same_shift(system):
    # UFGS 07570, 3.6.7 and 3.6.8.
    foam, profile = system.layers[0], system.profiles[0]
    assert profile.family == "foam"
    assert foam.next.same_shift
    assert profile.milestones["recoat_opens"].si == 2
    assert profile.deadlines["cover_by"].si <= 12
    # MIL-HDBK-1001/5A, p. 39: lifts of 1 to 2-1/4 in.
    assert 1000 <= mil(foam.dry_film) <= 2250


def test_only_foam_is_followed_in_the_same_shift():
    for system in SYSTEMS.values():
        for layer, profile in pairs(system):
            assert layer.next.same_shift == (profile.family == "foam")


@every_system
def test_only_silicone_is_laid_on_silicone(system):
    # Common practice, no source.
    for (_, below), (_, above) in junctions(system):
        assert below.family != "silicone" or above.family == "silicone"
    for layer, profile in pairs(system):
        assert "silicone" not in layer.over or profile.family == "silicone"


def test_old_silicone_has_its_system():
    assert [name for name, s in SYSTEMS.items() if "silicone" in s.layers[0].over] == [
        "silicone_recoat"
    ]


@every_system
def test_emulsion_waits_two_weeks_before_acrylic(system):
    # US patent 8,124,183: two weeks or longer before a reflective acrylic, 24 h after its coat.
    for (ply, below), (base, above) in junctions(system):
        if (below.family, above.family) == ("emulsion", "acrylic"):
            assert opens_h(system, ply.name, "lo") == 14 * 24
            assert opens_h(system, ply.name) == 14 * 24
            assert below.deadlines["recoat_closes"].si == 60 * 24
            assert below.deadlines["cover_by"].si == 60 * 24
            assert opens_h(system, base.name) == 24


def test_emulsion_waits_a_month_before_aluminum():
    # From memory, unverified.
    ply = SYSTEMS["emulsion_aluminum"].profiles[0]
    assert opens_h(SYSTEMS["emulsion_aluminum"], "1") == 30 * 24
    assert ply.deadlines["recoat_closes"].si == 90 * 24


def test_second_ply_does_not_wait_for_acrylic():
    system = SYSTEMS["emulsion_two_ply_acrylic"]
    assert opens_h(system, "1", "hi") == 48
    assert opens_h(system, "2", "lo") == 336


def test_spray_rubber_waits_for_its_water():
    # From memory, unverified.
    rubber = SYSTEMS["spray_rubber_acrylic"].profiles[1]
    assert rubber.family == "rubber"
    opens = rubber.milestones["recoat_opens"]
    assert (opens.end("lo"), opens.si, opens.end("hi")) == (24, 48, 96)
    for deadline in ("recoat_closes", "cover_by"):
        end = rubber.deadlines[deadline]
        assert (end.end("lo"), end.si, end.end("hi")) == (168, 336, 720)


def test_seams_leave_the_epoxy_time_for_the_base():
    # The base lies on the epoxy between the seams: it must come within the epoxy's own interval.
    primer, seams = SYSTEMS["acrylic_metal"].profiles[:2]
    whole = load_profile("primer_epoxy").deadlines["recoat_closes"].si
    assert primer.deadlines["recoat_closes"].si + seams.deadlines["recoat_closes"].si <= whole
    assert SYSTEMS["acrylic_metal"].layers[1].area_share < 1


@pytest.mark.parametrize(
    ("name", "layer", "mean_rate"),
    [
        ("urethane_moisture_aliphatic", "base", 0.33), ("polyurea_aliphatic", "primer", 0.33),
        ("urethane_two_part_aliphatic", "base", 0.28), ("spf_silicone", "foam", 0.20),
        ("emulsion_one_ply_acrylic", "ply", 0.23), ("silicone_two_coat", "base", 0.17),
        ("emulsion_two_ply_acrylic", "second_ply", 0.23),
        ("spray_rubber_acrylic", "membrane", 0.14), ("acrylic_metal", "primer", 0.33),
        ("acrylic_two_coat", "base", 0.04), ("acrylic_reinforced", "base", 0.08),
    ],
)  # fmt: skip
def test_needed_mean_rate(name, layer, mean_rate):
    # Below this rate of cure no legal moment for the next layer exists; calculated.
    system = SYSTEMS[name]
    number = system.number(layer) + 1
    needed = next(rate for rate in needed_rates(system) if rate.layer == number)
    assert needed.generic == pytest.approx(mean_rate, abs=0.006)
    assert needed.least <= needed.generic <= needed.most
    assert opens_h(system, layer) == needed.opens_h


# Arithmetic of films. --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dry", "solids", "loss", "gal"),
    [
        # One gallon on 100 ft2 is 231 in3 / 14400 in2 = 16.0417 mil wet; worked by hand.
        (20, 0.50, 0.0, 2.49), (13.2, 0.55, 0.0, 1.50), (22.1, 0.92, 0.0, 1.50),
        (24.1, 0.50, 0.0, 3.00), (24, 0.55, 0.10, 3.02), (30, 0.60, 0.10, 3.46),
        (60, 0.60, 0.05, 6.56),
    ],
)  # fmt: skip
def test_spot_checks_of_wet_and_dry(dry, solids, loss, gal):
    needed = dry / solids / WET_MILS_PER_GAL_PER_SQUARE / (1 - loss)
    # Half of the last digit of the gallons, or of the dry mils.
    tolerance = max(0.005, 0.05 / solids / WET_MILS_PER_GAL_PER_SQUARE)
    assert needed == pytest.approx(gal, abs=tolerance)


def test_twenty_dry_mils_at_half_solids_are_forty_wet():
    assert 20 / 0.5 == 40
    assert pytest.approx(2.49, abs=0.005) == 40 / WET_MILS_PER_GAL_PER_SQUARE


@pytest.mark.parametrize(
    ("name", "family", "low", "high"),
    [
        # Trade: guide specification title page, name withheld.
        ("emulsion_one_ply_acrylic", "emulsion", 6, 6),
        ("emulsion_one_ply_acrylic", "acrylic", 3, 3),
        ("emulsion_two_ply_acrylic", "emulsion", 12, 12),
        ("emulsion_two_ply_acrylic", "acrylic", 4, 5),
        # Trade: contractor and manufacturer pages, names withheld: 1.5 gal are about 22 dry mils.
        ("silicone_recoat", "silicone", 1.5, 1.5),
        # Common practice, no source; from memory, unverified.
        ("acrylic_two_coat", "acrylic", 3, 3),
        ("spray_rubber_acrylic", "rubber", 6, 6),
        ("polyurea_aliphatic", "polyurea", 3.75, 3.75),
        ("pmma_fleece", "pmma", 6.5, 6.5),
        ("sebs_two_coat", "sebs", 4, 4),
        ("spf_butyl", "butyl", 4.5, 4.5),
        ("aluminum_recoat", "aluminum", 1, 1),
    ],
)
def test_gallons_that_the_dry_films_take(name, family, low, high):
    # Each film is rounded to a whole mil: half a mil is 6 % of the thinnest coat, 8 mil.
    assert 0.94 * low <= gallons(SYSTEMS[name], family) <= 1.06 * high


# A user's own file. ----------------------------------------------------------------------------

OWN = """\
schema = 1
name = "own"
title = "Own"

[[layer]]
name = "base"
coating = "acrylic"
dry_film = { value = 13, unit = "mil", source = "data sheet: own" }
over = ["single_ply"]
next = { opens = { value = 6, unit = "h", source = "data sheet: own" } }

[[layer]]
name = "top"
coating = "acrylic"
dry_film = { value = 12, unit = "mil", source = "data sheet: own" }
over = ["acrylic"]
"""
LAYERS = OWN[OWN.index("[[layer]]") :]


def own_file(tmp_path, text=OWN):
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def fault_of(path):
    with pytest.raises(ProfileError) as raised:
        load_system(str(path))
    sentence = str(raised.value)
    assert sentence.startswith(f"{path}: ")
    assert "\n" not in sentence
    return sentence


def shipped_acrylic():
    folder = Path(__file__).parents[2] / "cure_models" / "coatings"
    return (folder / "acrylic.toml").read_text(encoding="utf-8")


def test_own_file(tmp_path):
    system = load_system(str(own_file(tmp_path)))
    assert not system.generic
    assert [opens_h(system, n) for n in ("1", "2")] == [6, 12]
    # What the layer does not give is the coating's own.
    own = load_profile("acrylic")
    assert system.profiles[0].deadlines == own.deadlines
    assert system.profiles[0].film == own.film
    assert load_profile("acrylic").milestones["recoat_opens"].si == 12


def test_layer_by_name_or_number():
    system = SYSTEMS["acrylic_two_coat"]
    assert [system.number(each) for each in ("base", "top", "1", "2")] == [0, 1, 0, 1]
    for unknown in ("0", "3", "finish", "-1", ""):
        with pytest.raises(ProfileError, match="its layers are 1 base, 2 top"):
            system.number(unknown)


def test_every_interval_of_a_layer_replaces_the_coatings(tmp_path):
    given = {
        "opens": (5, "h"), "opens_clock_min": (7, "h"), "closes": (50, "h"),
        "cover_by": (3, "d"), "cover_by_uv_dose": (90, "SED"),
    }  # fmt: skip
    keys = ", ".join(
        f'{key} = {{ value = {value}, unit = "{unit}", source = "data sheet: own" }}'
        for key, (value, unit) in given.items()
    )
    text = re.sub("next = .*", f"next = {{ {keys}, same_shift = true }}", OWN)
    system = load_system(str(own_file(tmp_path, text)))
    profile = system.profiles[0]
    assert opens_h(system, "1") == 5
    assert profile.milestone_clock_min["recoat_opens"].si == 7
    assert {name: entry.si for name, entry in profile.deadlines.items()} == {
        "recoat_closes": 50, "cover_by": 72, "cover_by_uv_dose": 90
    }  # fmt: skip
    assert system.layers[0].next.same_shift
    assert system.must_be_covered(0)
    assert not system.must_be_covered(1)


def test_own_coating_lies_beside_the_file(tmp_path, monkeypatch):
    (tmp_path / "my_acrylic.toml").write_text('schema = 1\nbased_on = "acrylic"\n')
    text = OWN.replace('coating = "acrylic"', 'coating = "my_acrylic.toml"', 1)
    path = own_file(tmp_path, text)
    assert load_system(str(path)).profiles[0].name == "my_acrylic"
    for where in (tmp_path, tmp_path.parent):
        monkeypatch.chdir(where)
        assert load_system(str(path.relative_to(where))).profiles[0].name == "my_acrylic"


def test_missing_coating_beside_the_file(tmp_path):
    text = OWN.replace('coating = "acrylic"', 'coating = "my_acrylic.toml"', 1)
    sentence = fault_of(own_file(tmp_path, text))
    assert "layer 'base'" in sentence
    assert f"{tmp_path / 'my_acrylic.toml'}: no such file" in sentence


def test_fault_of_a_coating_beside_the_file(tmp_path):
    (tmp_path / "my_acrylic.toml").write_text('based_on = "acrylic"\ntitel = "Mine"\n')
    text = OWN.replace('coating = "acrylic"', 'coating = "my_acrylic.toml"', 1)
    sentence = fault_of(own_file(tmp_path, text))
    assert "layer 'base'" in sentence
    assert "did you mean 'title'?" in sentence


def test_a_system_whose_name_no_file_can_have():
    with pytest.raises(ProfileError, match="no file can have such a name; check the path"):
        load_system("a\0.toml")


def test_coating_that_does_not_say_when_the_next_may_follow(tmp_path):
    text = re.sub("recoat_opens = .*\n", "", shipped_acrylic())
    (tmp_path / "silent.toml").write_text(text, encoding="utf-8")
    text = OWN.replace('coating = "acrylic"', 'coating = "silent.toml"')
    assert "layer 'top': coating 'acrylic' does not say" in fault_of(own_file(tmp_path, text))


def test_unknown_system_is_told_with_a_suggestion():
    with pytest.raises(ProfileError, match="did you mean 'acrylic_metal'"):
        load_system("acrylic_metall")


NEXT = 'opens = { value = 6, unit = "h", source = "data sheet: own" }'


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        pytest.param(LAYERS, "", "key 'layer' is missing; add", id="no layer"),
        pytest.param(LAYERS, "layer = []", "key 'layer' is missing; add", id="empty layers"),
        pytest.param('title = "Own"\n', "", "key 'title' is missing", id="no title"),
        pytest.param("schema = 1", "schema = 2", "key 'schema' must be 1", id="schema"),
        pytest.param("title =", "titel =", "did you mean 'title'?", id="unknown key"),
        pytest.param(
            'coating = "acrylic"', 'coating = "acrilic"',
            "layer 'base': coating 'acrilic' is not known; did you mean 'acrylic'?",
            id="unknown coating",
        ),
        pytest.param(
            'name = "top"', 'name = "base"', "two layers are named 'base'", id="two of one name"
        ),
        pytest.param(
            '["single_ply"]', '["single_pli"]',
            "'single_pli' is no roof; did you mean 'single_ply'?", id="unknown roof",
        ),
        pytest.param('["single_ply"]', "[]", "key 'over' is empty", id="over nothing"),
        pytest.param("value = 13", "value = -13", "must be above zero", id="negative film"),
        pytest.param("value = 13", "value = 0", "must be above zero", id="no film"),
        pytest.param("value = 13", "value = nan", "finite", id="film not a number"),
        pytest.param("value = 13", 'value = "13"', "must be a number", id="film in quotes"),
        pytest.param(
            "value = 13", "value = 13, lo = 14", "outside its range", id="film out of range"
        ),
        pytest.param(
            'value = 13, unit = "mil"', 'value = 13, unit = "h"',
            "'h' is a unit of time; film takes um, mil", id="film in hours",
        ),
        pytest.param('unit = "mil"', 'unit = "mils"', "'mils' is not known", id="unknown unit"),
        pytest.param(
            'value = 6, unit = "h"', 'value = 6, unit = "mil"',
            "'mil' is a unit of film; time takes", id="interval in mils",
        ),
        pytest.param("value = 6", "value = -6", "must not be negative", id="negative interval"),
        pytest.param(
            NEXT, NEXT + ', closes = { value = 5, unit = "h", source = "data sheet: own" }',
            "recoat opens (6 h) later than recoat closes (5 h)", id="opens after it closes",
        ),
        pytest.param(
            "value = 6", "value = 400",
            "layer 'base': recoat opens (400 h) later than recoat closes (336 h)",
            id="opens after the coating's own closing",
        ),
        pytest.param(
            NEXT, NEXT.replace("opens", "opens_clock_min").replace("6", "400"),
            "layer 'base': recoat opens (400 h) later than recoat closes (336 h)",
            id="clock minimum after the closing",
        ),
        pytest.param(
            NEXT, NEXT + ', cover_by = { value = 2, unit = "h", source = "data sheet: own" }',
            "recoat opens (6 h) later than cover by (2 h)", id="opens after it must be covered",
        ),
        pytest.param('name = "base"', 'name = " "', "give the layer a word", id="blank name"),
        pytest.param('name = "base"', 'name = "2"', "give the layer a word", id="number as name"),
        pytest.param(
            "over =", "area_share = 0.0\nover =", "area_share", id="no share of the area"
        ),
        pytest.param(
            "next = { opens", "next = { open", "did you mean 'opens'?", id="unknown interval"
        ),
        pytest.param(
            '"data sheet: own"', '"a friend"', "source 'a friend' must begin with", id="source"
        ),
        pytest.param("over =", "passes = 0\nover =", "passes", id="no pass"),
        pytest.param("over =", "passes = 1.5\nover =", "passes", id="half a pass"),
        pytest.param("over =", "fabric = true\nover =", "must be text in quotes", id="fabric"),
        pytest.param("[[layer]]", "[[layer]", "not valid TOML", id="not TOML"),
        pytest.param(OWN, "", "the file is empty", id="empty"),
        pytest.param(OWN, " \n\n", "the file is empty", id="blank"),
    ],
)  # fmt: skip
def test_fault_of_an_own_file(tmp_path, old, new, told):
    assert old in OWN
    assert told in fault_of(own_file(tmp_path, OWN.replace(old, new, 1)))


def test_missing_file(tmp_path):
    assert "no such file" in fault_of(tmp_path / "none.toml")


def test_not_utf8(tmp_path):
    path = tmp_path / "own.toml"
    path.write_bytes(OWN.replace("Own", "Dachüberzug").encode("latin-1"))
    assert "not UTF-8 text" in fault_of(path)

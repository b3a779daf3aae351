"""What the rules refuse, what they warn of, and the mean cure rate that a deadline needs."""

import pytest

from cure_models.profile_files import load_profile
from cure_models.system import load_system, system_names
from cure_models.system_rules import (
    check_layers,
    check_substrate,
    is_vapour_retarder,
    needed_rates,
)


def own_layer(name, coating, mils, over, more=""):
    return (
        f'[[layer]]\nname = "{name}"\ncoating = "{coating}"\nover = ["{over}"]\n'
        f'dry_film = {{ value = {mils}, unit = "mil", source = "own choice" }}\n{more}\n'
    )


def system_of(folder, *layers):
    path = folder / "own.toml"
    path.write_text('schema = 1\nname = "own"\ntitle = "Own"\n' + "".join(layers))
    return load_system(str(path))


def coating_file(folder, name, text):
    (folder / f"{name}.toml").write_text(text)
    return f"{name}.toml"


def rules(found):
    return {(each.rule, each.layer, each.refuses) for each in found}


def told(found, rule):
    (finding,) = (each for each in found if each.rule == rule)
    return finding


BASE = own_layer("base", "acrylic", 13, "single_ply")
SILICONE = own_layer("silicone", "silicone_high_solids", 22, "single_ply")


# What bonds to what


@pytest.mark.parametrize("over", ["acrylic", "silicone"])
def test_acrylic_over_silicone_is_refused_whatever_the_file_says(tmp_path, over):
    system = system_of(tmp_path, SILICONE, own_layer("top", "acrylic", 12, over))
    finding = told(check_layers(system), "bond")
    assert finding.refuses
    assert finding.layer == 2
    assert "'top' (acrylic) is laid over 'silicone' (silicone)" in finding.reason
    assert "only silicone bonds to silicone" in finding.reason
    assert finding.source == "common practice, no source"


def test_silicone_over_silicone_and_over_acrylic_are_allowed(tmp_path):
    for below in (SILICONE, BASE):
        family = "silicone" if below is SILICONE else "acrylic"
        system = system_of(
            tmp_path, below, own_layer("top", "silicone_high_solids", 22, family)
        )
        assert check_layers(system) == ()


def test_what_does_not_bond_is_told_what_would(tmp_path):
    system = system_of(
        tmp_path,
        own_layer("base", "urethane_aromatic", 16, "metal"),
        own_layer("top", "acrylic", 12, "urethane"),
    )
    finding = told(check_layers(system), "bond")
    assert finding.refuses
    assert "what bonds to it: urethane" in finding.reason


def test_wrong_order_is_refused_with_the_file_as_its_source(tmp_path):
    system = system_of(tmp_path, BASE, own_layer("top", "acrylic", 12, "silicone"))
    finding = told(check_layers(system), "order")
    assert finding.refuses
    assert finding.layer == 2
    assert "asks for silicone below it, but lies over 'base' (acrylic)" in finding.reason
    assert finding.source == f"the system's own file, {tmp_path / 'own.toml'}"


# The roof


@pytest.mark.parametrize("name", system_names())
def test_a_shipped_system_is_sound_on_the_roofs_that_it_names_and_no_other(name):
    from cure_models.profile import FAMILIES
    from cure_models.system import SUBSTRATES

    system = load_system(name)
    for kind in (*SUBSTRATES, *FAMILIES):
        found = check_substrate(system, kind)
        assert (found == ()) == (kind in system.layers[0].over), kind
        assert all(each.refuses and each.source for each in found)


def test_over_a_roof_that_it_is_not_for():
    finding = told(check_substrate(load_system("acrylic_two_coat"), "metal"), "substrate")
    assert finding.refuses
    assert finding.layer == 1
    assert "asks for single_ply or acrylic below it, but the roof is metal" in finding.reason
    assert finding.source == "the system's own file, cure_models/systems/acrylic_two_coat.toml"


def test_nothing_but_silicone_over_an_old_silicone_even_where_the_file_names_it(tmp_path):
    system = system_of(tmp_path, own_layer("base", "acrylic", 13, "silicone"))
    finding = told(check_substrate(system, "silicone"), "bond")
    assert finding.refuses
    assert "old silicone; only silicone bonds to silicone" in finding.reason
    assert check_substrate(load_system("silicone_recoat"), "silicone") == ()


# Films


@pytest.mark.parametrize(
    ("mils", "passes", "rule"),
    [
        # Acrylic takes 8 to 15 mil in a coat; its range's ends are allowed.
        (8, 1, None), (15, 1, None), (30, 2, None), (16, 2, None),
        (15.1, 1, "film_too_thick"), (30.1, 2, "film_too_thick"), (24, 1, "film_too_thick"),
        (7.9, 1, "film_thin"), (15, 2, "film_thin"),
    ],
)  # fmt: skip
def test_film_of_one_pass(tmp_path, mils, passes, rule):
    system = system_of(
        tmp_path, own_layer("base", "acrylic", mils, "metal", f"passes = {passes}")
    )
    found = check_layers(system)
    if rule is None:
        assert found == ()
        return
    finding = told(found, rule)
    assert finding.refuses == (rule == "film_too_thick")
    assert f"{mils / passes:.3g} mil dry in one pass" in finding.reason
    assert ("15 mil" if finding.refuses else "8 mil") in finding.reason
    assert finding.source == load_profile("acrylic").film["dry_per_coat"].source


def test_film_given_in_micrometres_is_the_same_film(tmp_path):
    layer = BASE.replace("value = 13", "value = 381").replace('"mil"', '"um"')  # 15 mil
    assert check_layers(system_of(tmp_path, layer)) == ()


# What must not stay bare


@pytest.mark.parametrize(
    ("coating", "mils"),
    [("urethane_aromatic", 16), ("urethane_aromatic_two_part", 20), ("spf", 1500)],
)
def test_last_layer_that_the_sun_spoils_is_refused(tmp_path, coating, mils):
    system = system_of(tmp_path, own_layer("last", coating, mils, "metal"))
    finding = told(check_layers(system), "uv_last")
    assert finding.refuses
    assert finding.layer == 1
    assert "a layer that is not UV-stable must be covered" in finding.reason
    assert finding.source == load_profile(coating).deadlines["cover_by"].source


def test_last_layer_without_a_deadline_still_has_a_source(tmp_path):
    own = coating_file(tmp_path, "mine", 'based_on = "acrylic"\nuv_stable = false\n')
    finding = told(
        check_layers(system_of(tmp_path, own_layer("last", own, 12, "metal"))), "uv_last"
    )
    assert finding.source == "common practice, no source"


def test_covered_it_is_allowed(tmp_path):
    system = system_of(
        tmp_path,
        own_layer("base", "urethane_aromatic", 16, "metal"),
        own_layer("top", "urethane_aliphatic", 10, "urethane"),
    )
    assert not any(each.refuses for each in check_layers(system))


def test_every_fault_is_found_at_once(tmp_path):
    system = system_of(
        tmp_path, SILICONE,
        own_layer("middle", "acrylic", 40, "acrylic"),
        own_layer("last", "urethane_aromatic", 5, "epoxy"),
    )  # fmt: skip
    assert {
        ("bond", 2, True), ("film_too_thick", 2, True), ("bond", 3, True), ("film_thin", 3, False),
        ("uv_last", 3, True),
    } == rules(check_layers(system))  # fmt: skip


# Moisture held in


@pytest.mark.parametrize(
    ("coating", "retards"),
    [
        ("sebs", True), ("butyl", True), ("spray_rubber", True),
        ("acrylic", False), ("acrylic_fast_set", False), ("silicone_high_solids", False),
        ("silicone_solvent", False),
    ],
)  # fmt: skip
def test_films_that_hold_moisture_in(coating, retards):
    assert is_vapour_retarder(load_profile(coating)) is retards


def test_vapour_retarder_is_a_warning_that_names_its_permeance(tmp_path):
    finding = told(check_layers(load_system("sebs_two_coat"))[:1], "vapour_retarder")
    assert not finding.refuses
    assert "holds moisture in (0.02 perm)" in finding.reason
    assert finding.source == load_profile("sebs").film["permeance"].source


@pytest.mark.parametrize(
    ("permeance", "retards"),
    [
        ('{ value = 1, unit = "perm", source = "data sheet: x" }', True),  # at most one perm
        ('{ value = 1.01, unit = "perm", source = "data sheet: x" }', False),
        # Across products: one of them may be a retarder, so it is treated as one.
        ('{ value = 3, lo = 0.5, hi = 5, unit = "perm", source = "data sheet: x" }', True),
        ('{ value = 57, unit = "ng/sm2Pa", source = "data sheet: x" }', True),  # 57 / 57.2 perm
        ('{ value = 58, unit = "ng/sm2Pa", source = "data sheet: x" }', False),
    ],
)
def test_a_retarder_has_one_perm_at_most(tmp_path, permeance, retards):
    text = f'based_on = "acrylic"\n[film]\npermeance = {permeance}\n'
    own = tmp_path / coating_file(tmp_path, "mine", text)
    assert is_vapour_retarder(load_profile(str(own))) is retards


# The mean rate that a deadline needs


@pytest.mark.parametrize(
    ("name", "layer", "generic", "least", "most"),
    [
        # Opening over deadline; least: shortest over longest, most: longest over shortest.
        ("urethane_moisture_aliphatic", 2, 16 / 48, 10 / 72, 24 / 24),
        ("polyurea_aliphatic", 2, None, None, None),
        ("acrylic_two_coat", 1, 12 / 336 * 13 / 12, 4 / 720 * 13 / 12, 24 / 72 * 13 / 12),
        ("spf_silicone", 1, 2 / 10, None, None),
        ("emulsion_one_ply_acrylic", 1, 336 / 1440, 336 / 4320, 720 / 720),
    ],
)
def test_needed_rate_by_hand(name, layer, generic, least, most):
    needed = next(rate for rate in needed_rates(load_system(name)) if rate.layer == layer)
    if generic is not None:
        assert needed.generic == pytest.approx(generic)
    if least is not None:
        assert needed.least == pytest.approx(least)
        assert needed.most == pytest.approx(most)
    assert needed.least <= needed.generic <= needed.most
    assert needed.generic == pytest.approx(needed.opens_h / needed.deadline_h)


def moisture_base(folder, mils, more=""):
    return system_of(
        folder,
        own_layer("base", "urethane_aromatic", mils, "metal", more),
        own_layer("top", "urethane_aliphatic", 10, "urethane"),
    )


@pytest.mark.parametrize(
    ("mils", "rate"),
    [
        (16, 16 / 48),
        (24, 16 * (24 / 16) ** 2 / 48),  # diffusion: by the square of the film; 36 / 48
        (12, 16 / 48),  # a thinner film earns no credit
    ],
)
def test_thicker_film_needs_a_higher_rate(tmp_path, mils, rate):
    (needed,) = needed_rates(moisture_base(tmp_path, mils))
    assert needed.generic == pytest.approx(rate)


def test_the_earlier_deadline_counts(tmp_path):
    more = 'next = { cover_by = { value = 20, lo = 18, hi = 60, unit = "h", source = "trade: x" } }'
    (needed,) = needed_rates(moisture_base(tmp_path, 16, more))
    assert needed.deadline_h == 20
    assert needed.generic == pytest.approx(16 / 20)
    assert needed.least == pytest.approx(10 / 60)  # closes 24 to 72 h, cover by 18 to 60 h
    assert needed.most == pytest.approx(24 / 18)


def test_an_opening_given_for_the_own_film_is_not_slowed_twice(tmp_path):
    more = 'next = { opens = { value = 20, unit = "h", source = "data sheet: x" } }'
    (needed,) = needed_rates(moisture_base(tmp_path, 24, more))
    assert needed.opens_h == pytest.approx(20)
    assert needed.generic == pytest.approx(20 / 48)


def test_no_needed_rate_without_a_deadline_or_for_the_last_layer(tmp_path):
    (needed,) = needed_rates(load_system("acrylic_two_coat"))
    assert needed.layer == 1
    assert needed_rates(system_of(tmp_path, own_layer("only", "acrylic", 12, "metal"))) == ()

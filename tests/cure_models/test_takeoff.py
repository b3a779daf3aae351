"""Material of a system against figures worked by hand.

A gallon is 231 in3 and 100 ft2 are 14400 in2, so a gallon on 100 ft2 is 231 / 14400 in = 16.0417
mil wet, and a mil on 1604.17 ft2 takes a gallon.
"""

from pathlib import Path

import pytest

from cure_models.quantities import coverage
from cure_models.system import load_system
from cure_models.takeoff import take_off
from cure_models.units import from_si, to_si

SQUARE = to_si(100.0, "ft2", "area")
PAIL = to_si(5.0, "gal", "volume")
HALF_GALLON = 0.005
"""Half of the last digit of the gallons worked by hand."""


def own_system(folder, mils, solids, *, passes=1, fabric="", area_share=1.0):
    """Return a system of one acrylic with these solids. [mil, %]"""
    Path(folder / "mine.toml").write_text(
        'based_on = "acrylic"\n[film]\n'
        f'volume_solids = {{ value = {solids}, unit = "%", source = "data sheet: x" }}\n'
    )
    path = folder / "system.toml"
    path.write_text(
        'schema = 1\nname = "own"\ntitle = "Own"\n[[layer]]\nname = "base"\n'
        f'coating = "mine.toml"\nover = ["metal"]\npasses = {passes}\nfabric = "{fabric}"\n'
        f"area_share = {area_share}\n"
        f'dry_film = {{ value = {mils}, unit = "mil", source = "data sheet: x" }}\n'
    )
    return load_system(str(path))


def one(system, area_m2=SQUARE, **more):
    return take_off(system, area_m2, **({"container_l": PAIL} | more))[0]


def gallons(taken):
    return from_si(taken.volume_l, "gal")


@pytest.mark.parametrize(
    ("mils", "solids", "loss", "gal"),
    [
        (20, 50, 0.0, 2.49),  # 20 / 0.50 = 40 mil wet; 40 / 16.0417 = 2.493
        (24, 55, 0.10, 3.02),  # 24 / 0.55 = 43.64 wet; / 16.0417 = 2.720; / 0.9 = 3.022
        (30, 60, 0.10, 3.46),  # 30 / 0.60 = 50 wet; / 16.0417 = 3.117; / 0.9 = 3.463
        (60, 60, 0.05, 6.56),  # 60 / 0.60 = 100 wet; / 16.0417 = 6.234; / 0.95 = 6.562
        (16.0417, 100, 0.0, 1.00),  # all solids: as much wet as dry
    ],
)
def test_gallons_on_a_hundred_square_feet(tmp_path, mils, solids, loss, gal):
    taken = one(own_system(tmp_path, mils, solids), loss=loss)
    assert gallons(taken) == pytest.approx(gal, abs=HALF_GALLON)
    assert from_si(taken.wet_um, "mil") == pytest.approx(mils / (solids / 100))
    assert from_si(taken.dry_um, "mil") == pytest.approx(mils)
    # The spread rate knows no loss.
    assert from_si(taken.spread_l_m2, "gal/100ft2") == pytest.approx(gallons(taken) * (1 - loss))


def test_a_gallon_is_1604_square_feet_at_a_mil(tmp_path):
    area = to_si(231 / 144 * 1000, "ft2", "area")  # 231 in3 at 0.001 in is 231000 in2
    taken = one(own_system(tmp_path, 1, 100), area)
    assert from_si(area, "ft2") == pytest.approx(1604.17, abs=0.005)
    assert gallons(taken) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("loss", "more"), [(0.0, 1.0), (0.20, 1.25), (0.10, 1 / 0.9), (0.5, 2.0), (0.75, 4.0)]
)
def test_twenty_percent_lost_need_a_quarter_more(tmp_path, loss, more):
    system = own_system(tmp_path, 20, 50)
    plain, taken = one(system), one(system, loss=loss)
    assert taken.volume_l / plain.volume_l == pytest.approx(more)
    assert (taken.wet_um, taken.spread_l_m2) == (plain.wet_um, plain.spread_l_m2)


def test_texture_takes_more_and_leaves_the_film(tmp_path):
    system = own_system(tmp_path, 20, 50, passes=2, fabric="polyester")
    plain, rough = one(system), one(system, texture=1.3)
    assert rough.volume_l == pytest.approx(1.3 * plain.volume_l)
    assert rough.fabric_m2 == pytest.approx(1.3 * plain.fabric_m2)
    assert (rough.wet_um, rough.area_m2) == (plain.wet_um, plain.area_m2)


@pytest.mark.parametrize(
    ("fill", "containers"),
    [(0.01, 1), (0.99, 1), (1.0, 1), (1.01, 2), (2.0, 2), (3.0, 3), (7.0, 7), (2.5, 3)],
)
def test_containers_are_whole_ones(tmp_path, fill, containers):
    # 50 % solids and 20 mil are 1.016 L/m2: so much area fills so many pails of 10 L.
    system = own_system(tmp_path, 20, 50)
    area = fill * 10 / 1.016
    assert one(system, area, container_l=10.0).containers == containers


@pytest.mark.parametrize("count", range(1, 40))
def test_an_exact_multiple_is_not_one_more(tmp_path, count):
    # 24 mil at 55 % with 10 % loss: no round number in any unit, so that rounding shows.
    system = own_system(tmp_path, 24, 55)
    area = count * PAIL / coverage(to_si(24.0, "mil", "film"), 0.55, 0.10)
    assert one(system, area, loss=0.10).containers == count


def test_passes_share_the_film(tmp_path):
    # 40 dry mil in two passes at 50 %: each pass is 40 wet, both together 80 = 4.99 gal.
    taken = one(own_system(tmp_path, 40, 50, passes=2))
    assert taken.passes == 2
    assert from_si(taken.wet_um, "mil") == pytest.approx(40)
    assert from_si(taken.dry_um, "mil") == pytest.approx(20)
    assert gallons(taken) == pytest.approx(4.99, abs=HALF_GALLON)


def test_strips_take_their_share(tmp_path):
    whole = one(own_system(tmp_path, 20, 50))
    strips = one(own_system(tmp_path, 20, 50, area_share=0.2))
    assert strips.area_m2 == pytest.approx(0.2 * SQUARE)
    assert strips.volume_l == pytest.approx(0.2 * whole.volume_l)
    assert strips.wet_um == whole.wet_um


@pytest.mark.parametrize(("laps", "feet2"), [(0.0, 100), (0.10, 110), (0.25, 125)])
def test_fabric_with_its_laps(tmp_path, laps, feet2):
    taken = one(own_system(tmp_path, 20, 50, passes=2, fabric="polyester"), fabric_laps=laps)
    assert from_si(taken.fabric_m2, "ft2") == pytest.approx(feet2)


def test_no_fabric_where_the_layer_has_none(tmp_path):
    assert one(own_system(tmp_path, 20, 50), fabric_laps=0.5).fabric_m2 == 0


def test_fabric_of_a_shipped_system():
    layers = take_off(
        load_system("acrylic_reinforced"), SQUARE, fabric_laps=0.10, container_l=PAIL
    )
    with_fabric = [from_si(each.fabric_m2, "ft2") for each in layers if each.fabric_m2]
    assert with_fabric == [pytest.approx(110)]


@pytest.mark.parametrize(
    ("inches", "loss", "texture", "board_feet"),
    # A board foot is a square foot an inch thick: an inch on 100 ft2 is 100 of them.
    [(1.0, 0.0, 1.0, 100), (1.5, 0.0, 1.0, 150), (1.0, 0.2, 1.0, 125), (2.0, 0.0, 1.1, 220)],
)
def test_foam_in_board_feet(tmp_path, inches, loss, texture, board_feet):
    path = tmp_path / "foam.toml"
    path.write_text(
        'schema = 1\nname = "own"\ntitle = "Own"\n[[layer]]\nname = "foam"\ncoating = "spf"\n'
        'over = ["metal"]\n'
        f'dry_film = {{ value = {inches * 1000}, unit = "mil", source = "own choice" }}\n'
    )
    taken = one(load_system(str(path)), loss=loss, texture=texture)
    assert from_si(taken.foam_m3, "board_ft") == pytest.approx(board_feet)
    assert (taken.wet_um, taken.spread_l_m2, taken.volume_l, taken.containers) == (None,) * 4
    assert from_si(taken.dry_um, "mil") == pytest.approx(inches * 1000)


def test_layers_are_numbered_in_their_order():
    system = load_system("spf_silicone")
    layers = take_off(system, SQUARE, container_l=PAIL)
    assert [each.layer for each in layers] == [1, 2, 3]
    assert [each.foam_m3 is None for each in layers] == [False, True, True]


def test_material_of_sections_adds_up_to_that_of_the_roof():
    system = load_system("acrylic_reinforced")
    parts = [
        take_off(system, area, loss=0.1, texture=1.2, container_l=PAIL) for area in (30.0, 70.0)
    ]
    whole = take_off(system, 100.0, loss=0.1, texture=1.2, container_l=PAIL)
    for n, layer in enumerate(whole):
        assert sum(part[n].volume_l for part in parts) == pytest.approx(layer.volume_l)
        # Opened pails of one section serve the next.
        assert sum(part[n].containers for part in parts) >= layer.containers


@pytest.mark.parametrize("name", ["acrylic_two_coat", "spf_acrylic"])
@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"area_m2": 0.0}, "area of 0 m2"),
        ({"area_m2": -5.0}, "area of -5 m2"),
        ({"area_m2": float("nan")}, "area of nan m2"),
        ({"texture": 0.99}, "texture of 0.99"),
        ({"texture": float("nan")}, "texture of nan"),
        ({"container_l": 0.0}, "container of 0 L"),
        ({"container_l": -1.0}, "container of -1 L"),
        ({"loss": -0.1}, "loss of -0.1"),
        ({"loss": 1.0}, "loss of 1"),
        ({"loss": 1.5}, "loss of 1.5"),
        ({"loss": float("nan")}, "loss of nan"),
        ({"fabric_laps": -0.1}, "fabric laps of -0.1"),
    ],
)
def test_impossible_numbers_are_refused(name, given, told):
    with pytest.raises(ValueError, match=told):
        take_off(load_system(name), **({"area_m2": SQUARE, "container_l": PAIL} | given))

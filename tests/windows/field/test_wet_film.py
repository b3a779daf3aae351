"""Wet film and volume, by hand: 1 US gal is 231 in3, 100 ft2 are 14,400 in2, a mil 0.001 in."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cure_models.quantities import wet_from_dry
from cure_models.system import load_system, system_names
from cure_models.units import from_si, to_si
from windows.field.rules import field_rules
from windows.field.wet_film import (
    check_volume,
    check_wet_film,
    film_of,
    most_film,
    needed_readings,
    next_tooth,
    volume_flags,
    wet_film_flags,
)
from windows.job_file import Material
from windows.log.entries import Placement, WetFilm

MIL = 25.4
SYSTEM = """\
schema = 1
name = "own"
title = "Own"
[[layer]]
name = "{name}"
coating = "{coating}"
over = ["acrylic"]
passes = {passes}
dry_film = {{ value = {mil}, unit = "mil", {ends}source = "own choice" }}
"""
"""One layer; of acrylic, 55 % solids by volume, spread at 1.75 gal/100 ft2 at most."""


def mils(*film):
    return [each * MIL for each in film]


def system(folder, mil=13.2, *, passes=1, coating="acrylic", ends="", name="top"):
    path = folder / "own.toml"
    path.write_text(
        SYSTEM.format(name=name, coating=coating, passes=passes, mil=mil, ends=ends)
    )
    return load_system(str(path))


def placed(film_um=(), area="1,000 ft2", volume=None):
    number, unit = area.replace(",", "").split()
    return Placement(
        at=datetime(2026, 6, 8, 13, tzinfo=UTC), end=datetime(2026, 6, 8, 17, tzinfo=UTC),
        section="north", layer="top", area_m2=to_si(float(number), unit),
        volume_l=None if volume is None else to_si(volume, "gal"),
        wet_film=tuple(WetFilm(film_um=each) for each in film_um),
    )  # fmt: skip


def checked(folder, *film_mil, area="1,000 ft2", **more):
    return check_wet_film(
        placed(mils(*film_mil), area=area), system=system(folder, **more), layer=0
    )


# The arithmetic of the trade.


def test_a_gallon_is_1604_square_feet_of_a_mil(outside):
    # 231 in3 / 0.001 in = 231,000 in2 = 231,000 / 144 ft2 = 1604.17 ft2
    area = to_si(231_000 / 144, "ft2")
    outside.agree(
        "wet film of a gallon on 1,604 ft2", film_of(to_si(1, "gal"), area) / MIL, 1,
        within=1e-12, unit="mil", source="exact definitions, by hand", why="rounding",
    )  # fmt: skip


def test_one_and_a_half_gallons_a_square_are_24_mils(outside):
    # 1.5 x 231 / 14,400 in = 0.0240625 in
    film = film_of(to_si(1.5, "gal"), to_si(100, "ft2"))
    outside.agree(
        "wet film of 1.5 gal/100 ft2", film / MIL, 24.0625, within=1e-10, unit="%",
        source="exact definitions, by hand", why="rounding",
    )  # fmt: skip


def test_twenty_dry_mils_at_52_percent(outside):
    # 20 / 0.52 = 38.46 wet mil; / 16.0417 = 2.398 gal/100 ft2; 100 / 2.398 = 41.7 ft2/gal
    wet = wet_from_dry(20 * MIL, 0.52)
    a_square = from_si(wet / 1000, "gal/100ft2")
    for name, found, wanted, within, unit in (
        ("wet film", wet / MIL, 38.5, 0.05, "mil"),
        ("volume", a_square, 2.40, 0.005, "gal/100 ft2"),
        ("coverage", 100 / a_square, 41.7, 0.05, "ft2/gal"),
    ):
        outside.agree(
            f"20 dry mil at 52 % solids: {name}", found, wanted, within=within, unit=unit,
            source="by hand", why="rounding",
        )  # fmt: skip
    assert film_of(to_si(a_square, "gal"), to_si(100, "ft2")) == pytest.approx(wet, rel=1e-12)


# The notch gauge: ASTM D4414, steps of 0.5 mil below 6, 1 to 10, 2 to 30, 5 above.


@pytest.mark.parametrize(
    ("tooth", "then"),
    [(0.5, 1), (5.5, 6), (6, 7), (9, 10), (10, 12), (28, 30), (30, 35), (60, 65)],
)
def test_the_next_tooth(tooth, then, outside):
    outside.agree(
        "next step of a notch gauge", next_tooth(tooth * MIL) / MIL, then, within=1e-10, unit="%",
        source="ASTM D4414, seen in an excerpt", why="rounding",
    )  # fmt: skip


def test_a_reading_between_teeth_is_of_another_gauge_whose_next_tooth_is_no_nearer():
    assert next_tooth(11 * MIL) / MIL == pytest.approx(13)


def test_one_reading_for_each_square_begun():
    square = to_si(100, "ft2")
    counts = {0.01: 1, 1: 1, 1.01: 2, 10: 10, 10.5: 11, 123: 123}
    assert {squares: needed_readings(squares * square) for squares in counts} == counts
    for n in range(1, 2000):  # no reading more for the rounding of ft2
        assert needed_readings(to_si(100.0 * n, "ft2")) == n


def test_readings_below_meeting_and_undecided(tmp_path):
    # target 13.2 / 0.55 = 24 mil: 20 is below 22, so below; 22 is below 24, so below; 24 meets;
    # 23 (another gauge) is below 25: cannot tell.
    found = checked(tmp_path, 20, 22, 23, 24, 28)
    assert (found.below, found.cannot_tell, found.meets, found.over) == (2, 1, 2, 0)
    assert (found.needed, found.taken) == (10, 5)
    assert found.target_um == pytest.approx(24 * MIL)
    assert found.lowest_um == pytest.approx(20 * MIL)


def test_between_two_teeth_the_gauge_cannot_tell(tmp_path):
    # 13 / 0.55 = 23.6 mil: after 22 comes 24
    found = checked(tmp_path, 20, 22, 24, mil=13)
    assert (found.below, found.cannot_tell, found.meets) == (1, 1, 1)


def test_readings_are_never_averaged(tmp_path):
    found = checked(tmp_path, *([60] * 9), 10)
    assert found.below == 1
    assert "1 of 10 readings below the target of 24.0 mil (610 um)" in wet_film_flags(found)[0]


def test_the_most_is_that_of_the_coating_or_of_the_layer(tmp_path):
    # 1.75 gal/100 ft2 = 28.07 mil
    assert checked(tmp_path, 28).over == 0
    assert checked(tmp_path, 30).over == 1
    # the layer's own range to 22 mil dry = 40 mil wet
    own = system(tmp_path, ends="lo = 13, hi = 22, ")
    assert most_film(own, 0) / MIL == pytest.approx(40)
    # two passes: 2 x 28.07 may lie there when the gauge is set
    assert checked(tmp_path, 50, mil=26.4, passes=2).over == 0
    assert checked(tmp_path, 60, mil=26.4, passes=2).over == 1
    # a layer that asks for more than its coating is spread at has no most
    assert most_film(system(tmp_path, 30), 0) is None


def test_the_target_is_that_of_one_pass(tmp_path):
    # 26.4 / 2 / 0.55 = 24 mil
    assert checked(tmp_path, 24, mil=26.4, passes=2).target_um == pytest.approx(24 * MIL)


def test_foam_has_no_wet_film(tmp_path):
    foam = system(tmp_path, 1500, coating="spf")
    assert check_wet_film(placed(mils(20)), system=foam, layer=0) is None
    assert check_volume(placed(volume=5), system=foam, layer=0, material=Material()) is None
    assert most_film(foam, 0) is None


# Volume: 1,000 ft2 of 24 mil are 1,000 x 24 / 1604.17 = 14.961 gal in the film.


def volume(folder, gallons, *, loss=0.1, texture=1.0, **more):
    return check_volume(
        placed(volume=gallons),
        system=system(folder, **more),
        layer=0,
        material=Material(loss=loss, texture=texture),
    )


def test_the_volume_that_an_area_needs(tmp_path):
    found = volume(tmp_path, 16.623)
    assert from_si(found.needed_l, "gal") == pytest.approx(14.961 / 0.9, abs=2e-3)  # 16.623
    assert found.ratio == pytest.approx(1, abs=1e-4)
    assert found.film_um / MIL == pytest.approx(24, abs=2e-3)
    assert found.needed_um / MIL == pytest.approx(24)
    assert volume_flags(found) == ()
    rough = volume(tmp_path, 16.623, texture=1.25)
    assert from_si(rough.needed_l, "gal") == pytest.approx(14.961 / 0.9 * 1.25, abs=2e-3)
    assert rough.film_um / MIL == pytest.approx(24 / 1.25, abs=2e-3)


def test_two_passes_need_twice_the_volume(tmp_path):
    found = volume(tmp_path, 30, loss=0, mil=26.4, passes=2)
    assert from_si(found.needed_l, "gal") == pytest.approx(2 * 14.961, abs=2e-3)
    assert found.needed_um / MIL == pytest.approx(48)


@pytest.mark.parametrize(
    ("share", "flagged"),
    [(0.89, True), (0.9, False), (0.95, False), (1.0, False), (1.1, False), (1.11, True)],
)
def test_a_tenth_is_the_tolerance(tmp_path, share, flagged):
    needed = 1000 * 24 / (231_000 / 144)
    assert bool(volume_flags(volume(tmp_path, share * needed, loss=0))) is flagged


def test_strips_need_their_share():
    # 15 % of 1,000 ft2 in two passes: 26 / 0.55 = 47.27 mil on 150 ft2 = 4.420 gal
    metal = load_system("acrylic_metal")
    assert metal.layers[1].area_share == 0.15
    assert check_wet_film(placed(), system=metal, layer=1).needed == 2
    found = check_volume(
        placed(volume=4.42), system=metal, layer=1, material=Material(loss=0)
    )
    assert found.ratio == pytest.approx(1, abs=1e-3)
    assert found.film_um / MIL == pytest.approx(26 / 0.55, abs=0.05)
    assert from_si(found.area_m2, "ft2") == pytest.approx(150)


# What is said.


def test_every_sentence(tmp_path):
    assert wet_film_flags(checked(tmp_path)) == (
        "Wet film: 0 readings for this area, which asks for 10, one for each 100 ft2 (9.3 m2).",
    )
    assert wet_film_flags(checked(tmp_path, 24, area="100 ft2")) == ()
    assert wet_film_flags(checked(tmp_path, 20, 22, 24, 30, mil=13, area="400 ft2")) == (
        "Wet film: 1 of 4 readings below the target of 23.6 mil (600 um), the lowest 20.0 mil "
        "(508 um).",
        "Wet film: 1 of 4 readings cannot tell whether the target of 23.6 mil (600 um) is met: it "
        "lies between the last wet tooth and the next.",
        "Wet film: 1 of 4 readings above 28.1 mil (713 um), the most that is laid of this coating.",
    )
    assert volume_flags(volume(tmp_path, None)) == (
        "Volume: not recorded, so it could not be checked against the area.",
    )
    assert volume_flags(volume(tmp_path, 12)) == (
        "Volume: 12.0 gal (45.4 L) on 1,000 ft2 (92.9 m2) is 28 % less than the 16.6 gal (62.9 L) "
        "needed with the job's loss and texture; it makes a wet film of 17.3 mil (440 um) in place "
        "of 24.0 mil (610 um).",
    )
    assert "20 % more than" in volume_flags(volume(tmp_path, 20))[0]


# Laws.

TEETH = [*np.arange(0.5, 6, 0.5), *range(6, 10), *range(10, 30, 2), *range(30, 100, 5)]


@given(st.lists(st.sampled_from(TEETH), max_size=30), st.sampled_from([4.0, 13.0, 13.2, 14.3]))
def test_against_the_film_that_lies_there(tmp_path_factory, films, mil):
    """Whatever film lies between the teeth: one below the target is never told as meeting it."""
    found = checked(tmp_path_factory.mktemp("own"), *films, mil=mil)
    target = mil / 0.55
    thinnest = [each for each in films if each >= target - 1e-9]
    thickest = [each for each in films if next_tooth(each * MIL) / MIL <= target + 1e-9]
    assert (found.meets, found.below) == (len(thinnest), len(thickest))
    assert found.meets + found.below + found.cannot_tell == found.taken == len(films)


@given(st.lists(st.sampled_from(TEETH), max_size=12), st.sampled_from(TEETH))
def test_one_more_reading_takes_no_fault_away(tmp_path_factory, films, another):
    folder = tmp_path_factory.mktemp("own")
    one, more = checked(folder, *films), checked(folder, *films, another)
    assert more.below >= one.below
    assert more.cannot_tell >= one.cannot_tell
    assert more.over >= one.over


def test_every_shipped_layer_has_a_target_or_is_foam():
    for name in system_names():
        shipped = load_system(name)
        for layer, profile in enumerate(shipped.profiles):
            found = check_wet_film(placed(), system=shipped, layer=layer)
            assert (found is None) == (profile.law == "foam")
            if found is not None:
                assert found.most_um is None or found.most_um > found.target_um


def test_every_number_has_a_source_and_the_general_spread_is_that_of_the_handbook():
    rules = field_rules()
    assert all(entry.source for entry in rules.sources.values())
    assert rules.spread_least_k == pytest.approx(5 / 1.8)
    assert (rules.every_h, rules.stop_h, rules.before_start_h, rules.around_h) == (4, 1, 1, 0.5)

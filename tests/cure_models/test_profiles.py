"""What every shipped profile must keep, and the facts on which the trade agrees.

Facts marked "common practice, no source" are check values that roofers agree on and no document
that we could read states; they keep a profile from drifting away from the trade.
"""

from pathlib import Path

import pytest

from cure_models.coating import resolve
from cure_models.limits import GATE_RULES, MILESTONES
from cure_models.profile_files import coating_names, load_profile
from cure_models.sourced import BASES, Sourced
from cure_models.units import WET_MILS_PER_GAL_PER_SQUARE, from_si, to_si

NAMES = (
    "acrylic", "acrylic_fast_set", "aluminum_asphalt", "asphalt_emulsion", "butyl", "pmma",
    "polyurea", "primer_acrylic", "primer_asphalt", "primer_epoxy", "primer_epoxy_water", "sebs",
    "silicone_high_solids", "silicone_solvent", "spf", "spray_rubber", "urethane_aliphatic",
    "urethane_aromatic", "urethane_aromatic_two_part",
)  # fmt: skip
PROFILES = {name: load_profile(name) for name in coating_names()}
TABLES = (
    "reference", "rate", "film", "gates", "clock_holds", "milestones", "milestone_clock_min",
    "deadlines", "cautions",
)  # fmt: skip

every_profile = pytest.mark.parametrize("profile", PROFILES.values(), ids=PROFILES.keys())


def entries(profile):
    yield "min_window", profile.min_window
    for table in TABLES:
        for key, entry in dict(getattr(profile, table)).items():
            if entry is None:
                continue
            yield f"{table}.{key}", entry


def mil(entry):
    return from_si(entry.si, "mil")


def test_all_are_shipped():
    assert coating_names() == sorted(NAMES)


@every_profile
def test_named_after_its_file_and_generic(profile):
    assert PROFILES[profile.name] is profile
    assert profile.generic
    assert profile.based_on is None
    assert profile.title


@every_profile
def test_every_number_is_sourced_and_in_its_range(profile):
    for key, entry in entries(profile):
        assert isinstance(entry, Sourced), key
        assert entry.basis in BASES, key
        assert entry.low <= entry.value <= entry.high, key
        assert entry.basis != "data sheet", f"{key}: a generic value is from no data sheet"


@every_profile
def test_material_standards_are_not_cited_for_application(profile):
    # Both say in their scope that they give no guidance for application.
    for key, entry in entries(profile):
        for standard in ("D6083", "D6694"):
            assert standard not in entry.source + entry.note, key


@every_profile
def test_careful_is_never_looser_than_generic(profile):
    for method in ("spray", "roller"):
        generic = resolve(profile, method=method)
        careful = resolve(profile, method=method, limits="careful")
        for ours, strict in zip(
            generic.gates + generic.cautions, careful.gates + careful.cautions, strict=True
        ):
            sign = 1 if ours.rule.sense == "min" else -1
            assert ours.name == strict.name
            assert sign * strict.limit >= sign * ours.limit, ours.name
            assert ours.clock_h is None or strict.clock_h >= ours.clock_h, ours.name
        for name, hours in generic.milestones.items():
            assert careful.milestones[name] >= hours
        for name, hours in generic.deadlines_h.items():
            assert careful.deadlines_h[name] <= hours


@every_profile
def test_rate_solids_and_dry_film_agree(profile):
    film = profile.film
    if "rate_per_coat" not in film:
        assert profile.family == "foam"
        return
    gallons = from_si(film["rate_per_coat"].si, "gal/100ft2")
    dry_mil = gallons * WET_MILS_PER_GAL_PER_SQUARE * film["volume_solids"].si
    assert dry_mil == pytest.approx(mil(film["dry_per_coat"]), rel=0.12)


@every_profile
def test_coats_make_the_total(profile):
    film = profile.film
    in_all = film["coats"].si * film["dry_per_coat"].si
    assert in_all == pytest.approx(film["dry_total"].si, rel=0.01)


@every_profile
@pytest.mark.parametrize("limits", ["generic", "careful"])
def test_min_below_max(profile, limits):
    limit = {gate.name: gate.limit for gate in resolve(profile, limits=limits).gates}
    for quantity in ("air_temp", "surface_temp"):
        assert limit[f"{quantity}_min"] < limit[f"{quantity}_max"]
    assert limit["air_temp_floor"] <= limit["air_temp_min"]


@every_profile
@pytest.mark.parametrize("limits", ["generic", "careful"])
def test_milestones_in_order(profile, limits):
    reached = resolve(profile, limits=limits).milestones
    assert set(reached) == set(MILESTONES)
    assert reached["dew_safe"] <= reached["rain_safe"]
    assert max(reached["touch"], reached["recoat_opens"]) <= reached["cured"]


@every_profile
def test_recoat_opens_before_it_closes(profile):
    for deadline in profile.deadlines.values():
        assert profile.milestones["recoat_opens"].si < deadline.si


@every_profile
def test_water_based_is_kept_from_ice(profile):
    if profile.water_based:
        assert profile.clock_holds["no_freeze"].si >= 24
    if "no_freeze" in profile.gates:
        assert profile.gates["no_freeze"].value == 32


@every_profile
def test_rising_is_the_air_minimum_for_three_hours(profile):
    gates = {gate.name: gate for gate in resolve(profile).gates}
    assert ("rising" in gates) == ("rising" in profile.clock_holds)
    if "rising" in gates:
        assert gates["rising"].limit == gates["air_temp_min"].limit
        assert gates["rising"].clock_h == 3


@every_profile
def test_cures_wherever_it_may_be_laid(profile):
    rate, gates = profile.rate, profile.gates
    coldest = rate.get("film_temp_min", rate.get("temp_min"))
    assert coldest.si <= gates["surface_temp_min"].si
    if "humidity_stop" in rate:
        assert rate["humidity_stop"].si > gates["humidity_max"].si


@every_profile
def test_reference_condition(profile):
    reference = profile.reference
    assert (reference.temperature.value, reference.temperature.unit) == (75, "degF")
    assert reference.humidity.si == 0.5
    assert reference.roof_wind.si == 1.5


@every_profile
def test_the_common_gates(profile):
    # Wind is checked whichever method is asked for; every film is kept from dew and rain.
    common = {
        "air_temp_min", "air_temp_max", "surface_temp_min", "surface_temp_max", "humidity_max",
        "spread_min", "wind_max_spray", "surface_dry", "daylight", "air_temp_floor", "no_dew",
        "no_rain",
    }  # fmt: skip
    assert common <= set(profile.gates)
    assert profile.gates["spread_min"].unit == "delta_degF"
    assert profile.gates["spread_min"].value == 5
    assert profile.gates["no_rain"].si == 0.2
    assert profile.gates["no_rain"].high < to_si(0.01, "in")


@every_profile
def test_dry_air_slows_and_never_forbids(profile):
    assert "humidity_min" not in profile.gates
    assert ("humidity_low" in profile.cautions) == (profile.law == "moisture")


@every_profile
def test_screens_before_the_spray_stop(profile):
    screen = profile.cautions.get("wind_screen")
    if screen is None:
        assert profile.name == "pmma"
    else:
        assert screen.si <= profile.gates["wind_max_spray"].si


@every_profile
def test_a_film_that_the_sun_harms_has_a_deadline(profile):
    if not profile.uv_stable:
        assert profile.deadlines
    else:
        assert "cover_by" not in profile.deadlines


@every_profile
def test_no_plain_clock_minimum(profile):
    assert not profile.milestone_clock_min
    assert any("milestone_clock_min.rain_safe" in note for note in profile.notes)


@every_profile
def test_names_and_rules_are_known(profile):
    assert set(profile.gates) <= set(GATE_RULES)
    own = profile.family
    assert own in profile.may_go_over_it or "primer" in profile.roles or own in (
        "urethane", "foam"
    )  # fmt: skip


# Facts of the trade. ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # Common practice, no source.
        ("acrylic", 20, 30),
        ("acrylic_fast_set", 20, 30),
        ("silicone_high_solids", 20, 36),
        ("silicone_solvent", 20, 36),
        ("asphalt_emulsion", 40, 100),
        ("spray_rubber", 60, 80),
    ],
)
def test_typical_dry_film(name, low, high):
    assert low <= mil(PROFILES[name].film["dry_total"]) <= high


def test_emulsion():
    # Common practice, no source.
    emulsion = PROFILES["asphalt_emulsion"]
    assert emulsion.water_based
    assert not emulsion.uv_stable
    assert "cover_by" in emulsion.deadlines
    assert emulsion.clock_holds["no_freeze"].si == 48
    assert emulsion.film["absorptance"].value >= 0.9


def test_emulsion_bonds_to_damp_and_only_at_the_generic_end():
    # ASTM D1227-95(2000), 4.1: bonds to damp or dry surfaces.
    emulsion = PROFILES["asphalt_emulsion"]
    limits = {
        which: next(g.limit for g in resolve(emulsion, limits=which).gates
                    if g.name == "surface_dry")
        for which in ("generic", "careful")
    }  # fmt: skip
    assert limits == {"generic": 0.1, "careful": 0.0}
    others = [p for p in PROFILES.values() if p.name != emulsion.name]
    assert all(p.gates["surface_dry"].high == 0 for p in others)


def test_acrylic_over_emulsion_waits_two_weeks_at_the_careful_end():
    # US patent 8,124,183: two weeks or longer before a reflective acrylic.
    careful = resolve(PROFILES["asphalt_emulsion"], limits="careful")
    assert careful.milestones["recoat_opens"] == 14 * 24


@pytest.mark.parametrize("name", ["silicone_high_solids", "silicone_solvent"])
def test_silicone(name):
    # Common practice, no source.
    silicone = PROFILES[name]
    assert silicone.film["permeance"].value == pytest.approx(5)
    assert silicone.may_go_over_it == ("silicone",)
    assert silicone.slick_when_wet
    assert not silicone.water_based


def test_only_silicone_is_laid_on_silicone():
    for profile in PROFILES.values():
        if profile.family == "silicone":
            assert set(profile.may_go_over_it) == {"silicone"}


def test_synthetic_rubber():
    # Common practice, no source.
    rubber = PROFILES["spray_rubber"]
    assert rubber.film["permeance"].value == pytest.approx(0.1)
    assert rubber.film["absorptance"].value >= 0.9
    assert rubber.uv_stable
    assert rubber.deadlines["recoat_closes"].si == 336


def test_foam_is_covered_the_same_day():
    # UFGS 07570, 3.6.7 and 3.6.8.
    foam = PROFILES["spf"]
    assert foam.deadlines["cover_by"].si <= 12
    assert foam.milestones["recoat_opens"].si == 2
    assert not foam.uv_stable


@pytest.mark.parametrize(
    ("base", "mean_rate"),
    [
        ("urethane_aromatic", 0.33), ("urethane_aromatic_two_part", 0.28),
        ("spf", 0.20), ("silicone_solvent", 0.17), ("spray_rubber", 0.14),
        ("primer_epoxy", 0.11), ("acrylic", 0.04),
    ],
)  # fmt: skip
def test_needed_mean_rate(base, mean_rate):
    # Below this rate of cure no legal moment for the next coat exists; calculated.
    profile = PROFILES[base]
    latest = min(entry.si for entry in profile.deadlines.values())
    assert profile.milestones["recoat_opens"].si / latest == pytest.approx(mean_rate, abs=0.006)


def test_examples_of_the_decisions_page_load(tmp_path):
    page = Path(__file__).parents[2] / "docs" / "decisions.md"
    examples = page.read_text(encoding="utf-8").split("```toml\n")[1:]
    assert len(examples) >= 3
    for example in examples:
        path = tmp_path / "own.toml"
        path.write_text(example.split("```")[0], encoding="utf-8")
        assert load_profile(str(path)).based_on == "acrylic"

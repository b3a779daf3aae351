"""Loading and resolving of profiles: each fault is one sentence that names file, key and mend."""

import math
from importlib.resources import files

import pytest

from cure_models.coating import resolve
from cure_models.errors import DewgapError, ProfileError
from cure_models.profile import LAW_PARAMETERS, Profile
from cure_models.profile_files import coating_names, load_profile

SHEET = 'source = "data sheet: page 2"'
BASE = 'based_on = "acrylic"\n'


def entry(value, unit, more=""):
    return f'{{ value = {value}, unit = "{unit}", {more}{SHEET} }}'


def gate(name, text):
    return f"{BASE}[gates]\n{name} = {text}\n"


def film(name, text):
    return f"{BASE}[film]\n{name} = {text}\n"


@pytest.fixture
def own(tmp_path, monkeypatch):
    """Write ``my.toml``, or another file, and return its name."""
    monkeypatch.chdir(tmp_path)

    def write(content, name="my.toml"):
        data = content if isinstance(content, bytes) else content.encode()
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(data)
        return name

    return write


def fault_of(name):
    with pytest.raises(ProfileError) as caught:
        load_profile(name)
    message = str(caught.value)
    assert "\n" not in message
    assert isinstance(caught.value, DewgapError)
    return message


# Your own file over a shipped profile. -----------------------------------------------------------


def test_own_file_overrides_one_limit_and_drops_its_range(own):
    profile = load_profile(own(gate("air_temp_min", entry(45, "degF"))))
    shipped = load_profile("acrylic")
    air = profile.gates["air_temp_min"]
    assert (air.low, air.value, air.high) == (45, 45, 45)
    assert air.basis == "data sheet"
    assert profile.name == "my"
    assert profile.based_on == "acrylic"
    assert not profile.generic
    unchanged = {k: v for k, v in profile.gates.items() if k != "air_temp_min"}
    assert unchanged == {k: v for k, v in shipped.gates.items() if k != "air_temp_min"}
    for table in ("rate", "film", "milestones", "deadlines", "cautions", "clock_holds"):
        assert getattr(profile, table) == getattr(shipped, table)


def test_own_limit_is_the_same_at_both_ends(own):
    profile = load_profile(own(gate("air_temp_min", entry(45, "degF"))))
    for limits in ("generic", "careful"):
        limit = {g.name: g.limit for g in resolve(profile, limits=limits).gates}
        assert limit["air_temp_min"] == pytest.approx(7.222, abs=1e-3)


def test_own_spread_in_kelvin(own):
    profile = load_profile(own(gate("spread_min", entry(3, "K"))))
    assert profile.gates["spread_min"].si == 3


def test_own_clock_minimum(own):
    text = f"{BASE}[milestone_clock_min]\nrain_safe = {entry(24, 'h')}\n"
    assert resolve(load_profile(own(text))).milestone_clock_min_h == {"rain_safe": 24}


def test_own_minimum_window_and_name(own):
    profile = load_profile(own(f'name = "ours"\n{BASE}min_window = {entry(90, "min")}\n'))
    assert profile.name == "ours"
    assert resolve(profile).min_window_h == 2


def test_a_chain_of_own_files(own):
    own(gate("air_temp_min", entry(45, "degF")), "maker.toml")
    top = f'based_on = "maker.toml"\n[gates]\nhumidity_max = {entry(80, "%")}\n'
    profile = load_profile(own(top, "job.toml"))
    assert profile.gates["air_temp_min"].value == 45
    assert profile.gates["humidity_max"].si == 0.8
    assert profile.gates["spread_min"] == load_profile("acrylic").gates["spread_min"]
    assert profile.name == "job"


def test_based_on_is_beside_the_file_that_names_it(own):
    own(gate("air_temp_min", entry(45, "degF")), "sheets/maker.toml")
    own('based_on = "maker.toml"\n', "sheets/job.toml")
    assert load_profile("sheets/job.toml").gates["air_temp_min"].value == 45


def test_another_law_leaves_the_parameters_of_the_old_one(own):
    text = (
        f'{BASE}law = "reaction"\n[rate]\ntemp_min = {entry(5, "degC")}\n'
        f"activation_energy = {entry(50, 'kJ/mol')}\n"
    )
    profile = load_profile(own(text))
    assert set(profile.rate) == LAW_PARAMETERS["reaction"]
    # Not even the energy of the same name: it was that of another mechanism.
    message = fault_of(own(f'{BASE}law = "reaction"\n'))
    assert message == "my.toml: key rate.activation_energy is missing; add it"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f'law = "evaporation"\n[rate]\nactivation_energy = {entry(40, "kJ/mol")}\n'
         f'film_temp_min = {entry(45, "degF")}\nhumidity_stop = {entry(90, "%")}\n'
         f'cap = {entry(2, "1")}\nthickness_exponent = {entry(1, "1")}\n',
         "film.volume_solids"),
        (f'[deadlines]\ncover_by_uv_dose = {entry(60, "h")}\n', "uv_dose takes SED"),
        (f"[film]\nvolume_solids = {entry(0, '%')}\n", "above zero"),
        (f"[film]\nvolume_solids = {entry(120, '%')}\n", "between 0 and 100 %"),
        (f"[film]\nabsorptance = {entry(1.2, '1')}\n", "between 0 and 100 %"),
        (f"[film]\ndry_per_coat = {entry(-3, 'mil')}\n", "above zero"),
        (f"[rate]\ncap = {entry(0, '1')}\n", "above zero"),
        (f"[rate]\nactivation_energy = {entry(-5, 'kJ/mol')}\n", "not be negative"),
    ],
)  # fmt: skip
def test_impossible_physics_is_refused(own, text, said):
    base = "spf" if "volume_solids" in said else "silicone_solvent"
    assert said in fault_of(own(f'based_on = "{base}"\n{text}'))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"[reference]\ndry_film = {entry(-5, 'mil')}\n", "'reference.dry_film' must be above"),
        (f"[reference]\ndry_film = {entry(0, 'mil')}\n", "'reference.dry_film' must be above"),
        (f"[reference]\nhumidity = {entry(100, '%')}\n", "'reference.humidity' (100 %) must be"),
        (f"[reference]\nhumidity = {entry(92, '%')}\n", "must be below 85%"),
        (f"[reference]\ntemperature = {entry(-300, 'degC')}\n", "below the least temperature"),
        (f"[reference]\ntemperature = {entry(2, 'degC')}\n", "below the least temperature"),
        (f"[reference]\nroof_wind = {entry(0, 'm/s')}\n", "'reference.roof_wind' must be above"),
        (f"[rate]\ncap = {entry(0.5, '1')}\n", "'rate.cap' must be at least 1"),
        (f"[rate]\nhumidity_stop = {entry(9000, '%')}\n", "between 0 and 100 %"),
        (f"[milestones]\ntouch = {entry(400, 'h')}\n", "later than milestones.cured"),
        (f"[rate]\nactivation_energy = {entry(1e9, 'kJ/mol')}\n", "must be at most 200"),
        (f"[rate]\nthickness_exponent = {entry(500, '1')}\n", "must be at most 3"),
        (f"[milestones]\nrain_safe = {entry(400, 'h')}\n", "later than milestones.cured"),
    ],
)  # fmt: skip
def test_a_reference_at_which_the_rate_cannot_be_one_is_refused(own, text, said):
    assert said in fault_of(own(f"{BASE}{text}"))


@pytest.mark.parametrize("name", ["spray_rubber", "butyl"])
def test_a_law_staged_by_touch_needs_its_touch(own, name):
    whole = (files("cure_models") / "coatings" / f"{name}.toml").read_text(encoding="utf-8")
    kept = [line for line in whole.splitlines() if not line.startswith("touch = ")]
    assert "milestones.touch" in fault_of(own("\n".join(kept) + "\n"))


def test_a_first_stage_cannot_outlast_the_rain_hold(own):
    text = f'based_on = "spray_rubber"\n[milestones]\ntouch = {entry(6, "h")}\n'
    assert "later than milestones.rain_safe" in fault_of(own(text))


def test_a_dose_for_the_cover(own):
    text = f'{BASE}[deadlines]\ncover_by_uv_dose = {entry(60, "SED")}\n'
    coating = resolve(load_profile(own(text)))
    assert coating.cover_by_dose_sed == 60
    assert coating.deadlines_h == {"recoat_closes": 336}
    in_joules = f'{BASE}[deadlines]\ncover_by_uv_dose = {entry(6000, "J/m2")}\n'
    assert resolve(load_profile(own(in_joules))).cover_by_dose_sed == pytest.approx(60)


def test_two_part_aliphatic_as_its_note_says(own):
    text = (
        'based_on = "urethane_aliphatic"\nlaw = "reaction"\n[rate]\n'
        f"activation_energy = {entry(50, 'kJ/mol')}\nthickness_exponent = {entry(0, '1')}\n"
    )
    assert resolve(load_profile(own(text))).rate.activation_kj_mol == 50


def test_byte_order_mark_is_read(own):
    assert load_profile(own(b"\xef\xbb\xbf" + BASE.encode())).name == "my"


# Faults. -----------------------------------------------------------------------------------------

FAULTS = {
    "unknown key": (
        BASE + 'titel = "x"\n',
        ["key 'titel' is not known", "did you mean 'title'?"],
    ),
    "misspelt gate": (
        gate("air_tmp_min", entry(45, "degF")),
        ["key 'gates.air_tmp_min' is not known", "did you mean 'air_temp_min'?"],
    ),
    "caution among the gates": (
        gate("wind_screen", entry(10, "mph")),
        ["key 'gates.wind_screen' is not known", "known:"],
    ),
    "misspelt film": (
        film("emitance", entry(0.9, "1")),
        ["key 'film.emitance' is not known", "did you mean 'emittance'?"],
    ),
    "misspelt value": (
        gate("air_temp_min", f'{{ vlue = 45, unit = "degF", {SHEET} }}'),
        ["key 'gates.air_temp_min.vlue' is not known", "did you mean 'value'?", "1 more fault)"],
    ),
    "wrong dimension": (
        gate("spread_min", entry(5, "degF")),
        ["key 'gates.spread_min'", "'degF' is a unit of temperature", "takes K, delta_degF"],
    ),
    "difference as temperature": (
        gate("air_temp_min", entry(50, "delta_degF")),
        ["key 'gates.air_temp_min'", "takes degC, degF"],
    ),
    "unknown unit": (
        gate("air_temp_min", entry(50, "F")),
        ["key 'gates.air_temp_min'", "unit 'F' is not known", "degF"],
    ),
    "min above max": (
        gate("air_temp_min", entry(120, "degF")),
        ["gates.air_temp_min (120 degF) is above gates.air_temp_max (110 degF)", "mend"],
    ),
    "lo above value": (
        gate("air_temp_min", entry(45, "degF", "lo = 50, hi = 55, ")),
        ["key 'gates.air_temp_min'", "value 45 is outside its range, lo 50 to hi 55", "mend"],
    ),
    "missing source": (
        gate("air_temp_min", '{ value = 45, unit = "degF" }'),
        ["key 'gates.air_temp_min.source' is missing", "add it"],
    ),
    "missing unit": (
        gate("air_temp_min", f"{{ value = 45, {SHEET} }}"),
        ["key 'gates.air_temp_min.unit' is missing", "add it"],
    ),
    "source of no basis": (
        gate("air_temp_min", '{ value = 45, unit = "degF", source = "I guess" }'),
        ["key 'gates.air_temp_min'", "'I guess' must begin with one of", "data sheet"],
    ),
    "empty source": (
        gate("air_temp_min", '{ value = 45, unit = "degF", source = "" }'),
        ["key 'gates.air_temp_min'", "must begin with one of"],
    ),
    "text in a number": (
        gate("air_temp_min", entry('"45"', "degF")),
        ["key 'gates.air_temp_min.value' must be a number, without quotes", "is '45'"],
    ),
    "true in a number": (
        gate("air_temp_min", entry("true", "degF")),
        ["key 'gates.air_temp_min.value' must be a number"],
    ),
    "not a number": (
        gate("air_temp_min", entry("nan", "degF")),
        ["key 'gates.air_temp_min.value' must be a finite number"],
    ),
    "infinite": (
        gate("wind_max_spray", entry("inf", "mph")),
        ["key 'gates.wind_max_spray.value' must be a finite number"],
    ),
    "bare number": (
        gate("air_temp_min", "45"),
        ["key 'gates.air_temp_min' must be a table of keys, but is 45"],
    ),
    "number for a table": (
        BASE + "gates = 3\n",
        ["key 'gates' must be a table of keys, but is 3"],
    ),
    "negative thickness": (
        film("dry_per_coat", entry(-12, "mil")),
        ["key 'film.dry_per_coat' must be above zero, but is -12 mil", "mend"],
    ),
    "absorptance above one": (
        film("absorptance", entry(1.2, "1")),
        ["key 'film.absorptance' must lie between 0 and 100 %, but is 1.2;", "mend"],
    ),
    "range above one": (
        film("absorptance", entry(0.8, "1", "hi = 1.2, ")),
        ["key 'film.absorptance'", "0.8 (0.8 to 1.2)"],
    ),
    "no solids": (
        film("volume_solids", entry(0, "%")),
        ["key 'film.volume_solids' must be above zero, but is 0 %", "mend"],
    ),
    "no coats": (film("coats", entry(0, "1")), ["key 'film.coats' must be above zero"]),
    "negative permeance": (
        film("permeance", entry(-1, "perm")),
        ["key 'film.permeance' must not be negative"],
    ),
    "humidity above saturation": (
        gate("humidity_max", entry(850, "%")),
        ["key 'gates.humidity_max' must lie between 0 and 100 %, but is 850 %"],
    ),
    "humidity without its unit": (
        gate("humidity_max", entry(85, "1")),
        ["key 'gates.humidity_max' must lie between 0 and 100 %"],
    ),
    "negative wind": (
        gate("wind_max_spray", entry(-3, "mph")),
        ["key 'gates.wind_max_spray' must not be negative, but is -3 mph"],
    ),
    "negative rain": (
        gate("no_rain", entry(-1, "mm")),
        ["key 'gates.no_rain' must not be negative"],
    ),
    "negative time": (
        f"{BASE}[milestones]\nrain_safe = {entry(-1, 'h')}\n",
        ["key 'milestones.rain_safe' must not be negative, but is -1 h"],
    ),
    "negative clock time": (
        f"{BASE}[milestone_clock_min]\nrain_safe = {entry(-1, 'h')}\n",
        ["key 'milestone_clock_min.rain_safe' must not be negative"],
    ),
    "negative exponent": (
        f"{BASE}[rate]\nthickness_exponent = {entry(-1, '1')}\n",
        ["key 'rate.thickness_exponent' must not be negative"],
    ),
    "opens after it closes": (
        f"{BASE}[milestones]\nrecoat_opens = {entry(21, 'd')}\n",
        ["milestones.recoat_opens is later than deadlines.recoat_closes", "21 d", "mend"],
    ),
    "clock of no hold": (
        f"{BASE}[clock_holds]\nno_dew = {entry(3, 'h')}\n",
        ["key 'clock_holds.no_dew' is not known", "no_freeze, rising"],
    ),
    "unknown law": (BASE + 'law = "magic"\n', ["key 'law' must be 'evaporation'", "is 'magic'"]),
    "list for a law": (BASE + "law = []\n", ["key 'law' must be 'evaporation'"]),
    "law and a number for its rate": (
        BASE + 'law = "reaction"\nrate = 3\n',
        ["key 'rate' must be a table of keys, but is 3"],
    ),
    "unknown hazard": (
        BASE + 'hazards = ["smell"]\n',
        ["key 'hazards 1' must be 'isocyanate'", "is 'smell'"],
    ),
    "text for yes or no": (
        BASE + 'water_based = "yes"\n',
        ["key 'water_based' must be true or false", "is 'yes'"],
    ),
    "another schema": (BASE + "schema = 2\n", ["key 'schema' must be 1, but is 2"]),
    "not based on anything": ('name = "x"\n', ["key 'schema' is missing", "more faults)"]),
    "based on an unknown coating": (
        'based_on = "acrilic"\n',
        ["key 'based_on': coating 'acrilic' is not known", "did you mean 'acrylic'?"],
    ),
    "empty file": ("  \n", ["the file is empty"]),
    "not TOML": ("a = = 3\n", ["not valid TOML", "line 1", "mend that line"]),
    "the same key twice": (BASE + BASE, ["not valid TOML", "mend that line"]),
    "not UTF-8": (b"title = '\xff'\n", ["not UTF-8 text at byte 9", "save the file as UTF-8"]),
}


@pytest.mark.parametrize(("content", "parts"), FAULTS.values(), ids=FAULTS.keys())
def test_fault_is_told_in_one_sentence(own, content, parts):
    message = fault_of(own(content))
    assert message.startswith("my.toml: ")
    for part in parts:
        assert part in message


def test_unknown_coating():
    message = fault_of("acrilic")
    assert "coating 'acrilic' is not known; did you mean 'acrylic'?" in message
    assert "or give the path of your own .toml file" in message


def test_missing_file(own):
    own(BASE)
    assert fault_of("yours.toml") == "yours.toml: no such file; check the path"
    assert "sheet.toml: no such file" in fault_of(own('based_on = "sheet.toml"\n'))


@pytest.mark.parametrize("first", ["a.toml", "b.toml"])
def test_circle(own, first):
    own('based_on = "b.toml"\n', "a.toml")
    own('based_on = "a.toml"\n', "b.toml")
    assert fault_of(first) == f"{first}: based_on goes round in a circle; break it"


def test_circle_through_a_folder(own):
    own('based_on = "../sub/a.toml"\n', "sub/a.toml")
    assert "goes round in a circle" in fault_of("sub/a.toml")


def test_file_based_on_itself(own):
    assert "goes round in a circle" in fault_of(own('based_on = "./my.toml"\n'))


def test_fault_in_the_middle_of_a_chain_names_that_file(own):
    own(gate("air_tmp_min", entry(45, "degF")), "maker.toml")
    message = fault_of(own('based_on = "maker.toml"\n', "job.toml"))
    assert message.startswith("maker.toml: key 'gates.air_tmp_min'")


def test_same_fault_whatever_the_order_of_hashing(own):
    # The first of several missing parameters, in alphabetical order.
    assert "rate.activation_energy" in fault_of(own(f'{BASE}law = "moisture"\n'))


# Resolving. --------------------------------------------------------------------------------------


def test_resolved_acrylic():
    acrylic = resolve(load_profile("acrylic"))
    limit = {g.name: g.limit for g in acrylic.gates}
    assert limit["air_temp_min"] == pytest.approx(10)
    assert limit["air_temp_max"] == pytest.approx(43.333, abs=1e-3)
    assert limit["spread_min"] == pytest.approx(2.778, abs=1e-3)
    assert limit["humidity_max"] == pytest.approx(0.85)
    assert limit["wind_max_spray"] == pytest.approx(6.706, abs=1e-3)
    assert limit["no_dew"] == 0
    assert acrylic.reference.temp_c == pytest.approx(23.889, abs=1e-3)
    assert acrylic.dry_film_um == pytest.approx(12 * 25.4)
    assert acrylic.milestones["cured"] == 14 * 24
    assert acrylic.deadlines_h == {"recoat_closes": 336}
    assert acrylic.rate.temp_min_c == pytest.approx(7.222, abs=1e-3)
    assert acrylic.rate.activation_kj_mol == acrylic.rate.warm_activation_kj_mol == 40
    assert [c.name for c in acrylic.cautions] == ["fast_drying", "wind_screen"]
    assert acrylic.first_stage_h == pytest.approx(1.62, abs=0.01)
    assert acrylic.cover_by_dose_sed is None


def test_resolved_holds():
    gates = {g.name: g for g in resolve(load_profile("acrylic")).gates}
    assert (gates["no_rain"].milestone, gates["no_rain"].clock_h) == ("rain_safe", None)
    assert (gates["no_dew"].milestone, gates["air_temp_floor"].milestone) == ("dew_safe",) * 2
    assert (gates["no_freeze"].milestone, gates["no_freeze"].clock_h) == (None, 24)
    assert gates["rising"].clock_h == 3
    assert gates["air_temp_min"].milestone is None


def test_careful_acrylic():
    careful = resolve(load_profile("acrylic"), limits="careful")
    limit = {g.name: g.limit for g in careful.gates}
    assert limit["air_temp_min"] == pytest.approx(12.778, abs=1e-3)
    assert limit["air_temp_max"] == pytest.approx(32.222, abs=1e-3)
    assert limit["no_dew"] == pytest.approx(2.778, abs=1e-3)
    assert limit["no_rain"] == pytest.approx(0.1)
    assert {g.name: g.clock_h for g in careful.gates}["no_freeze"] == 72
    assert careful.milestones["rain_safe"] == 24
    assert careful.deadlines_h == {"recoat_closes": 72}
    assert (careful.rate.temp_min_c, careful.rate.humidity_stop) == (pytest.approx(10), 0.85)
    assert (careful.rate.activation_kj_mol, careful.rate.warm_activation_kj_mol) == (50, 30)
    generic = resolve(load_profile("acrylic"))
    assert careful.absorptance < generic.absorptance
    assert careful.emittance == generic.emittance
    assert careful.first_stage_h == generic.first_stage_h
    assert careful.dry_film_um == generic.dry_film_um


@pytest.mark.parametrize("name", coating_names())
def test_careful_is_stricter_and_lenient_looser_in_every_number(name):
    profile = load_profile(name)
    careful, generic, lenient = (
        resolve(profile, limits=limits) for limits in ("careful", "generic", "lenient")
    )
    for strict, loose in ((careful, generic), (generic, lenient)):
        for one, other in zip(strict.gates, loose.gates, strict=True):
            sign = 1 if one.rule.sense == "min" else -1
            assert sign * one.limit >= sign * other.limit
            assert (one.clock_h or 0) >= (other.clock_h or 0)
        for milestone, hours in strict.milestones.items():
            assert hours >= loose.milestones[milestone]
        for deadline, hours in strict.deadlines_h.items():
            assert hours <= loose.deadlines_h[deadline]
        assert strict.rate.temp_min_c >= loose.rate.temp_min_c
        assert strict.rate.cap <= loose.rate.cap


def test_method_chooses_the_wind_limit():
    acrylic, pmma = load_profile("acrylic"), load_profile("pmma")

    def wind(profile, method):
        return [g.name for g in resolve(profile, method=method).gates
                if g.rule.quantity == "wind_m_s"]  # fmt: skip

    assert wind(acrylic, "spray") == ["wind_max_spray"]
    assert wind(acrylic, "roller") == ["wind_max_roller"]
    assert wind(pmma, "roller") == ["wind_max_roller"]
    assert wind(pmma, "spray") == ["wind_max_spray"]
    assert [c.name for c in resolve(acrylic, method="roller").cautions] == ["fast_drying"]


def test_own_film():
    acrylic = resolve(load_profile("acrylic"), dry_film_um=500)
    assert acrylic.dry_film_um == 500
    assert acrylic.reference.dry_film_um == pytest.approx(304.8)


@pytest.mark.parametrize("film_um", [0, -1, math.nan, math.inf])
def test_impossible_film(film_um):
    with pytest.raises(ProfileError, match="must be above zero"):
        resolve(load_profile("acrylic"), dry_film_um=film_um)


def test_profiles_cannot_be_changed():
    profile = load_profile("acrylic")
    assert isinstance(profile, Profile)
    with pytest.raises(ValueError, match="frozen"):
        profile.generic = False


def test_names_are_sorted():
    assert coating_names() == sorted(coating_names())


def test_a_thicker_coat_of_ones_own_does_not_inherit_the_times_of_a_thin_one(tmp_path):
    own = tmp_path / "thick.toml"
    own.write_text(
        'based_on = "acrylic"\n[film]\n'
        'dry_per_coat = { value = 24, unit = "mil", source = "data sheet: page 1" }\n'
    )
    coating = resolve(load_profile(str(own)))
    assert coating.dry_film_um == pytest.approx(24 * 25.4)
    assert coating.reference.dry_film_um == pytest.approx(12 * 25.4)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("film", "film = 5"),
        ("film", 'film = "dry_per_coat"'),
        ("reference", f'reference = "x"\n[film]\ndry_per_coat = {entry(20, "mil")}'),
        ("rate", 'rate = 5\nlaw = "reaction"'),
    ],
)
def test_what_is_no_table_is_told_though_a_base_lies_below(own, key, text):
    said = fault_of(own(f"{BASE}{text}\n"))
    assert said.startswith(f"my.toml: key '{key}' must be a table of keys, but is ")


def test_a_base_whose_name_no_file_can_have(own):
    said = fault_of(own('based_on = "a\\u0000.toml"\n'))
    assert said == "a\\x00.toml: no file can have such a name; check the path"

"""``dewgap system``, ``recoat``, ``cover`` and ``quantities``, run as a person would."""

import json
import re
from importlib.resources import files
from pathlib import Path

import plan_cases
import pytest

from cure_models.system import load_system, system_names

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
SITE = plan_cases.SITE_FILE
JOB = """\
system = "acrylic_two_coat"
[[section]]
name = "A"
area = "5,000 ft2"
[[section]]
name = "B"
area = "3,000 ft2"
access_over = ["A"]
"""
PLACED = """\
[[placed]]
section = "A"
layer = "base"
start = "2026-06-01T09:00"
end = "2026-06-01T12:00"
"""
MONDAY = ("2026-06-01T09:00", "2026-06-01T12:00")
NOON = ("--now", "2026-06-01T12:00")


def write_weather(folder, start="2026-06-01T04:00Z", days=10, **given):
    """Write steady weather, canonical, by default from midnight of Monday 1 June on."""
    frame = plan_cases.weather(days, start, **given).frame
    frame.index = frame.index.strftime("%Y-%m-%dT%H:%MZ")
    frame.to_csv(folder / "weather.csv", index_label="time_utc")


@pytest.fixture
def roof(tmp_path):
    """Return the folder of a site in steady weather."""
    folder = tmp_path / "roof"
    folder.mkdir()
    (folder / "site.toml").write_text(SITE)
    write_weather(folder)
    return folder


@pytest.fixture
def job(roof):
    """Write the job file beside the site; return the site's folder."""

    def write(text):
        (roof / "job.toml").write_text(text)
        return roof

    return write


def recoat(roof, *more, system="acrylic_two_coat", layer="base", placed=MONDAY, now=NOON):
    return (
        "recoat", roof, "--system", system, "--layer", layer, "--placed", *placed, *now,
        "--dry-at-start", *more,
    )  # fmt: skip


# --- system ------------------------------------------------------------------------------------


def test_system_list(good):
    text = good("system", "list")
    told = json.loads(good("system", "list", "--json"))
    assert [each["name"] for each in told] == system_names()
    for name in system_names():
        assert re.search(rf"(?m)^{name} ", text)
        layers = next(each["layers"] for each in told if each["name"] == name)
        assert layers == [layer.name for layer in load_system(name).layers]
    assert "not a data sheet" in text


@pytest.mark.parametrize("name", system_names())
def test_system_show_tells_every_layer_in_both_units(good, name):
    system = load_system(name)
    us, si = good("system", "show", name), good("system", "show", name, "--units", "si")
    for layer in system.layers:
        assert re.search(rf"(?m)^\d+ +{layer.name} +{layer.coating} ", us)
        assert layer.note in us
    assert " mil " in us
    assert "µm" in si
    assert " mil " not in si.split("Until the next layer")[0]
    assert all(note in us for note in system.notes)


def test_system_show_as_json(good):
    told = json.loads(good("system", "show", "urethane_moisture_aliphatic", "--json"))
    assert [layer["must_be_covered"] for layer in told["layers"]] == [True, True, False]
    assert told["layers"][1]["dry_film_um"] == pytest.approx(16 * 25.4)
    rates = {each["layer"]: each for each in told["needed_mean_cure_rate"]}
    assert rates[2]["rate"] == pytest.approx(16 / 48)
    assert rates[2]["range"] == [pytest.approx(10 / 72), pytest.approx(1.0)]


def test_system_check_of_a_sound_one(good):
    assert "sound; acrylic_two_coat, 2 layers" in good("system", "check", "acrylic_two_coat")
    told = json.loads(good("system", "check", "acrylic_two_coat", "--json"))
    assert told == {"system": "acrylic_two_coat", "sound": True, "findings": [], "months": []}


def test_system_check_warns_of_a_vapour_retarder_and_stays_sound(good):
    text = good("system", "check", "sebs_two_coat")
    assert "warning: layer 1: 'base' holds moisture in" in text
    assert ": sound;" in text


def test_system_check_over_a_roof(dewgap):
    assert dewgap("system", "check", "acrylic_two_coat", "--over", "single_ply")[0] == 0
    status, out, err = dewgap("system", "check", "acrylic_two_coat", "--over", "metal")
    assert (status, err) == (1, "")
    assert out.startswith("REFUSED: layer 1: 'base' asks for single_ply or acrylic below it")
    assert "sound" not in out
    status, out, err = dewgap("system", "check", "acrylic_two_coat", "--over", "silicone", "--json")
    told = json.loads(out)
    assert (status, told["sound"]) == (1, False)
    assert told["findings"][0]["rule"] == "bond"


def test_system_check_in_the_weather_of_a_site(good, roof):
    text = good("system", "check", "urethane_moisture_aliphatic", "--site", roof)
    assert "Mean cure rate in this weather" in text
    told = json.loads(
        good("system", "check", "urethane_moisture_aliphatic", "--site", roof, "--json")
    )
    # 20 degC and 50 %: moisture of 11.7 of 14.9 hPa, warmth of exp(-30/R (1/293.15 - 1/297.04)).
    months = {each["layer"]: each for each in told["months"]}
    assert 0.5 < months[2]["rate"] < 1.2
    assert months[2]["needed"] == pytest.approx(16 / 48)


def test_system_check_tells_a_slow_month(good, roof):
    frame = plan_cases.weather(10, "2026-01-05T05:00Z", air_temp_c=6.0, cloud=1.0).frame
    frame.index = frame.index.strftime("%Y-%m-%dT%H:%MZ")
    frame.to_csv(roof / "weather.csv", index_label="time_utc")
    # Just above the least rate of any product, 10 / 72; the generic one is 16 / 48.
    text = good("system", "check", "urethane_moisture_aliphatic", "--site", roof)
    assert "below the 0.33 that its deadline needs (0.14 at the least across products)" in text
    assert "whether it can be recoated in time depends on the data sheet" in text
    frame = plan_cases.weather(10, "2026-01-05T05:00Z", air_temp_c=0.0, cloud=1.0).frame
    frame.index = frame.index.strftime("%Y-%m-%dT%H:%MZ")
    frame.to_csv(roof / "weather.csv", index_label="time_utc")
    text = good("system", "check", "urethane_moisture_aliphatic", "--site", roof)
    assert "it cannot be recoated in time at these temperatures" in text


def test_rate_of_a_month_is_that_of_the_reference_film(good, roof):
    # A thicker film does not change the weather: it needs more of it, by (24 / 16) squared.
    path = own(roof, "urethane_aromatic", "urethane_aliphatic", "urethane", 24)
    thick = json.loads(good("system", "check", path, "--site", roof, "--json"))["months"]
    path = own(roof, "urethane_aromatic", "urethane_aliphatic", "urethane", 16)
    plain = json.loads(good("system", "check", path, "--site", roof, "--json"))["months"]
    assert thick[0]["rate"] == pytest.approx(plain[0]["rate"], abs=1e-4)  # rates have 6 decimals
    assert (plain[0]["needed"], thick[0]["needed"]) == (pytest.approx(1 / 3), pytest.approx(0.75))
    assert plain[0]["hours_known"] == 240


def test_water_in_frost_is_refused_where_no_window_is_found(dewgap, roof):
    frame = plan_cases.weather(6, "2026-01-05T05:00Z", air_temp_c=-5.0, cloud=1.0).frame
    frame.index = frame.index.strftime("%Y-%m-%dT%H:%MZ")
    frame.to_csv(roof / "weather.csv", index_label="time_utc")
    status, out, err = dewgap("system", "check", "acrylic_two_coat", "--site", roof)
    assert (status, err) == (1, "")
    assert "REFUSED: layer 1: 'base' is water-based, its film is below freezing on" in out
    assert "wait for a warmer season" in out
    status, out, _ = dewgap("system", "check", "urethane_moisture_aliphatic", "--site", roof)
    assert status == 0
    assert "water-based" not in out


OWN = """\
schema = 1
name = "own"
title = "Own"
[[layer]]
name = "base"
coating = "{base}"
dry_film = {{ value = {mils}, unit = "mil", source = "data sheet: x" }}
over = ["single_ply"]
[[layer]]
name = "top"
coating = "{top}"
dry_film = {{ value = 12, unit = "mil", source = "data sheet: x" }}
over = ["{over}"]
"""


def own(folder, base="acrylic", top="acrylic", over="acrylic", mils=13):
    path = folder / "own.toml"
    path.write_text(OWN.format(base=base, top=top, over=over, mils=mils))
    return path


REFUSALS = [
    pytest.param(
        {"base": "silicone_high_solids", "over": "silicone", "mils": 22},
        "only silicone bonds to silicone", id="acrylic over silicone",
    ),
    pytest.param({"mils": 40}, "lays 40 mil dry in one pass, more than the 15 mil", id="too thick"),
    pytest.param({"over": "epoxy"}, "mend the order of the layers", id="wrong order"),
    pytest.param(
        {"base": "urethane_aromatic", "top": "urethane_aromatic", "over": "urethane", "mils": 16},
        "a layer that is not UV-stable must be covered", id="last is not UV-stable",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("changed", "told"), REFUSALS)
def test_a_refused_system_is_told_by_check_and_not_planned(dewgap, fault, job, changed, told):
    path = own(job(JOB), **changed)
    status, out, err = dewgap("system", "check", path)
    assert (status, err) == (1, "")
    assert re.search(rf"(?m)^REFUSED: layer \d: .*{re.escape(told)}.* \[.+\]$", out)
    assert told in fault("plan", path.parent, "--system", path, *NOON)


@pytest.mark.parametrize(("changed", "told"), REFUSALS)
def test_a_refused_system_is_not_promised_a_window(dewgap, job, changed, told):
    folder = job(JOB + PLACED)
    path = own(folder, **changed)
    for words in (recoat(folder, system=path), ("cover", folder, "--system", path, *NOON)):
        status, _, err = dewgap(*words)
        assert status == 1
        assert told in err


def test_a_roof_that_the_system_is_not_for_is_not_planned(fault, job):
    folder = job(JOB + '[substrate]\nkind = "metal"\n')
    told = fault("plan", folder, *NOON)
    assert "asks for single_ply or acrylic below it, but the roof is metal" in told


# --- recoat ------------------------------------------------------------------------------------


def test_recoat_tells_clocks_windows_and_who_governs(good, roof):
    text = good(*recoat(roof))
    assert "layer 1, base (acrylic): NOT YET OPEN" in text
    assert "laid Mon Jun 1 09:00 to Mon Jun 1 12:00; now Mon Jun 1 12:00" in text
    # Closes 336 h after Monday 1 June 09:00, 72 to 720 h across products.
    assert re.search(
        r"(?m)^recoat closes +Mon Jun 15 09:00 +Thu Jun 4 09:00 to Wed Jul 1 09:00 \[common", text
    )
    assert "Windows left for top (acrylic); the last is on" in text
    assert "govern; this is a forecast, not a guarantee." in text


def test_recoat_as_json(good, roof):
    told = json.loads(good(*recoat(roof, "--json")))
    assert told["verdict"] == "not yet open"
    assert told["placed"] == ["2026-06-01T13:00:00Z", "2026-06-01T16:00:00Z"]
    assert (told["layer"], told["layer_name"], told["coating"]) == (1, "base", "acrylic")
    (closes,) = told["deadlines"]
    assert (closes["at"], told["deadline"]) == ("2026-06-15T13:00:00Z",) * 2
    assert closes["firm"] is False
    assert closes["value"]["source"] == "common practice, no source"
    assert told["recoat_opens"] == told["milestones"]["recoat_opens"]
    assert all(w["start"] >= told["recoat_opens"] for w in told["windows_left"])
    assert told["what_to_do"] == []


def test_recoat_by_number_and_in_si(good, roof):
    by_name = json.loads(good(*recoat(roof, "--json")))
    assert json.loads(good(*recoat(roof, "--json", layer="1"))) == by_name
    assert json.loads(good(*recoat(roof, "--json", "--units", "si"))) == by_name
    assert good(*recoat(roof, "--units", "si")) == good(*recoat(roof))


def test_recoat_with_offsets(good, roof):
    zulu = ("2026-06-01T13:00Z", "2026-06-01T12:00-04:00")
    assert good(*recoat(roof, placed=zulu)) == good(*recoat(roof))


def test_limits_of_recoat(good, roof):
    opens = [
        json.loads(good(*recoat(roof, "--json", "--limits", limits)))["recoat_opens"]
        for limits in ("lenient", "generic", "careful")
    ]
    assert opens == sorted(opens)
    assert len(set(opens)) == 3


URETHANE = {"system": "urethane_moisture_aliphatic", "layer": "base"}


@pytest.mark.parametrize(
    ("given", "now", "verdict", "status"),
    [
        ({}, "2026-06-01T12:00", "NOT YET OPEN", 0),
        ({}, "2026-06-03T12:00", "COVER IN TIME", 0),
        ({"layer": "top"}, "2026-06-03T12:00", "COVERED", 0),
        (URETHANE, "2026-06-01T12:00", "DEPENDS ON THE DATA SHEET", 4),
        (URETHANE, "2026-06-03T08:00", "NO WINDOW LEFT", 3),
        (URETHANE, "2026-06-03T09:00", "OVERDUE", 3),
    ],
)
def test_status_of_recoat(dewgap, roof, given, now, verdict, status):
    for form in ([], ["--json"]):
        found, out, err = dewgap(*recoat(roof, *form, now=("--now", now), **given))
        assert (found, err) == (status, "")
        if form:
            assert json.loads(out)["verdict"] == verdict.lower()
        elif given.get("layer") == "top":
            assert ": the last layer, nothing has to follow\n" in out
        else:
            assert f": {verdict}\n" in out


def test_status_of_weather_that_ends_first(dewgap, roof):
    write_weather(roof, days=1)
    status, out, err = dewgap(*recoat(roof))
    assert (status, err) == (4, "")
    assert "UNDETERMINED" in out
    assert "what is not known is no window" in out
    assert "recoat opens        not known" in out


def test_overdue_is_told_what_to_do_until_it_is_prepared(dewgap, roof):
    late = ("--now", "2026-06-04T07:00")
    status, out, _ = dewgap(*recoat(roof, now=late, **URETHANE))
    assert status == 3
    assert "what to do: abrade" in out
    status, out, _ = dewgap(*recoat(roof, "--prepared", late[1], now=late, **URETHANE))
    assert status == 4
    assert re.search(r"(?m)^recoat closes +Sat Jun 6 07:00", out)


SPRING, FALL = "2026-03-06T05:00Z", "2026-10-30T04:00Z"


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"system": "acrylic_two_coats"}, "did you mean 'acrylic_two_coat'?"),
        ({"system": "none.toml"}, "none.toml: no such file"),
        ({"layer": "finish"}, "has no layer 'finish'; its layers are 1 base, 2 top"),
        ({"layer": "0"}, "has no layer '0'"),
        ({"layer": "3"}, "has no layer '3'"),
        ({"now": ("--now", "2026-06-01T11:59")}, "in the future (now is 2026-06-01 11:59)"),
        ({"placed": MONDAY[::-1]}, "ends before it starts"),
        ({"placed": MONDAY[:1] * 2}, "ends before it starts"),
        ({"placed": ("2026-05-31T23:00", MONDAY[1])}, "begins before the placement"),
        ({"now": ("--now", "2026-06-20T12:00")}, "give newer weather, or --now"),
        (
            {"placed": ("2026-06-19T09:00", "2026-06-19T12:00"),
             "now": ("--now", "2026-06-20T12:00")},
            "lies outside the weather",
        ),
        ({"placed": ("2026-06-01", MONDAY[1])}, "--placed: '2026-06-01' is not a time"),
        ({"placed": ("2026-06-01T09", MONDAY[1])}, 'write it as "2026-07-03T08:30"'),
        ({"placed": ("yesterday", MONDAY[1])}, "--placed: 'yesterday' is not a time"),
        ({"placed": ("2026-06-31T09:00", MONDAY[1])}, "is not a time"),
        ({"placed": ("0026-06-01T09:00", MONDAY[1])}, "is not a year of a roof"),
        ({"now": ("--now", "now")}, "--now: 'now' is not a time"),
        ({"now": ("--prepared", "2026-06-01T11:00", *NOON)}, "before its laying ended at"),
        ({"now": ("--prepared", "2026-06-01T13:00", *NOON)}, "in the future"),
        ({"now": ("--prepared", "soon", *NOON)}, "--prepared: 'soon' is not a time"),
    ],
)  # fmt: skip
def test_faults_of_recoat(fault, roof, given, told):
    assert told in fault(*recoat(roof, **given))


def test_times_that_the_clock_skips_or_has_twice(fault, good, roof):
    write_weather(roof, "2026-03-06T05:00Z", 5)
    told = fault(*recoat(roof, placed=("2026-03-08T02:30", "2026-03-08T04:00"),
                         now=("--now", "2026-03-08T12:00")))  # fmt: skip
    assert told == (
        "--placed: 2026-03-08T02:30 does not exist: clocks go forward then; write a later hour"
    )
    write_weather(roof, "2026-10-30T04:00Z", 5)
    placed = ["2026-11-01T01:30", "2026-11-01T04:00"]
    now = ("--now", "2026-11-01T12:00")
    told = fault(*recoat(roof, placed=placed, now=now))
    assert told.startswith("--placed: 2026-11-01T01:30 comes twice")
    # The mend that it tells works.
    placed[0] = re.search(r"as in (\S+)$", told)[1]
    assert placed[0] == "2026-11-01T01:30-04:00"
    json.loads(good(*recoat(roof, "--json", placed=placed, now=now)))


@pytest.mark.parametrize("option", ["--system", "--layer", "--placed"])
def test_what_must_be_given(dewgap, roof, option):
    words = [str(each) for each in recoat(roof)]
    at = words.index(option)
    del words[at : at + (3 if option == "--placed" else 2)]
    status, out, err = dewgap(*words)
    assert (status, out) == (2, "")
    assert f"Missing option '{option}'" in err


# --- cover -------------------------------------------------------------------------------------


def test_cover_without_a_bare_layer(good, job):
    folder = job(JOB)
    assert "No laid layer of this job waits" in good("cover", folder, *NOON)
    told = json.loads(good("cover", folder, *NOON, "--json"))
    assert (told["system"], told["bare_layers"]) == ("acrylic_two_coat", [])


def test_cover_tells_every_bare_layer_the_nearest_deadline_first(good, job):
    later = PLACED.replace('"A"', '"B"').replace("T09", "T07").replace("T12", "T08")
    folder = job(JOB + PLACED + later)
    text = good("cover", folder, *NOON, "--dry-at-start")
    rows = re.findall(r"(?m)^([AB]) +base +not yet open +(.+?)  ", text)
    assert rows == [("B", "Mon Jun 15 07:00"), ("A", "Mon Jun 15 09:00")]
    assert "A, 5000 ft²: layer 1, base" in text
    si = good("cover", folder, *NOON, "--dry-at-start", "--units", "si")
    assert "A, 465 m²: layer 1, base" in si
    told = json.loads(good("cover", folder, *NOON, "--dry-at-start", "--json"))
    assert {each["piece"] for each in told["bare_layers"]} == {"A", "B"}
    assert told["bare_layers"][0]["area_m2"] == pytest.approx(464.5152)


@pytest.mark.parametrize(
    ("deadlines", "told"),
    [
        ("", "none"),
        ('cover_by_uv_dose = { value = 5000, unit = "SED", source = "own choice" }',
         "not known, or after the weather"),
    ],
)
def test_a_deadline_that_is_not_known_is_told_apart_from_none(good, job, deadlines, told):
    folder = job(JOB.replace("acrylic_two_coat", "own.toml") + PLACED)
    shipped = files("cure_models")
    coating = (shipped / "coatings" / "acrylic.toml").read_text(encoding="utf-8")
    coating = re.sub("(?m)^recoat_closes = .*$", deadlines, coating)
    (folder / "mine.toml").write_text(coating, encoding="utf-8")
    system = (shipped / "systems" / "acrylic_two_coat.toml").read_text(encoding="utf-8")
    (folder / "own.toml").write_text(system.replace('"acrylic"', '"mine.toml"', 1), "utf-8")
    text = good("cover", folder, *NOON, "--dry-at-start")
    assert re.search(rf"(?m)^A +base +not yet open +{told}  ", text)
    assert re.search(rf"(?m)^next layer done by +{told} *$", text)


def test_cover_agrees_with_recoat(good, job):
    folder = job(JOB + PLACED)
    (told,) = json.loads(good("cover", folder, *NOON, "--dry-at-start", "--json"))["bare_layers"]
    alone = json.loads(good(*recoat(folder, "--json")))
    assert {key: told[key] for key in alone} == alone


def test_a_covered_layer_is_not_told(good, job):
    top = PLACED.replace('"base"', '"top"').replace("-01T", "-03T")
    folder = job(JOB + PLACED + top)
    text = good("cover", folder, "--now", "2026-06-03T12:00")
    assert "No laid layer of this job waits" in text


def test_a_part_has_a_clock_of_its_own(good, job):
    part = PLACED + 'area = "2,000 ft2"\n'
    rest = part.replace("2,000", "3,000").replace("-01T", "-02T")
    told = json.loads(
        good("cover", job(JOB + part + rest), "--now", "2026-06-02T12:00", "--json",
             "--dry-at-start")
    )  # fmt: skip
    pieces = {each["piece"]: each for each in told["bare_layers"]}
    assert pieces["A part 1"]["area_m2"] == pytest.approx(2000 * 0.3048**2)
    assert pieces["A part 2"]["area_m2"] == pytest.approx(3000 * 0.3048**2)
    assert {each["section"] for each in pieces.values()} == {"A"}
    assert pieces["A part 1"]["deadline"] < pieces["A part 2"]["deadline"]


def urethane_job(base_now="2026-06-01"):
    text = JOB.replace("acrylic_two_coat", "urethane_moisture_aliphatic")
    primer = PLACED.replace('"base"', '"primer"').replace("T09", "T05").replace("T12", "T06")
    return text + primer + PLACED


@pytest.mark.parametrize(
    ("now", "status"),
    [("2026-06-01T12:00", 4), ("2026-06-03T08:00", 3), ("2026-06-03T09:00", 3)],
)
def test_status_of_cover(dewgap, job, now, status):
    folder = job(urethane_job())
    for form in ([], ["--json"]):
        found, out, err = dewgap("cover", folder, "--now", now, "--dry-at-start", *form)
        assert (found, err) == (status, "")
    assert len(json.loads(out)["bare_layers"]) == 1


def test_no_window_comes_before_not_determined(dewgap, job):
    other = PLACED.replace('"A"', '"B"').replace("-01T", "-03T")
    primer = other.replace('"base"', '"primer"').replace("T09", "T05").replace("T12", "T06")
    folder = job(urethane_job() + primer + other)
    status, out, _ = dewgap("cover", folder, "--now", "2026-06-03T12:00", "--json",
                            "--dry-at-start")  # fmt: skip
    verdicts = {each["piece"]: each["verdict"] for each in json.loads(out)["bare_layers"]}
    assert verdicts == {"A": "overdue", "B": "depends on the data sheet"}
    assert status == 3


@pytest.mark.parametrize(
    ("rain_mm", "rate", "status", "word"),
    [
        (float("nan"), 625, 4, "UNDETERMINED: the next layer of A takes this crew 8.0 h"),
        (float("nan"), 400, 3, "TOO SHORT: the next layer of A takes this crew 12.5 h"),
        (5.0, 625, 3, "TOO SHORT: the next layer of A takes this crew 8.0 h"),
        (5.0, 1250, 0, "not yet open"),
    ],
)
def test_too_short_is_a_no_only_if_it_is_known(dewgap, job, rain_mm, rate, status, word):
    # On Tuesday there are sure hours until the rain of the evening, or what is not known of it.
    evening = dict.fromkeys(range(43, 240), rain_mm)
    folder = job(f'{JOB}{PLACED}[crew]\nrates = {{ top = "{rate} ft2/h" }}\n')
    write_weather(folder, rain_mm=evening)
    found, out, err = dewgap("cover", folder, *NOON, "--dry-at-start")
    assert (found, err) == (status, "")
    assert word in out
    assert ("TOO SHORT" in out) == ("TOO SHORT" in word)
    found, out, err = dewgap("cover", folder, *NOON, "--dry-at-start", "--json")
    assert (found, err) == (status, "")
    (told,) = json.loads(out)["bare_layers"]
    assert told["longest_window_is_too_short"] == (rate < 1250)


def test_a_job_file_elsewhere_names_its_own_system_beside_it(good, roof, tmp_path):
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    own(folder)
    (folder / "mine.toml").write_text(
        JOB.replace('"acrylic_two_coat"', '"own.toml"') + PLACED
    )
    told = json.loads(good("cover", roof, "--job", folder / "mine.toml", *NOON, "--json"))
    assert told["system"] == "own"
    # The option's path is as it stands to the person.
    told = json.loads(
        good("cover", roof, "--job", folder / "mine.toml", "--system", folder / "own.toml", *NOON,
             "--json")
    )  # fmt: skip
    assert told["system"] == "own"


def test_a_placement_may_be_written_as_text_or_number_or_toml_time(good, job):
    texts = [
        PLACED,
        PLACED.replace("2026-06-01T09:00", "2026-06-01 09:00"),
        PLACED.replace('"2026-06-01T09:00"', "2026-06-01T09:00:00"),
        PLACED.replace('"2026-06-01T09:00"', "2026-06-01T09:00:00-04:00"),
        PLACED.replace('"base"', "1"),
        PLACED.replace('"base"', '"1"'),
    ]
    told = {good("cover", job(JOB + text), *NOON, "--dry-at-start") for text in texts}
    assert len(told) == 1


# Each fault of a job file: what stands for what, and what the sentence must say.

TOP = PLACED.replace('"base"', '"top"')
FAULTS = [
    pytest.param(JOB + PLACED.replace('"A"', '"C"'), "names section 'C'", id="unknown section"),
    pytest.param(JOB + PLACED.replace("base", "bse"), "has no layer 'bse'", id="unknown layer"),
    pytest.param(JOB + PLACED.replace("base", "3"), "has no layer '3'", id="layer number"),
    pytest.param(
        JOB.replace("acrylic_two_coat", "acrylic_two_cat") + PLACED,
        "did you mean 'acrylic_two_coat'?", id="unknown system",
    ),
    pytest.param(JOB.replace("system", "sistem"), "did you mean 'system'?", id="unknown key"),
    pytest.param(
        JOB.replace("access_over", "acess_over"), "did you mean 'access_over'?",
        id="unknown key of a section",
    ),
    pytest.param(JOB.removeprefix('system = "acrylic_two_coat"'), "add it, or give --system",
                 id="no system"),
    pytest.param(JOB + PLACED.replace("T12", "T13"), "in the future", id="future"),
    pytest.param(JOB + PLACED.replace("T12", "T08"), "ends before it starts", id="ends first"),
    pytest.param(
        JOB + PLACED.replace("06-01", "05-20"), "lies outside the weather", id="before weather"
    ),
    pytest.param(
        JOB + PLACED + TOP.replace("T09", "T11"), "two placements overlap", id="overlap"
    ),
    pytest.param(JOB + PLACED + PLACED, "is laid there already", id="twice"),
    pytest.param(JOB + TOP, "comes before the layer below it is recorded", id="skipped"),
    pytest.param(
        JOB.replace("5,000", "-5,000"), "must be above zero", id="negative area"
    ),
    pytest.param(JOB.replace("5,000", "0"), "must be above zero", id="no area"),
    pytest.param(JOB.replace('"5,000 ft2"', "5000"), "has no unit", id="area without unit"),
    pytest.param(JOB.replace("ft2", "sqft"), "'sqft' is not known", id="unknown unit"),
    pytest.param(
        JOB + PLACED + 'area = "5,001 ft2"', "but what is ready for it has",
        id="more than the section"
    ),
    pytest.param(
        JOB + PLACED + 'area = "3,000 ft2"\n' + PLACED + 'area = "3,000 ft2"',
        "but what is ready for it has", id="more than is left",
    ),
    pytest.param(JOB + PLACED + 'area = "0 ft2"', "must be above zero", id="part of no area"),
    pytest.param(JOB.replace('"B"', '"A"'), "two sections are named 'A'", id="two of one name"),
    pytest.param(JOB.replace('["A"]', '["C"]'), "is no other section", id="access over unknown"),
    pytest.param(JOB.replace('["A"]', '["B"]'), "names itself", id="access over itself"),
    pytest.param(
        JOB + PLACED.replace("T09:00", "T0900"), "is not a time",
        id="time without a colon",
    ),
    pytest.param(
        JOB + PLACED.replace("2026-06-01T09:00", "9:00"), "is not a time", id="time without day"
    ),
    pytest.param(
        JOB + PLACED.replace("2026-06-01T09:00", "2026-06-01"), "is not a time", id="day only"
    ),
    pytest.param(
        JOB + PLACED.replace('"2026-06-01T09:00"', "2026-06-01"), "is not a time", id="TOML day"
    ),
    pytest.param(JOB + PLACED.replace('"2026-06-01T09:00"', "9"), "is not a time", id="number"),
    pytest.param(
        JOB + PLACED.replace("06-01T09:00", "03-08T02:30"), "does not exist: clocks go forward",
        id="skipped by the clock",
    ),
    pytest.param(
        JOB + PLACED.replace("2026-06-01T09:00", "2025-11-02T01:30"),
        "add the offset, as in 2025-11-02T01:30-04:00", id="twice by the clock",
    ),
    pytest.param(
        JOB + PLACED + 'prepared = "2026-06-01T10:00"', "before its laying ended at",
        id="prepared before laid",
    ),
    pytest.param(
        JOB + PLACED + 'prepared = "2026-06-01T14:00"', "in the future", id="prepared in future"
    ),
    pytest.param(JOB + PLACED.replace("start", "begin"), "'placed 1.begin' is not known",
                 id="unknown key of a placement"),
    pytest.param(JOB + '[substrate]\nkind = "metall"', "did you mean 'metal'?", id="kind"),
    pytest.param(JOB + "[substrate]\n", "key 'substrate.kind' is missing", id="no kind"),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\nmoisture = "4 %"\nmoisture_limit = "5 %"\n',
        "give all three", id="reading without its time",
    ),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\nmoisture = "4 %"\nmoisture_limit = "5 %"\n'
        'read_at = "2026-06-01T08:00"\n',
        "say how the moisture was measured", id="reading without its method",
    ),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\nmoisture = 4\n', "has no unit", id="moisture bare"
    ),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\nmoisture = "4 %RH"\n', "'%RH' is not known",
        id="moisture in % RH",
    ),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\nmoisture = "4%"\n', "write a number, a space and",
        id="percent without a space",
    ),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\nmoisture = "104 %"\n', "at most 1", id="above 100 %"
    ),
    pytest.param(
        JOB + '[substrate]\nkind = "metal"\ndry_out = "-2 h"\n', "at least 0 h", id="dry_out"
    ),
    pytest.param(JOB + "[material]\nloss = 1.0\n", "material.loss", id="everything is lost"),
    pytest.param(JOB + "[material]\ntexture = 0.9\n", "material.texture", id="smaller than flat"),
    pytest.param(
        JOB + '[crew]\nrates = { base = "0 ft2/h" }\n', "must be at least 0.1 m2/h", id="rate"
    ),
    pytest.param(JOB + "[crew]\nrate = 3\n", "did you mean 'rates'?", id="unknown key of the crew"),
    pytest.param(JOB + '[crew]\nextra_days = ["Sunday"]\n', "extra_days", id="day in full"),
    pytest.param('where = "here"\n' + JOB, "key 'where' is not known", id="inner key"),
    pytest.param(JOB + "[[section]\n", "not valid TOML", id="not TOML"),
    pytest.param("", "the file is empty", id="empty"),
    pytest.param(" \n", "the file is empty", id="blank"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), FAULTS)
def test_faults_of_a_job_file(fault, job, text, told):
    folder = job(text)
    sentence = fault("cover", folder, *NOON)
    assert told in sentence
    assert not sentence.startswith("key")


SEBS = JOB.replace("acrylic_two_coat", "sebs_two_coat") + '[substrate]\nkind = "metal"\n'


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("", "nothing says that the roof below is dry; add a moisture reading"),
        (
            'moisture = "19 %"\nmoisture_limit = "5 %"\nmethod = "meter"\n'
            'read_at = "2026-06-01T06:00"\n',
            "the roof reads 19% moisture, above its limit of 5%",
        ),
        (
            'moisture = "4 %"\nmoisture_limit = "5 %"\nmethod = "meter"\n'
            'read_at = "2026-03-08T02:30"\n',
            "key 'substrate.read_at': 2026-03-08 02:30:00 does not exist: clocks go forward",
        ),
    ],
    ids=["nothing known", "damp", "read at a skipped time"],
)
def test_a_film_that_holds_moisture_in_is_not_planned_on_a_damp_roof(fault, job, more, told):
    assert told in fault("plan", job(SEBS + more), *NOON)


def test_a_placement_at_the_fault_names_section_and_layer(fault, job):
    sentence = fault("cover", job(JOB + PLACED.replace("T12", "T13")), *NOON)
    assert "job.toml: section 'A', layer 'base': " in sentence
    assert "2026-06-01 13:00" in sentence
    assert "in the future (now is 2026-06-01 12:00)" in sentence


@pytest.mark.parametrize(
    "text",
    [
        JOB + PLACED.replace("base", "bse"),
        JOB.replace("acrylic_two_coat", "acrylic_two_cat"),
        JOB.replace("acrylic_two_coat", ""),
    ],
)
def test_a_fault_of_the_job_file_names_it(fault, job, text):
    assert "job.toml: " in fault("cover", job(text), *NOON)


def test_a_name_is_on_one_line(fault, job):
    fault("cover", job(JOB.replace('"A"', '"A\\nC"').replace('"B"', '"A\\nC"')), *NOON)


def test_placement_after_the_weather_asks_for_newer_weather(fault, roof):
    after = ("2026-06-19T09:00", "2026-06-19T12:00")
    told = fault(*recoat(roof, placed=after, now=("--now", "2026-06-20T12:00")))
    assert "begins before" not in told


@pytest.mark.parametrize("price", ["inf", "nan", "-1", '"1500"'])
def test_prices_are_finite_numbers(fault, job, price):
    assert "prices.day" in fault("plan", job(JOB + f"[prices]\nday = {price}\n"), *NOON)


def test_binary_job_file(fault, roof):
    (roof / "job.toml").write_bytes(b"\x00\xff\xfe" * 40)
    assert "not UTF-8 text" in fault("cover", roof, *NOON)


def test_job_file_that_is_a_folder(fault, roof):
    (roof / "job.toml").mkdir()
    assert "cannot be read" in fault("cover", roof, *NOON)


def test_a_job_file_that_is_given_must_be_there(fault, roof):
    assert "none.toml: no such file" in fault("cover", roof, "--job", "none.toml", *NOON)


def test_without_a_job_file_the_system_must_be_given(fault, good, roof):
    for command in ("cover", "quantities", "plan"):
        assert "no job.toml beside the site file; give --system" in fault(command, roof)
    assert good("quantities", roof, "--system", "acrylic_two_coat")


@pytest.mark.parametrize("now", ["2026-05-31T23:59", "2026-06-11T00:01"])
def test_now_outside_the_weather(fault, job, now):
    text = JOB + PLACED.replace("06-01", "05-30") if now.startswith("2026-05") else JOB + PLACED
    sentence = fault("cover", job(text), "--now", now)
    assert "weather" in sentence


def test_a_second_part_may_be_recoated_before_the_first(dewgap, job):
    # 5,000 ft2: 2,000 laid on Monday, the rest on Tuesday; 2,500 of that rest are topped first.
    part = PLACED + 'area = "2,000 ft2"\n'
    rest = PLACED.replace("-01T", "-02T") + 'area = "3,000 ft2"\n'
    top = TOP.replace("-01T", "-04T") + 'area = "2,500 ft2"\n'
    folder = job(JOB + part + rest + top)
    status, out, err = dewgap("cover", folder, "--now", "2026-06-04T12:00", "--json",
                              "--dry-at-start")  # fmt: skip
    assert (status, err) == (4, "")  # past the earliest end of a weak deadline
    areas = sorted(round(e["area_m2"] / 0.3048**2) for e in json.loads(out)["bare_layers"])
    assert areas == [500, 2000]


def test_pieces_have_names_of_their_own(fault, job):
    # Parts of A are "A part 1" and "A part 2": no section may be called so.
    assert "without ' part '" in fault("cover", job(JOB.replace('"B"', '"A part 1"')), *NOON)


# --- quantities --------------------------------------------------------------------------------


def test_quantities_by_hand(good, job):
    text = good("quantities", job(JOB + "[material]\nloss = 0.1\n"))
    # 13 mil at 55 % are 23.6 wet, 1.47 gal/100 ft2; 50 x 1.4735 / 0.9 = 81.9 gal, 17 pails.
    assert re.search(r"(?m)^base +13.0 mil +1 +23.6 mil +1.47 gal/100 ft²", text)
    assert re.search(r"(?m)^A +base +5000 ft² +82 gal +17 ", text)
    # 30 x 1.4735 / 0.9 = 49.1 gal, 10 pails; together 131.0 gal, 27 pails.
    assert re.search(r"(?m)^B +base +3000 ft² +49 gal +10 ", text)
    assert re.search(r"(?m)^all sections +base +8000 ft² +131 gal +27 ", text)


def test_quantities_in_si(good, job):
    text = good("quantities", job(JOB + "[material]\nloss = 0.1\n"), "--units", "si")
    # 330.2 um at 55 % are 600.4 wet: 0.60 L/m2; 464.5 m2 x 0.6004 / 0.9 = 310 L.
    assert re.search(r"(?m)^base +330.2 µm +1 +600.4 µm +0.60 L/m²", text)
    assert re.search(r"(?m)^A +base +465 m² +310 L +17 ", text)
    assert "gal" not in text


def test_quantities_as_json(good, job):
    told = json.loads(good("quantities", job(JOB), "--json"))
    assert [each["section"] for each in told["sections"]] == ["A", "B"]
    assert told["loss"] == 0.1
    parts = [each["layers"][0]["volume_l"] for each in told["sections"]]
    assert sum(parts) == pytest.approx(told["whole"][0]["volume_l"])


def test_quantities_of_a_roof_without_sections(good, roof):
    told = json.loads(good("quantities", roof, "--system", "acrylic_two_coat", "--json"))
    (only,) = told["sections"]
    assert only == {"section": "roof", "layers": told["whole"]}
    text = good("quantities", roof, "--system", "acrylic_two_coat")
    assert not re.search(r"(?m)^roof ", text)


def test_foam_and_fabric_on_screen(good, roof):
    # 10,000 ft2 of 1.5 in: 15,000 board feet, / 0.9.
    text = good("quantities", roof, "--system", "spf_silicone")
    assert re.search(r"(?m)^all sections +foam +10000 ft² +16667 board ft +by its yield ", text)
    text = good("quantities", roof, "--system", "acrylic_reinforced")
    assert re.search(r"(?m)^all sections +\w+ +10000 ft² .* 11000 ft²$", text)


@pytest.mark.parametrize(
    "material", ["loss = -0.1", "loss = nan", "texture = 0.5", 'container = "0 gal"',
                 "fabric_laps = 2.0", "loss = 10", 'container = 5', "waste = 0.1"]
)  # fmt: skip
def test_faults_of_the_material(fault, job, material):
    assert "material." in fault("quantities", job(JOB + f"[material]\n{material}\n"))


@pytest.mark.parametrize("name", ["all", "all sections", "whole"])
def test_a_section_of_any_name_is_not_lost(good, job, name):
    told = json.loads(good("quantities", job(JOB.replace('"B"', f'"{name}"')), "--json"))
    assert [each["section"] for each in told["sections"]] == ["A", name]
    assert told["whole"][0]["area_m2"] == pytest.approx(8000 * 0.3048**2)

"""``dewgap log``, run as a person on a roof would."""

import hashlib
import json
import os
import re
import shutil
import sqlite3
from pathlib import Path

import pytest
from at_once import at_once

from windows.errors import LogError

DEMO_SITES = Path(__file__).parents[3] / "demo_sites"
NOW = ("--now", "2026-09-22T17:00")
BY = ("--by", "Ann")


@pytest.fixture
def roof(tmp_path):
    """Return a copy of the demo site with a log, which its job file has no part in yet."""
    return Path(shutil.copytree(DEMO_SITES / "cool_north", tmp_path / "cool_north"))


@pytest.fixture(scope="module")
def taken_in(tmp_path_factory):
    """Return where the first that asks for `logged` leaves the site for the others."""
    return tmp_path_factory.mktemp("taken_in") / "cool_north"


@pytest.fixture
def logged(roof, good, taken_in):
    """Return the same site with the invented log taken in."""
    if not taken_in.exists():
        good("log", "import", roof, roof / "field_log.json", *BY)
        shutil.copytree(roof, taken_in)
    shutil.copytree(taken_in, roof, dirs_exist_ok=True)
    return roof


def entries(good, roof, *more):
    return json.loads(good("log", "show", roof, "--json", *more))["entries"]


def put_in_place(saved, roof):
    for old in roof.glob("log.sqlite*"):
        old.unlink()
    shutil.copy(saved, roof / "log.sqlite")


def place(roof, *more, section="B", layer="base", hours=("2026-09-22T14:30", "2026-09-22T16:30")):
    return (
        "log", "place", roof, "--section", section, "--layer", layer, "--hours", *hours, *BY, *NOW,
        *more,
    )  # fmt: skip


def read(roof, *more):
    values = ("--air", "64 degF", "--rh", "62 %", "--surface", "71 degF")
    return ("log", "read", roof, *values, *BY, *NOW, *more)


# --- help ------------------------------------------------------------------------------------

COMMANDS = [
    "place", "read", "check moisture", "check adhesion", "check dry-film", "note", "rain", "cover",
    "prepare", "instrument", "withdraw", "show", "due", "learn", "record", "verify", "export",
    "schema", "template", "import", "backup", "repair",
]  # fmt: skip


def test_every_command_is_in_the_help(good):
    text = good("log", "--help")
    for command in {each.split()[0] for each in COMMANDS}:
        assert re.search(rf"\b{command} ", text), command


# --- entries -----------------------------------------------------------------------------------


def test_a_placement_is_kept_with_all_that_was_said(roof, good):
    told = good(
        *place(roof, "--area", "2,500 ft2", "--volume", "90 gal", "--wet", "24 mil", "--wet",
               "22 mil @ by the drain", "--batch", "B-1", "--batch", "B-2", "--crew", "crew 2",
               "--direction", "east-west", "--note", "wind picked up", "--method", "roller")
    )  # fmt: skip
    assert "Entry 2 is in the log: placement, Tue Sep 22 14:30-16:30: base on B, 2500 ft²" in told
    assert "FLAG: Wet film: 2 readings for this area, which asks for 25" in told
    (body,) = [e["body"] for e in entries(good, roof, "--kind", "placement")]
    assert body["area_m2"] == pytest.approx(2500 * 0.09290304)
    assert body["volume_l"] == pytest.approx(90 * 3.785411784)
    assert body["wet_film"] == [
        {"film_um": 609.6}, {"film_um": 558.8, "where": "by the drain"}
    ]  # fmt: skip
    assert (body["batches"], body["crew"], body["method"]) == (["B-1", "B-2"], "crew 2", "roller")
    assert (body["at"], body["end"]) == ("2026-09-22T19:30:00Z", "2026-09-22T21:30:00Z")
    assert body["note"] == "wind picked up"


def test_without_an_area_all_of_the_section_was_laid(roof, good):
    good(*place(roof, section="C"))
    (body,) = [e["body"] for e in entries(good, roof, "--kind", "placement")]
    assert body["area_m2"] == pytest.approx(5000 * 0.09290304)


def test_a_reading_has_dew_point_and_spread_by_the_tool_and_the_source_beside_it(roof, good):
    told = good(*read(roof, "--at", "2026-09-22T14:20", "--sky", "scattered", "--wind-from", "NW"))
    # By hand: 17.78 degC has 20.36 hPa, 62 % of it are 12.62 hPa, which 10.4 degC (50.7 degF) has.
    assert "dew point 51°F" in told
    assert "spread 20.3°F" in told
    (entry,) = entries(good, roof, "--kind", "reading")
    beside = entry["body"]["beside"]
    assert beside["source"].startswith("invented weather")
    assert beside["issued"] == "2026-09-21T05:00:00Z"
    assert entry["body"]["cloud"] == pytest.approx(3.5 / 8)
    assert entry["body"]["wind_from_deg"] == 315


def test_an_entry_stands_without_weather_and_says_so(roof, good):
    (roof / "weather.csv").unlink()
    told = good(*read(roof))
    assert "note: the weather cannot be had, and the entry stands without it" in told
    (entry,) = entries(good, roof, "--kind", "reading")
    assert "beside" not in entry["body"]
    told = good(*place(roof))
    assert "FLAG: The weather of these hours is not known, so its gates could not be" in told


def test_a_placement_outside_its_gates_is_recorded_and_flagged(roof, good):
    told = good(*read(roof, "--at", "2026-09-22T14:00", "--section", "B", "--surface", "40 degF"))
    assert "FLAG:" in told
    told = good(*place(roof))
    assert "surface temperature" in told.lower()
    assert entries(good, roof, "--kind", "placement")


def test_rain_on_a_film_that_is_not_safe_is_flagged(roof, good):
    good(*place(roof))
    rain = ("log", "rain", roof, *BY, *NOW, "--amount", "0.1 in")
    told = good(*rain, "--at", "2026-09-22T16:40", "--until", "2026-09-22T16:50")
    assert "FLAG: Rain fell on 'base' on section 'B' before it was rain-safe" in told
    told = good(*rain, "--at", "2026-09-22T15:00")
    assert "FLAG: Rain fell while 'base' on section 'B' was being laid." in told
    assert "FLAG" not in good(*rain, "--at", "2026-09-22T16:45", "--section", "C")


def test_rain_written_down_before_the_placement_is_flagged_with_it(roof, good):
    rain = ("log", "rain", roof, *BY, *NOW, "--section", "B")
    assert "FLAG" not in good(*rain, "--at", "2026-09-22T15:10", "--until", "2026-09-22T15:40")
    assert "FLAG" not in good(*rain, "--at", "2026-09-22T14:00", "--until", "2026-09-22T14:20")
    told = good(*place(roof))
    assert "FLAG: The rain of 2026-09-22 15:10 fell while 'base' on section 'B' was being" in told
    assert "The rain of 2026-09-22 14:00" not in told


def test_weather_still_to_come_is_flagged_as_a_forecast(roof, good):
    told = good(*place(roof))
    assert "FLAG: By the forecast, still to come: rain in the hour until rain-safe" in told
    assert "By the weather, rain in the hour" not in told


def test_a_correction_is_a_new_entry_and_the_old_one_stays(roof, good, dewgap):
    good(*place(roof))
    told = good(*place(roof, "--corrects", "2", "--volume", "95 gal"))
    assert "placement (in place of 2)" in told
    assert [e["number"] for e in entries(good, roof, "--kind", "placement")] == [3]
    assert [e["number"] for e in entries(good, roof, "--all")] == [1, 2, 3]
    status, _, err = dewgap(*place(roof, "--corrects", "2"))
    assert status == 1
    assert "entry 2 was corrected by 3" in err
    good("log", "withdraw", roof, "3", "--note", "another roof", *BY, *NOW)
    assert entries(good, roof, "--kind", "placement") == []


def test_a_correction_keeps_the_time_of_what_it_corrects(roof, good):
    good(*read(roof, "--at", "2026-09-22T08:00"))
    good(*read(roof, "--corrects", "2", "--wind", "5 mph"))
    (entry,) = entries(good, roof, "--kind", "reading")
    assert entry["body"]["at"] == "2026-09-22T13:00:00Z"


def test_days_are_those_of_the_site_and_end_at_midnight(roof, good):
    for at in ("2026-09-21T23:59", "2026-09-22T00:00"):
        good("log", "note", roof, "--note", at, "--at", at, *BY, *NOW)
    told = entries(good, roof, "--kind", "note", "--to", "2026-09-21")
    assert [e["body"]["note"] for e in told] == ["2026-09-21T23:59"]
    told = entries(good, roof, "--kind", "note", "--from", "2026-09-22")
    assert [e["body"]["note"] for e in told] == ["2026-09-22T00:00"]


def test_all_shows_what_became_of_entries(roof, good):
    good(*read(roof))
    good(*read(roof, "--corrects", "2"))
    good("log", "withdraw", roof, "3", "--note", "no", *BY, *NOW)
    text = good("log", "show", roof, "--all")
    assert "reading, replaced by 3" in text
    assert "reading (in place of 2), withdrawn by 4" in text
    assert "withdrawal of 3" in text


def test_work_past_midnight_is_still_asked_for(roof, good):
    good("log", "place", roof, "--section", "B", "--layer", "base", "--hours",
         "2026-09-21T21:00", "2026-09-22T00:20", *BY, "--now", "2026-09-22T00:30")  # fmt: skip
    due = json.loads(good("log", "due", roof, "--now", "2026-09-22T00:30", "--json"))["due"]
    assert "finish" in [each["for"] for each in due]


def test_what_only_the_job_file_has_laid_counts_as_laid_below(roof, good):
    told = good(*place(roof))
    assert "below this one is not recorded" not in told
    told = good(*place(roof, section="C"))
    assert "Layer 'primer' below this one is not recorded on section 'C'" in told


def test_what_the_job_file_has_too_is_not_flagged_as_laid_twice(roof, good):
    told = good(*place(roof, section="A", hours=("2026-09-22T10:00", "2026-09-22T14:00")))
    assert "with the other placements" not in told
    told = good(
        *place(roof, "--corrects", "2", section="A",
               hours=("2026-09-22T10:00", "2026-09-22T13:00"))
    )  # fmt: skip
    assert "with the other placements" not in told


def test_a_service_that_does_not_answer_keeps_nobody_from_writing(roof, good, monkeypatch):
    monkeypatch.setenv("DEWGAP_CONTACT", "roof@example.org")
    told = good(*read(roof, "--source", "met_norway", "--offline"))
    assert "the entry stands without it" in told
    told = json.loads(good(*read(roof, "--source", "met_norway", "--offline", "--json")))
    assert "the entry stands without it" in told["notes"][0]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('end = "2026-09-21 11:30"', 'end = "2026-09-21 10:00"'),
        ('start = "2026-09-21 10:00"', 'start = "2026-03-08 02:30"'),
        ('layer = "primer"', 'layer = "prmer"'),
    ],
)
def test_a_fault_in_what_the_job_file_has_laid_is_told_in_a_sentence(roof, dewgap, old, new):
    job = roof / "job.toml"
    assert old in job.read_text()
    job.write_text(job.read_text().replace(old, new, 1))
    status, out, err = dewgap("log", "note", roof, "--note", "x", *BY, *NOW)
    assert (status, out) == (1, "")
    assert "job.toml: [[placed]] of section 'A'" in err


def test_names_of_sections_are_one_in_any_form_of_unicode(roof, good, dewgap):
    job = roof / "job.toml"
    job.write_text(job.read_text().replace('"C"', '"A\u0308rmel "'))
    for name in ("\u00c4rmel", "A\u0308rmel", " \u00c4rmel"):
        good("log", "note", roof, "--note", "x", "--section", name, *BY, *NOW)
    good(*place(roof, section="\u00c4rmel", layer="primer"))
    assert dewgap("cover", roof, *NOW)[2] == ""


def test_the_log_of_another_site_is_told(logged, good):
    site = logged / "site.toml"
    site.write_text(site.read_text().replace("Tamarack Point", "Another"))
    assert "note: this log was begun for Tamarack Point" in good("log", "due", logged, *NOW)


def test_a_withdrawn_layer_covers_nothing_on_the_record(logged, good, tmp_path):
    (base,) = [e for e in entries(good, logged, "--kind", "placement")
               if e["body"]["layer"] == "base"]  # fmt: skip
    good("log", "withdraw", logged, str(base["number"]), "--note", "not laid", *BY, *NOW)
    good("log", "record", logged, "--page", tmp_path / "record.html", *NOW)
    assert f"(entry {base['number']})" not in (tmp_path / "record.html").read_text()
    assert "(job file)" not in (tmp_path / "record.html").read_text()


def test_readings_that_are_due_are_told(roof, good):
    told = good(*place(roof))
    assert "READING DUE: before start, 13:30-14:30, base on B: MISSED" in told
    assert "READING DUE: finish, 16:00-17:00, base on B: DUE NOW" in told
    good(*read(roof, "--at", "2026-09-22T14:00", "--section", "B"))
    text = good("log", "due", roof, "--now", "2026-09-22T18:00")
    assert "before start, 13:30-14:30, base on B: taken, entry 3" in text
    assert "finish, 16:00-17:00, base on B: MISSED" in text
    due = json.loads(good("log", "due", roof, *NOW, "--json"))["due"]
    met = [(each["for"], each["met_by"]) for each in due]
    assert met == [("before start", 3), ("finish", None)]


# --- what is refused: nothing is written, and one sentence says why -----------------------------


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (lambda roof: place(roof, section="D"), "there is no section 'D'"),
        (lambda roof: place(roof, layer="sealer"), "sealer"),
        (lambda roof: place(roof, hours=("2026-09-22T16:00", "2026-09-22T18:00")), "still to come"),
        (lambda roof: place(roof, hours=("2026-09-22T16:00", "2026-09-22T15:00")), "not after"),
        (lambda roof: place(roof, "--area", "2500"), "a number, a space and a unit"),
        (lambda roof: place(roof, "--area", "0 ft2"), "--area: '0 ft2' must be above 0 ft2"),
        (lambda roof: place(roof, "--wet", "24"), "--wet"),
        (lambda roof: place(roof, "--method", "mop"), "method"),
        (lambda roof: place(roof, "--photo", "/etc/hostname"), "outside the job's folder"),
        (lambda roof: place(roof, "--photo", roof / "no.jpg"), "cannot be read"),
        (lambda roof: place(roof, "--corrects", "7"), "7"),
        (lambda roof: place(roof, "--wet", "0 mil"), "--wet: '0 mil' must be above"),
        (lambda roof: read(roof, "--rh", "120 %"), "--rh: '120 %' must be at most 100 %"),
        (lambda roof: read(roof, "--air", "640 degF"), "at most 140.0 degF (60.0 degC)"),
        (lambda roof: read(roof, "--weather", "nope.csv"), "no such weather file"),
        (lambda roof: read(roof, "--source", "nope"), "no forecast source 'nope'"),
        (lambda roof: place(roof, "--photo", roof), "is no file"),
        (lambda roof: read(roof, "--air", "warm"), "--air"),
        (lambda roof: read(roof, "--sky", "blue"), "blue"),
        (lambda roof: read(roof, "--wind-from", "up"), "--wind-from"),
        (lambda roof: read(roof, "--for", "lunch"), "occasion"),
        (lambda roof: ("log", "read", roof, *BY, *NOW), "no value"),
        (lambda roof: ("log", "note", roof, *BY, *NOW), "a note is empty"),
        (lambda roof: ("log", "note", roof, "--note", "x", *NOW), "--by"),
        (lambda roof: ("log", "note", roof, "--note", "x", "--by", " ", *NOW), "--by"),
        (lambda roof: ("log", "note", roof, "--note", "\x1b[31m", *BY, *NOW), "control"),
        (lambda roof: ("log", "withdraw", roof, "3", *BY, *NOW), "reason"),
        (lambda roof: ("log", "show", roof), "there is no log yet"),
        (lambda roof: ("log", "show", roof, "--kind", "placment"), "placement"),
        (lambda roof: ("log", "verify", roof), "there is no log yet"),
        (lambda roof: ("log", "import", roof, roof / "site.toml", *BY), "site.toml"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(dewgap, roof, monkeypatch, command, told):
    monkeypatch.delenv("DEWGAP_BY", raising=False)
    status, out, err = dewgap(*command(roof))
    assert (status, out) == (1, "")
    assert err.startswith("dewgap: ")
    assert "\n" not in err.rstrip("\n").partition("\nNext: ")[0]
    assert told in err
    assert not list(roof.glob("log.sqlite*"))


def test_a_job_without_a_file_has_no_log(dewgap, roof):
    (roof / "job.toml").unlink()
    status, _, err = dewgap(*read(roof))
    assert status == 1
    assert "there is no job.toml" in err


# --- photos --------------------------------------------------------------------------------------


def test_a_photo_is_kept_by_name_and_hash_and_missed_when_it_changes(roof, good):
    (roof / "photos").mkdir()
    photo = roof / "photos" / "drain <1>.jpg"
    photo.write_bytes(b"a picture")
    good("log", "note", roof, "--photo", photo, *BY, *NOW)
    (entry,) = entries(good, roof, "--kind", "note")
    assert entry["body"]["photos"] == [
        {
            "file": "photos/drain <1>.jpg", "size": 9,
            "sha256": hashlib.sha256(b"a picture").hexdigest(),
        }
    ]  # fmt: skip
    assert "photo" not in good("log", "verify", roof)
    photo.write_bytes(b"another picture")
    assert "is not the one that was entered" in good("log", "verify", roof)
    photo.unlink()
    assert "is not there" in good("log", "verify", roof)


def test_a_photo_behind_a_link_out_of_the_folder_is_refused(roof, dewgap, tmp_path):
    (tmp_path / "secret.txt").write_text("x")
    os.symlink(tmp_path / "secret.txt", roof / "innocent.jpg")
    status, _, err = dewgap("log", "note", roof, "--photo", roof / "innocent.jpg", *BY, *NOW)
    assert status == 1
    assert "outside the job's folder" in err


# --- proof, in and out --------------------------------------------------------------------------


def test_verify_proves_and_finds_what_was_changed(logged, good, dewgap):
    told = json.loads(good("log", "verify", logged, "--json"))
    assert told["ok"]
    assert told["entries"] == 27
    assert json.loads(good("log", "verify", logged, "--head", told["head"], "--json"))["ok"]
    status, out, _ = dewgap("log", "verify", logged, "--head", "0" * 64)
    assert status == 1
    assert "is not in this log" in out
    with sqlite3.connect(logged / "log.sqlite") as db:
        db.execute("DROP TRIGGER entry_is_not_changed")
        db.execute("UPDATE entry SET body = replace(body, '0.09', '0.08') WHERE number = 5")
    db.close()
    status, out, _ = dewgap("log", "verify", logged)
    assert status == 1
    assert "FAULT: entry 5" in out


@pytest.mark.parametrize("form", ["csv", "json", "parquet"])
def test_what_goes_out_comes_in_again_equal(logged, good, tmp_path, form):
    good("log", "export", logged, "--to", tmp_path / f"log.{form}")
    head = json.loads(good("log", "verify", logged, "--json"))["head"]
    assert "0 entries taken" in good("log", "import", logged, tmp_path / f"log.{form}", *BY)
    for file in logged.glob("log.sqlite*"):
        file.unlink()
    assert "27 entries taken" in good("log", "import", logged, tmp_path / f"log.{form}", *BY)
    assert json.loads(good("log", "verify", logged, "--json"))["head"] == head


def test_an_edited_export_is_refused_or_becomes_a_correction(logged, good, dewgap, tmp_path):
    file = tmp_path / "log.csv"
    good("log", "export", logged, "--to", file)
    file.write_text(file.read_text().replace("two cuts by the drain", "three cuts", 1))
    status, out, err = dewgap("log", "import", logged, file, *BY)
    assert (status, out) == (1, "")
    assert "where" in err
    told = good("log", "import", logged, file, "--corrections", *BY)
    assert "1 entries taken" in told
    (entry,) = [e for e in entries(good, logged) if e["corrects"] == 5]
    assert entry["body"]["where"] == "three cuts"


def test_a_correction_by_a_table_is_not_checked_against_what_it_corrects(logged, good, tmp_path):
    file = tmp_path / "log.csv"
    good("log", "export", logged, "--to", file)
    text = file.read_text()
    assert "B-2071" in text
    file.write_text(text.replace("B-2071", "B-2079"))
    assert "with the other placements" not in good(
        "log", "import", logged, file, "--corrections", *BY
    )


def test_a_table_filled_in_by_hand_is_checked_like_entries(logged, good, tmp_path):
    file = tmp_path / "tuesday.csv"
    file.write_text(
        "kind,at,end,section,layer,area_ft2,volume_gal,air_temp_f,rel_humidity_pct,surface_temp_f\n"
        "placement,2026-09-22 14:30,2026-09-22 16:30,B,2,2500,90,,,\n"
        "reading,9/22/2026 14:20,,B,,,,64,62,71\n"
    )
    told = good("log", "import", logged, file, *BY, *NOW)
    assert "2 entries taken" in told
    assert "FLAG of entry 28: Wet film: 0 readings" in told
    told = {e["number"]: e["body"] for e in entries(good, logged)}
    assert told[28]["layer"] == "base"
    assert told[28]["volume_l"] == pytest.approx(90 * 3.785411784)
    assert told[29]["air_temp_c"] == pytest.approx((64 - 32) / 1.8)
    assert told[29]["at"] == "2026-09-22T19:20:00Z"
    assert told[29]["beside"]["source"].startswith("invented weather")
    assert "0 entries taken" in good("log", "import", logged, file, *BY, *NOW)


def test_a_table_with_a_fault_leaves_no_log_behind(roof, dewgap, tmp_path):
    file = tmp_path / "tuesday.csv"
    file.write_text(
        "kind,at,end,section,layer,area_ft2\n"
        "placement,2026-09-22 14:30,2026-09-22 16:30,Z,base,2500\n"
    )
    status, out, err = dewgap("log", "import", roof, file, *BY, *NOW)
    assert (status, out) == (1, "")
    assert "'Z'" in err
    assert not list(roof.glob("log.sqlite*"))


def test_a_logger_s_table_becomes_readings_with_the_source_beside_them(logged, good, tmp_path):
    (tmp_path / "map.toml").write_text(
        'time = "when"\ntimezone = "America/Chicago"\nlabel = "start"\nevery = "10 min"\n'
        '[columns]\nair_temp_c = { column = "T", unit = "degF" }\n'
        'rel_humidity = { column = "RH", unit = "%" }\n'
    )
    rows = [f"2026-09-22 {h:02d}:{m:02d},{60 + h},{80 - h}" for h in range(17) for m in (0, 10, 20)]
    (tmp_path / "logger.csv").write_text("when,T,RH\n" + "\n".join(rows) + "\n")
    command = (
        "log", "import", logged, tmp_path / "logger.csv", "--logger", tmp_path / "map.toml",
        "--instrument", "LG-1", *BY, *NOW,
    )  # fmt: skip
    told = good(*command)
    assert "51 entries taken" in told
    body = entries(good, logged, "--kind", "reading")[-1]["body"]
    assert (body["occasion"], body["instruments"]) == ("logger", ["LG-1"])
    assert body["beside"]["air_temp_c"] is not None
    assert "0 entries taken" in good(*command)


def test_the_order_of_a_table_makes_no_difference_to_its_flags(roof, good, tmp_path):
    head = (
        "kind,at,end,section,layer,area_ft2,volume_gal,air_temp_f,rel_humidity_pct,surface_temp_f"
    )
    rows = [
        "placement,2026-09-22 14:30,2026-09-22 16:30,B,base,2500,90,,,",
        "reading,2026-09-22 14:20,,B,,,,64,62,71",
    ]
    told = []
    for order in (rows, rows[::-1]):
        file = tmp_path / "table.csv"
        file.write_text("\n".join([head, *order]) + "\n")
        good("log", "import", roof, file, *BY, *NOW)
        told.append({e["kind"]: e["body"].get("flags") for e in entries(good, roof)})
        for log in roof.glob("log.sqlite*"):
            log.unlink()
    assert told[0] == told[1]
    assert not any("No reading stands beside it" in flag for flag in told[0]["placement"])


def test_the_log_of_another_site_and_times_to_come_are_refused(roof, dewgap, tmp_path):
    site = roof / "site.toml"
    site.write_text(site.read_text().replace("Tamarack Point", "Another"))
    status, _, err = dewgap("log", "import", roof, roof / "field_log.json", *BY)
    assert status == 1
    assert "is the log of Tamarack Point" in err
    file = tmp_path / "table.csv"
    file.write_text("kind,at,air_temp_f\nreading,2026-09-22 17:10,64\n")
    status, _, err = dewgap("log", "import", roof, file, *BY, *NOW)
    assert status == 1
    assert "line 2" in err
    assert "still to come" in err
    assert not list(roof.glob("log.sqlite*"))


def test_the_first_entry_is_there_whole_or_there_is_no_log(roof, dewgap, monkeypatch):
    from windows.log.store import FieldLog

    def full(self, drafts, **_):
        if any(draft.body.kind != "opening" for draft in drafts):
            raise LogError("there is no room on the disk")
        return append(self, drafts)

    append = FieldLog.append
    monkeypatch.setattr(FieldLog, "append", full)
    status, _, err = dewgap(*read(roof))
    assert status == 1
    assert "no room" in err
    assert sorted(p.name for p in roof.iterdir() if "log" in p.name) == ["field_log.json"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks")
def test_first_writers_at_once_all_get_in(roof, good, tmp_path):
    statuses, told = at_once(3, tmp_path, roof, "log", "note", roof, "--note", "x", *BY, *NOW)
    assert statuses == [0] * 3
    assert sorted(text.split()[1] for text in told) == ["2", "3", "4"]
    assert json.loads(good("log", "verify", roof, "--json"))["entries"] == 4


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks")
def test_imports_at_once_take_a_table_in_once(logged, good, tmp_path):
    file = tmp_path / "table.csv"
    file.write_text("kind,at,air_temp_f\n" + "reading,2026-09-22 14:00,64\n" * 2)
    statuses, told = at_once(2, tmp_path, logged, "log", "import", logged, file, *BY, *NOW)
    assert statuses == [0] * 2
    counts = [int(text.rsplit(" entries taken")[0].split()[-1]) for text in told]
    assert sorted(counts) == [0, 2]
    assert json.loads(good("log", "verify", logged, "--json"))["entries"] == 29


def test_no_output_is_written_over_the_log(logged, dewgap, good):
    before = json.loads(good("log", "verify", logged, "--json"))["head"]
    log = logged / "log.sqlite"
    for command in (
        ("log", "export", logged, "--format", "csv", "--to", log),
        ("log", "template", "reading", "--to", log),
        ("log", "template", "reading", "--to", logged / "log.sqlite-wal"),
        ("log", "backup", logged, "--to", log),
        ("log", "repair", logged, "--to", log, *BY),
        ("log", "record", logged, "--pdf", log, *NOW),
        ("plan", logged, "--csv", log, *NOW, "--seconds", "1"),
    ):
        status, _, err = dewgap(*command)
        assert status == 1, command
        assert "name a" in err
    assert json.loads(good("log", "verify", logged, "--json"))["head"] == before


def test_what_a_repair_lost_stops_the_plan_until_it_is_made_good(logged, good, dewgap, tmp_path):
    raw = (logged / "log.sqlite").read_bytes()
    (logged / "log.sqlite").write_bytes(raw[:30000])
    told = good("log", "repair", logged, "--to", tmp_path / "saved.sqlite", *BY)
    assert "Whether others followed" in told
    put_in_place(tmp_path / "saved.sqlite", logged)
    for command in ("cover", "plan"):
        status, _, err = dewgap(command, logged, *NOW)
        assert status == 1
        assert "what is laid is not known" in err
    assert dewgap("quantities", logged)[0] == 0  # it does not ask what is laid
    told = good("log", "record", logged, "--page", tmp_path / "record.html", *NOW)
    assert "note: entries of this log were or may have been lost" in told
    page = (tmp_path / "record.html").read_text()
    assert "THE LOG WAS DAMAGED AND REPAIRED" in page
    assert "Whether others followed" in page
    (lost,) = entries(good, logged, "--kind", "repair")
    good("log", "note", logged, "--note", "all are in again", *BY, *NOW)
    good("log", "withdraw", logged, str(lost["number"]), "--note", "made good", *BY, *NOW)
    assert json.loads(good("log", "verify", logged, "--json"))["missing"]
    assert dewgap("cover", logged, *NOW)[0] in (0, 3, 4)


def test_a_backup_and_what_repair_saves_are_whole(logged, good, tmp_path):
    assert "27 entries" in good("log", "backup", logged, "--to", tmp_path / "copy.sqlite")
    raw = (tmp_path / "copy.sqlite").read_bytes()
    (logged / "log.sqlite").unlink()
    (logged / "log.sqlite").write_bytes(raw[: len(raw) - 3 * 4096])
    told = good("log", "repair", logged, "--to", tmp_path / "saved.sqlite", *BY)
    assert "entries are whole" in told
    put_in_place(tmp_path / "saved.sqlite", logged)
    assert json.loads(good("log", "verify", logged, "--json"))["ok"]


# --- cover, plan and board read the log ---------------------------------------------------------


def waiting(dewgap, roof):
    _, out, err = dewgap("cover", roof, *NOW, "--json")
    assert err == ""
    return {each["piece"]: each["layer_name"] for each in json.loads(out)["bare_layers"]}


def test_what_is_laid_by_the_log_has_its_clocks_and_is_not_planned_again(logged, good, dewgap):
    # The job file has the same three placements as the log, which count once.
    before = waiting(dewgap, logged)
    job = logged / "job.toml"
    job.write_text(job.read_text().split("[[placed]]")[0])
    assert waiting(dewgap, logged) == before
    good(*place(logged))
    assert waiting(dewgap, logged)["B"] == "base"
    status, out, err = dewgap("plan", logged, *NOW, "--json", "--seconds", "1")
    assert (status in (0, 3), err) == (True, "")
    told = json.loads(out)
    planned = {(p["piece"], p["layer_name"]) for p in told["plan"]["placements"]}
    assert not planned & {("B", "primer"), ("B", "base"), ("A", "primer"), ("A", "base")}

"""The board reads the logs of its sites: what is laid, and what readings have taught."""

from datetime import datetime, timedelta

import board_folder as folders
import pandas as pd
import pytest
from log_cases import create_log

from windows.board.make import load_jobs
from windows.field.lessons import lessons
from windows.log.entries import Beside, Draft, Opening, Placement, Reading
from windows.sources import read_weather
from windows.weather_choice import WeatherChoice

LAID = ("2026-05-31 13:00Z", "2026-05-31 16:00Z")
SOURCE = "invented for a test"


def write(folder, *bodies):
    opening = Opening(at="2026-05-20T12:00:00Z", log="1", site="one", zone=folders.ZONE)
    with create_log(folder / "one" / "log.sqlite", opening, "Ann") as log:
        log.append([Draft("Ann", body) for body in bodies])


def base(section="A"):
    start, end = (pd.Timestamp(t).to_pydatetime() for t in LAID)
    return Placement(at=start, end=end, section=section, layer="base", area_m2=300.0)


def readings(air_k, days=8, source=SOURCE):
    """Return readings at 15:00 UTC on the days before the board, warmer than the source."""
    first = datetime.fromisoformat("2026-05-20T15:00:00+00:00")
    return [
        Reading(
            at=first + timedelta(days=n), air_temp_c=18.0 + air_k, rel_humidity=0.5,
            beside=Beside(source=source, air_temp_c=18.0, sun_up=True, dry=True),
        )
        for n in range(days)
    ]  # fmt: skip


def works(board):
    return {
        (work.placement.piece, work.placement.layer_name)
        for visit in board.assignments
        for work in visit.works
    }


def test_what_the_log_has_laid_is_not_planned_again_and_has_its_deadline(tmp_path):
    folder = folders.folder_of(tmp_path)
    before, _ = folders.board_of(folder)
    assert ("A", "base") in works(before)
    assert not before.deadlines or all(each.piece != "A" or each.laid is False
                                       for each in before.deadlines)  # fmt: skip
    write(folder, base())
    board, loaded = folders.board_of(folder)
    assert loaded.jobs[0].laid == 1
    assert ("A", "base") not in works(board)
    assert ("A", "top") in works(board)
    assert [each.laid for each in board.deadlines if each.piece == "A"] == [True]


def test_a_log_that_cannot_be_read_is_a_fault_of_its_site_and_sends_nobody(tmp_path):
    folder = folders.folder_of(tmp_path)
    (folder / "one" / "log.sqlite").write_bytes(b"not a log at all" * 100)
    board, _ = folders.board_of(folder)
    assert not board.assignments
    assert any("log.sqlite" in fault.text for fault in board.faults)


@pytest.mark.parametrize(("air_k", "source"), [(2.0, SOURCE), (2.0, "another"), (0.0, SOURCE)])
def test_what_readings_teach_of_this_source_moves_its_weather_and_is_told(tmp_path, air_k, source):
    folder = folders.folder_of(tmp_path)
    write(folder, *readings(air_k, source=source))
    (job,) = load_jobs(folder, WeatherChoice(), folders.NOW).jobs
    raw = load_jobs(folder, WeatherChoice(uncorrected=True), folders.NOW).jobs[0].hours
    moved = job.hours.column("air_temp_c") - raw.column("air_temp_c")
    told = [note for note in job.hours.provenance.notes if "readings in the log" in note]
    used = air_k > 0 and source == SOURCE
    assert bool(told) is used
    assert bool(moved.any()) is used
    assert (moved >= 0).all()
    assert (moved <= air_k).all()
    # What is kept for scoring is what the source said.
    assert (job.forecast.column("air_temp_c") == raw.column("air_temp_c")).all()
    board, _ = folders.board_of(folder)
    assert any("readings in the log" in note for note in board.sites[0].notes) is used


@pytest.mark.parametrize(("days", "count"), [(0, 8), (-8, 4), (-30, 0), (82, 4), (100, 0)])
def test_readings_of_the_last_90_days_teach_and_none_of_the_future(tmp_path, days, count):
    folder = folders.folder_of(tmp_path)
    write(folder, *readings(2.0))
    (job,) = load_jobs(folder, WeatherChoice(uncorrected=True), folders.NOW).jobs
    now = folders.NOW + pd.Timedelta(days=days)
    found = lessons(folder / "one" / "log.sqlite", job.site, job.hours, now)
    assert found.air_temp.readings == count


def test_store_keeps_what_the_source_said(tmp_path, good):
    folder = folders.folder_of(tmp_path)
    write(folder, *readings(2.0))
    good("board", folder, "--store", "--now", "2026-06-01T05:00", "--seconds", "1")
    (kept,) = (folder / "one").rglob("*.csv.gz")
    raw = load_jobs(folder, WeatherChoice(uncorrected=True), folders.NOW).jobs[0].hours
    told = read_weather(kept).column("air_temp_c")
    assert (told == raw.column("air_temp_c")).all()

"""The board as a frame says what ``dewgap board --csv`` says, and what nobody is sent for."""

import csv
from datetime import UTC, datetime

import board_folder as folders
import pandas as pd
import pytest

from windows import DewgapError, send_crews
from windows.decision import Verdict
from windows.frames.board import _STATE, _state
from windows.safety import GOVERNS

NOW = "2026-06-01T05:00"


def rows_of(path):
    """Return the rows of a CSV file."""
    return list(csv.DictReader(path.read_text().splitlines()))


def test_work_is_that_of_the_csv(dewgap, tmp_path):
    jobs = folders.folder_of(tmp_path / "jobs")
    out = dewgap("board", jobs, "--now", NOW, "--seconds", "2", "--csv", "board.csv")[1]
    assert "Who goes where" in out
    rows = rows_of(tmp_path / "board.csv")
    frame = send_crews(jobs, now=NOW, seconds=2)
    sent = frame[frame["crew"] != ""]
    assert list(frame.columns) == [*rows[0], "state", "why"]
    assert len(sent) == len(rows) > 0
    assert sent["state"].tolist() == [_state(row["verdict"]) for row in rows]
    assert set(sent["verdict"]) <= set(_STATE)
    for name in rows[0]:
        texts = [row[name] for row in rows]
        if name == "cautions":
            assert [text.replace("\n", " ") for text in sent[name]] == texts
        elif name in ("promised", "stale_weather"):
            assert [{True: "yes", False: "no"}[each] for each in sent[name]] == texts
        elif name == "day":
            assert [f"{day:%Y-%m-%d}" for day in sent[name]] == texts
        elif name.endswith(("_local", "_utc")):
            told = [None if not text else pd.Timestamp(text) for text in texts]
            assert [None if pd.isna(when) else when for when in sent[name]] == told
        elif pd.api.types.is_numeric_dtype(sent[name]):
            assert sent[name].tolist() == pytest.approx(
                [float(text) if text else float("nan") for text in texts], nan_ok=True
            )
        else:
            assert sent[name].tolist() == texts
    assert str(sent["start_local"].dtype) == f"datetime64[ns, {folders.ZONE}]"
    assert frame.attrs["governs"] == GOVERNS
    assert "m²" in frame.attrs["summary"]


def test_every_verdict_has_a_state_and_only_go_is_ok():
    assert set(_STATE) == {verdict.value for verdict in Verdict}
    ok = {verdict for verdict in _STATE if _state(verdict) == "OK"}
    assert ok == {Verdict.GO.value, Verdict.GO_UNTIL.value}


@pytest.mark.parametrize("verdict", ["", None, "maybe"])
def test_work_without_a_verdict_is_no_go(verdict):
    assert _state(verdict) == "UNKNOWN"


def test_what_nobody_is_sent_for_and_what_is_at_fault_are_rows_that_are_no_go(tmp_path):
    jobs = folders.folder_of(tmp_path / "jobs", csv=folders.weather(rain_mm=5.0, rain_prob=1.0))
    folders.add_site(jobs, "two", rates=folders.RATES, csv=folders.weather(rain_mm=None))
    folders.add_site(jobs, "three", rates=folders.RATES)
    (jobs / "three" / "site.toml").write_text("name = 3\n")
    frame = send_crews(jobs, now=NOW, seconds=1)
    assert (frame["crew"] == "").all()
    assert "OK" not in set(frame["state"])
    assert (frame["why"] != "").all()
    by_site = frame.groupby("site")["state"].unique().map(list).to_dict()
    assert by_site["one"] == ["BLOCKED"]
    assert by_site["two"] == by_site["three"] == ["UNKNOWN"]
    assert frame[["start_local", "decide_by_utc"]].isna().all(axis=None)
    assert any("three" in note for note in frame.attrs["notes"])


def test_rain_that_is_not_known_sends_nobody(tmp_path):
    rain = [float("nan")] * 240
    jobs = folders.folder_of(tmp_path / "jobs", csv=folders.weather(rain_mm=rain))
    frame = send_crews(jobs, now=NOW, seconds=1)
    assert set(frame["state"]) == {"UNKNOWN"}


def test_sites_on_two_clocks_keep_their_own(tmp_path):
    jobs = folders.folder_of(tmp_path / "jobs", crews=({"name": "Red"}, {"name": "Blue"}))
    folders.add_site(jobs, "west", rates=folders.RATES, zone="America/Denver")
    frame = send_crews(jobs, now=datetime(2026, 6, 1, 9, tzinfo=UTC), seconds=2)
    sent = frame[frame["crew"] != ""]
    assert set(sent["site"]) == {"one", "west"}
    pairs = zip(sent["site"], sent["start_local"], strict=True)
    zones = {site: str(when.tz) for site, when in pairs}
    assert zones == {"one": folders.ZONE, "west": "America/Denver"}
    assert (pd.to_datetime(sent["start_local"], utc=True) == sent["start_utc"]).all()


def test_a_folder_that_is_none_is_one_sentence(tmp_path):
    with pytest.raises(DewgapError, match="cannot be read"):
        send_crews(tmp_path / "nowhere")
    with pytest.raises(DewgapError, match="holds no folder with a site"):
        send_crews(tmp_path)
    jobs = folders.folder_of(tmp_path / "jobs")
    with pytest.raises(DewgapError, match=r"^now: "):
        send_crews(jobs, now="soon")

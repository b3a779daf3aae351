"""Weather files: what is read from them, and the one sentence for each fault."""

import io

import numpy as np
import pandas as pd
import pytest
from outside import library
from pvlib.iotools import read_epw

from windows.errors import HoursError
from windows.flags import Flag
from windows.hours import COLUMNS
from windows.sources import read_weather

HEADER = "time_utc,air_temp_c,dew_point_c,wind_m_s,rain_mm\n"
ROWS = "".join(f"2026-05-01T{hour:02d}:00Z,20.{hour},10,3,0\n" for hour in range(3))


def read(folder, content, name="weather.csv"):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_weather(path)


def fault(folder, content, name="weather.csv"):
    with pytest.raises(HoursError) as caught:
        read(folder, content, name)
    text = str(caught.value)
    assert text.startswith(f"{folder / name}: ")
    assert "\n" not in text
    assert "such rows" not in text
    return text.removeprefix(f"{folder / name}: ")


# --- canonical CSV ---------------------------------------------------------------------------


def test_round_trip_of_a_table_with_every_column(tmp_path):
    rng = np.random.default_rng(5)
    times = pd.date_range("2026-10-31T22:00Z", periods=50, freq="h", name="time_utc")
    frame = pd.DataFrame(
        {
            name: rng.uniform(max(column.low, -5), min(column.high, column.low + 120), 50)
            for name, column in COLUMNS.items()
        },
        index=times,
    )
    frame["air_temp_c"] = rng.uniform(-30, 40, 50)
    frame["dew_point_c"] = frame["air_temp_c"] - rng.uniform(0, 9, 50)
    frame["rel_humidity"] = rng.uniform(0, 1, 50)
    frame = frame.mask(rng.uniform(size=frame.shape) < 0.1)
    frame.iloc[0, :2] = 1.5, -2.0
    text = frame.set_axis(times.strftime("%Y-%m-%dT%H:%MZ")).to_csv(index_label="time_utc")
    found = read(tmp_path, text).frame
    pd.testing.assert_frame_equal(found, frame, check_freq=False, check_index_type=False)


def test_remarks_on_top_tell_source_issue_and_notes(tmp_path):
    top = "# source: my logger\n#issued: 2026-05-01T02:00-04:00\n# note: one\n\n# note: two\n"
    source = read(tmp_path, top + HEADER + ROWS).provenance
    assert source.source == "my logger"
    assert source.issued == pd.Timestamp("2026-05-01T06:00Z")
    assert source.notes == ("one", "two")
    assert source.place.endswith("weather.csv")
    plain = read(tmp_path, HEADER + ROWS).provenance
    assert (plain.source, plain.issued, plain.notes) == ("canonical CSV", None, ())


def test_long_remarks_do_not_hide_the_header(tmp_path):
    assert len(read(tmp_path, f"# note: {'x' * 9000}\n" + HEADER + ROWS).frame) == 3


@pytest.mark.parametrize(
    ("told", "reason"),
    [
        ("", "is not a time"),
        ("soon", "is not a time"),
        ("now", "is not a time"),
        ("2026-05-01T02:00", "has no time zone"),
    ],
)
def test_time_of_issue_is_a_time_with_a_zone(tmp_path, told, reason):
    text = fault(tmp_path, f"# issued: {told}\n" + HEADER + ROWS)
    assert text == (
        f"'# issued: {told}' {reason}; write it as 2026-05-01T18:00Z, or delete the line"
    )


@pytest.mark.parametrize(
    ("cell", "utc"),
    [
        ("2026-05-01T00:00-04:00", "2026-05-01T04:00Z"),
        ("2026-05-01T00:00:00-0400", "2026-05-01T04:00Z"),
        ("2026-05-01 00:00:00+00:00", "2026-05-01T00:00Z"),
        ("2026-05-01T00:30+05:30", "2026-04-30T19:00Z"),
        ("2026-05-01T00:30Z", "2026-05-01T00:30Z"),
        ('"2026-05-01T00:00Z"', "2026-05-01T00:00Z"),
    ],
)
def test_offsets_of_any_kind(tmp_path, cell, utc):
    assert read(tmp_path, f"{HEADER}{cell},20,10,3,0\n").index[0] == pd.Timestamp(utc)


def test_offsets_may_change_with_the_clock(tmp_path):
    rows = ["2026-11-01T01:00-04:00", "2026-11-01T01:00-05:00", "2026-11-01T02:00-05:00"]
    found = read(tmp_path, HEADER + "".join(f"{row},20,10,3,0\n" for row in rows))
    assert found.index[0] == pd.Timestamp("2026-11-01T05:00Z")
    assert len(found.index) == 3
    assert found.warnings == ()


def test_humidity_in_place_of_the_dew_point(tmp_path):
    found = read(
        tmp_path, (HEADER + ROWS).replace("dew_point_c", "rel_humidity").replace("10", ".5")
    )
    assert found.column("rel_humidity").tolist() == [0.5] * 3
    assert found.column("dew_point_c") is None


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.replace("\n", "\r").encode(),
        lambda text: b"\xef\xbb\xbf" + text.encode(),
        lambda text: text.rstrip("\n").encode(),
        lambda text: (text + "\n,,,,\n\n").encode(),
        lambda text: text.replace(",", " , ").encode(),
        lambda text: text.replace("time_utc", '"time_utc"').encode(),
    ],
    ids=["windows", "old mac", "bom", "no last end", "blank rows", "spaces", "quotes"],
)
@pytest.mark.parametrize("top", ["", "# source: a logger\n\n"])
def test_forms_of_one_table(tmp_path, change, top):
    found = read(tmp_path, change(top + HEADER + ROWS))
    assert found.column("air_temp_c").tolist() == [20.0, 20.1, 20.2]
    assert found.provenance.source == ("a logger" if top else "canonical CSV")
    assert found.warnings == ()


@pytest.mark.parametrize("cell", ["", "NA", "nan", "null", "N/A", "None", " "])
def test_empty_cell_is_unknown_and_never_zero(tmp_path, cell):
    found = read(tmp_path, HEADER + ROWS + f"2026-05-01T03:00Z,20,10,3,{cell}\n")
    assert np.isnan(found.column("rain_mm")).tolist() == [False, False, False, True]
    assert found.warnings == ("rain_mm unknown in 1 of 4 hours",)


def test_trace_may_be_true_or_false(tmp_path):
    text = "time_utc,air_temp_c,dew_point_c,wind_m_s,rain_mm,rain_trace\n"
    for hour, cell in enumerate(("True", "false", "1", "0", "")):
        text += f"2026-05-01T{hour:02d}:00Z,20,10,3,0,{cell}\n"
    found = read(tmp_path, text).column("rain_trace")
    np.testing.assert_array_equal(found, [1, 0, 1, 0, np.nan])
    assert "line 2: wind_m_s is 'True'" in fault(
        tmp_path, HEADER + "2026-05-01T00:00Z,20,10,True,0\n"
    )


MEND_NUMBER = "mend it, or leave the cell empty if it is not known"
MEND_TIME = "write the start of the hour as 2026-05-01T18:00Z"
KNOWN = "dewgap weather sources lists the kinds, and a logger's table needs --mapping"
ROW = "2026-05-01T03:00Z,20,10,3,0\n"

FAULTS = {
    "header only": (HEADER, ["the table has a header and no rows; add hourly rows"]),
    "empty": ("", ["the file is empty; give a table with a header and hourly rows"]),
    "blank": (" \n\n", ["the file is empty"]),
    "mark of UTF-8 only": (b"\xef\xbb\xbf", ["the file is empty"]),
    "remarks only": ("# a\n# b\n", ["there is nothing below the # lines; add a header"]),
    "wrong header": (
        "date,temp\n1,2\n",
        ["not a weather file of a known kind", "'date,temp'", KNOWN],
    ),
    "no header": (ROWS, ["not a weather file of a known kind", KNOWN]),
    "long line": ("x" * 900, ["begins with '" + "x" * 57 + "...'"]),
    "web page": ("<!DOCTYPE html>\n<html></html>", ["begins with '<!DOCTYPE html>'"]),
    "binary": (bytes(range(256)) * 9, ["bytes that are no text", KNOWN]),
    "gzip": (b"\x1f\x8b\x08\x00\x00" + bytes(900), ["the compressed file is broken"]),
    "other letters": (
        "# source: café\n".encode("latin-1") + (HEADER + ROWS).encode(),
        ["not UTF-8 text at byte 13; save the file as UTF-8"],
    ),
    "semicolons": (
        (HEADER + ROWS).replace(",", ";"),
        ["line 1: columns are separated by semicolons; save with commas"],
    ),
    "tabs": (
        "# a\n" + (HEADER + ROWS).replace(",", "\t"),
        ["line 2: columns are separated by tabs"],
    ),
    "misspelt column": (
        "# a\n\n" + HEADER.replace("air_temp_c", "air_tmp_c") + ROWS,
        [
            "line 3: column 'air_tmp_c' is not known: rename or delete it",
            "did you mean 'air_temp_c'?",
        ],
    ),
    "capitals": (
        HEADER.upper() + ROWS,
        ["column 'TIME_UTC' is not known", "did you mean 'time_utc'?"],
    ),
    "unknown column": (
        HEADER.strip() + ",soil\n" + ROWS,
        ["column 'soil' is not known", "known: air_temp_c, cloud"],
    ),
    "column without a name": (
        HEADER.strip() + ",\n" + ROWS,
        ["column 6 has no name; name it or delete it"],
    ),
    "column twice": (
        HEADER.strip() + ",rain_mm\n" + ROWS,
        ["column 'rain_mm' is there twice; keep one of them"],
    ),
    "no time": (
        HEADER.replace("time_utc,", "") + "1,1,1,1\n",
        ["column 'time_utc' is missing; add"],
    ),
    "no rain": (
        "time_utc,air_temp_c,dew_point_c,wind_m_s\n2026-05-01T03:00Z,20,10,3\n",
        ["column 'rain_mm' (rain and melted snow that fell in the hour, mm) is missing; add it"],
    ),
    "text for a number": (
        HEADER + ROWS + ROW.replace("20", "warm", 2).replace("warm", "20", 1),
        [f"line 5: air_temp_c is 'warm', not a number; {MEND_NUMBER}"],
    ),
    "text for a number under remarks": (
        "# a\n# b\n\n" + HEADER + "\n" + ROWS + ROW.replace(",10,", ",damp,"),
        ["line 9: dew_point_c is 'damp', not a number"],
    ),
    "decimal comma": (
        HEADER + '2026-05-01T03:00Z,"20,5",10,3,0\n',
        ["line 2: air_temp_c is '20,5'"],
    ),
    "infinite": (HEADER + ROW.replace(",3,", ",inf,"), ["wind_m_s of inf m/s", "is not possible"]),
    "number too long": (
        HEADER + ROW.replace(",3,", "," + "9" * 400 + ","),
        ["wind_m_s of inf m/s"],
    ),
    "naive time": (
        HEADER + ROWS + ROW.replace("Z", ""),
        [f"line 5: time_utc '2026-05-01T03:00' has no time zone; {MEND_TIME}"],
    ),
    "day only": (
        HEADER + ROW.replace("T03:00Z", ""),
        ["line 2: time_utc '2026-05-01' has no time zone"],
    ),
    "no date": (
        HEADER + ROWS + ROW.replace("2026-05-01T03:00Z", "tomorrow"),
        [f"line 5: time_utc 'tomorrow' is not a time; {MEND_TIME}"],
    ),
    "words of pandas": (
        HEADER + ROW.replace("2026-05-01T03:00Z", "now"),
        ["time_utc 'now' is not a time"],
    ),
    "no such day": (HEADER + ROW.replace("05-01", "02-30"), ["'2026-02-30T03:00Z' is not a time"]),
    "American date": (
        HEADER + ROW.replace("2026-05-01T03:00Z", "05/01/2026 03:00Z"),
        ["is not a time"],
    ),
    "number for a date": (
        HEADER + ROW.replace("2026-05-01T03:00Z", "1777604400"),
        ["is not a time"],
    ),
    "empty time": (HEADER + ROWS + ",20,10,3,0\n", [f"line 5: time_utc is empty; {MEND_TIME}"]),
    "too many cells": (
        HEADER + ROWS + ROW.replace(",0", ",0,7"),
        ["line 5 has 6 cells, but the header has 5 columns"],
    ),
    "too many cells in every row": (
        HEADER + ROWS.replace(",0\n", ",0,\n"),
        ["line 2 has 6 cells, but the header has 5 columns"],
    ),
    "cut in a row": (
        HEADER + ROWS + "2026-05-01T03:00Z,2",
        ["line 5 has 2 cells, but the header has 5 columns"],
    ),
    "cut in the first cell": (HEADER + ROWS + "2026-05", ["line 5 has 1 cell, but"]),
    "quotation mark": (
        HEADER + ROWS + '"' + ROW,
        ["line 5 or one below it has a quotation mark that does not close"],
    ),
    "remark between rows": (HEADER + ROWS + "# rain\n" + ROW, ["line 5 has 1 cell, but"]),
    "Fahrenheit": (
        HEADER + ROW.replace(",20,", ",72,"),
        ["looks like degF (72 degF is 22.2 degC)"],
    ),
    "percent": (
        (HEADER + ROW).replace("dew_point_c", "rel_humidity").replace(",10,", ",55,"),
        ["rel_humidity of 55 at 2026-05-01 03:00 UTC", "looks like percent"],
    ),
    "dew point above air": (
        HEADER + ROW.replace(",10,", ",25,"),
        ["dew_point_c is above air_temp_c at 2026-05-01 03:00 UTC"],
    ),
    "clash": (
        HEADER + ROWS + ROWS[:-2] + "1\n",
        ["two rows for 2026-05-01 02:00 UTC differ; keep the right one"],
    ),
}


@pytest.mark.parametrize(("content", "parts"), FAULTS.values(), ids=FAULTS)
def test_fault_of_a_csv_is_one_plain_sentence(tmp_path, content, parts):
    text = fault(tmp_path, content)
    for part in parts:
        assert part in text


def test_folder_and_missing_file(tmp_path):
    with pytest.raises(HoursError, match=r"cannot be read \(Is a directory\)"):
        read_weather(tmp_path)
    with pytest.raises(HoursError, match="no such weather file; check the path"):
        read_weather(tmp_path / "nothing.csv")
    with pytest.raises(HoursError, match="cannot be read"):
        read_weather(tmp_path / ("x" * 300))


# --- EPW ---------------------------------------------------------------------------------------

TOP = """LOCATION,Test Field,-,IND,TEST,000000,{latitude},{longitude},{zone},10.0
DESIGN CONDITIONS,0
TYPICAL/EXTREME PERIODS,0
GROUND TEMPERATURES,0
HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
COMMENTS 1,made up
COMMENTS 2,made up
DATA PERIODS,1,1,Data,Sunday,1/1,12/31
"""
FIELDS = {
    "air": 6, "dew": 7, "rh": 8, "pressure": 9, "longwave": 12, "ghi": 13, "wind": 21,
    "cloud": 22, "rain": 33, "span": 34,
}  # fmt: skip


def epw_row(year, month, day, hour, **given):
    fields = [str(year), str(month), str(day), str(hour), "60", "?9?9?9?9E0", *["0"] * 29]
    values = {
        "air": 20, "dew": 10, "rh": 53, "pressure": 101000, "longwave": 330, "ghi": 0,
        "wind": 3, "cloud": 4, "rain": 0, "span": 1,
    } | given  # fmt: skip
    for name, value in values.items():
        fields[FIELDS[name]] = str(value)
    return ",".join(fields)


def epw(rows, zone=-5.0):
    top = TOP.format(latitude=40.6, longitude=-73.8, zone=zone)
    return top + "\n".join(rows) + "\n"


def ramp(n=24, year=2013, month=3, day=10, **given):
    """Rows in which each value tells the hour of its label, and it rains at labels 5 and 24."""
    return [
        epw_row(
            year, month, day + (hour - 1) // 24, (hour - 1) % 24 + 1,
            **{
                "air": hour / 10, "dew": hour / 10 - 5, "rh": hour, "wind": hour / 4,
                "pressure": 100000 + hour, "ghi": 10 * hour, "longwave": 300 + hour,
                "rain": 1.5 if hour in (5, 24) else 0,
            } | given,
        )
        for hour in range(1, n + 1)
    ]  # fmt: skip


def at(found, name, utc):
    return found.frame[name][pd.Timestamp(utc)]


def test_labels_of_an_epw(tmp_path):
    found = read(tmp_path, epw(ramp()), "a.epw")
    # Label 5 is 05:00 of standard time, 10:00 UTC, also on the day on which summer time begins.
    assert at(found, "air_temp_c", "2013-03-10T10:00Z") == 0.5
    assert at(found, "dew_point_c", "2013-03-10T10:00Z") == -4.5
    assert at(found, "rel_humidity", "2013-03-10T10:00Z") == pytest.approx(0.05)
    assert at(found, "pressure_hpa", "2013-03-10T10:00Z") == pytest.approx(1000.05)
    assert at(found, "wind_m_s", "2013-03-10T10:00Z") == 1.25
    assert at(found, "cloud", "2013-03-10T10:00Z") == pytest.approx(0.4)
    assert at(found, "rain_mm", "2013-03-10T09:00Z") == 1.5
    assert at(found, "ghi_w_m2", "2013-03-10T09:00Z") == 50
    assert at(found, "longwave_w_m2", "2013-03-10T09:00Z") == 305
    assert (found.frame["rain_mm"] > 0).sum() == 2
    assert at(found, "rain_mm", "2013-03-11T04:00Z") == 1.5, "label 24 ends the day"


def test_the_first_label_begins_the_table_and_its_last_row_has_no_rain(tmp_path):
    found = read(tmp_path, epw(ramp()), "a.epw")
    assert len(found.index) == 24
    assert found.column("air_temp_c")[0] == 0.1
    assert found.column("rain_mm")[0] == 0
    assert np.isnan(found.column("rain_mm")[-1])
    assert found.column("air_temp_c")[-1] == 2.4


@pytest.mark.parametrize(
    ("zone", "utc"),
    [
        (5.5, "2013-03-09T23:30Z"),
        (5.75, "2013-03-09T23:15Z"),
        (-3.5, "2013-03-10T08:30Z"),
        (0, "2013-03-10T05:00Z"),
    ],
)
def test_standard_time_of_any_zone(tmp_path, zone, utc):
    found = read(tmp_path, epw(ramp(), zone), "a.epw")
    assert at(found, "air_temp_c", utc) == 0.5


@pytest.mark.parametrize(
    ("field", "code", "column"),
    [
        ("air", 99.9, "air_temp_c"),
        ("dew", 99.9, "dew_point_c"),
        ("rh", 999, "rel_humidity"),
        ("pressure", 999999, "pressure_hpa"),
        ("longwave", 9999, "longwave_w_m2"),
        ("ghi", 9999, "ghi_w_m2"),
        ("wind", 999, "wind_m_s"),
        ("cloud", 99, "cloud"),
        ("rain", 999, "rain_mm"),
    ],
)
def test_missing_codes_are_unknown(tmp_path, field, code, column):
    rows = ramp()
    rows[9] = epw_row(2013, 3, 10, 10, **{field: code})
    found = read(tmp_path, epw(rows), "a.epw")
    hour = "14:00" if field in {"longwave", "ghi", "rain"} else "15:00"
    assert np.isnan(at(found, column, f"2013-03-10T{hour}Z"))
    without_a_label = field in {"longwave", "ghi", "rain"}
    assert found.frame[column].isna().sum() == 1 + without_a_label


def test_rain_gathered_over_hours_is_a_block_of_them(tmp_path):
    rows = ramp()
    rows[11] = epw_row(2013, 3, 10, 12, rain=4, span=6)
    found = read(tmp_path, epw(rows), "a.epw")
    block = found.frame["rain_block_h"] == 6
    hours = pd.date_range("2013-03-10T11:00Z", periods=6, freq="h")
    assert list(found.index[block]) == list(hours)
    assert found.frame["rain_mm"][block].tolist() == pytest.approx([4 / 6] * 6)
    assert (found.flags["rain_mm"][block] == Flag.BLOCK).all()
    assert any("gathered over several hours 1 times" in text for text in found.warnings)


def test_dry_span_is_dry_and_unknown_span_is_unknown(tmp_path):
    rows = ramp()
    rows[11] = epw_row(2013, 3, 10, 12, rain=0, span=6)
    assert not np.isnan(read(tmp_path, epw(rows), "a.epw").column("rain_mm")[:-1]).any()
    rows[11] = epw_row(2013, 3, 10, 12, rain=2, span=99)
    found = read(tmp_path, epw(rows), "a.epw")
    assert found.index[np.isnan(found.column("rain_mm"))][0] == pd.Timestamp("2013-03-10T16:00Z")


def test_rain_of_nothing_but_zeros_was_not_measured(tmp_path):
    found = read(tmp_path, epw(ramp(rain=0)), "a.epw")
    assert np.isnan(found.column("rain_mm")).all()
    assert "rain is zero in every row, so it was not measured: unknown" in found.warnings
    found = read(tmp_path, epw(ramp(rain=999)), "a.epw")
    assert np.isnan(found.column("rain_mm")).all()
    assert not any("zero" in text for text in found.warnings)


def test_months_of_several_years_become_one_year(tmp_path):
    rows = ramp(48, year=2004, month=1, day=30)[:48] + ramp(24, year=1999, month=2, day=1)
    found = read(tmp_path, epw(rows), "a.epw")
    assert set(found.index.year) == {2025}
    assert any("several years; all are dated 2025" in text for text in found.warnings)
    assert len(found.index) == 72


def test_real_hours_over_new_year_keep_their_years(tmp_path):
    rows = ramp(year=2013, month=12, day=31) + ramp(year=2014, month=1, day=1)
    found = read(tmp_path, epw(rows), "a.epw")
    assert set(found.index.year) == {2013, 2014}
    assert not any("several years" in text for text in found.warnings)


def cut(text, n):
    return text[: len(text) - n]


EPW_FAULTS = {
    "no such day": (
        epw([*ramp(3), epw_row(2013, 2, 30, 4)]),
        ["line 12: there is no hour 4 of 2013-2-30"],
    ),
    "hour 25": (
        epw([*ramp(3), epw_row(2013, 3, 10, 25)]),
        ["line 12: there is no hour 25", "from 1 to 24"],
    ),
    "hour 0": (epw([epw_row(2013, 3, 10, 0)]), ["line 9: there is no hour 0"]),
    "cut in a row": (cut(epw(ramp(4)), 30), ["line 12 has ", "fields of the 35 of an EPW row"]),
    "cut in the header": (TOP[:60], ["line 1: the LOCATION record has no time zone"]),
    "header only": (epw([]), ["there are no rows after the 8 header lines; use a whole file"]),
    "text for a number": (
        epw([*ramp(3), epw_row(2013, 3, 10, 4, dew="dry")]),
        ["line 12: field 8 is 'dry', not a number"],
    ),
    "no zone": (
        epw(ramp(), "east"),
        ["line 1: the LOCATION record has no time zone from -12 to 14 h"],
    ),
    "nan zone": (epw(ramp(), "nan"), ["line 1: the LOCATION record has no time zone"]),
    "far zone": (epw(ramp(), 99), ["line 1: the LOCATION record has no time zone"]),
}


def test_single_faults_of_an_epw_are_unknown_and_flagged(tmp_path):
    found = read(tmp_path, epw([*ramp(3, rh=50), epw_row(2013, 3, 10, 4, wind=80)]), "a.epw")
    assert np.isnan(at(found, "wind_m_s", "2013-03-10T09:00Z"))
    assert found.flags["wind_m_s"].tolist() == [0, 0, 0, Flag.RANGE]
    assert any("wind_m_s of 80 m/s at 2013-03-10 09:00 UTC" in text for text in found.warnings)
    found = read(tmp_path, epw([*ramp(3, rh=50), epw_row(2013, 3, 10, 2)]), "a.epw")
    assert np.isnan(at(found, "air_temp_c", "2013-03-10T07:00Z"))
    assert any("rows of one hour differ" in text for text in found.warnings)
    many = [epw_row(2013, 3, 10, hour, air=68) for hour in range(1, 20)]
    with pytest.raises(HoursError, match="looks like degF"):
        read(tmp_path, epw(many), "a.epw")


@pytest.mark.parametrize(("content", "parts"), EPW_FAULTS.values(), ids=EPW_FAULTS)
def test_fault_of_an_epw_is_one_plain_sentence(tmp_path, content, parts):
    text = fault(tmp_path, content, "a.epw")
    for part in parts:
        assert part in text


def test_epw_is_told_by_its_content_and_forms_of_line_ends_do_not_matter(tmp_path):
    plain = read(tmp_path, epw(ramp()), "a.csv")
    assert plain.provenance.source == "EPW weather year of Test Field"
    windows = read(tmp_path, b"\xef\xbb\xbf" + epw(ramp()).replace("\n", "\r\n").encode(), "b.epw")
    pd.testing.assert_frame_equal(plain.frame, windows.frame)


def test_epw_warns_that_its_rain_is_no_history(tmp_path):
    assert any("rain" in text for text in read(tmp_path, epw(ramp()), "a.epw").warnings)


@pytest.mark.parametrize("zone", [-5.0, 5.5])
def test_epw_equals_the_reader_of_pvlib(tmp_path, zone, outside):
    same = {"within": 1e-5, "unit": "%", "source": library("pvlib", "read_epw"), "why": "rounding"}
    what = "EPW, rows, labels and units, two zones, 9 columns"
    rows = ramp(72, day=8)
    found = read(tmp_path, epw(rows, zone), "a.epw").frame
    theirs, _ = read_epw(io.StringIO(epw(rows, zone)))
    # pvlib labels every value with the START of its hour: radiation as here, readings one earlier.
    starts = theirs.index.tz_convert("UTC")
    labels = starts + pd.Timedelta(hours=1)
    for ours, name, factor in (
        ("air_temp_c", "temp_air", 1),
        ("dew_point_c", "temp_dew", 1),
        ("wind_m_s", "wind_speed", 1),
        ("rel_humidity", "relative_humidity", 0.01),
        ("pressure_hpa", "atmospheric_pressure", 0.01),
        ("cloud", "total_sky_cover", 0.1),
    ):
        outside.agree(what, found[ours].loc[labels], theirs[name] * factor, **same)
    for ours, name in (
        ("ghi_w_m2", "ghi"),
        ("longwave_w_m2", "ghi_infrared"),
        ("rain_mm", "liquid_precipitation_depth"),
    ):
        outside.agree(what, found[ours].loc[starts[1:]], theirs[name][1:], **same)

"""Files of stations, typical years and the table's own form: labels, marks, totals, faults."""

import gzip
from pathlib import Path

import invented_week as week
import numpy as np
import pandas as pd
import pvlib
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from one_sentence import one_sentence
from outside import library

from cure_models import load_profile
from windows.answer import Answer
from windows.errors import HoursError
from windows.flags import Flag
from windows.gates import State
from windows.hours import check_hours
from windows.job import run_job
from windows.provenance import KINDS, Location, Provenance
from windows.site import load_site
from windows.sources import (
    FORMATS,
    canonical_csv,
    ghcnh,
    isd_lite,
    logger_mapping,
    meteostat,
    read_weather,
    tmy3,
)
from windows.sources.blocks import fill_from_totals

DEMO = Path(__file__).parents[3] / "demo_sites" / "cool_north"
PVLIB_DATA = Path(pvlib.__file__).parent / "data"
UNKNOWN = np.nan


def day(hour):
    return f"2025-06-10T{hour:02d}:00Z"


def at(found, name, hour):
    return found.frame[name][pd.Timestamp(day(hour))]


# --- ISD-Lite --------------------------------------------------------------------------------


def isd_row(hour, air=150, dew=80, wind=30, sky=4, one=0, six=-9999):
    cells = "".join(f"{value:6d}" for value in (air, dew, 10100, 180, wind, sky, one, six))
    return f"2025 06 10 {hour:02d}{cells}"


def isd(*rows):
    return isd_lite.parse(("\n".join(rows) + "\n").encode(), "here")


def isd_day(ones, **labels):
    """Return a table of labels 0 to 12 with rain of the hour before each, and totals by label."""
    totals = {int(name[1:]): total for name, total in labels.items()}
    rows = [isd_row(h, one=one, six=totals.get(h, -9999)) for h, one in enumerate(ones)]
    return isd(*rows)


def test_readings_of_isd_lite_stand_at_the_label_and_rain_in_the_hour_before():
    found = isd(*(isd_row(h, 100 + h, 50 - h, 10 + h, h, 12 * (h == 3)) for h in range(6)))
    assert at(found, "air_temp_c", 3) == pytest.approx(10.3)
    assert at(found, "dew_point_c", 3) == pytest.approx(4.7)
    assert at(found, "wind_m_s", 3) == pytest.approx(1.3)
    assert at(found, "cloud", 3) == 3 / 8
    assert found.frame["rain_mm"].tolist()[:5] == [0, 0, 1.2, 0, 0]
    assert np.isnan(found.column("rain_mm")[-1])
    assert "rain_block_h" not in found.frame


def test_trace_of_isd_lite_is_no_depth_and_wet():
    found = isd(isd_row(0), isd_row(1, one=-1), isd_row(2), isd_row(3, one=-9999))
    assert found.column("rain_mm")[:2].tolist() == [0, 0]
    assert found.column("rain_trace")[:2].tolist() == [1, 0]
    assert np.isnan(found.column("rain_mm")[2:]).all()
    assert np.isnan(found.column("rain_trace")[2:]).all()


@pytest.mark.parametrize(
    ("field", "column", "hour"),
    [
        ("air", "air_temp_c", 2),
        ("dew", "dew_point_c", 2),
        ("wind", "wind_m_s", 2),
        ("sky", "cloud", 2),
        ("one", "rain_mm", 1),
    ],
)
def test_missing_mark_of_isd_lite_is_unknown(field, column, hour):
    rows = [isd_row(h, **({field: -9999} if h == 2 else {})) for h in range(4)]
    unknown = isd(*rows).frame[column].isna()
    assert unknown[pd.Timestamp(day(hour))]
    assert unknown.sum() == 1 + (field == "one")  # no label ends the last hour


def test_hour_without_a_row_of_isd_lite_is_unknown():
    found = isd(isd_row(0), isd_row(1), isd_row(3))
    assert np.isnan(at(found, "air_temp_c", 2))
    assert found.frame["rain_mm"].isna().tolist() == [False, True, False, True]


GAP = [0, 0, 0, 10, -9999, -9999, 0]  # labels 0 to 6: the hours 3 and 4 are missing


@pytest.mark.parametrize(
    ("total", "share", "trace", "block"),
    [
        (30, 0.5, 0, 6),
        (10, 10 / 60, 0, 6),  # all of it may be told already; still they count as rainy
        (9, UNKNOWN, UNKNOWN, 1),  # less than what is known: a contradiction
        (-9999, UNKNOWN, UNKNOWN, 1),
    ],
)
def test_total_of_six_hours_serves_unknown_hours_alone(total, share, trace, block):
    found = isd_day(GAP, h6=total).frame
    assert found["rain_mm"].iloc[[0, 1, 2, 5]].tolist() == [0, 0, 1.0, 0]
    np.testing.assert_allclose(found["rain_mm"].iloc[[3, 4]], share)
    np.testing.assert_equal(found["rain_trace"].iloc[[3, 4]].tolist(), [trace, trace])
    if block > 1:
        assert found["rain_block_h"].iloc[:6].tolist() == [1, 1, 1, block, block, 1]
    else:
        assert "rain_block_h" not in found


def test_flags_of_a_total_are_those_of_the_hours_that_it_serves():
    found = isd_day(GAP, h6=30)
    assert found.flags["rain_mm"].tolist() == [0, 0, 0, Flag.BLOCK, Flag.BLOCK, 0, 0]


@pytest.mark.parametrize(("total", "trace"), [(0, 0), (-1, 1)])
def test_total_of_none_makes_the_hours_dry_and_a_trace_wet(total, trace):
    found = isd_day([0] * 5 + [-9999, -9999], h6=total)
    assert found.column("rain_mm")[:6].tolist() == [0] * 6
    assert found.column("rain_trace")[:6].tolist() == [0] * 4 + [trace] * 2
    assert "rain_block_h" not in found.frame
    assert found.flags == {}


def test_total_that_begins_before_the_file_is_not_used():
    found = isd_day([-9999] * 4, h3=12)
    assert np.isnan(found.column("rain_mm")).all()


def served_in_turn(rain, total, hours):
    """Return rain, and hours that a total doubts, each total held against its hours in turn."""
    rain, doubted = list(rain), [False] * len(rain)
    for row in range(hours - 1, len(rain)):
        span = range(row + 1 - hours, row + 1)
        gaps = [hour for hour in span if np.isnan(rain[hour])]
        missed = total[row] - sum(rain[hour] for hour in span if hour not in gaps)
        short = not gaps and missed >= 0.2
        if np.isnan(total[row]) or missed < -1e-9 or not (gaps or short):
            continue
        for hour in span:
            doubted[hour] = short
        for hour in span if short else gaps:
            rain[hour] = rain[hour] + missed / hours if short else total[row] / hours
    return rain, doubted


# Eighths add up without rounding, so that a total is at 0.25 or not.
EIGHTHS = st.sampled_from([UNKNOWN, 0.0, 0.0, 0.125, 0.25, 1.0, 2.5])


@given(st.lists(st.tuples(EIGHTHS, EIGHTHS), min_size=1, max_size=40), st.integers(2, 12))
def test_totals_serve_in_their_order(pairs, hours):
    rain, total = (np.array(each) for each in zip(*pairs, strict=True))
    columns = {
        "rain_mm": rain.copy(), "rain_trace": rain * 0, "rain_block_h": np.ones(len(rain)),
    }  # fmt: skip
    doubted = fill_from_totals(columns, total, np.zeros(len(rain), dtype=bool), hours)
    expected, expected_doubted = served_in_turn(rain, total, hours)
    np.testing.assert_allclose(columns["rain_mm"], expected)
    assert doubted.tolist() == expected_doubted


def test_totals_of_two_spans_do_not_mix():
    found = isd_day([0, *[-9999] * 12], h6=60, h12=0).frame["rain_mm"]
    assert found.tolist()[:12] == [1.0] * 6 + [0.0] * 6


@pytest.mark.parametrize(
    ("code", "cover"),
    [
        *((eighths, eighths / 8) for eighths in range(9)),
        (9, 1), (10, UNKNOWN), (11, 3.5 / 8), (13, 3.5 / 8), (14, 0.75), (16, 0.75), (17, 1),
        (19, 1), (20, UNKNOWN), (-9999, UNKNOWN),
    ],
)  # fmt: skip
def test_sky_codes_of_isd_lite(code, cover):
    np.testing.assert_equal(isd(isd_row(0, sky=code), isd_row(1)).column("cloud")[0], cover)


ISD_FAULTS = {
    "eleven columns": ("\n".join([isd_row(0), isd_row(1)[:-6]]), ["line 2", "twelve"]),
    "text": (isd_row(0) + "\nnothing\n", ["line 2", "twelve"]),
    "hour 24": (isd_row(0) + "\n" + isd_row(24), ["row 2 has no hour"]),
    "30 February": (isd_row(0).replace(" 06 10", " 02 30"), ["row 1 has no hour"]),
    "unit": ("\n".join(isd_row(h, air=5900 + h) for h in range(20)), ["air_temp_c", "20 such"]),
}


@pytest.mark.parametrize(("text", "parts"), ISD_FAULTS.values(), ids=ISD_FAULTS)
def test_fault_of_isd_lite_is_one_sentence(text, parts):
    one_sentence(isd_lite.parse, text.encode(), *parts)


@pytest.mark.parametrize("wet_first", [False, True])
def test_rows_of_isd_lite_for_one_hour_that_differ_are_wet_or_unknown(wet_first):
    twice = [isd_row(1, air=150, one=0), isd_row(1, air=90, one=20)]
    found = isd(isd_row(0), *(twice[::-1] if wet_first else twice), isd_row(2))
    assert at(found, "rain_mm", 0) != 0
    assert np.isnan(at(found, "air_temp_c", 1))
    assert any("differ" in text for text in found.warnings)


# --- GHCNh -----------------------------------------------------------------------------------

PLAIN = {"temperature": "15.0", "dew_point_temperature": "8.0", "wind_speed": "3.0"}


def reports(*given, parts=True, date=True):
    """Return a file of reports: time of the day, and values; NAME_code and NAME_quality too."""
    rows = []
    for clock, values in given:
        time = pd.Timestamp(f"2025-06-{10 + int(clock[:2]) // 24}T{int(clock[:2]) % 24}{clock[2:]}")
        row = {"Station_ID": "X", "Latitude": "40.0", "Longitude": "-83.0", "Elevation": "250.0"}
        if date:
            row["DATE"] = f"{time:%Y-%m-%dT%H:%M:%S}"
        if parts:
            names = ("Year", "Month", "Day", "Hour", "Minute")
            row |= {name: str(getattr(time, name.lower())) for name in names}
        row |= {"temperature_Measurement_Code": ""}
        for name, value in (PLAIN | values).items():
            row[name.replace("_code", "_Measurement_Code").replace("_quality", "_Quality_Code")] = (
                value
            )
        rows.append(row)
    return pd.DataFrame(rows).fillna("").to_csv(sep="|", index=False).encode()


def station(*given, **options):
    return ghcnh.parse(reports(*given, **options), "here")


def hourly_at_53(n, **values):
    return [(f"{hour:02d}:53", {"precipitation": "0.0"} | values) for hour in range(n)]


def rain(amount, code=""):
    return {"precipitation": amount, "precipitation_code": code}


def test_report_nearest_to_the_hour_tells_its_readings():
    found = station(
        ("11:40", {"temperature": "11.4", "wind_speed": "1.4"}),
        ("11:53", {"temperature": "11.5", "wind_speed": ""}),
        ("12:05", {"temperature": "12.1", "wind_speed": "2.1"}),
        ("12:20", {"temperature": "12.2", "wind_speed": "2.2"}),
        ("12:40", {"temperature": "12.4", "wind_speed": "2.4"}),
    )
    assert at(found, "air_temp_c", 12) == 12.1
    assert at(found, "wind_m_s", 12) == 2.1
    assert at(found, "air_temp_c", 13) == 12.4


def test_readings_of_ghcnh_have_their_units():
    found = station(("11:53", {"relative_humidity": "63", "station_level_pressure": "988.5",
                               "wind_gust": "9.0", "sky_cover_1": "SCT:04"}))  # fmt: skip
    assert at(found, "rel_humidity", 12) == pytest.approx(0.63)
    assert at(found, "pressure_hpa", 12) == 988.5
    assert at(found, "cloud", 12) == 0.5
    assert found.provenance.location == Location("X", 40.0, -83.0, 250.0)


@pytest.mark.parametrize(
    ("given", "amount", "trace"),
    [
        ([("11:53", rain("0.0"))], 0, 0),
        ([("11:53", rain("1.2"))], 1.2, 0),
        ([("12:00", rain("1.2"))], 1.2, 0),
        ([("11:45", rain("0.0"))], 0, 0),
        ([("11:44", rain("0.0"))], UNKNOWN, UNKNOWN),  # it does not close the hour
        ([("11:20", rain("0.3")), ("11:53", rain("0.8"))], 0.8, 0),
        ([("11:20", rain("0.3")), ("11:53", rain("0.0"))], 0.3, 0),
        ([("11:20", rain("0.0")), ("11:53", rain(""))], UNKNOWN, UNKNOWN),
        ([("11:53", rain(""))], UNKNOWN, UNKNOWN),
        ([("11:53", rain("0.0", "T"))], 0, 1),
        ([("11:53", rain("0.2", "t"))], 0.2, 0),  # the amount stands against the code
        ([("11:53", rain("", "T"))], 0, 1),
        ([("11:20", rain("0.0", "T")), ("11:53", rain("0.0"))], 0, 1),
        ([("11:20", rain("0.0", "T")), ("11:53", rain("0.5"))], 0.5, 0),
    ],
)
def test_rain_of_reports(given, amount, trace):
    found = station(("10:53", {}), *given, ("13:53", rain("0.0")))
    np.testing.assert_equal(at(found, "rain_mm", 11), amount)
    np.testing.assert_equal(at(found, "rain_trace", 11), trace)


def test_rain_of_an_hour_that_no_report_closes_is_not_known_in_full():
    """A first part is wet, but how much fell afterward is not known."""
    found = station(("10:53", {}), ("11:20", rain("0.1")), ("11:53", rain("")))
    assert at(found, "rain_mm", 11) != pytest.approx(0.1)


@pytest.mark.parametrize("hours", [3, 6, 12, 24])
@pytest.mark.parametrize(
    ("total", "code", "share", "trace"),
    [("4.8", "", 4.8, 0), ("0.0", "", 0, 0), ("0.0", "T", 0, 1), ("0.4", "", UNKNOWN, UNKNOWN)],
)
def test_totals_of_ghcnh_serve_hours_that_are_missing(hours, total, code, share, trace):
    name = f"precipitation_{hours}_hour"
    given = hourly_at_53(26)
    before = ("00:00", {})  # the table begins with the first reading
    known = "0.5" if share else "0.0"
    given[24 - hours][1]["precipitation"] = known if total != "0.0" else "0.0"
    for hour in range(25 - hours, 24):
        given[hour][1]["precipitation"] = ""
    given[23][1].update({name: total, f"{name}_code": code})
    frame = station(before, *given).frame
    served = frame.loc[day(25 - hours) : day(23)]
    np.testing.assert_allclose(served["rain_mm"], share / hours)
    np.testing.assert_equal(served["rain_trace"].to_numpy(), float(trace))
    assert frame["rain_mm"][pd.Timestamp(day(24 - hours))] == float(
        given[24 - hours][1]["precipitation"]
    )
    if share > 0:
        assert (served["rain_block_h"] == hours).all()
        assert (frame["rain_block_h"] > 1).sum() == hours - 1
    else:
        assert "rain_block_h" not in frame


def test_shorter_total_comes_first():
    given = [(clock, {}) for clock, _ in hourly_at_53(7)]
    given[6][1].update({"precipitation_3_hour": "0.0", "precipitation_6_hour": "3.0"})
    frame = station(*given).frame
    assert frame.loc[day(4) : day(6), "rain_mm"].tolist() == [0, 0, 0]
    assert frame.loc[day(1) : day(3), "rain_mm"].tolist() == pytest.approx([0.5] * 3)


@pytest.mark.parametrize("name", ["temperature", "wind_speed", "precipitation"])
@pytest.mark.parametrize(
    ("code", "sound"),
    [("", True), ("0", True), ("1", True), ("4", True), ("5", True), ("9", True), ("2", False),
     ("3", False), ("6", False), ("7", False), ("A", False)],
)  # fmt: skip
def test_quality_codes_reject_a_value(name, code, sound):
    given = hourly_at_53(6)
    given[3][1][f"{name}_quality"] = code
    found = station(*given)
    column = {"temperature": "air_temp_c", "wind_speed": "wind_m_s"}.get(name, "rain_mm")
    hour = 3 if name == "precipitation" else 4
    assert np.isnan(at(found, column, hour)) != sound
    flags = found.flags.get(column, np.zeros(len(found.index)))
    assert (flags[found.index == pd.Timestamp(day(hour))] == (0 if sound else Flag.SOURCE)).all()


def test_value_beside_a_rejected_one_of_the_hour_stands():
    found = station(
        ("11:53", {"temperature": "99.0", "temperature_quality": "3"}),
        ("12:10", {"temperature": "14.0"}),
    )
    assert at(found, "air_temp_c", 12) == 14.0
    assert "air_temp_c" not in found.flags


def test_column_that_is_rejected_wholly_can_be_written_again():
    found = station(*hourly_at_53(5, relative_humidity="50", relative_humidity_quality="3"))
    again = canonical_csv.parse(canonical_csv.write(found), "here")
    np.testing.assert_equal(again.column("rain_mm"), found.column("rain_mm"))


def test_time_of_a_report_in_one_piece_or_in_parts():
    given = hourly_at_53(5)
    both = station(*given).frame
    pd.testing.assert_frame_equal(both, station(*given, parts=False).frame)
    pd.testing.assert_frame_equal(both, station(*given, date=False).frame)
    one_sentence(ghcnh.parse, reports(*given, parts=False, date=False), "no DATE")


@pytest.mark.parametrize(
    ("layers", "cover"),
    [
        (["CLR:00"], 0), (["FEW:02"], 0.25), (["OVC:08"], 1), (["VV:09"], 1),
        (["FEW:02", "BKN:07"], 0.875), (["10"], UNKNOWN), ([""], UNKNOWN), (["SCT: 4"], 0.5),
        (["FEW:02", "VV:09"], 1),
    ],
)  # fmt: skip
def test_sky_of_ghcnh_is_that_of_the_fullest_layer(layers, cover):
    sky = {f"sky_cover_{n}": text for n, text in enumerate(layers, 1)}
    found = station(("11:53", sky), ("12:53", {"sky_cover_1": "CLR:00"}))
    np.testing.assert_equal(at(found, "cloud", 12), cover)


HEADER_OF_GHCNH, *_ = reports(*hourly_at_53(1)).decode().splitlines()
GHCNH_FAULTS = {
    "header only": (HEADER_OF_GHCNH, ["no reports"]),
    "text": (reports(("11:53", {"temperature": "warm"})).decode(), ["report 1", "'warm'"]),
    "no time": (
        reports(("11:53", {}), ("12:53", {})).decode().replace("|12|53|", "|25|53|"),
        ["report 2 has no time"],
    ),
    "long row": (reports(*hourly_at_53(2)).decode() + "X|" * 99, ["report 3"]),
    "nothing": ("", ["not a whole GHCNh file"]),
}


@pytest.mark.parametrize(("text", "parts"), GHCNH_FAULTS.values(), ids=GHCNH_FAULTS)
def test_fault_of_ghcnh_is_one_sentence(text, parts):
    one_sentence(ghcnh.parse, text.encode(), *parts)


# --- TMY3 ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV"])
def test_tmy3_equals_the_reader_of_pvlib(name, outside):
    same = {"within": 1e-5, "unit": "%", "source": library("pvlib", "read_tmy3"), "why": "rounding"}
    what = "TMY3, two stations, a year, 7 columns"
    found = read_weather(PVLIB_DATA / name)
    theirs, about = pvlib.iotools.read_tmy3(
        PVLIB_DATA / name, map_variables=False, coerce_year=2025
    )
    labels = theirs.index.tz_convert("UTC")
    theirs = theirs.where(theirs != -9900)
    assert found.provenance.read_as == "tmy3"
    assert found.provenance.location.latitude == about["latitude"]
    assert len(found.index) == 8760
    assert found.index[0] == labels[0]
    for ours, field, factor in (
        ("air_temp_c", "Dry-bulb (C)", 1),
        ("dew_point_c", "Dew-point (C)", 1),
        ("rel_humidity", "RHum (%)", 0.01),
        ("pressure_hpa", "Pressure (mbar)", 1),
        ("wind_m_s", "Wspd (m/s)", 1),
        ("cloud", "TotCld (tenths)", 0.1),
    ):
        outside.agree(
            what, found.column(ours), theirs[field] * factor, unknown_alike=True, **same
        )
    outside.agree(what, found.column("ghi_w_m2")[:-1], theirs["GHI (W/m^2)"][1:], **same)
    depth = theirs["Lprecip depth (mm)"].to_numpy(float)
    assert np.nansum(depth) > 5000
    assert np.isnan(found.column("rain_mm")).all()
    assert any("its depths are not mm: unknown" in text for text in found.warnings)


def tmy3_of(**changes):
    """Return the invented week with fields of its sixth row, labelled 2025-10-27 01:00, changed."""
    first, header, *rows = week.tmy3(week.truth()).decode().splitlines()
    names = header.split(",")
    cells = dict(zip(names, rows[5].split(","), strict=True))
    rows[5] = ",".join((cells | changes).values())
    return "\n".join([first, header, *rows]).encode()


def test_label_24_ends_the_day():
    found = tmy3.parse(week.tmy3(week.truth()), "here")
    assert b"10/27/2025,24:00" in week.tmy3(week.truth())
    assert found.frame["air_temp_c"][pd.Timestamp("2025-10-28T05:00Z")] == pytest.approx(
        week.truth()["air_temp_c"][pd.Timestamp("2025-10-28T05:00Z")]
    )
    assert len(found.index) == len(week.truth()) - 1


@pytest.mark.parametrize("mark", ["-9900", "-9900.0", ""])
@pytest.mark.parametrize(
    ("field", "column", "hour"),
    [
        ("Dry-bulb (C)", "air_temp_c", 6),
        ("Dew-point (C)", "dew_point_c", 6),
        ("RHum (%)", "rel_humidity", 6),
        ("Wspd (m/s)", "wind_m_s", 6),
        ("TotCld (tenths)", "cloud", 6),
        ("GHI (W/m^2)", "ghi_w_m2", 5),
        ("Lprecip depth (mm)", "rain_mm", 5),
    ],
)
def test_missing_mark_of_tmy3_is_unknown(mark, field, column, hour):
    found = tmy3.parse(tmy3_of(**{field: mark}), "here").frame[column]
    assert np.isnan(found[pd.Timestamp(f"2025-10-27T{hour:02d}:00Z")])
    assert found.isna().sum() == 1 + (column in {"ghi_w_m2", "rain_mm"})


TMY3_FAULTS = {
    "hour": (tmy3_of(**{"Time (HH:MM)": "25:00"}), ["line 8", "no hour 25"]),
    "minutes": (tmy3_of(**{"Time (HH:MM)": "01:30"}), ["line 8", "01:30"]),
    "day": (tmy3_of(**{"Date (MM/DD/YYYY)": "02/30/2025"}), ["line 8", "2025-2-30"]),
    "text": (tmy3_of(**{"Dry-bulb (C)": "warm"}), ["line 8", "Dry-bulb (C) is 'warm'"]),
    "no place": (week.tmy3(week.truth()).replace(b"-5.0", b"east"), ["line 1"]),
    "short first line": (tmy3_of()[tmy3_of().index(b"\n") - 12 :], ["line 1"]),
    "no column": (tmy3_of().replace(b"Dry-bulb (C)", b"Bulb"), ["not a whole TMY3", "Dry-bulb"]),
    "header only": (b"\n".join(tmy3_of().split(b"\n")[:2]), ["no rows"]),
}


@pytest.mark.parametrize(("content", "parts"), TMY3_FAULTS.values(), ids=TMY3_FAULTS)
def test_fault_of_tmy3_is_one_sentence(content, parts):
    one_sentence(tmy3.parse, content, *parts)


# --- meteostat -------------------------------------------------------------------------------

YEARLY = "year,month,day,hour," + ",".join(
    f"{name},{name}_source" for name in ("temp", "rhum", "prcp", "wspd", "wpgt", "cldc")
)


def yearly(hour, sources="isd_lite", **values):
    given = {"temp": 15, "rhum": 60, "prcp": 0, "wspd": 18, "wpgt": 36, "cldc": 4} | values
    told = dict.fromkeys(given, sources) if isinstance(sources, str) else sources
    cells = [f"{value},{told.get(name, 'isd_lite')}" for name, value in given.items()]
    return f"2025,6,10,{hour}," + ",".join(cells)


def meteostat_of(*rows):
    return meteostat.parse(gzip.compress("\n".join([YEARLY, *rows, ""]).encode()), "here")


def test_units_and_labels_of_meteostat():
    found = meteostat_of(*(yearly(h, temp=10 + h, prcp=1.5 * (h == 3)) for h in range(6)))
    assert at(found, "air_temp_c", 3) == 13
    assert at(found, "rel_humidity", 3) == pytest.approx(0.6)
    assert at(found, "wind_m_s", 3) == pytest.approx(5)
    assert at(found, "gust_m_s", 3) == pytest.approx(10)
    assert at(found, "cloud", 3) == 0.5
    assert found.frame["rain_mm"].tolist()[:5] == [0, 0, 1.5, 0, 0]
    assert np.isnan(found.column("rain_mm")[-1])
    assert found.provenance.kind == "observed"


@pytest.mark.parametrize("source", ["dwd_mosmix", "metno_forecast"])
def test_hours_of_a_model_are_not_taken_from_meteostat(source):
    found = meteostat_of(*(yearly(h, source if h in {2, 3} else "isd_lite") for h in range(6)))
    for name in ("air_temp_c", "rel_humidity", "wind_m_s"):
        assert found.frame[name].isna().tolist() == [False, False, True, True, False, False], name
    assert found.frame["rain_mm"].isna().tolist() == [False, True, True, False, False, True]
    mixed = meteostat_of(*(yearly(h, {"prcp": source} if h == 2 else "isd_lite") for h in range(4)))
    assert mixed.frame["rain_mm"].isna().tolist() == [False, True, False, True]
    assert mixed.frame["air_temp_c"].notna().all()
    rows = [yearly(h, source) for h in range(6)]
    one_sentence(lambda content, place: meteostat_of(*rows), b"", "no observed hour")


def test_hour_without_a_row_and_a_trace_of_meteostat_are_never_dry():
    found = meteostat_of(yearly(0), yearly(1, prcp=-0.1), yearly(2), yearly(4), yearly(5, prcp=""))
    assert found.frame["rain_mm"].isna().tolist() == [True, False, True, False, True, True]
    assert np.isnan(at(found, "air_temp_c", 3))


def test_row_of_meteostat_that_comes_twice_is_a_fault_or_the_careful_one():
    rows = [yearly(0), yearly(1, prcp=0), yearly(1, prcp=2), yearly(2)]
    try:
        found = meteostat_of(*rows)
    except HoursError:
        return
    assert at(found, "rain_mm", 0) != 0


GOOD = gzip.compress("\n".join([YEARLY, *(yearly(h) for h in range(24))]).encode())
METEOSTAT_FAULTS = {
    "truncated": (GOOD[:-20], ["ends too early"]),
    "a page": (b"<!DOCTYPE html><p>gone", ["not a yearly file"]),
    "a page, gzipped": (gzip.compress(b"<!DOCTYPE html>"), ["not a yearly file"]),
    "header only": (gzip.compress(YEARLY.encode() + b"\n"), ["no hours"]),
    "nothing": (b"", ["not a yearly file"]),
    "hour": (gzip.compress(f"{YEARLY}\n{yearly(31)}\n".encode()), []),
    "text": (gzip.compress(f"{YEARLY}\n{yearly(0, temp='warm')}\n".encode()), []),
}


@pytest.mark.parametrize(("content", "parts"), METEOSTAT_FAULTS.values(), ids=METEOSTAT_FAULTS)
def test_fault_of_meteostat_is_one_sentence(content, parts):
    one_sentence(meteostat.parse, content, *parts)


def test_columns_that_a_yearly_file_lacks_are_unknown():
    columns = [n for n in YEARLY.split(",") if not n.startswith(("prcp", "wspd"))]
    rows = pd.DataFrame([yearly(h).split(",") for h in range(4)], columns=YEARLY.split(","))
    found = meteostat.parse(rows[columns].to_csv(index=False).encode(), "here").frame
    assert found[["rain_mm", "wind_m_s"]].isna().all(axis=None)
    assert found["air_temp_c"].notna().all()


def test_years_of_meteostat_need_not_touch():
    later = gzip.compress(
        "\n".join([YEARLY, *(yearly(h).replace("2025,", "2027,", 1) for h in range(3))]).encode()
    )
    answers = [Answer(content, "there", pd.Timestamp.now("UTC")) for content in (GOOD, later)]
    found = meteostat.years_together(answers, "here")
    assert found.provenance.place == "here"
    assert found.index[0].year == 2025
    assert found.index[-1] == pd.Timestamp("2027-06-10T02:00Z")
    assert np.isnan(found.column("rain_mm")[23:-4]).all()


# --- canonical CSV ---------------------------------------------------------------------------

VALUES = st.floats(0, 25, allow_nan=False).map(lambda value: value + 0.0) | st.just(np.nan)
WORDS = st.text("abc, 1:#é", max_size=12).map(str.strip)


@st.composite
def tables(draw):
    n = draw(st.integers(1, 6))

    def column(values=VALUES):
        return np.array(draw(st.lists(values, min_size=n, max_size=n)))

    columns = {
        "air_temp_c": column(st.floats(26, 40) | st.just(np.nan)),
        "dew_point_c": column(),
        "wind_m_s": column(),
        "rain_mm": column(),
    }
    columns["air_temp_c"][0] = 30.0
    times = pd.date_range("2025-11-01T23:30Z", periods=n, freq="h")
    words = st.integers(0, 2 * Flag.BLOCK - 1)
    marked = draw(st.sets(st.sampled_from([*columns])))
    flags = {name: column(words).astype(np.int64) for name in marked}
    runs = draw(st.integers(0, 12))
    members = {
        name: np.stack([columns[name], *(column() for _ in range(runs))])
        for name in (("rain_mm", "wind_m_s") if runs else ())
    }
    moment = st.none() | st.just(pd.Timestamp("2025-10-31T22:17:05Z"))
    where = st.none() | st.builds(
        Location, WORDS, st.just(46.7101), st.just(-92.5), st.none() | st.just(195.5)
    )
    told = Provenance(
        draw(WORDS) or "somebody", "here", draw(moment), tuple(draw(st.lists(WORDS.filter(bool)))),
        draw(st.sampled_from(KINDS)), draw(moment), draw(st.booleans()), draw(where), draw(WORDS),
    )  # fmt: skip
    return check_hours(columns, times, told, flags=flags, members=members)


@settings(deadline=None, max_examples=examples(60))
@given(tables())
def test_what_is_written_as_canonical_csv_is_read_again(table):
    again = canonical_csv.parse(canonical_csv.write(table), "here")
    pd.testing.assert_frame_equal(
        again.frame, table.frame, check_freq=False, check_index_type=False
    )
    marks = {name: flags for name, flags in table.flags.items() if flags.any()}
    assert again.flags.keys() == marks.keys()
    for name, flags in marks.items():
        assert again.flags[name].tolist() == flags.tolist()
    assert again.members.keys() == table.members.keys()
    for name, runs in table.members.items():
        np.testing.assert_equal(again.members[name], runs)
    ours, told = table.provenance, again.provenance
    for part in ("source", "issued", "kind", "retrieved", "stale", "location", "attribution"):
        assert getattr(told, part) == getattr(ours, part), part
    assert told.notes == tuple(dict.fromkeys((*ours.notes, *table.warnings)))
    assert canonical_csv.write(again) == canonical_csv.write(table)


CANONICAL = "time_utc,air_temp_c,dew_point_c,wind_m_s,rain_mm{}\n2025-06-10T00:00Z,20,8,3,0{}\n"


@pytest.mark.parametrize(
    ("names", "cells", "parts"),
    [
        (",rain_mm_flag", ",wet", ["line 2", "rain_mm_flag is 'wet'", "range"]),
        (",gust_m_s_flag", ",range", ["line 1", "'gust_m_s_flag' is there without 'gust_m_s'"]),
        (",rain_mm[1],wind_m_s[1],wind_m_s[2]", ",0,3,3", ["different numbers of runs"]),
        (",cloud[1]", ",0", ["'cloud[1]' is there without 'cloud'"]),
        (",rain_mm[1],rain_mm[1]", ",0,1", ["'rain_mm[1]' is there twice"]),
        (",snow[1]", ",0", ["column 'snow[1]' is not known"]),
    ],
)
def test_fault_of_flags_and_runs_is_one_sentence(names, cells, parts):
    one_sentence(canonical_csv.parse, CANONICAL.format(names, cells).encode(), *parts)


def test_impossible_rain_of_a_run_is_unknown_and_never_dry():
    text = CANONICAL.format(",rain_mm[1],rain_mm[2]", ",-4,1e9")
    found = canonical_csv.parse(text.encode(), "here")
    np.testing.assert_equal(found.members["rain_mm"][:, 0], [0, np.nan, np.nan])


# --- all formats -----------------------------------------------------------------------------

WRITERS, LOGGER_MAPPING = week.WRITERS, week.logger_mapping()


@pytest.fixture(scope="module")
def contents():
    return {name: write(week.truth()) for name, write in WRITERS.items()}


@pytest.fixture
def mapping(tmp_path):
    path = tmp_path / "mapping.toml"
    path.write_text(LOGGER_MAPPING)
    return path


@pytest.mark.parametrize("name", WRITERS)
def test_format_by_content_by_name_and_packed(tmp_path, contents, mapping, name):
    path, packed = tmp_path / "weather", tmp_path / "weather.gz"
    path.write_bytes(contents[name])
    packed.write_bytes(gzip.compress(contents[name]))
    how = {"mapping": mapping} if name == "logger" else {}
    found = [read_weather(path, **how), read_weather(path, form=name, **how)]
    if name != "meteostat":
        found.append(read_weather(packed, **how))
    for each in found:
        assert each.provenance.read_as == name
        pd.testing.assert_frame_equal(each.frame, found[0].frame)


SAME_SHAPE = {"open_meteo": {"open_meteo_ensemble", "open_meteo_archive"}}


@pytest.mark.parametrize("form", [name for name in FORMATS if name != "logger"])
@pytest.mark.parametrize("name", WRITERS)
def test_file_read_as_another_format_is_one_sentence(tmp_path, contents, name, form):
    if form == name or form in SAME_SHAPE.get(name, ()):
        return
    path = tmp_path / "weather"
    path.write_bytes(contents[name])
    with pytest.raises(HoursError) as caught:
        read_weather(path, form=form)
    assert "\n" not in str(caught.value)


def test_names_of_formats(tmp_path, contents, mapping):
    path = tmp_path / "weather"
    path.write_bytes(contents["epw"])
    for how, parts in (
        ({"form": "ewp"}, ["no weather format 'ewp'", "epw"]),
        ({"form": "logger"}, ["needs --mapping"]),
        ({"form": "epw", "mapping": mapping}, ["--mapping is for a logger's table"]),
    ):
        with pytest.raises(HoursError) as caught:
            read_weather(path, **how)
        assert all(part in str(caught.value) for part in parts)
    path.write_bytes(gzip.compress(contents["epw"])[:-30])
    with pytest.raises(HoursError, match="compressed file is broken"):
        read_weather(path)
    assert set(WRITERS) | {"open_meteo_ensemble", "open_meteo_archive"} == set(FORMATS)


# --- what is missing never becomes a go ------------------------------------------------------


@pytest.fixture(scope="module")
def job():
    site, acrylic = load_site(DEMO), load_profile("acrylic")

    def go(table):
        """Return the hours in which the coating may be laid."""
        found = run_job(site, acrylic, table).found
        return set(table.index[found.hour == State.OK])

    return go


def parsed(name, content, folder):
    path, mapping = folder / "weather", folder / "mapping.toml"
    path.write_bytes(content)
    mapping.write_text(LOGGER_MAPPING)
    return read_weather(path, form=name, mapping=mapping if name == "logger" else None)


def hidden(table, rng):
    """Return the table with single values, whole stretches of a column or whole hours missing."""
    found = table.mask(rng.uniform(size=table.shape) < rng.choice([0, 0.003, 0.03, 0.3]))
    for _ in range(rng.integers(0, 6)):
        start, length = rng.integers(0, len(table)), rng.integers(1, 30)
        columns = rng.choice(table.columns, rng.integers(1, len(table.columns) + 1), replace=False)
        found.iloc[start : start + length, [table.columns.get_loc(name) for name in columns]] = (
            np.nan
        )
    return found


@pytest.mark.parametrize("name", WRITERS)
def test_missing_values_never_turn_an_hour_into_a_go(tmp_path, job, name, sweep):
    truth = week.truth()
    if name in {"ghcnh", "isd_lite"}:
        dry = truth.index[truth["rain_mm"] == 0]
        truth.loc[dry[::31], "rain_mm"] = week.TRACE_MM
    whole = job(parsed(name, WRITERS[name](truth), tmp_path))
    assert whole, "an invented week without a go would prove nothing"
    rng = np.random.default_rng(20251027)
    for turn in sweep(12, every=3):
        less = job(parsed(name, WRITERS[name](hidden(truth, rng)), tmp_path))
        assert less <= whole, f"turn {turn}: {sorted(less - whole)[:3]}"


def test_hourly_rain_that_is_lost_beside_its_totals_never_turns_an_hour_into_a_go(
    tmp_path, job, sweep
):
    text = week.isd_lite(week.truth()).decode()
    whole = job(parsed("isd_lite", text.encode(), tmp_path))
    rng = np.random.default_rng(6)
    for _ in sweep(15, every=3):
        lost = rng.uniform(size=text.count("\n")) < rng.choice([0.05, 0.3, 1.0])
        rows = [
            row[:49] + " -9999" + row[55:] if gone else row
            for row, gone in zip(text.splitlines(), lost, strict=True)
        ]
        less = job(parsed("isd_lite", "\n".join(rows).encode(), tmp_path))
        assert less <= whole, sorted(less - whole)[:3]


def test_rows_that_a_logger_lost_never_turn_an_hour_into_a_go(tmp_path, job, sweep):
    header, *rows = week.logger(week.truth()).decode().splitlines()
    whole = job(parsed("logger", "\n".join([header, *rows]).encode(), tmp_path))
    rng = np.random.default_rng(7)
    autumn = [n for n, row in enumerate(rows) if row.startswith("2025-11-02 01")]
    for _ in sweep(15, every=3):
        lost = rng.uniform(size=len(rows)) < rng.choice([0.002, 0.02, 0.2])
        lost[autumn] = False  # the order of these rows tells the two hours apart
        left = [row for row, gone in zip(rows, lost, strict=True) if not gone]
        less = job(parsed("logger", "\n".join([header, *left]).encode(), tmp_path))
        assert less <= whole, sorted(less - whole)[:3]


def test_closing_report_that_is_lost_never_turns_an_hour_into_a_go(tmp_path, job):
    """Specials that tell the first of a rain are there; the report of its whole is not."""
    header, *rows = week.ghcnh(week.truth()).decode().splitlines()
    names = header.split("|")
    place = {name: names.index(name) for name in ("DATE", "Minute", "precipitation")}
    both, first_only = [], []
    for row in rows:
        cells = row.split("|")
        if cells[place["precipitation"]] not in {"", "0.0"}:
            early = cells.copy()
            early[place["DATE"]] = cells[place["DATE"]].replace(":53:", ":20:")
            early[place["Minute"]], early[place["precipitation"]] = "20", "0.1"
            gone = cells.copy()
            gone[place["precipitation"]] = ""
            both += ["|".join(early), row]
            first_only += ["|".join(early), "|".join(gone)]
        else:
            both.append(row)
            first_only.append(row)
    whole = job(parsed("ghcnh", "\n".join([header, *both]).encode(), tmp_path))
    less = job(parsed("ghcnh", "\n".join([header, *first_only]).encode(), tmp_path))
    assert less <= whole, sorted(less - whole)[:3]


def test_mapping_of_the_invented_logger_is_sound(mapping):
    assert logger_mapping.load_mapping(mapping).every == 10

"""Tables of a logger: what its mapping says, and what becomes of rows that are short of it."""

import tomllib

import invented_week as week
import numpy as np
import pandas as pd
import pytest
from one_sentence import one_sentence

from windows.errors import HoursError
from windows.flags import Flag
from windows.sources import logger, logger_mapping

NAN = np.nan


def mapping_of(columns=None, **changes):
    """Return a mapping of columns t (air), rh, w and r, by UTC, labels at the start."""
    plain = {
        "air_temp_c": {"column": "t", "unit": "degC"},
        "rel_humidity": {"column": "rh", "unit": "%"},
        "wind_m_s": {"column": "w", "unit": "m/s"},
        "rain_mm": {"column": "r", "unit": "mm", "rain": "increment"},
    }
    table = {"time": "time", "timezone": "+00:00", "label": "start", "every": "60 min"} | changes
    return logger_mapping.LoggerMapping.model_validate(table | {"columns": plain | (columns or {})})


def rows_of(start, minutes, n, **cells):
    """Return a file of n rows; a cell may be one value or a list of them."""
    times = pd.date_range(start, periods=n, freq=pd.Timedelta(minutes=minutes))
    plain = {"t": 15, "rh": 50, "w": 3, "r": 0} | cells
    return pd.DataFrame({"time": times.strftime("%Y-%m-%d %H:%M")} | plain)


def text(frame, **how):
    return frame.to_csv(index=False, **how).encode()


def read(frame, columns=None, **changes):
    return logger.parse(text(frame), "here", mapping_of(columns, **changes))


def fault(content, mapping, *parts):
    return one_sentence(lambda *told: logger.parse(*told, mapping), content, *parts)


def rain(found):
    return found.column("rain_mm")


# --- hours of rows ---------------------------------------------------------------------------


@pytest.mark.parametrize("minutes", [5, 10, 15, 20, 30, 60])
@pytest.mark.parametrize("label", ["start", "end"])
def test_hours_of_rows_by_length_and_label(minutes, label):
    n = 60 // minutes
    frame = rows_of(
        "2025-06-10", minutes, 3 * n, t=np.arange(3 * n), r=[0] * n + [0.5] * n + [1] * n
    )
    if label == "end":
        later = pd.to_datetime(frame["time"]) + pd.Timedelta(minutes=minutes)
        frame["time"] = later.dt.strftime("%Y-%m-%d %H:%M")
    found = read(frame, label=label, every=f"{minutes} min")
    assert found.index[0] == pd.Timestamp("2025-06-10T00:00Z")
    assert rain(found).tolist() == pytest.approx([0, 0.5 * n, n])
    middles = np.arange(3 * n).reshape(3, n).mean(axis=1)
    assert found.column("air_temp_c").tolist() == pytest.approx(middles.tolist())
    assert found.flags == {}
    assert found.provenance.kind == "observed"


def test_row_that_ends_at_the_full_hour_belongs_to_the_hour_before():
    frame = rows_of("2025-06-10 00:10", 10, 12, r=[0] * 5 + [2.0] + [0] * 6)
    assert rain(read(frame, label="end", every="10 min")).tolist() == [2, 0]
    found = rain(read(frame, label="start", every="10 min"))
    np.testing.assert_equal(found, [NAN, 2, NAN])


def test_gust_is_the_highest_and_a_surface_keeps_both_ends():
    gust = {"gust_m_s": {"column": "g", "unit": "m/s"}}
    roof = {"surface_temp_c": {"column": "s", "unit": "degC"}}
    frame = rows_of("2025-06-10", 15, 8, g=[4, 9, 5, 6] * 2, s=[10, 20, 40, 30, 1, 1, 2, 4])
    found = read(frame, gust | roof, every="15 min").frame
    assert found["gust_m_s"].tolist() == [9, 9]
    assert found["surface_temp_c"].tolist() == [25, 2]
    assert found["surface_temp_min_c"].tolist() == [10, 1]
    assert found["surface_temp_max_c"].tolist() == [40, 4]
    hourly = read(rows_of("2025-06-10", 60, 3, g=4, s=20), gust | roof).frame
    assert "surface_temp_min_c" not in hourly


# --- rows that are missing -------------------------------------------------------------------


@pytest.mark.parametrize("how", ["row", "cell"])
@pytest.mark.parametrize(
    ("share", "lost", "known"),
    [(1.0, 1, False), (0.8, 1, True), (0.8, 2, False), (0.5, 3, True), (0.5, 4, False),
     (0.01, 5, True)],
)  # fmt: skip
def test_required_share_lets_a_part_do_for_states_and_never_for_rain(how, share, lost, known):
    roof = {"surface_temp_c": {"column": "s", "unit": "degC"}}
    frame = rows_of("2025-06-10", 10, 18, s=20).astype(object)
    gone = list(range(7, 7 + lost))
    if how == "row":
        frame = frame.drop(index=gone)
    else:
        frame.loc[gone, ["t", "rh", "w", "r", "s"]] = ""
    found = read(frame, roof, every="10 min", required_share=share)
    for name in ("air_temp_c", "wind_m_s", "surface_temp_c", "surface_temp_min_c"):
        unknown = found.frame[name].isna().tolist()
        assert unknown == [False, not known, False], name
    assert np.isnan(rain(found)).tolist() == [False, True, False]
    assert found.flags["rain_mm"].tolist() == [0, Flag.PARTIAL, 0]
    assert ("air_temp_c" in found.flags) != known


def test_hour_without_any_row_is_unknown():
    found = read(rows_of("2025-06-10", 60, 5).drop(index=[2, 3]))
    assert found.frame.isna().all(axis=1).tolist() == [False, False, True, True, False]


@pytest.mark.parametrize(
    ("r", "known"), [((0, 0), True), ((0, 2), False), ((0, ""), False), ((2, 0), False)]
)
def test_rows_of_one_time_that_differ_are_unknown(r, known):
    frame = rows_of("2025-06-10", 60, 3).loc[[0, 1, 1, 2]].astype({"r": object})
    frame.iloc[[1, 2], frame.columns.get_loc("r")] = list(r)
    found = read(frame)
    assert np.isnan(rain(found)).tolist() == [False, not known, False]
    assert at_least_one(found.warnings, "1 rows of one time differ") == (not known)
    assert found.column("air_temp_c").tolist() == [15, 15, 15]


def at_least_one(warnings, part):
    return any(part in told for told in warnings)


@pytest.mark.parametrize(
    "mark", ["", "NA", "n/a", "#N/A", "NaN", "null", "---", "--", " ", "-40", "OPEN"]
)
def test_marks_of_missing_values(mark):
    frame = rows_of("2025-06-10", 60, 3, r=["0", mark, "0"], t=["15", mark, "15"])
    found = read(frame, missing=("-40", "OPEN"))
    assert np.isnan(rain(found)).tolist() == [False, True, False]
    assert np.isnan(found.column("air_temp_c")).tolist() == [False, True, False]


def test_text_that_is_no_mark_is_a_fault():
    told = text(rows_of("2025-06-10", 60, 3, t=["15", "OPEN", "15"]))
    fault(told, mapping_of(), "row 2", "'t' is 'OPEN'", "'missing'")


# --- rain ------------------------------------------------------------------------------------


def counted(values, minutes=60, **changes):
    given = {"rain_mm": {"column": "r", "unit": "mm", "rain": "cumulative"}}
    frame = rows_of("2025-06-10", minutes, len(values), r=values)
    return read(frame, given, every=f"{minutes} min", **changes)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([5, 5, 6.5, 6.5], [NAN, 0, 1.5, 0]),  # nothing is known of the first row
        ([5, "", 6.5, 6.5], [NAN, NAN, NAN, 0]),  # neither of the two rows beside a gap
        ([7, 7, 0, 0], [NAN, 0, NAN, 0]),  # an hour is too long to trust a reset
        ([7, 7, 0.4, 0.4], [NAN, 0, NAN, 0]),
        ([7, 8, 0.4, 0.4], [NAN, 1, NAN, 0]),  # it rained before: what was lost is not known
        ([7, 0, 0, 0], [NAN, NAN, 0, 0]),  # nothing is known of the hour before
        ([7, 8, "", 0, 0], [NAN, 1, NAN, NAN, 0]),
        ([7, 7, "", 0, 0], [NAN, 0, NAN, NAN, 0]),
    ],
)
def test_counter(values, expected):
    np.testing.assert_allclose(rain(counted(values)), expected)


def test_counter_that_was_reset_is_told():
    assert "the rain counter was reset 1 times; in 1 of them the rain of that row is unknown" in (
        counted([7, 8, 0, 0]).warnings
    )
    assert counted([7, 8, 9]).warnings[0].startswith("rain_mm unknown in 1")


@pytest.mark.parametrize(
    ("tips", "known"),
    [
        ([0] * 12, True),
        ([0] * 10 + [1, 0], False),  # a tip in the hour before the reset
        ([0] * 6 + [1] + [0] * 5, False),
        ([0] * 5 + [1] + [0] * 6, True),  # seven rows before it
    ],
)
def test_counter_must_stand_still_for_an_hour_before_a_reset(tips, known):
    before = np.cumsum([3, *tips])
    found = counted([*before, *[0] * 11], minutes=10)
    assert np.isnan(rain(found)).tolist() == [True, False, not known, False]


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1), ("in", 25.4)])
@pytest.mark.parametrize("minutes", [10, 60])
def test_increment_counter_and_rate_tell_the_same_rain(unit, factor, minutes):
    n = 240 // minutes
    each = np.where(np.arange(n) % 3 == 0, 0.2, 0.0)
    expected = each.reshape(4, -1).sum(axis=1)
    rate = "mm/h" if unit == "mm" else "in/h"
    kinds = [("increment", unit, each / factor), ("cumulative", unit, np.cumsum(each) / factor)]
    if rate in logger_mapping.UNITS:
        kinds.append(("rate", rate, each / factor * 60 / minutes))
    for kind, given, values in kinds:
        column = {"rain_mm": {"column": "r", "unit": given, "rain": kind}}
        found = rain(read(rows_of("2025-06-10", minutes, n, r=values), column,
                          every=f"{minutes} min"))  # fmt: skip
        start = 1 if kind == "cumulative" else 0
        np.testing.assert_allclose(found[start:], expected[start:], err_msg=kind)
        assert np.isnan(found[:start]).all()


def test_lost_row_of_a_rate_makes_the_hour_unknown():
    column = {"rain_mm": {"column": "r", "unit": "mm/h", "rain": "rate"}}
    frame = rows_of("2025-06-10", 10, 12).drop(index=[8])
    found = read(frame, column, every="10 min", required_share=0.5)
    assert np.isnan(rain(found)).tolist() == [False, True]


# --- clocks ----------------------------------------------------------------------------------


def on_clock(start, minutes, n, zone, label="start"):
    """Return rows as a clock on the wall shows them, that of rain the number of the row."""
    times = pd.date_range(start, periods=n, freq=pd.Timedelta(minutes=minutes))
    if label == "end":
        times = times + pd.Timedelta(minutes=minutes)
    frame = rows_of("2025-06-10", minutes, n, r=np.arange(n) / 10)
    frame["time"] = times.tz_convert(zone).strftime("%Y-%m-%d %H:%M")
    return frame


@pytest.mark.parametrize("label", ["start", "end"])
@pytest.mark.parametrize("minutes", [15, 60])
@pytest.mark.parametrize(
    "start", ["2025-11-02T03:00Z", "2025-03-09T04:00Z"], ids=["comes twice", "does not exist"]
)
def test_changes_of_the_clock(start, minutes, label):
    n = 360 // minutes
    frame = on_clock(start, minutes, n, week.ZONE, label)
    found = read(frame, timezone=week.ZONE, label=label, every=f"{minutes} min")
    assert found.index[0] == pd.Timestamp(start)
    assert len(found.index) == 6
    expected = (np.arange(n) / 10).reshape(6, -1).sum(axis=1)
    assert rain(found).tolist() == pytest.approx(expected.tolist())


def test_hour_that_comes_twice_but_once_in_the_rows_is_a_fault():
    frame = on_clock("2025-11-02T03:00Z", 60, 6, week.ZONE)
    once = frame.drop(index=[3])
    told = fault(text(once), mapping_of(timezone=week.ZONE), "comes twice", week.ZONE, "-05:00")
    assert "2025-11-02 01:00" in told


def test_clock_time_that_does_not_exist_is_a_fault():
    frame = on_clock("2025-03-09T04:00Z", 60, 6, "Etc/GMT+5")
    fault(text(frame), mapping_of(timezone=week.ZONE), "2025-03-09 02:00", "does not exist", "-05")


@pytest.mark.parametrize(
    ("offset", "utc"),
    [
        ("-05:00", "2025-03-09T05:00Z"),
        ("+00:00", "2025-03-09T00:00Z"),
        ("+05:30", "2025-03-08T18:30Z"),
        ("-03:30", "2025-03-09T03:30Z"),
    ],
)
def test_clock_that_never_changes(offset, utc):
    found = read(rows_of("2025-03-09", 60, 24), timezone=offset)
    assert found.index[0] == pd.Timestamp(utc)
    assert found.column("air_temp_c")[3] == 15


def test_offset_in_the_rows_wins_over_the_zone():
    frame = rows_of("2025-06-10", 60, 3)
    frame["time"] = frame["time"].str.replace(" ", "T") + "+02:00"
    assert read(frame, timezone=week.ZONE).index[0] == pd.Timestamp("2025-06-09T22:00Z")


def test_rows_out_of_order_are_sorted():
    frame = rows_of("2025-06-10", 60, 4, r=[0, 1, 2, 3])
    assert rain(read(frame.iloc[[2, 0, 3, 1]])).tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize(("seconds", "sound"), [(0, True), (100, True), (130, False)])
def test_clock_of_rows_may_be_a_little_off(seconds, sound):
    frame = rows_of("2025-06-10", 10, 12, r=0.1)
    times = pd.to_datetime(frame["time"])
    times[5] += pd.Timedelta(seconds=seconds)
    frame["time"] = times.dt.strftime("%Y-%m-%d %H:%M:%S")
    if sound:
        assert rain(read(frame, every="10 min")).tolist() == pytest.approx([0.6, 0.6])
    else:
        fault(text(frame), mapping_of(every="10 min"), "row 6", "steps of 10 min", "'every'")


@pytest.mark.parametrize("every", ["20 min", "60 min"])
def test_wrong_length_of_rows_is_a_fault(every):
    fault(text(rows_of("2025-06-10", 10, 12)), mapping_of(every=every), "steps of", "'every'")


def test_rows_that_are_longer_than_told_never_make_an_hour():
    found = read(rows_of("2025-06-10", 20, 9), every="10 min")
    assert np.isnan(rain(found)).all()
    assert np.isnan(found.column("air_temp_c")).all()


@pytest.mark.parametrize(
    ("cells", "form", "parts"),
    [
        (["06/10/2025 00:00", "06/10/2025 01:00"], None, ["row 1", "time_format"]),
        (["06/10/2025 00:00", "10.6.2025"], "%m/%d/%Y %H:%M", ["row 2", "'10.6.2025'", "mend it"]),
        (["2025-06-10 00:00", ""], None, ["row 2", "'' is no time"]),
    ],
)
def test_time_that_cannot_be_read_is_a_fault(cells, form, parts):
    frame = rows_of("2025-06-10", 60, 2).assign(time=cells)
    fault(text(frame), mapping_of(time_format=form), *parts)


def test_form_of_times():
    frame = rows_of("2025-06-10", 60, 2).assign(time=["10.06.2025 01h", "10.06.2025 02h"])
    found = read(frame, time_format="%d.%m.%Y %Hh")
    assert found.index[0] == pd.Timestamp("2025-06-10T01:00Z")


# --- the file --------------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_separator_decimal_comma_units_row_and_lines_on_top(separator):
    frame = rows_of("2025-06-10", 60, 3, t=["15,5"] * 3, r=["0,0", "1,5", "0,25"])
    header, *rows = text(frame, sep=separator).decode().splitlines()
    units = separator.join(["", "degC", "%", "m/s", "mm"])
    content = "\r\n".join(["A logger", "No. 7, roof", header, units, "a,b", *rows, ""])
    mapping = mapping_of(
        separator=separator, decimal=",", rows_before_header=2, rows_below_header=2
    )
    for encoding in ("utf-8-sig", "latin-1"):
        found = logger.parse(content.encode(encoding), "here", mapping)
        assert found.column("air_temp_c").tolist() == [15.5] * 3
        assert rain(found).tolist() == [0, 1.5, 0.25]


def test_units_become_si():
    units = {
        "air_temp_c": {"column": "t", "unit": "degF"},
        "wind_m_s": {"column": "w", "unit": "mph"},
        "rain_mm": {"column": "r", "unit": "in", "rain": "increment"},
        "cloud": {"column": "c", "unit": "eighths"},
        "ghi_w_m2": {"column": "g", "unit": "W/m2"},
    }
    found = read(rows_of("2025-06-10", 60, 1, t=59, w=10, r=0.01, c=2, g=800), units).frame.iloc[0]
    assert found["air_temp_c"] == pytest.approx(15)
    assert found["wind_m_s"] == pytest.approx(4.4704)
    assert found["rain_mm"] == pytest.approx(0.254)
    assert found["rel_humidity"] == pytest.approx(0.5)
    assert found["cloud"] == 0.25
    assert found["ghi_w_m2"] == 800


def test_tenths_of_the_sky():
    cloud = {"cloud": {"column": "c", "unit": "tenths"}}
    assert read(rows_of("2025-06-10", 60, 1, c=7), cloud).column("cloud") == pytest.approx(0.7)


FILES = {
    "another separator": (text(rows_of("2025-06-10", 60, 3), sep=";"), {}, ["no column 'time'"]),
    "a column": (
        text(rows_of("2025-06-10", 60, 3).rename(columns={"rh": "rhum"})),
        {},
        ["no column 'rh'", "rhum"],
    ),
    "header only": (b"time,t,rh,w,r\n", {}, ["no rows below the header"]),
    "short": (b"time,t,rh,w,r\n", {"rows_below_header": 3}, ["no rows below the header"]),
    "nothing": (b"", {}, ["no rows below the header"]),
    "long row": (text(rows_of("2025-06-10", 60, 3)) + b"a,b,c,d,e,f,g\n", {}, ["not a table"]),
    "unit": (text(rows_of("2025-06-10", 60, 30, t=68)), {}, ["air_temp_c", "looks like degF"]),
}


@pytest.mark.parametrize(("content", "changes", "parts"), FILES.values(), ids=FILES)
def test_fault_of_a_file_is_one_sentence(content, changes, parts):
    fault(content, mapping_of(**changes), *parts)


# --- the mapping -----------------------------------------------------------------------------

TOP = 'time = "time"\ntimezone = "UTC"\nlabel = "end"\nevery = "10 min"\n'
AIR = '[columns.air_temp_c]\ncolumn = "t"\nunit = "degC"\n'
MAPPINGS = {
    "unknown column": (TOP + AIR.replace("air_temp_c", "air_temp"), ["air_temp", "air_temp_c"]),
    "min of the surface": (
        TOP + AIR.replace("air_temp_c", "surface_temp_min_c"),
        ["surface_temp_min_c is not known"],
    ),
    "unknown unit": (TOP + AIR.replace("degC", "degF."), ["'degF.' is not a known unit", "degF"]),
    "unit of another kind": (TOP + AIR.replace("degC", "mm"), ["'mm' is no unit of it", "degC"]),
    "a difference": (TOP + AIR.replace("degC", "K"), ["'K' is no unit of it"]),
    "rain of no kind": (
        TOP + AIR.replace("air_temp_c", "rain_mm").replace("degC", "mm"),
        ["rain_mm", "increment"],
    ),
    "air of a kind": (TOP + AIR + 'rain = "rate"\n', ["air_temp_c"]),
    "depth as a rate": (
        TOP + AIR.replace("air_temp_c", "rain_mm").replace("degC", "mm") + 'rain = "rate"\n',
        ["'mm' is no unit of it", "mm/h"],
    ),
    "rate as a depth": (
        TOP + AIR.replace("air_temp_c", "rain_mm").replace("degC", "mm/h") + 'rain = "increment"',
        ["'mm/h' is no unit of it", "mm"],
    ),
    "seven minutes": (TOP.replace("10 min", "7 min") + AIR, ["every", "does not divide an hour"]),
    "two hours": (TOP.replace("10 min", "2 h") + AIR, ["every", "does not divide an hour"]),
    "no unit of time": (TOP.replace('"10 min"', "10") + AIR, ["every", "has no unit"]),
    "zone": (TOP.replace("UTC", "EasternTime") + AIR, ["timezone", "America/New_York"]),
    "label": (TOP.replace('"end"', '"middle"') + AIR, ["label"]),
    "left open": (TOP.replace('"end"', '"..."') + AIR, ["label"]),
    "share": (TOP + "required_share = 1.5\n" + AIR, ["required_share"]),
    "separator": (TOP + 'separator = ";;"\n' + AIR, ["separator"]),
    "unknown key": (TOP + 'zone = "UTC"\n' + AIR, ["zone"]),
    "no toml": ("time: time", []),
}


@pytest.mark.parametrize(("content", "parts"), MAPPINGS.values(), ids=MAPPINGS)
def test_fault_of_a_mapping_is_one_sentence(tmp_path, content, parts):
    path = tmp_path / "mapping.toml"
    path.write_text(content)
    with pytest.raises(HoursError) as caught:
        logger_mapping.load_mapping(path)
    told = str(caught.value)
    assert told.startswith(f"{path}")
    assert "\n" not in told
    assert all(part in told for part in parts), told


def test_mapping_without_rain_is_a_fault_of_the_table():
    mapping = mapping_of()
    columns = {name: each for name, each in mapping.columns.items() if name != "rain_mm"}
    dry = mapping.model_copy(update={"columns": columns})
    fault(text(rows_of("2025-06-10", 60, 3)), dry, "column 'rain_mm'")


# --- a proposal, and the invented week -------------------------------------------------------


def test_proposal_guesses_nothing_and_completed_it_reads_the_week():
    content = week.logger(week.truth())
    told = tomllib.loads(logger_mapping.proposal(content, "here"))
    columns = told["columns"]
    assert [told[key] for key in ("timezone", "label", "time_format")] == ["..."] * 3
    assert told["every"].startswith("...")
    assert columns["rain_mm"]["rain"] == "..."
    assert columns["wind_m_s"] == {"column": "wind_mph", "unit": "mph"}
    with pytest.raises(ValueError, match=r"timezone|label"):
        logger_mapping.LoggerMapping.model_validate(told)
    del told["time_format"]
    told |= {"timezone": week.ZONE, "label": "end", "every": "10 min"}
    columns.setdefault("air_temp_c", {"column": "air_degF"})["unit"] = "degF"
    columns["rain_mm"]["rain"] = "cumulative"
    for name, unit in (("rel_humidity", "%"), ("ghi_w_m2", "W/m2"), ("rain_mm", "in"),
                       ("cloud", "tenths")):  # fmt: skip
        columns[name]["unit"] = unit
    check_week(logger.parse(content, "here", logger_mapping.LoggerMapping.model_validate(told)))


def check_week(found):
    truth = week.truth()
    pd.testing.assert_index_equal(found.index, truth.index, exact=False, check_names=False)
    for name in ("air_temp_c", "rel_humidity", "wind_m_s", "cloud", "ghi_w_m2"):
        np.testing.assert_allclose(found.column(name), truth[name], atol=5e-3, err_msg=name)
    # The counter has no row before its first; and it goes back to zero at local midnight in rain.
    known = ~truth.index.isin([week.START, pd.Timestamp("2025-11-02T04:00Z")])
    assert (np.isnan(rain(found)) == ~known).all()
    np.testing.assert_allclose(rain(found)[known], truth["rain_mm"][known], atol=2e-5)
    assert found.flags["rain_mm"][~known].tolist() == [Flag.PARTIAL] * 2


def test_proposal_names_separator_lines_on_top_and_open_units():
    content = (
        'Station 7\nFirmware 2\n"Date; Time"\nTime;Temp;Dew;RH;Rain [mm];Gust (km/h)\n1;2;3;4;5;6\n'
    )
    told = tomllib.loads(logger_mapping.proposal(content.encode(), "here"))
    assert told["separator"] == ";"
    assert told["rows_before_header"] == 3
    assert told["time"] == "Time"
    columns = told["columns"]
    assert columns["air_temp_c"] == {"column": "Temp", "unit": "..."}
    assert columns["dew_point_c"]["unit"] == "..."
    assert columns["rain_mm"] == {"column": "Rain [mm]", "unit": "mm", "rain": "..."}
    assert columns["gust_m_s"] == {"column": "Gust (km/h)", "unit": "km/h"}


def test_lines_on_top_of_a_proposal_are_counted_with_blank_ones():
    content = text(rows_of("2025-06-10", 60, 3).rename(columns={"t": "temp"}))
    told = tomllib.loads(logger_mapping.proposal(b"Station 7\n\n" + content, "here"))
    assert told["rows_before_header"] == 2


def test_proposal_of_no_table_is_one_sentence():
    with pytest.raises(HoursError, match="there are no columns in it"):
        logger_mapping.proposal(b"nothing\nat all\n", "here")


@pytest.mark.parametrize("names", ['"a ""b"" temp",c', "back\\temp,c", "Température °C,c"])
def test_odd_names_of_columns_are_quoted(names):
    told = tomllib.loads(logger_mapping.proposal(f"time,{names}\n1,2,3\n".encode(), "here"))
    assert "air_temp_c" in told["columns"]

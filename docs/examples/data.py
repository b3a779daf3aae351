"""A data person's afternoon: own hours in, results of sites and coatings joined and grouped.

Run it with ``python docs/examples/data.py``. The readings are those of the demo, in US units as a
logger may give them.
"""

import pandas as pd

from windows import DewgapError, HourlyTable, find_windows, hour_by_hour, hours_from, load_site
from windows.demo import demo_folder

SITES = ("gulf_coast", "high_desert", "cool_north")
COATINGS = ("acrylic", "silicone_high_solids", "asphalt_emulsion")


def readings(name: str) -> pd.DataFrame:
    """Return the hours of a site as somebody may have them: degF, mph, UTC."""
    path = demo_folder() / name / "weather.csv"
    frame = pd.read_csv(path, comment="#", index_col="time_utc", parse_dates=True)
    frame["air_temp_f"] = frame.pop("air_temp_c") * 1.8 + 32
    frame["wind_mph"] = frame.pop("wind_m_s") / 0.44704
    return frame


def hours_of(name: str) -> HourlyTable:
    """Return them as the package takes them: SI, the unit in the name of each column."""
    frame = readings(name)
    frame["air_temp_c"] = ((frame.pop("air_temp_f") - 32) / 1.8).round(6)
    frame["wind_m_s"] = (frame.pop("wind_mph") * 0.44704).round(6)
    return hours_from(frame, name=name, kind="forecast")


def main() -> None:
    """Print valid hours of every site and coating, then what costs the most."""
    try:
        hours_from(readings("cool_north"))
    except DewgapError as fault:
        print(f"As it came: {fault}\n")

    cases = [(load_site(demo_folder() / s), c, hours_of(s)) for s in SITES for c in COATINGS]
    found = pd.concat([find_windows(*case) for case in cases], ignore_index=True)
    # Rows that are UNKNOWN have no hours, so sums of hours are of sure windows alone.
    table = found.pivot_table(
        index="site", columns="coating", values="hours", aggfunc="sum", fill_value=0
    )
    print(f"Hours in windows\n{table.to_string()}\n")
    print(f"Rows by state: {found['state'].value_counts().to_dict()}")
    print(f"Windows by confidence: {found['confidence'].value_counts().to_dict()}\n")

    hour = hour_by_hour(*cases[-1])
    shift = hour[hour["gate_crew_hours"] == "OK"]
    gates = shift.filter(like="gate_").drop(columns="gate_crew_hours")
    lost = gates.apply(pd.Series.value_counts).T.drop(columns="OK").fillna(0).astype(int)
    print(f"Crew hours lost, {cases[-1][1]} at {SITES[-1]}")
    print(lost.sort_values("BLOCKED", ascending=False).head(5).to_string())

    first = found[found["state"] == "OK"].iloc[0]
    print(f"\nThe first window, {first['coating']} at {first['site']}, {first['start_local']}:")
    print(first["cautions"])
    print(hour.attrs["governs"])


if __name__ == "__main__":
    main()

"""A superintendent's evening: what lies bare, until when, and tomorrow hour by hour.

Run it with ``python docs/examples/superintendent.py``. Put your own folder in place of the demo's:
one with site.toml, job.toml (and the job's log, if there is one) and weather.csv.
"""

import textwrap

import pandas as pd

from windows import check_bare_layers, hour_by_hour, load_site, read_weather
from windows.demo import demo_folder

FOLDER = demo_folder() / "cool_north"
NOW = "2026-09-22T17:00"  # leave it out for the present
TOMORROW = "2026-09-23"


def clock(when: pd.Timestamp) -> str:
    """Return a time as a person says it, and say so where it is not known."""
    return "not known" if pd.isna(when) else f"{when:%a %b %d %H:%M}"


def main() -> None:
    """Print the bare layers, the nearest deadline first, then tomorrow."""
    bare = check_bare_layers(FOLDER, now=NOW)
    print(f"{len(bare)} bare layers at {load_site(FOLDER).name}")
    for layer in bare.to_dict("records"):
        print(f"\n{layer['piece']}, {layer['layer_name']}: {layer['verdict'].upper()}")
        print(f"  next layer from {clock(layer['opens_local'])}")
        print(f"  down before {clock(layer['cover_by_local'])}")
        if not layer["deadline_firm"]:
            print(f"  some data sheets say {clock(layer['cover_by_earliest_local'])}: see yours")
        print(f"  sure windows left: {layer['windows_left']}")
        for text in (*layer["what_to_do"].splitlines(), *layer["cautions"].splitlines()):
            print(textwrap.fill(text, 96, initial_indent="  - ", subsequent_indent="    "))

    told = hour_by_hour(load_site(FOLDER), "acrylic", read_weather(FOLDER / "weather.csv"))
    on_shift = told["gate_crew_hours"] == "OK"
    tomorrow = told["time_local"].dt.strftime("%Y-%m-%d") == TOMORROW
    print(f"\nAcrylic on {TOMORROW}")
    for hour in told[on_shift & tomorrow].to_dict("records"):
        print(
            f"  {hour['time_local']:%H:%M}  roof {hour['surface_temp_c']:4.1f} degC, "
            f"{hour['spread_c']:4.1f} K above the dew point  {hour['state']} {hour['why']}".rstrip()
        )
    print(bare.attrs["governs"])


if __name__ == "__main__":
    main()

"""A scheduler's week: when each coating can go down, what closes the window, and the job's plan.

Run it with ``python docs/examples/scheduler.py``. Put your own folder in place of the demo's: one
with site.toml, job.toml and weather.csv.
"""

from windows import find_windows, load_site, plan_job, read_weather
from windows.demo import demo_folder

FOLDER = demo_folder() / "high_desert"
NOW = "2026-05-11T06:00"  # leave it out to plan from this minute on


def show_windows(coating: str) -> None:
    """Print the windows of a coating, and hours that may turn into one."""
    found = find_windows(load_site(FOLDER), coating, read_weather(FOLDER / "weather.csv"))
    sure = found[found["state"] == "OK"]
    print(f"\n{coating}: {len(sure)} windows, {sure['hours'].sum()} h")
    for window in found.to_dict("records"):
        day = f"{window['start_local']:%a %b %d %H:%M} to {window['end_local']:%H:%M}"
        if window["state"] == "OK":
            print(f"  {day}  {window['confidence']}; closed by {window['closed_by']}")
        else:
            print(f"  {day}  NOT KNOWN: {window['missing']}")


def show_plan() -> None:
    """Print the best plan of the job, with what the crew is told."""
    plan = plan_job(FOLDER, now=NOW)
    planned = plan[plan["state"] == "OK"]
    print(f"\n{plan.attrs['summary']}")
    for work in planned.to_dict("records"):
        print(
            f"  {work['start_local']:%a %b %d %H:%M} to {work['end_local']:%H:%M}"
            f"  {work['section']}: {work['layer_name']} ({work['coating']})"
        )
    for left in plan[plan["state"] != "OK"].to_dict("records"):
        print(f"  left out, {left['section']}: {left['layer_name']}; {left['why']}")
    print("\nCautions that go with this plan")
    for caution in planned["cautions"].str.split("\n").explode().unique():
        print(f"  - {caution}")
    print(plan.attrs["governs"])


def main() -> None:
    """Print the week."""
    print(load_site(FOLDER).name)
    for coating in ("silicone_high_solids", "urethane_aromatic"):
        show_windows(coating)
    show_plan()


if __name__ == "__main__":
    main()

"""An estimator's numbers: workable days of each month, and when to start to finish in time.

Run it with ``python docs/examples/estimator.py``. Put your own folder in place of the demo's: one
with site.toml, job.toml and years.csv.gz, hours of many years.
"""

from datetime import date

from windows import count_workable_days, load_site, read_weather, replay_bid
from windows.demo import demo_folder

FOLDER = demo_folder() / "cool_north"
TODAY = "2027-01-04T08:00"  # leave it out to look from today on
FINISH_BY = date(2027, 9, 15)
CHANCE = f"chance to finish by {FINISH_BY} [%]"


def main() -> None:
    """Print the season, then the start weeks that are worth a bid."""
    site = load_site(FOLDER)
    years = read_weather(FOLDER / "years.csv.gz")

    season = count_workable_days(site, "acrylic", years)
    print(f"{site.name}\nWorkable days for acrylic, months that have any in half of the years")
    columns = ["month", "work days", "workable days P20", "workable days P50", "costs most"]
    some = season[season["workable days P50"] > 0]
    print(some[columns].to_string(index=False, float_format="{:.1f}".format))

    bid = replay_bid(FOLDER, by=FINISH_BY, now=TODAY, years=years)
    safe = bid[bid[CHANCE] >= 80]  # what is not known is NaN, and not above anything
    shortest = safe.nsmallest(8, "calendar days P80").sort_values("start week of")
    print(f"\nOf {len(safe)} start weeks that finish by {FINISH_BY} in 8 years of 10, the shortest")
    columns = ["start week of", "finish P50", "finish P80", "calendar days P80", CHANCE]
    print(shortest[columns].to_string(index=False, float_format="{:.0f}".format))

    print()
    for note in bid.attrs["notes"]:
        print(f"- {note}")
    print(bid.attrs["governs"])


if __name__ == "__main__":
    main()

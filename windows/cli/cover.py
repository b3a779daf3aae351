"""``dewgap cover``: every bare layer of a job against its deadline."""

from __future__ import annotations

import typer

from windows.cli.choices import takes_weather
from windows.cli.inputs import load_layers
from windows.cli.options import (
    DryAtStart,
    JobOption,
    Json,
    LimitsOption,
    NowOption,
    SiteArgument,
    SystemOption,
    UnitOption,
)
from windows.cli.values import present
from windows.weather_choice import WeatherChoice

__all__ = ["cover"]


@takes_weather
def cover(
    site: SiteArgument,
    job: JobOption = None,
    system: SystemOption = None,
    now: NowOption = None,
    dry_at_start: DryAtStart = False,
    limits: LimitsOption = "generic",
    *,
    weather: WeatherChoice,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Check every layer that the job file records as laid and not yet covered.

    Exit status 3 if one has no window left, or none long enough, or is overdue; 4 if one cannot be
    told.

    Example: dewgap cover demo_sites/cool_north --now 2026-09-22T17:00
    """
    from windows.cli.printing import heading, line, print_json, table
    from windows.cli.show import show_site
    from windows.cli.show_cover import EXIT, show_cover, show_cover_closing
    from windows.gates import State
    from windows.job_file import load_job, with_extra_days
    from windows.pieces import pieces, waiting
    from windows.recoat import check_cover
    from windows.reports.cover_json import cover_dict
    from windows.reports.wording import Wording
    from windows.site import load_site
    from windows.system_check import system_for
    from windows.work_rate import work_hours

    place = load_site(site)
    file = load_job(site, job)
    chosen = system_for(file, system)
    asked = present(now, place)
    bare = waiting(pieces(file, chosen, place, asked), chosen)
    crew_site = with_extra_days(place, file)
    in_weather = load_layers(
        crew_site, site, chosen, weather, limits=limits, dry_at_start=dry_at_start,
        now=asked, job=job,
    )
    covers = [check_cover(in_weather, piece.laid[-1], asked) for piece in bare]
    needs = [work_hours(chosen, piece.next_layer, piece.area_m2, file) for piece in bare]
    short = [each.is_too_short(need) for each, need in zip(covers, needs, strict=True)]
    states = [each.state_for(need) for each, need in zip(covers, needs, strict=True)]
    status = EXIT[max(states, default=State.OK)]
    if as_json:
        print_json(
            {
                "site": place.name,
                "system": chosen.name,
                "bare_layers": [
                    {"piece": piece.name, "section": piece.section, "area_m2": piece.area_m2,
                     "work_h": need, "longest_window_is_too_short": few}
                    | cover_dict(each, in_weather)
                    for piece, each, need, few in zip(bare, covers, needs, short, strict=True)
                ],
            }
        )
        raise typer.Exit(status)
    words = Wording(units, place.zone)
    show_site(in_weather.jobs[0], units)
    if not covers:
        line("No laid layer of this job waits for its next one.")
        return
    by_deadline = sorted(
        zip(bare, covers, needs, short, strict=True),
        key=lambda each: (each[1].due is None, each[1].due or asked),
    )
    table(
        ["section", "bare layer", "verdict", "deadline", "windows left", "last one"],
        [
            [
                piece.name, chosen.layers[each.layer].name, each.verdict,
                words.cover_by(each),
                str(len(each.left)),
                words.day(each.left[-1].start) if each.left else "none",
            ]
            for piece, each, _, _ in by_deadline
        ],
        title="Bare layers, the nearest deadline first",
    )  # fmt: skip
    for piece, each, need, few in by_deadline:
        area = words.value(piece.area_m2, "area")
        show_cover(each, in_weather, words, f"{piece.name}, {area}: ")
        if few and each.may_be_long_enough(need):
            line(
                f"UNDETERMINED: the next layer of {piece.name} takes this crew {need:.1f} h, "
                "longer than any sure window left; a provisional one would do, if what is not "
                "known turned out well. Get better weather and ask again.\n"
            )
        elif few:
            line(
                f"TOO SHORT: the next layer of {piece.name} takes this crew {need:.1f} h, longer "
                "than any window left; lay a part of it at a time, or send a faster crew.\n"
            )
    if len(covers) > 1:
        line("Each section is looked at alone: one crew may not do them all. See dewgap plan.")
    show_cover_closing(covers)
    if any(each.advice for each in covers):
        heading("Look at what is listed under 'what to do' today.")
    raise typer.Exit(status)

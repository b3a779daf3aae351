"""``dewgap coatings``: the shipped profiles and your own, with their sources."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from windows.cli import complete
from windows.cli.app import App
from windows.cli.options import Json, LimitsOption, UnitOption

if TYPE_CHECKING:
    from cure_models.coating import Coating
    from cure_models.sourced import Sourced

__all__ = ["app"]

app = App(
    "Coating profiles: list, show with sources, check.\n\nExample: dewgap coatings show acrylic"
)

MethodOption = Annotated[
    Literal["spray", "roller"], typer.Option("--method", help="Application method.")
]


@app.named("list")
def list_coatings(as_json: Json = False, units: UnitOption = "us") -> None:
    """List the shipped coatings.

    Example: dewgap coatings list
    """
    from cure_models import coating_names, load_profile
    from windows.cli.printing import line, print_json, table

    profiles = [load_profile(name) for name in coating_names()]
    if as_json:
        print_json(
            [
                {"name": p.name, "title": p.title, "roles": list(p.roles), "mechanism": p.law}
                for p in profiles
            ]
        )
        return
    table(
        ["name", "coating", "use", "cures by"],
        [[p.name, p.title, ", ".join(p.roles), p.law] for p in profiles],
    )
    line("All are generic: not a data sheet. Your own product: a TOML file with based_on.")


@app.named("show")
def show(
    name: Annotated[
        str,
        typer.Argument(
            metavar="NAME", autocompletion=complete.coatings,
            help="Coating, or your own .toml file.",
        ),
    ],
    method: MethodOption = "spray",
    limits: LimitsOption = "generic",
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Show a coating's gates, milestones and deadlines with their sources.

    Example: dewgap coatings show acrylic
    """
    from cure_models import load_profile, resolve
    from windows.cli.printing import print_json
    from windows.reports.as_json import coating_dict

    coating = resolve(load_profile(name), method=method, limits=limits)
    if as_json:
        print_json(coating_dict(coating))
    else:
        _show(coating, units)


def _show(coating: Coating, units: Literal["us", "si"]) -> None:
    from cure_models.limits import DEADLINES, MILESTONES
    from windows.cli.printing import heading, line, table
    from windows.reports.wording import Wording

    words, profile = Wording(units), coating.profile
    ref, own_clock = coating.reference, profile.milestone_clock_min

    def of(entry: Sourced) -> tuple[str, str]:
        return words.sourced(entry), entry.source

    heading(f"{profile.title} ({coating.name})")
    line("generic, not a data sheet" if profile.generic else f"based on {profile.based_on}")
    facts = [
        "water-based" if profile.water_based else "not water-based",
        f"cures by {profile.law}",
        "UV-stable" if profile.uv_stable else "not UV-stable: must be covered",
        f"may go over it: {', '.join(profile.may_go_over_it) or 'nothing'}",
    ]
    line("; ".join(facts))
    line(
        f"rate is one at {words.value(ref.temp_c, 'temperature')}, {ref.rel_humidity:.0%} RH, "
        f"{words.value(ref.dry_film_um, 'film')} dry; shortest window {coating.min_window_h} h"
    )
    if coating.first_stage_h:
        line(f"the first stage of its cure lasts {coating.first_stage_h:.1f} h there")
    if coating.limits != "generic":
        line(f"limits at the {coating.limits} end of every range")
    line()
    table(
        ["gate", "limit", "range as sourced", "source"],
        [
            [g.name, words.limit(g), words.sourced(g.sourced), g.sourced.source]
            for g in (*coating.gates, *coating.cautions)
        ],
        title=f"Gates ({coating.method})",
    )
    table(
        ["milestone or deadline", "hours", "range as sourced", "source"],
        [
            [MILESTONES[n], f"{h:g} of cure", *of(profile.milestones[n])]
            for n, h in coating.milestones.items()
        ]
        + [
            [f"{MILESTONES[n]}, not before", f"{h:g} by the clock", *of(own_clock[n])]
            for n, h in coating.milestone_clock_min_h.items()
        ]
        + [
            [DEADLINES[n].label, f"{h:g} by the clock", *of(profile.deadlines[n])]
            for n, h in coating.deadlines_h.items()
        ]
        + (
            []
            if coating.cover_by_dose_sed is None
            else [
                [
                    DEADLINES["cover_by_uv_dose"].label, f"{coating.cover_by_dose_sed:g} SED",
                    *of(profile.deadlines["cover_by_uv_dose"]),
                ]
            ]
        ),
    )
    table(
        ["film and rate", "", "source"],
        [[n, *of(e)] for n, e in (*profile.film.items(), *profile.rate.items())],
    )
    for note in profile.notes:
        line(f"note: {note}")


@app.named("check")
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Your coating file (TOML).")],
    as_json: Json = False,
    units: UnitOption = "us",
) -> None:
    """Check your own coating file and explain its first fault.

    Example: dewgap coatings check demo_sites/my_acrylic.toml
    """
    from cure_models import load_profile, resolve
    from windows.cli.printing import line, print_json

    # A name without a folder would be taken for a shipped coating.
    profile = load_profile(str(file) if len(file.parts) > 1 else f"./{file}")
    for method in ("spray", "roller"):
        resolve(profile, method=method)
    if as_json:
        print_json({"file": str(file), "name": profile.name, "sound": True})
        return
    own = "all its own" if profile.based_on is None else f"over {profile.based_on}"
    line(f"{file}: sound; {profile.name}, {own}, {len(profile.gates)} gates")

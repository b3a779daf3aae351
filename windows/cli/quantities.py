"""``dewgap quantities``: the material of a system, layer by layer and section by section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.cli.options import JobOption, Json, SiteArgument, SystemOption, UnitOption

if TYPE_CHECKING:
    from cure_models.takeoff import TakeOff
    from windows.reports.wording import Wording

__all__ = ["quantities"]


def quantities(
    site: SiteArgument,
    job: JobOption = None,
    system: SystemOption = None,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Work out the material of each layer: wet film to gauge, volume with losses, containers.

    Example: dewgap quantities demo_sites/gulf_coast --system acrylic_two_coat
    """
    from cure_models.takeoff import take_off
    from windows.cli.printing import heading, line, print_json, table
    from windows.job_file import load_job
    from windows.reports.system_json import take_off_dict
    from windows.reports.wording import Wording
    from windows.site import load_site
    from windows.system_check import system_for

    place = load_site(site)
    file = load_job(site, job, laid=False)
    chosen = system_for(file, system)
    material = file.material
    parts = [(each.name, each.area) for each in file.section] or [("roof", place.roof.area)]
    taken = [
        (name, take_off(
            chosen, area, loss=material.loss, texture=material.texture,
            fabric_laps=material.fabric_laps, container_l=material.container,
        ))
        for name, area in [*parts, ("all sections", sum(area for _, area in parts))]
    ]  # fmt: skip
    whole = taken[-1][1]
    if as_json:
        print_json(
            {
                "site": place.name,
                "system": chosen.name,
                "loss": material.loss,
                "texture": material.texture,
                "container_l": material.container,
                "sections": [
                    {"section": name, "layers": [take_off_dict(each) for each in layers]}
                    for name, layers in taken[:-1]
                ],
                "whole": [take_off_dict(each) for each in whole],
            }
        )
        return
    words = Wording(units, place.zone)
    heading(f"{place.name}: {chosen.title} ({chosen.name})")
    line(
        f"loss {material.loss:.0%} (volume is divided by {1 - material.loss:g}), texture "
        f"{material.texture:g}, containers of {words.value(material.container, 'volume')}\n"
    )
    table(
        ["layer", "dry film", "passes", "wet film of a pass", "spread", "check of a pass"],
        [_film(each, chosen.layers[n].name, words) for n, each in enumerate(whole)],
        title="Film: gauge the wet film while you lay it; the dry one decides",
    )
    shown = taken if len(parts) > 1 else taken[-1:]
    table(
        ["section", "layer", "area", "material", "containers", "fabric"],
        [
            [
                name, chosen.layers[n].name, words.value(each.area_m2, "area"),
                *_amount(each, words),
                words.value(each.fabric_m2, "area") if each.fabric_m2 else "none",
            ]
            for name, layers in shown
            for n, each in enumerate(layers)
        ],
        title="Material, with loss and texture",
    )  # fmt: skip
    line("Containers are whole ones for each row: order by the row 'all sections'.")


def _film(taken: TakeOff, name: str, words: Wording) -> list[str]:
    dry = words.value(taken.dry_um * taken.passes, "film", finer=1)
    if taken.wet_um is None or taken.spread_l_m2 is None:
        return [name, dry, str(taken.passes), "rises", "by its yield", "by depth gauge"]
    wet, solids = words.value(taken.wet_um, "film", finer=1), taken.dry_um / taken.wet_um
    check = f"{wet} x {solids:.0%} = {words.value(taken.dry_um, 'film', finer=1)}"
    spread = words.value(taken.spread_l_m2, "spread_rate")
    return [name, dry, str(taken.passes), wet, spread, check]


def _amount(taken: TakeOff, words: Wording) -> list[str]:
    if taken.foam_m3 is not None:
        return [words.value(taken.foam_m3, "foam"), "by its yield"]
    assert taken.volume_l is not None
    return [words.value(taken.volume_l, "volume"), str(taken.containers)]

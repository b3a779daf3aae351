"""What was laid, in an application record: areas and volumes, placements, recoat and deadlines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.field.record_result import Told
from windows.field.rules import field_rules
from windows.reports.paper import Facts, Heading, Paragraphs, Table
from windows.reports.record_words import NOT_KNOWN, NOT_RECORDED

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cure_models.system import System
    from windows.field.record_result import Judged, LaidLayer, LayerClock, Record
    from windows.reports.paper import Block
    from windows.reports.record_words import Telling

__all__ = ["deadline_blocks", "placement_blocks", "total_blocks"]

_TIED = "\N{NO-BREAK SPACE}"


def total_blocks(record: Record, tell: Telling) -> Iterable[Block]:
    """Return area, volume and spread of each layer."""
    if not record.totals:
        return
    yield Heading("Laid, by layer" + ("" if record.day is None else " (whole placements)"))
    rows = []
    for each in record.totals:
        volume = tell.value(each.volume_l, "volume", NOT_RECORDED)
        if 0 < each.measured < each.placements:
            volume += f" ({each.measured} of {each.placements} placements tell it)"
        rows.append(
            (
                each.layer, str(each.placements), tell.value(each.area_m2, "area"), volume,
                tell.value(each.spread_l_m2, "spread_rate", NOT_KNOWN),
            )
        )  # fmt: skip
    yield Table(
        ("Layer", "Placements", "Area", "Volume", "Spread"),
        tuple(rows),
        numbered=False,
    )
    yield Paragraphs(
        ("Areas are in plan; the spread is over those areas whose volume was recorded, of "
         "strips over their share of the roof.",),
        small=True,
    )  # fmt: skip


def placement_blocks(record: Record, tell: Telling) -> Iterable[Block]:
    """Return each placement with all that is recorded of it."""
    if not record.placements:
        return
    yield Heading("Placements")
    for each in record.placements:
        body = each.body
        name = "" if each.layer is None else record.system.layers[each.layer].name
        layer = body.layer if name in ("", body.layer) else f"{body.layer} ({name})"
        yield Heading(f"Entry {each.entry.number}: {body.section}, layer {layer}", 3)
        yield Facts(tuple(_laid(each, record.system, tell)))
        films = [
            f"{n}: {tell.value(film.film_um, 'film')}{f' ({film.where})' if film.where else ''}"
            .replace(" ", _TIED)
            for n, film in enumerate(body.wet_film, start=1)
        ]
        if films:
            yield Paragraphs((f"Wet film, each reading: {'; '.join(films)}",))


def _laid(each: LaidLayer, system: System, tell: Telling) -> Iterable[tuple[str, str]]:
    body = each.body
    hours = (body.end - body.at).total_seconds() / 3600
    yield (
        "Laid",
        f"{tell.span(body.at, body.end)} ({tell.duration(hours)})",
    )
    said = "" if each.recorded_coating else " (by the system; none was recorded)"
    yield "Coating", f"{each.coating}{said}" if each.coating else NOT_RECORDED
    yield "Batches", ", ".join(body.batches) or NOT_RECORDED
    yield "Area", tell.value(body.area_m2, "area")
    yield "Volume", tell.value(body.volume_l, "volume", NOT_RECORDED)
    yield "Spread", tell.value(each.spread_l_m2, "spread_rate", NOT_KNOWN)
    yield from _wet_film(each, system, tell)
    yield "Crew", body.crew or NOT_RECORDED
    yield "Method", body.method or NOT_RECORDED
    yield "Direction of the passes", body.direction or NOT_RECORDED
    yield "Since the coat below", _since_below(each, tell)
    prepared = each.since_prepared_h
    yield (
        "Since preparation",
        "none recorded on this section" if prepared is None else tell.duration(prepared),
    )
    old = each.entry.corrects
    corrects = "" if old is None else f"; corrects entry {old}"
    yield "Written by", f"{each.entry.author}, {tell.clock(each.entry.written)}{corrects}"
    yield "Told on entry", " ".join(body.flags) or "nothing"


def _wet_film(each: LaidLayer, system: System, tell: Telling) -> Iterable[tuple[str, str]]:
    if each.layer is None:
        yield "Wet film", "no target: the system has no layer of this name"
        return
    check = each.wet
    if check is None:
        yield "Wet film", "none: a foam is not gauged wet"
        return
    yield (
        "Wet film, target",
        f"{tell.value(check.target_um, 'film')} each pass ("
        + ("generic)" if system.generic else "by the system's own values)"),
    )
    each_m2 = tell.value(field_rules().area_a_reading_m2, "area")
    yield "Readings", f"{check.taken} taken, {check.needed} needed (one for each {each_m2})"
    if check.taken:
        told = f"lowest {tell.value(check.lowest_um, 'film')}; {check.below} below target"
        if check.cannot_tell:
            told += f", {check.cannot_tell} cannot tell (the next tooth is above it)"
        yield "Wet film, lowest", told


def _since_below(each: LaidLayer, tell: Telling) -> str:
    if each.layer == 0:
        return "first layer of the system"
    if each.below is None:
        return "not known: no placement of the layer below is recorded before it"
    return f"{tell.duration(each.since_below_h)} (entry {each.below.number})"


def deadline_blocks(record: Record, tell: Telling) -> Iterable[Block]:
    """Return when each layer opened and was to be covered, and what became of it."""
    clocks = record.clocks
    if not clocks:
        return
    yield Heading("Recoat and deadlines")
    rows = [row for clock in clocks for row in _clock_rows(clock, tell)]
    yield Table(
        ("Entry", "Section, layer", "Laid", "Covered by the next", "What", "When", "Told"),
        tuple(rows),
    )
    lines = [
        "Deadlines count from the start of the layer, or from when it was prepared again; "
        "recoat opens by the cure of the layer in the weather of those hours. The opening is "
        "judged by the start of the next layer, a deadline by its end. What is not known is not "
        "met.",
    ]
    every = [each for clock in clocks for each in clock.judged]
    if any(each.generic for each in every):
        lines.append(
            "Generic: a range across products and not the data sheet's own figure. Of those on "
            "a weak basis the data sheet decides whether they were met."
        )
    lines += [f"Weather of these times: {told}" for told in record.weather]
    lines += dict.fromkeys(f"Not known: {clock.why}" for clock in clocks if clock.why)
    yield Paragraphs(tuple(lines), small=True)


def _clock_rows(clock: LayerClock, tell: Telling) -> Iterable[tuple[str, ...]]:
    number = "job file" if clock.number is None else str(clock.number)
    place = f"{clock.piece}, {clock.layer}\n{tell.value(clock.area_m2, 'area')}"
    laid = tell.span(clock.start, clock.end)
    if clock.prepared is not None:
        laid += f"\nprepared again {tell.clock(clock.prepared)}"
    covered = "not yet"
    if clock.last:
        covered = "nothing follows"
    elif clock.covered_start is not None:
        by = "job file" if clock.covered_by is None else f"entry {clock.covered_by}"
        covered = f"{tell.span(clock.covered_start, clock.covered_end)} ({by})"
    elif any(each.name == "" for each in clock.judged):
        covered = NOT_KNOWN
    head = (number, place, laid, covered)
    if not clock.judged:
        none = "the last layer" if clock.last else "it has none"
        yield (*head, "deadlines", "none", none)
    for each in clock.judged:
        yield (*head, *_judged(each, tell))
        head = (number, f"{clock.piece}, {clock.layer}", "as above", "as above")


def _judged(each: Judged, tell: Telling) -> tuple[str, str, str]:
    when = tell.clock(each.at, full=True)
    if each.generic and each.earliest is not None and each.latest is not None:
        ends = [tell.clock(end, full=True) for end in (each.earliest, each.latest)]
        when += f"\n{' to '.join(ends)} across products"
    told = str(each.told)
    if each.name == "recoat_opens":
        told = {Told.MISSED: "next layer begun before", Told.OPEN: "next layer not begun"}.get(
            each.told, told
        )
    if each.basis:
        told += f"\n{'generic, ' if each.generic else ''}{each.basis}"
    return each.label, when, told

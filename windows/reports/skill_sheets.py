"""The tables of forecast skill, for screen, CSV and page alike."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from windows.reports.sheets import Sheet
from windows.skill.pairs import LEAD_DAYS
from windows.skill.recalibrate import LEAST_BIN_DAYS, LEAST_CASES, LEAST_DAYS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from windows.reports.sheets import Cell
    from windows.reports.wording import Wording
    from windows.skill.goes import CoatGoes, GoDay
    from windows.skill.pairs import Kind
    from windows.skill.score import LeadError, RainSkill, Skill

__all__ = [
    "GO_COLUMNS", "RAIN_COLUMNS", "RELIABILITY_COLUMNS", "broke_line", "forecasts_line", "go_rows",
    "kind_name", "kinds", "left_out_lines", "rain_rows", "recalibration_lines", "reliability_rows",
    "skill_notes", "skill_sheet", "temperature_columns", "temperature_rows", "whole",
]  # fmt: skip

RAIN_COLUMNS = (
    "lead day", "chances", "scored", "it rained", "Brier score", "skill", "reliability",
    "resolution", "uncertainty",
)  # fmt: skip
RELIABILITY_COLUMNS = ("told", "chances", "mean told", "rained", "95 % interval")
GO_COLUMNS = (
    "lead day", "go hours", "held", "failed", "not known", "failed of known", "usable hours",
    "missed", "of it not foretold",
)  # fmt: skip


def forecasts_line(skill: Skill) -> str:
    """Return which forecasts are scored."""
    count = len(skill.issued)
    return (
        f"{count} forecast{'' if count == 1 else 's'} of {skill.source}, issued "
        f"{skill.issued[0]:%Y-%m-%d %H:%M} to {skill.issued[-1]:%Y-%m-%d %H:%M} UTC"
    )


def left_out_lines(skill: Skill) -> list[str]:
    """Return what was not scored: files, other sources, chances of rain."""
    told = [f"left out: {each.text}" for each in skill.unread]
    told += [
        f"not scored: {count} forecast{'' if count == 1 else 's'} of {name} (--of)"
        for name, count in skill.others.items()
    ]
    for each in skill.rain:
        if each.lead_day is not None:
            continue
        for count, why in (
            (each.not_observed, "not observed"),
            (each.in_sums, "observed only as a part of a longer sum"),
        ):
            if count:
                told.append(f"chance of rain, {kind_name(each.kind)}: {count} left out, {why}")
    return told


def kind_name(kind: Kind) -> str:
    """Return what a chance is of, for example ``"6 h at a time"``."""
    if kind.way == "runs":
        return "share of runs, hourly"
    return "hourly" if kind.hours == 1 else f"{kind.hours} h at a time"


def kinds(skill: Skill) -> list[Kind]:
    """Return the kinds of chances of which some are scored."""
    return [e.kind for e in skill.rain if e.lead_day is None and e.brier.count]


def temperature_columns(words: Wording) -> list[str]:
    """Return the heads of `temperature_rows`."""
    errors = [f"{name} {words.unit('difference')}" for name in ("bias", "error", "sd")]
    return [
        "lead day", "days of issue", "hours told", "air: known", *errors, "dew point: known",
        *errors,
    ]  # fmt: skip


def temperature_rows(skill: Skill, words: Wording) -> list[list[str]]:
    """Return the errors of air temperature and dew point by lead day that was foretold."""
    return [
        [
            str(air.lead_day), str(air.issue_days), str(air.told), *_error(air, words),
            *_error(dew, words),
        ]
        for air, dew in zip(skill.air, skill.dew, strict=True)
        if air.told or dew.told
    ]  # fmt: skip


def _error(each: LeadError, words: Wording) -> list[str]:
    found = each.error
    numbers = (words.number(value, "difference") for value in (found.bias, found.mae, found.sd))
    bias, *others = numbers
    return [
        _percent(each.both),
        f"{bias:+.1f}" if isfinite(bias) else "-",
        *(f"{value:.1f}" if isfinite(value) else "-" for value in others),
    ]


def rain_rows(skill: Skill, kind: Kind) -> list[list[str]]:
    """Return how good the chances of a kind were by lead day, all together last."""
    all_days, *by_day = (each for each in skill.rain if each.kind == kind)
    return [_rain(each) for each in (*by_day, all_days) if each.told]


def _rain(each: RainSkill) -> list[str]:
    score = each.brier
    return [
        "all" if each.lead_day is None else str(each.lead_day), str(each.told), _percent(each.both),
        _percent(score.share),
        *(
            f"{value:.3f}" if isfinite(value) else "-"
            for value in (
                score.score, score.skill, score.reliability, score.resolution, score.uncertainty
            )
        ),
    ]  # fmt: skip


def reliability_rows(skill: Skill, kind: Kind) -> list[list[str]]:
    """Return what was found where each chance was told, on all lead days together."""
    return [
        [
            f"{each.low:.0%} to {each.high:.0%}", str(each.count), _percent(each.told),
            _percent(each.found), f"{_percent(each.found_low)} to {_percent(each.found_high)}",
        ]
        for each in whole(skill, kind).bins
        if each.count
    ]  # fmt: skip


def whole(skill: Skill, kind: Kind) -> RainSkill:
    """Return the skill of a kind of chance on all lead days together."""
    return next(each for each in skill.rain if each.kind == kind and each.lead_day is None)


def go_rows(goes: CoatGoes) -> list[list[str]]:
    """Return what became of the goes of a coating by lead day, all together last."""
    rows = [_go(str(day.lead_day), day) for day in goes.days if day.go or day.usable]
    return [*rows, _go("all", goes.total)]


def _go(name: str, day: GoDay) -> list[str]:
    return [
        name, str(day.go), str(day.held), str(day.failed), str(day.not_known),
        _share(day.failed, day.held + day.failed), str(day.usable),
        _share(day.missed, day.usable), _share(day.unsure, day.usable),
    ]  # fmt: skip


def broke_line(goes: CoatGoes) -> str:
    """Return which gates and stops broke the goes that failed, nothing where none did."""
    if not goes.broke:
        return ""
    told = ", ".join(f"{name} {hours} h" for name, hours in goes.broke)
    return f"What broke those that failed (an hour may break several): {told}."


def recalibration_lines(skill: Skill, words: Wording) -> list[str]:
    """Return what can be learnt for the next forecasts, and what cannot be yet."""
    found = skill.recalibration
    told = []
    if found.days:
        days = ", ".join(str(fit.lead_day) for fit in found.days)
        first = found.days[0]
        told.append(
            f"Temperatures: bias and spread of lead day {days}; on day {first.lead_day} air "
            f"{_signed(first.air_temp_bias_k, words)} with a spread of "
            f"{words.value(first.air_temp_sd_k, 'difference')}."
        )
    if found.rain is not None:
        rain = found.rain
        points = ", ".join(
            f"{a:.0%} is {b:.0%}" for a, b in zip(rain.told, rain.found, strict=True)
        )
        told.append(
            f"Rain, of {rain.cases} chances: {points}. Brier score on forecasts left out of the "
            f"fit: {rain.before:.4f} before, {rain.after:.4f} after; standard error of the gain "
            f"{rain.gain_error:.4f}."
        )
    told += [f"Not yet: {each}." for each in found.lacking]
    return told


def _signed(kelvin: float, words: Wording) -> str:
    return f"{'+' if kelvin >= 0 else ''}{words.value(kelvin, 'difference')}"


def skill_notes() -> tuple[str, ...]:
    """Return what a reader must know of the figures."""
    return (
        "Lead day 1 is the 24 hours from the issue of a forecast, day 2 those after. Bias: "
        "forecast less observed; error: its mean size; sd: its spread about the bias. Known: share "
        "of the hours told that were observed too.",
        "It rained: 0.01 in (0.254 mm, in many files 0.25) or more in the hour, or in all hours of "
        "a period that one chance was told for, which counts once. What was not observed is left "
        "out, never dry.",
        "Brier score: mean square of chance less what came, 0 is perfect. Skill: how much less it "
        "is than that of telling the observed share every time; below 0 it is worse. Reliability "
        "is better small, resolution large; uncertainty is that of the weather.",
        "Hours of one storm, and forecasts of one day, err together: intervals are wider than they "
        "look.",
        "Go hours lie in a window of the forecast. They held or failed by all gates, holds and "
        "stops in the hours observed, on the roof as the site file has it now. Usable hours lie in "
        "a window by the hours observed; missed are those that the forecast gave no go for, of it "
        "not foretold those that it left open. With gaps in the observed hours failures look more "
        "frequent than they were: one bad hour proves a failure, and all must be known to hold.",
        f"Temperatures are learnt from {LEAST_DAYS} days of issue or more; rain from as many, and "
        f"bins of 10 % with {LEAST_CASES} chances of {LEAST_BIN_DAYS} days each. It is tried on "
        f"forecasts issued more than {LEAD_DAYS} days from those it is learnt from, since others "
        "tell of the same rain, and told if the Brier score gains more than the standard error of "
        "the gain.",
    )


def skill_sheet(skill: Skill) -> Sheet:
    """Return all figures in one long table. SI."""
    columns = ("table", "of", "lead day", "bin from", "measure", "unit", "value")
    return Sheet("Skill", columns, (*_temperatures(skill), *_rains(skill), *_goes(skill)))


def _temperatures(skill: Skill) -> Iterator[tuple[Cell, ...]]:
    for name, days in (("air_temp_c", skill.air), ("dew_point_c", skill.dew)):
        for day in days:
            found = day.error
            for measure, unit, value in (
                ("issue_days", "days", day.issue_days), ("told", "h", day.told),
                ("scored", "h", found.count), ("bias", "K", found.bias), ("mae", "K", found.mae),
                ("sd", "K", found.sd),
            ):  # fmt: skip
                yield "temperature", name, day.lead_day, None, measure, unit, value


def _rains(skill: Skill) -> Iterator[tuple[Cell, ...]]:
    for each in skill.rain:
        name, day = kind_name(each.kind), "all" if each.lead_day is None else each.lead_day
        counts = (
            ("not_observed", each.not_observed), ("in_sums", each.in_sums),
            ("scored", each.brier.count),
        )  # fmt: skip
        for measure, count in counts:
            yield "rain", name, day, None, measure, "chances", count
        for measure in (
            "share", "score", "skill", "reliability", "resolution", "uncertainty", "within"
        ):  # fmt: skip
            yield "rain", name, day, None, measure, "fraction", getattr(each.brier, measure)
        for bar in each.bins:
            low = round(bar.low, 2)
            yield "reliability", name, day, low, "count", "chances", bar.count
            for measure in ("told", "found", "found_low", "found_high"):
                yield "reliability", name, day, low, measure, "fraction", getattr(bar, measure)


def _goes(skill: Skill) -> Iterator[tuple[Cell, ...]]:
    for goes in skill.goes:
        for day in goes.days:
            for measure in ("go", "held", "failed", "not_known", "usable", "missed", "unsure"):
                yield (
                    "go", goes.coating, day.lead_day, None, measure, "h", getattr(day, measure)
                )  # fmt: skip
        for name, hours in goes.broke:
            yield "broke", goes.coating, "all", None, name, "h", hours


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.0%}" if whole else "-"


def _percent(share: float) -> str:
    return f"{share:.0%}" if isfinite(share) else "-"

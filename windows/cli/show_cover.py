"""Show on a terminal when a laid layer may, must and can still be covered."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.cli.exit_status import ExitStatus
from windows.cli.printing import heading, line, table
from windows.cover import Verdict
from windows.gates import State
from windows.reports.wording import DRY_CHANCE_NOTE
from windows.safety import GOVERNS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.cover import Cover, Deadline
    from windows.layers import SystemHours
    from windows.reports.wording import Wording

__all__ = ["EXIT", "show_cover", "show_cover_closing", "worst_exit"]

EXIT = {
    State.OK: ExitStatus.DONE,
    State.UNKNOWN: ExitStatus.UNDETERMINED,
    State.BLOCKED: ExitStatus.NO,
}
"""Exit status of what a verdict comes to: 3 is no window, 4 not determined."""


def worst_exit(covers: Sequence[Cover]) -> ExitStatus:
    """Return the exit status of several layers: no window before what is not determined."""
    return EXIT[max((cover.verdict.state for cover in covers), default=State.OK)]


def show_cover(cover: Cover, system: SystemHours, words: Wording, where: str = "") -> None:
    """Show the clocks, the verdict and the windows left of one layer."""
    layers = system.system.layers
    name, coating = layers[cover.layer].name, system.jobs[cover.layer].coating.name
    is_last = cover.layer + 1 == len(layers)
    verdict = "the last layer, nothing has to follow" if is_last else cover.verdict.upper()
    heading(f"{where}layer {cover.layer + 1}, {name} ({coating}): {verdict}")
    line(f"laid {words.clock(cover.placed_start)} to {words.clock(cover.placed_end)}; "
         f"now {words.clock(cover.now)}")  # fmt: skip
    for when, told in (
        ([h for h in cover.hazards if h.at < cover.now],
         "LOOK FIRST: by this weather the layer was laid or cured outside its limits"),
        ([h for h in cover.hazards if h.at >= cover.now],
         "PROTECT IT: this weather is still to come over the young film"),
    ):  # fmt: skip
        if when:
            names = "; ".join(
                f"{h.gate.name} ({h.gate.rule.label}) {words.clock(h.at)}" for h in when
            )
            line(f"{told}: {names}")
    rows = [
        [words.milestone(each), words.clock(at), ""]
        for each, at in cover.milestones.items()
        if each in ("rain_safe", "recoat_opens")
    ]
    rows += [[each.label, words.clock(each.at), _range(each, words)] for each in cover.deadlines]
    if not is_last:
        together = "in this layer's shift" if layers[cover.layer].next.same_shift else ""
        rows.append(["next layer done by", words.cover_by(cover), together])
    table(["clock", "when", "range across products"], rows)
    if is_last:
        return
    if cover.verdict is Verdict.COVERED:
        return
    after = f"{layers[cover.layer + 1].name} ({system.jobs[cover.layer + 1].coating.name})"
    _windows(cover, words, after)
    if cover.verdict is Verdict.DATA_SHEET:
        line(
            "The deadline is a generic value of weak basis: give your data sheet's before you rely "
            "on it."
        )
    if cover.verdict is Verdict.NONE_LEFT and any(not each.firm for each in cover.deadlines):
        line("That holds for the generic deadline: your data sheet may allow more, or less.")
    if cover.verdict is Verdict.UNDETERMINED:
        line(
            f"The weather ends {words.clock(cover.data_end)}, or has gaps, before this can be "
            "answered: what is not known is no window. Get a longer forecast and ask again."
        )
    for advice in cover.advice:
        line(f"what to do: {advice.text} [{advice.source}]")
    line()


def _range(deadline: Deadline, words: Wording) -> str:
    entry = deadline.sourced
    if deadline.earliest == deadline.latest:
        return entry.source
    firm = "" if deadline.firm else "; not firm until your data sheet gives it"
    ends = f"{words.clock(deadline.earliest)} to {words.clock(deadline.latest)}"
    return f"{ends} [{entry.source}]{firm}"


def _windows(cover: Cover, words: Wording, after: str) -> None:
    if cover.left:
        table(
            ["day", "hours", "h", "chance dry"],
            [
                [
                    words.day(w.start), words.hours(w.start, w.end), str(w.hours),
                    "not known" if w.dry_chance is None
                    else f"{w.dry_chance[0]:.0%} to {w.dry_chance[1]:.0%}",
                ]
                for w in cover.left
            ],
            title=f"Windows left for {after}; the last is on {words.day(cover.left[-1].start)}",
        )  # fmt: skip
    else:
        line(f"No window is left for {after}.")
    if cover.provisional:
        table(
            ["day", "hours", "h"],
            [
                [words.day(w.start), words.hours(w.start, w.end), str(w.hours)]
                for w in cover.provisional
            ],
            title="Provisional, sure hours included: windows if what is not known turns out well",
        )


def show_cover_closing(covers: Sequence[Cover]) -> None:
    """Show the cautions that go with the windows, and who governs."""
    told = dict.fromkeys(
        (caution.text, caution.source)
        for cover in covers
        for window in cover.left
        for caution in window.cautions
    )
    if any(window.dry_chance is not None for cover in covers for window in cover.left):
        line(DRY_CHANCE_NOTE)
    if told:
        heading("Cautions that go with these windows")
        for text, source in told:
            line(f"  - {text} [{source}]")
    line(GOVERNS)

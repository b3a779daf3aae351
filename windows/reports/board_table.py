"""The tables of the evening board as plain text, for terminal and page alike."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from windows.board.result import SiteState
from windows.decision import Verdict
from windows.gates import State
from windows.odds.chance import Method
from windows.reports.wording import Wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    import pandas as pd

    from windows.board.result import Assignment, Board, BoardSite, Deadline, Outlook, Work
    from windows.decision import Decision
    from windows.found import Tightest
    from windows.odds.chance import Chance
    from windows.reports.wording import UnitSystem

__all__ = [
    "ASSIGNMENT_COLUMNS", "DEADLINE_COLUMNS", "IDLE_COLUMNS", "MOVED_COLUMNS", "SITE_COLUMNS",
    "STALE", "UNDONE_COLUMNS", "area_told", "assignment_rows", "board_zone", "call_off_told",
    "chance_told", "day_told", "deadline_rows", "evening", "fault_lines", "idle_rows", "is_stale",
    "layers_told", "least_chance", "margin_told", "moved_rows", "outlook_told", "percent",
    "promise_told", "proof_told", "site_names", "site_rows", "site_words", "summary",
    "tightest_told", "undetermined", "undone_rows", "verdict_told", "worst_gates",
]  # fmt: skip

ASSIGNMENT_COLUMNS = (
    "day", "crew", "site", "on site", "work", "chance to hold", "nearest limit", "go or wait",
    "decide by", "promise",
)  # fmt: skip
IDLE_COLUMNS = ("day", "crew", "why it is idle")
DEADLINE_COLUMNS = (
    "how it stands", "site", "section, layer", "cover by", "cover planned", "crew",
    "chance to hold",
)  # fmt: skip
UNDONE_COLUMNS = ("site", "section, layer", "why nobody is sent")
SITE_COLUMNS = ("site", "state", "laid", "system", "weather")
MOVED_COLUMNS = ("site", "section, layer", "was", "is now", "why")

STALE = "STALE weather"
"""What stands beside all that an old forecast says of a site."""

_UTC = ZoneInfo("UTC")
# Verdict: how it is told with a time to stop, and without.
_WORDS = {
    Verdict.GO: ("GO, all of it, until {}", "GO, all of it"),
    Verdict.GO_UNTIL: ("GO, STOP at {}", "GO, STOP early"),
    Verdict.WAIT: ("WAIT", "WAIT"),
    Verdict.CLOSE_CALL: ("CLOSE CALL, leans to go until {}", "CLOSE CALL, leans to wait"),
    Verdict.NO: ("NO", "NO"),
    Verdict.NOT_KNOWN: ("NOT KNOWN", "NOT KNOWN"),
}


def board_zone(board: Board) -> ZoneInfo:
    """Return the clock that most sites have, of two as common that of the first site."""
    sound = [each.zone for each in board.sites if each.state is not SiteState.FAULT]
    counts = Counter(sound or [each.zone for each in board.sites])
    return counts.most_common(1)[0][0] if counts else _UTC


def site_words(board: Board, units: UnitSystem) -> dict[str, Wording]:
    """Return words on the clock of each site, by its key."""
    return {each.key: Wording(units, each.zone) for each in board.sites}


def site_names(board: Board) -> dict[str, str]:
    """Return the name of each site by its key; the key stands beside a name that comes twice."""
    counts = Counter(each.name for each in board.sites)
    return {
        each.key: f"{each.name} ({each.key})" if counts[each.name] > 1 else each.name
        for each in board.sites
    }


def day_told(day: date) -> str:
    """Return a day, for example ``"Mon May 4"``."""
    return f"{day:%a %b} {day.day}"


def evening(board: Board) -> str:
    """Return what evening the board is of, on the clock of most sites."""
    words = Wording("us", board_zone(board))
    local = board.now.tz_convert(words.zone)
    told = f"{words.day(board.now)} {local.year}, {local:%H:%M} {local.tzname()}"
    if any(each.zone != words.zone for each in board.sites if each.state is not SiteState.FAULT):
        told += "; every other time is on the clock of its site"
    return told


def summary(board: Board, units: UnitSystem) -> str:
    """Return sites, crews, visits, area and proof in a sentence."""
    words = Wording(units)
    told = (
        f"{_count(len(board.sites), 'site')}, {_count(len(board.crews), 'crew')}, "
        f"{_count(len(board.assignments), 'visit')}"
    )
    works = [work for each in board.assignments for work in each.works]
    if works and all(work.chance.method is Method.UNKNOWN for work in works):
        told += "; how much of what is planned will hold is not known"
    elif board.area_m2 > 0:
        held = area_told(board.expected_m2, words).removesuffix(f" {words.unit('area')}")
        told += (
            f"; {held} of {area_told(board.area_m2, words)} planned is expected "
            f"to hold ({board.expected_m2 / board.area_m2:.0%})"
        )
    return f"{told}; {proof_told(board)}."


def proof_told(board: Board) -> str:
    """Return how good the plan is known to be."""
    proof = board.proof
    if proof is None:
        return "no plan was sought"
    best = "the best plan"
    if proof.in_order:
        best += " that takes equal sections in their order"
    if proof.optimal:
        return f"proved {best} in {proof.seconds:.1f} s"
    if proof.bound <= 0:
        return f"not proved {best} in {proof.seconds:.1f} s"
    return f"at most {proof.gap:.1%} from {best}, found in {proof.seconds:.1f} s"


def assignment_rows(board: Board, units: UnitSystem) -> list[list[str]]:
    """Return the cells of `ASSIGNMENT_COLUMNS`, by day and then by the board's order of crews."""
    words, names = site_words(board, units), site_names(board)
    order = {crew.name: n for n, crew in enumerate(board.crews)}
    rows = []
    for each in sorted(board.assignments, key=lambda one: (one.day, order[one.crew], one.arrive)):
        mine = words[each.site]
        verdict = verdict_told(each.decision, mine)
        if is_stale(board.site(each.site)):
            verdict += f"; {STALE}"
        rows.append(
            [
                day_told(each.day), each.crew, names[each.site],
                mine.hours(each.arrive, each.leave), layers_told(each.works),
                chance_told(least_chance(each.works)), tightest_told(each.works, mine),
                verdict, _decide_by(each, board.now, mine), promise_told(each.works),
            ]
        )  # fmt: skip
    return rows


def _decide_by(each: Assignment, now: pd.Timestamp, words: Wording) -> str:
    """Return the cell of the last moment to decide."""
    if each.decision is None:
        return "-"
    by = words.clock(each.decision.decide_by)
    return f"{by}, has passed" if now > each.decision.decide_by else by


def call_off_told(decision: Decision, now: pd.Timestamp, words: Wording) -> str:
    """Return the last moment to decide, or that it has passed; its day is not that of the work."""
    by = words.clock(decision.decide_by)
    if now > decision.decide_by:
        return f"Time to call off ({by}) has passed"
    return f"Decide by {by}"


def undetermined(board: Board) -> str:
    """Return that what is not known decides whether anybody goes; empty where it does not."""
    if board.state is not State.UNKNOWN:
        return ""
    return (
        "UNDETERMINED: nobody is sent, and what is not known decides. Get better weather and ask "
        "again."
    )


def idle_rows(board: Board) -> list[list[str]]:
    """Return the cells of `IDLE_COLUMNS`: crews that go nowhere on a day, by day."""
    busy = {(each.crew, each.day) for each in board.assignments}
    return [
        [day_told(day), crew.name, crew.idle.get(day, "no reason is known")]
        for day in board.days
        for crew in board.crews
        if (crew.name, day) not in busy
    ]


def deadline_rows(
    board: Board, units: UnitSystem, deadlines: Iterable[Deadline] | None = None
) -> list[list[str]]:
    """Return the cells of `DEADLINE_COLUMNS`, of all deadlines or of those that are given."""
    words, names = site_words(board, units), site_names(board)
    rows = []
    for each in board.deadlines if deadlines is None else deadlines:
        mine = words[each.site]
        rows.append(
            [
                each.danger.value, names[each.site],
                f"{each.piece}, {each.layer_name}{'' if each.laid else ' (planned)'}",
                _due(each.due, board.now, mine),
                "none" if each.cover is None else mine.clock(each.cover), each.crew or "nobody",
                "-" if each.chance is None else chance_told(each.chance),
            ]
        )  # fmt: skip
    return rows


def _due(due: pd.Timestamp | None, now: pd.Timestamp, words: Wording) -> str:
    """Return a deadline and how far off it is."""
    if due is None:
        return words.clock(due)
    hours = (due - now).total_seconds() / 3600
    far = f"in {words.duration(hours)}" if hours >= 0 else f"{words.duration(-hours)} ago"
    return f"{words.clock(due)}, {far}"


def undone_rows(board: Board) -> list[list[str]]:
    """Return the cells of `UNDONE_COLUMNS`."""
    names = site_names(board)
    return [
        [names[each.site], f"{each.piece}, {each.layer + 1} {each.layer_name}", each.reason]
        for each in board.undone
    ]


def site_rows(board: Board) -> list[list[str]]:
    """Return the cells of `SITE_COLUMNS`."""
    names = site_names(board)
    return [
        [
            names[each.key], _state(each), f"{each.laid} of {each.layers} layers", each.system,
            "; ".join(each.weather.split("; ")[1:]) or each.weather or "not read",
        ]
        for each in board.sites
    ]  # fmt: skip


def moved_rows(board: Board) -> list[list[str]]:
    """Return the cells of `MOVED_COLUMNS`; a site that is gone is told by its key."""
    names = site_names(board)
    return [
        [
            names.get(each.site, each.site), f"{each.piece}, {each.layer_name}", each.was,
            each.now, each.why,
        ]
        for each in board.moved
    ]  # fmt: skip


def fault_lines(board: Board) -> list[str]:
    """Return what is wrong with the input, a line each."""
    return [f"{each.where}: {each.text}" for each in board.faults]


def chance_told(chance: Chance) -> str:
    """Return a chance with its bounds and its way, never rounded to certainty."""
    if chance.method is Method.UNKNOWN:
        return Method.UNKNOWN.value
    span = f"{percent(chance.low)} to {percent(chance.high)}"
    if chance.estimate is None:
        return f"{span} ({chance.method.value})"
    return f"{percent(chance.estimate)} ({span}, {chance.method.value})"


def verdict_told(decision: Decision | None, words: Wording) -> str:
    """Return go or wait in a word or two, with the time until which to lay.

    Work that has begun is under way: nothing is left to decide.
    """
    if decision is None:
        return "under way"
    timed, untimed = _WORDS[decision.verdict]
    if decision.stop_at is None:
        return untimed
    return timed.format(f"{decision.stop_at.tz_convert(words.zone):%H:%M}")


def area_told(area_m2: float, words: Wording) -> str:
    """Return an area, for example ``"84,380 ft²"``."""
    return f"{words.number(area_m2, 'area'):,.0f} {words.unit('area')}"


def layers_told(works: Sequence[Work]) -> str:
    """Return the layers of a visit and the pieces that each is laid on, in the order of work."""
    pieces: dict[tuple[int, str], list[str]] = {}
    for each in works:
        placed = each.placement
        pieces.setdefault((placed.layer, placed.layer_name), []).append(placed.piece)
    return "; ".join(
        f"{layer + 1} {name} on {', '.join(on)}" for (layer, name), on in pieces.items()
    )


def least_chance(works: Sequence[Work]) -> Chance:
    """Return the chance of the work that is likeliest lost."""
    return min((each.chance for each in works), key=lambda chance: (chance.careful, chance.high))


def worst_gates(works: Sequence[Work]) -> list[Work]:
    """Return, for each gate that is nearest to its limit in some work, the work nearest to it."""
    nearest: dict[str, Work] = {}
    for each in works:
        if each.tightest is None:
            continue
        known = nearest.get(each.tightest.gate.name)
        if known is None or known.tightest is None or each.tightest.margin < known.tightest.margin:
            nearest[each.tightest.gate.name] = each
    return list(nearest.values())


def tightest_told(works: Sequence[Work], words: Wording) -> str:
    """Return the gates nearest to their limits in a visit, each with its least margin."""
    told = [margin_told(each.tightest, words) for each in worst_gates(works)]
    return "; ".join(told) or margin_told(None, words)


def margin_told(tight: Tightest | None, words: Wording) -> str:
    """Return the label of a gate and its margin, for example ``"wind, most: 2.9 mph to spare"``.

    Of a share the margin is in points: 20% of humidity more is not 20 points.
    """
    if tight is None:
        return "none"
    rule = tight.gate.rule
    dimension = "difference" if rule.dimension == "temperature" else rule.dimension
    if dimension == "fraction":
        points = round(100 * tight.margin)
        spare = f"{points} point{'' if points == 1 else 's'}" if points else "under 1 point"
    else:
        finer = 0 if dimension == "difference" else 1
        spare = words.value(tight.margin, dimension, finer=finer)
    return f"{rule.label}: {spare} to spare"


def is_stale(site: BoardSite) -> bool:
    """Tell whether what is said of a site comes from an old forecast."""
    return site.stale or site.state is SiteState.STALE


def promise_told(works: Sequence[Work]) -> str:
    """Return whether a visit was promised before: ``"kept"``, ``"new"`` or ``"partly new"``."""
    kept = {each.promised for each in works}
    if kept == {True}:
        return "kept"
    return "new" if kept <= {False} else "partly new"


def outlook_told(outlook: Outlook) -> str:
    """Return the climate of a day beyond the forecast."""
    return (
        f"{day_told(outlook.day)}: workable {outlook.workable:.0%} of like days in "
        f"{outlook.years} years"
    )


def _state(site: BoardSite) -> str:
    """Return the state of a site; old weather is told whatever the state."""
    if site.stale and site.state is not SiteState.STALE:
        return f"{site.state.value}; {STALE}"
    return "STALE: forecast too old" if site.state is SiteState.STALE else site.state.value


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def percent(share: float) -> str:
    """Return a share in whole percent; nothing is told to be sure."""
    if share < 0.005:
        return "under 1%"
    return "over 99%" if share >= 0.995 else f"{share:.0%}"

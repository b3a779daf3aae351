"""Go or wait in one sentence that a crew leader reads on the phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from windows.decision import Verdict

if TYPE_CHECKING:
    import pandas as pd

    from windows.decision import Decision
    from windows.reports.wording import Wording

__all__ = ["told"]


def told(
    decision: Decision, words: Wording, currency: str = "$", now: pd.Timestamp | None = None
) -> str:
    """Return verdict, costs, chance, regret and the last moment to decide, as one sentence.

    ``currency`` is a sign before each amount, or a name or code after it: ``"$"``, ``"EUR"``.
    With ``now`` after the last moment to decide, it is told that this has passed.
    """
    parts = _PARTS[decision.verdict](_Told(decision, words, currency))
    by = words.clock(decision.decide_by)
    last = f"decide by {by}"
    if now is not None and now > decision.decide_by:
        last = f"the time to call off ({by}) has passed"
    return f"{'; '.join(parts)}; {last}."


class _Told:
    """The phrases of one decision, each as it is said in all verdicts."""

    def __init__(self, decision: Decision, words: Wording, currency: str) -> None:
        self.decision = decision
        self._words = words
        self._currency = currency

    def money(self, amount: float) -> str:
        """Return an amount, for example ``"$1,525"`` or ``"1,525 EUR"``."""
        number = f"{amount:z,.0f}"
        if self._currency.isalpha():
            return f"{number} {self._currency}"
        return f"{self._currency}{number}"

    @property
    def stop(self) -> str:
        """Until when to go, with the day unless that is the day of the decision."""
        return self._words.clock(self.decision.stop_at, self.decision.decide_by)

    @property
    def stops_early(self) -> bool:
        """Whether more could be laid than should."""
        told = self.decision
        return told.stop_at is not None and told.cost_best < told.cost_go

    @property
    def costs(self) -> str:
        """The expected costs of all choices."""
        told = self.decision
        go, wait, best = map(self.money, (told.cost_go, told.cost_wait, told.cost_best))
        if self.stops_early:
            return f"expected cost {best} until then, {go} for the whole shift, {wait} for waiting"
        return f"expected cost {go} for going, {wait} for waiting"

    @property
    def chance(self) -> str:
        """The share of the area that is lost on average, beside the break-even.

        It is a mean over the hours, each with its own hold; that a whole work holds is another
        chance, and must not be told in the same words.
        """
        told = self.decision
        shown = [told.lost_low, told.lost_high, told.break_even]
        shown += [] if told.lost is None else [told.lost]
        # Numbers on two sides of a decision must not look alike.
        even = told.break_even
        near = any(f"{share:.2f}" == f"{even:.2f}" and share != even for share in shown)
        low, high, limit = (self.percent(share, near) for share in shown[:3])
        area = "the whole shift's area" if self.stops_early else "the area"
        if told.lost is None:
            share = f"{low} to {high} of {area} is lost, no better estimate"
        elif low == high:
            share = f"{low} of {area} is lost"
        else:
            share = f"{self.percent(told.lost, near)} of {area} is lost ({low} to {high})"
        return f"on average {share}, break-even {limit}"

    def percent(self, share: float, finer: bool = False) -> str:
        """Return a share; one that is not quite none or all is not rounded to it."""
        least = 0.0005 if finer else 0.005
        if 0 < share < least:
            return f"under {self._words.value(2 * least, 'fraction', finer=int(finer))}"
        if 1 - least < share < 1:
            return f"over {self._words.value(1 - 2 * least, 'fraction', finer=int(finer))}"
        return self._words.value(share, "fraction", finer=int(finer))

    @property
    def regret(self) -> str:
        """What a wrong choice costs, each way."""
        go, wait = map(self.money, (self.decision.regret_go, self.decision.regret_wait))
        return (
            f"going and losing it costs {go} more than waiting, waiting for a coat that would have "
            f"held costs {wait}"
        )


def _go(told: _Told) -> list[str]:
    return [f"Go for the whole shift, until {told.stop}: {told.costs}", told.chance, told.regret]


def _go_until(told: _Told) -> list[str]:
    return [f"Go until {told.stop}, then stop: {told.costs}", told.chance, told.regret]


def _wait(told: _Told) -> list[str]:
    return [f"Wait: {told.costs}", told.chance, told.regret]


def _close(told: _Told) -> list[str]:
    leans = "wait" if told.decision.stop_at is None else f"go until {told.stop}"
    return [
        f"Close call, your judgement: the odds are too wide to decide, the best guess is to {leans}"
        f", {told.costs}",
        told.chance,
        told.regret,
    ]  # fmt: skip


def _no(told: _Told) -> list[str]:
    return [
        "No: a hard limit is not met or not known when the shift begins, and costs are not weighed "
        f"against it; standing down costs {told.money(told.decision.cost_wait)}"
    ]


def _not_known(told: _Told) -> list[str]:
    even = told.decision.break_even
    return [
        "Not known: nothing tells how much of the area is lost, so costs cannot decide, and going "
        f"is worth it only below {told.percent(even)}",
        f"waiting costs {told.money(told.decision.cost_wait)}",
        told.regret,
    ]


_PARTS = {
    Verdict.GO: _go,
    Verdict.GO_UNTIL: _go_until,
    Verdict.WAIT: _wait,
    Verdict.CLOSE_CALL: _close,
    Verdict.NO: _no,
    Verdict.NOT_KNOWN: _not_known,
}

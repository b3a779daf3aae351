"""Go or wait in one sentence: every verdict, with its numbers and without false comfort."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from windows.decision import Decision, Verdict
from windows.reports.decision_words import told
from windows.reports.wording import Wording

WORDS = Wording("us", ZoneInfo("America/Chicago"))
END = pd.Timestamp("2026-06-11T20:00Z")
GO = Decision(
    Verdict.GO, END, 0.1315, 0.02, 0.06, 0.09,
    cost_go=696.0, cost_wait=1525.0, cost_best=696.0, regret_go=10_075.0, regret_wait=1525.0,
    decide_by=pd.Timestamp("2026-06-10T22:00Z"),
)  # fmt: skip
UNTIL = replace(
    GO, verdict=Verdict.GO_UNTIL, lost=0.2, lost_high=0.4, cost_go=2320.0, cost_best=1010.4
)
WAIT = replace(
    GO, verdict=Verdict.WAIT, stop_at=None, lost_low=0.15, lost=0.3, lost_high=0.4,
    cost_go=3480.0, cost_best=1525.0,
)  # fmt: skip
CLOSE = replace(GO, verdict=Verdict.CLOSE_CALL, lost_high=0.3)
NO = replace(WAIT, verdict=Verdict.NO)
NOT_KNOWN = replace(
    WAIT, verdict=Verdict.NOT_KNOWN, lost=None, lost_low=0.0, lost_high=1.0, cost_go=11_600.0
)
ALL = (GO, UNTIL, WAIT, CLOSE, replace(CLOSE, stop_at=None), NO, NOT_KNOWN)


def test_go():
    assert told(GO, WORDS) == (
        "Go for the whole shift, until Thu Jun 11 15:00: expected cost $696 for going, $1,525 for "
        "waiting; on average 6% of the area is lost (2% to 9%), break-even 13%; going and losing "
        "it costs $10,075 more than waiting, waiting for a coat that would have held costs $1,525; "
        "decide by Wed Jun 10 17:00."
    )


def test_go_until():
    assert told(UNTIL, WORDS) == (
        "Go until Thu Jun 11 15:00, then stop: expected cost $1,010 until then, $2,320 for the "
        "whole shift, $1,525 for waiting; on average 20% of the whole shift's area is lost (2% to "
        "40%), break-even 13%; going and losing it costs $10,075 more than waiting, waiting for a "
        "coat that would have held costs $1,525; decide by Wed Jun 10 17:00."
    )


def test_go_until_a_hard_limit_tells_no_second_cost():
    sentence = told(replace(UNTIL, cost_go=1010.4), WORDS)
    assert "cost $1,010 for going, $1,525 for waiting; on average 20% of the area is" in sentence


def test_wait():
    assert told(WAIT, WORDS) == (
        "Wait: expected cost $3,480 for going, $1,525 for waiting; on average 30% of the area is "
        "lost (15% to 40%), break-even 13%; going and losing it costs $10,075 more than waiting, "
        "waiting for a coat that would have held costs $1,525; decide by Wed Jun 10 17:00."
    )


def test_close_call():
    begin = "Close call, your judgement: the odds are too wide to decide, the best guess is to "
    assert told(CLOSE, WORDS).startswith(f"{begin}go until Thu Jun 11 15:00, expected cost $696 ")
    assert told(replace(CLOSE, stop_at=None), WORDS).startswith(f"{begin}wait, expected cost $696 ")


def test_no_tells_no_price_of_going():
    assert told(NO, WORDS) == (
        "No: a hard limit is not met or not known when the shift begins, and costs are not weighed "
        "against it; standing down costs $1,525; decide by Wed Jun 10 17:00."
    )


def test_not_known():
    assert told(NOT_KNOWN, WORDS) == (
        "Not known: nothing tells how much of the area is lost, so costs cannot decide, and going "
        "is worth it only below 13%; waiting costs $1,525; going and losing it costs $10,075 more "
        "than waiting, waiting for a coat that would have held costs $1,525; decide by Wed Jun 10 "
        "17:00."
    )


def test_every_verdict_is_one_sentence_that_promises_nothing():
    assert {decision.verdict for decision in ALL} == set(Verdict)
    for decision in ALL:
        sentence = told(decision, WORDS)
        assert "safe" not in sentence.lower()
        assert "nan" not in sentence
        assert sentence.endswith("decide by Wed Jun 10 17:00.")
        assert sentence.count(". ") == 0
        assert "\n" not in sentence


def test_the_day_of_the_decision_is_not_told_twice():
    same_day = replace(GO, decide_by=pd.Timestamp("2026-06-11T10:00Z"))
    assert "until 15:00:" in told(same_day, WORDS)


def test_bounds_alone_and_one_number_alone():
    bounds = told(replace(GO, lost=None), WORDS)
    assert "on average 2% to 9% of the area is lost, no better estimate" in bounds
    alone = replace(GO, lost_low=0.06, lost_high=0.06)
    assert "on average 6% of the area is lost, break-even" in told(alone, WORDS)


def test_a_chance_near_the_break_even_does_not_look_the_same():
    near = replace(WAIT, lost_low=0.134, lost=0.2)
    assert "20.0% of the area is lost (13.4% to 40.0%), break-even 13.2%" in told(near, WORDS)


def test_what_is_not_quite_none_or_all_is_not_rounded_to_it():
    sentence = told(replace(GO, lost_low=0.001, lost_high=0.999), WORDS)
    assert "(under 1% to over 99%)" in sentence


@pytest.mark.parametrize(("currency", "shown"), [("EUR", "696 EUR"), ("£", "£696")])
def test_any_currency(currency, shown):
    assert f"expected cost {shown} for going" in told(GO, WORDS, currency)


def test_a_time_to_call_off_that_has_passed_is_told():
    by = GO.decide_by
    for now in (None, by - pd.Timedelta(hours=1), by):
        assert told(GO, WORDS, now=now).endswith("; decide by Wed Jun 10 17:00.")
    late = by + pd.Timedelta(minutes=1)
    for decision in ALL:
        sentence = told(decision, WORDS, now=late)
        assert sentence.endswith("; the time to call off (Wed Jun 10 17:00) has passed.")
        assert "decide by" not in sentence

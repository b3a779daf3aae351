"""The vocabulary of limits holds together: what a profile can name, the gates can check."""

import pytest

from cure_models.limits import DEADLINES, GATE_RULES, MILESTONES

RULES = list(GATE_RULES.values())


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_hold_ends_at_a_milestone_or_by_the_clock_and_nothing_else_ends(rule):
    ends = (rule.until is not None) + rule.clocked
    assert ends == (1 if rule.kind == "hold" else 0)
    assert rule.until is None or rule.until in MILESTONES


def test_a_borrowed_limit_is_one_of_the_same_quantity_and_sense():
    borrowed = [rule for rule in RULES if rule.limit_of]
    assert [rule.name for rule in borrowed] == ["rising"]
    for rule in borrowed:
        lender = GATE_RULES[rule.limit_of]
        assert (lender.quantity, lender.sense) == (rule.quantity, rule.sense)
        assert (lender.kind, lender.limit_of) == ("placement", None)


def test_only_rain_fails_at_its_limit():
    assert [rule.name for rule in RULES if not rule.inclusive] == ["no_rain"]


def test_only_wind_asks_how_the_coat_is_laid():
    assert {rule.name: rule.method for rule in RULES if rule.method} == {
        "wind_max_spray": "spray", "wind_max_roller": "roller", "wind_screen": "spray",
    }  # fmt: skip


def test_names_are_said_once():
    assert len({rule.label for rule in RULES}) == len(RULES)
    names = {*GATE_RULES, *MILESTONES, *DEADLINES}
    assert len(names) == len(GATE_RULES) + len(MILESTONES) + len(DEADLINES)


def test_milestones_stand_in_the_order_of_cure():
    assert list(MILESTONES) == ["touch", "dew_safe", "rain_safe", "recoat_opens", "cured"]

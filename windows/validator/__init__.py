"""The check of a plan: every rule worked out again from the raw conditions, hour by hour.

Nothing is shared with what finds windows or makes plans: gates, holds, the cure clock, shifts and
deadlines are read here a second time, in plain loops over the few hours concerned. Only the safety
stops are taken as they are. What is not known breaks a rule as a hazard does.
"""

from __future__ import annotations

from windows.validator.every_rule import validate
from windows.validator.layer_hours import LayerHours
from windows.validator.plan_check import Violation

__all__ = ["LayerHours", "Violation", "validate"]

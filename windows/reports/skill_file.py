"""What forecasts are known to err by, as a file (TOML) that the odds read."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from windows.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from windows.skill.score import Skill

__all__ = ["FORECAST_ERROR", "forecast_error_toml"]

FORECAST_ERROR = "forecast_error.toml"
"""Name of the file beside the site file that the odds look for."""


def forecast_error_toml(skill: Skill) -> str:
    """Return the file.

    Raises
    ------
    OutputError
        If no lead day has enough forecasts for it.
    """
    learnt = skill.recalibration
    if not learnt.days:
        raise OutputError(
            f"--write: there is not enough to learn from yet ({'; '.join(learnt.lacking)}); keep "
            "more forecasts, or leave the option out"
        )
    first, last = (f"{when:%Y-%m-%d}" for when in (skill.issued[0], skill.issued[-1]))
    source = f"measured: {len(skill.issued)} forecasts of {skill.source}, {first} to {last}"
    lines = [
        "# What kept forecasts erred by, from dewgap skill: forecast less observed, by lead day.",
        "schema = 1",
        f"source = {_text(source)}",
        f"lead_day = [{', '.join(str(fit.lead_day) for fit in learnt.days)}]",
    ]
    lines += [
        _list(key, [getattr(fit, key) for fit in learnt.days])
        for key in ("air_temp_bias_k", "air_temp_sd_k", "dew_point_bias_k", "dew_point_sd_k")
    ]
    if learnt.rain is not None:
        lines += [
            _list("rain_prob_told", learnt.rain.told), _list("rain_prob_found", learnt.rain.found)
        ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _text(text: str) -> str:
    """Return a text in quotes: JSON's escapes are TOML's too, but for pairs and the sign 127."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _list(key: str, numbers: Sequence[float]) -> str:
    return f"{key} = [{', '.join(f'{number:z.4f}' for number in numbers)}]"

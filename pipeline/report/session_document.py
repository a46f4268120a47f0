"""The session and the cautions as plain tables for ``reps.json``; never NaN in them."""

from __future__ import annotations

import math
from typing import Any

from pipeline.core.session_results import (
    Caution,
    MeasureSummary,
    MoveSummary,
    Said,
    SessionSummary,
    Trend,
)

_DECIMALS_IN_FILES = 6


def caution_document(caution: Caution) -> dict[str, Any]:
    """Give a caution as the schema has it."""
    return {
        "key": caution.key,
        "text": caution.text,
        "reps": list(caution.reps),
        "numbers": {name: _finite(value) for name, value in caution.numbers.items()},
    }


def session_document(session: SessionSummary) -> dict[str, Any]:
    """Give a session as the schema has it."""
    return {
        "went_well": _said(session.went_well),
        "work_on": _said(session.work_on),
        "trend": _said(session.trend),
        "moves": [_move(summary) for summary in session.moves],
    }


def _said(said: Said | None) -> dict[str, Any] | None:
    if said is None:
        return None
    return {"move": said.move, "key": said.key or None, "side": said.side, "text": said.text}


def _move(summary: MoveSummary) -> dict[str, Any]:
    return {
        "move": summary.move,
        "n_reps": summary.n_reps,
        "measures": {measure.key: _measure(measure) for measure in summary.measures},
    }


def _measure(measure: MeasureSummary) -> dict[str, Any]:
    return {
        "unit": measure.unit,
        "n_measured": measure.n_measured,
        "mean": _finite(measure.mean),
        "u_mean": _finite(measure.u_mean),
        "spread": _finite(measure.spread),
        "noise": _finite(measure.noise),
        "own_spread": _finite(measure.own_spread),
        "typical_error": _finite(measure.typical_error),
        "smallest_real_change": _finite(measure.smallest_real_change),
        "n_in": measure.n_in,
        "n_low": measure.n_low,
        "n_high": measure.n_high,
        "n_close": measure.n_close,
        "trend": None if measure.trend is None else _trend(measure.trend),
    }


def _trend(trend: Trend) -> dict[str, Any]:
    return {
        "n_third": trend.n_third,
        "early": _finite(trend.early),
        "late": _finite(trend.late),
        "u_change": _finite(trend.u_change),
        "smallest_real_change": _finite(trend.smallest_real_change),
        "probability_by_chance": _finite(trend.probability_by_chance),
        "word": trend.word,
    }


def _finite(value: float | None) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), _DECIMALS_IN_FILES)

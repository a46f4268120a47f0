"""Holds what was measured in a rep against the ranges in force for this athlete."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.result_types import Measurement, Verdict
from pipeline.settings import AnalysisSettings
from pipeline.target_arms import defenders_arm, told_arm
from pipeline.target_ranges import Targets
from pipeline.types import Rep
from pipeline.verdicts import judge_rep


def judged(
    rep: Rep, measured: Mapping[str, Measurement], targets: Targets, settings: AnalysisSettings
) -> tuple[Verdict, ...]:
    """Judge every measure of a rep that has a range.

    Parameters
    ----------
    rep
        For its move and the hand on top.
    measured
        By measure key.
    targets, settings
        The ranges, and whose rep it is.
    """
    ranges = targets.for_athlete(
        rep.move,
        settings.level,
        settings.stature_m,
        hand=rep.stick_hand,
        athlete=settings.athlete,
        arm=told_arm(settings.arm_length_m),
        defender_arm=defenders_arm(measured),
    )
    return judge_rep(
        measured,
        ranges,
        inside_level=targets.inside_level,
        outside_level=targets.outside_level,
    )

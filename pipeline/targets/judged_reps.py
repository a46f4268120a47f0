"""Holds what was measured in a rep against the ranges in force for this athlete."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.core.results import Measurement, Verdict
from pipeline.core.types import Rep
from pipeline.settings.settings import AnalysisSettings
from pipeline.targets.arm_lengths import defenders_arm, told_arm
from pipeline.targets.lookup import Targets
from pipeline.targets.verdicts import judge_rep


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

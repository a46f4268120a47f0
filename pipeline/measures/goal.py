"""What a shooter sees of the goal: the angle that its mouth takes up."""

from __future__ import annotations

import numpy as np

from pipeline.core.move_table import SHOTS
from pipeline.measures.registry import measure
from pipeline.measures.steps import mid_foot_m
from pipeline.measures.view import NotMeasured, Reading, RepView


@measure("shot_angle_deg", moves=SHOTS)
def shot_angle(view: RepView) -> Reading:
    """Angle between the lines from mid-foot at the release to the two posts, their inner edges.

    Plane geometry on the ground: for a goal of width w it is
    atan2(w y, x^2 + y^2 - w^2 / 4) from a place x beside and y before the middle of its mouth.
    """
    if view.goal_m is None:
        raise NotMeasured("no_goal")
    shooter = mid_foot_m(view.athlete, view.instant("release"))
    left, right = (view.goal_m[: len(shooter), post] - shooter for post in (0, 1))
    cross = left[:, 0] * right[:, 1] - left[:, 1] * right[:, 0]
    angle = np.degrees(np.arctan2(np.abs(cross), np.sum(left * right, axis=-1)))
    release_s = float(view.instant("release")[0])
    return Reading(angle, view.between(release_s - 0.02, release_s + 0.02))

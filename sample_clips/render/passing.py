"""The plan of somebody who walks past the players, on a straight line across the picture."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .hardships import PasserBy
from .moves.common import RepWindow, hands
from .tracks import Facing, Plan, Walk

Floats = NDArray[np.float64]

CLEAR_M = 1.2
"""Everybody stays this far from the line of the walk."""
NEAREST_TO_CAMERA_M = 2.2
SHARE_BEFORE = 0.58
"""Where he walks between camera and athlete, share of their distance, if that is clear."""
STEP_M = 0.72


def crossing_s(reps: Sequence[RepWindow], *, before: bool) -> float:
    """Return when the line of sight to the athlete is crossed, s.

    Before the players: while the athlete stands ready for the last rep, so that no event is
    hidden. Behind them: in the middle of the burst of the last rep, when it disturbs most.
    """
    last = reps[-1]
    return last.start_s + 0.1 if before else sum(last.burst_s) / 2


def line_of_walk(
    passer_by: PasserBy, camera_m: Floats, athlete_m: Floats, paths_m: Sequence[Floats]
) -> tuple[Floats, Floats]:
    """Return where the walk crosses the line of sight and its direction, on the ground.

    Parameters
    ----------
    passer_by : PasserBy
    camera_m : array (2,)
    athlete_m : array (2,)
        At the instant of the crossing.
    paths_m : sequence of array (n_times, 2)
        Of all players; none comes nearer to the line than `CLEAR_M`.
    """
    line = athlete_m - camera_m
    distance_m = float(np.linalg.norm(line))
    ahead = line / distance_m
    depths_m = np.concatenate([(path - camera_m) @ ahead for path in paths_m])
    if passer_by.before:
        depth_m = min(SHARE_BEFORE * distance_m, float(depths_m.min()) - CLEAR_M)
        depth_m = max(depth_m, NEAREST_TO_CAMERA_M)
    else:
        depth_m = float(depths_m.max()) + CLEAR_M
    right = np.array([ahead[1], -ahead[0]])
    return camera_m + ahead * depth_m, right * np.sign(passer_by.walk_mps)


def plan_of_walk(
    passer_by: PasserBy, spot_m: Floats, way: Floats, cross_s: float, duration_s: float
) -> Plan:
    """Return the plan of an even walk that is at a spot at one instant, arms swinging."""
    speed_mps = abs(passer_by.walk_mps)
    period_s = STEP_M * passer_by.person.stature_m / 1.8 / speed_mps
    plan = Plan(top_side="right", stance_m=0.06 * passer_by.person.stature_m)
    for when in (0.0, duration_s):
        plan.path_m.key(when, spot_m + way * speed_mps * (when - cross_s), way * speed_mps)
    plan.facing.append(Facing(0.0, float(np.arctan2(way[1], way[0]))))
    plan.height.key(0.0, 0.975)
    plan.lean_deg.key(0.0, (2.0, 0.0))
    plan.steps.append(Walk(start_s=0.0, stop_s=duration_s, period_s=period_s, last_foot="left"))
    when, left_lands = duration_s, True
    while when > 0:
        # The arm of the other side comes forward with each foot.
        swing = 0.10 if left_lands else -0.10
        plan.hands.key(
            when, hands("right", (0.03 + swing, 0.15, 0.445), (0.03 - swing, -0.15, 0.445))
        )
        when, left_lands = when - period_s, not left_lands
    return plan

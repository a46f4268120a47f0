"""The angle of the goal mouth, against plane geometry."""

import numpy as np
import pytest

from pipeline.measures.spacing import shot_angle
from pipeline.measures.view import NotMeasured
from tests.fixtures.views import motion_from, view_of

WIDTH_M = 1.8288
POSTS_M = np.array([[-0.5 * WIDTH_M, 0.0], [0.5 * WIDTH_M, 0.0]])


def shooter_at(x_m, y_m, goal_m=POSTS_M):
    joints = {
        f"{side}_{part}": np.array([x_m, y_m + dy, 0.04])
        for side in ("left", "right")
        for part, dy in (("heel", -0.1), ("toe", 0.1))
    }
    draws = None if goal_m is None else np.repeat(goal_m[None], 4, axis=0)
    motion = motion_from(np.arange(11) / 10, joints)
    return view_of(motion, {"release": 0.5}, goal_m=draws)


@pytest.mark.parametrize(
    ("x_m", "y_m", "angle_deg"),
    [
        (0.0, 0.5 * WIDTH_M, 90.0),
        (0.0, -0.5 * WIDTH_M, 90.0),
        (0.0, 10.0, 2 * np.degrees(np.arctan(0.5 * WIDTH_M / 10.0))),
        (0.5 * WIDTH_M, WIDTH_M, 45.0),
        (5.0, 0.0, 0.0),
        (0.0, 0.0, 180.0),
    ],
)
def test_the_mouth_takes_up_the_angle_between_its_posts(x_m, y_m, angle_deg):
    assert shot_angle(shooter_at(x_m, y_m)).values[0] == pytest.approx(angle_deg)


def test_each_draw_has_a_goal_of_its_own():
    view = shooter_at(0.0, 5.0)
    view.goal_m[1] *= 2.0
    assert shot_angle(view).values[1] > 1.9 * shot_angle(view).values[0]


def test_without_a_marked_goal_there_is_no_angle():
    with pytest.raises(NotMeasured, match="no goal was marked"):
        shot_angle(shooter_at(0.0, 5.0, None))

"""A marked goal: where its mouth is, whatever points of its posts were marked."""

import numpy as np
import pytest

from calibration.field_places import GOAL_SIZES, goal_places
from calibration.marked_goal import goal_mouth_m
from calibration.marks import Mark


def goal_marks(*parts):
    return [
        Mark(name=place.name, field_m=place.field_m, image_px=(0.0, 0.0))
        for place in goal_places(GOAL_SIZES["6x6"])
        if any(part in place.name for part in parts)
    ]


@pytest.mark.parametrize("parts", [("post_foot",), ("crossbar",), ("left_post", "right_crossbar")])
def test_the_mouth_of_a_marked_goal_lies_between_its_pipes(parts):
    mouth_m = goal_mouth_m(goal_marks(*parts))
    assert mouth_m == pytest.approx(np.array([[-0.9144, 0.0], [0.9144, 0.0]]), abs=1e-4)


def test_one_post_or_marks_of_other_things_show_no_goal():
    assert goal_mouth_m(goal_marks("left")) is None
    assert goal_mouth_m([]) is None
    same = goal_marks("left_post")
    other = Mark(name="goal_right_post_foot", field_m=same[0].field_m, image_px=(1.0, 1.0))
    assert goal_mouth_m([*same, other]) is None

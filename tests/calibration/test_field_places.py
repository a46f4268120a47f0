"""Known places: a goal's points on its pipes' middle lines, a crease around its middle."""

import numpy as np
import pytest

from calibration.field_places import (
    CREASE_RADII_M,
    GOAL_SIZES,
    crease_places,
    goal_places,
)


@pytest.mark.parametrize(
    ("key", "width_m", "height_m"),
    [("6x6", 1.8288, 1.8288), ("4x4", 1.2192, 1.2192), ("3x3", 0.9144, 0.9144),
     ("box", 1.4478, 1.2192)],
)  # fmt: skip
def test_a_goal_is_as_wide_and_high_as_the_rules_say(key, width_m, height_m):
    size = GOAL_SIZES[key]
    assert (size.width_m, size.height_m) == pytest.approx((width_m, height_m))
    places = {place.name: np.array(place.field_m) for place in goal_places(size)}
    pipe_m = 0.04826
    across = places["goal_right_post_foot"] - places["goal_left_post_foot"]
    assert across == pytest.approx([width_m + pipe_m, 0, 0], abs=2e-4)
    up = places["goal_left_crossbar_corner"] - places["goal_left_post_foot"]
    assert up == pytest.approx([0, 0, height_m + pipe_m / 2], abs=1e-4)


def test_left_is_left_of_someone_who_looks_along_y():
    places = {place.name: place.field_m for place in goal_places(GOAL_SIZES["6x6"])}
    assert places["goal_left_post_foot"][0] < 0 < places["goal_right_post_foot"][0]


@pytest.mark.parametrize(
    ("radius_m", "feet"), list(zip(CREASE_RADII_M.values(), (9, 8.5), strict=True))
)
def test_points_of_a_crease_lie_on_its_circle(radius_m, feet):
    places = crease_places(radius_m)
    assert radius_m == pytest.approx(feet * 0.3048)
    assert len({place.name for place in places}) == len(places) == 4
    assert [np.linalg.norm(place.field_m) for place in places] == pytest.approx([radius_m] * 4)

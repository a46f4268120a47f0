"""Another body in the way: joints near it are less sure, those behind it least of all."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.types import JOINTS
from pipeline.people.smoothing import CLEAR_OF_STATURE, NOISE_BEHIND, NOISE_IN_FRONT, covered_noise

ji = JOINTS.index
SIZE_PX = 300.0


def stander(x_px, feet_y_px):
    """One frame of an upright body, SIZE_PX tall, by its feet."""
    joints = np.zeros((1, len(JOINTS), 2))
    heights = {
        "nose": 0.9,
        "eye": 0.92,
        "ear": 0.92,
        "shoulder": 0.8,
        "elbow": 0.62,
        "wrist": 0.5,
        "hand": 0.47,
        "hip": 0.5,
        "knee": 0.27,
        "ankle": 0.05,
        "heel": 0.02,
        "toe": 0.0,
    }
    for joint, name in enumerate(JOINTS):
        side = -0.06 if name.startswith("left") else 0.06 if name.startswith("right") else 0.0
        joints[0, joint] = x_px + side * SIZE_PX, feet_y_px - heights[name.split("_")[-1]] * SIZE_PX
    return joints


def noise_of(*people):
    return covered_noise(np.stack(people), np.full(len(people), SIZE_PX))


def test_bodies_far_apart_add_nothing():
    assert (noise_of(stander(300.0, 600.0), stander(900.0, 620.0)) == 0.0).all()


def test_the_feet_of_the_one_behind_are_least_sure():
    behind, front = noise_of(stander(500.0, 600.0), stander(500.0, 615.0))[:, 0]
    foot = ji("left_heel")
    assert behind[foot] == pytest.approx(NOISE_BEHIND[foot] * SIZE_PX)
    assert front[foot] == pytest.approx(NOISE_IN_FRONT[foot] * SIZE_PX)


@given(st.floats(0.0, 3.0))
def test_noise_falls_with_the_distance(shift):
    near, far = (
        noise_of(stander(500.0, 600.0), stander(500.0 + d * SIZE_PX, 610.0))[0, 0]
        for d in (0.3 * shift, 0.3 * shift + 0.1)
    )
    outermost = ji("left_hand")
    assert far[outermost] <= near[outermost] + 1e-9


def test_nobody_is_in_the_way_of_himself_or_of_one_who_is_not_seen():
    alone = stander(500.0, 600.0)
    assert (noise_of(alone) == 0.0).all()
    assert (noise_of(alone, np.full_like(alone, np.nan)) == 0.0).all()


def test_the_reach_is_a_share_of_the_other_bodys_size():
    right = stander(500.0, 600.0)
    edge = 500.0 + (0.12 + CLEAR_OF_STATURE + 0.01) * SIZE_PX
    assert (noise_of(right, stander(edge, 600.0))[0] == 0.0).all()

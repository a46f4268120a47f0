"""Offsets of the model's points: the table's shape, and the body's own axes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.types import JOINTS
from pipeline.scene.joint_offsets import body_axes, joint_offsets

ji = JOINTS.index


def body_facing(angle_deg):
    """Shoulders and hips of a body whose camera looks along z, y down: 0 faces away from it."""
    angle = np.radians(angle_deg)
    leftward = np.array([-np.cos(angle), 0.0, np.sin(angle)])
    body = np.zeros((1, len(JOINTS), 3))
    for part, half_m in (("shoulder", 0.18), ("hip", 0.1)):
        body[0, ji(f"left_{part}")] = half_m * leftward
        body[0, ji(f"right_{part}")] = -half_m * leftward
    return body


@given(st.floats(-180.0, 180.0))
def test_the_axes_of_a_body_are_where_it_faces(angle_deg):
    forward, leftward, up = body_axes(body_facing(angle_deg), np.array([0.0, -1.0, 0.0]))[0].T
    angle = np.radians(angle_deg)
    assert forward == pytest.approx([np.sin(angle), 0.0, np.cos(angle)], abs=1e-9)
    assert np.cross(leftward, up) == pytest.approx(forward, abs=1e-9)
    assert up == pytest.approx([0.0, -1.0, 0.0])


def test_the_two_sides_mirror_each_other():
    offsets = joint_offsets()
    for values in (offsets.picture, offsets.metric):
        left, right = values[ji("left_hip")], values[ji("right_hip")]
        assert left * (1.0, -1.0, 1.0) == pytest.approx(right)
    assert offsets.u_picture[ji("left_knee")] == pytest.approx(offsets.u_picture[ji("right_knee")])


def test_offsets_are_some_centimetres_at_most():
    offsets = joint_offsets()
    assert np.abs(offsets.picture).max() < 0.04
    assert (offsets.u_picture > 0.0).all()
    assert (offsets.u_metric > 0.0).all()
    assert 0.0 < offsets.u_arm < 0.1


def test_nothing_known_of_a_body_gives_no_axes():
    unknown = np.full((2, len(JOINTS), 3), np.nan)
    assert np.isnan(body_axes(unknown, np.array([0.0, -1.0, 0.0]))[:, :, :2]).all()

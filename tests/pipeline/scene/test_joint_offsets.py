"""Offsets of the model's points: the table's shape, and the body's own axes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models import MODELS
from pipeline.core.types import JOINTS
from pipeline.scene.joint_offsets import body_axes, joint_offsets, of_unknown_model

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


@pytest.mark.parametrize("model", MODELS)
def test_the_two_sides_mirror_each_other(model):
    offsets = joint_offsets(model)
    for values in (offsets.picture, offsets.metric):
        left, right = values[ji("left_hip")], values[ji("right_hip")]
        assert left * (1.0, -1.0, 1.0) == pytest.approx(right)
    assert offsets.u_picture[ji("left_knee")] == pytest.approx(offsets.u_picture[ji("right_knee")])


@pytest.mark.parametrize("model", [*MODELS, "own.task"])
def test_offsets_are_some_centimetres_at_most(model):
    offsets = joint_offsets(model)
    assert np.abs(offsets.picture).max() < 0.04
    assert (offsets.u_picture > 0.0).all()
    assert (offsets.u_metric > 0.0).all()
    assert 0.0 < offsets.u_arm < 0.15
    assert 0.7 < offsets.chain < 0.8


def test_a_model_of_ones_own_is_less_sure_than_shipped_ones():
    own, shipped = joint_offsets("own.task"), [joint_offsets(name) for name in MODELS]
    assert own.u_arm > np.mean([one.u_arm for one in shipped])
    for name in ("u_picture", "u_metric"):
        usual = np.mean([getattr(one, name) for one in shipped], axis=0)
        assert (getattr(own, name)[:, 0] > usual[:, 0]).all()


def test_models_that_agree_leave_an_unknown_one_as_sure_as_they_are():
    one = joint_offsets("full")
    unknown = of_unknown_model([one, one])
    for name in ("picture", "metric", "u_picture", "u_metric", "arm"):
        assert getattr(unknown, name) == pytest.approx(getattr(one, name))
    assert (unknown.u_arm, unknown.chain) == pytest.approx((one.u_arm, one.chain))


def test_nothing_known_of_a_body_gives_no_axes():
    unknown = np.full((2, len(JOINTS), 3), np.nan)
    assert np.isnan(body_axes(unknown, np.array([0.0, -1.0, 0.0]))[:, :, :2]).all()

"""Knee and trunk over the leg that plants: sizes and signs on both sides, worked by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.types import Motion
from pipeline.measures import plant_leg
from pipeline.measures.view import NotMeasured
from tests.fixtures.views import motion_from, view_of

TIME_S = np.arange(201) / 100
PLANT_S = 1.0
EVENTS_S = {"dodge_start": PLANT_S, "plant": PLANT_S}
OTHER = {"left": "right", "right": "left"}


def standing(
    side, *, inward_m=0.0, lean_m=0.0, forward_m=0.0, facing_deg=-90.0, place=(0.0, 6.0), bend=None
):
    """Somebody who faces a way and plants one foot at `PLANT_S`.

    The knee of that leg is off the line from hip to ankle by `inward_m` to the inside and by
    `forward_m` to the front; mid-shoulder is off mid-hip by `lean_m` towards that leg. With `bend`
    (n,), the knee is off by these from 0 to 1 over time.
    """
    angle = np.radians(facing_deg)
    forward = np.array([np.cos(angle), np.sin(angle), 0.0])
    right = np.array([np.sin(angle), -np.cos(angle), 0.0])
    outward = right if side == "right" else -right
    centre = np.array([*place, 0.0])
    up = np.array([0.0, 0.0, 1.0])
    part = np.ones(TIME_S.size) if bend is None else bend
    joints = {}
    for each, way in ((side, outward), (OTHER[side], -outward)):
        joints[f"{each}_hip"] = centre + 0.09 * way + 0.9 * up
        joints[f"{each}_knee"] = centre + 0.09 * way + 0.5 * up + np.zeros((TIME_S.size, 3))
        joints[f"{each}_ankle"] = centre + 0.09 * way + 0.1 * up
        joints[f"{each}_shoulder"] = centre + 0.18 * way + 1.4 * up + lean_m * outward
    joints[f"{side}_knee"] = joints[f"{side}_knee"] + np.outer(
        part, forward_m * forward - inward_m * outward
    )
    contact = np.zeros((TIME_S.size, 2), dtype=bool)
    contact[TIME_S >= PLANT_S - 1e-9, 0 if side == "left" else 1] = True
    motion = motion_from(TIME_S, joints, contact=contact)
    return view_of(motion, EVENTS_S, move="split_dodge")


# Thigh and shank are 0.4 m of height each: each turns by the angle of inward over 0.4.
IN_DEG = 2 * np.degrees(np.arctan2(0.05, 0.4))


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("facing_deg", [-90.0, 90.0])
def test_a_knee_to_the_inside_is_plus_and_to_the_outside_minus_on_both_legs(side, facing_deg):
    for inward_m, expected_deg in ((0.05, IN_DEG), (-0.05, -IN_DEG), (0.0, 0.0)):
        view = standing(side, inward_m=inward_m, facing_deg=facing_deg)
        assert plant_leg.knee_in(view).values[0] == pytest.approx(expected_deg, abs=1e-6)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_knee_that_bends_towards_the_camera_is_not_in(side):
    view = standing(side, forward_m=0.2)
    assert plant_leg.knee_in(view).values[0] == pytest.approx(0.0, abs=1e-6)


def test_the_knee_is_read_at_its_deepest_bend_after_the_contact():
    bend = np.interp(TIME_S, [1.0, 1.12, 1.25], [0.2, 1.0, 0.3])
    view = standing("left", inward_m=0.05, forward_m=0.2, bend=bend)
    reading = plant_leg.knee_in(view)
    assert reading.values[0] == pytest.approx(IN_DEG, abs=0.1)
    assert TIME_S[reading.frames].mean() == pytest.approx(1.12, abs=0.011)


@pytest.mark.parametrize("facing_deg", [-45.0, 0.0, 130.0, 180.0])
def test_seen_from_the_side_there_is_no_such_angle(facing_deg):
    with pytest.raises(NotMeasured, match="from the front or from behind"):
        plant_leg.knee_in(standing("left", facing_deg=facing_deg))


def test_the_camera_is_where_the_field_begins():
    # At 45 deg to the right of the camera's axis, one faces the camera by turning 45 deg as well.
    seen = standing("right", inward_m=0.05, place=(5.0, 5.0), facing_deg=-135.0)
    assert plant_leg.knee_in(seen).values[0] == pytest.approx(IN_DEG, abs=1e-6)
    with pytest.raises(NotMeasured, match="from the front"):
        plant_leg.knee_in(standing("right", place=(5.0, 5.0), facing_deg=-90.0))


def test_what_was_not_seen_is_a_reason():
    view = standing("left")
    view.athlete.joint("left_knee")[:, 105:115] = np.nan
    with pytest.raises(NotMeasured, match="leg that planted was hidden"):
        plant_leg.knee_in(view)
    view = standing("left")
    view.athlete.joint("right_hip")[:, :] = np.nan
    with pytest.raises(NotMeasured, match="hips were hidden"):
        plant_leg.knee_in(view)
    nobody_lands = view_of(motion_from(TIME_S, {"nose": np.zeros(3)}), EVENTS_S, move="split_dodge")
    for measure in (plant_leg.knee_in, plant_leg.trunk_over_plant):
        with pytest.raises(NotMeasured, match="which foot planted"):
            measure(nobody_lands)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("facing_deg", [-90.0, 0.0, 60.0])
def test_a_lean_towards_the_plant_leg_is_plus_on_both_sides(side, facing_deg):
    for lean_m, expected_deg in ((0.5, 45.0), (-0.5, -45.0), (0.0, 0.0)):
        view = standing(side, lean_m=lean_m, facing_deg=facing_deg)
        assert plant_leg.trunk_over_plant(view).values[0] == pytest.approx(expected_deg)


@settings(max_examples=10, deadline=None)
@given(
    turn_deg=st.floats(-180.0, 180.0),
    scale=st.floats(0.6, 1.3),
    shift_s=st.floats(0.0, 3600.0),
    side=st.sampled_from(["left", "right"]),
)
def test_mirror_scale_clock_and_a_turn_about_the_camera_keep_both(turn_deg, scale, shift_s, side):
    angle = np.radians(turn_deg)
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    seen = {"inward_m": 0.04, "lean_m": 0.2, "forward_m": 0.15, "facing_deg": -80.0}
    plain, mirror = standing(side, **seen), standing(OTHER[side], **seen | {"facing_deg": -100.0})
    motion = plain.athlete
    changed = Motion(
        time_s=motion.time_s + shift_s, first_frame=0, joints_m=scale * motion.joints_m @ turn.T,
        contact=motion.contact, landed=motion.landed, stature_m=scale * motion.stature_m,
        arm_length_m=motion.arm_length_m,
    )  # fmt: skip
    events_s = {name: at_s + shift_s for name, at_s in EVENTS_S.items()}
    other = view_of(changed, events_s, move="split_dodge")
    for measure in (plant_leg.knee_in, plant_leg.trunk_over_plant):
        expected = measure(plain).values[0]
        assert measure(mirror).values[0] == pytest.approx(expected, abs=1e-6)
        assert measure(other).values[0] == pytest.approx(expected, abs=1e-4)

"""Angles of joints, trunk, hips and shoulders, against numbers worked by hand."""

import numpy as np
import pytest

from pipeline.measures import angles
from pipeline.measures.view import NotMeasured
from tests.fixtures.views import motion_from, view_of

TIME_S = np.arange(101) / 100


def line(name, heading_deg, height_m=1.0, half_m=0.2):
    """Left and right joint of a line whose heading (n,) or number is given in deg."""
    angle = np.radians(np.broadcast_to(heading_deg, TIME_S.shape))
    along = half_m * np.column_stack([np.cos(angle), np.sin(angle), 0 * angle])
    middle = np.array([0.0, 5.0, height_m])
    return {f"left_{name}": middle - along, f"right_{name}": middle + along}


def view(joints, events_s, **changes):
    return view_of(motion_from(TIME_S, joints), events_s, **changes)


@pytest.mark.parametrize(
    ("c", "angle_deg"),
    [((-1, 0, 0), 180.0), ((0, 2, 0), 90.0), ((1, 1, 0), 45.0), ((3, 0, 0), 0.0)],
)
def test_included_angles(c, angle_deg):
    a, vertex = np.array([1.0, 0, 0]), np.zeros(3)
    assert angles.included_angle_deg(a, vertex, np.array(c, float)) == pytest.approx(angle_deg)


def test_headings_go_anticlockwise_from_x():
    left = np.zeros(3)
    headings = [
        float(angles.heading_deg(left, np.array(p, float)))
        for p in [(1, 0, 0), (0, 1, 5), (-1, 0, 0), (0, -1, 0)]
    ]
    assert headings == pytest.approx([0.0, 90.0, 180.0, -90.0])


@pytest.mark.parametrize(
    ("angle_deg", "wrapped"), [(190, -170), (-190, 170), (360, 0), (359, -1), (45, 45)]
)
def test_angles_are_brought_into_half_a_turn(angle_deg, wrapped):
    assert float(angles.wrapped_deg(np.float64(angle_deg))) == pytest.approx(wrapped)


@pytest.mark.parametrize("hand", ["left", "right"])
def test_elbow_at_the_release_is_that_of_the_top_arm(hand):
    other = "left" if hand == "right" else "right"
    joints = {
        f"{hand}_shoulder": np.array([0, 0, 1.5]), f"{hand}_elbow": np.array([0.3, 0, 1.5]),
        f"{hand}_wrist": np.array([0.3, 0.2, 1.5]),
        f"{other}_shoulder": np.array([0, 0, 1.5]), f"{other}_elbow": np.array([0, 0, 1.2]),
        f"{other}_wrist": np.array([0, 0, 0.9]),
    }  # fmt: skip
    reading = angles.elbow_at_release(view(joints, {"release": 0.5}, hand=hand))
    assert reading.values[0] == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("shoulders", "lean_deg"),
    [((0, 5, 1.5), 0.0), ((0.5, 5, 1.5), 45.0), ((0, 4.5, 1.5), 45.0), ((0.5, 5, 1.0), 90.0)],
)
def test_lean_is_the_angle_of_the_trunk_from_plumb(shoulders, lean_deg):
    joints = {
        f"{side}_{part}": np.array(place, float)
        for side in ("left", "right")
        for part, place in (("hip", (0, 5, 1.0)), ("shoulder", shoulders))
    }
    for events_s in ({"release": 0.5}, {"dodge_start": 0.5}):
        assert angles.trunk_lean(view(joints, events_s)).values[0] == pytest.approx(lean_deg)


def test_lean_without_an_instant_is_a_reason():
    with pytest.raises(NotMeasured, match="step that starts the dodge"):
        angles.trunk_lean(view({"nose": np.zeros(3)}, {"start": 0.0}))


def test_separation_is_the_greatest_twist_before_the_release():
    twist = np.interp(TIME_S, [0.0, 0.4, 0.8, 1.0], [0.0, 40.0, 5.0, 70.0])
    joints = line("hip", 30.0) | line("shoulder", 30.0 + twist, 1.5)
    reading = angles.separation(view(joints, {"release": 0.8}))
    assert angles.TWIST_SEEN_SHARE * reading.values[0] == pytest.approx(40.0)


def test_separation_holds_across_the_seam_of_half_a_turn():
    joints = line("hip", 170.0) | line("shoulder", -165.0, 1.5)  # 25 deg apart, not 335
    reading = angles.separation(view(joints, {"release": 0.8}))
    assert angles.TWIST_SEEN_SHARE * reading.values[0] == pytest.approx(25.0)


def test_turn_away_counts_from_the_facing_at_the_plant_to_the_release():
    heading = np.interp(TIME_S, [0.0, 0.3, 0.6, 0.8, 1.0], [-50.0, 20.0, -60.0, 0.0, 170.0])
    joints = line("shoulder", heading, 1.5)
    reading = angles.turn_away(view(joints, {"plant": 0.3, "release": 0.8}))
    assert reading.values[0] == pytest.approx(80.0)


def test_turn_away_without_a_plant_is_a_reason():
    with pytest.raises(NotMeasured, match="foot that planted"):
        angles.turn_away(view(line("shoulder", 0.0), {"release": 0.8}))

"""Standing feet, from the picture alone."""

import numpy as np
import pytest

from calibration.camera import project_px
from pipeline.core.spline import runs
from pipeline.core.types import JOINTS
from pipeline.people.foot_contact import (
    foot_middle,
    landing_frames,
    slow_motion_factor,
    standing_feet,
    step_time_s,
)
from pipeline.people.smoothing import joints_from_landmarks
from tests.fixtures.players import frames_s, path_m
from tests.fixtures.walker import (
    STATURE_M,
    as_seen_m,
    body_joints_m,
    camera_at,
    carried,
    feet_under,
    tracks_of,
    walker_joints_m,
    walker_root_m,
)

CAMERA = camera_at()


def seen(joints_m):
    """Joints in the picture, and the stature there by its distance of about 7 m."""
    size_px = STATURE_M * float(CAMERA["focal_px"]) / joints_m[:, JOINTS.index("left_hip"), 1]
    return project_px(joints_m, **CAMERA), size_px


def share_right(standing, truth):
    return (standing == truth).mean()


@pytest.mark.parametrize("direction_deg", [0.0, 30.0, 150.0, 180.0, -45.0])
def test_the_standing_foot_of_a_walker_is_told(direction_deg):
    time_s = frames_s(3.0)
    truth = feet_under(time_s, walker_root_m(time_s, direction_deg), direction_deg)[1]
    image_px, size_px = seen(walker_joints_m(time_s, direction_deg))
    assert share_right(standing_feet(image_px, time_s, size_px), truth) > 0.9


def test_both_feet_of_one_who_stands_are_on_the_ground():
    time_s = frames_s(1.0)
    root_m = np.tile([0.5, 7.0], (time_s.size, 1))
    feet_m, _ = feet_under(time_s, root_m)
    image_px, size_px = seen(body_joints_m(root_m, 0.0, feet_m, carried(time_s.size)))
    assert standing_feet(image_px, time_s, size_px).all()


def test_a_foot_held_up_in_one_place_does_not_stand():
    time_s = frames_s(1.0)
    root_m = np.tile([0.5, 7.0], (time_s.size, 1))
    feet_m, _ = feet_under(time_s, root_m)
    feet_m[:, 0, 2] += 0.3
    image_px, size_px = seen(body_joints_m(root_m, 0.0, feet_m, carried(time_s.size)))
    standing = standing_feet(image_px, time_s, size_px)
    assert not standing[:, 0].any()
    assert standing[:, 1].all()


def test_feet_of_a_run_are_told_at_60_frames_a_second():
    time_s = frames_s(2.5)
    root_m = path_m(time_s, (-4.0, 9.0), (0.0, 4.0, 0.0), (9.0, 4.0, 0.0))
    feet_m, truth = feet_under(time_s, root_m, step_s=0.25, swing_s=0.32)
    image_px, size_px = seen(body_joints_m(root_m, 0.0, feet_m, carried(time_s.size)))
    standing = standing_feet(image_px, time_s, size_px)
    assert share_right(standing, truth) > 0.85
    assert not (standing.all(axis=1)).any()


def runner(rate_hz=60.0):
    """Joints in the picture of a run, the stature there, and the true (time, foot) of landings."""
    time_s = frames_s(2.5, rate_hz)
    root_m = path_m(time_s, (-4.0, 9.0), (0.0, 4.0, 0.0), (9.0, 4.0, 0.0))
    feet_m, truth = feet_under(time_s, root_m, step_s=0.25, swing_s=0.32)
    image_px, size_px = seen(body_joints_m(root_m, 0.0, feet_m, carried(time_s.size)))
    landed = [(time_s[start], foot) for foot in (0, 1) for start, _ in runs(truth[:, foot])]
    return time_s, image_px, size_px, sorted(one for one in landed if one[0] > 0.3)


def found_landings(time_s, image_px, size_px):
    landed = np.argwhere(landing_frames(image_px, time_s, size_px))
    return [(time_s[i], foot) for i, foot in landed if time_s[i] > 0.3]


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_the_landings_of_a_run_are_found_once_each_within_a_frame_or_two(rate_hz):
    time_s, image_px, size_px, truth = runner(rate_hz)
    found = found_landings(time_s, image_px, size_px)
    assert [foot for _, foot in found] == [foot for _, foot in truth]
    np.testing.assert_allclose([t for t, _ in found], [t for t, _ in truth], atol=1.1 / 30)


def test_a_landing_shows_where_another_body_soon_hides_the_foot():
    time_s, image_px, size_px, truth = runner()
    at_s, foot = truth[3]
    hidden = (time_s > at_s + 0.05) & (time_s < at_s + 0.4)
    feet = [JOINTS.index(f"{('left', 'right')[foot]}_{part}") for part in ("heel", "toe")]
    astray = image_px.copy()
    astray[np.ix_(hidden, feet, [0])] += 4.0 * np.arange(hidden.sum())[:, None, None]
    near = [f for t, f in found_landings(time_s, astray, size_px) if abs(t - at_s) < 0.05]
    assert near == [foot]


def test_unknown_feet_do_not_stand():
    time_s = frames_s(1.0)
    image_px, size_px = seen(walker_joints_m(time_s))
    image_px[20:40, JOINTS.index("left_toe")] = np.nan
    assert not standing_feet(image_px, time_s, size_px)[21:39, 0].any()


def test_a_still_frame_is_taken_as_it_is():
    image_px, size_px = seen(walker_joints_m(frames_s(1.0)))
    assert standing_feet(image_px[:1], np.zeros(1), size_px[:1]).all()


def test_nearness_to_the_camera_does_not_change_what_stands():
    time_s = frames_s(3.0)
    image_px, size_px = seen(walker_joints_m(time_s))
    near = standing_feet(2.0 * image_px, time_s, 2.0 * size_px)
    assert (near == standing_feet(image_px, time_s, size_px)).all()


def test_the_middle_of_a_foot_is_half_way_from_heel_to_toe():
    joints = np.zeros((len(JOINTS), 2))
    joints[JOINTS.index("right_heel")], joints[JOINTS.index("right_toe")] = [1.0, 2.0], [3.0, 8.0]
    assert foot_middle(joints).tolist() == [[0.0, 0.0], [2.0, 5.0]]


def test_runs_reach_to_both_ends():
    assert runs(np.array([1, 1, 0, 0, 1], dtype=bool)) == [(0, 2), (4, 5)]
    assert runs(np.zeros(3, dtype=bool)) == []


def test_the_model_of_these_tests_sees_the_points_that_it_takes_for_joints():
    # Guards the fixture: what is projected and what the landmarks say is one and the same.
    joints_m = walker_joints_m(frames_s(0.2))
    tracks = tracks_of(joints_m, CAMERA, 1.1)
    image_px = joints_from_landmarks(tracks.image_px[0].astype(float))
    assert np.allclose(image_px, project_px(as_seen_m(joints_m)[0], **CAMERA), atol=0.01)


@pytest.mark.parametrize(("slower", "seen_slowed"), [(1.0, False), (4.0, True), (8.0, True)])
def test_a_walk_in_slow_motion_is_recognised_by_its_steps(slower, seen_slowed):
    time_s = frames_s(5.0)
    image_px, size_px = seen(walker_joints_m(time_s, 0.0))
    slowed = slow_motion_factor(step_time_s(image_px, slower * time_s, size_px))
    assert (slowed is not None) == seen_slowed
    if slowed is not None:
        assert slowed == pytest.approx(slower, rel=0.5)


def test_someone_who_stands_shows_nothing_of_slow_motion():
    image_px, size_px = seen(np.repeat(walker_joints_m(frames_s(0.1), 0.0)[:1], 200, axis=0))
    assert np.isnan(step_time_s(image_px, frames_s(200 / 60)[:200], size_px))


def test_the_rate_that_the_phone_states_comes_first():
    assert slow_motion_factor(float("nan"), captured_hz=240.0, played_hz=30.0) == 8.0
    assert slow_motion_factor(0.4, captured_hz=60.0, played_hz=59.9) is None
    assert slow_motion_factor(float("nan")) is None

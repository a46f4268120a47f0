"""A person placed in depth: by the feet that stand, in between by the size of the body."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import place_person
from pipeline.scene.from_athlete import find_scene
from pipeline.scene.motion import motion_of
from tests.fixtures.players import defender, frames_s
from tests.fixtures.walker import (
    SIZE_PX,
    STATURE_M,
    camera_at,
    together,
    tracks_of,
    walker_joints_m,
)

TIME_S = frames_s(3.0)
CAMERA = camera_at()
JOINTS_M = walker_joints_m(TIME_S, 90.0)
TRACKS = smooth_tracks(tracks_of(JOINTS_M, CAMERA, 1.1), TIME_S)


def true_scene(tracks=TRACKS, model_scale=1.1):
    """The scene of some tracks with every draw at the true camera."""
    scene = find_scene(tracks, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=65.0, seed=0)
    same = np.ones(scene.n_draws)
    return replace(
        scene,
        **{name: same * CAMERA[name] for name in ("focal_px", "pitch_deg", "roll_deg", "height_m")},
        body_scale=model_scale * same,
    )


def test_the_depth_of_one_who_walks_away_is_his_distance_along_the_axis():
    placed = place_person(TRACKS, 0, true_scene())
    tilt = np.radians(float(CAMERA["pitch_deg"]))
    hip_m = JOINTS_M[:, JOINTS.index("left_hip")]
    height_m = float(CAMERA["height_m"]) - hip_m[:, 2]
    expected_m = hip_m[:, 1] * np.cos(tilt) + height_m * np.sin(tilt)
    error_m = placed.depth_m[:, JOINTS.index("left_hip")] - expected_m
    # One per cent: the program reads the figure 1.2 % larger than it is.
    assert np.median(np.abs(error_m / expected_m)) < 0.012
    assert placed.stature_m == pytest.approx(STATURE_M, rel=0.01)


def test_standing_feet_correct_a_body_believed_to_be_too_large():
    # By its size alone a body 6 % too large would stand 0.4 m too far away.
    placed, truth = (place_person(TRACKS, 0, true_scene(model_scale=s)) for s in (1.166, 1.1))
    hip = JOINTS.index("left_hip")
    error_m = np.median(np.abs(placed.depth_m - truth.depth_m)[:, hip])
    assert error_m < 0.1


def test_between_contacts_the_size_of_the_body_as_the_feet_corrected_it_carries_on():
    image_px = TRACKS.image_px.copy()
    hover = (TIME_S > 1.0) & (TIME_S < 1.8)
    sway_px = 60.0 * np.sin(2 * np.pi * 8 * TIME_S[hover])  # too quick to stand
    for side in ("left", "right"):
        for part in ("heel", "toe"):
            image_px[0, hover, JOINTS.index(f"{side}_{part}"), 0] += sway_px
    loose = place_person(replace(TRACKS, image_px=image_px), 0, true_scene(model_scale=1.166))
    assert loose.contact[hover].mean() < 0.5
    truth = place_person(TRACKS, 0, true_scene())
    error_m = np.abs(loose.depth_m - truth.depth_m)[hover, JOINTS.index("left_hip")]
    assert np.median(error_m) < 0.08


def test_frames_without_the_body_are_unknown_and_nobody_has_no_depth_and_no_stature():
    image_px = TRACKS.image_px.copy()
    image_px[:, 60:90] = np.nan
    placed = place_person(replace(TRACKS, image_px=image_px), 0, true_scene())
    assert np.isnan(placed.depth_m[60:90]).all()
    assert np.isfinite(placed.depth_m[:60]).all()
    nobody = replace(TRACKS, image_px=np.full_like(TRACKS.image_px, np.nan))
    placed = place_person(nobody, 0, true_scene())
    assert np.isnan(placed.depth_m).all()
    assert np.isnan(placed.stature_m)


@pytest.mark.slow
@pytest.mark.parametrize("defender_scale", [0.9, 1.0])
def test_a_second_person_is_measured_by_his_own_feet(defender_scale):
    # The model gives everyone its own size: the second person's stature follows from where he
    # stands on the ground that the first one found.
    joints_m = defender(TIME_S).joints_m * [1.0, 1.0, 1.0]
    middle = joints_m.mean(axis=(0, 1)) * [1.0, 1.0, 0.0]
    small_m = middle + (joints_m - middle) * defender_scale
    walker = tracks_of(walker_joints_m(TIME_S, 30.0), CAMERA, 1.1)
    other = tracks_of(small_m, CAMERA, 1.1 * defender_scale)
    tracks = smooth_tracks(together(walker, other), TIME_S)
    scene = true_scene(tracks)
    placed = place_person(tracks, 1, scene)
    assert placed.stature_m == pytest.approx(defender_scale * STATURE_M, rel=0.03)
    motion = motion_of(placed, TIME_S, scene, 0, TIME_S.size, n_draws=1)
    assert np.median(np.abs(motion.joints_m[0] - small_m)) < 0.05

"""Without a ground, the size of the body and the own foot give heights, with honest doubts."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import place_person
from pipeline.scene.from_body import body_scale_scene
from pipeline.scene.motion import motion_of
from tests.fixtures.players import frames_s
from tests.fixtures.walker import STATURE_M, camera_at, tracks_of, walker_joints_m

TIME_S = frames_s(3.0, 30.0)


def scene_of(tracks, **changes):
    settings = {
        "principal_px": np.array([960.0, 540.0]),
        "focal": (float(camera_at()["focal_px"]), 0.07),
        "stature_m": STATURE_M,
        "seed": 0,
        "lens": None,
        "no_ground": "the camera moved",
        "notes": ("A note.",),
    }
    return body_scale_scene(tracks, **{**settings, **changes})


@pytest.mark.slow
@pytest.mark.parametrize("height_m", [0.7, 1.2, 1.7])
@pytest.mark.parametrize("pitch_deg", [-4.0, 3.0, 9.0])
def test_heights_above_the_own_foot_hold_for_any_usual_camera(height_m, pitch_deg):
    joints_m = walker_joints_m(TIME_S, 30.0)
    camera = camera_at(height_m=height_m, pitch_deg=pitch_deg)
    tracks = smooth_tracks(tracks_of(joints_m, camera, 1.1), TIME_S)
    scene = scene_of(tracks)
    assert scene.grade == "C"
    assert abs(scene.pitch_deg[0] - pitch_deg) < 2.5 * scene.pitch_deg[1:].std()
    person = place_person(tracks, 0, scene)
    motion = motion_of(person, TIME_S, scene, 0, TIME_S.size, n_draws=scene.n_draws)
    for name in ("right_hand", "nose"):
        heights = motion.joint(name)[..., 2]
        off = heights[0] - joints_m[:, JOINTS.index(name), 2]
        assert abs(np.median(off)) < 2.0 * heights[1:].std(axis=0).mean()
        assert abs(np.median(off)) < 0.07


def test_an_athlete_who_was_hardly_seen_has_no_scale():
    tracks = smooth_tracks(tracks_of(walker_joints_m(TIME_S, 30.0), camera_at(), 1.1), TIME_S)
    image_px = np.full_like(tracks.image_px, np.nan)
    scene = scene_of(replace(tracks, image_px=image_px))
    assert np.isnan(scene.body_scale).all()
    assert scene.no_ground == "the camera moved"
    assert scene.notes == ("A note.",)

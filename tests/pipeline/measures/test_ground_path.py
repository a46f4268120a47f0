"""Where people went, seen from above: near the truth for a walker on perfect tracks."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import JOINTS, Motion, Rep
from pipeline.measures.ground_path import ground_path, walk_of
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import place_person
from pipeline.scene.from_athlete import find_scene
from tests.fixtures.players import frames_s, shooter
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, tracks_of

N = 10


def motion(contact, heel_x_m):
    """One person whose left foot is at these places, everything else at the origin."""
    joints_m = np.zeros((1, N, len(JOINTS), 3))
    for part, ahead_m in (("heel", 0.0), ("toe", 0.2)):
        joints_m[0, :, JOINTS.index(f"left_{part}"), 0] = np.asarray(heel_x_m) + ahead_m
    return Motion(
        time_s=np.arange(N) / 10.0,
        first_frame=0,
        joints_m=joints_m,
        contact=np.stack([contact, np.zeros(N, bool)], axis=1),
        landed=np.zeros((N, 2), bool),
        stature_m=np.ones(1),
        arm_length_m=np.ones(1),
    )


def test_each_standing_of_a_foot_is_one_contact_at_its_mean_place():
    contact = np.array([1, 1, 1, 0, 0, 0, 1, 1, 1, 1], bool)
    places = [0.0, 0.1, 0.2, 9.0, 9.0, 9.0, 2.0, 2.0, 2.0, np.nan]
    first, second = walk_of(motion(contact, places)).contacts
    assert (first.foot, first.start_s, first.stop_s) == ("left", 0.0, 0.2)
    assert first.heel_m == pytest.approx((0.1, 0.0))
    assert first.toe_m == pytest.approx((0.3, 0.0))
    assert second.heel_m == pytest.approx((2.0, 0.0))  # by the frames in which it was seen


def test_a_foot_that_was_never_seen_standing_makes_no_contact():
    contact = np.array([1] * 3 + [0] * 7, bool)
    assert walk_of(motion(contact, [np.nan] * N)).contacts == ()


@pytest.fixture(scope="module")
def seen():
    player = shooter(frames_s(4.0), (2.0,))
    tracks = tracks_of(player.joints_m, camera_at(), 1.1)
    smooth = smooth_tracks(tracks, player.time_s)
    scene = find_scene(smooth, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=65.0, seed=0)
    return player, place_person(smooth, 0, scene), scene


REP = Rep(
    index=1, start_s=0.5, stop_s=1.5, start_frame=30, stop_frame=90,
    move="high_to_low_shot", stick_hand="right",
)  # fmt: skip


def test_a_shooter_on_the_spot_hardly_moves_and_stands(seen):
    player, placed, scene = seen
    ground = ground_path(REP, athlete=placed, defender=None, scene=scene, time_s=player.time_s)
    assert ground.defender is None
    assert ground.athlete.hips_m.shape == (60, 2)
    assert np.nanmax(np.ptp(ground.athlete.hips_m, axis=0)) < 1.0
    assert {contact.foot for contact in ground.athlete.contacts} == {"left", "right"}


def test_without_a_ground_there_is_no_view_from_above(seen):
    player, placed, scene = seen
    bare = replace(scene, grade="C", no_ground="the camera was carried along")
    path = ground_path(REP, athlete=placed, defender=None, scene=bare, time_s=player.time_s)
    assert path is None

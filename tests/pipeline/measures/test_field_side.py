"""The side of the field: natural or other by hand and place, and why it is not known."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import Event, Rep
from pipeline.measures.ground_path import field_side, left_of_goal_m
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import place_person
from pipeline.scene.from_athlete import find_scene
from tests.fixtures.players import frames_s, shooter
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, tracks_of

TIME_S = frames_s(3.0)
REP = Rep(
    index=1, start_s=0.9, stop_s=2.1, start_frame=54, stop_frame=127, move="high_to_low_shot",
    stick_hand="right", events={"release": Event(time_s=2.0, frame=120)},
)  # fmt: skip


@pytest.fixture(scope="module")
def seen():
    """A shooter who stands 7 m before a known camera."""
    tracks = tracks_of(shooter(TIME_S, (2.0,)).joints_m, camera_at(), 1.1)
    smooth = smooth_tracks(tracks, TIME_S)
    scene = find_scene(smooth, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=65.0, seed=0)
    return place_person(smooth, 0, scene), scene


def side(seen, goal_x_m, hand="right", goal_y_m=-3.0):
    athlete, scene = seen
    posts = np.array([[goal_x_m - 0.9, goal_y_m], [goal_x_m + 0.9, goal_y_m]])
    scene = replace(scene, goal_m=np.repeat(posts[None], scene.n_draws, axis=0))
    return field_side(replace(REP, stick_hand=hand), athlete, scene, TIME_S)


# The goal lies behind the camera, so that the shooter at x = 0 looks towards it; a goal to his
# right (which is the camera's left) leaves him on the left side of the field.
@pytest.mark.parametrize(
    ("goal_x_m", "hand", "word"),
    [
        (-3.0, "right", "natural"), (3.0, "right", "other"),
        (-3.0, "left", "other"), (3.0, "left", "natural"),
    ],
)  # fmt: skip
def test_the_natural_side_has_the_stick_towards_the_middle(seen, goal_x_m, hand, word):
    found = side(seen, goal_x_m, hand)
    assert (found.side, found.reason) == (word, None)


def test_from_the_other_side_of_the_goal_line_left_is_right(seen):
    assert side(seen, -3.0, goal_y_m=15.0).side == "other"


def test_before_the_middle_of_the_goal_there_is_no_side(seen):
    found = side(seen, 0.2)
    assert found.side is None
    assert "middle of the goal" in found.reason


def test_without_a_goal_or_a_hand_the_reason_is_said(seen):
    athlete, scene = seen
    assert field_side(REP, athlete, scene, TIME_S).reason == "no goal was marked"
    assert "which hand" in side(seen, 3.0, None).reason


def test_a_player_who_was_not_seen_has_no_side(seen):
    athlete, scene = seen
    hidden = replace(athlete, depth_m=np.full_like(athlete.depth_m, np.nan))
    assert "not seen" in side((hidden, scene), 3.0).reason


def test_the_order_of_the_posts_does_not_matter():
    posts = np.array([[-0.9, 1.0], [0.9, 1.0]])
    for place in ([4.0, 9.0], [-2.0, -5.0]):
        there = np.array(place)
        assert left_of_goal_m(there, posts) == pytest.approx(left_of_goal_m(there, posts[::-1]))

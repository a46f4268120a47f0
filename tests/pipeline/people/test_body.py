"""A pose is a body or it is not; jerseys have colours; bodies cover each other."""

import numpy as np
import pytest

from pipeline.people.body import (
    centre_px,
    colour_distance,
    could_be_a_body,
    covers,
    jersey_colour,
    length_px,
    same_body,
)
from pipeline.people.pose_model import Pose
from tests.fixtures.standing import standing, upside_down


def moved(pose, rows, by_px):
    image_px = pose.image_px.copy()
    image_px[rows] += np.float32(by_px)
    return Pose(image_px, pose.world_m, pose.visibility)


def test_someone_standing_could_be_a_body():
    assert could_be_a_body(standing(300, 200), 640, 360)


@pytest.mark.parametrize(
    "pose",
    [
        upside_down(standing(300, 200)),
        upside_down(standing(300, 200), scale=1.0),
        standing(300, 200, length_px=15),
        standing(-30, 200),
        standing(300, 420),
        Pose(standing(300, 200).image_px, np.zeros((33, 3)), np.full(33, 0.05)),
        Pose(np.full((33, 2), np.nan), np.zeros((33, 3)), np.ones(33)),
    ],
    ids=["small upside down", "upside down", "tiny", "left of", "below", "unseen", "nowhere"],
)
def test_what_could_not_be_a_body(pose):
    assert not could_be_a_body(pose, 640, 360)


def test_length_is_about_the_stature_and_grows_with_it():
    assert length_px(standing(300, 200, 120)) == pytest.approx(120, rel=0.12)
    ratio = length_px(standing(300, 200, 200)) / length_px(standing(300, 200, 100))
    assert ratio == pytest.approx(2)


def test_raised_hands_change_neither_length_nor_centre():
    down, up = standing(300, 200), standing(300, 200, hands=0.6)
    assert length_px(down) == length_px(up)
    np.testing.assert_array_equal(centre_px(down), centre_px(up))


def test_the_jersey_is_read_inside_the_trunk_and_at_the_edge_of_the_picture():
    rgb = np.full((360, 640, 3), 90, np.uint8)
    pose = standing(300, 200)
    rgb[164:201, 291:309] = (200, 40, 40)
    _, red_green, yellow_blue = jersey_colour(rgb, pose)
    assert red_green > 100
    assert yellow_blue > 50
    assert np.isfinite(jersey_colour(rgb, standing(638, 2))).all()


def test_a_jersey_in_the_shade_is_more_like_itself_than_like_another():
    pose = standing(300, 200)

    def seen(*rgb):
        return jersey_colour(np.full((360, 640, 3), rgb, np.uint8), pose)

    for mine, others in (((200, 40, 40), (40, 40, 200)), ((240, 240, 240), (30, 30, 30))):
        shaded = seen(*(channel // 2 for channel in mine))
        assert colour_distance(seen(*mine), shaded) < 0.6 * colour_distance(shaded, seen(*others))


def test_who_covers_whom():
    here = standing(300, 200)
    assert covers(here, standing(305, 200))
    assert covers(here, standing(318, 204))
    assert not covers(here, standing(380, 200))
    assert not covers(here, standing(300, 20, 40))


def test_a_hand_on_the_other_is_contact():
    here, there = standing(300, 200), standing(370, 200)
    assert not covers(here, there)
    assert covers(moved(here, 15, (55, -20)), there)


def test_two_poses_of_one_body():
    assert same_body(standing(300, 200), standing(304, 203))
    assert not same_body(standing(300, 200), standing(330, 200))

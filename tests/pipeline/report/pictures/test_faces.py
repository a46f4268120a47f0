import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.report.pictures.faces import hide_faces_of_all

HEAD = [JOINTS.index(name) for name in ("nose", "left_eye", "right_eye", "left_ear", "right_ear")]


def stripes(height=720, width=1280):
    """A picture of fine stripes: where it is hidden they are gone."""
    picture = np.zeros((height, width, 3), np.uint8)
    picture[:, ::4] = picture[:, 1::4] = 255
    return picture


def is_sharp(picture, x, y):
    patch = picture[y - 5 : y + 6, x - 5 : x + 6, 0]
    return int(patch.max()) - int(patch.min()) > 200


def test_each_followed_head_is_hidden_and_the_bodies_are_not(film):
    _, joints = film()
    hidden = hide_faces_of_all(stripes(), joints)
    for person in joints:
        for joint in person[HEAD].round().astype(int):
            assert not is_sharp(hidden, *joint)
        hip = person[JOINTS.index("left_hip")].round().astype(int)
        assert is_sharp(hidden, *hip)


def test_people_whom_nobody_follows_are_hidden_with_their_surroundings(film):
    _, joints = film()
    hidden = hide_faces_of_all(stripes(), joints)
    assert not is_sharp(hidden, 100, 300)
    assert not is_sharp(hidden, 1200, 300)


@pytest.mark.parametrize("keep", [("nose",), ("right_ear",), ()])
def test_a_head_of_which_little_is_known_is_hidden_all_the_same(film, keep):
    _, joints = film()
    known = joints.copy()
    for name in ("nose", "left_eye", "right_eye", "left_ear", "right_ear"):
        if name not in keep:
            known[:, JOINTS.index(name)] = np.nan
    hidden = hide_faces_of_all(stripes(), known)
    for person in joints:
        for joint in person[HEAD].round().astype(int):
            assert not is_sharp(hidden, *joint)


def test_with_legs_alone_known_nothing_of_that_body_stays_sharp(film):
    _, joints = film()
    legs = np.full_like(joints[:1], np.nan)
    legs[0, 15:] = joints[0, 15:]
    hidden = hide_faces_of_all(stripes(), legs)
    for joint in joints[0].round().astype(int):
        assert not is_sharp(hidden, *joint)


def test_a_followed_person_lost_beside_another_is_hidden_too(film):
    _, joints = film(people=((560, 600, 380), (660, 590, 370)))
    lost = joints.copy()
    lost[1] = np.nan
    hidden = hide_faces_of_all(stripes(), lost)
    for joint in joints[1, HEAD].round().astype(int):
        assert not is_sharp(hidden, *joint)
    hip = joints[0, JOINTS.index("left_hip")].round().astype(int)
    assert is_sharp(hidden, *hip)


def test_where_both_heads_are_put_on_one_body_the_other_ones_shoulders_are_hidden_too(film):
    _, joints = film(people=((560, 600, 380), (660, 590, 370)))
    shoulders = joints[1, [JOINTS.index(f"{side}_shoulder") for side in ("left", "right")]]
    heads_apart = hide_faces_of_all(stripes(), joints)
    assert any(is_sharp(heads_apart, *joint) for joint in shoulders.round().astype(int))
    embracing = joints.copy()
    embracing[1, HEAD] = joints[0, HEAD]
    hidden = hide_faces_of_all(stripes(), embracing)
    for joint in shoulders.round().astype(int):
        assert not is_sharp(hidden, *joint)
    hip = embracing[1, JOINTS.index("left_hip")].round().astype(int)
    assert is_sharp(hidden, *hip)


def test_with_nobody_known_the_whole_picture_is_hidden(film):
    _, joints = film()
    hidden = hide_faces_of_all(stripes(), np.full_like(joints, np.nan))
    assert not is_sharp(hidden, 640, 360)


def test_the_given_picture_is_left_as_it_was(film):
    _, joints = film()
    picture = stripes()
    hide_faces_of_all(picture, joints)
    assert (picture == stripes()).all()

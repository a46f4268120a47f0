"""What may be seen of people over time: lost heads, strangers, and how wide a guess is."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS, SmoothTracks
from pipeline.report.pictures.faces import HEAD_RADIUS_OF_BODY
from pipeline.report.pictures.film_privacy import (
    LONGEST_OCCLUSION_S,
    STRANGER_S,
    FilmHeads,
    heads_over_time,
    stranger_near,
)
from tests.fixtures.filmed import figure_px

TIME_S = np.arange(150) / 30.0


def tracks(*places, overlapped=None):
    image_px = np.array([[figure_px(x + 3.0 * i, y, 300.0) for i in range(150)] for x, y in places])
    n_people = len(places)
    nothing = np.full((n_people, 150, len(JOINTS)), np.nan)
    return SmoothTracks(
        model="full",
        time_s=TIME_S,
        image_px=image_px,
        body_m=np.full((n_people, 150, len(JOINTS), 3), np.nan),
        noise_px=nothing,
        overlapped=np.zeros((n_people, 150), bool) if overlapped is None else overlapped,
    )


def test_a_lost_head_is_looked_for_between_where_it_was_and_will_be_ever_more_widely():
    image_px = tracks((200.0, 400.0)).image_px
    true_px = image_px[0, :, :5].mean(axis=1)
    lost = image_px.copy()
    lost[0, 40:70] = np.nan
    circles = heads_over_time(lost, TIME_S)[0]
    assert np.linalg.norm(circles[:, :2] - true_px, axis=1).max() < 1.0
    assert np.all(np.diff(circles[39:55, 2]) > 0)
    assert circles[30, 2] > HEAD_RADIUS_OF_BODY * 300


def test_after_a_long_time_nothing_is_guessed():
    image_px = tracks((200.0, 400.0)).image_px
    image_px[0, 20:] = np.nan
    circles = heads_over_time(image_px, TIME_S)[0]
    known = np.isfinite(circles).all(axis=1)
    assert np.array_equal(known, TIME_S - TIME_S[19] <= LONGEST_OCCLUSION_S)


def test_of_a_person_never_seen_nothing_is_known():
    assert np.isnan(heads_over_time(np.full((1, 150, 23, 2), np.nan), TIME_S)).all()


def test_a_body_in_the_way_that_is_no_followed_persons_is_a_strangers():
    overlapped = np.zeros((2, 150), bool)
    overlapped[0, 60] = True
    far = tracks((200.0, 400.0), (900.0, 400.0), overlapped=overlapped)
    near = stranger_near(far)
    assert np.array_equal(near[0], np.abs(TIME_S - TIME_S[60]) <= STRANGER_S + 1e-9)
    assert not near[1].any()
    heads = FilmHeads(far)
    assert np.isnan(heads.joints_px(60)[0]).all()
    assert np.isfinite(heads.joints_px(60)[1]).all()
    assert np.isfinite(heads.joints_px(90)).all()


@pytest.mark.parametrize("lost", [False, True])
def test_a_followed_person_beside_explains_it(lost):
    overlapped = np.zeros((2, 150), bool)
    overlapped[:, 60] = True
    beside = tracks((200.0, 400.0), (260.0, 400.0), overlapped=overlapped)
    if lost:
        beside.image_px[1, 60] = np.nan
    assert not stranger_near(beside).any()


def test_heads_of_the_frames_beside_are_hidden_too():
    known = tracks((200.0, 400.0))
    circles = FilmHeads(known).circles_px(50)
    heads = known.image_px[0, 49:52, :5].mean(axis=1)
    assert circles[:, :2] == pytest.approx(heads, abs=0.5)

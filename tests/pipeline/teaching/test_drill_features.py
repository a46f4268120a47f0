"""The numbers by which a drill is known again: alike from anywhere, mirrored in a mirror."""

import numpy as np
import pytest

from pipeline.moves.body_frame import mirrored
from pipeline.teaching.drill_features import COLUMNS, N_COLUMNS, RATE_HZ, motion_track
from tests.fixtures.drilling import drill_player, frame_of
from tests.fixtures.players import jogger, without

PLAYER = drill_player()


def test_samples_lie_at_even_times_whatever_the_rate():
    track = motion_track(frame_of(PLAYER)[0])
    assert np.allclose(np.diff(track.time_s), 1.0 / RATE_HZ)
    assert track.values.shape == (track.time_s.size, N_COLUMNS)
    assert track.known.all()


def test_size_and_time_of_filming_drop_out():
    one = motion_track(frame_of(PLAYER)[0])
    other = motion_track(frame_of(PLAYER, taller=0.7, later_s=100.0)[0])
    assert np.allclose(one.values, other.values, atol=1e-6)
    assert np.allclose(one.time_s + 100.0, other.time_s)


def test_a_mirror_image_has_left_and_right_exchanged():
    frame = frame_of(jogger(PLAYER.time_s))[0]
    one, image = motion_track(frame), motion_track(mirrored(frame))
    hands = [i for i, name in enumerate(COLUMNS) if name == "hand_up"]
    assert np.allclose(image.values[:, hands], one.values[:, hands[::-1]])
    turn = COLUMNS.index("turn")
    assert np.allclose(image.values[:, turn], -one.values[:, turn])
    forward = COLUMNS.index("pace_forward")
    assert np.allclose(image.values[:, forward], one.values[:, forward])


def test_gaps_are_bridged_and_said():
    hidden = (PLAYER.time_s > 3.0) & (PLAYER.time_s < 5.0)
    track = motion_track(frame_of(without(PLAYER, hidden, "left_hip", "right_hip"))[0])
    assert np.isfinite(track.values).all()
    middle = (track.time_s > 3.4) & (track.time_s < 4.6)
    assert not track.known[middle].any()
    assert track.known[(track.time_s < 2.9) | (track.time_s > 5.1)].all()


@pytest.mark.parametrize("n", [1, 2, 5])
def test_a_clip_of_a_few_frames_gives_finite_numbers(n):
    frame = frame_of(PLAYER)[0]
    short = type(frame)(
        time_s=frame.time_s[:n],
        joints=frame.joints[:n],
        velocity=frame.velocity[:n],
        turn_rad=frame.turn_rad[:n],
        hip_height=frame.hip_height[:n],
    )
    assert np.isfinite(motion_track(short).values).all()

"""Clean tracks: short gaps filled, long ones left open, wild samples and hidden hands left out."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.types import JOINTS, LANDMARKS
from pipeline.people.smoothing import (
    hidden_hands,
    joint_visibility,
    joints_from_landmarks,
    reject_outliers,
    relative_trust,
    smooth_tracks,
)
from tests.fixtures.players import frames_s, shooter
from tests.fixtures.walker import camera_at, tracks_of, walker_joints_m

TIME_S = frames_s(2.0)
WALK = tracks_of(walker_joints_m(TIME_S), camera_at(), 1.1)
RIGHT_HAND, LEFT_HAND = JOINTS.index("right_hand"), JOINTS.index("left_hand")
KNEE, HIP = JOINTS.index("left_knee"), JOINTS.index("left_hip")


def with_gap(tracks, start, stop):
    image_px, world_m = tracks.image_px.copy(), tracks.world_m.copy()
    visibility = tracks.visibility.copy()
    image_px[:, start:stop], world_m[:, start:stop] = np.nan, np.nan
    visibility[:, start:stop] = np.nan
    return replace(tracks, image_px=image_px, world_m=world_m, visibility=visibility)


def test_perfect_tracks_are_hardly_changed():
    smooth = smooth_tracks(WALK, TIME_S)
    raw = joints_from_landmarks(WALK.image_px.astype(float))
    # The walker is 380 px tall; only the kinks in the path of feet and knees are rounded.
    assert np.nanmedian(np.abs(smooth.image_px - raw)) < 0.05
    assert np.quantile(np.abs(smooth.image_px - raw), 0.99) < 3.0


def test_joints_keep_their_names_and_the_hand_lies_past_the_wrist_toward_the_knuckles():
    landmarks = np.zeros((33, 2))
    landmarks[LANDMARKS.index("left_knee")] = [3.0, 4.0]
    landmarks[LANDMARKS.index("right_wrist")] = [10.0, 0.0]
    landmarks[LANDMARKS.index("right_index_finger")] = [20.0, 2.0]
    landmarks[LANDMARKS.index("right_little_finger")] = [20.0, -2.0]
    joints = joints_from_landmarks(landmarks)
    assert joints[KNEE].tolist() == [3.0, 4.0]
    assert joints[RIGHT_HAND, 0] > 10.0
    assert joints[RIGHT_HAND, 1] == pytest.approx(0.0)


def test_short_gaps_are_filled_close_to_the_truth():
    whole = smooth_tracks(WALK, TIME_S)
    patched = smooth_tracks(with_gap(WALK, 60, 70), TIME_S)
    assert np.isfinite(patched.image_px).all()
    assert np.abs(patched.image_px - whole.image_px)[:, 60:70, HIP].max() < 1.0


def test_long_gaps_and_the_ends_stay_unknown():
    patched = smooth_tracks(with_gap(with_gap(WALK, 50, 80), 0, 5), TIME_S)
    unknown = np.isnan(patched.image_px[0, :, :, 0])
    assert unknown[50:80].all()
    assert unknown[:5].all()
    assert not unknown[8:47].any()
    assert not unknown[83:].any()
    assert (np.isnan(patched.body_m[0, :, :, 0]) == unknown).all()


def test_one_wild_sample_is_rejected():
    image_px = WALK.image_px.copy()
    image_px[0, 60, LANDMARKS.index("left_knee")] += [150.0, -90.0]
    smooth = smooth_tracks(replace(WALK, image_px=image_px), TIME_S)
    clean = smooth_tracks(WALK, TIME_S)
    assert np.abs(smooth.image_px - clean.image_px)[0, :, KNEE].max() < 1.5


def test_a_throw_is_no_wild_sample():
    player = shooter(frames_s(3.0), (2.0,), peak_mps=15.0)
    raw = joints_from_landmarks(tracks_of(player.joints_m, camera_at(), 1.1).image_px[0])
    weight = reject_outliers(raw[:, RIGHT_HAND].astype(float), np.ones(180), 0.03 * 380)
    assert (weight == 1.0).all()


@pytest.mark.parametrize(("rate_hz", "least_kept"), [(60.0, 0.85), (30.0, 0.70)])
def test_the_peak_of_a_throw_comes_through_the_whole_smoothing(rate_hz, least_kept):
    time_s = frames_s(3.0, rate_hz)
    player = shooter(time_s, (2.0,), peak_mps=15.0)
    raw = joints_from_landmarks(tracks_of(player.joints_m, camera_at(), 1.1).world_m[0])
    smooth = smooth_tracks(tracks_of(player.joints_m, camera_at(), 1.1), time_s).body_m[0]

    def peak(joints):
        hand = np.gradient(joints[:, RIGHT_HAND].astype(float), time_s, axis=0)
        return np.linalg.norm(hand, axis=-1).max()

    assert least_kept < peak(smooth) / (15.0 / 1.1) < 1.05
    assert peak(raw) <= 15.0 / 1.1 * 1.001


def test_a_hidden_hand_that_was_put_on_the_other_is_left_out():
    visibility = WALK.visibility.copy()
    image_px = WALK.image_px.copy()
    span = slice(40, 80)
    for part in ("wrist", "little_finger", "index_finger", "thumb"):
        left, right = LANDMARKS.index(f"left_{part}"), LANDMARKS.index(f"right_{part}")
        image_px[0, span, left] = image_px[0, span, right] + [4.0, 3.0]
        visibility[0, span, left] = 0.2
    smooth = smooth_tracks(replace(WALK, image_px=image_px, visibility=visibility), TIME_S)
    assert np.isnan(smooth.image_px[0, span, LEFT_HAND]).all()
    assert np.isfinite(smooth.image_px[0, span, RIGHT_HAND]).all()
    assert np.isfinite(smooth.image_px[0, :30, LEFT_HAND]).all()


def test_hands_close_together_that_are_both_seen_are_kept():
    joints_px = np.zeros((5, len(JOINTS), 2))
    seen = np.ones((5, len(JOINTS)))
    assert not hidden_hands(joints_px, seen, 300.0).any()
    unsure = seen.copy()
    unsure[:, LEFT_HAND] = 0.2
    assert hidden_hands(joints_px, unsure, 300.0)[:, LEFT_HAND].all()
    apart_px = joints_px.copy()
    apart_px[:, RIGHT_HAND, 0] = 100.0
    assert not hidden_hands(apart_px, unsure, 300.0).any()


def test_a_hand_hidden_for_a_moment_is_trusted_less_than_one_half_hidden_all_the_time():
    moment = np.full(TIME_S.size, 0.9)
    moment[60:64] = 0.2
    trust = relative_trust(TIME_S, moment)
    assert trust[61] < 0.1 < trust[20]
    assert relative_trust(TIME_S, np.full(TIME_S.size, 0.5)).min() == pytest.approx(1.0)
    assert (relative_trust(TIME_S, np.full(TIME_S.size, np.nan)) > 0).all()


def test_a_hands_visibility_is_that_of_its_wrist():
    visibility = np.zeros((2, 33))
    visibility[:, LANDMARKS.index("left_wrist")] = 0.7
    assert (joint_visibility(visibility)[:, LEFT_HAND] == 0.7).all()


def test_a_joint_that_is_only_guessed_is_noisier():
    visibility = WALK.visibility.copy()
    visibility[..., LANDMARKS.index("left_ankle")] = 0.1
    noise_px = smooth_tracks(replace(WALK, visibility=visibility), TIME_S).noise_px[0]
    ankles = [JOINTS.index("left_ankle"), JOINTS.index("right_ankle")]
    assert noise_px[:, ankles[0]].min() > 5.0 + noise_px[:, ankles[1]].max()


def test_the_stated_noise_is_the_noise_that_is_left():
    generator = np.random.default_rng(3)
    time_s = frames_s(10.0)
    still = tracks_of(shooter(time_s, ()).joints_m, camera_at(), 1.1)
    noisy = still.image_px + generator.normal(0.0, 2.0, still.image_px.shape)
    smooth = smooth_tracks(replace(still, image_px=noisy.astype(np.float32)), time_s)
    clean = joints_from_landmarks(still.image_px.astype(float))
    left = (smooth.image_px - clean)[0, 30:-30, KNEE].std()
    assert np.median(smooth.noise_px[0, :, KNEE]) == pytest.approx(left, rel=0.35)


def test_nobody_and_hardly_any_frames_give_unknown_tracks():
    nobody = smooth_tracks(with_gap(WALK, 0, TIME_S.size), TIME_S)
    assert np.isnan(nobody.image_px).all()
    few = replace(
        WALK,
        image_px=WALK.image_px[:, :3],
        world_m=WALK.world_m[:, :3],
        visibility=WALK.visibility[:, :3],
        overlapped=WALK.overlapped[:, :3],
        camera_shift_px=WALK.camera_shift_px[:3],
        camera_misfit_px=WALK.camera_misfit_px[:3],
    )
    assert np.isnan(smooth_tracks(few, TIME_S[:3]).image_px).all()


@pytest.mark.slow
@settings(max_examples=4, deadline=None)
@given(shift_s=st.floats(0.1, 500.0), scale=st.floats(0.5, 3.0))
def test_shifting_time_changes_nothing_and_scaling_the_picture_scales(shift_s, scale):
    plain = smooth_tracks(WALK, TIME_S)
    changed = smooth_tracks(replace(WALK, image_px=WALK.image_px * scale), TIME_S + shift_s)
    assert np.allclose(changed.image_px, plain.image_px * scale, atol=0.05 * scale)
    assert np.allclose(changed.body_m, plain.body_m, atol=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("frames", [slice(30, 90), slice(0, 60)])
def test_one_persons_track_does_not_touch_the_others(frames):
    empty = with_gap(WALK, frames.start, frames.stop)
    both = replace(
        WALK,
        image_px=np.concatenate([WALK.image_px, empty.image_px]),
        world_m=np.concatenate([WALK.world_m, empty.world_m]),
        visibility=np.concatenate([WALK.visibility, empty.visibility]),
        overlapped=np.concatenate([WALK.overlapped, empty.overlapped]),
    )
    alone = smooth_tracks(WALK, TIME_S)
    assert np.allclose(smooth_tracks(both, TIME_S).image_px[0], alone.image_px[0])

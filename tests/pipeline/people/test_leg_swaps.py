"""The left leg stays the left leg."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import LANDMARKS, Tracks
from pipeline.people.leg_swaps import LEFT, RIGHT, keep_sides
from tests.fixtures.standing import standing

N_FRAMES = 90
TIME_S = np.arange(N_FRAMES) / 30.0


def runner(noise_px=0.5, cadence_hz=1.4, fps=30.0):
    """Someone running from the side: the feet swing past each other twice a stride."""
    rng = np.random.default_rng(3)
    image_px = np.empty((1, N_FRAMES, 33, 2), np.float32)
    for i in range(N_FRAMES):
        swing = np.sin(2 * np.pi * cadence_hz * i / fps)
        points = standing(100 + 6 * i, 200).image_px.copy()
        for rows, sign in ((LEFT, 1), (RIGHT, -1)):
            points[rows[0], 0] = 100 + 6 * i + sign * 15 * swing
            points[rows[1:], 0] = 100 + 6 * i + sign * 30 * swing
        image_px[0, i] = points + rng.normal(0, noise_px, points.shape)
    number = np.broadcast_to(np.arange(33, dtype=np.float32), (1, N_FRAMES, 33))
    return Tracks(
        image_px=image_px,
        world_m=np.repeat(number[..., None], 3, axis=-1),
        visibility=number.copy(),
        overlapped=np.zeros((1, N_FRAMES), bool),
        camera_shift_px=np.zeros((N_FRAMES, 4, 2)),
        camera_misfit_px=np.zeros(N_FRAMES),
    )


def mixed_up(tracks, frames):
    arrays = {n: getattr(tracks, n).copy() for n in ("image_px", "world_m", "visibility")}
    for array in arrays.values():
        array[0, np.array(frames)[:, None], LEFT + RIGHT] = array[
            0, np.array(frames)[:, None], RIGHT + LEFT
        ]
    return replace(tracks, **arrays)


def test_legs_that_are_right_are_left_alone():
    tracks = runner()
    np.testing.assert_array_equal(keep_sides(tracks, TIME_S).image_px, tracks.image_px)


@pytest.mark.parametrize("frames", [[40], [20, 22, 24, 60, 61]])
def test_mixed_up_legs_are_put_right_in_all_that_is_known_of_them(frames):
    tracks = runner()
    again = keep_sides(mixed_up(tracks, list(frames)), TIME_S)
    wrong = np.any(again.image_px[0] != tracks.image_px[0], axis=(1, 2))
    # Where the legs pass each other neither way of seeing them is better.
    apart = np.abs(tracks.image_px[0, :, LEFT[1], 0] - tracks.image_px[0, :, RIGHT[1], 0]) > 20
    assert not (wrong & apart).any()
    for name in ("world_m", "visibility"):
        same = getattr(again, name)[0][~wrong] == getattr(tracks, name)[0][~wrong]
        assert same.all()


def test_arms_and_gaps_are_not_touched():
    tracks = runner()
    tracks.image_px[0, 30:35] = np.nan
    again = keep_sides(mixed_up(tracks, [50, 51]), TIME_S)
    assert np.isnan(again.image_px[0, 30:35]).all()
    arms = [i for i, name in enumerate(LANDMARKS) if "wrist" in name or "elbow" in name]
    np.testing.assert_array_equal(again.image_px[0][:, arms], tracks.image_px[0][:, arms])


def test_nobody_and_a_single_frame_pass_through():
    tracks = runner()
    nobody = Tracks(
        image_px=np.full((1, 1, 33, 2), np.nan),
        world_m=np.full((1, 1, 33, 3), np.nan),
        visibility=np.full((1, 1, 33), np.nan),
        overlapped=np.zeros((1, 1), bool),
        camera_shift_px=np.zeros((1, 4, 2)),
        camera_misfit_px=np.zeros(1),
    )
    assert np.isnan(keep_sides(nobody, TIME_S[:1]).image_px).all()
    assert keep_sides(tracks, TIME_S).n_people == 1

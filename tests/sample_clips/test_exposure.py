"""How frames gather light in time: means, rows in turn, uneven times, noise, sideways storage."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sample_clips.render.exposure import (
    exposure_offsets,
    low_light,
    mean_of,
    readout_within,
    row_offsets,
    rows_in_turn,
    uneven_rows,
)
from sample_clips.render.tracks import GRID_HZ
from sample_clips.render.video import as_stored


def flat(grey, size=(12, 8)):
    return np.full((*size, 3), grey, np.uint8)


@pytest.mark.parametrize("n_instants", [4, 6])
def test_a_long_exposure_is_centred_on_the_frame_and_as_long_as_asked(n_instants):
    offsets = exposure_offsets(1 / 60, n_instants)
    assert len(set(offsets)) == n_instants
    assert sum(offsets) == 0
    # n evenly spread middles of a span have the standard deviation span / sqrt(12), nearly.
    assert np.std(offsets) * np.sqrt(12) / GRID_HZ == pytest.approx(1 / 60, rel=0.12)


def test_the_mean_of_pictures_is_rounded_not_cut():
    np.testing.assert_array_equal(mean_of([flat(10), flat(11)]), flat(11))
    np.testing.assert_array_equal(mean_of([flat(255)] * 6), flat(255))


def test_rows_are_read_from_top_to_bottom_about_the_frame_time():
    offsets = row_offsets(720, 0.020)
    assert (np.diff(offsets) >= 0).all()
    assert np.ptp(offsets) == pytest.approx(0.020 * GRID_HZ, abs=1)
    assert abs(offsets.mean()) < 0.01


def test_the_rows_of_one_frame_are_read_before_those_of_the_next():
    assert readout_within(0.020, 30) == 0.020
    assert readout_within(0.020, 60) < 1 / 60


def test_each_row_shows_its_own_instant_and_the_nearest_one_where_none_was_drawn():
    offsets = np.array([-2, -2, -1, 0, 0, 1, 2, 3])
    drawn = {step: flat(100 + step, (8, 4)) for step in (-1, 0, 1)}
    shown = rows_in_turn(drawn, offsets)[:, 0, 0].tolist()
    assert shown == [99, 99, 99, 100, 100, 101, 101, 101]


@given(st.integers(40, 400), st.sampled_from([8, 16]), st.floats(0.02, 0.3), st.integers(0, 99))
def test_uneven_frames_keep_their_order_the_ends_and_lose_the_share_asked(
    n_frames, step, share, seed
):
    rows = np.arange(n_frames) * step
    uneven = uneven_rows(rows, share, np.random.default_rng(seed))
    assert (np.diff(uneven) > 0).all()
    assert (uneven[0], uneven[-1]) == (rows[0], rows[-1])
    lost = n_frames - len(uneven)
    assert round(share * n_frames) <= lost <= round(share * n_frames) + 2
    assert np.abs(uneven[:, None] - rows).min(axis=1).max() <= step // 5


def test_low_light_is_darker_and_noisy_with_the_same_mean_picture():
    rng = np.random.default_rng(2)
    size = (120, 160)
    dark, bright = (low_light(flat(grey, size), 0.5, 16.0, rng) for grey in (80, 240))
    assert dark.mean() == pytest.approx(40, abs=1.5)
    assert bright.mean() == pytest.approx(120, abs=1.0)
    assert 13 < bright[..., 1].std() < 19
    assert dark.std() < bright.std()
    # Blotches of colour: the channels do not share all of their noise.
    assert np.corrcoef(bright[..., 0].ravel(), bright[..., 2].ravel())[0, 1] < 0.99


@pytest.mark.parametrize("turn_deg", [0, 90, 270])
def test_a_film_stored_on_its_side_is_upright_again_after_the_turn_it_asks_for(turn_deg):
    upright = np.arange(4 * 6 * 3, dtype=np.uint8).reshape(4, 6, 3)
    stored = as_stored(upright, turn_deg)
    assert stored.shape[:2] == ((4, 6) if turn_deg == 0 else (6, 4))
    np.testing.assert_array_equal(np.rot90(stored, turn_deg // 90), upright)

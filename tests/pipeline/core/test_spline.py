"""The low-pass on uneven times: its gain, its gaps, its cut-off, and what it leaves of a throw."""

import numpy as np
import pytest

from pipeline.core.spline import (
    gaps_longer_than,
    noise_gain,
    residual_cutoff_hz,
    robust_smooth,
    spline_smooth,
)
from pipeline.people.smoothing import FAST_FLOOR_HZ
from tests.fixtures.players import burst_way, frames_s

INNER = slice(60, -60)


def sine(time_s, frequency_hz):
    return np.sin(2 * np.pi * frequency_hz * time_s)[:, None]


def gain_at(time_s, frequency_hz, cutoff_hz):
    values = sine(time_s, frequency_hz)
    smooth = spline_smooth(time_s, values, np.ones(time_s.size), cutoff_hz)
    return float(np.std(smooth[INNER]) / np.std(values[INNER]))


@pytest.mark.parametrize(
    ("rate_hz", "cutoff_hz"), [(60.0, 3.0), (60.0, 6.0), (120.0, 3.0), (120.0, 6.0), (120.0, 12.0)]
)
def test_a_sine_at_the_cutoff_is_halved(rate_hz, cutoff_hz):
    assert gain_at(frames_s(6.0, rate_hz), cutoff_hz, cutoff_hz) == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize(("octaves", "gain"), [(-1, 16 / 17), (1, 1 / 17)])
def test_the_gain_falls_with_the_fourth_power_of_the_frequency(octaves, gain):
    assert gain_at(frames_s(6.0, 120.0), 6.0 * 2.0**octaves, 6.0) == pytest.approx(gain, abs=0.01)


def test_a_straight_line_passes_unchanged_and_undelayed():
    time_s = frames_s(2.0)
    line = np.column_stack([3.0 * time_s - 1.0, -0.5 * time_s])
    smooth = spline_smooth(time_s, line, np.ones(time_s.size), 2.0)
    assert np.allclose(smooth, line, atol=1e-6)


def test_uneven_times_give_what_even_times_give():
    even_s = frames_s(6.0)
    uneven_s = even_s + np.random.default_rng(1).uniform(-0.004, 0.004, even_s.size)
    even = spline_smooth(even_s, sine(even_s, 2.0), np.ones(even_s.size), 4.0)[:, 0]
    uneven = spline_smooth(uneven_s, sine(uneven_s, 2.0), np.ones(even_s.size), 4.0)[:, 0]
    assert np.allclose(np.interp(even_s, uneven_s, uneven)[INNER], even[INNER], atol=0.02)


def test_missing_samples_are_bridged_without_being_read():
    time_s = frames_s(4.0)
    values = sine(time_s, 1.0)
    weight = np.ones(time_s.size)
    weight[100:108] = 0.0
    values[100:108] = np.nan
    smooth = spline_smooth(time_s, values, weight, 6.0)
    assert np.allclose(smooth[95:113], sine(time_s, 1.0)[95:113], atol=0.03)


def test_a_wild_sample_pulls_the_robust_curve_far_less():
    time_s = frames_s(3.0)
    values = sine(time_s, 1.0)
    values[90] += 5.0
    weight = np.ones(time_s.size)
    plain = spline_smooth(time_s, values, weight, 8.0) - sine(time_s, 1.0)
    robust = robust_smooth(time_s, values, weight, 8.0, 0.01) - sine(time_s, 1.0)
    assert np.abs(robust).max() < 0.1 * np.abs(plain).max()


@pytest.mark.parametrize("noise", [0.02, 0.1])
@pytest.mark.parametrize(("rate_hz", "within"), [(30.0, 0.22), (60.0, 0.2)])
def test_residual_analysis_recovers_the_noise_and_a_usable_cutoff(rate_hz, within, noise):
    time_s = frames_s(20.0, rate_hz)
    truth = np.column_stack([sine(time_s, 0.8), 0.5 * sine(time_s, 1.3)])
    values = truth + noise * np.random.default_rng(0).standard_normal(truth.shape)
    cutoff_hz, found = residual_cutoff_hz(time_s, values, np.ones(time_s.size))
    assert found == pytest.approx(noise, rel=within)
    assert 1.3 < cutoff_hz <= 14.0
    smooth = spline_smooth(time_s, values, np.ones(time_s.size), cutoff_hz)
    assert np.std((smooth - truth)[INNER]) < 0.8 * noise


def test_too_few_samples_leave_the_noise_unknown():
    time_s = frames_s(0.1)
    assert np.isnan(residual_cutoff_hz(time_s, sine(time_s, 1.0), np.ones(time_s.size))[1])


@pytest.mark.parametrize("cutoff_hz", [2.0, 4.0, 8.0])
def test_the_stated_share_of_white_noise_is_left(cutoff_hz):
    time_s = frames_s(60.0)
    noise = np.random.default_rng(2).standard_normal((time_s.size, 1))
    left = np.std(spline_smooth(time_s, noise, np.ones(time_s.size), cutoff_hz)[INNER])
    assert noise_gain(time_s, cutoff_hz) == pytest.approx(left, rel=0.1)


def test_only_long_gaps_and_what_lies_outside_the_samples_stay_open():
    time_s = frames_s(1.0, 10.0)
    known = np.array([0, 1, 0, 1, 1, 0, 0, 0, 1, 0], dtype=bool)
    expected = np.array([1, 0, 0, 0, 0, 1, 1, 1, 0, 1], dtype=bool)
    assert (gaps_longer_than(time_s, known, 0.25) == expected).all()
    assert gaps_longer_than(time_s, np.zeros(10, dtype=bool), 0.25).all()


# Share of a 15 m/s hand peak that is left, by cut-off, frame rate, and full width of the burst of
# speed at half its peak. A burst of a squared cosine; mean over where it falls between two frames.
PEAK_KEPT = {
    (10.0, 60.0, 0.08): 0.90, (10.0, 60.0, 0.10): 0.94, (10.0, 60.0, 0.12): 0.97,
    (10.0, 30.0, 0.08): 0.81, (10.0, 30.0, 0.10): 0.88, (10.0, 30.0, 0.12): 0.91,
    (12.0, 60.0, 0.08): 0.93, (12.0, 60.0, 0.10): 0.96, (12.0, 60.0, 0.12): 0.97,
    (12.0, 30.0, 0.08): 0.83, (12.0, 30.0, 0.10): 0.89, (12.0, 30.0, 0.12): 0.92,
    (15.0, 60.0, 0.08): 0.94, (15.0, 60.0, 0.10): 0.97, (15.0, 60.0, 0.12): 0.98,
    (15.0, 30.0, 0.08): 0.84, (15.0, 30.0, 0.10): 0.89, (15.0, 30.0, 0.12): 0.92,
}  # fmt: skip


def peak_kept(cutoff_hz, rate_hz, fwhm_s):
    kept = []
    for shift in np.arange(8) / 8:
        time_s = frames_s(2.0, rate_hz)
        way_m = 15.0 * burst_way(time_s - 1.0 - shift / rate_hz, fwhm_s)[:, None]
        smooth = spline_smooth(time_s, way_m, np.ones(time_s.size), cutoff_hz)
        kept.append(np.gradient(smooth[:, 0], time_s).max() / 15.0)
    return float(np.mean(kept))


@pytest.mark.parametrize(("cutoff_hz", "rate_hz", "fwhm_s"), PEAK_KEPT)
def test_share_of_a_known_hand_peak_that_is_kept(cutoff_hz, rate_hz, fwhm_s):
    expected = PEAK_KEPT[cutoff_hz, rate_hz, fwhm_s]
    assert peak_kept(cutoff_hz, rate_hz, fwhm_s) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("rate_hz", "least"), [(60.0, 0.90), (30.0, 0.80)])
def test_the_programs_own_cutoff_of_the_hands_keeps_most_of_a_peak(rate_hz, least):
    assert peak_kept(FAST_FLOOR_HZ, rate_hz, 0.10) > least

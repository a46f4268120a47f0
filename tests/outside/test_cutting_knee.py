"""Joint angles, smoothing and peaks on knee angles that were measured in people who cut.

Source: Neptune, Wright and van den Bogert (1999), "Muscle coordination and function during cutting
movements", Medicine & Science in Sports & Exercise 31(2):294-302: eight people, two cutting tasks,
knee angles over the stance at 101 nodes; as the package spm1d ships them (GPL, installed for tests
alone). Flexion is stored as a negative number of degrees from the straight knee.
"""

import warnings

import numpy as np
import pytest

from pipeline.core.spline import spline_smooth
from pipeline.measures.angles import included_angle_deg
from pipeline.moves.signals import local_peaks, refined_peak_s

pytestmark = pytest.mark.slow


THIGH_M, SHANK_M = 0.44, 0.43
STANCE_S = 0.25
"""Common practice, no source: how long a foot stands in a cut; the file has shares of it."""


@pytest.fixture(scope="module")
def flexion_deg():
    """(16, 101) knee flexion in deg, positive when bent."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the package itself, when it is imported
        from spm1d.data.mv1d.hotellings_paired import Neptune1999kneekin
    data = Neptune1999kneekin()
    return -np.concatenate([data.YA[..., 0], data.YB[..., 0]])


TIME_S = np.linspace(0.0, STANCE_S, 101)


def leg(bend_deg, turn_deg=0.0):
    """Hip, knee and ankle (101, 3) of a leg bent by so much, in a plane turned about the plumb."""
    bend, turn = np.radians(bend_deg), np.radians(turn_deg)
    ahead = np.array([np.cos(turn), np.sin(turn), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    hip = np.broadcast_to(up, (bend.size, 3))
    knee = hip - THIGH_M * up
    shank = -np.cos(bend)[:, None] * up - np.sin(bend)[:, None] * ahead
    return hip, knee, knee + SHANK_M * shank


@pytest.mark.parametrize("turn_deg", [0.0, 70.0, 200.0])
def test_included_angle_is_what_flexion_leaves_of_a_straight_knee(flexion_deg, turn_deg):
    for curve in flexion_deg:
        assert np.allclose(included_angle_deg(*leg(curve, turn_deg)), 180.0 - curve, atol=1e-6)


def test_the_curves_are_those_of_the_publication(flexion_deg):
    # Means of task A at the start, the middle and the end of the stance, computed from the file.
    assert flexion_deg[:8, [0, 50, 100]].mean(axis=0) == pytest.approx(
        [32.85, 73.72, 29.51], abs=0.01
    )


def test_each_stance_has_one_greatest_bend_and_it_is_found_between_the_frames_of_a_phone(
    flexion_deg,
):
    for curve in flexion_deg:
        fine = TIME_S[np.argmax(curve)]
        for rate_hz in (60, 120):
            frames_s = np.arange(0.0, STANCE_S, 1 / rate_hz)
            seen = np.interp(frames_s, TIME_S, curve)
            peaks = [i for i in local_peaks(seen) if seen[i] > 0.9 * seen.max()]
            assert len(peaks) == 1
            # The bend stays within a degree of its greatest for some 20 ms: so far can they differ.
            assert refined_peak_s(frames_s, seen, peaks[0]) == pytest.approx(fine, abs=0.012)


def test_smoothing_as_it_is_done_to_joints_keeps_the_greatest_bend(flexion_deg):
    frames_s = np.arange(-0.3, STANCE_S + 0.3, 1 / 60)
    noise = np.random.default_rng(31).normal(0.0, 0.004, (flexion_deg.shape[0], frames_s.size, 6))
    errors = []
    for curve, off_m in zip(flexion_deg, noise, strict=True):
        hip, knee, ankle = leg(np.interp(frames_s, TIME_S, curve))
        flat = np.concatenate([knee, ankle], axis=1) + off_m
        smooth = spline_smooth(frames_s, flat, np.ones(frames_s.size), 6.0)
        bend = 180.0 - included_angle_deg(hip, smooth[:, :3], smooth[:, 3:])
        errors.append(bend.max() - curve.max())
    assert np.abs(errors).max() < 4.0
    assert abs(np.mean(errors)) < 2.0

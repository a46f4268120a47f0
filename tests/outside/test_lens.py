"""Lens distortion against a published calibration.

Source: Z. Zhang, "A flexible new technique for camera calibration", Microsoft Research technical
report MSR-TR-98-71, 1998 (IEEE Transactions on Pattern Analysis and Machine Intelligence 22(11),
2000, 1330-1334): intrinsics, distortion, and the pose of view 1. The corners measured in view 1 are
those of its published data, as quoted in the tests of a public library of computer vision. The
published overall error is 0.335 px; the error of 12 corners of view 1, worked out once from those
numbers, 0.359 px with the distortion and 7.53 px without.
"""

from datetime import date

import numpy as np
import pytest

from calibration.lens_profile import distort_px, undistort_px
from pipeline.core.types import LensProfile

ROTATION = np.array(
    [
        [0.992759, -0.026319, 0.117201],
        [0.0139247, 0.994339, 0.105341],
        [-0.11931, -0.102947, 0.987505],
    ]
)
TRANSLATION_IN = np.array([-3.84019, 3.65164, 12.791])
MODEL_IN = np.array([[0, -0.5, 0], [0.5, -0.5, 0], [0.5, 0, 0], [0, 0, 0]])
MEASURED_PX = np.array(
    [[63.4392, 405.5768], [92.4627, 407.4557], [91.8064, 438.6577], [62.5872, 436.2884]]
)
# The published skew of 0.204494 moves these corners by less than 0.07 px; a profile has none.
LENS = LensProfile(
    name="published camera",
    width_px=640,
    height_px=480,
    rotation_deg=0,
    focal_px=(832.5, 832.53),
    u_focal_px=(0.0, 0.0),
    principal_px=(303.959, 206.585),
    u_principal_px=(0.0, 0.0),
    distortion=(-0.228601, 0.190353, 0.0, 0.0),
    u_distortion=(0.0, 0.0, 0.0, 0.0),
    reprojection_px=0.335,
    n_views=5,
    made_on=date(1998, 12, 2),
)


def rms_px(difference):
    return np.sqrt(np.mean(np.sum(difference**2, axis=-1)))


@pytest.fixture
def pinhole_px():
    """The corners as a camera without distortion would see them from the published pose."""
    x, y, z = ROTATION @ MODEL_IN.T + TRANSLATION_IN[:, None]
    return np.stack([x / z, y / z], axis=-1) * LENS.straight_focal_px + np.array(LENS.principal_px)


def test_the_published_lens_puts_the_corners_where_they_were_measured(pinhole_px):
    assert rms_px(distort_px(LENS, pinhole_px) - MEASURED_PX) < 0.5
    assert rms_px(pinhole_px - MEASURED_PX) > 4.0


def test_the_measured_corners_are_made_straight(pinhole_px):
    assert rms_px(undistort_px(LENS, MEASURED_PX) - pinhole_px) < 0.5

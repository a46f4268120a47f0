"""The arm by a person's own body: both readings on a figure of known arms."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.scene.depth import FEWEST_ARM_FRAMES, arm_readings_m

ji = JOINTS.index
UPPER_M, FORE_M, GRIP_M = 0.30, 0.26, 0.08


def swinging(n_frames=60):
    """Arms that swing from along the view (0 deg) to across it (90 deg), in camera axes."""
    angle = np.radians(np.linspace(0.0, 90.0, n_frames))
    along = np.stack([np.sin(angle), np.zeros(n_frames), np.cos(angle)], axis=-1)
    body = np.zeros((n_frames, len(JOINTS), 3))
    for side in ("left", "right"):
        reach = 0.0
        for part, step in (("elbow", UPPER_M), ("wrist", FORE_M), ("hand", GRIP_M)):
            reach += step
            body[:, ji(f"{side}_{part}")] = reach * along
    return body


def readings(body, **changed):
    known = {
        "body_m": body / 1.25,
        "scale": 1.25,
        "joint_px": body[..., :2] / 0.005,
        "noise_px": np.full(body.shape[:2], 1.0),
        "metres_per_px": np.full(body.shape[0], 0.005),
        "size_px": np.full(body.shape[0], 360.0),
    }
    return arm_readings_m(**(known | changed))


def test_both_readings_find_the_arm():
    metric, picture = readings(swinging())
    assert metric == pytest.approx(UPPER_M + FORE_M + GRIP_M)
    assert picture == pytest.approx(UPPER_M + FORE_M, rel=0.03)  # seen across the view at the end


def test_an_arm_that_is_hardly_seen_is_not_read():
    assert np.isnan(readings(swinging(FEWEST_ARM_FRAMES - 1))).all()
    body = swinging()
    unsure = readings(body, noise_px=np.full(body.shape[:2], 20.0))
    assert np.isnan(unsure[1])


def test_the_size_of_the_person_scales_both():
    body = swinging()
    small = readings(0.5 * body, metres_per_px=np.full(60, 0.005))
    assert small == pytest.approx(0.5 * readings(body))

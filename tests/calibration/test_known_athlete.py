"""The camera from an athlete of known stature: the truth within the stated uncertainty."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.known_athlete import (
    PARAMETERS,
    USUAL_LOG_HEIGHT,
    draw_cameras,
    fit_body_scale,
    fit_known_athlete,
)
from pipeline.core.types import LANDMARKS
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.calibration_samples import calibration_samples
from tests.fixtures.players import frames_s
from tests.fixtures.walker import STATURE_M, camera_at, tracks_of, walker_joints_m

MODEL_SCALE = 1.1


def samples_of(camera, direction_deg=30.0, duration_s=3.0, moved_m=(0.0, 0.0, 0.0), hidden=()):
    time_s = frames_s(duration_s, 30.0)
    joints_m = walker_joints_m(time_s, direction_deg) + np.array(moved_m)
    tracks = tracks_of(joints_m, camera, MODEL_SCALE)
    unseen = [number for number, name in enumerate(LANDMARKS) if name in hidden]
    tracks.visibility[:, :, unseen] = 0.0
    samples, _ = calibration_samples(smooth_tracks(tracks, time_s))
    assert samples is not None
    return samples


def fit(camera, samples):
    return fit_known_athlete(
        samples,
        principal_px=camera["principal_px"],
        stature_m=STATURE_M,
        log_focal=(float(np.log(camera["focal_px"])), 0.07),
        log_body_scale=(float(np.log(MODEL_SCALE)), 0.02),
    )


def truth(camera):
    return np.array(
        [
            np.log(camera["focal_px"]),
            camera["pitch_deg"],
            camera["roll_deg"],
            np.log(camera["height_m"]),
            np.log(MODEL_SCALE),
        ]
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("height_m", "pitch_deg", "roll_deg", "direction_deg"),
    [
        (1.4, 4.0, 0.0, 0.0), (1.4, 4.0, 0.0, 30.0), (1.4, 4.0, 0.0, 90.0), (1.4, 4.0, 0.0, -45.0),
        (1.0, 0.0, 0.5, 30.0), (1.8, 9.0, -0.5, 30.0), (1.2, 2.0, 1.0, 150.0),
    ],
)  # fmt: skip
def test_the_true_camera_lies_within_the_stated_uncertainty(
    height_m, pitch_deg, roll_deg, direction_deg
):
    camera = camera_at(height_m=height_m, pitch_deg=pitch_deg, roll_deg=roll_deg)
    estimate = fit(camera, samples_of(camera, direction_deg))
    sigmas = (estimate.mean - truth(camera)) / np.sqrt(np.diag(estimate.covariance))
    assert np.abs(sigmas).max() < 2.0, dict(zip(PARAMETERS, sigmas, strict=True))
    assert estimate.foot_scatter_m < 0.05


@pytest.mark.slow
@pytest.mark.parametrize(
    ("height_m", "pitch_deg", "roll_deg"),
    [(1.4, 4.0, 15.0), (1.4, 4.0, -20.0), (1.9, 22.0, 26.0), (0.3, 0.0, 0.0), (3.5, 15.0, 0.0)],
)
def test_a_slanted_a_low_and_a_high_phone_are_found_from_the_film(height_m, pitch_deg, roll_deg):
    camera = camera_at(height_m=height_m, pitch_deg=pitch_deg, roll_deg=roll_deg)
    estimate = fit(camera, samples_of(camera, 60.0))
    sigmas = (estimate.mean - truth(camera)) / np.sqrt(np.diag(estimate.covariance))
    assert np.abs(sigmas).max() < 2.0, dict(zip(PARAMETERS, sigmas, strict=True))
    assert estimate.mean[PARAMETERS.index("roll_deg")] == pytest.approx(roll_deg, abs=3.0)


def test_the_feet_of_every_draw_stand_on_its_ground():
    camera = camera_at()
    samples = samples_of(camera, 0.0)
    estimate = fit(camera, samples)
    draws = draw_cameras(
        estimate, samples, principal_px=camera["principal_px"], n_draws=100,
        generator=np.random.default_rng(0),
    )  # fmt: skip
    assert np.array_equal(draws[0], estimate.mean)
    others = [0, 1, 2, 4]  # tilt, focal length and size; the height follows from the feet
    assert draws[1:, others].mean(axis=0) == pytest.approx(estimate.mean[others], abs=1e-6)
    assert np.cov(draws[1:, others], rowvar=False) == pytest.approx(
        estimate.covariance[np.ix_(others, others)], rel=1e-3, abs=1e-6
    )
    by_size_m = np.exp(draws[:, 4]) * 6.0
    below_m = np.exp(draws[:, 3]) - by_size_m * np.tan(np.radians(draws[:, 1]))
    assert np.std(below_m) < 0.15  # a tilt of 3 degrees alone is 0.3 m there


@pytest.mark.parametrize("x_m", [-3.0, 3.0])
def test_an_athlete_at_the_edge_of_the_picture_tells_the_camera_as_well(x_m):
    # The model sees a cut-out about the body and takes the way to it for straight ahead.
    camera = camera_at()
    estimate = fit(camera, samples_of(camera, 90.0, moved_m=(x_m, 1.0, 0.0)))
    assert estimate.foot_scatter_m < 0.006
    assert estimate.mean[1] == pytest.approx(camera["pitch_deg"], abs=0.1)


def test_walking_away_from_the_camera_tells_height_and_tilt_better_than_walking_across():
    camera = camera_at()
    across = fit(camera, samples_of(camera, 0.0)).covariance
    away = fit(camera, samples_of(camera, 90.0)).covariance
    tilt, height = PARAMETERS.index("pitch_deg"), PARAMETERS.index("log_height")
    assert away[tilt, tilt] < 0.5 * across[tilt, tilt]
    assert away[height, height] < 0.5 * across[height, height]


def test_frames_close_in_time_do_not_count_as_independent():
    camera = camera_at()
    once = samples_of(camera)
    twice = replace(
        once,
        **{
            name: np.repeat(getattr(once, name), 2, axis=0)
            for name in ("image_px", "body_m", "foot_px", "foot_m", "standing", "up_m")
        },
        time_s=np.repeat(once.time_s, 2) + np.tile([0.0, 0.001], once.time_s.size),
    )
    plain, doubled = fit(camera, once), fit(camera, twice)
    assert np.sqrt(np.diag(doubled.covariance) / np.diag(plain.covariance)).min() > 0.85


def test_without_a_standing_foot_the_height_is_no_better_known_than_before():
    camera = camera_at()
    samples = samples_of(camera)
    blind = fit(camera, replace(samples, standing=np.zeros_like(samples.standing)))
    assert np.sqrt(blind.covariance[3, 3]) == pytest.approx(USUAL_LOG_HEIGHT[1], rel=0.05)
    assert np.isnan(blind.foot_scatter_m)


def test_a_few_feet_called_standing_in_the_air_do_not_carry_the_plane_away():
    camera = camera_at()
    samples = samples_of(camera)
    foot_px = samples.foot_px.copy()
    foot_px[::10] -= [0.0, 60.0]  # 0.3 m up
    estimate = fit(camera, replace(samples, foot_px=foot_px))
    sigmas = (estimate.mean - truth(camera)) / np.sqrt(np.diag(estimate.covariance))
    assert np.abs(sigmas).max() < 2.5


FAR_HAND = [f"left_{part}" for part in ("wrist", "thumb", "index_finger", "little_finger")]


@pytest.mark.slow
@pytest.mark.parametrize("direction_deg", [0.0, 30.0, 90.0])
def test_with_the_far_hand_hidden_throughout_the_camera_comes_from_the_feet(direction_deg):
    # Without that hand no centre of mass is known, and the body tells nothing of what is plumb.
    camera = camera_at()
    seen, hidden = (samples_of(camera, direction_deg, hidden=names) for names in ((), FAR_HAND))
    assert np.isnan(hidden.up_m).any(axis=1).all()
    estimate = fit(camera, hidden)
    deviation = np.sqrt(np.diag(estimate.covariance))
    sigmas = (estimate.mean - truth(camera)) / deviation
    assert np.abs(sigmas).max() < 2.0, dict(zip(PARAMETERS, sigmas, strict=True))
    assert (deviation >= 0.99 * np.sqrt(np.diag(fit(camera, seen).covariance))).all()


def with_gaps(samples):
    """The samples with a foot, a joint and a centre of mass unknown here and there."""
    gaps = {name: getattr(samples, name).copy() for name in ("image_px", "foot_px", "up_m")}
    gaps["foot_px"][::7, 0] = np.nan
    gaps["image_px"][3::11, 2] = np.nan
    gaps["up_m"][5::13] = np.nan
    return replace(samples, **gaps)


def test_frames_in_which_a_point_is_unknown_are_left_out():
    camera = camera_at()
    estimate = fit(camera, with_gaps(samples_of(camera)))
    sigmas = (estimate.mean - truth(camera)) / np.sqrt(np.diag(estimate.covariance))
    assert np.abs(sigmas).max() < 2.0
    assert estimate.foot_scatter_m < 0.05


def body_scale(camera, samples):
    known = truth(camera)[:4]
    principal_px = camera["principal_px"]
    return fit_body_scale(samples, known, principal_px=principal_px, stature_m=STATURE_M)


def test_the_size_of_the_body_comes_from_its_feet_also_with_points_unknown():
    camera = camera_at()
    samples = samples_of(camera, 90.0)
    for these in (samples, with_gaps(samples)):
        log_scale, u = body_scale(camera, these)
        assert abs(log_scale - np.log(MODEL_SCALE)) < 2.0 * u < 0.1


def test_without_a_standing_foot_the_size_of_the_body_is_unknown():
    samples = samples_of(camera_at())
    blind = replace(samples, standing=np.zeros_like(samples.standing))
    assert np.isnan(body_scale(camera_at(), blind)).all()

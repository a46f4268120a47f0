"""Camera height, tilt and scale from an athlete of known stature moving on flat ground (grade B).

The athlete's body, scaled to the stature, is placed on its rays frame by frame (`body_size`). His
feet then have to stand on one level plane wherever he goes, and his body is upright on average;
together with what is usual for a phone on a tripod that gives the camera's tilt, height and focal
length with their covariance. The idea of measuring from one view with a known height is that of
Criminisi, Reid and Zisserman [1]_; here the reference is the whole articulated body.

References
----------
.. [1] A. Criminisi, I. Reid and A. Zisserman, "Single view metrology", *International Journal of
   Computer Vision* 40(2), 2000, 123-148.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from calibration.body_size import root_from_size, toward_viewing_ray
from calibration.camera import field_from_camera
from pipeline.types import FloatArray

PARAMETERS = ("log_focal", "pitch_deg", "roll_deg", "log_height", "log_body_scale")

FOOT_LEVEL_OF_STATURE = 0.033
"""Height of the middle between the model's heel and toe points above the ground, share of stature.

The points of a shoe lie higher than the middle of its sole; median on rendered clips."""

# What is usual for a phone propped up or on a tripod: mean and standard deviation.
USUAL_PITCH_DEG = (4.0, 8.0)
USUAL_ROLL_DEG = (0.0, 1.0)
USUAL_HEIGHT_M = (1.35, 0.3)  # the second is a standard deviation of the logarithm

SIZE_NOISE = 0.03
"""Relative noise of a distance read from the size of the body in one frame."""

UPRIGHT_NOISE_DEG = 2.5
"""How far from plumb the line from the feet to the centre of mass is, on average over a clip."""

FRAMES_PER_INDEPENDENT_SAMPLE_S = 0.3
"""Poses closer in time than this share their error."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraEstimate:
    """Best estimate and covariance of `PARAMETERS`, and how well the feet fit one plane.

    Attributes
    ----------
    mean
        (5,) in the order of `PARAMETERS`.
    covariance
        (5, 5).
    n_samples
        Frames used.
    foot_scatter_m
        Root mean square height of the standing feet about the ground.
    """

    mean: FloatArray
    covariance: FloatArray
    n_samples: int
    foot_scatter_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BodySamples:
    """Frames of one athlete that are good for calibration.

    Attributes
    ----------
    image_px
        (n, n_joints, 2) joints used to place the body.
    body_m
        (n, n_joints, 3) the same joints relative to mid-hip, model size, axes of the cut-out.
    foot_px, foot_m
        (n, 2, 2) and (n, 2, 3) middle of the left and of the right foot, as above.
    standing
        (n, 2) which feet stand on the ground.
    up_m
        (n, 3) from between the feet to the centre of mass, model size, axes of the cut-out; rows
        with NaN are left out.
    time_s
        (n,) times, for the number of independent samples.
    """

    image_px: FloatArray
    body_m: FloatArray
    foot_px: FloatArray
    foot_m: FloatArray
    standing: npt.NDArray[np.bool_]
    up_m: FloatArray
    time_s: FloatArray


def fit_known_athlete(
    samples: BodySamples,
    *,
    principal_px: FloatArray,
    stature_m: float,
    log_focal: tuple[float, float],
    log_body_scale: tuple[float, float],
) -> CameraEstimate:
    """Estimate the camera from an athlete's frames.

    Parameters
    ----------
    samples
        Frames of the athlete.
    principal_px
        (2,) principal point.
    stature_m
        Stature, for the level of the foot points.
    log_focal, log_body_scale
        Prior mean and standard deviation of the logarithms of the focal length in px and of the
        factor from model-size metres to this athlete's.

    Returns
    -------
    CameraEstimate
    """
    prior_mean = np.array(
        [log_focal[0], USUAL_PITCH_DEG[0], USUAL_ROLL_DEG[0], np.log(USUAL_HEIGHT_M[0]),
         log_body_scale[0]]
    )  # fmt: skip
    prior_sd = np.array(
        [log_focal[1], USUAL_PITCH_DEG[1], USUAL_ROLL_DEG[1], USUAL_HEIGHT_M[1], log_body_scale[1]]
    )
    level_m = FOOT_LEVEL_OF_STATURE * stature_m
    weight = _independence(samples.time_s)

    def residuals(parameters: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        height_m = float(np.exp(parameters[3]))
        foot_height_m, lean = _foot_heights_and_lean(parameters, samples, principal_px)
        relative = (foot_height_m - level_m) / (SIZE_NOISE * height_m)
        return relative, lean / UPRIGHT_NOISE_DEG, (parameters - prior_mean) / prior_sd

    def stacked(parameters: FloatArray, robust: FloatArray) -> FloatArray:
        feet, lean, prior = residuals(parameters)
        standing = np.where(samples.standing, feet * robust * weight[:, None], 0.0)
        return np.concatenate([standing.ravel(), np.nanmean(lean, axis=0), prior])

    estimate = prior_mean.copy()
    # The first guess of the height makes the plane pass under the feet at the usual tilt.
    estimate[3] += _height_step(estimate, samples, principal_px, level_m)
    robust = np.ones(samples.standing.shape)
    step = np.array([1e-4, 1e-3, 1e-3, 1e-4, 1e-4])
    jacobian = np.empty((0, 5))
    for _ in range(12):
        feet = residuals(estimate)[0]
        robust = 1.0 / np.sqrt(1.0 + (feet / 2.5) ** 2)
        base = stacked(estimate, robust)
        jacobian = np.stack(
            [(stacked(estimate + step * row, robust) - base) / step[i]
             for i, row in enumerate(np.eye(5))], axis=-1
        )  # fmt: skip
        change = np.linalg.lstsq(jacobian, -base, rcond=None)[0]
        estimate = estimate + np.clip(change, -5 * prior_sd, 5 * prior_sd)
        if np.all(np.abs(change) < 1e-3 * prior_sd):
            break
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    foot_height_m, _ = _foot_heights_and_lean(estimate, samples, principal_px)
    scatter = foot_height_m[samples.standing] - level_m
    return CameraEstimate(
        mean=estimate,
        covariance=covariance,
        n_samples=int(samples.time_s.size),
        foot_scatter_m=float(np.sqrt(np.mean(scatter**2))) if scatter.size else float("nan"),
    )


def fit_body_scale(
    samples: BodySamples, camera: FloatArray, *, principal_px: FloatArray, stature_m: float
) -> tuple[float, float]:
    """Find the size of the body that makes the feet stand on the ground of a known camera.

    Parameters
    ----------
    samples
        Frames of the athlete.
    camera
        (4,) the first four of `PARAMETERS`.
    principal_px
        (2,) principal point.
    stature_m
        Stature, for the level of the foot points.

    Returns
    -------
    tuple of float
        Logarithm of the factor from model-size metres to the athlete's, and its standard
        uncertainty with that camera; NaN where the feet look level with the camera or above it.
    """
    level_m = FOOT_LEVEL_OF_STATURE * stature_m
    noise_m = SIZE_NOISE * float(np.exp(camera[3]))
    weight = _independence(samples.time_s)[:, None] * samples.standing

    def residuals(log_scale: float) -> FloatArray:
        parameters = np.append(camera, log_scale)
        return (_foot_heights_and_lean(parameters, samples, principal_px)[0] - level_m) / noise_m

    log_scale, slope = 0.0, np.zeros(samples.standing.shape)
    for _ in range(20):
        feet = residuals(log_scale)
        slope = (residuals(log_scale + 1e-4) - feet) / 1e-4
        robust = weight / np.sqrt(1.0 + (feet / 2.5) ** 2)
        with np.errstate(divide="ignore", invalid="ignore"):
            change = -np.sum(robust**2 * slope * feet) / np.sum((robust * slope) ** 2)
        log_scale += float(np.clip(change, -0.3, 0.3))
        if not abs(change) > 1e-6:
            break
    with np.errstate(divide="ignore"):
        u = float(1.0 / np.sqrt(np.sum((weight * slope) ** 2)))
    return (log_scale, u) if np.isfinite([log_scale, u]).all() else (float("nan"), float("nan"))


def _independence(time_s: FloatArray) -> FloatArray:
    """(n,) weight of each frame so that frames that share their error count as one."""
    if time_s.size < 2:
        return np.ones(time_s.size)
    spacing = np.gradient(time_s)
    return np.asarray(np.sqrt(np.clip(spacing / FRAMES_PER_INDEPENDENT_SAMPLE_S, 0.0, 1.0)))


def _height_step(
    parameters: FloatArray, samples: BodySamples, principal_px: FloatArray, level_m: float
) -> float:
    """Change of the log height that brings the plane under the standing feet."""
    foot_height_m, _ = _foot_heights_and_lean(parameters, samples, principal_px)
    standing = foot_height_m[samples.standing]
    if standing.size == 0:
        return 0.0
    height_m = float(np.exp(parameters[3]))
    return float(np.log(max(height_m - float(np.median(standing)) + level_m, 0.2) / height_m))


def _foot_heights_and_lean(
    parameters: FloatArray, samples: BodySamples, principal_px: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Feet's heights (n, 2) in m and the body's lean from plumb (n, 2) in deg, right and away."""
    focal_px, body_scale = np.exp(parameters[0]), np.exp(parameters[4])
    rotation = field_from_camera(parameters[1], parameters[2])
    slope = (samples.image_px - principal_px) / focal_px
    middle = slope.mean(axis=1)
    offset_m = toward_viewing_ray(samples.body_m * body_scale, middle)
    root_m = root_from_size(slope, offset_m, np.ones(slope.shape[1]))
    foot_offset_m = toward_viewing_ray(samples.foot_m * body_scale, middle)
    depth_m = root_m[:, None, 2] + foot_offset_m[..., 2]
    foot_slope = (samples.foot_px - principal_px) / focal_px
    foot_camera = np.concatenate([foot_slope, np.ones_like(foot_slope[..., :1])], axis=-1)
    foot_height_m = np.exp(parameters[3]) + depth_m * (foot_camera @ rotation[2])
    up = toward_viewing_ray(samples.up_m[:, None, :], middle)[:, 0] @ rotation.T
    lean = np.degrees(np.arctan2(up[:, :2], up[:, 2:]))
    return foot_height_m, lean

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

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from calibration.body_size import root_from_size, toward_viewing_ray
from calibration.camera import field_from_camera
from pipeline.core.types import FloatArray

PARAMETERS = ("log_focal", "pitch_deg", "roll_deg", "log_height", "log_body_scale")

FOOT_LEVEL_OF_STATURE = 0.033
"""Height of the middle between the model's heel and toe points above the ground, share of stature.

The points of a shoe lie higher than the middle of its sole; median on rendered clips."""

USUAL_PITCH_DEG = (4.0, 12.0)
USUAL_ROLL_DEG = (0.0, 2.0)
USUAL_LOG_HEIGHT = (math.log(1.35), 0.4)  # of the height in m
"""What is usual for a phone propped up or on a tripod: centre and scale. Common practice, no
source."""

LONG_TAILED = np.array([False, False, True, True, False])
"""Which of these have Cauchy's distribution. Low and slanted phones are rare but possible; with
long tails the film can move the estimate to them."""

SIZE_NOISE = 0.03
"""Relative noise of a distance read from the size of the body in one frame."""

LOWEST_START_M = 0.2
"""The search for the camera's height does not begin lower."""

UPRIGHT_NOISE_DEG = 4.0
"""How far from plumb the line from the feet to the centre of mass is, on average over a long clip:
as far as under the true cameras of 6 rendered clips. A short clip adds the spread within it."""

INDEPENDENT_AFTER_S = 1.0
"""Poses closer in time than this share their error, which goes with posture and facing."""

SOFT_FROM = 2.5
"""Feet further off the ground than so many standard deviations count less and less."""

DRAWS_AT_ONCE = 32
"""Cameras whose feet are placed together: few enough for the processor's cache."""

_STEP = np.array([1e-4, 1e-3, 1e-3, 1e-4, 1e-4])


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
        (n, 3) from between the feet to the centre of mass, model size, axes of the cut-out.
    time_s
        (n,) times, for the number of independent samples.

    A point that is not known is NaN. It is left out with whatever needs it: a hand with the lean of
    the body in that frame.
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
    from scipy.optimize import least_squares

    samples = _by_column(samples)
    prior = (log_focal, USUAL_PITCH_DEG, USUAL_ROLL_DEG, USUAL_LOG_HEIGHT, log_body_scale)
    prior_mean, prior_sd = np.array(prior).T
    level_m = FOOT_LEVEL_OF_STATURE * stature_m
    feet_m, lean_deg = _foot_heights_and_lean(prior_mean, samples, principal_px)
    standing = np.isfinite(feet_m)
    upright = np.isfinite(lean_deg).all(axis=1)
    loss = _soft_loss(_independence(samples.time_s, standing), LONG_TAILED)
    lean_noise_deg = _lean_noise_deg(lean_deg[upright], samples.time_s[upright])

    def residuals(parameters: FloatArray) -> FloatArray:
        feet_m, lean_deg = _foot_heights_and_lean(parameters, samples, principal_px)
        feet = (feet_m[..., standing] - level_m) / (SIZE_NOISE * np.exp(parameters[..., 3, None]))
        parts = [feet, (parameters - prior_mean) / prior_sd]
        if upright.any():
            parts.insert(1, lean_deg[..., upright, :].mean(axis=-2) / lean_noise_deg)
        return np.concatenate(parts, axis=-1)

    def jacobian(parameters: FloatArray) -> FloatArray:
        here, *moved = residuals(parameters + np.vstack([np.zeros(_STEP.size), np.diag(_STEP)]))
        return np.asarray((np.stack(moved, axis=-1) - here[:, None]) / _STEP)

    start = prior_mean.copy()
    if standing.any():  # the ground passes under the feet at the usual tilt
        below_m = np.exp(start[3]) + level_m - np.median(feet_m[standing])
        start[3] = np.log(max(below_m, LOWEST_START_M))
    fit = least_squares(residuals, start, jac=jacobian, loss=loss, x_scale=prior_sd)
    weight = loss(fit.fun**2)[1]
    slope = jacobian(fit.x)  # that of the fit is altered by the loss
    scatter_m = _foot_heights_and_lean(fit.x, samples, principal_px)[0][standing] - level_m
    return CameraEstimate(
        mean=fit.x,
        covariance=np.linalg.inv((weight * slope.T) @ slope),
        n_samples=int(samples.time_s.size),
        foot_scatter_m=float(np.sqrt(np.mean(scatter_m**2))) if scatter_m.size else float("nan"),
    )


def _by_column(samples: BodySamples) -> BodySamples:
    """Give the same samples with each coordinate of a joint by itself in memory."""
    points = ("image_px", "body_m", "foot_px", "foot_m", "up_m")
    return replace(
        samples, **{name: np.ascontiguousarray(getattr(samples, name).T).T for name in points}
    )


def draw_cameras(
    estimate: CameraEstimate,
    samples: BodySamples,
    *,
    principal_px: FloatArray,
    n_draws: int,
    generator: np.random.Generator,
) -> FloatArray:
    """Draw `PARAMETERS` about an estimate so that the feet of each draw stand on its ground.

    Tilt, focal length and size are drawn from the covariance. The height then follows from the
    feet, exactly, and has what spread is left: with a tilt a few degrees off, the height that the
    covariance foresees would put the feet far before or behind the body.

    Parameters
    ----------
    estimate, samples, principal_px
        Result and inputs of `fit_known_athlete`.
    n_draws
        How many.
    generator
        Source of randomness.

    Returns
    -------
    numpy.ndarray
        (n_draws, 5); the first is the estimate itself.
    """
    height, others = 3, [0, 1, 2, 4]
    root = np.linalg.cholesky(estimate.covariance[np.ix_(others, others)] + 1e-12 * np.eye(4))
    draws = np.tile(estimate.mean, (n_draws, 1))
    noise = _whitened(generator.standard_normal((n_draws - 1, 5)))
    draws[1:, others] += noise[:, :4] @ root.T
    u_rest = 1.0 / np.sqrt(np.linalg.inv(estimate.covariance)[height, height])

    samples = _by_column(samples)
    parts = np.array_split(draws, -(-n_draws // DRAWS_AT_ONCE))
    feet_m = np.concatenate(
        [
            np.nanmedian(_foot_heights_and_lean(part, samples, principal_px)[0], axis=-1)
            for part in parts
        ]
    )
    height_m = np.exp(draws[1:, height]) + feet_m[0] - feet_m[1:]
    draws[1:, height] = np.log(np.maximum(height_m, LOWEST_START_M)) + u_rest * noise[:, 4]
    return draws


def _whitened(noise: FloatArray) -> FloatArray:
    """Give draws (n, d) a mean of zero and the unit matrix as covariance, exactly.

    Chance correlations between 200 draws would otherwise move the uncertainties from seed to seed.
    """
    if noise.shape[0] <= noise.shape[1]:
        return noise
    centred = noise - noise.mean(axis=0)
    root = np.linalg.cholesky(np.cov(centred, rowvar=False))
    return np.asarray(np.linalg.solve(root, centred.T).T)


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
    from scipy.optimize import least_squares

    level_m = FOOT_LEVEL_OF_STATURE * stature_m
    noise_m = SIZE_NOISE * float(np.exp(camera[3]))
    feet_m, _ = _foot_heights_and_lean(np.append(camera, 0.0), samples, principal_px)
    standing = np.isfinite(feet_m)
    if not standing.any():
        return float("nan"), float("nan")
    share = _independence(samples.time_s, standing)

    def residuals(log_scale: FloatArray) -> FloatArray:
        parameters = np.append(camera, log_scale)
        feet_m, _ = _foot_heights_and_lean(parameters, samples, principal_px)
        return np.asarray((feet_m[standing] - level_m) / noise_m)

    fit = least_squares(residuals, 0.0, loss=_soft_loss(share, np.zeros(0, bool)), xtol=1e-10)
    slope = (residuals(fit.x + _STEP[4]) - fit.fun) / _STEP[4]
    with np.errstate(divide="ignore"):
        u = float(1.0 / np.sqrt(np.sum(share * slope**2)))
    return (float(fit.x[0]), u) if np.isfinite(u) else (float("nan"), float("nan"))


def _independence(time_s: FloatArray, standing: npt.NDArray[np.bool_]) -> FloatArray:
    """(n_standing,) weight of each frame so that frames that share their error count as one.

    Parameters
    ----------
    time_s
        (n,).
    standing
        (n,) the frames that are used.
    """
    spacing_s = np.gradient(time_s) if time_s.size > 1 else np.full(time_s.size, np.inf)
    return np.clip(spacing_s / INDEPENDENT_AFTER_S, 0.0, 1.0)[standing]


def _lean_noise_deg(lean_deg: FloatArray, time_s: FloatArray) -> FloatArray:
    """(2,) standard uncertainty of plumb by the mean lean (n, 2) over the times (n,)."""
    if time_s.size == 0:
        return np.full(2, UPRIGHT_NOISE_DEG)
    n_independent = max(1.0, float(np.ptp(time_s)) / INDEPENDENT_AFTER_S)
    return np.asarray(np.hypot(UPRIGHT_NOISE_DEG, lean_deg.std(axis=0) / np.sqrt(n_independent)))


def _soft_loss(
    share: FloatArray, long_tailed: npt.NDArray[np.bool_]
) -> Callable[[FloatArray], FloatArray]:
    """Cauchy's loss for the feet and for some of what is usual, and the plain square for the rest.

    Parameters
    ----------
    share
        (n_feet,) weight of each frame with a standing foot; their residuals come first.
    long_tailed
        (n_usual,) which of the last residuals have it.

    Returns
    -------
    callable
        From squared residuals (n,) to the loss and its first two derivatives (3, n), as
        `scipy.optimize.least_squares` takes it.
    """

    def cauchy(squared: FloatArray, scale: float) -> FloatArray:
        off = 1.0 + squared / scale**2
        return np.stack([scale**2 * np.log(off), 1.0 / off, -1.0 / (scale * off) ** 2])

    def loss(squared: FloatArray) -> FloatArray:
        rho = np.stack([squared, np.ones_like(squared), np.zeros_like(squared)])
        rho[:, : share.size] = share * cauchy(squared[: share.size], SOFT_FROM)
        tails = squared.size - long_tailed.size + np.flatnonzero(long_tailed)
        rho[:, tails] = cauchy(squared[tails], 1.0)
        return rho

    return loss


def _foot_heights_and_lean(
    parameters: FloatArray, samples: BodySamples, principal_px: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give the height of the standing feet, and the body's lean from plumb, frame by frame.

    The feet of one frame are averaged: how much deeper one of them stands than the other is an
    error of the pose model that lasts as long as a stance.

    Returns
    -------
    tuple of numpy.ndarray
        ``S + (n,)`` m, NaN where no foot stands or none is known. ``S + (n, 2)`` deg, to the right
        and away. Parameters are ``S + (5,)``.
    """
    focal_px, height_m, body_scale = (np.exp(parameters[..., i, None, None]) for i in (0, 3, 4))
    rotation = field_from_camera(parameters[..., 1], parameters[..., 2])
    slope = (samples.image_px - principal_px) / focal_px[..., None]
    middle = slope.mean(axis=-2)
    offset_m = toward_viewing_ray(samples.body_m * body_scale[..., None], middle)
    root_m = root_from_size(slope, offset_m, np.ones(slope.shape[-2]))
    foot_offset_m = toward_viewing_ray(samples.foot_m * body_scale[..., None], middle)
    depth_m = root_m[..., 2, None] + foot_offset_m[..., 2]
    foot_slope = (samples.foot_px - principal_px) / focal_px[..., None]
    up_x, up_y, up_z = (rotation[..., 2, axis, None, None] for axis in range(3))
    rise = foot_slope[..., 0] * up_x + foot_slope[..., 1] * up_y + up_z
    up = toward_viewing_ray(samples.up_m[:, None, :], middle)[..., 0, :]
    up = np.matmul(up, np.swapaxes(rotation, -1, -2))
    lean = np.degrees(np.arctan2(up[..., :2], up[..., 2:]))
    foot_height_m = height_m + depth_m * rise
    stands = samples.standing & np.isfinite(foot_height_m)
    n_feet = stands.sum(axis=-1)
    sum_m = np.where(stands, foot_height_m, 0.0).sum(axis=-1)
    return sum_m / np.where(n_feet > 0, n_feet, np.nan), lean

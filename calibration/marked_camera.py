"""Fits a camera to marks of known place: a start from the points alone, then least squares.

The camera is that of `calibration.camera`, moved over the field: it stands at x, y and looks along
a heading. Each mark counts by its own uncertainty, that of its image point and that of its place
carried into the picture. Several marks on one plane can be seen alike from two places, so every
start is tried; the start is that of [1]_ or, for flat marks, of [2]_.

References
----------
.. [1] G. Terzakis and M. Lourakis, "A consistently fast and globally optimal solution to the
   perspective-n-point problem", *European Conference on Computer Vision* 2020 (SQPNP in OpenCV).
.. [2] T. Collins and A. Bartoli, "Infinitesimal plane-based pose estimation", *International
   Journal of Computer Vision* 109(3), 2014, 252-286 (IPPE in OpenCV).
.. [3] R. Hartley and A. Zisserman, *Multiple View Geometry in Computer Vision*, 2nd edition, 2004,
   section 7.2 (a camera from points, weighted) and section 5.2 (covariance from the Jacobian).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.camera import project_px
from calibration.marks import FocalPrior, Mark, MarkedCamera, places_m, points_px
from pipeline.core.types import FloatArray

PARAMETERS = ("log_focal", "pitch_deg", "roll_deg", "height_m", "heading_deg", "x_m", "y_m")
FEWEST_TO_SETTLE_THE_FOCAL = 6
"""Marks from which on flat marks may determine the focal length too."""

_FOCAL_STARTS = np.geomspace(0.5, 2.5, 7)
_MOST_STARTS = 3
_FLAT_M = 1e-6
_UNSEEN_PX = 1e5
_MOST_EVALUATIONS = 100
_TYPICAL = np.array([0.1, 1.0, 1.0, 0.1, 1.0, 0.1, 0.1])
_STEP = 1e-4 * _TYPICAL


def seen_at_px(camera: MarkedCamera, field_m: FloatArray, principal_px: FloatArray) -> FloatArray:
    """Image points (n, 2) of places (n, 3) of the field; NaN behind the camera."""
    unknowns = np.array(
        [np.log(camera.focal_px), camera.pitch_deg, camera.roll_deg, camera.height_m,
         camera.heading_deg, *camera.position_m]
    )  # fmt: skip
    return _project(unknowns, field_m, principal_px)


def fit_marked_camera(
    marks: Sequence[Mark], *, principal_px: FloatArray, prior: FocalPrior
) -> list[MarkedCamera]:
    """Fit the camera from every start, whether or not the fit is good.

    Parameters
    ----------
    marks
        At least three.
    principal_px
        (2,) principal point.
    prior
        The focal length without the marks. It counts as one more observation, unless it is only a
        typical one and the marks settle the focal length better.

    Returns
    -------
    list of MarkedCamera
        The different cameras in front of the marks, the right way up and above the ground to which
        the starts led, best first; may be empty.
    """
    heights_m = places_m(marks)[:, 2]
    off_ground = bool(np.ptp(heights_m) > _FLAT_M)
    n_unknowns = len(PARAMETERS)
    may_be_free = len(marks) >= FEWEST_TO_SETTLE_THE_FOCAL or off_ground
    if may_be_free and not prior.is_given and 2 * len(marks) > n_unknowns:
        found = _fit_all(marks, principal_px, prior, is_free=True)
        if found and found[0].uncertainty("focal_px") < prior.u_log * found[0].focal_px:
            return found
    return _fit_all(marks, principal_px, prior, is_free=False)


def _fit_all(
    marks: Sequence[Mark], principal_px: FloatArray, prior: FocalPrior, *, is_free: bool
) -> list[MarkedCamera]:
    """Refine the best starts; different results, best first."""
    found: list[MarkedCamera] = []
    for start in _starts(marks, principal_px, prior, is_free=is_free)[:_MOST_STARTS]:
        camera = _refine(start, marks, principal_px, prior, is_free=is_free)
        if camera is not None and not any(_is_same(camera, other) for other in found):
            found.append(camera)
    return sorted(found, key=lambda camera: camera.chi_squared)


def _is_same(camera: MarkedCamera, other: MarkedCamera) -> bool:
    near_m = 1e-3 * max(camera.height_m, other.height_m)
    near_deg = 0.01
    return (
        abs(camera.height_m - other.height_m) < near_m
        and abs(camera.pitch_deg - other.pitch_deg) < near_deg
    )


def _project(unknowns: FloatArray, field_m: FloatArray, principal_px: FloatArray) -> FloatArray:
    """Image ``S + (n, 2)`` of places (n, 3) or (3,) of the field; unknowns ``S + (7,)``."""
    from scipy.spatial.transform import Rotation

    heading_deg = unknowns[..., 4]
    shift_m = np.stack([unknowns[..., 5], unknowns[..., 6], np.zeros_like(heading_deg)], axis=-1)
    # Columns: the scene's right, forward and up in the field's axes.
    about_up = Rotation.from_rotvec(heading_deg.reshape(-1, 1) * [0.0, 0.0, 1.0], degrees=True)
    turn = about_up.as_matrix().reshape(*heading_deg.shape, 3, 3)
    return project_px(
        (np.asarray(field_m, dtype=float) - shift_m[..., None, :]) @ turn,
        focal_px=np.exp(unknowns[..., :1]),
        principal_px=principal_px,
        pitch_deg=unknowns[..., 1:2],
        roll_deg=unknowns[..., 2:3],
        height_m=unknowns[..., 3:4],
    )


def _starts(
    marks: Sequence[Mark], principal_px: FloatArray, prior: FocalPrior, *, is_free: bool
) -> list[FloatArray]:
    """Unknowns from which to refine, best first: each possible focal length, each solution."""
    import cv2

    places, image = places_m(marks), points_px(marks)
    centred = places - places.mean(axis=0)
    is_flat = bool(np.linalg.svd(centred, compute_uv=False)[-1] < _FLAT_M * np.abs(centred).max())
    methods = [cv2.SOLVEPNP_SQPNP] + ([cv2.SOLVEPNP_IPPE] if is_flat and len(marks) > 3 else [])
    found: list[tuple[float, FloatArray]] = []
    for focal_px in prior.focal_px * (_FOCAL_STARTS if is_free else np.ones(1)):
        matrix = np.array(
            [[focal_px, 0, principal_px[0]], [0, focal_px, principal_px[1]], [0, 0, 1.0]]
        )
        for method in methods:
            try:
                _, turns, shifts, _ = cv2.solvePnPGeneric(places, image, matrix, None, flags=method)
            except cv2.error:
                continue
            for turn, shift in zip(turns, shifts, strict=True):
                unknowns = _unknowns_of(
                    focal_px,
                    np.asarray(cv2.Rodrigues(turn)[0], float),
                    np.asarray(shift[:, 0], float),
                )
                if unknowns is None:
                    continue
                off = _project(unknowns, places, principal_px) - image
                if np.isfinite(off).all():
                    found.append((float(np.sum(off**2)), unknowns))
    return [unknowns for _, unknowns in sorted(found, key=lambda pair: pair[0])]


def _unknowns_of(
    focal_px: float, camera_from_field: FloatArray, shift_m: FloatArray
) -> FloatArray | None:
    """`PARAMETERS` of a pose as OpenCV gives it; None below the ground or upside down."""
    if not (np.isfinite(camera_from_field).all() and np.isfinite(shift_m).all()):
        return None
    right, down, forward = camera_from_field
    position = -camera_from_field.T @ shift_m
    if position[2] <= 0 or down[2] >= 0:
        return None
    return np.array(
        [
            np.log(focal_px),
            np.degrees(-np.arcsin(np.clip(forward[2], -1.0, 1.0))),
            np.degrees(np.arctan2(-right[2], -down[2])),
            position[2],
            np.degrees(np.arctan2(-forward[0], forward[1])),
            position[0],
            position[1],
        ]
    )


def _refine(
    unknowns: FloatArray,
    marks: Sequence[Mark],
    principal_px: FloatArray,
    prior: FocalPrior,
    *,
    is_free: bool,
) -> MarkedCamera | None:
    """Weighted least squares from a start; None when the marks do not settle the camera."""
    from scipy.optimize import least_squares

    places, image = places_m(marks), points_px(marks)
    for _ in range(2):  # how a place's uncertainty looks in the picture follows from the camera
        whiten = _whitening(unknowns, marks, principal_px)

        def residuals(guess: FloatArray, whiten: FloatArray = whiten) -> FloatArray:
            off = np.nan_to_num(_project(guess, places, principal_px) - image, nan=_UNSEEN_PX)
            weighted = np.einsum("nij,...nj->...ni", whiten, off)
            weighted = weighted.reshape(*guess.shape[:-1], -1)
            if is_free:
                return np.asarray(weighted)
            from_prior = (guess[..., :1] - np.log(prior.focal_px)) / prior.u_log
            return np.concatenate([weighted, from_prior], axis=-1)

        def jacobian(guess: FloatArray) -> FloatArray:
            ahead, behind = residuals(guess + np.diag(_STEP)), residuals(guess - np.diag(_STEP))
            return np.asarray(((ahead - behind) / (2 * _STEP[:, None])).T)

        try:
            fit = least_squares(
                residuals, unknowns, jac=jacobian, method="lm", ftol=1e-12, xtol=1e-12,
                gtol=1e-12, x_scale=_TYPICAL, max_nfev=_MOST_EVALUATIONS,
            )  # fmt: skip
        except (ValueError, np.linalg.LinAlgError):
            return None
        unknowns = fit.x
    off_px = _project(unknowns, places, principal_px) - image
    _, singular, axes = np.linalg.svd(fit.jac, full_matrices=False)
    if not np.isfinite(off_px).all() or unknowns[3] <= 0 or singular[-1] < 1e-9 * singular[0]:
        return None
    n_spare = int(fit.fun.size - unknowns.size)
    chi_squared = float(np.sum(fit.fun**2))
    # What the marks show of their own error counts where it is more than was stated.
    widened = max(1.0, chi_squared / n_spare) if n_spare else 1.0
    covariance = widened * (axes.T / singular**2) @ axes
    to_px = np.diag([np.exp(unknowns[0]), *np.ones(6)])
    in_units = to_px @ covariance @ to_px
    return MarkedCamera(
        focal_px=float(np.exp(unknowns[0])),
        pitch_deg=float(unknowns[1]),
        roll_deg=float(unknowns[2]),
        height_m=float(unknowns[3]),
        heading_deg=float((unknowns[4] + 180.0) % 360.0 - 180.0),
        position_m=(float(unknowns[5]), float(unknowns[6])),
        covariance=in_units[:4, :4],
        pose_covariance=in_units,
        focal_is_from_marks=is_free,
        names=tuple(mark.name for mark in marks),
        residual_px=np.linalg.norm(off_px, axis=1),
        chi_squared=chi_squared,
        n_spare=n_spare,
    )


def _whitening(unknowns: FloatArray, marks: Sequence[Mark], principal_px: FloatArray) -> FloatArray:
    """(n, 2, 2) that turns a mark's residual into standard uncertainties."""
    places = places_m(marks)
    step_m = 1e-4
    moved = places[:, None] + step_m * np.eye(3)
    here = _project(unknowns, places, principal_px)
    slope = np.nan_to_num((_project(unknowns, moved, principal_px) - here[:, None]) / step_m)
    u_px = np.array([mark.uncertainty_px for mark in marks])[:, None, None]
    u_m = np.array([mark.uncertainty_m for mark in marks])[:, None, None]
    covariance = u_px**2 * np.eye(2) + u_m**2 * np.swapaxes(slope, 1, 2) @ slope
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))

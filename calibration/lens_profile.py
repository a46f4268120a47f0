"""Image points of a measured lens: distortion taken out and put back, profiles fitted to a clip.

Image points count from the left and the top edge of the picture, so that scaling and turning a
picture scales and turns them; the middle of the first pixel is (0.5, 0.5).

References
----------
.. [1] Z. Zhang, "A flexible new technique for camera calibration", *IEEE Transactions on Pattern
   Analysis and Machine Intelligence* 22(11), 2000, 1330-1334 (radial terms k1, k2).
.. [2] D. C. Brown, "Close-range camera calibration", *Photogrammetric Engineering* 37(8), 1971,
   855-866 (tangential terms p1, p2).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from pipeline.core.errors import LensProfileError
from pipeline.core.types import FloatArray, LensProfile, Pair

SAME_ASPECT = 0.005
"""Relative difference of two aspect ratios that comes from rounding to whole pixels."""

_MOST_ITERATIONS = 100
_CLOSE_PX = 1e-6
_NOT_INVERTED_PX = 0.01


def undistort_px(profile: LensProfile, image_px: FloatArray) -> FloatArray:
    """Move image points to where a lens without distortion would have put them.

    The straight picture is that of a pinhole camera with the profile's principal point and the one
    focal length `LensProfile.straight_focal_px`.

    Parameters
    ----------
    profile
        Of the picture in which the points lie.
    image_px
        ``S + (2,)`` points of the film, px.

    Returns
    -------
    numpy.ndarray
        ``S + (2,)`` px; NaN stays NaN, and a point so far outside the picture that the lens model
        puts nothing there becomes NaN.
    """
    import cv2

    points = np.asarray(image_px, dtype=np.float64).reshape(-1, 2)
    straight = np.full(points.shape, np.nan)
    known = np.isfinite(points).all(axis=1)
    if known.any():
        stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, _MOST_ITERATIONS, _CLOSE_PX)
        bent = points[known][:, None]
        matrix, distortion = _matrix(profile), np.array(profile.distortion)
        if hasattr(cv2, "undistortPointsIter"):  # its name before OpenCV 5
            slope = cv2.undistortPointsIter(bent, matrix, distortion, None, None, stop)
        else:
            slope = cv2.undistortPoints(bent, matrix, distortion, criteria=stop)
        straight[known] = slope[:, 0] * profile.straight_focal_px + np.array(profile.principal_px)
        # The iteration always gives something: what does not lead back was not found.
        with np.errstate(over="ignore", invalid="ignore"):
            off_px = np.linalg.norm(distort_px(profile, straight) - points, axis=1)
        straight[~(off_px < _NOT_INVERTED_PX)] = np.nan
    return straight.reshape(np.shape(image_px))


def distort_px(profile: LensProfile, straight_px: FloatArray) -> FloatArray:
    """Move points of the straight picture to where they lie on the film; undoes `undistort_px`.

    Parameters
    ----------
    profile
        Of the picture.
    straight_px
        ``S + (2,)`` points of the straight picture, px.

    Returns
    -------
    numpy.ndarray
        ``S + (2,)`` px of the film; NaN stays NaN.
    """
    principal_px = np.array(profile.principal_px)
    slope = (np.asarray(straight_px, dtype=np.float64) - principal_px) / profile.straight_focal_px
    k1, k2, p1, p2 = profile.distortion
    x, y = slope[..., 0], slope[..., 1]
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * k2)
    bent = np.stack(
        [
            x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x),
            y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y,
        ],
        axis=-1,
    )
    return np.asarray(bent * np.array(profile.focal_px) + principal_px)


def for_picture(
    profile: LensProfile, *, width_px: int, height_px: int, rotation_deg: int = 0
) -> LensProfile:
    """Give the profile for a clip's picture: scaled, and turned for a clip held the other way.

    Parameters
    ----------
    profile
        As it was measured.
    width_px, height_px
        Size of the clip's upright picture.
    rotation_deg
        Clockwise turn that made it upright.

    Returns
    -------
    LensProfile

    Raises
    ------
    LensProfileError
        The picture has another shape: it was cut from the sensor in another way.
    """
    as_it_is = _same_aspect(profile.width_px, profile.height_px, width_px, height_px)
    on_its_side = _same_aspect(profile.height_px, profile.width_px, width_px, height_px)
    if not (as_it_is or on_its_side):
        raise LensProfileError.of(
            "lens_of_another_shape",
            name=profile.name,
            width=profile.width_px,
            height=profile.height_px,
            clip_width=width_px,
            clip_height=height_px,
        )
    n_turns = (rotation_deg - profile.rotation_deg) // 90 % 4
    if not (on_its_side if n_turns % 2 else as_it_is):
        # The clip has lost its note of how the phone was held: taken as held the usual way up.
        n_turns = 0 if as_it_is else 1
    for _ in range(n_turns):
        profile = _turned_clockwise(profile)
    return _scaled(profile, width_px, height_px)


def _same_aspect(width: int, height: int, other_width: int, other_height: int) -> bool:
    return abs(math.log(width / height * other_height / other_width)) <= SAME_ASPECT


def _turned_clockwise(profile: LensProfile) -> LensProfile:
    """Turn by a quarter: a point (x, y) goes to (height - y, x)."""

    def swapped(pair: Pair) -> Pair:
        return pair[1], pair[0]

    # (p2, p1) is a direction in the picture and turns with it.
    k1, k2, p1, p2 = profile.distortion
    u_k1, u_k2, u_p1, u_p2 = profile.u_distortion
    return replace(
        profile,
        width_px=profile.height_px,
        height_px=profile.width_px,
        rotation_deg=(profile.rotation_deg + 90) % 360,
        focal_px=swapped(profile.focal_px),
        u_focal_px=swapped(profile.u_focal_px),
        principal_px=(profile.height_px - profile.principal_px[1], profile.principal_px[0]),
        u_principal_px=swapped(profile.u_principal_px),
        distortion=(k1, k2, p2, -p1),
        u_distortion=(u_k1, u_k2, u_p2, u_p1),
    )


def _scaled(profile: LensProfile, width_px: int, height_px: int) -> LensProfile:
    """Scale to another size of the same aspect ratio; slopes, and so the distortion, stay."""
    across, down = width_px / profile.width_px, height_px / profile.height_px

    def scaled(pair: Pair) -> Pair:
        return pair[0] * across, pair[1] * down

    return replace(
        profile,
        width_px=width_px,
        height_px=height_px,
        focal_px=scaled(profile.focal_px),
        u_focal_px=scaled(profile.u_focal_px),
        principal_px=scaled(profile.principal_px),
        u_principal_px=scaled(profile.u_principal_px),
        reprojection_px=profile.reprojection_px * math.sqrt(across * down),
    )


def _matrix(profile: LensProfile) -> FloatArray:
    (fx, fy), (cx, cy) = profile.focal_px, profile.principal_px
    return np.array([[fx, 0.0, cx], [0.0, fy, cy], [0.0, 0.0, 1.0]])

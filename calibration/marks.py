"""Marks of known place on the field, what is known of the lens, and the camera that they give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.core.types import FloatArray

CAMERA_PARAMETERS = ("focal_px", "pitch_deg", "roll_deg", "height_m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A point of known place on the field, and where it is seen; uncertainties are k = 1.

    Attributes
    ----------
    name
        What the mark is called.
    field_m
        x, y, z in a right-handed frame with z up from the ground.
    image_px
        From the left and the top edge of the straight picture.
    uncertainty_px, uncertainty_m
        Of each coordinate of the image point and of the place.
    """

    name: str
    field_m: tuple[float, float, float]
    image_px: tuple[float, float]
    uncertainty_px: float = 2.0
    uncertainty_m: float = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class FocalPrior:
    """What is known of the focal length without the marks.

    Attributes
    ----------
    focal_px
        Best estimate.
    u_log
        Standard uncertainty of its logarithm.
    is_given
        Whether it was measured or given; otherwise marks that can settle it are free to.
    """

    focal_px: float
    u_log: float
    is_given: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedCamera:
    """A camera over the marked field.

    Attributes
    ----------
    focal_px, pitch_deg, roll_deg, height_m
        As in `calibration.camera`.
    heading_deg
        Turn from the field's y axis to the way the camera looks, anticlockwise seen from above.
    position_m
        (x, y) of the camera in the field's frame.
    covariance
        (4, 4) of `CAMERA_PARAMETERS` in their units; widened where the marks fit worse than stated.
    pose_covariance
        (7, 7) of `CAMERA_PARAMETERS`, `heading_deg` and `position_m`; `covariance` is part of it.
    focal_is_from_marks
        Whether the marks alone gave the focal length.
    names
        Names of the marks.
    residual_px
        (n,) distance of each mark's image point from where the camera puts the mark.
    chi_squared, n_spare
        Weighted sum of squares, and the number of observations beyond the unknowns.
    """

    focal_px: float
    pitch_deg: float
    roll_deg: float
    height_m: float
    heading_deg: float
    position_m: tuple[float, float]
    covariance: FloatArray
    pose_covariance: FloatArray
    focal_is_from_marks: bool
    names: tuple[str, ...]
    residual_px: FloatArray
    chi_squared: float
    n_spare: int

    def uncertainty(self, name: str) -> float:
        """Give the standard uncertainty of one of `CAMERA_PARAMETERS`, in its unit."""
        row = CAMERA_PARAMETERS.index(name)
        return float(np.sqrt(self.covariance[row, row]))


def places_m(marks: Sequence[Mark]) -> FloatArray:
    """(n, 3) places of the marks on the field."""
    return np.array([mark.field_m for mark in marks], dtype=float)


def points_px(marks: Sequence[Mark]) -> FloatArray:
    """(n, 2) image points of the marks."""
    return np.array([mark.image_px for mark in marks], dtype=float)

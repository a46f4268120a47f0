"""A phone on a stand: pinhole camera with a known place in the field frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Pinhole camera without lens distortion.

    Attributes
    ----------
    size_px : (width, height)
    fov_long_side_deg : float
        Angle of view over the longer side of the picture.
    position_m : array (3,)
        Optical centre, field frame.
    rotation : array (3, 3)
        Camera from field: x right, y down, z forward.
    """

    size_px: tuple[int, int]
    fov_long_side_deg: float
    position_m: Floats
    rotation: Floats

    @property
    def matrix(self) -> Floats:
        """The camera matrix in px; the principal point is the middle of the picture."""
        width, height = self.size_px
        focal_px = max(width, height) / 2 / np.tan(np.deg2rad(self.fov_long_side_deg) / 2)
        return np.array([[focal_px, 0, width / 2], [0, focal_px, height / 2], [0, 0, 1.0]])

    def project(self, points_m: Floats) -> tuple[Floats, Floats]:
        """Return px (..., 2) and depth in metres (...) of field points (..., 3)."""
        at = (points_m - self.position_m) @ self.rotation.T
        depth = at[..., 2]
        matrix = self.matrix
        safe = np.where(depth > 0.05, depth, 0.05)
        return (
            np.stack(
                [
                    matrix[0, 0] * at[..., 0] / safe + matrix[0, 2],
                    matrix[1, 1] * at[..., 1] / safe + matrix[1, 2],
                ],
                axis=-1,
            ),
            depth,
        )


def look(
    *,
    size_px: tuple[int, int],
    fov_long_side_deg: float,
    position_m: tuple[float, float, float],
    target_m: tuple[float, float, float],
    roll_deg: float = 0.0,
) -> Camera:
    """Return a camera at a position that looks at a target, turned by a small roll.

    Parameters
    ----------
    size_px : (width, height)
    fov_long_side_deg : float
    position_m, target_m : (x, y, z) in the field frame
    roll_deg : float
        Positive turns the picture's content counter-clockwise.
    """
    position, target = np.asarray(position_m), np.asarray(target_m)
    ahead = (target - position) / np.linalg.norm(target - position)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    below = np.cross(ahead, right)
    c, s = np.cos(np.deg2rad(roll_deg)), np.sin(np.deg2rad(roll_deg))
    rotation = np.stack([c * right + s * below, -s * right + c * below, ahead])
    return Camera(
        size_px=size_px,
        fov_long_side_deg=fov_long_side_deg,
        position_m=position.astype(float),
        rotation=rotation,
    )

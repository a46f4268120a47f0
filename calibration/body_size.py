"""Where a body of known size stands before the camera, from its image and its shape."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import FloatArray


def toward_viewing_ray(offset_m: FloatArray, slope: FloatArray) -> FloatArray:
    """Turn a body's offsets from the axes of its own picture cut-out into the axes of the camera.

    A pose model sees a cut-out around the person and takes its middle for straight ahead. For a
    person off the optical axis the two frames differ by the turn that carries the axis to the ray.

    Parameters
    ----------
    offset_m
        ``S + (n_joints, 3)`` offsets with z along the person's viewing ray.
    slope
        ``S + (2,)`` ray to the middle of the body, x/z and y/z.

    Returns
    -------
    numpy.ndarray
        ``S + (n_joints, 3)`` in camera axes.
    """
    length = np.sqrt(slope[..., 0] ** 2 + slope[..., 1] ** 2 + 1.0)
    a, b, c = slope[..., 0] / length, slope[..., 1] / length, 1.0 / length
    # Shortest turn from (0, 0, 1) to the ray (a, b, c), by Rodrigues' formula about (-b, a, 0).
    a, b, c = a[..., None], b[..., None], c[..., None]
    x, y, z = (offset_m[..., axis] for axis in range(3))
    along = a * x + b * y
    across = z - along / (1.0 + c)
    # Each coordinate by itself in memory, as the arithmetic that follows takes them.
    return np.moveaxis(np.stack([x + a * across, y + b * across, c * z - along]), 0, -1)


def root_from_size(slope: FloatArray, offset_m: FloatArray, weight: FloatArray) -> FloatArray:
    """Place a body so that its joints fall on their rays as well as they can (least squares).

    With the offsets of the joints from the root known in camera axes, each joint gives two
    equations ``(T + o)_xy = slope (T + o)_z`` that are linear in the root's place ``T``.

    Parameters
    ----------
    slope
        ``S + (n_joints, 2)`` rays of the joints, x/z and y/z.
    offset_m
        ``S + (n_joints, 3)`` offsets from the root, camera axes.
    weight
        ``(n_joints,)`` or ``S + (n_joints,)``.

    Returns
    -------
    numpy.ndarray
        ``S + (3,)`` root in camera axes, m.
    """
    u, v = slope[..., 0], slope[..., 1]
    right_u = u * offset_m[..., 2] - offset_m[..., 0]
    right_v = v * offset_m[..., 2] - offset_m[..., 1]
    w = np.broadcast_to(weight, u.shape)
    total = w.sum(-1)
    s_u, s_v = (w * u).sum(-1), (w * v).sum(-1)
    s_2 = (w * (u * u + v * v)).sum(-1)
    b_x, b_y = (w * right_u).sum(-1), (w * right_v).sum(-1)
    b_z = -(w * (u * right_u + v * right_v)).sum(-1)
    # Normal equations [[W, 0, -Su], [0, W, -Sv], [-Su, -Sv, S2]] T = b, solved by elimination.
    depth = (b_z + (s_u * b_x + s_v * b_y) / total) / (s_2 - (s_u**2 + s_v**2) / total)
    return np.stack([(b_x + s_u * depth) / total, (b_y + s_v * depth) / total, depth], axis=-1)

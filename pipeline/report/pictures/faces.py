"""Hides faces in a picture before it leaves the program: most players on film are minors."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from pipeline.core.types import JOINTS, FloatArray
from pipeline.report.pictures.drawing import BONES, point, shrunk

_HEAD = [JOINTS.index(name) for name in ("nose", "left_eye", "right_eye", "left_ear", "right_ear")]
_SHOULDERS = [JOINTS.index(name) for name in ("left_shoulder", "right_shoulder")]
_HANDS = [JOINTS.index(name) for name in ("left_hand", "right_hand")]
_LEG_PARTS = ("knee", "ankle", "heel", "toe")
_HIPS = [JOINTS.index(name) for name in ("left_hip", "right_hip")]

HEAD_RADIUS_OF_BODY = 0.085
"""Radius of a circle over the head as a share of the body's extent: half a head height of 0.13
of stature (Drillis & Contini, 1966), with a margin for errors of the joints."""

SURROUND_OF_BODY = 0.30
"""Sharp margin around a tracked person as a share of the body's extent: room for the stick."""

SURROUND_WHEN_ONE_IS_LOST = 0.06
"""The same margin while the position of another tracked person is unknown."""

ARM_OF_BODY, LEG_OF_BODY, STICK_OF_BODY = 0.07, 0.11, 0.55
"""Sharp margins with the outline "limbs", as shares of the body's extent: beside arms, trunk and
stick, beside legs, and beyond each hand along the shaft (a stick is 1.0 to 1.1 m long)."""

BLOCKS_PER_HEAD = 3.0
"""Blocks across a head: too few to recognise anybody."""


def hide_faces_of_all(
    picture: npt.NDArray[np.uint8],
    joints_px: FloatArray,
    *,
    more_heads_px: FloatArray | None = None,
    block_px: float | None = None,
    outline: Literal["hull", "limbs"] = "hull",
) -> npt.NDArray[np.uint8]:
    """Pixelate the heads of tracked people and everything that is not near to one of them.

    The surroundings may show people who are not tracked and whose faces are at unknown places.

    Parameters
    ----------
    picture
        (height, width, 3) picture.
    joints_px
        (n_people, 23, 2) joints in its pixels; NaN where unknown.
    more_heads_px
        (n, 3) x, y and radius of circles that may hold further heads; NaN for none.
    block_px
        Side of the blocks; None = by the smallest head.
    outline
        Part of a person that stays sharp: the hull of the joints with a margin, or only limbs
        and stick, where untracked people may be near.

    Returns
    -------
    (height, width, 3) array
        A copy. With no person known the whole picture is pixelated.
    """
    import cv2

    height, width = picture.shape[:2]
    sharp = np.zeros((height, width), np.uint8)
    heads = np.zeros((height, width), np.uint8)
    smallest_radius = float(min(height, width)) / 8.0
    n_known_joints = np.isfinite(joints_px).all(axis=2).sum(axis=1)
    one_is_lost = bool((n_known_joints == 0).any())
    surround = SURROUND_WHEN_ONE_IS_LOST if one_is_lost else SURROUND_OF_BODY
    found: list[tuple[FloatArray, FloatArray, float]] = []
    for person in joints_px:
        known = person[np.isfinite(person).all(axis=1)]
        if len(known) == 0:
            continue
        extent = _extent_px(known)
        hull = cv2.convexHull(known.astype(np.float32)).round().astype(np.int32)
        around = max(8, round(2.0 * surround * extent))
        if outline == "hull":
            cv2.fillConvexPoly(sharp, hull, 255)
            cv2.polylines(sharp, [hull], isClosed=True, color=255, thickness=around)
        else:
            _draw_limbs(sharp, person, extent)
        radius = max(6.0, _head_radius_px(person, extent))
        smallest_radius = min(smallest_radius, radius)
        centre = _head_centre_px(person)
        if centre is None:
            # The head of such a body may be anywhere: nothing of the body stays sharp.
            cv2.polylines(heads, [hull], isClosed=True, color=255, thickness=around)
            cv2.fillConvexPoly(heads, hull, 255)
            continue
        x, y = (round(float(value)) for value in centre)
        axes = (round(radius), round(1.2 * radius))
        cv2.ellipse(heads, (x, y), axes, 0.0, 0.0, 360.0, 255, -1)
        found.append((person, centre, radius))
    _hide_shoulders_where_heads_meet(heads, found)
    for circle in () if more_heads_px is None else more_heads_px[np.isfinite(more_heads_px[:, 2])]:
        x, y, radius = (round(float(value)) for value in circle)
        cv2.circle(heads, (x, y), radius, 255, -1)
    sharp[heads > 0] = 0
    block = max(4.0, 2.0 * smallest_radius / BLOCKS_PER_HEAD if block_px is None else block_px)
    coarse_size = (max(1, round(width / block)), max(1, round(height / block)))
    coarse = shrunk(picture, coarse_size)
    # Soft surroundings draw less attention than blocks; faces get hard blocks.
    hidden = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)
    blocks = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_NEAREST)
    cv2.copyTo(blocks, heads, hidden)
    cv2.copyTo(picture, sharp, hidden)
    return np.asarray(hidden, np.uint8)


def _hide_shoulders_where_heads_meet(
    heads: npt.NDArray[np.uint8], found: list[tuple[FloatArray, FloatArray, float]]
) -> None:
    """Hide two people from the shoulders up where their detected heads overlap.

    The pose model may place both heads of two close bodies on one of them. The shoulders and ears
    still lie near the other face.

    Parameters
    ----------
    heads
        (height, width) mask, drawn on in place.
    found
        Joints, centre and radius of the head of each person, px.
    """
    import cv2

    for number, (person, centre, radius) in enumerate(found):
        for other, other_centre, other_radius in found[:number]:
            reach = radius + other_radius
            if np.linalg.norm(centre - other_centre) > reach:
                continue
            upper = np.concatenate([person[_HEAD + _SHOULDERS], other[_HEAD + _SHOULDERS]])
            upper = upper[np.isfinite(upper).all(axis=1)]
            hull = cv2.convexHull(upper.astype(np.float32)).round().astype(np.int32)
            cv2.fillConvexPoly(heads, hull, 255)
            cv2.polylines(
                heads, [hull], isClosed=True, color=255, thickness=max(8, round(1.4 * reach))
            )


def _draw_limbs(sharp: npt.NDArray[np.uint8], person: FloatArray, extent: float) -> None:
    """Draw limbs, trunk and stick of a person on a mask, in place."""
    import cv2

    points = [point(joint) if np.isfinite(joint).all() else None for joint in person]
    for first, second in BONES:
        start, stop = points[first], points[second]
        if start is not None and stop is not None:
            part = JOINTS[second].rpartition("_")[2]
            wide = LEG_OF_BODY if part in _LEG_PARTS else ARM_OF_BODY
            cv2.line(sharp, start, stop, 255, max(6, round(2.0 * wide * extent)))
    trunk = [points[i] for i in (*_SHOULDERS, *_HIPS[::-1])]
    if all(corner is not None for corner in trunk):
        cv2.fillConvexPoly(sharp, cv2.convexHull(np.array(trunk, np.int32)), 255)
    left, right = person[_HANDS]
    along = left - right
    apart = float(np.linalg.norm(along))
    if np.isfinite(apart) and apart > 0.02 * extent:
        # The head of the stick is beyond the upper hand, which may be either.
        reach = STICK_OF_BODY * extent * along / apart
        thick = max(6, round(2.0 * ARM_OF_BODY * extent))
        cv2.line(sharp, point(right - reach), point(left + reach), 255, thick)


def _extent_px(known: FloatArray) -> float:
    """Return the diagonal of the bounding box of the known joints, px."""
    size = known.max(axis=0) - known.min(axis=0)
    return float(np.hypot(size[0], size[1]))


def _head_radius_px(person: FloatArray, extent: float) -> float:
    """Return a radius that covers the head, from its known joints and the shoulders, px."""
    head = person[_HEAD]
    head = head[np.isfinite(head).all(axis=1)]
    across = _extent_px(head) if len(head) > 1 else 0.0
    shoulders = person[_SHOULDERS]
    to_shoulders = 0.0
    if len(head) and np.isfinite(shoulders).all():
        to_shoulders = float(np.linalg.norm(head.mean(axis=0) - shoulders.mean(axis=0)))
    return max(HEAD_RADIUS_OF_BODY * extent, across, 0.6 * to_shoulders)


def _head_centre_px(person: FloatArray) -> FloatArray | None:
    """Return the centre of the head; without head joints, the point above the trunk."""
    head = person[_HEAD]
    head = head[np.isfinite(head).all(axis=1)]
    if len(head):
        return np.asarray(head.mean(axis=0))
    shoulders, hips = person[_SHOULDERS].mean(axis=0), person[_HIPS].mean(axis=0)
    if np.isfinite(shoulders).all() and np.isfinite(hips).all():
        # Trunk 0.29 of stature, centre of the head 0.12 above the shoulders: 0.4 trunks.
        return np.asarray(shoulders + 0.4 * (shoulders - hips))
    return None

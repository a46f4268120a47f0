"""Skeletons on pictures: bones as lines, and joints as dots where they are wanted."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import JOINTS, FloatArray
from pipeline.film.container import Picture
from pipeline.report.pictures.drawing import DARK, Colour, Pixel

BONES = tuple(
    (JOINTS.index(a), JOINTS.index(b))
    for a, b in (
        ("left_shoulder", "right_shoulder"), ("left_hip", "right_hip"),
        ("left_shoulder", "left_hip"), ("right_shoulder", "right_hip"),
        ("left_shoulder", "left_elbow"), ("left_elbow", "left_wrist"), ("left_wrist", "left_hand"),
        ("right_shoulder", "right_elbow"), ("right_elbow", "right_wrist"),
        ("right_wrist", "right_hand"), ("left_hip", "left_knee"), ("left_knee", "left_ankle"),
        ("right_hip", "right_knee"), ("right_knee", "right_ankle"), ("left_ankle", "left_heel"),
        ("left_heel", "left_toe"), ("right_ankle", "right_heel"), ("right_heel", "right_toe"),
    )
)  # fmt: skip
"""Pairs of joints that a line is drawn between."""

_ATHLETE: Colour = (255, 255, 255)
_OTHER: Colour = (170, 190, 205)
_DOT: Colour = (255, 196, 61)
_FIRST_OF_BODY = JOINTS.index("left_shoulder")


def draw_skeletons(picture: Picture, joints_px: FloatArray, *, dots: bool = False) -> None:
    """Draw the bones of each person on a picture, in place, the athlete on top.

    Parameters
    ----------
    picture
        (height, width, 3).
    joints_px
        (n_people, 23, 2) joints in its pixels, the athlete first; NaN where unknown.
    dots
        Whether to put a dot on each joint of the body; never on the head.
    """
    thin = line_width(picture)
    for i_person in reversed(range(len(joints_px))):
        _draw_skeleton(picture, joints_px[i_person], _OTHER if i_person else _ATHLETE, thin)
    if dots:
        for joints in joints_px[::-1]:
            _draw_dots(picture, joints, thin)


def line_width(picture: Picture) -> int:
    """Width of a thin line that is still seen across a phone, px."""
    return max(2, round(int(picture.shape[1]) / 400))


def point(xy: FloatArray) -> Pixel:
    """Round a point for drawing."""
    # Far outside is as good as just outside, and does not overflow the drawing's integers.
    x, y = np.clip(xy, -10_000, 10_000)
    return round(float(x)), round(float(y))


def _draw_skeleton(picture: Picture, joints: FloatArray, colour: Colour, thin: int) -> None:
    import cv2

    points = [point(joint) if np.isfinite(joint).all() else None for joint in joints]
    for width, ink in ((thin + 2, DARK), (thin, colour)):
        for i_first, i_second in BONES:
            first, second = points[i_first], points[i_second]
            if first is not None and second is not None:
                cv2.line(picture, first, second, ink, width, cv2.LINE_AA)


def _draw_dots(picture: Picture, joints: FloatArray, thin: int) -> None:
    import cv2

    for joint in joints[_FIRST_OF_BODY:]:
        if np.isfinite(joint).all():
            # Placed to an eighth of a pixel, for dots show how exact the joints are.
            x, y = (round(8 * float(value)) for value in np.clip(joint, -4000, 4000))
            for radius, ink in ((thin + 2, DARK), (thin + 1, _DOT)):
                cv2.circle(picture, (x, y), 8 * radius, ink, -1, cv2.LINE_AA, 3)

"""What a pose shows of a body: place, size, jersey colour, and whether it can be one at all."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import LANDMARKS, FloatArray
from pipeline.film.container import Picture
from pipeline.people.pose_model import Pose


def _rows(*names: str) -> list[int]:
    return [LANDMARKS.index(name) for name in names]


NOSE = LANDMARKS.index("nose")
SHOULDERS = _rows("left_shoulder", "right_shoulder")
HIPS = _rows("left_hip", "right_hip")
KNEES = _rows("left_knee", "right_knee")
ANKLES = _rows("left_ankle", "right_ankle")
WRISTS = _rows("left_wrist", "right_wrist")
TRUNK = [*SHOULDERS, *HIPS]
FRAME_OF_BODY = [NOSE, *TRUNK, *KNEES]
LIMBS = [*SHOULDERS, *_rows("left_elbow", "right_elbow"), *WRISTS, *HIPS, *KNEES, *ANKLES]
JOINTS_SEEN = [NOSE, *TRUNK, *_rows("left_elbow", "right_elbow"), *WRISTS, *KNEES, *ANKLES]

SMALLEST_BODY_PX = 24.0


def centre_px(pose: Pose) -> FloatArray:
    """(2,) middle of the trunk in the image frame."""
    return np.asarray(pose.image_px[TRUNK].mean(axis=0), np.float64)


def length_px(pose: Pose) -> float:
    """Length of the body in the picture: head, trunk, thigh and shank added up.

    About the stature of someone upright, and much the same in a crouch seen from the side.
    """
    shoulders, hips = pose.image_px[SHOULDERS].mean(axis=0), pose.image_px[HIPS].mean(axis=0)
    thighs = np.linalg.norm(pose.image_px[KNEES] - pose.image_px[HIPS], axis=1)
    shanks = np.linalg.norm(pose.image_px[ANKLES] - pose.image_px[KNEES], axis=1)
    head = 1.3 * np.linalg.norm(pose.image_px[NOSE] - shoulders)  # the crown lies above the nose
    trunk = np.linalg.norm(shoulders - hips)
    return float(head + trunk + np.max(thighs + shanks))


def could_be_a_body(pose: Pose, width_px: int, height_px: int) -> bool:
    """Tell whether a pose can be a player's: head over hips over feet, sizes in proportion.

    The model has been seen to put a small skeleton upside down on a trunk, with high confidence.

    Parameters
    ----------
    pose
        A pose from the model.
    width_px, height_px
        Size of the whole picture.
    """
    if not np.all(np.isfinite(pose.image_px)):
        return False
    length = length_px(pose)
    if length < SMALLEST_BODY_PX or float(pose.visibility[TRUNK].mean()) < 0.3:
        return False
    middle = centre_px(pose)
    if not (0 <= middle[0] < width_px and 0 <= middle[1] < height_px):
        return False
    nose_y, shoulders_y, hips_y, ankles_y = (
        float(pose.image_px[rows, 1].mean()) for rows in ([NOSE], SHOULDERS, HIPS, ANKLES)
    )
    upright = nose_y < hips_y - 0.03 * length and shoulders_y < hips_y + 0.03 * length
    on_feet = hips_y < ankles_y - 0.08 * length
    trunk = float(
        np.linalg.norm(pose.image_px[SHOULDERS].mean(axis=0) - pose.image_px[HIPS].mean(axis=0))
    )
    return upright and on_feet and 0.08 < trunk / length < 0.55


def distance(a_px: FloatArray, b_px: FloatArray, length: float) -> float:
    """Mean distance of head, trunk and knees between two poses, in body lengths."""
    apart = np.linalg.norm(a_px[FRAME_OF_BODY] - b_px[FRAME_OF_BODY], axis=1)
    return float(apart.mean()) / max(length, 1.0)


def posture(pose: Pose) -> FloatArray:
    """(12, 2) joints relative to the middle of the trunk, in body lengths."""
    return np.asarray((pose.image_px[LIMBS] - centre_px(pose)) / max(length_px(pose), 1.0))


def same_body(a: Pose, b: Pose) -> bool:
    """Tell whether two poses lie on one body."""
    return distance(a.image_px, b.image_px, max(length_px(a), length_px(b))) < 0.1


def jersey_colour(rgb: Picture, pose: Pose) -> FloatArray:
    """(3,) median colour of the trunk: brightness, red-green, yellow-blue, each 0 to some 150.

    Brightness is on a logarithmic scale and hues are relative to it, so that shade or a dark film
    changes a colour little.

    Read off a grid of points inside the quadrilateral of shoulders and hips, away from its edges.
    """
    left_shoulder, right_shoulder, left_hip, right_hip = pose.image_px[TRUNK]
    across, down = np.meshgrid(np.linspace(0.2, 0.8, 5), np.linspace(0.15, 0.75, 7))
    across, down = across[..., None], down[..., None]
    points = (1 - down) * ((1 - across) * left_shoulder + across * right_shoulder) + down * (
        (1 - across) * left_hip + across * right_hip
    )
    height, width = rgb.shape[:2]
    columns = np.clip(np.round(points[..., 0]).astype(int), 0, width - 1)
    rows = np.clip(np.round(points[..., 1]).astype(int), 0, height - 1)
    red, green, blue = np.median(rgb[rows, columns].reshape(-1, 3), axis=0)
    grey = (red + green + blue) / 3
    hues = 100.0 * np.array([red - green, (red + green) / 2 - blue]) / (grey + 20.0)
    return np.array([60.0 * np.log1p(grey / 10.0), *hues])


def colour_distance(a: FloatArray, b: FloatArray) -> float:
    """Distance of two jersey colours, 0 to some 300; brightness, changed by shade, counts half."""
    return float(np.linalg.norm((a - b) * (0.5, 1.0, 1.0)))


def covers(a: Pose, b: Pose) -> bool:
    """Tell whether two bodies touch or cover each other in the picture, by a small margin."""
    import cv2

    a_px = np.asarray(a.image_px[JOINTS_SEEN], np.float32)
    b_px = np.asarray(b.image_px[JOINTS_SEEN], np.float32)
    margin = 0.06 * max(length_px(a), length_px(b))
    if np.any(a_px.max(axis=0) + margin < b_px.min(axis=0)) or np.any(
        b_px.max(axis=0) + margin < a_px.min(axis=0)
    ):
        return False
    for points, other in ((a_px, b_px), (b_px, a_px)):
        hull = cv2.convexHull(other)
        for x, y in points.tolist():
            if cv2.pointPolygonTest(hull, (x, y), measureDist=True) > -margin:
                return True
    return False

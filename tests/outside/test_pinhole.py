"""The camera against OpenCV, against a published calibration, and against hand work."""

import cv2
import numpy as np
import pytest

from calibration.camera import ground_point_m, project_px

# Zhang 2000 (TR-98-71): intrinsics, pose of view 1 (inches), and four corners measured in it.
ZHANG_MATRIX = np.array([[832.5, 0.204494, 303.959], [0, 832.53, 206.585], [0, 0, 1.0]])
ZHANG_DISTORTION = np.array([-0.228601, 0.190353, 0.0, 0.0])
ZHANG_ROTATION = np.array(
    [
        [0.992759, -0.026319, 0.117201],
        [0.0139247, 0.994339, 0.105341],
        [-0.11931, -0.102947, 0.987505],
    ]
)
ZHANG_TRANSLATION_IN = np.array([-3.84019, 3.65164, 12.791])
ZHANG_MODEL_IN = np.array([[0, -0.5, 0], [0.5, -0.5, 0], [0.5, 0, 0], [0, 0, 0]])
ZHANG_IMAGE_PX = np.array(
    [[63.4392, 405.5768], [92.4627, 407.4557], [91.8064, 438.6577], [62.5872, 436.2884]]
)

CENTRE_PX = np.array([640.0, 360.0])


def camera(pitch_deg, roll_deg, height_m=1.5, focal_px=1000.0):
    return {
        "focal_px": np.float64(focal_px),
        "principal_px": CENTRE_PX,
        "pitch_deg": np.float64(pitch_deg),
        "roll_deg": np.float64(roll_deg),
        "height_m": np.float64(height_m),
    }


def opencv_px(points_field_m, *, focal_px, principal_px, pitch_deg, roll_deg, height_m):
    """The same camera put together from OpenCV's own pieces."""
    level = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])  # x right, z down, y forward
    tilt, _ = cv2.Rodrigues(np.radians([pitch_deg, 0.0, 0.0]))
    turn, _ = cv2.Rodrigues(np.radians([0.0, 0.0, -roll_deg]))
    rotation = turn @ tilt @ level
    translation = -rotation @ np.array([0, 0, height_m])
    matrix = np.array([[focal_px, 0, principal_px[0]], [0, focal_px, principal_px[1]], [0, 0, 1.0]])
    vector, _ = cv2.Rodrigues(rotation)
    image, _ = cv2.projectPoints(
        np.asarray(points_field_m, float), vector, translation, matrix, np.zeros(4)
    )
    return image[:, 0]


def test_opencv_projects_the_published_view_onto_the_published_corners():
    # Guards the oracle itself: a change of convention in the library would show here first.
    vector, _ = cv2.Rodrigues(ZHANG_ROTATION)
    image, _ = cv2.projectPoints(
        ZHANG_MODEL_IN, vector, ZHANG_TRANSLATION_IN, ZHANG_MATRIX, ZHANG_DISTORTION
    )
    assert np.sqrt(np.mean(np.sum((image[:, 0] - ZHANG_IMAGE_PX) ** 2, axis=1))) < 0.5


def test_opencv_agrees_with_the_textbook_formula_worked_by_hand():
    # u = f X/Z + cx: (2, -1, 10) m with f 1500 px.
    matrix = np.array([[1500.0, 0, 640], [0, 1500, 360], [0, 0, 1]])
    point = np.array([[2.0, -1.0, 10.0]])
    image, _ = cv2.projectPoints(point, np.zeros(3), np.zeros(3), matrix, np.zeros(4))
    assert image[0, 0] == pytest.approx([940.0, 210.0])


@pytest.mark.parametrize(
    ("pitch_deg", "roll_deg"), [(0, 0), (5, 0), (12, 0), (0, 3), (4, -2), (7, 1)]
)
def test_projection_agrees_with_opencv(pitch_deg, roll_deg):
    points = np.array([[0, 8, 0], [2, 8, 1.7], [-1.5, 6, 0.9], [3, 12, 2.4]], float)
    pose = camera(pitch_deg, roll_deg)
    ours = project_px(points, **pose)
    assert np.allclose(ours, opencv_px(points, **pose), atol=1e-6)


@pytest.mark.parametrize(("pitch_deg", "roll_deg"), [(3, 0), (8, 2), (5, -1)])
def test_ground_point_undoes_opencv_projection(pitch_deg, roll_deg):
    points = np.array([[0, 8, 0], [2, 7, 0], [-1.5, 11, 0]], float)
    pose = camera(pitch_deg, roll_deg)
    assert np.allclose(ground_point_m(opencv_px(points, **pose), **pose), points, atol=1e-6)


@pytest.mark.parametrize(("distance_m", "goal_px"), [(10.0, 274.3), (20.0, 137.2)])
def test_width_of_a_goal_by_similar_triangles(distance_m, goal_px):
    # A goal is 6 ft = 1.8288 m wide; f = 1500 px.
    posts = np.array([[-0.9144, distance_m, 1.5], [0.9144, distance_m, 1.5]])
    left, right = project_px(posts, **camera(0, 0, focal_px=1500.0))
    assert right[0] - left[0] == pytest.approx(goal_px, abs=0.05)


def test_height_above_the_ground_from_the_horizon():
    # Level camera at 1.5 m, horizon at row 540, feet at row 900, crown at row 470:
    # H = hc (yb - yt) / (yb - y0) = 1.5 * 430 / 360 = 1.7917 m (Hoiem et al. 2008).
    focal_px, centre = 1200.0, np.array([960.0, 540.0])
    pose = camera(0, 0, focal_px=focal_px) | {"principal_px": centre}
    foot = ground_point_m(np.array([960.0, 900.0]), **pose)
    assert foot[1] == pytest.approx(1.5 * focal_px / 360.0)
    crown = foot + np.array([0, 0, 1.5 * 430.0 / 360.0])
    assert project_px(crown, **pose)[1] == pytest.approx(470.0)


def test_nothing_is_on_the_ground_above_the_horizon():
    assert np.isnan(ground_point_m(np.array([640.0, 300.0]), **camera(0, 0))).all()

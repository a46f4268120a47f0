"""The pose model on a picture of a real person that others use too: skimage's astronaut."""

import numpy as np
import pytest

from pipeline.core.types import LANDMARKS
from pipeline.people.pose_model import PoseModel, Window


@pytest.fixture(scope="module")
def pose(astronaut):
    finder = PoseModel().finder()
    window = Window(0, 0, astronaut.shape[0])
    try:
        poses = finder.find(window.cut(astronaut), window)
    finally:
        finder.close()
    assert len(poses) == 1
    return poses[0]


def place(pose, name):
    return pose.image_px[LANDMARKS.index(name)]


@pytest.mark.slow
def test_head_and_shoulders_are_where_they_are_in_the_picture(pose):
    # She faces the camera: her left is on the right of the picture. Places read off the picture.
    for name, x_px, y_px, tolerance_px in (
        ("left_eye", 247, 103, 12),
        ("right_eye", 202, 101, 12),
        ("nose", 224, 120, 12),
        ("left_shoulder", 325, 255, 45),  # under a thick suit
        ("right_shoulder", 105, 255, 45),
    ):
        assert np.hypot(*(place(pose, name) - (x_px, y_px))) < tolerance_px, name
    assert place(pose, "right_eye")[0] < place(pose, "nose")[0] < place(pose, "left_eye")[0]
    assert place(pose, "nose")[1] > place(pose, "left_eye")[1]


@pytest.mark.slow
def test_legs_that_are_not_in_the_picture_are_not_visible(pose):
    legs = [i for i, name in enumerate(LANDMARKS) if name.split("_")[1:] in (["knee"], ["ankle"])]
    head = [LANDMARKS.index("nose"), LANDMARKS.index("left_eye"), LANDMARKS.index("right_eye")]
    assert len(legs) == 4
    assert pose.visibility[legs].max() < 0.5 < pose.visibility[head].min()

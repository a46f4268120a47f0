"""What the page shows of marks: the camera they give, or which of them is wrong."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.web.field.solve import view_of_marks
from tests.fixtures.walker import SIZE_PX


def view(marks, fov_deg=None):
    return view_of_marks(marks, size_px=SIZE_PX, fov_deg=fov_deg, lens=None)


def test_marks_that_fit_show_the_camera_and_each_ones_residual(marks):
    shown = view(marks)
    assert shown["state"] == "solved"
    assert shown["words"].startswith("The camera stands 1.40 m above the ground")
    assert set(shown["residual_px"]) == {mark.name for mark in marks}
    assert max(shown["residual_px"].values()) < 0.1
    for mark in marks:
        assert shown["seen_px"][mark.name] == pytest.approx(mark.image_px, abs=0.2)


def test_the_ground_that_is_shown_goes_through_the_marks_on_it(marks):
    shown = view(marks)
    assert shown["grid_m"] == 1.0
    cone = next(mark for mark in marks if mark.name == "cone_3")  # whole metres up to a half
    points = np.array([point for line in shown["grid"] for point in line])
    assert np.linalg.norm(points - cone.image_px, axis=1).min() < 8
    assert np.abs(points - 0.5 * np.array(SIZE_PX)).max() <= 0.6 * max(SIZE_PX)


@pytest.mark.slow
def test_a_wrong_mark_is_named(marks):
    marks = [*marks[:3], *marks[4:7]]
    x_px, y_px = marks[0].image_px
    shown = view([replace(marks[0], image_px=(x_px + 60, y_px)), *marks[1:]], fov_deg=65.0)
    assert shown["state"] == "wrong"
    assert shown["wrong"] == [marks[0].name]
    assert f"'{marks[0].name}' does not fit" in shown["words"]


@pytest.mark.slow
def test_exchanged_marks_are_named(marks):
    one, other = marks[4], marks[5]
    exchanged = [
        *marks[:3],
        replace(one, image_px=other.image_px),
        replace(other, image_px=one.image_px),
        marks[6],
    ]
    shown = view(exchanged, fov_deg=65.0)
    assert shown["wrong"] == [one.name, other.name]
    assert "exchanged" in shown["words"]


@pytest.mark.parametrize(("n", "words"), [(0, "4 more marks"), (3, "one more mark")])
def test_too_few_marks_say_how_many_more(marks, n, words):
    shown = view(marks[:n])
    assert shown["state"] == "few"
    assert words in shown["words"]


def test_a_mark_outside_the_picture_is_told(marks):
    shown = view([replace(marks[0], image_px=(SIZE_PX[0] + 20.0, 5.0)), *marks[1:]])
    assert shown["state"] == "wrong"
    assert "outside the picture" in shown["words"]

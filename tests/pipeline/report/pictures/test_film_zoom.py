"""Views: points lie where their pixels do, and the athlete stays in view."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.report.pictures.film_zoom import View, following_views, whole_view
from tests.fixtures.filmed import figure_px


@pytest.mark.parametrize(
    "view",
    [
        whole_view((640, 360), (640, 360)),
        whole_view((640, 360), (320, 180)),
        View(corner_px=np.array([210.5, 95.25]), scale=2.0, size_px=(300, 200)),
        View(corner_px=np.array([-40.0, 60.0]), scale=0.8, size_px=(300, 200)),
    ],
)
def test_a_point_lies_where_its_pixels_do(view):
    picture = np.zeros((360, 640, 3), np.uint8)
    picture[138:143, 258:263] = 255
    shown = view.cut(picture)
    assert shown.shape == (view.size_px[1], view.size_px[0], 3)
    rows, columns = np.nonzero(shown[..., 0] > 128)
    assert view.points(np.array([260.0, 140.0])) == pytest.approx(
        [columns.mean(), rows.mean()], abs=0.8
    )
    assert view.circles(np.array([260.0, 140.0, 10.0]))[2] == pytest.approx(10 * view.scale)


def test_the_athlete_stays_in_a_view_of_one_scale_and_it_moves_calmly():
    rng = np.random.default_rng(5)
    time_s = np.arange(120) / 30
    joints = np.array([figure_px(100 + 8.0 * i, 500.0, 180.0) for i in range(120)])
    joints += rng.normal(0, 2.0, joints.shape)
    joints[50:60] = np.nan
    views = following_views(joints, time_s, 30, 90, picture_px=(1280, 720), size_px=(540, 720))
    assert len({view.scale for view in views}) == 1
    corners = np.array([view.corner_px for view in views])
    assert np.linalg.norm(np.diff(corners, axis=0), axis=1).max() < 16
    for frame, view in zip(range(30, 90), views, strict=True):
        shown = view.points(joints[frame])
        known = shown[np.isfinite(shown).all(axis=1)]
        assert ((known > 0) & (known < view.size_px)).all()


def test_where_nobody_was_seen_the_whole_picture_is_shown():
    nobody = np.full((30, len(JOINTS), 2), np.nan)
    views = following_views(
        nobody, np.arange(30) / 30, 0, 30, picture_px=(1280, 720), size_px=(540, 720)
    )
    corners = views[0].points(np.array([[0.0, 0.0], [1280.0, 720.0]]))
    assert corners.min() >= 0
    assert corners[:, 0].max() == pytest.approx(540)

"""A known lens comes back out of its pictures; poor sets are refused, each for its reason."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from calibration.board_views import BoardFinder
from calibration.lens import coverage, measure_lens
from calibration.lens_checks import MOST_VIEWS
from pipeline.core.errors import CalibrationError
from tests.fixtures.board_film import (
    SIZE_PX,
    TRUE_DISTORTION,
    TRUE_FOCAL_PX,
    TRUE_PRINCIPAL_PX,
    board_picture_of,
    good_poses,
    good_views,
)


def measured(views, **changes):
    given = {
        "size_px": SIZE_PX, "rotation_deg": 90, "name": "drawn", "square_mm": 25.0,
        "made_on": date(2026, 3, 1),
    }  # fmt: skip
    return measure_lens(views, **(given | changes))


def views_of(poses):
    finder = BoardFinder()
    found = (finder.find(board_picture_of(pose, seed=i), i) for i, pose in enumerate(poses))
    return [view for view in found if view is not None]


@pytest.fixture(scope="module")
def result():
    return measured(good_views())


@pytest.mark.slow
def test_focal_length_and_principal_point_come_back(result):
    lens = result.profile
    assert lens.focal_px == pytest.approx(TRUE_FOCAL_PX, rel=0.005)
    assert lens.principal_px == pytest.approx(np.array(TRUE_PRINCIPAL_PX) + 0.5, abs=3.0)
    assert (lens.width_px, lens.height_px, lens.rotation_deg) == (*SIZE_PX, 90)
    assert (lens.name, lens.made_on) == ("drawn", date(2026, 3, 1))


def test_the_distortion_comes_back(result):
    true, found = np.array(TRUE_DISTORTION), np.array(result.profile.distortion)
    assert np.abs(found - true) == pytest.approx(np.zeros(4), abs=0.02)
    slope2 = (0.5 * SIZE_PX[0] / TRUE_FOCAL_PX[0]) ** 2
    # What matters is where a point at the edge is put: to half a pixel.
    moved = [SIZE_PX[0] / 2 * (k[0] * slope2 + k[1] * slope2**2) for k in (true, found)]
    assert moved[1] == pytest.approx(moved[0], abs=0.5)


def test_the_stated_doubt_covers_the_error(result):
    lens = result.profile
    for found, u, true in (
        (lens.focal_px, lens.u_focal_px, TRUE_FOCAL_PX),
        (lens.principal_px, lens.u_principal_px, np.array(TRUE_PRINCIPAL_PX) + 0.5),
        (lens.distortion, lens.u_distortion, TRUE_DISTORTION),
    ):
        assert (np.abs(np.subtract(found, true)) < 4 * np.array(u)).all()
        assert (np.array(u) > 0).all()


def test_what_shows_how_good_the_film_was(result):
    assert result.profile.reprojection_px < 0.3
    assert result.profile.n_views == len(result.views) == result.view_reprojection_px.size
    assert result.profile.n_views <= MOST_VIEWS
    overall = np.sqrt(
        np.average(result.view_reprojection_px**2, weights=[v.corner.size for v in result.views])
    )
    assert overall == pytest.approx(result.profile.reprojection_px, abs=0.002)
    assert result.coverage > 0.9
    assert 45 < result.angle_deg < 90
    near_mm, far_mm = result.distance_mm
    assert 10 * 25 < near_mm < far_mm < 26 * 25


def test_the_size_of_the_squares_scales_the_distance_alone(result):
    larger = measured(good_views(), square_mm=50.0)
    assert larger.profile == result.profile
    assert larger.distance_mm == pytest.approx(2 * np.array(result.distance_mm))


def test_a_view_that_does_not_fit_is_left_out_once(result):
    bent = [
        replace(view, image_px=view.image_px + 3.0 * np.sin(view.image_px[:, ::-1] / 20))
        if view.frame == 8
        else view
        for view in good_views()
    ]
    again = measured(bent)
    assert again.n_dropped >= 1
    assert 8 not in [view.frame for view in again.views]
    assert again.profile.focal_px == pytest.approx(TRUE_FOCAL_PX, rel=0.005)


def test_coverage_counts_cells():
    (view, *_) = good_views()
    one_place = replace(view, corner=view.corner[:1], image_px=np.array([[0.0, 0.0]]))
    corner = replace(view, corner=view.corner[:1], image_px=np.array([SIZE_PX], float))
    assert coverage([one_place, one_place], SIZE_PX) == pytest.approx(1 / 48)
    assert coverage([one_place, corner], SIZE_PX) == pytest.approx(2 / 48)


def scaled(views, factor):
    middle = np.array(SIZE_PX) / 2
    return [
        replace(
            view,
            image_px=middle + factor * (view.image_px - middle),
            square_px=factor * view.square_px,
        )
        for view in views
    ]


def too_few():
    return good_views()[:6]


def blurred():
    return [replace(view, blur_px=3.0) for view in good_views()[9:]] + list(good_views()[:9])


def all_alike():
    return [replace(good_views()[6], frame=frame) for frame in range(30)]


def small():
    return scaled(good_views(), 0.25)


def same_angle():
    poses = good_poses()
    return views_of([replace(pose, tilt_deg=3, yaw_deg=-2) for pose in poses])


def leaning_one_way():
    # Far from square to the camera, and still the same plane each time.
    poses = good_poses()
    return views_of([replace(pose, tilt_deg=30, yaw_deg=5, roll_deg=0) for pose in poses])


def bare_edges():
    poses = good_poses()
    return views_of([replace(pose, x=0.25 + 0.15 * pose.x) for pose in poses])


def shaken():
    noise = np.random.default_rng(4)
    return [
        replace(view, image_px=view.image_px + noise.normal(0, 1.0, view.image_px.shape))
        for view in good_views()
    ]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("views", "says"),
    [
        (list, "not found.*calibrate board"),
        (too_few, "found in 6 pictures only, and 10.*longer"),
        (blurred, "too few sharp views.*brighter light"),
        (all_alike, "too few different views.*left, the right, above and below"),
        (small, "too small in the picture.*nearer"),
        (same_angle, "same way in all views.*focal length open.*30 to 45 degrees"),
        (leaning_one_way, "same way in all views"),
        (bare_edges, "right edge of the picture.*every corner"),
        (shaken, "do not fit together.*stabilisation off"),
    ],
)
def test_a_poor_film_is_refused_with_the_reason_and_what_to_film(views, says):
    with pytest.raises(CalibrationError, match=says):
        measured(views())

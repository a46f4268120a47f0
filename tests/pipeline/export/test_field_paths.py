import numpy as np

from tests.fixtures.films import LOST, dodge_film


def test_joints_of_both_people_lie_within_what_is_said_of_them():
    film, truth_m = dodge_film()
    paths = film.paths
    known = np.isfinite(paths.joints_m)
    assert paths.joints_m.shape == truth_m.shape == paths.u_m.shape
    off = np.abs(paths.joints_m - truth_m)[known] / paths.u_m[known]
    assert (off < 2.0).mean() > 0.95
    # A level camera measures heights well and depth badly, and the uncertainty shows it.
    u_m = np.nanmedian(paths.u_m, axis=(0, 1, 2))
    assert u_m[2] < 0.05 < u_m[1]


def test_what_was_not_seen_is_missing_with_its_uncertainty():
    paths = dodge_film()[0].paths
    middle = (LOST.start + LOST.stop) // 2
    assert np.isnan(paths.joints_m[:, middle]).all()
    assert (np.isnan(paths.joints_m) == np.isnan(paths.u_m)).all()

"""Room between two players and speeds around the cut, against numbers worked by hand."""

import numpy as np
import pytest

from calibration.anthropometry import ARM_LENGTH_OF_STATURE
from pipeline.measures import spacing
from pipeline.measures.view import NotMeasured
from tests.fixtures.views import motion_from, view_of

TIME_S = np.arange(201) / 100


def person(x, y, *, shoulder_x=None, hips=None, n_draws=3, stature_m=1.8):
    """Somebody who stands upright, or leans along x, with both feet in one place."""
    joints = {}
    for side in ("left", "right"):
        for part in ("heel", "toe"):
            joints[f"{side}_{part}"] = np.array([x, y, 0.04])
        joints[f"{side}_hip"] = np.array([x, y, 0.9]) if hips is None else hips
        joints[f"{side}_shoulder"] = np.array([x if shoulder_x is None else shoulder_x, y, 1.5])
    return motion_from(TIME_S, joints, n_draws=n_draws, stature_m=stature_m)


def dodge(athlete, defender=None):
    return view_of(athlete, {"dodge_start": 1.0}, move="close_gap_dodge", defender=defender)


def test_the_cushion_is_from_mid_foot_to_mid_foot_along_the_ground():
    reading = spacing.cushion(dodge(person(0.0, 6.0), person(1.2, 7.6)))
    assert reading.values[0] == pytest.approx(2.0)  # 3-4-5
    assert reading.ends_m == pytest.approx(np.array([[0.0, 6.0, 0.0], [1.2, 7.6, 0.0]]))


def test_the_gap_is_between_the_trunks_and_less_where_one_leans_in():
    # Two half trunks of 0.09 * 1.8 m = 0.162 m lie between.
    upright = spacing.cushion_gap(dodge(person(0.0, 6.0), person(2.0, 6.0)))
    assert upright.values[0] == pytest.approx(2.0 - 0.324)
    leaning = spacing.cushion_gap(dodge(person(0.0, 6.0, shoulder_x=0.5), person(2.0, 6.0)))
    assert leaning.values[0] == pytest.approx(1.5 - 0.324)


def test_bodies_that_touch_have_no_gap_and_never_less():
    touching = spacing.cushion_gap(dodge(person(0.0, 6.0), person(0.2, 6.0)))
    assert touching.values[0] == pytest.approx(0.0)


def test_the_cushion_in_arm_lengths_of_the_defender():
    view = dodge(person(0.0, 6.0, n_draws=201), person(1.5, 6.0, n_draws=201, stature_m=1.7))
    values = spacing.cushion_arm_ratio(view).values
    assert values[0] == pytest.approx(1.5 / (ARM_LENGTH_OF_STATURE.mean * 1.7))
    spread = ARM_LENGTH_OF_STATURE.sd / ARM_LENGTH_OF_STATURE.mean
    assert values[1:].std() / values[0] == pytest.approx(spread, rel=0.25)


def test_without_a_defender_there_is_no_cushion():
    for measure in (spacing.cushion, spacing.cushion_gap, spacing.cushion_arm_ratio):
        with pytest.raises(NotMeasured, match="no defender"):
            measure(dodge(person(0.0, 6.0)))


def runner(before_mps, after_mps):
    """Hips that run along x to the cut at 1 s and from there along y."""
    x = before_mps * np.minimum(TIME_S - 1.0, 0.0)
    y = 6.0 + after_mps * np.maximum(TIME_S - 1.0, 0.0)
    bob = 0.9 + 0.05 * np.sin(9 * TIME_S)  # up and down is no speed along the ground
    return person(0.0, 6.0, hips=np.column_stack([x, y, bob]))


def test_speeds_before_and_after_the_cut_and_what_is_kept():
    view = dodge(runner(4.0, 3.0))
    assert spacing.approach_speed(view).values[0] == pytest.approx(4.0)
    assert spacing.exit_speed(view).values[0] == pytest.approx(3.0)
    assert spacing.speed_kept(view).values[0] == pytest.approx(0.75)


def test_without_a_run_up_no_share_is_kept():
    with pytest.raises(NotMeasured, match="no run-up"):
        spacing.speed_kept(dodge(runner(0.2, 3.0)))


def test_a_cut_at_the_edge_of_the_film_has_no_speeds():
    view = view_of(runner(4.0, 3.0), {"dodge_start": 0.2}, move="close_gap_dodge")
    with pytest.raises(NotMeasured, match="does not show"):
        spacing.approach_speed(view)
    late = view_of(runner(4.0, 3.0), {"dodge_start": 1.8}, move="close_gap_dodge")
    with pytest.raises(NotMeasured, match="does not show"):
        spacing.exit_speed(late)

"""Someone is expected where they were going, and told from others by place, size and jersey."""

import numpy as np
import pytest

from pipeline.people.body import centre_px
from pipeline.people.person import LOST_AFTER_S, Person, settle
from tests.fixtures.standing import standing

RED, BLUE = np.array([90.0, 150.0, 80.0]), np.array([90.0, 0.0, -150.0])
GROUND = np.full((360, 640, 3), 90, np.uint8)


def person(colour=RED, x_px=300.0, speed_pxps=0.0, number=0):
    someone = Person.start(number, standing(x_px - speed_pxps, 200), GROUND, 0.0)
    for time_s in np.arange(0, 1.001, 1 / 30):
        pose = standing(x_px + speed_pxps * (time_s - 1), 200)
        someone.accept(pose, colour, float(time_s), overlapped=False)
    return someone


def test_the_window_moves_along_with_a_runner():
    runner = person(speed_pxps=300)
    window = runner.window(1 + 2 / 30)
    middle = window.left_px + window.side_px / 2
    assert middle == pytest.approx(300 + 20, abs=3)
    assert window.side_px > 1.5 * 110


def test_someone_out_of_sight_is_not_expected_to_run_for_ever():
    runner = person(speed_pxps=300)
    assert np.linalg.norm(runner.shift_px(3.0)) < 300 * 0.5
    assert not runner.is_lost(1 + LOST_AFTER_S - 0.1)
    assert runner.is_lost(1 + LOST_AFTER_S + 0.1)


def test_the_place_that_fits_costs_least():
    someone = person(speed_pxps=300)
    time_s = 1 + 1 / 30
    costs = [someone.cost(standing(310 + off, 200), RED, time_s) for off in (0, 8, 20)]
    assert costs == sorted(costs)
    assert someone.cost(standing(420, 200), RED, time_s) == np.inf


def test_a_small_skeleton_inside_the_body_is_not_the_person():
    assert person().cost(standing(300, 190, 50), RED, 1.03) == np.inf


def test_the_jersey_of_another_is_not_mine():
    red, blue = person(RED), person(BLUE, x_px=310.0, number=1)
    here = standing(303, 200)
    assert red.cost(here, RED, 1.03, [red, blue]) < np.inf
    assert red.cost(here, BLUE, 1.03, [red, blue]) == np.inf
    assert red.cost(here, BLUE, 1.03) < np.inf  # no one else is there: it may be the light


@pytest.mark.slow
def test_poses_are_given_out_for_all_at_once(monkeypatch):
    # The one who is nearest to the first pose has to take the second, or someone is left over.
    monkeypatch.setattr("pipeline.people.person.jersey_colour", lambda rgb, pose: RED)
    left, right = person(x_px=300.0), person(x_px=316.0, number=1)
    poses = [standing(309, 200), standing(325, 200)]
    given = settle([left, right], poses, GROUND, 1.03)
    assert centre_px(given[0][0])[0] == pytest.approx(309, abs=0.1)
    assert centre_px(given[1][0])[0] == pytest.approx(325, abs=0.1)


def test_an_overlap_does_not_change_what_is_known_of_someone():
    someone = person()
    length = someone.length_px
    for _ in range(10):
        someone.accept(standing(300, 200, 80), BLUE, 1.1, overlapped=True)
    assert someone.length_px == length
    np.testing.assert_allclose(someone.colour, RED, atol=2)


def test_who_comes_back_must_be_alike_and_within_reach():
    someone = person()
    assert someone.may_come_back_as(standing(420, 200), RED, 1.5)
    assert not someone.may_come_back_as(standing(420, 200), BLUE, 1.5)
    assert not someone.may_come_back_as(standing(420, 200), RED, 1.1)
    assert not someone.may_come_back_as(standing(420, 200, 60), RED, 1.5)

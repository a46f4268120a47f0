"""Steps of a throwback, against numbers worked by hand."""

import numpy as np
import pytest

from pipeline.measures import steps
from pipeline.measures.view import NotMeasured
from tests.fixtures.players import (
    LAST_CONTACT_S,
    PLANT_S,
    STEP_BACK_M,
    THROWBACK_RELEASE_S,
    frames_s,
    passer,
)
from tests.fixtures.views import motion_from, view_of

TIME_S = np.arange(201) / 100
EVENTS_S = {"plant": 1.0, "last_contact": 1.5, "release": 1.8}


def foot(side, places, height_m=0.04):
    """Heel and toe of a foot whose middle jumps to (time, x, y)."""
    at_s, x, y = np.array(places, float).T
    index = np.searchsorted(at_s, TIME_S + 1e-9, side="right") - 1
    middle = np.column_stack([x[index], y[index], np.full(TIME_S.size, height_m)])
    return {
        f"{side}_heel": middle - np.array([0.1, 0, 0]),
        f"{side}_toe": middle + np.array([0.1, 0, 0]),
    }


def landed(*times_s):
    """Contact (n,) that breaks off for 0.1 s before each landing."""
    contact = np.ones(TIME_S.size, dtype=bool)
    for landing_s in times_s:
        contact &= ~((landing_s - 0.1 <= TIME_S) & (landing_s - 1e-9 > TIME_S))
    return contact


def throwback(left, right, contact=None, *, speed_mps=3.0, run_deg=0.0):
    """Run along x to the plant at 1 s, then the hips stand; the whole may be turned."""
    hips = np.column_stack(
        [np.minimum(TIME_S - 1.0, 0.0) * speed_mps, 0 * TIME_S, 0.9 + 0 * TIME_S]
    )
    joints = {"left_hip": hips, "right_hip": hips} | foot("left", left) | foot("right", right)
    angle = np.radians(run_deg)
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    joints = {name: track @ turn.T for name, track in joints.items()}
    return view_of(motion_from(TIME_S, joints, contact=contact), EVENTS_S, move="throwback_pass")


# Mid-foot at the plant (0.3, 0); the left foot then goes back to (-0.9, 0.4): mid-foot (-0.3, 0.2).
LEFT = [(0.0, 0.3, 0.1), (1.45, -0.9, 0.5)]
RIGHT = [(0.0, 0.3, -0.1)]


@pytest.mark.parametrize("run_deg", [0.0, 90.0, -130.0])
def test_step_back_and_its_sideways_part(run_deg):
    view = throwback(LEFT, RIGHT, run_deg=run_deg)
    reading = steps.step_back(view)
    assert reading.values[0] == pytest.approx(0.6)
    assert np.linalg.norm(reading.ends_m[1] - reading.ends_m[0]) == pytest.approx(
        np.hypot(0.6, 0.2)
    )
    assert (reading.ends_m[:, 2] == 0.0).all()
    assert steps.step_back_sideways(view).values[0] == pytest.approx(0.2)


def test_a_step_on_along_the_run_is_negative():
    assert steps.step_back(throwback([(0, 0.3, 0.1), (1.4, 0.9, 0.1)], RIGHT)).values[0] < -0.2


def test_without_a_run_in_there_is_no_back():
    view = throwback(LEFT, RIGHT, speed_mps=0.3)
    for measure in (steps.step_back, steps.step_back_sideways, steps.steps_back):
        with pytest.raises(NotMeasured, match="no run-in"):
            measure(view)


def test_one_step_and_the_other_foot_closing_up_are_one_step():
    contact = np.stack([landed(1.45), landed(1.0, 1.7)], axis=1)
    right = [(0.0, 0.3, -0.1), (1.65, -0.6, -0.1)]
    assert steps.steps_back(throwback(LEFT, right, contact)).values[0] == pytest.approx(1.0)


def test_two_steps_to_new_ground_are_two():
    contact = np.stack([landed(1.3), landed(1.0, 1.6)], axis=1)
    left, right = [(0, 0.3, 0.1), (1.25, -0.5, 0.1)], [(0, 0.3, -0.1), (1.55, -1.2, -0.1)]
    assert steps.steps_back(throwback(left, right, contact)).values[0] == 2.0


def test_a_plant_alone_is_no_step():
    contact = np.stack([landed(), landed(1.0)], axis=1)
    assert steps.steps_back(throwback([(0, 0.3, 0.1)], RIGHT, contact)).values[0] == 0.0


def test_feet_not_seen_to_land_are_a_reason():
    contact = np.ones((TIME_S.size, 2), dtype=bool)
    with pytest.raises(NotMeasured, match="not seen to land"):
        steps.steps_back(throwback(LEFT, RIGHT, contact))


def test_one_who_was_not_seen_has_not_taken_no_steps():
    contact = np.stack([landed(1.3), landed(1.0, 1.6)], axis=1)
    view = throwback(LEFT, RIGHT, contact)
    view.athlete.joint("left_hip")[:, TIME_S < 0.7] = np.nan
    for measure in (steps.step_back, steps.steps_back):
        with pytest.raises(NotMeasured, match="not seen during the run-in"):
            measure(view)
    view = throwback(LEFT, RIGHT, contact)
    view.athlete.joint("left_toe")[:, TIME_S > 1.2] = np.nan
    with pytest.raises(NotMeasured, match="place of a foot"):
        steps.steps_back(view)


def test_time_from_plant_to_release():
    assert steps.plant_to_release(throwback(LEFT, RIGHT)).values[0] == pytest.approx(0.8)


def test_an_instant_that_was_not_found_is_the_reason():
    view = throwback(LEFT, RIGHT)
    bare = view_of(view.athlete, {"release": 1.8}, move="throwback_pass")
    for measure in (steps.step_back, steps.steps_back, steps.plant_to_release):
        with pytest.raises(NotMeasured, match="foot that planted"):
            measure(bare)


def test_the_passers_step_back():
    # The mid-foot at the plant and at the last contact, read off the figure itself.
    player = passer(frames_s(4.0))
    view = view_of(
        player.motion(3),
        {"plant": PLANT_S, "last_contact": LAST_CONTACT_S, "release": THROWBACK_RELEASE_S},
        move="throwback_pass",
    )
    ends = [player.signals().foot_m[round(60 * t)].mean(axis=0) for t in (PLANT_S, LAST_CONTACT_S)]
    expected = ends[0][0] - ends[1][0]
    assert expected > 0.5 * STEP_BACK_M
    assert steps.step_back(view).values[0] == pytest.approx(expected, abs=0.02)
    assert steps.steps_back(view).values[0] == 1.0


@pytest.mark.parametrize("run_deg", [0.0, 90.0, -130.0])
@pytest.mark.parametrize("side_m", [0.25, -0.25])
def test_the_pivot_foot_is_off_the_running_line_by_its_sideways_distance(run_deg, side_m):
    contact = np.column_stack([landed(1.5), landed(1.0)])
    view = throwback(LEFT, [(0.0, 0.3, side_m)], contact, run_deg=run_deg)
    assert steps.pivot_line_offset(view).values[0] == pytest.approx(0.25)


def test_where_the_pivot_foot_goes_after_it_is_lifted_does_not_count():
    contact = np.column_stack([landed(), landed(1.0, 1.4)])
    view = throwback(LEFT, [(0.0, 0.3, 0.2), (1.31, 0.3, 0.9)], contact)
    assert steps.pivot_line_offset(view).values[0] == pytest.approx(0.2)


def test_a_pivot_foot_never_seen_to_stand_is_a_reason():
    contact = np.column_stack([landed(), landed(1.0)])
    view = throwback(LEFT, RIGHT, contact)
    view.athlete.contact[100:, 1] = False
    with pytest.raises(NotMeasured, match="pivot foot was not seen standing"):
        steps.pivot_line_offset(view)

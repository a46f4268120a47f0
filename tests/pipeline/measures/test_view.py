"""What a measure sees of a rep, and how draws become a value with its uncertainty."""

import numpy as np
import pytest

from pipeline.core.types import Motion
from pipeline.measures.view import DrawnValue, NotMeasured, measurement_from, sample
from tests.fixtures.views import motion_from, view_of

TIME_S = np.arange(11) / 10


def view(**changes):
    return view_of(motion_from(TIME_S, {"nose": np.zeros(3)}), {"release": 0.5}, **changes)


def test_a_track_is_sampled_between_frames_at_each_draws_own_instant():
    track = np.stack([TIME_S, 10.0 * TIME_S])
    assert sample(track, TIME_S, np.array([0.25, 0.31])) == pytest.approx([0.25, 3.1])
    points = np.stack([track, -track], axis=-1)
    assert sample(points, TIME_S, np.array([0.25, 0.31]))[1] == pytest.approx([3.1, -3.1])


def test_uneven_times_are_sampled_by_time_and_not_by_frame():
    time_s = np.array([0.0, 0.1, 0.5, 0.6])
    assert sample(time_s[None] * 2, time_s, np.array([0.3])) == pytest.approx([0.6])


def test_outside_the_film_the_first_or_the_last_value_holds():
    assert sample(TIME_S[None], TIME_S, np.array([-1.0])) == pytest.approx([0.0])
    assert sample(TIME_S[None], TIME_S, np.array([9.0])) == pytest.approx([1.0])


def test_frames_between_two_instants_include_both_and_are_at_least_one():
    assert view().between(0.2, 0.5) == slice(2, 6)
    assert view().between(0.21, 0.22) == slice(3, 4)
    assert view().between(8.0, 9.0) == slice(10, 11)


def test_an_event_that_was_not_found_is_the_reason():
    with pytest.raises(NotMeasured, match="'hands high' was not found"):
        view().instant("hands_high")


def test_the_bottom_hand_is_the_other_one_and_an_unknown_hand_is_the_reason():
    assert (view(hand="left").top, view(hand="left").bottom) == ("left", "right")
    assert (view(hand="right").top, view(hand="right").bottom) == ("right", "left")
    with pytest.raises(NotMeasured, match="which hand is on top"):
        _ = view(hand=None).bottom


def test_the_interval_lies_around_the_best_estimate_with_the_spread_of_the_draws():
    draws = 2.0 + 0.1 * np.random.default_rng(0).standard_normal(4000)
    result = measurement_from(
        "hand_drop_m", "m", DrawnValue(np.array([1.5, *draws]), slice(2, 5)), 30
    )
    assert result.value == 1.5
    assert result.u == pytest.approx(0.1, rel=0.05)
    assert result.interval95 == pytest.approx((1.5 - 0.196, 1.5 + 0.196), abs=0.02)
    assert result.frames == (32, 33, 34)
    assert result.draws.mean() == pytest.approx(1.5)
    assert result.reason is None


def test_the_draws_of_a_count_stay_as_they_are():
    values = np.array([1.0, *np.repeat([1.0, 2.0], 100)])
    result = measurement_from("steps_back", "1", DrawnValue(values), 0, is_count=True)
    assert result.value == 1.0
    assert (result.draws == 1.0).mean() == 0.5
    assert result.interval95 == (1.0, 2.0)


@pytest.mark.parametrize(
    "values", [[np.nan, 1.0, 1.0, 1.0, 1.0], [1.0, 1.0, np.nan, np.nan, 1.0], [1.0, *[np.nan] * 4]]
)
def test_unknown_draws_are_a_reason_and_no_number(values):
    result = measurement_from("hand_drop_m", "m", DrawnValue(np.array(values)), 0)
    assert result.value is None
    assert result.u is None
    assert "not seen well enough" in result.reason


def test_a_few_unknown_draws_are_left_out():
    values = np.array([1.0, *np.linspace(0.9, 1.1, 19), np.nan])
    result = measurement_from("hand_drop_m", "m", DrawnValue(values), 0)
    assert result.value == 1.0
    assert result.draws.size == 19


def test_a_motion_says_what_has_the_wrong_shape():
    with pytest.raises(ValueError, match="joints_m must have shape"):
        Motion(
            time_s=TIME_S,
            first_frame=0,
            joints_m=np.zeros((2, 10, 23, 3)),
            contact=np.ones((11, 2), dtype=bool),
            landed=np.zeros((11, 2), dtype=bool),
            stature_m=np.ones(2),
            arm_length_m=np.full(1, np.nan),
        )

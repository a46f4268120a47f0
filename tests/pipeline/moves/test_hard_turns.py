"""Windows about a frame reach as far in time as they should, whatever the frame rate."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.moves.cuts import greatest_about
from tests.fixtures.players import frames_s, jogger


@pytest.mark.parametrize(
    ("before_s", "after_s", "expected"),
    [
        (0.0, 0.0, [5.0, 1.0, np.nan, 2.0, 9.0]),
        (0.1, 0.0, [5.0, 5.0, 1.0, 2.0, 9.0]),
        (0.0, 0.5, [5.0, 2.0, 2.0, 2.0, 9.0]),
        (9.0, 9.0, [9.0, 9.0, 9.0, 9.0, 9.0]),
    ],
)
def test_the_greatest_known_value_of_a_window_in_uneven_time(before_s, after_s, expected):
    time_s = np.array([0.0, 0.1, 0.2, 0.6, 1.6])
    athlete = replace(jogger(frames_s(1.0)).signals(), time_s=time_s)
    values = np.array([5.0, 1.0, np.nan, 2.0, 9.0])
    np.testing.assert_array_equal(greatest_about(athlete, values, before_s, after_s), expected)


def test_a_window_in_which_nothing_is_known_is_unknown():
    athlete = jogger(frames_s(1.0)).signals()
    nothing = np.full(athlete.time_s.size, np.nan)
    assert np.isnan(greatest_about(athlete, nothing, 0.3, 0.3)).all()

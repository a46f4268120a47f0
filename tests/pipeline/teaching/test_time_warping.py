"""Dynamic time warping: known answers by hand, and what must hold for any two series."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.teaching.template_search import carried_over, warped_distance, warping_path

series = st.lists(st.floats(-10, 10), min_size=1, max_size=12)


def by_hand(a, b):
    """The least sum of squared distances by the textbook's recursion."""
    cost = np.full((len(a) + 1, len(b) + 1), np.inf)
    cost[0, 0] = 0.0
    for i in range(len(a)):
        for j in range(len(b)):
            before = min(cost[i, j], cost[i, j + 1], cost[i + 1, j])
            cost[i + 1, j + 1] = (a[i] - b[j]) ** 2 + before
    return np.sqrt(cost[-1, -1])


@given(series, series)
@settings(max_examples=50, deadline=None)
def test_the_distance_is_that_of_the_textbook_and_symmetric(a, b):
    assert warped_distance(a, b) == pytest.approx(by_hand(a, b), abs=1e-9)
    assert warped_distance(a, b) == pytest.approx(warped_distance(b, a), abs=1e-9)


def test_dwelling_costs_nothing_and_a_price_for_it_does():
    a, b = [0.0, 1.0, 2.0], [0.0, 0.0, 1.0, 1.0, 2.0]
    assert warped_distance(a, b) == 0.0
    assert warped_distance(a, b, penalty=0.25) == pytest.approx(np.sqrt(2 * 0.25**2))


def test_a_window_of_one_is_the_plain_distance():
    a, b = np.zeros((5, 2)), np.full((5, 2), 3.0)
    assert warped_distance(a, b, window=1) == pytest.approx(np.linalg.norm(a - b))


def test_a_path_carries_a_place_over():
    a = np.sin(np.linspace(0.0, 3.0, 30))
    slower = np.sin(np.linspace(0.0, 3.0, 60))
    path = warping_path(a, slower)
    assert path[0].tolist() == [0, 0]
    assert path[-1].tolist() == [29, 59]
    assert carried_over(path, 10.0) == pytest.approx(10.0 * 59 / 29, abs=1.0)


@pytest.mark.parametrize(
    ("a", "b"), [([], [1.0]), ([np.nan], [1.0]), (np.zeros((3, 2)), np.zeros((3, 1)))]
)
def test_what_is_no_pair_of_series_is_refused(a, b):
    with pytest.raises(ValueError, match=r"must"):
        warped_distance(a, b)

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.export.c3d import even_times_s, resample


def test_even_times_go_from_the_first_frame_to_the_last():
    assert even_times_s(np.array([0.0, 0.1, 0.2]), 10.0) == pytest.approx([0.0, 0.1, 0.2])
    assert even_times_s(np.array([0.0, 0.1, 0.29]), 10.0) == pytest.approx([0.0, 0.1, 0.2])
    assert even_times_s(np.array([0.0]), 10.0) == pytest.approx([0.0])


@pytest.mark.slow
@given(
    st.lists(st.floats(0.010, 0.024), min_size=12, max_size=40),
    st.tuples(*(st.floats(-5.0, 5.0) for _ in range(4))),
)
def test_a_cubic_path_is_read_exactly_whatever_the_times_of_the_frames(steps_s, cubic):
    time_s = np.r_[0.0, np.cumsum(steps_s)]
    even_s = even_times_s(time_s, 60.0)
    read = resample(time_s, np.polyval(cubic, time_s)[:, None], even_s)
    assert read[:, 0] == pytest.approx(np.polyval(cubic, even_s), abs=1e-6)


def test_frames_that_lie_on_the_even_times_are_given_as_they_are():
    time_s = np.arange(50) / 30.0
    values = np.random.default_rng(1).normal(size=(50, 2, 3))
    # Time stamps as containers round them.
    read = resample(np.round(time_s, 5), values, time_s)
    assert read == pytest.approx(values, abs=2e-3)


def test_nothing_is_carried_on_over_a_missing_frame_or_a_hole_in_the_film():
    time_s = np.r_[np.arange(20) / 50.0, 0.8 + np.arange(20) / 50.0]
    values = np.ones((40, 1))
    values[5] = np.nan
    even_s = even_times_s(time_s, 50.0)
    read = resample(time_s, values, even_s)[:, 0]
    missing = (even_s > 0.09) & (even_s < 0.11) | (even_s > 0.385) & (even_s < 0.795)
    assert np.isnan(read[missing]).all()
    assert read[~missing] == pytest.approx(1.0)

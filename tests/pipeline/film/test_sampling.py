"""A few pictures spread over a film, at their own times, for a bounded amount of decoding."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import UnreadableClip
from pipeline.film.sampling import N_MOMENTS, FilmClock, plan_moments, read_moments
from tests.fixtures.looks import clock_of


@given(
    st.integers(2, 4000), st.integers(1, 700), st.integers(N_MOMENTS, 400), st.floats(5.0, 240.0)
)
def test_the_plan_stays_within_what_may_be_decoded(n_frames, key_every, most, rate_hz):
    time_s = np.arange(n_frames) / rate_hz
    clock = FilmClock(
        time_s=time_s,
        is_key=np.arange(n_frames) % key_every == 0,
        duration_s=n_frames / rate_hz,
        indexed=True,
    )
    plan = plan_moments(clock, most)
    n_decoded = sum(round(after_s[-1] * rate_hz) + 1 for _, after_s in plan)
    assert n_decoded <= most + N_MOMENTS
    assert 1 <= sum(len(after_s) for _, after_s in plan) <= N_MOMENTS
    for start_s, after_s in plan:
        assert after_s == sorted(set(after_s))
        assert start_s in time_s[clock.is_key]
        assert start_s + after_s[-1] <= time_s[-1] + 1e-9


def test_a_long_film_is_looked_at_as_often_as_a_short_one():
    short, long = (plan_moments(clock_of(60.0, s), 180) for s in (60.0, 600.0))
    assert len(short) == len(long) == N_MOMENTS
    assert long[-1][0] > 500.0


def test_a_film_without_an_index_is_looked_at_all_over():
    plan = plan_moments(replace(clock_of(30.0, 20.0), duration_s=60.0, indexed=False), 100)
    assert [start_s for start_s, _ in plan] == pytest.approx([5, 15, 25, 35, 45, 55])


@pytest.mark.parametrize("key_every", ["5", "250"])
@pytest.mark.parametrize("name", ["film.mp4", "film.mkv", "film.avi"])
def test_each_picture_comes_with_its_own_time(write_film, number_of, name, key_every):
    path = write_film(name, n_frames=48, options={"g": key_every, "keyint_min": key_every})
    clock, moments, _ = read_moments(path)
    assert len(moments) >= (N_MOMENTS if name == "film.mp4" else 1)
    for moment in moments:
        assert number_of(moment.rgb) == pytest.approx(30 * moment.time_s, abs=1.01)
    assert np.median(np.diff(clock.time_s)) == pytest.approx(1 / 30, abs=1e-3)


def test_pictures_are_upright(write_film):
    path = write_film(rotation_deg=90, n_frames=6)
    _, moments, orientation = read_moments(path)
    assert moments[0].rgb.shape == (64, 48, 3)
    assert orientation.rotation_deg in (90, 270)


def test_a_film_of_one_picture_is_looked_at(write_film):
    _, moments, _ = read_moments(write_film(n_frames=1))
    assert len(moments) == 1


def test_what_is_no_film_is_refused(tmp_path):
    (tmp_path / "film.mp4").write_text("no film")
    with pytest.raises(UnreadableClip):
        read_moments(tmp_path / "film.mp4")

"""The release: between frames, and not taken for a follow-through that the camera sees better."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid

from pipeline.moves.release import release_event
from tests.fixtures.players import RELEASE_WITHIN_S, frames_s, shooter

TIME_S = frames_s(3.5)
RELEASE_S = 2.0
FRAME = 120


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_the_peak_of_the_hand_is_found_between_two_frames(rate_hz):
    errors_s = []
    for shift in np.arange(6) / 6:
        release_s = RELEASE_S + shift / rate_hz
        signals = shooter(frames_s(3.0, rate_hz), (release_s,)).signals()
        frame = int(np.argmin(np.abs(signals.time_s - release_s)))
        found_s = release_event(signals, "right", frame, "down").time_s
        errors_s.append(found_s - release_s)
    assert np.ptp(errors_s) < 0.5 / rate_hz
    assert np.abs(errors_s).max() < RELEASE_WITHIN_S


def test_a_release_that_is_hidden_is_put_at_the_frame_of_the_burst():
    signals = shooter(TIME_S, (RELEASE_S,)).signals()
    hidden = replace(signals, hand_m=np.full_like(signals.hand_m, np.nan))
    found_s = release_event(hidden, "right", FRAME, "down").time_s
    assert found_s == pytest.approx(RELEASE_S, abs=RELEASE_WITHIN_S)


def test_a_burst_the_right_way_is_the_release():
    signals = shooter(TIME_S, (RELEASE_S,)).signals()
    event = release_event(signals, "right", FRAME, "down")
    assert event.time_s == pytest.approx(RELEASE_S, abs=RELEASE_WITHIN_S)


def with_hand(across_mps, up_mps):
    """Signals of a hand with a known velocity in the picture."""
    signals = shooter(TIME_S, (RELEASE_S,)).signals()
    hand_m = np.zeros_like(signals.hand_m)
    for axis, speed in ((0, across_mps), (2, up_mps)):
        hand_m[..., axis] = cumulative_trapezoid(speed, TIME_S, initial=0.0)[:, None]
    speed_mps = np.hypot(across_mps, up_mps)[:, None] * np.ones(2)
    return replace(signals, hand_m=hand_m, hand_mps=speed_mps)


def bump(at_s, half_s, height):
    part = np.clip((TIME_S - at_s) / half_s, -1.0, 1.0)
    return height * 0.5 * (1.0 + np.cos(np.pi * part))


def thrown(rise_s, fall_s, height=6.0):
    """Speed of a hand that rises to its greatest at the release and falls at another pace."""
    part = (TIME_S - RELEASE_S) / np.where(TIME_S < RELEASE_S, rise_s, fall_s)
    return height * 0.5 * (1.0 + np.cos(np.pi * np.clip(part, -1.0, 1.0)))


@pytest.mark.parametrize(("rise_s", "fall_s"), [(0.25, 0.1), (0.3, 0.08), (0.2, 0.12)])
def test_a_hand_that_speeds_up_slowly_and_stops_abruptly_releases_at_its_fastest(rise_s, fall_s):
    signals = with_hand(0.0 * TIME_S, -thrown(rise_s, fall_s))
    found_s = release_event(signals, "right", FRAME, "down").time_s
    assert found_s == pytest.approx(RELEASE_S, abs=0.02)


def test_a_pass_is_not_put_where_the_hand_comes_down_after_it():
    # The camera looks along the pass: only the way down after it is fast in the picture.
    signals = with_hand(bump(RELEASE_S, 0.1, 1.0), -bump(RELEASE_S + 0.1, 0.1, 5.0))
    found_s = release_event(signals, "right", FRAME + 6, "level").time_s
    assert found_s == pytest.approx(RELEASE_S, abs=0.03)


def test_a_shot_is_not_put_where_the_hand_swings_across_after_it():
    signals = with_hand(bump(RELEASE_S + 0.12, 0.1, 5.0), -bump(RELEASE_S, 0.1, 3.0))
    found_s = release_event(signals, "right", FRAME + 7, "down").time_s
    assert found_s == pytest.approx(RELEASE_S, abs=RELEASE_WITHIN_S)


def test_a_view_along_the_throw_makes_the_release_less_sure():
    signals = shooter(TIME_S, (RELEASE_S,)).signals()
    along, across = (
        release_event(
            replace(signals, facing=np.tile(way, (TIME_S.size, 1))), "right", FRAME, "down"
        ).u_s
        for way in ([0.0, 1.0], [1.0, 0.0])
    )
    assert along > 1.5 * across


def along_the_throw(across_mps, forward_mps, up_mps=0.0 * TIME_S):
    """Signals of a hand that goes to the front, along the view."""
    signals = with_hand(across_mps, up_mps)
    hand_m = signals.hand_m.copy()
    hand_m[..., 1] = np.cumsum(forward_mps)[:, None] / 60.0
    return replace(signals, hand_m=hand_m, facing=np.tile([0.0, 1.0], (TIME_S.size, 1)))


def test_a_throw_is_not_put_where_the_hand_swings_across_or_down_after_it():
    forward = bump(RELEASE_S, 0.1, 8.0)
    for after in (
        along_the_throw(bump(RELEASE_S + 0.1, 0.1, 5.0), forward),
        along_the_throw(0.0 * TIME_S, forward, -bump(RELEASE_S + 0.1, 0.1, 5.0)),
    ):
        found_s = release_event(after, "right", FRAME + 4, "any").time_s
        assert found_s == pytest.approx(RELEASE_S, abs=0.03)


def test_a_throw_that_is_seen_stays_where_it_is_seen():
    forward = bump(RELEASE_S, 0.1, 8.0)
    signals = along_the_throw(bump(RELEASE_S, 0.1, 2.0), forward)
    for turned in (signals, replace(signals, facing=np.tile([1.0, 0.0], (TIME_S.size, 1)))):
        found_s = release_event(turned, "right", FRAME, "any").time_s
        assert found_s == pytest.approx(RELEASE_S, abs=RELEASE_WITHIN_S)


def test_a_hand_whose_way_to_the_front_is_unknown_is_taken_as_it_is_seen():
    signals = along_the_throw(bump(RELEASE_S, 0.1, 4.0), 0.0 * TIME_S)
    blind = replace(signals, facing=np.full_like(signals.facing, np.nan))
    found_s = release_event(blind, "right", FRAME, "any").time_s
    assert found_s == pytest.approx(RELEASE_S, abs=RELEASE_WITHIN_S)


@pytest.mark.parametrize("way", ["down", "level", "any"])
def test_later_film_has_a_later_release(way):
    signals = shooter(TIME_S, (RELEASE_S,)).signals()
    later = replace(signals, time_s=signals.time_s + 5.0)
    first = release_event(signals, "right", FRAME, way).time_s
    assert release_event(later, "right", FRAME, way).time_s == pytest.approx(first + 5.0)


def test_where_a_second_burst_is_as_fast_and_the_way_is_open_the_release_is_in_doubt():
    one = with_hand(bump(RELEASE_S, 0.1, 5.0), 0.0 * TIME_S)
    two = with_hand(bump(RELEASE_S, 0.1, 5.0) + bump(RELEASE_S - 0.3, 0.1, 5.0), 0.0 * TIME_S)
    sure_s, unsure_s = (release_event(each, "right", FRAME, "any").u_s for each in (one, two))
    # Either of two instants 0.3 s apart: off by 0.3 s half of the time.
    assert np.sqrt(unsure_s**2 - sure_s**2) == pytest.approx(0.3 * 0.5**0.5, abs=0.02)


def test_a_pass_is_the_faster_burst_and_not_the_follow_through():
    signals = with_hand(bump(RELEASE_S, 0.08, 6.0), -bump(RELEASE_S + 0.2, 0.08, 3.0))
    found_s = release_event(signals, "right", FRAME + 12, "level").time_s
    assert found_s == pytest.approx(RELEASE_S, abs=0.02)

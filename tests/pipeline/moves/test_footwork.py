"""The way of the hips and the feet that turn or stop it, against players whose ways are known."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.moves.footwork import (
    landing_s,
    last_contact_frame,
    pace_mps,
    plant_frame,
    run_in_direction,
    stop_frame,
    turn_over_deg,
)
from tests.fixtures.players import (
    CUT_S,
    CUT_TURN_DEG,
    LAST_CONTACT_S,
    PLANT_S,
    dodger,
    frames_s,
    jogger,
    passer,
    shooter,
)

TIME_S = frames_s(3.5)


def test_the_pace_of_a_run_is_its_speed_and_a_short_sway_has_none():
    jog = jogger(TIME_S).signals()
    assert pace_mps(jog, 60, 180)[20:-20] == pytest.approx(np.tile([2.5, 0.0], (80, 1)), abs=0.05)
    sway = replace(jog, hips_m=np.column_stack([0.1 * np.sin(4 * np.pi * TIME_S), 0 * TIME_S]))
    assert np.abs(pace_mps(sway, 0, TIME_S.size)[20:-20]).max() < 0.1  # it moves at up to 1.3 m/s


def test_the_run_in_points_the_way_of_the_run():
    direction = run_in_direction(passer(TIME_S).signals(), 0, 174)
    assert direction == pytest.approx([1.0, 0.0], abs=0.02)


def planted_s(signals):
    stop = stop_frame(signals, 28, 174)
    return landing_s(signals, plant_frame(signals, 28, stop, 174))


def test_the_plant_stops_the_run_and_the_last_contact_ends_the_step_back():
    signals = passer(TIME_S).signals()
    assert planted_s(signals) == pytest.approx(PLANT_S, abs=0.02)
    last = last_contact_frame(signals, 120, 174)
    assert landing_s(signals, last) == pytest.approx(LAST_CONTACT_S, abs=0.02)
    assert last_contact_frame(signals, 160, 174) == 160  # none after it: the frame itself


def test_a_run_that_dies_out_has_stopped_before_its_last_slow_steps():
    signals = passer(TIME_S).signals()
    slow_mps = np.interp(TIME_S, [1.95, 2.15], [3.0, 0.5])
    dying = replace(signals, hips_mps=np.column_stack([slow_mps, 0 * TIME_S]))
    assert planted_s(dying) == pytest.approx(PLANT_S, abs=0.02)  # that at 2.5 s stops nothing


def test_hips_that_were_hardly_seen_stopped_no_run():
    signals = passer(TIME_S).signals()
    hidden = signals.hips_m.copy()
    hidden[28:174] = np.nan
    hidden[100:103] = signals.hips_m[100:103]
    assert stop_frame(replace(signals, hips_m=hidden), 28, 174) is None


def test_a_plant_whose_landing_was_hidden_is_not_made_up():
    signals = passer(TIME_S).signals()
    landed = signals.landed.copy()
    landed[(TIME_S > PLANT_S - 0.35) & (TIME_S < LAST_CONTACT_S)] = False
    stop = stop_frame(signals, 28, 174)
    assert plant_frame(replace(signals, landed=landed), 28, stop, 174) is None


def test_a_foot_that_lands_long_after_the_run_has_stopped_is_not_the_plant():
    signals = passer(TIME_S).signals()
    landed = signals.landed.copy()
    late = int(np.argmin(np.abs(TIME_S - PLANT_S - 0.6)))
    landed[121:] = False
    landed[late, 1] = True
    with_late = replace(signals, landed=landed)
    assert plant_frame(with_late, 28, int(np.argmin(np.abs(TIME_S - PLANT_S - 0.2))), 174) == 120
    assert plant_frame(with_late, 28, late + 3, 174) == 120  # the hips were furthest before it


def test_a_foot_that_lands_once_the_hips_go_back_is_not_the_plant():
    signals = passer(TIME_S).signals()
    landed = signals.landed.copy()
    landed[(TIME_S > PLANT_S - 0.35) & (TIME_S < PLANT_S + 0.15)] = False  # the plant was hidden
    back = int(np.argmin(np.abs(TIME_S - LAST_CONTACT_S)))
    landed[back, 0] = True
    # A stop that is taken too late, within reach of the foot that ends the step back.
    assert plant_frame(replace(signals, landed=landed), 28, back + 5, 174) is None


def test_a_foot_that_the_hips_leave_far_behind_is_not_the_plant():
    signals = passer(TIME_S).signals()
    landed = signals.landed.copy()
    landed[(TIME_S > PLANT_S - 0.3) & (TIME_S < LAST_CONTACT_S)] = False  # the plant was hidden
    landed[int(np.argmin(np.abs(TIME_S - PLANT_S + 0.35)))] = True
    # A stop that is taken too early, within reach of a step of the run.
    early = int(np.argmin(np.abs(TIME_S - PLANT_S + 0.1)))
    assert plant_frame(replace(signals, landed=landed), 28, early, 174) is None


def test_a_foot_lands_between_the_last_frame_in_the_air_and_the_first_on_the_ground():
    signals = passer(TIME_S).signals()
    assert landing_s(signals, 60) == pytest.approx(59.5 / 60)
    assert landing_s(signals, 0) == 0.0


def test_without_a_run_that_stops_there_is_no_plant():
    signals = passer(TIME_S).signals()
    for start in (172, 174, 176):  # a release that comes with the start, or before it
        assert stop_frame(signals, start, 174) is None
    unknown = replace(signals, hips_mps=np.full_like(signals.hips_mps, np.nan))
    assert stop_frame(unknown, 28, 174) is None
    assert stop_frame(jogger(TIME_S).signals(), 40, 174) is None


def test_the_turn_of_the_path_over_the_cut_and_over_a_straight_step():
    signals = dodger(frames_s(4.0)).signals()
    cut = int(np.argmin(np.abs(signals.time_s - CUT_S)))
    assert turn_over_deg(signals, cut) == pytest.approx(CUT_TURN_DEG, abs=6.0)
    assert turn_over_deg(signals, cut - 30) < 5.0


def test_one_who_stands_does_not_turn():
    assert turn_over_deg(shooter(TIME_S, (2.0,)).signals(), 100) == 0.0

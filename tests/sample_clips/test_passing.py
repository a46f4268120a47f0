"""Somebody who walks past: clear of the players, before or behind them, never over an event."""

from itertools import pairwise

import numpy as np
import pytest

from sample_clips.render.hardships import PasserBy
from sample_clips.render.moves.common import RepWindow
from sample_clips.render.passing import CLEAR_M, crossing_s, line_of_walk, plan_of_walk
from sample_clips.render.people import WOMAN
from sample_clips.render.tracks import contacts_of, heading_of

CAMERA_M = np.array([0.0, 0.0])
ATHLETE_M = np.array([0.0, 8.0])
PATHS_M = [np.array([[0.0, 6.5], [0.5, 9.0]]), np.array([[1.0, 10.0]])]
REPS = [
    RepWindow(start_s=s, stop_s=s + 3, burst_s=(s + 1.5, s + 2.1), run_yaw_rad=0.0)
    for s in (0.0, 4.0)
]


@pytest.mark.parametrize("walk_mps", [1.3, -1.3])
@pytest.mark.parametrize("before", [True, False])
def test_the_walk_is_clear_of_all_players_and_square_to_the_line_of_sight(before, walk_mps):
    passer_by = PasserBy(person=WOMAN, before=before, walk_mps=walk_mps)
    spot, way = line_of_walk(passer_by, CAMERA_M, ATHLETE_M, PATHS_M)
    np.testing.assert_allclose(way, [np.sign(walk_mps), 0.0], atol=1e-12)
    assert spot[0] == pytest.approx(0.0)
    if before:
        assert 2.0 < spot[1] <= 6.5 - CLEAR_M
    else:
        assert spot[1] == pytest.approx(10.0 + CLEAR_M)


def test_before_the_players_the_crossing_is_over_before_the_rep_moves():
    assert REPS[-1].start_s <= crossing_s(REPS, before=True) < REPS[-1].start_s + 0.3
    low, high = REPS[-1].burst_s
    assert low < crossing_s(REPS, before=False) < high


def test_the_walk_is_even_crosses_when_asked_and_steps_left_and_right():
    passer_by = PasserBy(person=WOMAN, before=True, walk_mps=-1.4)
    spot, way = np.array([0.0, 4.0]), np.array([-1.0, 0.0])
    plan = plan_of_walk(passer_by, spot, way, 4.1, 9.0)
    time_s = np.arange(0, 9.0, 1 / 480)
    path = plan.path_m.at(time_s)
    np.testing.assert_allclose(path, spot + way * 1.4 * (time_s - 4.1)[:, None], atol=1e-9)
    heading = heading_of(plan, time_s, path)
    np.testing.assert_allclose(np.abs(heading), np.pi, atol=1e-6)
    steps = contacts_of(plan, time_s, path, heading)
    lands = sorted((c.land_s, foot) for foot, landings in steps.items() for c in landings)[2:]
    assert all(a[1] != b[1] for a, b in pairwise(lands))

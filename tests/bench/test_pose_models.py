"""Views triangulate back what they show; exchanges of left and right are counted in frames."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from tests.bench.pose_models import longest_exchange, true_joints_px
from tests.bench.views import best_agreement, pixels_of, triangulate, views_of

RNG = np.random.default_rng(4)


def camera(turn_deg):
    turn = np.radians(turn_deg)
    rotation = np.array(
        [[np.cos(turn), -np.sin(turn), 0.0], [0.0, 0.0, -1.0], [np.sin(turn), np.cos(turn), 0.0]]
    )
    return {
        "K": [[1500.0, 0.0, 540.0], [0.0, 1500.0, 960.0], [0.0, 0.0, 1.0]],
        "D": [-0.05, 0.1, 0.001, 0.001],
        "R": rotation.tolist(),
        "T": [0.1, 1.0, 6.0],
        "picture_to_film": {"Scene": [[0.99, 0.0, 1.0], [0.0, 0.99, 7.0]]},
    }


VIEWS = list(
    views_of({"cameras": {f"cam{k}": camera(80.0 * k) for k in range(4)}}, "Scene").values()
)
POINTS_M = RNG.uniform([-0.5, -0.5, 0.0], [0.5, 0.5, 1.8], (5, len(JOINTS), 3))


def test_points_come_back_from_their_pixels():
    assert triangulate(pixels_of(POINTS_M, VIEWS), VIEWS) == pytest.approx(POINTS_M, abs=1e-4)


def test_a_point_that_a_view_lacks_comes_from_the_others_and_from_one_view_none_comes():
    seen_px = pixels_of(POINTS_M, VIEWS)
    seen_px[0, 2, 3] = np.nan
    seen_px[1:, 4, 5] = np.nan
    found = triangulate(seen_px, VIEWS)
    assert found[2, 3] == pytest.approx(POINTS_M[2, 3], abs=1e-4)
    assert np.isnan(found[4, 5]).all()


def test_of_several_people_those_who_are_one_body_are_compared():
    shown = pixels_of(POINTS_M, VIEWS)
    others = RNG.uniform(0.0, 1900.0, shown.shape)
    people = [
        [other, own] if k % 2 else [own, other]
        for k, (own, other) in enumerate(zip(shown, others, strict=True))
    ]
    assert np.array_equal(best_agreement(people, VIEWS), shown)
    with pytest.raises(ValueError, match="nobody was found"):
        best_agreement([*people[:-1], []], VIEWS)


def test_the_longest_run_of_exchanged_legs_is_counted():
    expected = np.tile(RNG.uniform(0.0, 100.0, (1, len(JOINTS), 2)), (20, 1, 1))
    for part in ("knee", "ankle"):
        expected[:, JOINTS.index(f"left_{part}"), 0] = 10.0
        expected[:, JOINTS.index(f"right_{part}"), 0] = 90.0
    seen = expected.copy()
    for part in ("knee", "ankle"):
        pair = [JOINTS.index(f"left_{part}"), JOINTS.index(f"right_{part}")]
        seen[3:5, pair] = seen[3:5, pair[::-1]]
        seen[8:15, pair] = seen[8:15, pair[::-1]]
    assert longest_exchange(seen, expected, 200.0) == 7
    assert longest_exchange(expected, expected, 200.0) == 0


def test_the_truth_of_the_other_renderer_is_projected():
    truth = {
        "K": [[1000.0, 0.0, 500.0], [0.0, 1000.0, 300.0], [0.0, 0.0, 1.0]],
        "R": np.eye(3).tolist(), "t": [0.0, 0.0, 5.0], "stature_m": 1.8,
        "joints": [{"kneeL": [0.5, 0.25, 0.0]}],
    }  # fmt: skip
    joints_px, size_px = true_joints_px(truth)
    assert joints_px[0, JOINTS.index("left_knee")] == pytest.approx([600.0, 350.0])
    assert np.isnan(joints_px[0, JOINTS.index("right_knee")]).all()
    assert size_px == pytest.approx([360.0])

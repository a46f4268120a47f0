"""Sources of uncertainty: the draws of a camera split into parts, and parts put together again."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import Scene
from pipeline.scene.uncertainty import (
    ALL_SOURCES,
    SOURCE_NAMES,
    Sources,
    dominant_source,
    root_sum_of_squares,
    scene_drawn,
)

N_DRAWS = 201
CAMERA_SOURCES = ("lens", "stature", "scene")


def scene_with(root):
    """A scene; (log focal, log size, pitch, roll, log height) have the covariance root root'."""
    changes = np.random.default_rng(3).standard_normal((N_DRAWS, 5)) @ np.asarray(root).T
    changes[0] = 0.0
    return Scene(
        grade="B",
        focal_px=1000.0 * np.exp(changes[:, 0]),
        body_scale=1.1 * np.exp(changes[:, 1]),
        pitch_deg=4.0 + changes[:, 2],
        roll_deg=0.3 + changes[:, 3],
        height_m=1.4 * np.exp(changes[:, 4]),
        principal_px=np.array([640.0, 360.0]),
        stature_m=np.full(N_DRAWS, 1.8),
    )


TIED = np.diag([0.05, 0.016, 0.6, 0.5, 0.02])
TIED[2, 0], TIED[4, 0], TIED[4, 1] = 0.4, 0.03, 0.016
"""The pitch goes along with the lens, the height with the lens and the size of the body."""


def changes_of(scene):
    """(n_draws, 5) what the draws change against the best estimate."""
    return np.column_stack(
        [
            np.log(scene.focal_px / scene.focal_px[0]),
            np.log(scene.body_scale / scene.body_scale[0]),
            scene.pitch_deg - scene.pitch_deg[0],
            scene.roll_deg - scene.roll_deg[0],
            np.log(scene.height_m / scene.height_m[0]),
        ]
    )


def test_a_scene_with_all_its_sources_on_is_the_very_same_one():
    scene = scene_with(TIED)
    assert scene_drawn(scene, ALL_SOURCES) is scene
    assert scene_drawn(scene, Sources(keypoints=False, timing=False, own=False)) is scene


def test_with_nothing_switched_on_every_draw_is_the_best_estimate_to_the_last_bit():
    scene = scene_with(TIED)
    held = scene_drawn(scene, Sources.only())
    for name in ("focal_px", "body_scale", "pitch_deg", "roll_deg", "height_m"):
        assert np.array_equal(
            getattr(held, name), np.full(N_DRAWS, getattr(scene, name)[0]), equal_nan=True
        )


@pytest.mark.parametrize("name", SOURCE_NAMES)
def test_the_best_estimate_stays_whatever_is_drawn(name):
    scene = scene_with(TIED)
    drawn = scene_drawn(scene, Sources.only(name))
    for field in ("focal_px", "body_scale", "pitch_deg", "roll_deg", "height_m"):
        assert getattr(drawn, field)[0] == getattr(scene, field)[0]


def test_the_parts_sum_to_the_draws_and_are_uncorrelated():
    scene = scene_with(TIED)
    parts = [changes_of(scene_drawn(scene, Sources.only(name))) for name in CAMERA_SOURCES]
    assert np.allclose(sum(parts), changes_of(scene), atol=1e-12)
    squares = sum(np.sum(part**2, axis=0) for part in parts)
    assert squares == pytest.approx(np.sum(changes_of(scene) ** 2, axis=0))


def test_what_went_along_with_the_lens_goes_along_with_it_and_only_with_it():
    scene = scene_with(TIED)
    lens, stature, rest = (
        changes_of(scene_drawn(scene, Sources.only(name))) for name in CAMERA_SOURCES
    )
    assert lens[:, 0] == pytest.approx(changes_of(scene)[:, 0])
    # 201 draws give the slopes to within their own scatter.
    assert lens[1:, 4].std() == pytest.approx(0.03, rel=0.2)
    assert stature[1:, 4].std() == pytest.approx(0.016, rel=0.2)
    assert not stature[:, 0].any()
    assert not rest[:, :2].any()
    assert rest[1:, 4].std() == pytest.approx(0.02, rel=0.2)
    assert rest[1:, 2].std() == pytest.approx(0.6, rel=0.2)


def test_what_is_known_for_sure_has_no_part():
    sure_of_lens = scene_with(np.diag([0.0, 0.016, 0.6, 0.5, 0.02]))
    assert not changes_of(scene_drawn(sure_of_lens, Sources.only("lens"))).any()


def test_without_a_ground_there_is_nothing_to_split():
    unknown = np.full(N_DRAWS, np.nan)
    scene = replace(
        scene_with(TIED), grade="C", pitch_deg=unknown, roll_deg=unknown, height_m=unknown
    )
    assert scene_drawn(scene, Sources.only("lens")) is scene


def test_the_dominant_source_is_the_greatest_that_is_known():
    assert dominant_source({"lens": 0.1, "scene": 0.2, "timing": float("nan")}) == "scene"
    assert dominant_source({"lens": 0.0, "scene": 0.0}) is None
    assert dominant_source({}) is None
    assert root_sum_of_squares({"lens": 3.0, "scene": 4.0, "own": float("nan")}) == 5.0

"""The truth of a hard clip says what makes it hard, and where its pictures show the marks."""

import numpy as np
import pytest

from sample_clips.render.framing import camera_of
from sample_clips.render.hard_truth import camera_of_difficulty, difficulty_of, marks_of
from sample_clips.render.sets import table
from sample_clips.render.shaking import shake_of

CLIPS = {clip.hardship.name: clip for clip in table("hard", 1) if clip.move == "throwback_pass"}
ROWS = np.arange(0, 960, 16)


def test_clips_of_the_other_sets_say_nothing_of_difficulty():
    clip = table("sample")[0]
    assert difficulty_of(clip) == {}
    assert camera_of_difficulty(clip, camera_of(clip), None, ROWS) == {}


@pytest.mark.parametrize("name", CLIPS)
def test_the_difficulty_is_named_with_its_values_alone(name):
    found = difficulty_of(CLIPS[name])["difficulty"]
    values = {
        "plain": set(),
        "other_body": set(),
        "compression": set(),
        "distortion": set(),
        "motion_blur": {"exposure_s"},
        "rolling_shutter": {"readout_s"},
        "shake": {"drift_deg", "tremor_deg"},
        "low_light": {"light", "grain", "most_mbit_s"},
        "portrait": {"stored_turn_deg"},
        "uneven_times": {"dropped_share"},
        "passer_by": {"passes_before_players"},
    }
    assert found.keys() - {"name", "crf"} == values[name]
    assert found["name"] == name


def test_each_frame_of_a_shaken_clip_has_its_own_rotation_and_the_first_one_that_of_the_camera():
    clip = CLIPS["shake"]
    camera = camera_of(clip)
    turns = shake_of(960, 0.8, 0.04, np.random.default_rng(4))
    rotations = np.array(
        camera_of_difficulty(clip, camera, turns, ROWS)["rotations_camera_from_field"]
    )
    assert rotations.shape == (len(ROWS), 3, 3)
    np.testing.assert_allclose(rotations[0], camera.rotation, atol=1e-8)
    np.testing.assert_allclose(rotations[30], turns[ROWS[30]] @ camera.rotation, atol=1e-8)


def test_marks_seen_through_a_lens_are_where_the_stated_coefficients_put_them():
    clip = CLIPS["distortion"]
    camera = camera_of(clip)
    k1, k2, p1, p2 = camera_of_difficulty(clip, camera, None, ROWS)["distortion"]
    assert (p1, p2) == (0.0, 0.0)
    for mark in marks_of(clip, camera):
        seen = camera.rotation @ (np.array(mark["field_m"]) - camera.position_m)
        x, y = seen[:2] / seen[2]
        grow = 1 + k1 * (x**2 + y**2) + k2 * (x**2 + y**2) ** 2
        px = camera.matrix @ [x * grow, y * grow, 1.0]
        np.testing.assert_allclose(mark["image_px"], px[:2], atol=1e-3)

"""The committed sample clips and their truth agree with each other and with the definitions."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
import tomllib

SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips"
TRUTHS = sorted(SAMPLES.glob("*.truth.json"))
THROWS = ("high_to_low_shot", "throwback_pass")


FOUND = [json.loads(path.read_text()) for path in TRUTHS]


def each(*moves):
    """Run a test on every sample, or on those of some moves alone."""
    chosen = [t for t in FOUND if not moves or t["move"] in moves]
    return pytest.mark.parametrize("truth", chosen, ids=[t["clip"] for t in chosen])


class Player:
    """Joints of one person over time, read at any instant."""

    def __init__(self, truth, role="athlete"):
        person = truth["people"][role]
        self.time_s = np.array(truth["frame_times_s"])
        self.names = person["joints"]
        self.joints_m = np.array(person["joints_field_m"])
        self.stature_m = person["stature_m"]

    def path(self, *names):
        return np.mean([self.joints_m[:, self.names.index(name)] for name in names], axis=0)

    def at(self, path, instant_s):
        return np.array([np.interp(instant_s, self.time_s, column) for column in path.T])

    def mid_foot(self):
        return self.path("left_heel", "left_toe", "right_heel", "right_toe")[:, :2]


def test_the_samples_cover_the_moves_the_hands_the_levels_and_the_frame_rates():
    assert {t["move"] for t in FOUND} == {*THROWS, "close_gap_dodge"}
    assert {t["stick_hand"] for t in FOUND} == {"left", "right"}
    assert {t["level"] for t in FOUND} >= {"adult", "youth"}
    assert {t["fps"] for t in FOUND} >= {30, 60}


@each()
def test_everything_says_that_it_is_invented(truth):
    side = tomllib.loads((SAMPLES / truth["clip"].replace(".mp4", ".clip.toml")).read_text())
    assert truth["invented"] is True
    assert side["invented"] is True
    assert side["stature_m"] == truth["stature_m"]
    assert side["move"] == truth["move"]
    assert "stick_hand" not in side


@each()
def test_the_film_has_the_size_and_the_frame_times_of_the_truth(truth):
    path = SAMPLES / truth["clip"]
    assert path.stat().st_size < 3_000_000
    with av.open(str(path)) as film:
        stream = film.streams.video[0]
        assert [stream.width, stream.height] == truth["size_px"]
        times_s = sorted(
            float(p.pts * p.time_base) for p in film.demux(stream) if p.pts is not None
        )
    np.testing.assert_allclose(times_s, truth["frame_times_s"], atol=2e-4)


@each()
def test_the_camera_sees_the_marks_where_the_truth_says(truth):
    camera = truth["camera"]
    matrix = np.array(camera["matrix"])
    rotation = np.array(camera["rotation_camera_from_field"])
    np.testing.assert_allclose(rotation @ rotation.T, np.eye(3), atol=1e-8)
    assert np.linalg.det(rotation) > 0
    assert len(truth["ground_marks"]) >= 4
    for mark in truth["ground_marks"]:
        x, y, depth = (
            matrix @ rotation @ (np.array(mark["field_m"]) - np.array(camera["position_field_m"]))
        )
        np.testing.assert_allclose([x / depth, y / depth], mark["image_px"], atol=0.02)


@each()
def test_both_players_stay_in_the_picture_during_the_reps(truth):
    camera = truth["camera"]
    matrix = np.array(camera["matrix"])
    rotation = np.array(camera["rotation_camera_from_field"])
    for role in truth["people"]:
        player = Player(truth, role)
        body = player.joints_m[:, [n != "stick_head" for n in player.names]]
        image = (body - camera["position_field_m"]) @ (matrix @ rotation).T
        px = image[..., :2] / image[..., 2:]
        for rep in truth["reps"]:
            during = (player.time_s >= rep["start_s"]) & (player.time_s <= rep["stop_s"])
            assert (px[during] > 0).all()
            assert (px[during] < truth["size_px"]).all()


@each()
def test_bones_keep_their_length(truth):
    for role in truth["people"]:
        player = Player(truth, role)
        for side in ("left", "right"):
            for a, b in (
                ("hip", "knee"),
                ("knee", "ankle"),
                ("shoulder", "elbow"),
                ("elbow", "wrist"),
            ):
                bone = player.path(f"{side}_{a}") - player.path(f"{side}_{b}")
                length_m = np.linalg.norm(bone, axis=1)
                assert np.ptp(length_m) < 3e-4


@each("throwback_pass")
def test_the_foot_that_lands_last_before_a_throw_stands_still_until_then(truth):
    player = Player(truth)
    for rep in truth["reps"]:
        last_s, release_s = (rep["events"][e]["time_s"] for e in ("last_contact", "release"))
        landings = truth["people"]["athlete"]["landings_s"]
        foot = min(("left", "right"), key=lambda f: np.abs(np.array(landings[f]) - last_s).min())
        standing = (player.time_s > last_s + 0.02) & (player.time_s < release_s)
        assert np.ptp(player.path(f"{foot}_toe")[standing], axis=0).max() < 0.001


@each()
def test_events_are_in_order_and_reps_follow_each_other(truth):
    assert 3 <= len(truth["reps"]) <= 5
    for rep in truth["reps"]:
        order = ("start", "hands_high", "plant", "last_contact", "release", "finish")
        times_s = [rep["events"][e]["time_s"] for e in order if e in rep["events"]]
        assert times_s == sorted(times_s)
        assert (rep["start_s"], rep["stop_s"]) == (times_s[0], times_s[-1])
    for before, after in pairwise(truth["reps"]):
        assert before["stop_s"] < after["start_s"]


@each("high_to_low_shot")
def test_heights_of_the_top_hand_can_be_read_from_the_joints(truth):
    player = Player(truth)
    hand = player.path(f"{truth['stick_hand']}_hand")
    for rep in truth["reps"]:
        release_s = rep["events"]["release"]["time_s"]
        before = (player.time_s >= rep["start_s"]) & (player.time_s <= release_s - 0.05)
        measures = rep["measures"]
        greatest_m = hand[before, 2].max()
        at_release_m = player.at(hand, release_s)[2]
        assert measures["hand_height_before_release_m"] == pytest.approx(greatest_m, abs=0.01)
        assert measures["release_height_m"] == pytest.approx(at_release_m, abs=0.02)
        assert measures["hand_drop_m"] == pytest.approx(
            measures["hand_height_before_release_m"] - measures["release_height_m"], abs=2e-4
        )


@each(*THROWS)
def test_the_release_is_the_fastest_moment_of_the_throw(truth):
    player = Player(truth)
    relative = player.path(f"{truth['stick_hand']}_hand") - player.path("left_hip", "right_hip")
    speed_mps = np.linalg.norm(np.gradient(relative, player.time_s, axis=0), axis=1)
    for rep in truth["reps"]:
        release_s = rep["events"]["release"]["time_s"]
        near = np.flatnonzero(np.abs(player.time_s - release_s) < 0.25)
        fastest_s = player.time_s[near[speed_mps[near].argmax()]]
        assert abs(fastest_s - release_s) <= 1.5 / truth["fps"]
        assert 6.0 < speed_mps[near].max() < 14.0


@each("throwback_pass")
def test_the_step_back_can_be_read_from_the_feet(truth):
    player = Player(truth)
    feet, hips = player.mid_foot(), player.path("left_hip", "right_hip")[:, :2]
    for rep in truth["reps"]:
        plant_s, last_s = (rep["events"][e]["time_s"] for e in ("plant", "last_contact"))
        run = player.at(hips, plant_s) - player.at(hips, plant_s - 0.5)
        step = player.at(feet, last_s) - player.at(feet, plant_s)
        back_m = -step @ run / np.linalg.norm(run)
        assert rep["measures"]["step_back_m"] == pytest.approx(back_m, abs=0.03)
        assert rep["measures"]["steps_back"] == 1


@each("close_gap_dodge")
def test_the_cushion_can_be_read_from_both_players_feet(truth):
    own, other = Player(truth), Player(truth, "defender")
    hips = own.path("left_hip", "right_hip")[:, :2]
    for rep in truth["reps"]:
        cut_s = rep["events"]["dodge_start"]["time_s"]
        apart = own.at(own.mid_foot(), cut_s) - other.at(other.mid_foot(), cut_s)
        assert rep["measures"]["cushion_m"] == pytest.approx(np.linalg.norm(apart), abs=0.03)
        before = own.at(hips, cut_s) - own.at(hips, cut_s - 0.2)
        after = own.at(hips, cut_s + 0.4) - own.at(hips, cut_s + 0.2)
        cosine = before @ after / np.linalg.norm(before) / np.linalg.norm(after)
        assert np.degrees(np.arccos(cosine)) > 30

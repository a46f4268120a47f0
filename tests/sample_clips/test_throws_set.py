"""Drawn clips of the throws: what the choreography promises can be read off the skeleton."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_clips.render import moves_set
from sample_clips.render.skeleton import skeleton

pytestmark = pytest.mark.slow


THROWS = ("low_to_high_shot", "on_the_run_shot", "step_down_shot", "pivot_throwback_pass")


def short(entry, **changes):
    return replace(entry, order=replace(entry.order, n_reps=2, **changes))


@pytest.fixture(scope="module")
def thrown():
    """Return two reps of every throw with either hand."""
    return {
        (move, hand): skeleton(short(moves_set.draw_clip(move, 5, 1), stick_hand=hand))
        for move in THROWS
        for hand in ("left", "right")
    }


def at(clip, path, instant_s):
    return np.array([np.interp(instant_s, clip.time_s, column) for column in path.T])


def middle(clip, part):
    return (clip.joints_m[f"left_{part}"] + clip.joints_m[f"right_{part}"]) / 2


def each_rep(thrown, *moves):
    for (move, hand), clip in thrown.items():
        if move in (moves or THROWS):
            for rep in clip.truth["reps"]:
                yield clip, hand, rep, {k: v["time_s"] for k, v in rep["events"].items()}


def test_events_are_in_order_and_the_release_is_the_fastest_moment_near_it(thrown):
    for clip, hand, rep, events in each_rep(thrown):
        assert list(events.values()) == sorted(events.values())
        assert rep["stick_hand"] == hand
        relative = clip.joints_m[f"{hand}_hand"] - middle(clip, "hip")
        mps = np.linalg.norm(np.gradient(relative, clip.time_s, axis=0), axis=1)
        near = np.flatnonzero(np.abs(clip.time_s - events["release"]) < 0.1)
        assert abs(clip.time_s[near[mps[near].argmax()]] - events["release"]) < 0.025
        assert mps[near].max() > 5.0


def test_the_low_fake_dips_under_where_the_hands_are_before_and_lifts_again(thrown):
    for clip, hand, rep, events in each_rep(thrown, "low_to_high_shot"):
        height_m = clip.joints_m[f"{hand}_hand"][:, 2:]
        low_m, high_m, out_m = (
            float(at(clip, height_m, events[e])[0]) for e in ("hands_low", "hands_high", "release")
        )
        hip_m = at(clip, middle(clip, "hip"), events["hands_low"])[2]
        measures = rep["measures"]
        assert measures["hand_dip_m"] == pytest.approx(hip_m - low_m, abs=0.01)
        assert measures["hand_lift_m"] == pytest.approx(high_m - low_m, abs=0.02)
        assert out_m > low_m + 0.15 * clip.truth["stature_m"]
        assert measures["fake_to_release_s"] == pytest.approx(
            events["release"] - events["hands_low"], abs=2e-5
        )


def test_a_shot_on_the_run_is_taken_running_and_a_step_down_shot_is_not(thrown):
    for _, _, rep, _ in each_rep(thrown, "on_the_run_shot"):
        assert rep["measures"]["hips_at_release_mps"] > 1.5
    for _, _, rep, _ in each_rep(thrown, "step_down_shot"):
        assert rep["measures"]["hips_at_release_mps"] < 1.0
        assert rep["measures"]["separation_deg"] > 25


def test_the_angle_to_the_goal_is_that_between_the_posts_seen_from_mid_foot(thrown):
    for clip, _, rep, events in each_rep(thrown, "on_the_run_shot", "step_down_shot"):
        feet = (middle(clip, "heel") + middle(clip, "toe")) / 2
        x, y = at(clip, feet, events["release"])[:2]
        posts = np.arctan2(-y, np.array([0.9144, -0.9144]) - x)
        apart = abs((posts[0] - posts[1] + np.pi) % (2 * np.pi) - np.pi)
        assert rep["measures"]["shot_angle_deg"] == pytest.approx(np.degrees(apart), abs=0.2)


def test_a_pivot_turns_far_on_a_foot_that_stays_and_retreats_before_the_throw(thrown):
    for clip, _, rep, events in each_rep(thrown, "pivot_throwback_pass"):
        measures = rep["measures"]
        assert measures["turn_away_deg"] > 80
        assert measures["step_back_m"] > 0.2
        assert measures["pivot_line_offset_m"] < 0.5
        window = (clip.time_s > events["plant"] + 0.05) & (clip.time_s < events["plant"] + 0.3)
        still_m = [
            np.ptp(clip.joints_m[f"{s}_toe"][window, :2], axis=0).max() for s in ("left", "right")
        ]
        assert min(still_m) < 0.12


@pytest.mark.parametrize("move", THROWS)
def test_the_mirrored_clip_with_the_other_hand_has_the_same_measures(move):
    entry = short(moves_set.draw_clip(move, 6, 1), stick_hand="right")
    x, y = entry.order.place_m
    other = short(entry, stick_hand="left", place_m=(-x, y), yaw_deg=180 - entry.order.yaw_deg)
    own, mirrored = (skeleton(e).truth["reps"] for e in (entry, other))
    for a, b in zip(own, mirrored, strict=True):
        for name, value in a["measures"].items():
            assert b["measures"][name] == pytest.approx(value, rel=0.03, abs=0.03), name

"""Drawn clips of every move: what the choreography promises can be read off the skeleton."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from sample_clips.render import moves_set
from sample_clips.render.grips import hand_shares
from sample_clips.render.moves.foreign import KINDS
from sample_clips.render.sets import table
from sample_clips.render.skeleton import skeleton
from sample_clips.render.tracks import Facing, HandChange, Plan, heading_of

pytestmark = pytest.mark.slow


DODGES = ("split_dodge", "angle_cut_dodge", "roll_dodge", "hesitation_dodge")


def short(entry, n_reps, *, defended=None):
    """Return an entry with fewer reps, and with or without its defender."""
    defended = entry.order.defended if defended is None else defended
    order = replace(entry.order, n_reps=n_reps, defended=defended)
    defender = (entry.defender or entry.athlete) if defended else None
    return replace(entry, order=order, defender=defender)


@pytest.fixture(scope="module")
def danced():
    """Return two reps of every dodge, one clip alone and one against a defender."""
    return {
        (move, defended): skeleton(
            short(moves_set.draw_clip(move, 5, 1 + defended), 2, defended=defended)
        )
        for move in DODGES
        for defended in (False, True)
    }


def middle(joints, part):
    return (joints[f"left_{part}"] + joints[f"right_{part}"]) / 2


def test_a_seed_decides_the_clips_and_every_move_and_kind_is_drawn():
    clips = table("moves", 3)
    assert clips == table("moves", 3)
    assert clips != table("moves", 4)
    assert {clip.move for clip in clips} == {*moves_set.MOVES_OF_SET, "unknown"}
    assert {clip.order.kind for clip in clips if clip.move == "unknown"} == set(KINDS)
    assert len({clip.name for clip in clips}) == len(clips)
    for clip in clips:
        assert clip.order.defended == (clip.defender is not None)
        assert clip.view.distance_m <= moves_set.DISTANCE_M[1]


def test_a_move_more_in_the_table_leaves_the_clips_of_the_others_as_they_are(monkeypatch):
    before = moves_set.draw_clip("split_dodge", 3, 1)
    more = {"another": moves_set.OfSet(), **moves_set.MOVES_OF_SET}
    monkeypatch.setattr(moves_set, "MOVES_OF_SET", more)
    assert moves_set.draw_clip("split_dodge", 3, 1) == before


def test_reps_are_in_order_and_their_events_too(danced):
    for clip in danced.values():
        reps = clip.truth["reps"]
        assert len(reps) == 2
        for rep in reps:
            times_s = [event["time_s"] for event in rep["events"].values()]
            assert times_s == sorted(times_s)
            assert (rep["start_s"], rep["stop_s"]) == (times_s[0], times_s[-1])
        assert all(a["stop_s"] < b["start_s"] for a, b in pairwise(reps))


def test_a_rep_starts_from_quiet_stance_and_the_body_runs_within_it(danced):
    for clip in danced.values():
        hips = middle(clip.joints_m, "hip")
        pace = np.linalg.norm(np.gradient(hips[:, :2], clip.time_s, axis=0), axis=1)
        for rep in clip.truth["reps"]:
            assert np.interp(rep["start_s"], clip.time_s, pace) < 0.35
            inside = (clip.time_s > rep["start_s"]) & (clip.time_s < rep["stop_s"])
            assert pace[inside].max() > 2.0


def test_the_players_keep_apart_and_a_defender_brings_a_cushion(danced):
    for (_, defended), clip in danced.items():
        assert (clip.defender_joints_m is not None) == defended
        for rep in clip.truth["reps"]:
            assert ("cushion_m" in rep["measures"]) == defended
        if clip.defender_joints_m is not None:
            own, other = (middle(j, "hip") for j in (clip.joints_m, clip.defender_joints_m))
            assert np.linalg.norm((own - other)[:, :2], axis=1).min() > 0.6


def test_bones_keep_their_length(danced):
    for clip in danced.values():
        for side in ("left", "right"):
            for a, b in (("hip", "knee"), ("knee", "ankle"), ("shoulder", "elbow")):
                bone = clip.joints_m[f"{side}_{a}"] - clip.joints_m[f"{side}_{b}"]
                assert np.ptp(np.linalg.norm(bone, axis=1)) < 1e-6


@pytest.mark.parametrize("defended", [False, True])
def test_in_a_split_the_hands_change_places_on_the_stick_during_the_rep(danced, defended):
    clip = danced["split_dodge", defended]
    shaft = clip.joints_m["stick_head"] - clip.joints_m["left_hand"]
    above = clip.joints_m["left_hand"] - clip.joints_m["right_hand"]
    left_on_top = np.einsum("ij,ij->i", above, shaft) > 0
    for rep in clip.truth["reps"]:
        switched_s = rep["events"]["hands_switched"]["time_s"]
        before = np.searchsorted(clip.time_s, rep["start_s"])
        after = np.searchsorted(clip.time_s, rep["stop_s"])
        assert left_on_top[before] == (rep["stick_hand"] == "left")
        assert left_on_top[after] != left_on_top[before]
        flip = before + int(np.flatnonzero(left_on_top[before:after] != left_on_top[before])[0])
        assert 0 <= switched_s - clip.time_s[flip] < 0.2
        measures = rep["measures"]
        assert measures["hand_switch_s"] == pytest.approx(
            switched_s - rep["events"]["plant"]["time_s"], abs=2e-5
        )
        assert measures["jab_width_m"] > 0.12 * clip.truth["stature_m"]


@pytest.mark.parametrize("move", ["angle_cut_dodge", "roll_dodge", "hesitation_dodge"])
def test_in_the_other_dodges_the_hands_stay_where_they_are(danced, move):
    for defended in (False, True):
        joints = danced[move, defended].joints_m
        side = danced[move, defended].truth["stick_hand"]
        other = "left" if side == "right" else "right"
        head = joints["stick_head"]
        near, far = (np.linalg.norm(head - joints[f"{s}_hand"], axis=1) for s in (side, other))
        assert (near < far).all()


@pytest.mark.parametrize("move", ["split_dodge", "angle_cut_dodge"])
def test_the_path_turns_by_the_angle_of_the_cut(danced, move):
    for defended in (False, True):
        clip = danced[move, defended]
        hips = middle(clip.joints_m, "hip")[:, :2]
        for rep in clip.truth["reps"]:
            plant_s = rep["events"]["plant"]["time_s"]
            a, b, c, d = (
                np.array([np.interp(plant_s + t, clip.time_s, x) for x in hips.T])
                for t in (-0.2, 0.0, 0.3, 0.5)
            )
            cosine = (b - a) @ (d - c) / np.linalg.norm(b - a) / np.linalg.norm(d - c)
            angle_deg = np.degrees(np.arccos(cosine))
            assert rep["measures"]["cut_angle_deg"] == pytest.approx(angle_deg, abs=2)
            assert angle_deg > 40


@pytest.mark.parametrize("defended", [False, True])
def test_a_roll_turns_the_pelvis_most_of_the_way_round_about_a_standing_foot(danced, defended):
    clip = danced["roll_dodge", defended]
    across = (clip.joints_m["left_hip"] - clip.joints_m["right_hip"])[:, :2]
    course = np.unwrap(np.arctan2(across[:, 1], across[:, 0]))
    for rep in clip.truth["reps"]:
        plant_s, end_s = (rep["events"][e]["time_s"] for e in ("plant", "roll_end"))
        turned_deg = np.degrees(np.interp(end_s, clip.time_s, course)) - np.degrees(
            np.interp(plant_s, clip.time_s, course)
        )
        measures = rep["measures"]
        assert 225 < abs(turned_deg) <= measures["roll_turn_deg"] + 1
        assert 250 < measures["roll_turn_deg"] < 360
        assert measures["pivot_drift_m"] < 0.3
        assert measures["n_rolls"] in (1, 2)


@pytest.mark.parametrize("defended", [False, True])
def test_a_hesitation_drops_to_its_slowest_and_comes_up_again(danced, defended):
    clip = danced["hesitation_dodge", defended]
    hips = middle(clip.joints_m, "hip")[:, :2]
    pace = np.linalg.norm(np.gradient(hips, clip.time_s, axis=0), axis=1)
    for rep in clip.truth["reps"]:
        measures, slowest_s = rep["measures"], rep["events"]["slowest"]["time_s"]
        low = np.interp(slowest_s, clip.time_s, pace) / measures["approach_speed_mps"]
        assert measures["hitch_drop_ratio"] == pytest.approx(low, abs=0.03)
        assert measures["hitch_drop_ratio"] < 0.5
        assert 0.2 < measures["hitch_s"] < 0.8
        assert measures["speed_kept_ratio"] > 0.9


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_move_that_is_never_taught_is_a_burst_out_of_quiet_stance_and_says_its_kind(kind):
    entry = moves_set.draw_clip("unknown", 7, 1, kind)
    clip = skeleton(short(entry, 1))
    (rep,) = clip.truth["reps"]
    assert (rep["move"], rep["foreign"], rep["measures"]) == ("unknown", kind, {})
    hand = clip.joints_m[f"{clip.truth['stick_hand']}_hand"] - middle(clip.joints_m, "hip")
    speed_mps = np.linalg.norm(np.gradient(hand, clip.time_s, axis=0), axis=1)
    inside = (clip.time_s > rep["start_s"]) & (clip.time_s < rep["stop_s"])
    assert np.interp(rep["start_s"], clip.time_s, speed_mps) < 0.35
    assert speed_mps[inside].max() > 1.0
    assert 0.5 < rep["stop_s"] - rep["start_s"] < 9.0


def test_an_order_of_an_unknown_kind_is_refused():
    entry = moves_set.draw_clip("unknown", 7, 1, "bat_swing")
    with pytest.raises(ValueError, match=r"Allowed are .*burpees"):
        skeleton(replace(entry, order=replace(entry.order, kind="cartwheel")))


def test_a_frame_rate_off_the_grid_is_refused():
    with pytest.raises(ValueError, match="must divide 480"):
        skeleton(moves_set.draw_clip("unknown", 7, 1, "bat_swing"), frame_hz=50)


def test_hands_change_places_and_change_back():
    time_s = np.array([0.0, 1.0, 1.5, 2.5, 3.0])
    changes = [HandChange(start_s=0.5, stop_s=1.5), HandChange(start_s=2.0, stop_s=3.0)]
    first, second = hand_shares(changes, time_s)
    np.testing.assert_allclose(first[[0, 2, 4]], [1, 0, 1])
    np.testing.assert_allclose(second[[0, 2, 4]], [0, 1, 0])
    assert first[1] > 0.5
    assert second[1] > 0.5


def test_a_turn_by_an_angle_may_be_more_than_half_round():
    time_s = np.arange(0, 3, 1 / 480)
    plan = Plan(facing=[Facing(0.0, 0.3), Facing(1.0, None, over_s=0.8, turn_rad=-5.0)])
    heading = heading_of(plan, time_s, np.zeros((len(time_s), 2)))
    assert heading[0] == pytest.approx(0.3)
    assert heading[-1] == pytest.approx(0.3 - 5.0)

"""Findings on stick figures that are filmed well, and then in each of the wrong ways."""

import json
from dataclasses import replace

import numpy as np
import pytest

from pipeline.film_check.check import check_film
from pipeline.film_check.facts import people_of, throw_view_deg
from pipeline.film_check.finding import (
    CheckRequest,
    Finding,
    finding_lines,
    heading,
    keys_read_from,
    verdict_of,
)
from pipeline.film_check.samples import as_arrays, from_arrays
from pipeline.measures import MEASURES, measures_of
from tests.fixtures.looks import GOOD, cropped, looks_at
from tests.fixtures.players import defender, dodger, frames_s, shooter
from tests.fixtures.walker import STATURE_M, camera_at, walker_joints_m

SHOT = CheckRequest(move="high_to_low_shot", stature_m=STATURE_M)
DODGE = CheckRequest(move="close_gap_dodge", stature_m=STATURE_M)
THROWBACK = CheckRequest(move="throwback_pass", stature_m=STATURE_M)


def shots(**changes):
    return looks_at(shooter(frames_s(8.0), (2.0, 5.0)).joints_m, **changes)


def dodges(**changes):
    time_s = frames_s(14.0)
    return looks_at(dodger(time_s).joints_m, defender(time_s).joints_m, **changes)


def walks(direction_deg, **changes):
    return looks_at(walker_joints_m(frames_s(2.5), direction_deg), **changes)


def found(samples, asked):
    findings = {finding.key: finding for finding in check_film(samples, asked)}
    for finding in findings.values():
        assert finding.sentence.endswith(".")
        assert bool(finding.what_to_do) >= finding.limits
        assert {*finding.missing, *finding.unsure} <= set(MEASURES)
    return findings


def limits(samples, asked):
    return {key: f.verdict for key, f in found(samples, asked).items() if f.limits}


@pytest.mark.parametrize(("samples", "asked"), [(shots(), SHOT), (dodges(), DODGE)])
def test_good_film_is_fine(samples, asked):
    assert limits(samples, asked) == {}


def test_nobody_in_the_film_is_said_and_everything_is_at_stake():
    samples = looks_at()
    person = found(samples, SHOT)["person"]
    assert person.verdict == "will not do"
    assert (person.sentence.key, dict(person.sentence.values)) == (
        "check.found_nobody",
        {"looks": 6},
    )
    assert set(person.missing) == {info.key for info in measures_of("high_to_low_shot")}
    on_side = found(replace(samples, lies_on_side=True), SHOT)["person"]
    assert "Turn the film upright" in on_side.what_to_do


def test_an_athlete_who_is_often_out_of_sight_is_said():
    samples = shots()
    looks = [replace(k, bodies=()) if i % 2 else k for i, k in enumerate(samples.looks)]
    assert limits(replace(samples, looks=tuple(looks)), SHOT) == {"person": "could be better"}


@pytest.mark.parametrize(
    ("away_m", "verdict"), [(7.0, None), (30.0, "could be better"), (55.0, "will not do")]
)
def test_the_height_of_the_athlete_and_his_distance_are_told(away_m, verdict):
    joints_m = shooter(frames_s(8.0), ()).joints_m + np.array([0.0, away_m - 7.0, 0.0])
    size = found(looks_at(joints_m), SHOT)["size"]
    assert size.verdict == (verdict or "fine")
    focal_px = float(camera_at()["focal_px"])
    told_px = float(size.sentence.split("about ")[1].split()[0])
    assert told_px == pytest.approx(focal_px * STATURE_M / away_m, rel=0.06)
    assert f"{away_m:.0f} m away" in size.sentence or f"{away_m + 1:.0f} m away" in size.sentence
    if verdict:
        assert f"to some {away_m * told_px / 100:.0f}" in size.what_to_do
        unknown = found(looks_at(joints_m), replace(SHOT, stature_m=None))["size"]
        assert f"to {told_px / 100:.0%} of the distance" in unknown.what_to_do


def lowest(samples, part):
    rows = {"knee": [25, 26], "nose": [0], "toe": [31, 32]}[part]
    return int(np.median([body.image_px[rows, 1] for k in samples.looks for body in k.bodies]))


def test_feet_cut_off_will_not_do():
    samples = shots()
    cut = cropped(samples, height_px=lowest(samples, "knee"))
    feet = found(cut, SHOT)["feet_in_view"]
    assert feet.verdict == "will not do"
    assert "6 of 6 looks" in feet.sentence
    assert "hand_drop_m" in feet.missing


def test_a_head_cut_off_and_hands_without_room_are_said():
    samples = shots()
    top_px = lowest(samples, "nose") + 5
    assert limits(cropped(samples, top_px=top_px), SHOT)["head_in_view"] == "could be better"
    tight = cropped(samples, top_px=top_px - 60)
    assert "room for" in found(tight, SHOT)["hands_in_view"].sentence
    assert "hands_in_view" not in limits(tight, replace(SHOT, move="close_gap_dodge"))


@pytest.mark.parametrize(
    ("shift_px", "state"), [(2.0, "fine"), (80.0, "could be better"), (900.0, "will not do")]
)
def test_a_camera_that_moved_is_said(shift_px, state):
    samples = shots()
    shifts = samples.camera_shift_px + shift_px * (np.arange(6) % 2)[:, None, None]
    camera = found(replace(samples, camera_shift_px=shifts), SHOT)["camera_still"]
    assert camera.verdict == state


def test_a_background_that_tells_nothing_is_not_guessed():
    samples = shots()
    nothing = np.full_like(samples.camera_shift_px, np.nan)
    camera = found(replace(samples, camera_shift_px=nothing), SHOT)["camera_still"]
    assert camera.verdict == "not told"


@pytest.mark.parametrize("roll_deg", [-10.0, 10.0])
def test_a_slanted_phone_is_said_with_its_angle(roll_deg):
    level = found(shots(camera=camera_at(roll_deg=roll_deg)), SHOT)["level"]
    assert level.verdict == "could be better"
    assert float(level.sentence.split("lean ")[1].split()[0]) == pytest.approx(10.0, abs=3.0)


def test_a_body_that_leans_all_ways_tells_nothing_of_the_level():
    samples = shots()
    looks = []
    for number, look in enumerate(samples.looks):
        body = look.bodies[0]
        image_px = body.image_px.copy()
        image_px[11:13, 0] += 120.0 * (-1) ** number
        body = replace(body, pose=replace(body.pose, image_px=image_px))
        looks.append(replace(look, bodies=(body,)))
    assert found(replace(samples, looks=tuple(looks)), SHOT)["level"].verdict == "not told"


@pytest.mark.parametrize(
    ("changes", "key", "verdict"),
    [
        ({"brightness": 30.0}, "light", "could be better"),
        ({"brightness": 8.0}, "light", "will not do"),
        ({"white_share": 0.3}, "light", "could be better"),
        ({"white_share": 0.8}, "light", "will not do"),
        ({"contrast": 20.0}, "light", "could be better"),
        ({"noise": 12.0}, "light", "could be better"),
        ({"edge_px": 8.0}, "sharpness", "could be better"),
        ({"edge_px": 20.0}, "sharpness", "will not do"),
    ],
)
def test_light_and_blur_are_said(changes, key, verdict):
    assert limits(shots(quality=replace(GOOD, **changes)), SHOT) == {key: verdict}


def test_film_against_the_light_is_said():
    samples = shots(quality=replace(GOOD, brightness=35.0))
    looks = tuple(replace(k, quality=replace(GOOD, brightness=180.0)) for k in samples.looks)
    light = found(replace(samples, looks=looks), SHOT)["light"]
    assert "against the light" in light.sentence


@pytest.mark.parametrize(
    ("direction_deg", "angle_deg", "verdict"),
    [(0.0, 90, "fine"), (50.0, 40, "fine"), (90.0, 0, "could be better")],
)
def test_the_line_of_a_run_is_told_against_the_line_of_sight(direction_deg, angle_deg, verdict):
    view = found(walks(direction_deg), THROWBACK)["view"]
    assert view.verdict == verdict
    assert float(view.sentence.split("about ")[1].split()[0]) == pytest.approx(angle_deg, abs=8)
    assert ("step_back_m" in view.unsure) == (verdict != "fine")


@pytest.mark.parametrize("hand", ["left", "right"])
def test_the_line_of_a_throw_mirrors_with_the_hand(hand):
    person = people_of(looks_at(shooter(frames_s(8.0), (), hand).joints_m))[0]
    assert 0.0 <= throw_view_deg(person) <= 90.0


def test_someone_who_stands_tells_no_line_of_a_run():
    assert found(shots(), THROWBACK)["view"].verdict == "not told"


def test_without_a_move_the_view_is_not_told():
    view = found(shots(), CheckRequest())["view"]
    assert (view.verdict, view.what_to_do) == ("not told", "Give it with --move.")


def test_a_dodge_without_a_defender_is_said():
    alone = looks_at(dodger(frames_s(14.0)).joints_m)
    people = found(alone, DODGE)["people"]
    assert people.verdict == "could be better"
    assert "cushion_m" in people.missing


def test_someone_in_front_of_a_thrower_is_said_and_the_mover_is_the_athlete():
    time_s = frames_s(14.0)
    thrower = shooter(time_s, ()).joints_m
    near = thrower + np.array([0.1, -0.5, 0.0])
    front = found(looks_at(thrower, near), SHOT)["people"]
    assert "touches or covers" in front.sentence
    two = looks_at(thrower, thrower + np.array([2.5, 0.0, 0.0]))
    beside = found(two, SHOT)["people"]
    assert "--athlete-at" in beside.what_to_do
    named = replace(SHOT, athlete_at=(960.0, 600.0))
    assert found(two, named)["people"].verdict == "fine"
    runner = people_of(dodges())[0]
    assert runner.bodies[0].colour[1] > 0  # the red one, who runs


@pytest.mark.parametrize(("asked", "verdict"), [(SHOT, "fine"), (DODGE, "could be better")])
def test_a_phone_held_upright_suits_a_shot_and_not_a_run(asked, verdict):
    samples = replace(shots(), width_px=1080, height_px=1920)
    assert found(samples, asked)["orientation"].verdict == verdict


def test_samples_come_back_from_a_file_as_they_were(tmp_path):
    samples = dodges()
    np.savez(tmp_path / "kept.npz", **as_arrays(samples))
    with np.load(tmp_path / "kept.npz", allow_pickle=False) as kept:
        again = from_arrays(dict(kept))
    assert check_film(again, DODGE) == check_film(samples, DODGE)
    assert from_arrays(as_arrays(looks_at())).looks[0].bodies == ()


def test_findings_are_told_in_lines_that_fit_and_as_plain_data():
    findings = check_film(cropped(dodges(rate_hz=30.0), height_px=500), DODGE)
    lines = [heading("my.mp4", findings), *finding_lines(findings)]
    assert max(map(len, lines)) <= 100
    assert "could be better" in lines[0]
    assert "Not to be had: " in " ".join(lines)
    plain = json.loads(json.dumps([finding.as_dict() for finding in findings]))
    assert {entry["verdict"] for entry in plain} >= {"fine", "will not do"}


def test_a_note_holds_the_number_the_advice_and_the_stake():
    finding = Finding("x", "could be better", "It is 3.", "Make it 4.", unsure=("cushion_m",))
    assert finding.note == ("It is 3. Make it 4. Less sure: cushion to the defender, feet to feet.")


@pytest.mark.parametrize(
    ("value", "word"), [(2, "fine"), (1.5, "could be better"), (1, "will not do")]
)
def test_a_number_is_held_against_good_and_enough(value, word):
    assert verdict_of(value, better=2.0, enough=1.2) == word
    assert verdict_of(-value, better=-2.0, enough=-1.2) == word


def test_what_is_at_stake_is_named_by_keys_of_the_table():
    assert keys_read_from("throwback_pass", "defender") == ()
    assert set(keys_read_from(None, "defender")) < set(keys_read_from(None, "run"))
    assert set(keys_read_from(None, "release")) < set(keys_read_from(None, "hands"))

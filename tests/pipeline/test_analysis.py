"""From tracks to results: the three moves end to end on stick figures, and what limits a film."""

import json
import math
import sys
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from calibration.lens_profile import distort_px
from calibration.turned_view import moved_points, turned
from pipeline.analysis import analyse_clip, analyse_tracks, write_analysis
from pipeline.core.errors import LensProfileError, SettingsError, UnreadableClip
from pipeline.core.files import VARIABLE
from pipeline.core.types import JOINTS, LANDMARKS, Clip
from pipeline.film import container
from pipeline.film.camera_motion import anchors_px
from pipeline.film_check.finding import Finding
from pipeline.report.page import render_page
from pipeline.report.pictures.key_frames import drawn_measures, key_frame, rep_marks
from pipeline.report.results import SCHEMA_PATH, reps_json
from pipeline.settings.settings import AnalysisSettings
from pipeline.targets.load import SHIPPED_TARGETS, load_targets
from tests.fixtures.lenses import phone
from tests.fixtures.players import (
    CUT_S,
    LAST_CONTACT_S,
    PLANT_S,
    RELEASE_WITHIN_S,
    SECOND_CUT_S,
    defender,
    dodger,
    frames_s,
    passer,
    shooter,
)
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, together, tracks_of


def clip_of(time_s, **changes):
    clip = Clip(
        path=Path("invented.mp4"),
        digest="0" * 64,
        width_px=SIZE_PX[0],
        height_px=SIZE_PX[1],
        rotation_deg=0,
        mirrored=False,
        time_s=time_s,
    )
    return replace(clip, **changes)


def analyse(
    move,
    *players,
    clip=None,
    camera=None,
    change=lambda tracks: tracks,
    profile=None,
    findings=(),
    targets=None,
    **settings,
):
    time_s = players[0].time_s
    tracks = together(
        *(tracks_of(player.joints_m, camera or camera_at(), 1.1) for player in players)
    )
    return analyse_tracks(
        clip or clip_of(time_s),
        change(tracks),
        AnalysisSettings(stature_m=STATURE_M, move=move, **settings),
        targets or load_targets(None),
        profile,
        findings=findings,
    )


def instants_s(analysis, event):
    return [result.rep.events[event].time_s for result in analysis.reps]


def inside(measurement, truth):
    low, high = measurement.interval95
    return low <= truth <= high


@pytest.mark.slow
@pytest.mark.parametrize("hand", ["left", "right"])
def test_shots_from_the_picture_to_the_numbers(hand):
    player = shooter(frames_s(8.0), (2.0, 5.0), hand)
    analysis = analyse("high_to_low_shot", player)
    assert instants_s(analysis, "release") == pytest.approx([2.0, 5.0], abs=RELEASE_WITHIN_S)
    column = 0 if hand == "left" else 1
    height_m = player.signals().hand_height_m[:, column]
    for result, release in zip(analysis.reps, (120, 300), strict=True):
        assert result.rep.stick_hand == hand
        assert inside(result.measurements["release_height_m"], height_m[release])
        highest_m = height_m[release - 60 : release].max()
        assert inside(result.measurements["hand_height_before_release_m"], highest_m)
        assert result.verdicts
        assert {verdict.key for verdict in result.verdicts} <= set(result.measurements)
        assert result.feedback
    assert analysis.scene.grade == "B"
    assert analysis.notes == ()
    (move,) = analysis.session.moves
    assert (move.move, move.n_reps) == ("high_to_low_shot", 2)
    assert analysis.session.sentences
    assert [caution.key for caution in analysis.cautions] == ["load"]


@pytest.mark.slow
def test_a_throwback_from_the_picture_to_the_numbers():
    player = passer(frames_s(6.5))
    analysis = analyse("throwback_pass", player, camera=camera_at(pitch_deg=6.0, height_m=1.5))
    assert instants_s(analysis, "plant") == pytest.approx([PLANT_S], abs=0.05)
    assert instants_s(analysis, "last_contact") == pytest.approx([LAST_CONTACT_S], abs=0.05)
    feet = player.signals().foot_m[..., 0].mean(axis=1)
    back_m = feet[round(60 * PLANT_S)] - feet[round(60 * LAST_CONTACT_S)]
    results = analysis.reps[0].measurements
    assert inside(results["step_back_m"], back_m)
    assert results["steps_back"].value == 1.0
    (mark,) = rep_marks(analysis, analysis.reps[0], key_frame(analysis.reps[0]))
    assert (mark.kind, mark.text.startswith("step back: ")) == ("step", True)
    assert drawn_measures(analysis.scene, analysis.reps[0])[0].key == "step_back_m"
    assert inside(results["plant_to_release_s"], 0.9)


@pytest.mark.slow
def test_dodges_from_the_picture_to_the_numbers():
    time_s = frames_s(14.0)
    attacker, other = dodger(time_s), defender(time_s)
    analysis = analyse("close_gap_dodge", attacker, other)
    assert instants_s(analysis, "dodge_start") == pytest.approx([CUT_S, SECOND_CUT_S], abs=0.05)
    ends = [player.signals().foot_m[120, ..., :2].mean(axis=0) for player in (attacker, other)]
    results = analysis.reps[0].measurements
    assert "not scorable" in " ".join(analysis.notes)
    assert inside(results["cushion_m"], np.linalg.norm(ends[0] - ends[1]))
    assert results["approach_speed_mps"].value == pytest.approx(4.0, abs=0.4)
    cushion, arm = rep_marks(analysis, analysis.reps[0], key_frame(analysis.reps[0]))
    assert (cushion.kind, arm.kind) == ("ground", "span")
    # The arm lies beside the line, nearer to the camera, and starts at the defender.
    assert arm.start_px[1] > cushion.stop_px[1]
    long_px = [math.dist(mark.start_px, mark.stop_px) for mark in (arm, cushion)]
    share = results["defender_arm_length_m"].value / results["cushion_m"].value
    assert long_px[0] / long_px[1] == pytest.approx(share, rel=0.15)
    # From above both people are where the cushion has them.
    ground = analysis.reps[0].ground
    apart_m = [
        np.linalg.norm(ground.athlete.hips_m[frame] - ground.defender.hips_m[frame])
        for frame in [np.argmin(np.abs(ground.athlete.time_s - CUT_S))]
    ]
    assert apart_m[0] == pytest.approx(results["cushion_m"].value, abs=0.5)


@pytest.mark.slow
def test_the_stick_hand_and_the_athlete_choose_the_ranges(tmp_path):
    path = tmp_path / "targets.toml"
    path.write_text(
        'set_by = "a coach"\nwhy = "practice"\n'
        "[high_to_low_shot.any.left.hand_drop_m]\nlow_of_arm = 0.5\n"
        "[athlete.Seven.high_to_low_shot.any.hands_high_hold_s]\nno_range = true\n"
    )
    player = shooter(frames_s(3.0), (2.0,), "left")

    def ranges(**settings):
        analysis = analyse("high_to_low_shot", player, targets=load_targets(path), **settings)
        (result,) = analysis.reps
        document = as_written(analysis)
        assert document["clip"]["ranges"]["source"] == "coach"
        assert document["clip"]["athlete"] == settings.get("athlete")
        return {verdict.key: verdict.target for verdict in result.verdicts if verdict.target}

    anyone, seven = ranges(), ranges(athlete="seven")
    drop = anyone["hand_drop_m"]
    assert drop.low == pytest.approx(0.5 * 0.452 * STATURE_M)
    assert drop.u_low > 0.0
    assert ranges(arm_length_m=0.8)["hand_drop_m"].low == 0.4
    assert "hands_high_hold_s" in anyone
    assert "hands_high_hold_s" not in seven
    assert seven["hand_drop_m"] == drop


@pytest.mark.slow
def test_a_cushion_may_be_held_against_the_defender_s_arm(tmp_path):
    path = tmp_path / "targets.toml"
    path.write_text(
        'set_by = "a coach"\nwhy = "practice"\n'
        "[close_gap_dodge.any.cushion_m]\nlow_of_arm = 1.0\nhigh_of_arm = 1.4\n"
    )
    time_s = frames_s(14.0)
    analysis = analyse(
        "close_gap_dodge", dodger(time_s), defender(time_s), targets=load_targets(path),
        level="adult",
    )  # fmt: skip
    for result in analysis.reps:
        arm_m = result.measurements["defender_arm_length_m"].value
        verdicts = {verdict.key: verdict for verdict in result.verdicts}
        target = verdicts["cushion_m"].target
        assert (target.low, target.high) == pytest.approx((arm_m, 1.4 * arm_m))
        # The same question as that of the ratio, so about the same answer.
        assert verdicts["cushion_m"].probability_inside == pytest.approx(
            verdicts["cushion_arm_ratio"].probability_inside, abs=0.15
        )


def test_bounds_that_contradict_each_other_for_a_body_are_told_before_the_film_is_opened(tmp_path):
    path = tmp_path / "targets.toml"
    path.write_text(
        'set_by = "a coach"\nwhy = "practice"\n'
        "[throwback_pass.any.step_back_m]\nlow_m = 0.8\nhigh_of_stature = 0.5\n"
        "[athlete.Other.throwback_pass.any.step_back_m]\nlow_m = 0.85\n"
    )
    given = {"move": "throwback_pass", "targets_path": path}
    with pytest.raises(SettingsError, match=r"targets\.toml, line 3.*0\.5 of stature"):
        analyse_clip(
            tmp_path / "none.mp4", AnalysisSettings(stature_m=1.5, **given), cache_dir=tmp_path
        )
    with pytest.raises(UnreadableClip):
        analyse_clip(
            tmp_path / "none.mp4", AnalysisSettings(stature_m=1.65, **given), cache_dir=tmp_path
        )


def test_the_ranges_of_the_data_folder_are_used_unless_others_are_named(tmp_path, monkeypatch):
    (tmp_path / "targets.toml").write_text("nonsense = 1\n")
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    settings = AnalysisSettings(stature_m=1.8, move="throwback_pass")
    with pytest.raises(SettingsError, match=r"targets\.toml, line 1"):
        analyse_clip(tmp_path / "none.mp4", settings, cache_dir=tmp_path)
    named = replace(settings, targets_path=SHIPPED_TARGETS)
    with pytest.raises(UnreadableClip):
        analyse_clip(tmp_path / "none.mp4", named, cache_dir=tmp_path)


@pytest.mark.slow
def test_the_digest_of_a_film_is_computed_once_in_a_run(write_film, tmp_path, monkeypatch):
    """The pose model is left out, which reads no bytes of the file itself."""
    player = passer(frames_s(6.0))
    grey = [np.full((48, 64, 3), 90, np.uint8)] * len(player.time_s)
    film, digested = write_film(pictures=grey), []

    def counted(path):
        digested.append(path)
        return container.file_digest(path)

    def follow(reader, model, **options):
        assert len(list(reader)) == len(player.time_s)
        return tracks_of(player.joints_m, camera_at(), 1.1)

    for module in list(sys.modules.values()):
        if module is not container and hasattr(module, "file_digest"):
            monkeypatch.setattr(module, "file_digest", counted)
    monkeypatch.setattr("pipeline.people.landmarks.PoseModel", lambda path: None)
    monkeypatch.setattr("pipeline.people.landmarks.follow_people", follow)
    monkeypatch.setattr("pipeline.analysis.read_film_samples", lambda path, **options: None)
    monkeypatch.setattr("pipeline.analysis.check_film", lambda samples, asked: ())
    settings = AnalysisSettings(stature_m=STATURE_M, move="throwback_pass")
    cache = tmp_path / "cache"
    analysis = analyse_clip(film, settings, cache_dir=cache)
    write_analysis(analysis, tmp_path / "out", settings=settings, cache_dir=cache)
    assert digested.count(film) == 1
    assert analysis.clip.digest == container.file_digest(film)


@pytest.mark.slow
def test_the_same_film_gives_the_same_numbers_twice():
    player = shooter(frames_s(3.0), (2.0,))
    first, again = (analyse("high_to_low_shot", player) for _ in range(2))
    for key, measurement in first.reps[0].measurements.items():
        assert again.reps[0].measurements[key].interval95 == measurement.interval95
    assert first.reps[0].feedback == again.reps[0].feedback


def as_written(analysis):
    document = json.loads(reps_json(analysis))
    jsonschema.validate(document, json.loads(SCHEMA_PATH.read_text(encoding="utf-8")))
    return document


@pytest.mark.slow
@pytest.mark.parametrize(
    ("move", "players"),
    [
        ("high_to_low_shot", (shooter(frames_s(3.0), (2.0,)),)),
        ("throwback_pass", (passer(frames_s(4.0)),)),
        ("close_gap_dodge", (dodger(frames_s(4.0)), defender(frames_s(4.0)))),
    ],
    ids=["shot", "throwback", "dodge"],
)
def test_an_explained_analysis_has_the_same_numbers_and_says_where_they_come_from(move, players):
    plain, explained = (as_written(analyse(move, *players, explain=e)) for e in (False, True))
    added = ("sources", "root_sum_of_squares", "dominant")
    n_explained = 0
    for rep in explained["reps"]:
        for measure in rep["measures"].values():
            assert ("sources" in measure) == (measure["value"] is not None)
            if "sources" in measure:
                n_explained += 1
                parts = {name: part["u"] for name, part in measure["sources"].items()}
                greatest = max(parts, key=parts.get)
                assert measure["dominant"] == (greatest if parts[greatest] else None)
                assert measure["root_sum_of_squares"] == pytest.approx(measure["u"], rel=0.2)
            for name in added:
                measure.pop(name, None)
    assert n_explained > 3
    assert explained == plain


@pytest.mark.slow
def test_an_explained_report_says_what_would_help():
    player = passer(frames_s(4.0))
    plain, explained = (
        render_page(analyse("throwback_pass", player, explain=e), {}) for e in (False, True)
    )
    assert "What makes these numbers unsure" in explained
    assert "comes from the instants: film 60 frames a second or more, from the side." in explained
    assert "unsure</summary>" not in plain


def test_what_was_not_asked_to_be_explained_takes_no_time(monkeypatch):
    def never(*_, **__):
        pytest.fail("explained without being asked")

    monkeypatch.setattr("pipeline.analysis.explained_rep", never)
    assert analyse("high_to_low_shot", shooter(frames_s(3.0), (2.0,))).reps


def test_a_film_without_a_rep_says_so():
    analysis = analyse("high_to_low_shot", shooter(frames_s(3.0), ()))
    assert analysis.reps == ()
    assert "No rep of this move" in " ".join(analysis.notes)


def test_a_film_without_anybody_says_so_and_does_not_stumble():
    def empty(tracks):
        nan = np.full_like(tracks.image_px, np.nan)
        return replace(
            tracks,
            image_px=nan,
            world_m=np.full_like(tracks.world_m, np.nan),
            visibility=np.full_like(tracks.visibility, np.nan),
        )

    for move in ("high_to_low_shot", "throwback_pass", "close_gap_dodge"):
        analysis = analyse(move, shooter(frames_s(3.0), (2.0,)), change=empty)
        assert analysis.reps == ()
        assert "Nobody was found" in " ".join(analysis.notes)
        assert analysis.scene.grade == "C"


@pytest.mark.parametrize("n_frames", [1, 2, 5])
def test_a_film_of_hardly_a_frame_does_not_stumble(n_frames):
    analysis = analyse("throwback_pass", shooter(frames_s(n_frames / 60), ()))
    assert analysis.reps == ()
    assert analysis.notes


def test_without_the_ground_reps_are_found_and_heights_are_above_the_own_foot():
    def covered(tracks):
        return replace(tracks, overlapped=np.ones_like(tracks.overlapped))

    player = shooter(frames_s(8.0), (2.0, 5.0))
    analysis = analyse("high_to_low_shot", player, change=covered)
    assert analysis.scene.grade == "C"
    assert "grade C" in " ".join(analysis.scene.notes)
    assert "Ground distances could not be measured" in " ".join(analysis.notes)
    assert rep_marks(analysis, analysis.reps[0], 0) == []
    height_m = player.signals().hand_height_m[:, 1]
    assert len(analysis.reps) == 2
    for result, release in zip(analysis.reps, (120, 300), strict=True):
        assert inside(result.measurements["release_height_m"], height_m[release])
        highest_m = height_m[release - 60 : release].max()
        assert inside(result.measurements["hand_height_before_release_m"], highest_m)
        assert result.measurements["hand_height_before_release_m"].u < 0.08
        assert result.measurements["top_hand_speed_mps"].value is None


def held_in_the_hand(tracks, time_s, pan_px=0.0, misfit_px=0.5):
    """The same film from a phone that turns by some degrees, with its background followed."""
    drift = np.stack([20 * np.sin(2.0 * time_s), 12 * np.sin(3.1 * time_s)], axis=-1)
    drift[:, 0] += pan_px * time_s / time_s[-1]
    roll, rest = 0.01 * np.sin(1.7 * time_s), np.zeros_like(time_s)
    turns = np.column_stack([drift, roll, rest, rest + 1.0])
    focal_px, middle_px = float(camera_at()["focal_px"]), 0.5 * np.array(SIZE_PX)
    to_film = turned(turns, focal_px, middle_px)
    anchors = anchors_px(SIZE_PX)
    return replace(
        tracks,
        image_px=moved_points(to_film[None], tracks.image_px.astype(float)).astype(np.float32),
        camera_shift_px=(moved_points(to_film, anchors) - anchors).astype(np.float32),
        camera_misfit_px=np.full(time_s.size, misfit_px, np.float32),
    )


@pytest.mark.slow
def test_film_from_the_hand_gives_what_film_from_a_stand_gives():
    time_s = frames_s(14.0)
    players = dodger(time_s), defender(time_s)
    still = analyse("close_gap_dodge", *players)
    shaken = analyse("close_gap_dodge", *players, change=lambda t: held_in_the_hand(t, time_s))
    assert (still.scene.grade, shaken.scene.grade) == ("B", "B")
    assert "steadied by its background" in " ".join(shaken.scene.notes)
    assert len(shaken.reps) == len(still.reps) == 2
    for steady, other in zip(still.reps, shaken.reps, strict=True):
        for key in ("cushion_m", "approach_speed_mps"):
            expected, found = steady.measurements[key], other.measurements[key]
            assert found.value == pytest.approx(expected.value, abs=0.25 * expected.u)
            assert found.u > 0.98 * expected.u
    # Pictures are drawn where the film shows the people, not where a still camera would.
    held = held_in_the_hand(together(*(tracks_of(p.joints_m, camera_at(), 1.1) for p in players)),
                            time_s)  # fmt: skip
    hips = JOINTS.index("left_hip")
    on_film_px = held.image_px[0, :, LANDMARKS.index("left_hip")]
    assert np.nanmax(np.abs(shaken.tracks.image_px[0, :, hips] - on_film_px)) < 6.0
    mark, still_mark = (
        rep_marks(each, each.reps[0], key_frame(each.reps[0]))[0] for each in (shaken, still)
    )
    expected_px = moved_points(
        shaken.to_film[shaken.reps[0].rep.events["dodge_start"].frame],
        np.array([still_mark.start_px]),
    )
    assert mark.start_px == pytest.approx(expected_px[0].tolist(), abs=3.0)


def test_a_phone_that_is_carried_along_gives_no_distances_but_reps_and_times():
    player = passer(frames_s(6.5))
    analysis = analyse(
        "throwback_pass",
        player,
        camera=camera_at(pitch_deg=6.0, height_m=1.5),
        change=lambda tracks: held_in_the_hand(tracks, player.time_s, misfit_px=9.0),
    )
    assert analysis.scene.grade == "C"
    assert "carried along" in " ".join(analysis.notes)
    results = analysis.reps[0].measurements
    for key in ("step_back_m", "plant_to_release_s"):  # the plant is told by the way on the ground
        assert "carried along" in results[key].reason
    assert results["turn_away_deg"].value is not None
    assert results["release_height_m"].value is not None


def test_lost_frames_are_told():
    def lost(tracks):
        image_px = tracks.image_px.copy()
        image_px[:, :40] = np.nan
        return replace(tracks, image_px=image_px)

    time_s = frames_s(4.0, 30.0)
    clip = clip_of(time_s, n_undecoded=7)
    notes = " ".join(
        analyse("high_to_low_shot", shooter(time_s, (3.0,)), clip=clip, change=lost).notes
    )
    assert "67%" in notes
    assert "7 frames of the file could not be read" in notes


def test_what_the_film_check_found_is_noted_once():
    rate = Finding("frame_rate", "could be better", "30 frames a second.", "Film at 60.")
    fine = Finding("light", "fine", "Bright.")
    camera = Finding("camera_still", "will not do", "It moved in the looks.", "Use a tripod.")
    nobody = Finding("person", "will not do", "Nobody.", "Film from nearer.")
    player = shooter(frames_s(3.0), (2.0,))
    analysis = analyse("high_to_low_shot", player, findings=(rate, fine, camera, nobody))
    assert analysis.notes == (rate.note,)  # all frames tell better of camera and person


def test_where_nobody_was_found_the_advice_of_the_film_check_is_noted():
    def nobody(tracks):
        return replace(tracks, image_px=np.full_like(tracks.image_px, np.nan))

    finding = Finding("person", "will not do", "Nobody.", "Turn the film upright.")
    player = shooter(frames_s(3.0), ())
    (note,) = analyse("throwback_pass", player, change=nobody, findings=(finding,)).notes
    assert note.endswith("nothing could be measured. Turn the film upright.")


@pytest.mark.slow
@pytest.mark.parametrize(("aside_px", "is_told"), [(0.0, False), (40.0, False), (400.0, True)])
def test_that_nobody_was_found_at_the_place_pointed_at_is_told(aside_px, is_told):
    player = shooter(frames_s(3.0), (2.0,))
    hips = tracks_of(player.joints_m, camera_at(), 1.1).image_px[0, 0, 23]
    place = (float(hips[0]) + aside_px, float(hips[1]))
    notes = " ".join(analyse("high_to_low_shot", player, athlete_at=place).notes)
    assert ("Nobody was found at the place" in notes) == is_told


def test_a_hand_that_was_told_is_kept():
    analysis = analyse("high_to_low_shot", shooter(frames_s(3.0), (2.0,)), stick_hand="right")
    assert [result.rep.stick_hand for result in analysis.reps] == ["right"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("move", "player", "from_s", "to_s"),
    [
        ("high_to_low_shot", shooter(frames_s(3.0), (2.0,)), 1.3, 1.95),
        ("throwback_pass", passer(frames_s(4.0)), LAST_CONTACT_S - 0.05, LAST_CONTACT_S + 0.05),
    ],
    ids=["shot", "throwback"],
)
def test_a_reps_picture_is_taken_at_its_key_event_or_in_its_middle(move, player, from_s, to_s):
    (result,) = analyse(move, player).reps
    assert from_s <= key_frame(result) / 60 <= to_s
    bare = replace(result, rep=replace(result.rep, events={}))
    assert key_frame(bare) == (result.rep.start_frame + result.rep.stop_frame) // 2


WIDE = camera_at(view_deg=75.0)
BENDING = phone(
    focal_px=(float(WIDE["focal_px"]), 1.002 * float(WIDE["focal_px"])),
    principal_px=(990.0, 515.0),
    distortion=(-0.12, 0.03, 0.004, -0.004),
)
"""A lens that sees wider than a typical phone's and bends more."""


PINHOLE = phone(
    focal_px=(float(WIDE["focal_px"]),) * 2, principal_px=(960.0, 540.0), distortion=(0.0,) * 4
)


def on_the_film_px(straight_px):
    """Where that lens puts points that the camera without distortion sees."""
    slope = (straight_px - WIDE["principal_px"]) / WIDE["focal_px"]
    return distort_px(BENDING, slope * BENDING.straight_focal_px + np.array(BENDING.principal_px))


def through_the_lens(tracks):
    return replace(tracks, image_px=np.float32(on_the_film_px(tracks.image_px)))


def aslant(player, angle_deg=60.0):
    """The same player on a way that leads off into the depth of the picture."""
    middle_m, (sin, cos) = np.array([0.0, 8.0, 0.0]), (np.sin, np.cos)
    angle = np.radians(angle_deg)
    turn = np.array([[cos(angle), -sin(angle), 0], [sin(angle), cos(angle), 0], [0, 0, 1]])
    return replace(player, joints_m=(player.joints_m - middle_m) @ turn.T + middle_m)


@pytest.mark.slow
def test_a_lens_profile_sets_distances_in_depth_right():
    time_s = frames_s(14.0)
    players = aslant(dodger(time_s)), aslant(defender(time_s))
    feet_m = [player.signals().foot_m[120, ..., :2].mean(axis=0) for player in players]
    truth_m = np.linalg.norm(feet_m[0] - feet_m[1])

    def measured(profile):
        analysis = analyse(
            "close_gap_dodge", *players, camera=WIDE, change=through_the_lens, profile=profile
        )
        return analysis, analysis.reps[0].measurements

    (known, with_lens), (_, without) = measured(BENDING), measured(None)
    assert with_lens["cushion_m"].value == pytest.approx(truth_m, rel=0.03)
    assert with_lens["approach_speed_mps"].value == pytest.approx(4.0, rel=0.03)
    assert without["cushion_m"].value > 1.1 * truth_m
    assert known.scene.pitch_deg[0] == pytest.approx(4.0, abs=1.0)
    assert BENDING.name in " ".join(known.scene.notes)


@pytest.mark.slow
def test_what_the_lens_is_said_to_add_is_what_goes_away_when_it_is_measured():
    time_s = frames_s(4.0)
    players = aslant(dodger(time_s)), aslant(defender(time_s))
    focal_px = float(camera_at()["focal_px"])
    profile = phone(
        focal_px=(focal_px, focal_px), principal_px=(960.0, 540.0), distortion=(0.0,) * 4
    )
    key = "cushion_m"
    typical, measured = (
        analyse("close_gap_dodge", *players, profile=each, explain=True).reps[0].measurements[key]
        for each in (None, profile)
    )
    assert typical.sources["lens"] > 0.04
    assert measured.sources["lens"] < 0.1 * typical.sources["lens"]
    promised_u = (typical.u**2 - typical.sources["lens"] ** 2) ** 0.5
    # 200 draws know a standard deviation to 1 / sqrt(400): twice that is what chance may do.
    assert measured.u == pytest.approx(promised_u, rel=0.1)
    assert measured.u < 0.95 * typical.u


@pytest.mark.slow
def test_pictures_are_drawn_on_the_film_as_the_lens_bent_it():
    player = shooter(frames_s(4.0), (3.0,))
    player = replace(player, joints_m=player.joints_m + np.array([-3.0, 0.0, 0.0]))
    plain = analyse("high_to_low_shot", player, camera=WIDE, profile=PINHOLE)
    bent = analyse(
        "high_to_low_shot", player, camera=WIDE, change=through_the_lens, profile=BENDING
    )
    moved_px = on_the_film_px(plain.tracks.image_px)
    assert np.nanmax(np.abs(bent.tracks.image_px - moved_px)) < 0.5
    assert np.nanmax(np.abs(plain.tracks.image_px - moved_px)) > 20.0
    (mark,), (plain_mark,) = (
        rep_marks(each, each.reps[0], key_frame(each.reps[0])) for each in (bent, plain)
    )
    for end in ("start_px", "stop_px"):
        expected_px = on_the_film_px(np.array(getattr(plain_mark, end)))
        assert getattr(mark, end) == pytest.approx(expected_px, abs=1.0)


def test_a_lens_profile_of_another_picture_is_refused():
    player = shooter(frames_s(1.0), ())
    clip = clip_of(player.time_s, width_px=1440)
    with pytest.raises(LensProfileError, match="1440 x 1080"):
        analyse("high_to_low_shot", player, clip=clip, profile=BENDING)


def test_film_in_slow_motion_gives_no_times_until_its_true_rate_is_known():
    time_s = frames_s(4.0)
    players = (passer(time_s),)
    tracks = together(tracks_of(players[0].joints_m, camera_at(), 1.1))
    given = (clip_of(time_s), tracks)
    settings = AnalysisSettings(stature_m=STATURE_M, move="throwback_pass")
    slow = analyse_tracks(*given, settings, load_targets(None), captured_hz=240.0)
    told = analyse_tracks(
        *given, replace(settings, true_fps=60.0), load_targets(None), captured_hz=240.0
    )
    for analysis, known in ((slow, False), (told, True)):
        measured = analysis.reps[0].measurements
        assert (measured["plant_to_release_s"].value is not None) == known
        assert measured["step_back_m"].value is not None
        assert any("slow motion" in note for note in analysis.notes) != known

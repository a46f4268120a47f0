"""All measures of a rep, with draws, on players seen by a known camera."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from pipeline.core.types import Event, Rep
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.measuring import measure_one, measure_rep, rep_view
from pipeline.measures.view import DrawnValue
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import place_person
from pipeline.scene.from_athlete import find_scene
from tests.fixtures.players import frames_s, shooter
from tests.fixtures.walker import SIZE_PX, STATURE_M, camera_at, tracks_of

TIME_S = frames_s(3.0)
EVENTS_S = {"start": 0.9, "hands_high": 1.5, "release": 2.0, "finish": 2.1}
REP = Rep(
    index=1,
    start_s=0.9,
    stop_s=2.1,
    start_frame=54,
    stop_frame=127,
    move="high_to_low_shot",
    stick_hand="right",
    events={
        name: Event(time_s=at_s, frame=round(60 * at_s), u_s=0.008)
        for name, at_s in EVENTS_S.items()
    },
)


@pytest.fixture(scope="module")
def seen():
    """A shooter placed before a known camera, with the camera's draws."""
    camera = camera_at()
    tracks = smooth_tracks(tracks_of(shooter(TIME_S, (2.0,)).joints_m, camera, 1.1), TIME_S)
    scene = find_scene(tracks, size_px=SIZE_PX, stature_m=STATURE_M, fov_deg=65.0, seed=0)
    return place_person(tracks, 0, scene), scene


def measured(seen, rep=REP, *, seed=0, **changes):
    athlete, scene = seen
    return measure_rep(
        rep,
        athlete=athlete,
        defender=None,
        scene=replace(scene, **changes),
        time_s=TIME_S,
        seed=seed,
    )


def test_every_measure_of_the_move_is_there_in_the_order_of_the_table(seen):
    assert list(measured(seen)) == [info.key for info in measures_of("high_to_low_shot")]
    for key, result in measured(seen).items():
        assert result.key == key
        assert (result.value is None) == (result.reason is not None)


def test_the_truth_lies_in_the_stated_interval(seen):
    joints = shooter(TIME_S, (2.0,)).signals()
    height_m = joints.hand_height_m[:, 1]
    truth = {
        "hand_height_before_release_m": height_m[54:117].max(),
        "release_height_m": height_m[120],
        "hand_drop_m": height_m[54:117].max() - height_m[120],
        "fake_to_release_s": 0.5,
    }
    results = measured(seen)
    for key, value in truth.items():
        low, high = results[key].interval95
        assert low <= value <= high, key
        assert results[key].u > 0.0


def test_times_are_as_sure_as_their_events(seen):
    assert measured(seen)["fake_to_release_s"].u == pytest.approx(0.008 * 2**0.5, rel=0.2)


def test_frames_are_those_of_the_clip(seen):
    frames = measured(seen)["hand_height_before_release_m"].frames
    assert 54 <= frames[0] <= 55
    assert frames[-1] == 117


def test_in_grade_c_times_angles_and_heights_above_the_own_foot_are_left(seen):
    results = measured(seen, grade="C")
    assert "ground" in results["top_hand_speed_mps"].reason
    for key in ("fake_to_release_s", "elbow_at_release_deg", "separation_deg", "hand_drop_m"):
        assert results[key].value is not None


def test_heights_without_a_ground_need_feet_that_stand(seen):
    athlete, scene = seen
    in_the_air = replace(athlete, contact=np.zeros_like(athlete.contact))
    results = measured((in_the_air, scene), grade="C")
    for key in ("hand_height_before_release_m", "hand_drop_m", "release_height_m"):
        assert results[key].reason.key == "reasons.no_standing_feet"
    assert results["fake_to_release_s"].value is not None


def test_the_reason_for_a_missing_ground_is_that_of_the_scene(seen):
    results = measured(seen, grade="C", no_ground="the camera moved while filming")
    assert results["top_hand_speed_mps"].reason == "the camera moved while filming"


def test_a_hand_that_was_not_told_and_an_event_that_was_not_found_are_reasons(seen):
    results = measured(seen, replace(REP, stick_hand=None))
    assert "which hand" in results["release_height_m"].reason
    assert results["trunk_lean_deg"].value is not None
    events = {name: event for name, event in REP.events.items() if name != "hands_high"}
    results = measured(seen, replace(REP, events=events))
    assert "hands high" in results["fake_to_release_s"].reason
    assert results["release_height_m"].value is not None


def test_the_same_seed_gives_the_same_numbers(seen):
    first, again, other = (measured(seen, seed=seed)["hand_drop_m"] for seed in (3, 3, 4))
    assert first.u == again.u
    assert first.interval95 == again.interval95
    assert first.u != other.u
    assert first.value == other.value


def test_everyone_is_seen_over_the_rep_and_a_margin_and_best_estimates_come_first(seen):
    athlete, scene = seen
    view = rep_view(
        REP, athlete=athlete, defender=athlete, scene=scene, time_s=TIME_S, seed=0
    )  # fmt: skip
    assert view.athlete.time_s[0] == pytest.approx(REP.start_s - 0.2, abs=0.02)
    assert view.athlete.time_s[-1] == pytest.approx(REP.stop_s + 0.2, abs=0.02)
    assert {name: draws[0] for name, draws in view.event_s.items()} == EVENTS_S
    assert view.event_s["release"][1:].std() == pytest.approx(0.008, rel=0.2)
    # Two people share the camera and not the errors of their joints.
    assert np.allclose(view.defender.joints_m[0], view.athlete.joints_m[0], atol=1e-5)
    assert not np.allclose(view.defender.joints_m[1], view.athlete.joints_m[1])


@pytest.mark.parametrize(
    ("key", "possible", "impossible"),
    [("pelvis_turn_speed_dps", 700.0, 7229.0), ("exit_speed_mps", 9.0, 14.0),
     ("top_hand_speed_mps", 20.0, 35.0)],
)  # fmt: skip
def test_what_no_athlete_reaches_is_refused(key, possible, impossible):
    view = SimpleNamespace(grade="B", athlete=SimpleNamespace(first_frame=0))

    def measured(value):
        info = replace(MEASURES[key], function=lambda _: DrawnValue(np.full(50, value)))
        return measure_one(info, view, None)

    assert measured(possible).value == possible
    assert measured(impossible).value is None
    assert "nobody reaches" in measured(impossible).reason

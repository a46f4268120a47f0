"""What a person puts right is measured with at once; undone, the numbers are exactly the old."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.analysis import find_reps
from pipeline.core.errors import ReviewError
from pipeline.core.types import JOINTS
from pipeline.measures.measuring import measure_rep
from pipeline.scene.placed_clip import place_people
from pipeline.web.review.film_times import tracks_on_film
from pipeline.web.review.remeasure import blend, marked_event, remeasure_rep, room_of, with_joints
from pipeline.web.review.rep_edits import RepEdit, edits_in_force, parse_edit, with_contacts
from tests.fixtures.players import defender, dodger, frames_s
from tests.fixtures.rep_films import SETTINGS, clip_of, shot_tracks
from tests.fixtures.walker import camera_at, together, tracks_of

pytestmark = pytest.mark.slow

TIME_S = frames_s(3.0)


@pytest.fixture(scope="module")
def placed():
    return place_people(clip_of(TIME_S), shot_tracks(TIME_S), SETTINGS, None, None)


@pytest.fixture(scope="module")
def rep(placed):
    (found,) = find_reps(placed.clip, placed.people, placed.scene, SETTINGS)
    return found


def moved(name, frame):
    return RepEdit(kind="event", name=name, frame=frame)


def numbers(measurements):
    return {key: (m.value, m.u, m.interval95, m.reason) for key, m in measurements.items()}


def test_a_release_that_is_a_frame_later_is_that_much_later_after_the_fake(placed, rep):
    frame = rep.events["release"].frame
    one, two = (
        remeasure_rep(placed, rep, [moved("release", f)], seed=0).measurements["fake_to_release_s"]
        for f in (frame - 1, frame)
    )
    assert two.value - one.value == pytest.approx(TIME_S[frame] - TIME_S[frame - 1], abs=1e-12)


def test_without_changes_the_numbers_are_those_of_the_analysis(placed, rep):
    measured = measure_rep(
        rep, athlete=placed.people[0], defender=None, scene=placed.scene, time_s=TIME_S, seed=0
    )
    again = remeasure_rep(placed, rep, [], seed=0)
    assert numbers(again.measurements) == numbers(measured)
    assert again.by_coach == frozenset()


def test_the_last_of_several_changes_of_an_event_holds(placed, rep):
    frame = rep.events["release"].frame
    changes = edits_in_force([moved("release", frame - 2), moved("release", frame - 1)])
    assert changes == (moved("release", frame - 1),)
    result = remeasure_rep(placed, rep, changes, seed=0)
    assert result.rep.events["release"].frame == frame - 1


def test_numbers_say_whether_they_rest_on_a_person(placed, rep):
    result = remeasure_rep(placed, rep, [moved("release", rep.events["release"].frame - 1)], seed=0)
    assert "fake_to_release_s" in result.by_coach
    assert "release_height_m" in result.by_coach
    assert "head_pitch_at_fake_deg" not in result.by_coach


def test_a_marked_event_is_known_to_half_a_frame():
    event = marked_event(TIME_S, 50)
    assert event.time_s == TIME_S[50]
    assert event.u_s == pytest.approx(0.5 / 60)


def test_a_marked_event_makes_a_time_surer(placed, rep):
    frames = {name: event.frame for name, event in rep.events.items()}
    changes = [moved("hands_high", frames["hands_high"]), moved("release", frames["release"])]
    before = remeasure_rep(placed, rep, [], seed=0).measurements["fake_to_release_s"]
    after = remeasure_rep(placed, rep, changes, seed=0).measurements["fake_to_release_s"]
    assert after.u < before.u
    assert after.u >= np.hypot(0.5 / 60, 0.5 / 60) * 0.8


@pytest.mark.parametrize(("name", "past"), [("release", "hands_high"), ("hands_high", "release")])
def test_events_do_not_change_places(placed, rep, name, past):
    beyond = rep.events[past].frame + (-1 if name == "release" else 1)
    with pytest.raises(ReviewError, match="change places"):
        remeasure_rep(placed, rep, [moved(name, beyond)], seed=0)


def test_the_start_of_a_dodge_and_its_plant_go_together_while_they_are_one():
    time_s = frames_s(7.0)
    players = (dodger(time_s), defender(time_s))
    tracks = together(*(tracks_of(player.joints_m, camera_at(), 1.1) for player in players))
    told = replace(SETTINGS, move="close_gap_dodge")
    dodge = place_people(clip_of(time_s), tracks, told, None, None)
    found = find_reps(dodge.clip, dodge.people, dodge.scene, told)[0]
    frame = found.events["dodge_start"].frame
    assert found.events["plant"].frame == frame
    result = remeasure_rep(dodge, found, [moved("plant", frame - 2)], seed=0)
    events = result.rep.events
    assert events["plant"] == events["dodge_start"] == marked_event(time_s, frame - 2)
    assert "cushion_m" in result.by_coach


def test_an_event_that_the_rep_has_not_cannot_be_moved(placed, rep):
    with pytest.raises(ReviewError, match="no such event"):
        remeasure_rep(placed, rep, [moved("roll_end", 60)], seed=0)


@settings(max_examples=12, deadline=None)
@given(data=st.data())
def test_wherever_an_event_may_be_put_the_rep_can_be_measured(placed, rep, data):
    name = data.draw(st.sampled_from(sorted(rep.events)))
    first, last = room_of(rep, name, TIME_S)
    assert first <= rep.events[name].frame <= last
    frame = data.draw(st.integers(first, last))
    result = remeasure_rep(placed, rep, [moved(name, frame)], seed=0)
    order = [event.frame for event in result.rep.events.values()]
    assert order == sorted(order)
    assert result.rep.start_frame < result.rep.stop_frame


def test_a_joint_goes_where_it_is_put_and_its_neighbours_go_along(placed, rep):
    frame, joint = rep.events["release"].frame, JOINTS.index("right_wrist")
    was = tracks_on_film(placed, placed.smooth).image_px[0, :, joint]
    to = was[frame] + [12.0, -7.0]
    change = RepEdit(kind="joint", name="right_wrist", frame=frame, at_px=tuple(to.tolist()))
    smooth = with_joints(placed, [change])
    now = tracks_on_film(placed, smooth).image_px[0, :, joint]
    assert now[frame] == pytest.approx(to, abs=1e-3)
    share = blend(TIME_S, frame)
    assert now - was == pytest.approx(share[:, None] * np.array([12.0, -7.0]), abs=1e-3)
    others = np.delete(np.arange(len(JOINTS)), joint)
    assert np.array_equal(smooth.image_px[0][:, others], placed.smooth.image_px[0][:, others])
    assert np.array_equal(now[share == 0.0], was[share == 0.0])


def test_a_hand_that_is_put_higher_is_measured_higher(placed, rep):
    frame = rep.events["release"].frame
    at = tracks_on_film(placed, placed.smooth).image_px[0, frame, JOINTS.index("right_hand")]
    change = RepEdit(kind="joint", name="right_hand", frame=frame, at_px=(at[0], at[1] - 20.0))
    before = remeasure_rep(placed, rep, [], seed=0)
    after = remeasure_rep(placed, rep, [change], seed=0)
    key = "release_height_m"
    assert after.measurements[key].value > before.measurements[key].value + 0.03
    assert key in after.by_coach
    assert numbers(remeasure_rep(placed, rep, [], seed=0).measurements) == numbers(
        before.measurements
    )


def feet(*spans):
    contact = np.zeros((60, 2), bool)
    for foot, start, stop in spans:
        contact[start:stop, foot] = True
    return contact


def test_a_foot_lands_where_a_person_says():
    contact, landed = feet((0, 20, 40)), np.zeros((60, 2), bool)
    landed[20, 0] = True
    time_s = np.arange(60) / 60
    for frame in (15, 25):
        change = RepEdit(kind="lands", name="left", frame=frame)
        now, lands = with_contacts(contact, landed, [change], time_s)
        assert np.flatnonzero(now[:, 0]).tolist() == list(range(frame, 40))
        assert np.flatnonzero(lands[:, 0]).tolist() == [frame]
        assert not now[:, 1].any()
    change = RepEdit(kind="lands", name="right", frame=30)
    now, lands = with_contacts(contact, landed, [change], time_s)
    assert np.flatnonzero(now[:, 1]).tolist() == list(range(30, 37))
    assert np.array_equal(now[:, 0], contact[:, 0])


def test_a_foot_lifts_where_a_person_says():
    contact, landed = feet((1, 20, 40)), np.zeros((60, 2), bool)
    time_s = np.arange(60) / 60
    for frame in (35, 45):
        change = RepEdit(kind="lifts", name="right", frame=frame)
        now, _ = with_contacts(contact, landed, [change], time_s)
        assert np.flatnonzero(now[:, 1]).tolist() == list(range(20, frame))


@pytest.mark.parametrize(
    "table",
    [None, [], {}, {"kind": "event"}, {"kind": "x", "name": "release", "frame": 3},
     {"kind": "event", "name": "release", "frame": -1},
     {"kind": "event", "name": "release", "frame": 3.5},
     {"kind": "event", "name": "release", "frame": True},
     {"kind": "joint", "name": "tail", "frame": 3, "at_px": [1, 2]},
     {"kind": "joint", "name": "nose", "frame": 3, "at_px": [1]},
     {"kind": "joint", "name": "nose", "frame": 3, "at_px": [1, float("nan")]},
     {"kind": "joint", "name": "nose", "frame": 3, "at_px": [1, 10**400]},
     {"kind": "joint", "name": "nose", "frame": 3, "person": 2, "at_px": [1, 2]},
     {"kind": "lands", "name": "middle", "frame": 3}],
)  # fmt: skip
def test_what_is_no_change_is_refused(table):
    with pytest.raises(ReviewError, match="cannot be made"):
        parse_edit(table)

"""Few frames are computed where nothing happens, and every frame of whatever may be a rep."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from pipeline.film.clip import Frame
from pipeline.people.pose_model import Pose, PoseTracker
from pipeline.people.scout import Scout, Sighting, noise_between_looks
from pipeline.people.track import RawTrack
from pipeline.people.tracking import follow_people
from pipeline.people.windows import Ring
from tests.fixtures.standing import standing
from tests.pipeline.people.test_tracking import ScriptedModel, film

FPS = 30
BEGINS, ENDS = 75, 99
"""Frames of a throw: hands up and down again in 0.8 s, after 2.5 s of standing."""
N_FRAMES = 165


def thrower(index: int) -> dict[str, Pose]:
    part = np.clip((index - BEGINS) / (ENDS - BEGINS), 0.0, 1.0)
    return {"red": standing(300, 200, hands=0.4 * np.sin(np.pi * part) ** 2)}


def walker(index: int) -> dict[str, Pose]:
    """Walks at 1.3 m/s, a length of 120 px being 1.8 m, between 2 s and 3 s."""
    walked_px = 1.3 / 1.8 * 120 * np.clip(index / FPS - 2.0, 0.0, 1.0)
    return {"red": standing(200 + walked_px, 200)}


def follow(scene, n_frames=N_FRAMES, **options):
    frames = film(scene, n_frames, fps=FPS)
    return follow_people(frames, ScriptedModel(scene), **options)


@pytest.fixture(scope="module")
def throw():
    return follow(thrower, every_frame=False)


@pytest.fixture(scope="module")
def whole():
    return follow(thrower, every_frame=False, fill_between=True)


def test_every_frame_of_a_throw_is_computed_from_before_it_began(throw):
    assert throw.computed[BEGINS - FPS // 5 : ENDS + FPS // 5].all()
    assert throw.found[0][throw.computed].all()


def test_while_all_stand_a_few_frames_a_second_are_computed(throw):
    quiet = throw.computed[FPS : FPS * 2]
    assert 5 <= quiet.sum() <= 8
    assert throw.computed[[0, -1]].all()
    assert np.isnan(throw.image_px[:, ~throw.computed]).all()


def test_the_share_of_frames_that_were_computed_is_known(throw):
    assert throw.share_computed == pytest.approx(throw.computed.mean())
    assert throw.share_computed < 0.7
    assert follow(thrower, n_frames=20).share_computed == 1.0


def test_a_window_holds_the_same_landmarks_if_the_frames_between_are_filled_in(throw, whole):
    assert whole.found.all()
    inside = throw.computed
    np.testing.assert_array_equal(throw.image_px[:, inside], whole.image_px[:, inside])


def test_every_frame_is_computed_where_no_windows_are_requested():
    tracks = follow(thrower, n_frames=40)
    assert tracks.computed is None
    assert tracks.found.all()


def test_a_walk_at_a_slow_pace_is_computed_from_its_first_step_to_its_last():
    walk = follow(walker, n_frames=120, every_frame=False)
    assert walk.computed[2 * FPS : 3 * FPS].all()
    assert not walk.computed[FPS : 3 * FPS // 2].all()


def test_someone_who_comes_late_is_computed_soon():
    def scene(index):
        late = {"blue": standing(150, 200)} if index >= 60 else {}
        return {"red": standing(400, 200), **late}

    both = follow(scene, n_frames=160, every_frame=False)
    assert both.n_people == 2
    blue = both.found[1]
    first = int(np.flatnonzero(blue)[0])
    assert first < 60 + 2 * FPS
    assert blue[first : first + FPS // 4].all()


def test_someone_out_of_sight_is_looked_for_in_every_frame():
    def scene(index):
        return {} if 60 <= index < 75 else {"red": standing(300, 200)}

    tracks = follow(scene, n_frames=120, every_frame=False)
    assert tracks.computed[60:75].all()


def test_the_background_is_seen_alike_if_the_frames_between_are_filled_in(throw, whole):
    np.testing.assert_array_equal(throw.camera_shift_px, whole.camera_shift_px)


def sees(scout: Scout, time_s: float, pose: Pose, **facts: bool) -> bool:
    one = Sighting(0, pose, facts.get("found", True), facts.get("overlapped", False))
    return scout.sees_action(time_s, [one])


def quiet_scout() -> Scout:
    scout = Scout()
    for look in range(6):
        sees(scout, look / 6, standing(300, 200))
    assert not sees(scout, 1.0, standing(300, 200))
    return scout


@pytest.mark.parametrize("facts", [{"found": False}, {"overlapped": True}])
def test_whoever_is_not_tracked_for_sure_may_be_acting(facts):
    assert sees(quiet_scout(), 1.16, standing(300, 200), **facts)


def test_a_trunk_that_is_hardly_seen_may_be_acting():
    pose = standing(300, 200)
    doubtful = Pose(pose.image_px, pose.world_m, np.full(33, 0.3, np.float32))
    assert sees(quiet_scout(), 1.16, doubtful)


def test_a_first_sight_and_hands_above_the_shoulders_may_be_action():
    assert sees(Scout(), 0.0, standing(300, 200))
    scout = Scout()
    for look in range(8):
        raised = sees(scout, look / 6, standing(300, 200, hands=0.3))
    assert raised


def test_a_movement_too_slow_for_one_look_is_seen_over_several():
    scout = quiet_scout()
    seen = [sees(scout, 1.0 + k / 6, standing(300, 200, hands=0.02 * k)) for k in range(1, 6)]
    assert not seen[0]
    assert any(seen)


def test_after_going_back_later_looks_are_forgotten():
    scout = quiet_scout()
    sees(scout, 1.16, standing(300, 200, hands=0.3))
    scout.back_to(1.0)
    assert scout.looked_s == 1.0
    assert not sees(scout, 1.16, standing(300, 200))


def test_joints_are_less_sure_between_looks():
    time_s = np.arange(40) / 60
    computed = np.ones(40, bool)
    computed[11:20] = computed[21:30] = False
    gain, unseen = noise_between_looks(time_s, computed)
    np.testing.assert_allclose(gain[:10], 1.0)
    assert gain[15] == pytest.approx(10**0.375)
    np.testing.assert_allclose(unseen[computed], 0.0)
    assert unseen[15] == max(unseen)


def test_a_record_is_cut_back_to_a_mark():
    record = RawTrack()
    colour = np.zeros(3)
    for index in range(600):
        record.add(index, (standing(index, 200), colour), overlapped=index % 2 == 0)
        if index == 299:
            mark = record.mark
    record.cut_back(mark)
    record.add(300, (standing(7, 200), colour), overlapped=True)
    assert record.frames == list(range(301))
    assert record.overlapped == [*range(0, 300, 2), 300]
    assert len(record.rows()) == len(record.colours()) == 301
    assert record.rows()[-1, 23:25, 0].mean() == pytest.approx(7.0)


def test_a_tracker_that_is_not_used_any_more_is_kept_or_freed():
    freed = []
    task = SimpleNamespace(close=lambda: freed.append(1))
    kept = []
    PoseTracker(task, lambda tracker: bool(kept.append(tracker)) or True).close()
    assert len(kept) == 1
    assert not freed
    PoseTracker(task).close()
    assert freed


def frame(index: int) -> Frame:
    return Frame(index, index / FPS, np.zeros((10, 10, 3), np.uint8))


def test_the_ring_holds_no_more_than_its_reach_and_its_memory():
    ring = Ring(most_bytes=300 * 20)
    for index in range(200):
        ring.add(frame(index), reach_s=10.0)
        assert ring.n_bytes <= 300 * 20
    assert [one.index for one in ring.take_after(190)] == list(range(191, 200))
    for index in range(200, 400):
        ring.add(frame(index), reach_s=0.1)
    assert ring.first >= 393


def test_with_a_ring_too_short_to_reach_back_every_frame_is_computed():
    tracks = follow(thrower, n_frames=60, every_frame=False, most_ring_bytes=640 * 360 * 3 * 5)
    assert tracks.share_computed == 1.0


def test_with_a_short_ring_looks_come_more_often():
    n_bytes = 640 * 360 * 3 * 16
    tracks = follow(thrower, n_frames=75, every_frame=False, most_ring_bytes=n_bytes)
    assert 7 < tracks.computed[FPS : FPS * 2].sum() < FPS

"""Pieces of one person's track are joined; the athlete comes first, passers-by not at all."""

import numpy as np
import pytest

from pipeline.people.roles import choose_roles, movement, walks_through
from pipeline.people.track import CHUNK_POSES, RawTrack
from tests.fixtures.standing import standing

RED, BLUE = np.array([90.0, 150.0, 80.0]), np.array([90.0, 0.0, -150.0])
TIMES_S = np.arange(120) / 30


def track(frames, x_px, colour=RED, length_px=120.0, hands=0.0):
    record = RawTrack()
    for i in frames:
        raised = hands * np.sin(i / 2)
        record.add(i, (standing(x_px(i), 200, length_px, raised), colour), overlapped=False)
    return record


def still(x):
    return lambda i: x


def hips_x(tracks, person):
    return tracks.image_px[person][:, [23, 24], 0].mean(axis=1)


def test_pieces_of_one_person_are_joined():
    pieces = [track(range(50), still(300)), track(range(70, 120), still(320))]
    tracks = choose_roles(pieces, TIMES_S)
    assert tracks.n_people == 1
    np.testing.assert_array_equal(np.flatnonzero(~tracks.found[0]), np.arange(50, 70))


@pytest.mark.parametrize(
    "second",
    [
        track(range(70, 120), still(320), colour=BLUE),
        track(range(70, 120), still(320), length_px=230),
        track(range(60, 120), still(630)),
        track(range(40, 120), still(340)),
    ],
    ids=["other jersey", "other size", "too far", "at the same time"],
)
def test_pieces_of_two_people_are_not_joined(second):
    tracks = choose_roles([track(range(50), still(300)), second], TIMES_S)
    assert not (tracks.found[0, :40].all() and tracks.found[0, 80:].all())


def test_the_one_who_throws_is_the_athlete():
    thrower = track(range(120), still(300), hands=0.4)
    walker = track(range(120), lambda i: 420 + 0.1 * i, BLUE)
    tracks = choose_roles([walker, thrower], TIMES_S)
    assert hips_x(tracks, 0)[0] == pytest.approx(300)
    assert hips_x(tracks, 1)[0] == pytest.approx(420)


def test_a_passer_by_is_left_out_but_not_someone_who_comes_near():
    athlete = track(range(120), still(300), hands=0.4)
    far, near = track(range(15), still(620), BLUE), track(range(15), still(380), BLUE)
    assert choose_roles([athlete, far], TIMES_S).n_people == 1
    assert choose_roles([athlete, near], TIMES_S).n_people == 2


def test_of_three_the_nearest_is_the_defender():
    athlete = track(range(120), lambda i: 200 + 2 * i, hands=0.4)
    coach = track(range(120), still(20), BLUE)
    defender = track(range(120), still(430), BLUE)
    tracks = choose_roles([coach, athlete, defender], TIMES_S)
    assert tracks.n_people == 2
    assert hips_x(tracks, 1)[0] == pytest.approx(430)


def test_one_who_walks_through_is_not_the_athlete_but_alone_he_is():
    thrower = track(range(120), still(300), hands=0.15)
    walker = track(range(110), lambda i: 20 + 4 * i, BLUE, hands=0.3)
    assert hips_x(choose_roles([walker, thrower], TIMES_S), 0)[0] == pytest.approx(300)
    assert hips_x(choose_roles([walker], TIMES_S), 0)[0] == pytest.approx(20)


def test_one_who_runs_through_or_turns_back_may_be_the_athlete():
    runner = track(range(60), lambda i: 20 + 8 * i, BLUE)
    back = track(range(120), lambda i: 20 + 4 * (i if i < 60 else 120 - i), BLUE)
    assert not walks_through(runner.rows(), TIMES_S[:60])
    assert not walks_through(back.rows(), TIMES_S)
    assert walks_through(track(range(110), lambda i: 20 + 4 * i).rows(), TIMES_S[:110])


def test_one_who_only_crosses_before_the_athlete_is_not_the_defender():
    athlete = track(range(120), still(300), hands=0.4)
    defender = track(range(120), still(450), BLUE)
    crossing = track(range(30, 90), lambda i: 900 - 10 * i, RED, length_px=160.0)
    tracks = choose_roles([crossing, athlete, defender], TIMES_S)
    assert hips_x(tracks, 1)[0] == pytest.approx(450)


def test_a_piece_mixed_of_two_bodies_in_contact_is_not_the_defender():
    athlete = track(range(120), lambda i: 200 + 2 * i, hands=0.4)
    defender = track(range(120), still(480), BLUE)
    mix = track(range(80, 91), lambda i: 205 + 2 * i, BLUE)
    tracks = choose_roles([athlete, defender, mix], TIMES_S)
    assert hips_x(tracks, 1)[0] == pytest.approx(480)


def test_the_one_seen_longer_is_the_athlete_of_two_alike():
    whole = track(range(120), still(300), hands=0.4)
    half = track(range(60), still(480), BLUE, hands=0.4)
    assert hips_x(choose_roles([half, whole], TIMES_S), 0)[0] == pytest.approx(300)


def test_movement_is_in_body_lengths_a_second():
    walker = track(range(120), lambda i: 100 + 4 * i)
    assert movement(walker.rows(), TIMES_S) == pytest.approx(1.0, rel=0.15)
    assert movement(track(range(120), still(300)).rows(), TIMES_S) == pytest.approx(0, abs=1e-3)
    assert movement(track([3], still(300)).rows(), TIMES_S[:1]) == 0


def test_a_record_grows_over_its_chunks_and_holds_only_what_was_found():
    record = RawTrack()
    n_poses = CHUNK_POSES + 3
    record.add(0, None, overlapped=True)
    for i in range(n_poses):
        record.add(10 + 2 * i, (standing(300 + 0.1 * i, 200), RED), overlapped=False)
    rows = record.rows()
    assert rows.shape == (n_poses, 33, 6)
    assert rows.dtype == np.float32
    np.testing.assert_allclose(
        rows[:, [23, 24], 0].mean(axis=1), 300 + 0.1 * np.arange(n_poses), atol=1e-3
    )
    assert record.overlapped == [0]
    assert record.frames[-1] == 10 + 2 * (n_poses - 1)

"""Long films: many reps of many moves, what lies between them, and a film in pieces."""

from __future__ import annotations

from itertools import pairwise

import av
import numpy as np
import pytest

from sample_clips.render import video
from sample_clips.render.framing import camera_of
from sample_clips.render.moves.between import PASTIMES, pass_time
from sample_clips.render.moves.common import Order
from sample_clips.render.season_set import season_clips
from sample_clips.render.sets import table
from sample_clips.render.skeleton import skeleton
from sample_clips.render.tracks import GRID_HZ
from sample_clips.render.truth import READERS

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def films():
    """Return a short film of one player and one of two."""
    return {
        paired: (entry, skeleton(entry, 30))
        for paired in (False, True)
        for entry in season_clips(4, 6, paired=paired)
    }


def test_a_seed_decides_the_film():
    assert table("season", 3) == table("season", 3)
    assert table("season", 3) != table("season", 4)


def test_reps_of_known_moves_follow_each_other_and_fill_less_than_half(films):
    for _, film in films.values():
        reps = film.truth["reps"]
        assert len(reps) >= 3
        assert all(before["stop_s"] < after["start_s"] for before, after in pairwise(reps))
        assert all(rep["move"] in READERS for rep in reps)
        assert all(rep["stick_hand"] in ("left", "right") for rep in reps)
        assert sum(rep["stop_s"] - rep["start_s"] for rep in reps) < 0.5 * film.time_s[-1]


def test_what_is_no_rep_is_told_and_overlaps_no_rep(films):
    for _, film in films.values():
        pastimes = film.truth["pastimes"]
        assert len({pastime["kind"] for pastime in pastimes}) >= 3
        for pastime in pastimes:
            for rep in film.truth["reps"]:
                apart = pastime["stop_s"] <= rep["start_s"] or rep["stop_s"] <= pastime["start_s"]
                assert apart


def test_everybody_stays_in_the_picture_and_nobody_jumps(films):
    for entry, film in films.values():
        camera = camera_of(entry)
        people = [j for j in (film.joints_m, film.defender_joints_m) if j is not None]
        assert len(people) == 1 + entry.order.defended
        for joints_m in people:
            points = np.stack([v for k, v in joints_m.items() if k != "stick_head"], axis=1)
            px, depth_m = camera.project(points)
            assert depth_m.min() > 3.0
            assert (px > 0).all()
            assert (px < entry.size_px).all()
            assert np.linalg.norm(np.diff(points, axis=0), axis=-1).max() * 30 < 20.0


def test_two_players_never_run_into_each_other(films):
    _, film = films[True]
    own, other = (
        (j["left_hip"] + j["right_hip"])[:, :2] / 2 for j in (film.joints_m, film.defender_joints_m)
    )
    assert np.linalg.norm(own - other, axis=1).min() > 0.8


@pytest.mark.parametrize("kind", PASTIMES)
def test_a_pastime_holds_no_rep_and_ends_where_it_began(kind):
    order = Order(
        seed=3, stature_m=1.7, stick_hand="left", n_reps=0, place_m=(1.0, 8.0), yaw_deg=30
    )
    found = pass_time(order, kind)
    ends = found.athlete.path_m.at(np.array([0.0, found.duration_s]))
    hands = found.athlete.hands.at(np.array([0.0, found.duration_s]))
    assert found.reps == []
    assert [pastime.kind for pastime in found.pastimes] == [kind]
    np.testing.assert_allclose(ends[1], ends[0], atol=1e-6)
    np.testing.assert_allclose(hands[1], hands[0], atol=0.05)
    assert found.athlete.free_hand.at(np.array([found.duration_s]))[0, 0] == 0


def test_a_film_joined_of_pieces_has_every_frame_at_its_time(tmp_path):
    entry = season_clips(4, 6)[0]

    class Grey:
        def frame(self, row):
            return np.full((540, 960, 3), row // 16 * 12 % 250, np.uint8)

    rows = np.arange(11) * (GRID_HZ // entry.fps)
    pieces = [tmp_path / "0.mp4", tmp_path / "1.mp4"]
    for number, part in enumerate((rows[:6], rows[6:])):
        video.encode(entry, Grey(), part, pieces[number], number)
    video.join_films(pieces, tmp_path / "whole.mp4")
    with av.open(str(tmp_path / "whole.mp4")) as film:
        frames = [(float(f.time), f.to_ndarray(format="gray").mean()) for f in film.decode(video=0)]
    np.testing.assert_allclose([time_s for time_s, _ in frames], rows / GRID_HZ, atol=2e-4)
    assert np.all(np.diff([grey for _, grey in frames]) > 3)

"""People stay who they are: through crossings, false finds and gaps; nobody is made up."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from string import digits

import numpy as np
import pytest

from pipeline.film.clip import Frame
from pipeline.people.pose_model import Pose, Window
from pipeline.people.tracking import follow_people
from tests.fixtures.standing import standing, upside_down

WIDTH_PX, HEIGHT_PX = 640, 360
HIDDEN = 114
GROUND = 77

Scene = Callable[[int], Mapping[str, Pose]]
"""Who is where in a frame, by the name of a colour."""

COLOURS = {"red": (200, 40, 40), "blue": (40, 40, 200)}


def film(scene: Scene, n_frames: int, fps: float = 30.0) -> list[Frame]:
    """Return frames with a coloured trunk for each person, the last one named in front.

    The colour of the ground tells the number of the frame.
    """
    frames = []
    for index in range(n_frames):
        rgb = np.full((HEIGHT_PX, WIDTH_PX, 3), (index % 250, index // 250, GROUND), np.uint8)
        for name, pose in scene(index).items():
            trunk = pose.image_px[[11, 12, 23, 24]]
            left, top = np.floor(trunk.min(axis=0)).astype(int)
            right, bottom = np.ceil(trunk.max(axis=0)).astype(int)
            rgb[max(top, 0) : max(bottom, 0), max(left, 0) : max(right, 0)] = COLOURS[
                name.rstrip(digits)
            ]
        frames.append(Frame(index, index / fps, rgb))
    return frames


class ScriptedModel:
    """Finds the scripted people whose trunk lies in the region, the one nearest its middle first.

    Parameters
    ----------
    scene
        Who is to be seen in each frame.
    """

    digest = "0" * 64

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self.n_finds = 0
        self.n_tracked = 0

    def finder(self, n_poses: int = 1) -> _Finder:
        return _Finder(self, n_poses)

    def tracker(self) -> _Tracker:
        return _Tracker(self)

    def seen(self, region: np.ndarray, window: Window) -> list[Pose]:
        """Return the people in a region, nearest to its middle first."""
        ground = region[region[..., 2] == GROUND]
        index = int(ground[0, 0]) + 250 * int(ground[0, 1])
        middle = np.array([window.left_px, window.top_px]) + window.side_px / 2
        poses = []
        for pose in self._scene(index).values():
            away = pose.image_px[[11, 12, 23, 24]].mean(axis=0) - middle
            column, row = (away + window.side_px / 2).astype(int)
            away = np.abs(away)
            if np.all(away < window.side_px / 2 - 1) and np.any(region[row, column] != HIDDEN):
                poses.append((float(away.sum()), pose))
        return [pose for _, pose in sorted(poses, key=lambda item: item[0])]


class _Finder:
    def __init__(self, model: ScriptedModel, n_poses: int) -> None:
        self._model, self._n_poses = model, n_poses

    def find(self, region: np.ndarray, window: Window) -> list[Pose]:
        self._model.n_finds += 1
        return self._model.seen(region, window)[: self._n_poses]

    def close(self) -> None:
        pass


class _Tracker:
    def __init__(self, model: ScriptedModel) -> None:
        self._model = model

    def find(self, region: np.ndarray, window: Window) -> Pose | None:
        self._model.n_tracked += 1
        return next(iter(self._model.seen(region, window)), None)

    def forget(self) -> None:
        pass

    def close(self) -> None:
        pass


def follow(scene, n_frames=60, model=None, **options):
    frames = film(scene, n_frames)
    return follow_people(frames, model or ScriptedModel(scene), **options)


def hips_x(tracks, person):
    return tracks.image_px[person][:, [23, 24], 0].mean(axis=1)


def wrist_x(index):
    return 8 * np.sin(index / 3)


@pytest.mark.slow
def test_one_person_is_found_in_every_frame():
    tracks = follow(lambda i: {"red": standing(100 + 5 * i, 200)})
    assert tracks.n_people == 1
    assert tracks.found.all()
    assert not tracks.overlapped.any()
    np.testing.assert_allclose(hips_x(tracks, 0), 100 + 5 * np.arange(60), atol=0.01)
    assert tracks.image_px.dtype == np.float32


def test_nobody_in_view_is_one_person_not_found():
    tracks = follow(lambda i: {}, n_frames=7)
    assert tracks.found.shape == (1, 7)
    assert not tracks.found.any()
    assert np.isnan(tracks.world_m).all()
    assert np.isnan(tracks.visibility).all()


def test_a_single_frame():
    assert follow(lambda i: {"red": standing(300, 200)}, n_frames=1).found.all()


@pytest.mark.slow
def test_two_who_cross_keep_their_tracks():
    def scene(i):
        return {
            "blue": standing(500 - 6 * i, 206, 110),
            "red": standing(140 + 6 * i, 200, hands=0.1 * np.sin(i)),
        }

    tracks = follow(scene)
    assert tracks.n_people == 2
    for person, path in ((0, 140 + 6 * np.arange(60)), (1, 500 - 6 * np.arange(60))):
        found = tracks.found[person]
        assert found.mean() > 0.9
        np.testing.assert_allclose(hips_x(tracks, person)[found], path[found], atol=0.01)
    assert tracks.overlapped[:, 28:32].all()
    assert not tracks.overlapped[:, :10].any()


@pytest.mark.slow
def test_the_hidden_one_is_missing_and_not_put_on_the_other_body():
    def scene(i):
        blue, red = standing(320, 200), standing(80 + 8 * i, 200)
        hidden = abs(80 + 8 * i - 320) < 40
        return {"red": red} if hidden else {"blue": blue, "red": red}

    tracks = follow(scene)
    blue = 0 if hips_x(tracks, 0)[0] == 320 else 1
    assert set(np.round(hips_x(tracks, blue)[tracks.found[blue]])) == {320}
    behind = np.abs(80 + 8 * np.arange(60) - 320) < 40
    assert not tracks.found[blue][behind].any()
    assert tracks.found[blue][~behind].all()
    assert tracks.overlapped[blue][behind].all()
    assert tracks.found[1 - blue].all()


@pytest.mark.slow
def test_a_small_upside_down_skeleton_is_not_a_body():
    class Misled(ScriptedModel):
        def seen(self, region, window):
            poses = super().seen(region, window)
            return [upside_down(p) for p in poses] if window.side_px > 300 else poses

    def scene(i):
        return {"red": standing(200 + 4 * i, 200)}

    frames = film(scene, 40)
    tracks = follow_people(frames, Misled(scene))
    heads_up = tracks.image_px[0, :, 0, 1] < hips_y(tracks, 0)
    assert heads_up[tracks.found[0]].all()
    assert tracks.found.mean() > 0.9


def hips_y(tracks, person):
    return tracks.image_px[person][:, [23, 24], 1].mean(axis=1)


@pytest.mark.slow
@pytest.mark.parametrize("gap_frames", [5, 30, 100])
def test_someone_lost_and_found_again_is_the_same_person(gap_frames):
    def scene(i):
        gone = 20 <= i < 20 + gap_frames
        return {} if gone else {"red": standing(300 + (40 if i > 20 else 0), 200)}

    tracks = follow(scene, n_frames=150)
    assert tracks.n_people == 1
    assert not tracks.found[0, 20 : 20 + gap_frames].any()
    assert tracks.found[0, :20].all()
    assert tracks.found[0, 20 + gap_frames + 40 :].all()


@pytest.mark.slow
def test_the_athlete_is_the_one_who_moves_most():
    def scene(i):
        return {
            "blue": standing(150, 200, 130),
            "red": standing(400 + 2 * i, 200, hands=0.3 * np.sin(i / 2)),
        }

    tracks = follow(scene)
    assert hips_x(tracks, 0)[0] == pytest.approx(400)
    assert hips_x(tracks, 1)[0] == pytest.approx(150)


@pytest.mark.slow
def test_the_athlete_can_be_pointed_out():
    def scene(i):
        return {
            "blue": standing(150, 200, 130),
            "red": standing(400 + 2 * i, 200, hands=0.3 * np.sin(i / 2)),
        }

    assert hips_x(follow(scene, athlete_at=(160, 190)), 0)[0] == pytest.approx(150)


def test_who_is_pointed_out_is_followed_even_when_many_larger_people_are_there():
    def scene(i):
        crowd = {f"blue{n}": standing(80 + 130 * n, 200, 140) for n in range(4)}
        return crowd | {"red": standing(600, 220, 90)}

    tracks = follow(scene, n_frames=10, n_people_max=2, athlete_at=(600, 220))
    np.testing.assert_allclose(hips_x(tracks, 0), 600, atol=0.01)


@pytest.mark.slow
def test_someone_small_and_far_is_left_out():
    def scene(i):
        return {"blue": standing(520, 120, 50), "red": standing(100 + 3 * i, 200, 140)}

    tracks = follow(scene)
    assert tracks.n_people == 1
    assert hips_x(tracks, 0)[0] == pytest.approx(100)


@pytest.mark.slow
def test_someone_who_comes_in_later_is_found():
    def scene(i):
        people = {"red": standing(140 + 2 * i, 200, hands=0.2 * np.sin(i / 2))}
        return people if i < 40 else people | {"blue": standing(560, 200)}

    tracks = follow(scene, n_frames=160)
    assert tracks.n_people == 2
    assert not tracks.found[1, :40].any()
    assert tracks.found[1, 110:].all()


@pytest.mark.slow
def test_what_is_found_does_not_depend_on_timing():
    def scene(i):
        return {"blue": standing(500 - 6 * i, 206, 110), "red": standing(140 + 6 * i, 200)}

    first, second = follow(scene), follow(scene)
    np.testing.assert_array_equal(first.image_px, second.image_px)


@pytest.mark.slow
def test_the_background_is_watched_along_the_way():
    frames = film(lambda i: {"red": standing(300, 200)}, 24)
    spots = np.random.default_rng(0).integers(0, 255, (HEIGHT_PX // 8, WIDTH_PX // 8 + 8), np.uint8)
    spots = np.kron(spots, np.ones((8, 8), np.uint8))
    for i, frame in enumerate(frames):  # green tells nothing of the number of the frame up to 250
        seen = frame.rgb[..., 2] == GROUND
        frame.rgb[..., 1][seen] = spots[:, 2 * i : 2 * i + WIDTH_PX][seen]
    tracks = follow_people(frames, NumberedModel(lambda i: {"red": standing(300, 200)}))
    looked = np.flatnonzero(np.isfinite(tracks.camera_shift_px[:, 0, 0]))
    assert looked.tolist() == list(range(24))
    assert tracks.camera_misfit_px.max() < 0.5
    np.testing.assert_allclose(
        tracks.camera_shift_px[looked, :, 0].mean(axis=1), -2.0 * looked, atol=0.3
    )


class NumberedModel(ScriptedModel):
    """Reads the number of the frame from red alone."""

    def seen(self, region, window):
        plain = region.copy()
        plain[region[..., 2] == GROUND, 1] = 0
        return super().seen(plain, window)


def test_progress_counts_frames():
    done = []
    follow(lambda i: {"red": standing(300, 200)}, n_frames=9, on_progress=done.append)
    assert done[-1] == 9
    assert done == sorted(done)


def test_an_error_while_decoding_reaches_the_caller():
    def broken():
        yield from film(lambda i: {}, 3)
        raise OSError("the disk is gone")

    with pytest.raises(OSError, match="disk"):
        follow_people(broken(), ScriptedModel(lambda i: {}))

"""The pose model: regions at the edge, landmarks without lag, a sentence where it cannot run."""

from __future__ import annotations

import socket
import sys
from contextlib import closing
from types import SimpleNamespace

import numpy as np
import pytest

import models
from pipeline.core.errors import ModelError
from pipeline.core.types import LANDMARKS
from pipeline.people import pose_model
from pipeline.people.pose_model import PoseModel, PoseTracker, Window

SHOULDERS = [LANDMARKS.index("left_shoulder"), LANDMARKS.index("right_shoulder")]


@pytest.mark.parametrize(
    ("left", "top"), [(-5, -5), (15, 3), (2, 15), (-30, 0), (100, 100), (-5, 8)]
)
def test_a_window_is_black_beyond_the_edge_of_the_picture(left, top):
    rgb = np.random.default_rng(0).integers(1, 255, (20, 24, 3), np.uint8)
    whole = np.zeros((220, 224, 3), np.uint8)
    whole[100:120, 100:124] = rgb
    expected = whole[100 + top : 116 + top, 100 + left : 116 + left]
    region = Window(left, top, 16).cut(rgb)
    np.testing.assert_array_equal(region[: len(expected), : expected.shape[1]], expected)
    assert region.flags.c_contiguous
    assert region.shape == (16, 16, 3)


def test_a_window_around_a_point():
    window = Window.around(np.array([100.2, 50.0]), 30.0)
    assert (window.left_px, window.top_px, window.side_px) == (70, 20, 60)


def test_an_altered_model_is_refused(tmp_path):
    path = tmp_path / "pose_landmarker_full.task"
    path.write_bytes(b"not the model")
    with pytest.raises(ModelError, match="checksum"):
        PoseModel(path)


@pytest.mark.slow
def test_what_is_no_model_is_refused_in_a_sentence(tmp_path):
    path = tmp_path / "own.task"
    path.write_bytes(b"not a model")
    with pytest.raises(ModelError, match=r"own\.task"):
        PoseModel(path).finder()


def test_a_machine_without_the_library_is_told_which_it_needs(monkeypatch):
    monkeypatch.setattr(pose_model, "_loaded", [])
    monkeypatch.setitem(sys.modules, "mediapipe.tasks.python.vision", None)
    with pytest.raises(ModelError, match="Linux"):
        PoseModel()


@pytest.mark.slow
def test_a_moving_person_is_tracked_without_lag_and_in_silence(astronaut, capfd, monkeypatch):
    def forbidden(*arguments, **options):
        raise AssertionError("a socket was asked for")

    monkeypatch.setattr(socket, "socket", forbidden)
    moves_px = np.r_[np.zeros(4), 12 * np.arange(1, 8)]
    window = Window(0, 0, 512)
    x_px = []
    with closing(PoseModel(models.bundle_path("full")).tracker()) as tracker:
        for move_px in moves_px:
            picture = np.roll(astronaut, int(move_px), axis=1)
            found = tracker.find(window.cut(picture), window)
            assert found is not None
            x_px.append(float(found.image_px[SHOULDERS, 0].mean()))
            assert found.visibility[SHOULDERS].min() > 0.9
            assert found.world_m.shape == (33, 3)
    # One smoothed by the task's own filter would be some 20 px behind at the end.
    assert np.abs(np.array(x_px) - moves_px - np.mean(x_px[:4])).max() < 10
    assert capfd.readouterr().err == ""


class SmoothingTask:
    """A task that smooths visibility as the library's does, and loses the person for a frame."""

    def __init__(self, true_visibility: list[float | None]) -> None:
        self._true = iter(true_visibility)
        self._smoothed: float | None = None

    def detect_for_video(self, _image, _time_ms):
        sharp = next(self._true)
        if sharp is None:
            self._smoothed = None
            return SimpleNamespace(pose_landmarks=[], pose_world_landmarks=[])
        last = sharp if self._smoothed is None else self._smoothed
        self._smoothed = float(np.float32(0.1 * sharp + 0.9 * last))
        point = SimpleNamespace(x=0.5, y=0.5, z=0.0, visibility=self._smoothed)
        return SimpleNamespace(pose_landmarks=[[point] * 33], pose_world_landmarks=[[point] * 33])


def test_the_smoothing_of_visibility_is_taken_back():
    true = [0.9, 0.9, 0.1, 0.2, None, 0.5, 1.0, 0.0]
    tracker = PoseTracker(SmoothingTask(true))
    window = Window(0, 0, 16)
    region = np.zeros((16, 16, 3), np.uint8)
    for expected in true:
        found = tracker.find(region, window)
        if expected is None:
            assert found is None
        else:
            assert found is not None
            np.testing.assert_allclose(found.visibility, expected, atol=1e-4)


@pytest.mark.slow
def test_nobody_in_an_empty_picture():
    window = Window(0, 0, 256)
    region = np.full((256, 256, 3), 120, np.uint8)
    with closing(PoseModel().finder(n_poses=2)) as finder:
        assert finder.find(region, window) == []
    with closing(PoseModel(models.bundle_path("full")).tracker()) as tracker:
        assert tracker.find(region, window) is None
        tracker.forget()

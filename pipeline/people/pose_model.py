"""The pose model: a region of a picture in, body landmarks of the people in it out."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Generic, TypeVar

import numpy as np

import models
from pipeline.core.errors import ModelError
from pipeline.core.types import LANDMARKS, FloatArray
from pipeline.film.container import Picture

N_LANDMARKS = len(LANDMARKS)

# The task smooths over time with a one-euro filter (Casiez et al., 2012), which lags behind a fast
# hand by several frames. Told that frames are 10^5 s apart, the filter passes everything through.
STEP_MS = 10**8
# It also smooths visibility, by this share of the new value whatever the time; taken back below.
VISIBILITY_SHARE = 0.1
MOST_IDLE = 3
"""So many finders and trackers of a kind wait for the next clip: as many as people are followed."""


@dataclass(frozen=True, slots=True)
class Window:
    """A square region of the picture, which may reach beyond its edges (black there).

    Attributes
    ----------
    left_px, top_px
        Corner of the region in the image frame.
    side_px
        Its side.
    """

    left_px: int
    top_px: int
    side_px: int

    @classmethod
    def around(cls, centre_px: FloatArray, half_side_px: float) -> Window:
        """Return the window around a point."""
        left_px, top_px = np.round(np.asarray(centre_px) - half_side_px).astype(int).tolist()
        return cls(left_px, top_px, max(round(2 * half_side_px), 16))

    def cut(self, rgb: Picture) -> Picture:
        """Return a copy of the region, contiguous."""
        height, width = rgb.shape[:2]
        region = np.zeros((self.side_px, self.side_px, 3), np.uint8)
        left, top = max(self.left_px, 0), max(self.top_px, 0)
        right = min(self.left_px + self.side_px, width)
        bottom = min(self.top_px + self.side_px, height)
        if right > left and bottom > top:
            x, y = left - self.left_px, top - self.top_px
            region[y : y + bottom - top, x : x + right - left] = rgb[top:bottom, left:right]
        return region


@dataclass(frozen=True, slots=True)
class Pose:
    """Landmarks of one body in one frame.

    Attributes
    ----------
    image_px
        (33, 2) float32, image frame of the whole picture.
    world_m
        (33, 3) float32, the model's metric landmarks: origin mid-hip, axes of the camera.
    visibility
        (33,) float32, 0 to 1.
    """

    image_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray


class PoseModel:
    """The pose model, checked and ready; makes finders and trackers that run side by side.

    Parameters
    ----------
    path
        A model bundle; None for the one that is shipped.

    Attributes
    ----------
    digest
        SHA-256 of the bundle.

    Raises
    ------
    ModelError
        If the bundle is missing or altered, or if the model cannot run on this machine.
    """

    def __init__(self, path: Path | None = None) -> None:
        self._path = models.bundle_path() if path is None else path
        self.digest = models.verify(self._path)
        _vision()

    def finder(self, n_poses: int = 1) -> PoseFinder:
        """Return a finder, which looks at each region afresh, for up to `n_poses` people."""
        kept = _finders.take((self.digest, n_poses))
        if kept is not None:
            return kept
        landmarker = self._landmarker("IMAGE", n_poses)
        return PoseFinder(landmarker, partial(_finders.put, (self.digest, n_poses)))

    def tracker(self) -> PoseTracker:
        """Return a tracker, which expects its one person where it saw them in the last region."""
        kept = _trackers.take((self.digest, 1))
        if kept is not None:
            kept.forget()
            return kept
        landmarker = self._landmarker("VIDEO", 1)
        return PoseTracker(landmarker, partial(_trackers.put, (self.digest, 1)))

    def _landmarker(self, mode: str, n_poses: int) -> Any:  # noqa: ANN401  a class of the library
        vision = _vision()
        options = vision.PoseLandmarkerOptions(
            base_options=vision.BaseOptions(model_asset_path=str(self._path)),
            running_mode=vision.RunningMode[mode],
            num_poses=n_poses,
        )
        try:
            with _quiet_stderr():
                return vision.PoseLandmarker.create_from_options(options)
        except (RuntimeError, ValueError, OSError) as error:
            name, why = self._path.name, str(error)
            raise ModelError.of("pose_model_does_not_start", file=name, why=why) from error


class PoseFinder:
    """Finds people in a region without regard to what came before: slow, but never stuck.

    One finder serves one thread at a time.

    Parameters
    ----------
    landmarker
        The library's task.
    keep
        Takes over a finder that is no longer used; true if it does.
    """

    def __init__(
        self,
        landmarker: Any,  # noqa: ANN401  a class of the library
        keep: Callable[[PoseFinder], bool] = lambda finder: False,
    ) -> None:
        self._landmarker = landmarker
        self._keep = keep

    def find(self, region: Picture, window: Window) -> list[Pose]:
        """Return the poses in a region.

        Parameters
        ----------
        region
            (side, side, 3) RGB, contiguous, as from `Window.cut`.
        window
            Where it lies in the picture.
        """
        return _poses(_quiet_first(self._landmarker.detect, _image(region)), window)

    def close(self) -> None:
        """Hand the networks on to the next clip, or free them."""
        if not self._keep(self):
            self._landmarker.close()


class PoseTracker:
    """Finds one person again where they were in the last region: fast, no lag behind fast hands.

    The model's place memory is in parts of the region. So the regions must move with the person,
    who then stays at about the same place in them. One tracker serves one thread at a time.
    Parameters as for `PoseFinder`.
    """

    def __init__(
        self,
        landmarker: Any,  # noqa: ANN401  a class of the library
        keep: Callable[[PoseTracker], bool] = lambda tracker: False,
    ) -> None:
        self._landmarker = landmarker
        self._keep = keep
        self._now_ms = 0
        self._smoothed: FloatArray | None = None

    def find(self, region: Picture, window: Window) -> Pose | None:
        """Return the person's pose in a region, or None; parameters as in `PoseFinder.find`."""
        self._now_ms += STEP_MS
        detect = self._landmarker.detect_for_video
        poses = _poses(_quiet_first(detect, _image(region), self._now_ms), window)
        if not poses:
            self._smoothed = None
            return None
        pose = poses[0]
        sharp = pose.visibility
        if self._smoothed is not None:
            sharp = self._smoothed + (pose.visibility - self._smoothed) / VISIBILITY_SHARE
            sharp = np.clip(sharp, 0.0, 1.0).astype(np.float32)
        self._smoothed = pose.visibility
        return Pose(pose.image_px, pose.world_m, sharp)

    def forget(self) -> None:
        """Look for the person in all of the next region."""
        window = Window(0, 0, 64)
        while self.find(np.zeros((64, 64, 3), np.uint8), window) is not None:
            pass

    def close(self) -> None:
        """Hand the networks on to the next clip, or free them."""
        if not self._keep(self):
            self._landmarker.close()


Kept = TypeVar("Kept")


class _Idle(Generic[Kept]):
    """Finders or trackers that no clip uses now, by model and number of poses, for the next clip.

    Loading a model takes some 0.2 s.
    """

    def __init__(self) -> None:
        self._idle: dict[tuple[str, int], list[Kept]] = {}
        self._lock = threading.Lock()

    def take(self, key: tuple[str, int]) -> Kept | None:
        """Return one that is idle, or None."""
        with self._lock:
            idle = self._idle.get(key)
            return idle.pop() if idle else None

    def put(self, key: tuple[str, int], one: Kept) -> bool:
        """Keep one, unless enough of the kind are idle; true if it was kept."""
        with self._lock:
            for other in [other for other in self._idle if other[0] != key[0]]:
                del self._idle[other]  # of another model, which the process no longer uses
            idle = self._idle.setdefault(key, [])
            if len(idle) < MOST_IDLE:
                idle.append(one)
                return True
            return False


_finders: _Idle[PoseFinder] = _Idle()
_trackers: _Idle[PoseTracker] = _Idle()


def _image(region: Picture) -> Any:  # noqa: ANN401  a class of the library
    vision = _vision()
    return vision.Image(image_format=vision.ImageFormat.SRGB, data=region)


def _poses(result: Any, window: Window) -> list[Pose]:  # noqa: ANN401  a class of the library
    """Turn the task's answer into poses in the image frame of the whole picture."""
    corner_px = np.array([window.left_px, window.top_px], np.float32)
    poses = []
    for in_region, in_metres in zip(
        result.pose_landmarks, result.pose_world_landmarks, strict=True
    ):
        share = np.array([(p.x, p.y, p.visibility) for p in in_region], np.float32)
        world_m = np.array([(p.x, p.y, p.z) for p in in_metres], np.float32)
        poses.append(Pose(share[:, :2] * window.side_px + corner_px, world_m, share[:, 2]))
    return poses


class _Vision:
    """The parts of mediapipe that are used, imported when the first model is made."""

    def __init__(self) -> None:
        os.environ.setdefault("GLOG_minloglevel", "2")
        try:
            with _quiet_stderr():
                from mediapipe.tasks.python.core.base_options import BaseOptions
                from mediapipe.tasks.python.vision import pose_landmarker
                from mediapipe.tasks.python.vision.core import image, vision_task_running_mode
        except (ImportError, OSError) as error:
            raise ModelError.of("pose_model_does_not_run_here", why=str(error)) from error
        self.BaseOptions = BaseOptions
        self.PoseLandmarker = pose_landmarker.PoseLandmarker
        self.PoseLandmarkerOptions = pose_landmarker.PoseLandmarkerOptions
        self.RunningMode = vision_task_running_mode.VisionTaskRunningMode
        self.Image = image.Image
        self.ImageFormat = image.ImageFormat


_loading = threading.RLock()
_loaded: list[_Vision] = []
_has_answered = threading.Event()


def _vision() -> _Vision:
    with _loading:
        if not _loaded:
            _loaded.append(_Vision())
        return _loaded[0]


def _quiet_first(detect: Callable[..., Any], *inputs: object) -> Any:  # noqa: ANN401
    """Call the task, quietly until it has found its first person: it warns then, and only then."""
    if _has_answered.is_set():
        return detect(*inputs)
    with _quiet_stderr():
        result = detect(*inputs)
    if result.pose_landmarks:
        _has_answered.set()
    return result


@contextmanager
def _quiet_stderr() -> Iterator[None]:
    """Keep the chatter of the C++ libraries, which no one can act on, off the terminal."""
    with _loading:  # two at once would put back each other's silence
        try:
            kept = os.dup(2)
        except OSError:  # there is no terminal to keep it off
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 2)
            yield
        finally:
            os.dup2(kept, 2)
            os.close(nowhere)
            os.close(kept)

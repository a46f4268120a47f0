"""Keeps what the pose model found, and pictures, so that a second analysis need not run it."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import IO, Any

import numpy as np
import numpy.typing as npt

from pipeline.core.errors import OutputError
from pipeline.core.types import Clip, Tracks
from pipeline.film.container import Picture

FORMAT = 14
"""Raised whenever what is kept, or how it was found, changes."""
JPEG_QUALITY = 88
CLIP_DIGEST = "clip_digest"
"""Name of the array that holds the digest of the film in a file of `TrackCache.save_arrays`."""

UNFINISHED = ".unfinished"


def cache_key(clip_digest: str, model_digest: str, settings: Mapping[str, Any]) -> str:
    """Return the name under which the tracks of a clip are kept.

    Parameters
    ----------
    clip_digest, model_digest
        SHA-256 of the film file and of the model bundle.
    settings
        Whatever changes the tracks: ``true_fps``, ``n_people_max``, ``athlete_at``, ... Plain
        values; their order does not matter.
    """
    key = json.dumps(
        {"format": FORMAT, "clip": clip_digest, "model": model_digest, "settings": dict(settings)},
        sort_keys=True,
        default=list,
    )
    return hashlib.sha256(key.encode()).hexdigest()[:32]


class TrackCache:
    """Tracks by key, and pictures by clip and frame, in one folder.

    A file that is missing, damaged or of another format is as good as not there.

    Parameters
    ----------
    folder
        Where to keep them; made when first written to.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, key: str, path: Path) -> tuple[Clip, Tracks] | None:
        """Return the kept clip and tracks, or None.

        Parameters
        ----------
        key
            As from `cache_key`.
        path
            Where the film lies now; the same film may have been moved.
        """
        try:
            with (
                self._tracks_path(key).open("rb") as file,
                np.load(file, allow_pickle=False) as kept,
            ):
                facts = json.loads(str(kept["facts"]))
                clip = Clip(path=path, time_s=kept["time_s"], **facts)
                tracks = Tracks(
                    image_px=kept["image_px"],
                    world_m=kept["world_m"],
                    visibility=kept["visibility"],
                    overlapped=kept["overlapped"],
                    camera_shift_px=kept["camera_shift_px"],
                    camera_misfit_px=kept["camera_misfit_px"],
                    computed=kept["computed"] if kept["computed"].size else None,
                )
        except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
            return None
        return (clip, tracks) if tracks.overlapped.shape[1] == clip.n_frames else None

    def save(self, key: str, clip: Clip, tracks: Tracks) -> None:
        """Keep the tracks of a clip.

        Raises
        ------
        OutputError
            If the folder cannot be written to.
        """
        facts = {
            "digest": clip.digest,
            "width_px": clip.width_px,
            "height_px": clip.height_px,
            "rotation_deg": clip.rotation_deg,
            "mirrored": clip.mirrored,
            "n_undecoded": clip.n_undecoded,
        }
        self._write(
            self._tracks_path(key),
            clip.digest,
            lambda file: np.savez_compressed(
                file,
                facts=np.array(json.dumps(facts)),
                time_s=clip.time_s,
                image_px=tracks.image_px,
                world_m=tracks.world_m,
                visibility=tracks.visibility,
                overlapped=tracks.overlapped,
                camera_shift_px=tracks.camera_shift_px,
                camera_misfit_px=tracks.camera_misfit_px,
                computed=np.empty(0, bool) if tracks.computed is None else tracks.computed,
            ),
        )

    def load_arrays(self, key: str) -> dict[str, npt.NDArray[Any]] | None:
        """Return the arrays that were kept under a key, or None."""
        try:
            with (
                self._arrays_path(key).open("rb") as file,
                np.load(file, allow_pickle=False) as kept,
            ):
                return {name: kept[name] for name in kept.files if name != CLIP_DIGEST}
        except (OSError, ValueError, EOFError, zipfile.BadZipFile):
            return None

    def save_arrays(
        self, key: str, arrays: Mapping[str, npt.NDArray[Any]], *, clip_digest: str
    ) -> None:
        """Keep some arrays by their names, and of which film they are.

        Raises
        ------
        OutputError
            If the folder cannot be written to.
        """
        named: dict[str, Any] = {**arrays, CLIP_DIGEST: np.array(clip_digest)}
        self._write(
            self._arrays_path(key), clip_digest, lambda file: np.savez_compressed(file, **named)
        )

    def load_frame(self, clip_digest: str, index: int) -> Picture | None:
        """Return the kept picture of a frame, (height, width, 3) RGB, or None."""
        import cv2

        try:
            coded = np.frombuffer(self._frame_path(clip_digest, index).read_bytes(), np.uint8)
            picture = cv2.imdecode(coded, cv2.IMREAD_COLOR)
        except (OSError, cv2.error):
            return None
        if picture is None:
            return None
        return np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB), np.uint8)

    def save_frame(self, clip_digest: str, index: int, rgb: Picture) -> None:
        """Keep the picture of a frame, as a JPEG.

        Raises
        ------
        OutputError
            If the folder cannot be written to.
        """
        import cv2

        bgr = cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR)
        coded = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])[1]
        path = self._frame_path(clip_digest, index)
        self._write(path, clip_digest, lambda file: file.write(coded.tobytes()))

    def _tracks_path(self, key: str) -> Path:
        return self._folder / f"{key}.tracks.npz"

    def _arrays_path(self, key: str) -> Path:
        return self._folder / f"{key}.film.npz"

    def _frame_path(self, clip_digest: str, index: int) -> Path:
        return self._folder / f"{clip_digest[:32]}.frame{index:06d}.jpg"

    def _write(self, path: Path, clip_digest: str, fill: Callable[[IO[bytes]], object]) -> None:
        """Write a file beside its place and move it there whole.

        Until then it is named after its film, so that it is forgotten with it if this is killed.
        """
        unfinished: str | None = None
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            handle, unfinished = tempfile.mkstemp(
                dir=self._folder, prefix=f"{clip_digest[:32]}.", suffix=UNFINISHED
            )
            with os.fdopen(handle, "wb") as file:
                fill(file)
            Path(unfinished).replace(path)
        except OSError as error:
            if unfinished is not None:
                with contextlib.suppress(OSError):
                    Path(unfinished).unlink()
            why = error.strerror
            raise OutputError.of("cache_not_written", file=path.name, why=why) from error

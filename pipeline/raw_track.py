"""The raw record of one followed person, growing with the film."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pipeline.pose import N_LANDMARKS, Pose
from pipeline.types import BoolArray, FloatArray

CHUNK_FRAMES = 512


@dataclass(eq=False)
class RawTrack:
    """Poses of one followed person, in chunks that grow with the film.

    Attributes
    ----------
    colour
        (3,) jersey colour when first found.
    """

    colour: FloatArray
    _chunks: list[FloatArray] = field(default_factory=list)
    _overlapped: set[int] = field(default_factory=set)
    frames: list[int] = field(default_factory=list)

    def add(self, index: int, pose: Pose | None, overlapped: bool) -> None:
        """Write down the pose of a frame, None where the person was not found."""
        while len(self._chunks) * CHUNK_FRAMES <= index:
            self._chunks.append(np.full((CHUNK_FRAMES, N_LANDMARKS, 6), np.nan, np.float32))
        if overlapped:
            self._overlapped.add(index)
        if pose is not None:
            self.frames.append(index)
            row = self._chunks[index // CHUNK_FRAMES][index % CHUNK_FRAMES]
            row[:, :2], row[:, 2:5], row[:, 5] = pose.image_px, pose.world_m, pose.visibility

    def array(self, n_frames: int) -> FloatArray:
        """(n_frames, 33, 6) image x y, world x y z, visibility."""
        rows = np.full((n_frames, N_LANDMARKS, 6), np.nan, np.float32)
        if self._chunks:
            joined = np.concatenate(self._chunks)[:n_frames]
            rows[: len(joined)] = joined
        return rows

    def overlapped(self, n_frames: int) -> BoolArray:
        """(n_frames,) true where another person touches or covers this one."""
        flags = np.zeros(n_frames, bool)
        flags[sorted(self._overlapped)] = True
        return flags

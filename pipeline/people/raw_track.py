"""The raw record of one followed person, growing with the frames in which they were found."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.people.pose_model import N_LANDMARKS, Pose

CHUNK_POSES = 512


@dataclass(eq=False)
class RawTrack:
    """Poses of one followed person, kept in chunks, and the frames they belong to.

    Attributes
    ----------
    frames
        Indices of the frames in which the person was found, rising.
    overlapped
        Indices of the frames in which another person touched or covered this one.
    """

    frames: list[int] = field(default_factory=list)
    overlapped: list[int] = field(default_factory=list)
    _chunks: list[FloatArray] = field(default_factory=list)
    _colour_chunks: list[FloatArray] = field(default_factory=list)

    def add(self, index: int, found: tuple[Pose, FloatArray] | None, *, overlapped: bool) -> None:
        """Write down pose and jersey colour of a frame, None where the person was not found."""
        if overlapped:
            self.overlapped.append(index)
        if found is None:
            return
        pose, colour = found
        place = len(self.frames) % CHUNK_POSES
        if place == 0:
            self._chunks.append(np.empty((CHUNK_POSES, N_LANDMARKS, 6), np.float32))
            self._colour_chunks.append(np.empty((CHUNK_POSES, 3), np.float32))
        row = self._chunks[-1][place]
        row[:, :2], row[:, 2:5], row[:, 5] = pose.image_px, pose.world_m, pose.visibility
        self._colour_chunks[-1][place] = colour
        self.frames.append(index)

    def rows(self) -> FloatArray:
        """(n_found, 33, 6) image x y, world x y z, visibility in each of `frames`."""
        if not self._chunks:
            return np.empty((0, N_LANDMARKS, 6), np.float32)
        return np.concatenate(self._chunks)[: len(self.frames)]

    def colours(self) -> FloatArray:
        """(n_found, 3) jersey colour in each of `frames`, see `bodies.jersey_colour`."""
        if not self._colour_chunks:
            return np.empty((0, 3), np.float32)
        return np.concatenate(self._colour_chunks)[: len(self.frames)]

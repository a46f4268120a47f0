"""The whole track of one person in a film, made of one raw record or joined from several."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pipeline.core.types import BoolArray, FloatArray, IndexArray
from pipeline.people.body import ANKLES, HIPS, KNEES, NOSE, SHOULDERS, TRUNK
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

    @property
    def mark(self) -> tuple[int, int]:
        """How much is written down so far, for `cut_back`."""
        return len(self.frames), len(self.overlapped)

    def cut_back(self, mark: tuple[int, int]) -> None:
        """Forget what was written down since a mark was taken."""
        n_found, n_overlapped = mark
        del self.frames[n_found:], self.overlapped[n_overlapped:]
        n_chunks = -(-n_found // CHUNK_POSES)
        del self._chunks[n_chunks:], self._colour_chunks[n_chunks:]

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


@dataclass(frozen=True, slots=True, eq=False)
class PersonTrack:
    """One person's track, perhaps joined from pieces.

    Attributes
    ----------
    frames
        (n_found,) indices of the frames in which the person was found, rising.
    rows
        (n_found, 33, 6) as from `RawTrack.rows`.
    colours
        (n_found, 3) of the jersey.
    overlapped
        Indices of frames in which another body was in the way, found or not, in any order.
    """

    frames: IndexArray
    rows: FloatArray
    colours: FloatArray
    overlapped: IndexArray

    @classmethod
    def of(cls, track: RawTrack) -> PersonTrack:
        """Take over a raw record."""
        return cls(
            np.asarray(track.frames, np.int64),
            track.rows(),
            track.colours(),
            np.asarray(track.overlapped, np.int64),
        )

    @property
    def clear(self) -> BoolArray:
        """(n_found,) true where no other body was in the way."""
        return np.isin(self.frames, self.overlapped, invert=True)

    @property
    def colour(self) -> FloatArray:
        """(3,) median colour of the jersey, where no other body was in the way."""
        seen = self.colours[self.clear]
        return np.asarray(np.median(seen if seen.size else self.colours, axis=0))

    @property
    def length_px(self) -> float:
        """Median length of the body in the picture, as in `bodies.length_px`."""
        return median_length_px(self.rows[:, :, :2])

    def filled(self, computed: BoolArray) -> PersonTrack:
        """Return the track with the frames between that were not computed, on a straight way.

        Parameters
        ----------
        computed
            (n_frames,) frames in which the person could have been found.
        """
        found = np.zeros(computed.size, bool)
        found[self.frames] = True
        looked = np.flatnonzero(computed)
        after = np.searchsorted(looked, np.arange(computed.size))
        inside = (after > 0) & (after < looked.size) & ~computed
        skipped = np.flatnonzero(inside)
        last, following = looked[after[skipped] - 1], looked[after[skipped]]
        frames = np.union1d(self.frames, skipped[found[last] & found[following]])
        row = np.clip(np.searchsorted(self.frames, frames, side="right") - 1, 0, None)
        next_row = np.minimum(row + 1, self.frames.size - 1)
        span = np.maximum(self.frames[next_row] - self.frames[row], 1)
        part = ((frames - self.frames[row]) / span).astype(np.float32)
        return PersonTrack(
            frames,
            self.rows[row] + part[:, None, None] * (self.rows[next_row] - self.rows[row]),
            self.colours[row] + part[:, None] * (self.colours[next_row] - self.colours[row]),
            self.overlapped,
        )

    def between(self, first: int, stop: int) -> PersonTrack:
        """Return the part of the track over some frames, stop not included."""
        inside = (self.frames >= first) & (self.frames < stop)
        in_the_way = (self.overlapped >= first) & (self.overlapped < stop)
        return PersonTrack(
            self.frames[inside],
            self.rows[inside],
            self.colours[inside],
            self.overlapped[in_the_way],
        )

    def joined_to(self, later: PersonTrack) -> PersonTrack:
        """Return this track up to where another begins, and then the other."""
        own = self.between(0, int(later.frames[0]))
        return PersonTrack(
            np.concatenate([own.frames, later.frames]),
            np.concatenate([own.rows, later.rows]),
            np.concatenate([own.colours, later.colours]),
            np.concatenate([own.overlapped, later.overlapped]),
        )

    def places_px(self, rows: IndexArray | slice) -> FloatArray:
        """(n, 2) middle of the trunk in some of the rows."""
        return np.asarray(self.rows[rows][:, TRUNK, :2].mean(axis=1))


def median_length_px(points: FloatArray) -> float:
    """Median of `bodies.length_px` over poses.

    Parameters
    ----------
    points
        (n, 33, 2) landmarks in the image frame.
    """
    shoulders, hips = points[:, SHOULDERS].mean(axis=1), points[:, HIPS].mean(axis=1)
    legs = np.linalg.norm(points[:, KNEES] - points[:, HIPS], axis=2) + np.linalg.norm(
        points[:, ANKLES] - points[:, KNEES], axis=2
    )
    head = np.linalg.norm(points[:, NOSE] - shoulders, axis=1)
    trunk = np.linalg.norm(shoulders - hips, axis=1)
    return float(np.median(1.3 * head + trunk + legs.max(axis=1)))

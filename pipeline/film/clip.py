"""Opens a phone clip: upright frames as a stream with exact times, and runs of frames by number."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Generator, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pipeline.core.errors import SettingsError
from pipeline.core.types import Clip
from pipeline.film.container import (
    Orientation,
    Picture,
    Stamps,
    announced_duration_s,
    announced_frames,
    announced_step_s,
    empty,
    file_digest,
    frames_beyond_end,
    opened,
    packet_stamps,
)

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import InputContainer
    from av.video.stream import VideoStream


@dataclass(frozen=True, slots=True)
class Frame:
    """One upright picture of a clip.

    Attributes
    ----------
    index
        From 0, in presentation order, counting only frames that could be decoded.
    time_s
        Presentation time from the first frame, at the true rate.
    rgb
        (height, width, 3) picture.
    """

    index: int
    time_s: float
    rgb: Picture

    @property
    def n_bytes(self) -> int:
        """Memory that the frame takes."""
        return int(self.rgb.nbytes)

    def upright(self) -> Frame:
        """Return the frame itself: it is converted already."""
        return self


@dataclass(frozen=True, slots=True)
class StoredFrame:
    """One picture of a clip as the decoder gave it: half the memory of `Frame`, or less.

    One thread at a time may convert it.

    Attributes
    ----------
    index, time_s
        As in `Frame`.
    picture
        As decoded.
    orientation
        How it is turned upright.
    """

    index: int
    time_s: float
    picture: VideoFrame
    orientation: Orientation

    @property
    def n_bytes(self) -> int:
        """Memory that the decoded picture takes."""
        return sum(plane.buffer_size for plane in self.picture.planes)

    def upright(self) -> Frame:
        """Convert to an upright RGB picture."""
        return Frame(self.index, self.time_s, self.orientation.upright(self.picture))


class ClipReader:
    """Streams the frames of a clip, once; made by `open_clip`.

    Attributes
    ----------
    path
        The file.
    width_px, height_px
        Size of the upright picture.
    n_frames_expected
        Number of frames that the file announces, for progress only; None when it does not state it.
    duration_s
        Length that the file announces, in its own time; NaN when it does not state it.
    orientation
        How its stored pictures are turned upright.
    """

    def __init__(
        self,
        path: Path,
        container: InputContainer,
        stream: VideoStream,
        scale: float,
        digest: str | None = None,
    ) -> None:
        self.path = path
        self._digest = digest
        self.duration_s = announced_duration_s(container, stream)
        self.n_frames_expected = announced_frames(stream, self.duration_s)
        self._n_undecoded = frames_beyond_end(stream, path)
        self._clock = _Clock(float(stream.time_base or 0), announced_step_s(stream), scale)
        self._exhausted = False
        self._pictures = self._decoded(container, stream)
        first = next(self._pictures, None)  # it alone carries size and orientation for certain
        if first is None:
            raise empty(path)
        self._pictures = chain([first], self._pictures)
        self.orientation = Orientation.of_picture(first)
        self._stored_size_px = (first.width, first.height)
        self.rotation_deg = self.orientation.rotation_deg
        self.width_px, self.height_px = self.orientation.upright_size(first.width, first.height)

    def __iter__(self) -> Iterator[Frame]:
        """Yield the frames in presentation order."""
        for frame in self.stored_frames():
            yield frame.upright()

    def stored_frames(self) -> Iterator[StoredFrame]:
        """Yield the same frames unconverted, in place of iterating."""
        for picture, time_s in self.stored():
            yield StoredFrame(len(self._clock.times_s) - 1, time_s, picture, self.orientation)

    def stored(self) -> Iterator[tuple[VideoFrame, float]]:
        """Yield the same frames as they are stored, each with its time, in place of iterating."""
        for picture in self._pictures:
            if (picture.width, picture.height) != self._stored_size_px:
                self._n_undecoded += 1
                continue
            yield picture, self._clock.place(picture.pts)
        self._exhausted = True

    def clip(self) -> Clip:
        """Return the facts of the clip once all its frames have been read."""
        if not self._exhausted:
            raise RuntimeError("the facts of a clip are known once all its frames have been read")
        return Clip(
            path=self.path,
            digest=file_digest(self.path) if self._digest is None else self._digest,
            width_px=self.width_px,
            height_px=self.height_px,
            rotation_deg=self.orientation.rotation_deg,
            mirrored=self.orientation.mirrored,
            time_s=np.asarray(self._clock.times_s, dtype=np.float64),
            n_undecoded=self._n_undecoded,
        )

    def _decoded(self, container: InputContainer, stream: VideoStream) -> Iterator[VideoFrame]:
        """Yield sound pictures; count, and step over, what does not decode."""
        from av.error import FFmpegError

        packets = container.demux(stream)
        while True:
            try:
                packet = next(packets, None)
                if packet is not None and not packet.size:  # the library's own end mark
                    packet = None
            except FFmpegError:  # the container breaks off here
                self._n_undecoded += 1
                packet = None
            try:
                pictures = stream.decode(packet)
            except FFmpegError:
                self._n_undecoded += 1
                pictures = []
            for picture in pictures:
                if picture.is_corrupt:  # patched up from its neighbours: not what was filmed
                    self._n_undecoded += 1
                else:
                    yield picture
            if packet is None:
                return


class _Clock:
    """Gives each frame its time: from its stamp, or one usual step after the frame before."""

    def __init__(self, time_base_s: float, step_s: float, scale: float) -> None:
        self.times_s: list[float] = []
        self._tick_s = time_base_s * scale
        self._step_s = step_s * scale
        self._origin_s: float | None = None

    def place(self, stamp: int | None) -> float:
        """Return the time of the next frame, always later than the one before."""
        last_s = self.times_s[-1] if self.times_s else -self._step_s
        time_s = last_s + self._step_s
        if stamp is not None:
            stamp_s = stamp * self._tick_s
            if self._origin_s is None or stamp_s - self._origin_s <= last_s:
                # The first stamp, or one that runs back (films joined without new stamps).
                self._origin_s = stamp_s - time_s
            time_s = stamp_s - self._origin_s
        self.times_s.append(time_s)
        return time_s


@contextmanager
def open_clip(
    path: Path, *, true_fps: float | None = None, digest: str | None = None
) -> Iterator[ClipReader]:
    """Open a clip for one pass over its frames.

    Times come from the container's presentation stamps, never from a frame rate. A frame without a
    stamp is put one usual step after the one before it.

    Parameters
    ----------
    path
        A film file.
    true_fps
        Frames a second at which the film was recorded, for slow motion that was saved to play
        slowly. All times are multiplied by one factor, so that the median step between frames is
        1 / `true_fps`. Of no use for a file that changes from normal to slow speed on the way.
    digest
        SHA-256 of the file's bytes, where it is known; else `ClipReader.clip` computes it.

    Raises
    ------
    UnreadableClip, EmptyClip, NoPictureStream
        If the file holds no film that can be decoded.
    SettingsError
        If `true_fps` is not a positive number.
    """
    if true_fps is not None and not (math.isfinite(true_fps) and true_fps > 0):
        raise SettingsError.of("not_a_true_rate", value=true_fps)
    with opened(path) as (container, stream):
        scale = 1.0
        if true_fps is not None:
            steps = np.diff(packet_stamps(path)[0]) * float(stream.time_base or 0)
            usual_step_s = np.median(steps) if steps.size else announced_step_s(stream)
            scale = float(1.0 / (true_fps * usual_step_s))
        yield ClipReader(path, container, stream, scale, digest)


def read_frames(clip: Clip, indices: Iterable[int]) -> dict[int, Picture]:
    """Read single frames of a clip that was analysed before, each the very one that was measured.

    Seeks to the keyframe before each frame and decodes up to its own presentation stamp. Where
    stamps do not distinguish the frames (a damaged file), the clip is decoded from its start.

    Parameters
    ----------
    clip
        Facts of the film, from `ClipReader.clip`.
    indices
        Frame numbers, 0 to ``clip.n_frames - 1``; others are left out of the result.

    Returns
    -------
    dict
        Picture of each frame.
    """
    wanted = sorted({int(i) for i in indices if 0 <= i < clip.n_frames})
    stamps, keys = packet_stamps(clip.path)
    found: dict[int, Picture] = {}
    if stamps.size == clip.n_frames and clip.n_undecoded == 0:
        found = _read_by_stamp(clip.path, stamps, keys, wanted)
    if len(found) < len(wanted):
        with open_clip(clip.path) as reader:
            for frame in reader:
                if frame.index in wanted:
                    found[frame.index] = frame.rgb
                if frame.index >= wanted[-1]:
                    break
    return found


def _read_by_stamp(
    path: Path, stamps: Stamps, keys: Stamps, wanted: list[int]
) -> dict[int, Picture]:
    """Read frames by seeking; a frame that does not turn up under its stamp is left out."""
    found: dict[int, Picture] = {}
    with opened(path) as (container, stream):
        pictures: Iterator[VideoFrame] = iter(())
        position = -math.inf
        for index in wanted:
            stamp = int(stamps[index])
            key = keys[max(bisect_right(keys, stamp) - 1, 0)] if keys.size else stamp
            if key > position or position == -math.inf:  # else it is nearer to decode on
                container.seek(stamp, stream=stream, backward=True)
                pictures = container.decode(stream)
            for picture in pictures:
                if picture.pts is None:
                    continue
                position = picture.pts
                if picture.pts == stamp:
                    upright = Orientation.of_picture(picture)
                    found[index] = upright.upright(picture)
                if picture.pts >= stamp:
                    break
    return found


Numbered = tuple[int, Picture]


class FrameRuns:
    """Streams runs of frames; a run may lie before or over one that was read already.

    Seeks to the keyframe before a run and decodes up to it. Where presentation stamps do not
    distinguish the frames (a damaged file), the clip is decoded from its start.

    Parameters
    ----------
    clip
        Facts of the film, from `ClipReader.clip`; its file has to lie where it lay.
    """

    def __init__(self, clip: Clip) -> None:
        self._clip = clip
        stamps, _keys = packet_stamps(clip.path)
        self._stamps = stamps
        self._can_seek = stamps.size == clip.n_frames and clip.n_undecoded == 0

    def read(self, first: int, stop: int) -> Generator[Numbered, None, None]:
        """Yield the numbers and upright pictures of a run of frames, stop not included.

        Parameters
        ----------
        first, stop
            Frame numbers; what lies outside the clip is left out.

        Raises
        ------
        ClipError
            The file cannot be used any more.
        """
        first, stop = max(first, 0), min(stop, self._clip.n_frames)
        if first >= stop:
            return
        # A frame that does not turn up under its stamp is left out, as everywhere.
        run = self._sought(first, stop) if self._can_seek else self._from_the_start(first, stop)
        with closing(run):
            yield from run

    def _sought(self, first: int, stop: int) -> Generator[Numbered, None, None]:
        start, end = int(self._stamps[first]), int(self._stamps[stop - 1])
        number_of = {int(stamp): first + i for i, stamp in enumerate(self._stamps[first:stop])}
        with opened(self._clip.path) as (container, stream):
            container.seek(start, stream=stream, backward=True)
            pictures: Iterator[VideoFrame] = container.decode(stream)
            for picture in pictures:
                if picture.pts is None or picture.pts < start:
                    continue
                if picture.pts in number_of:
                    upright = Orientation.of_picture(picture).upright(picture)
                    yield number_of[picture.pts], upright
                if picture.pts >= end:
                    return

    def _from_the_start(self, first: int, stop: int) -> Generator[Numbered, None, None]:
        with open_clip(self._clip.path) as reader:
            for frame in reader:
                if frame.index >= stop:
                    return
                if frame.index >= first:
                    yield frame.index, frame.rgb

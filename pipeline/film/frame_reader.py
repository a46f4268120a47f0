"""Reads runs of frames of a clip that was analysed before, each the very one that was measured."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import closing
from typing import TYPE_CHECKING

from pipeline.core.types import Clip
from pipeline.film.clip import open_clip
from pipeline.film.container import Orientation, Picture, opened, packet_stamps

if TYPE_CHECKING:
    from av import VideoFrame

Numbered = tuple[int, Picture]


class FrameRuns:
    """Streams runs of frames; a run may lie before or over one that was read already.

    Seeks to the keyframe before a run and decodes up to it. Where presentation stamps do not tell
    the frames apart (a damaged file), the clip is decoded from its start.

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

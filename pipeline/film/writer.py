"""Writes film that phones and browsers play: H.264, each picture at its own time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.errors import OutputError
from pipeline.core.files import written_whole
from pipeline.film.container import Picture

if TYPE_CHECKING:
    from av.container import OutputContainer
    from av.video.stream import VideoStream

TICKS_PER_S = 90_000
"""Divides all usual frame rates, so that times are kept to a hundredth of a millisecond."""

LONGEST_SIDE_PX = 1280
"""Larger film is made smaller: sharp on a phone, light to send."""

QUALITY = "21"
PRESET = "veryfast"
KEYFRAME_EVERY = 60
"""Pictures from one to the next at which a player can start: to step through a film smoothly."""

_BT709 = 1


def film_size_px(width_px: int, height_px: int) -> tuple[int, int]:
    """Give the size in which pictures are written: even, and no side over `LONGEST_SIDE_PX`.

    Examples
    --------
    >>> film_size_px(3840, 2160), film_size_px(405, 721)
    ((1280, 720), (404, 720))
    """
    scale = min(1.0, LONGEST_SIDE_PX / max(width_px, height_px))
    # Half of the pixels carry colour (yuv420p), so sides are even.
    width, height = (max(2, 2 * int(side * scale / 2)) for side in (width_px, height_px))
    return width, height


class FilmWriter:
    """Takes pictures with their times, in order; made by `open_film_writer`."""

    def __init__(self, container: OutputContainer, size_px: tuple[int, int]) -> None:
        self._container = container
        self._size_px = size_px
        self._stream = _h264_stream(container, size_px)
        self._last_tick = -1

    def write(self, picture: Picture, time_s: float) -> None:
        """Add a picture that is shown from a time on.

        Parameters
        ----------
        picture
            (height, width, 3) RGB of the film's size.
        time_s
            Later than the one before.

        Raises
        ------
        ValueError
            The picture has another size.
        """
        from av import VideoFrame

        if picture.shape[:2] != self._size_px[::-1]:
            raise ValueError(
                f"a picture must be {self._size_px} px, but got {picture.shape[1::-1]}"
            )
        frame = VideoFrame.from_ndarray(picture, format="rgb24").reformat(
            format="yuv420p", dst_colorspace="ITU709"
        )
        tick = max(round(time_s * TICKS_PER_S), self._last_tick + 1)
        frame.pts, frame.time_base = tick, Fraction(1, TICKS_PER_S)
        self._last_tick = tick
        self._container.mux(self._stream.encode(frame))

    def finish(self) -> None:
        """Write what the encoder still holds."""
        self._container.mux(self._stream.encode())


@contextmanager
def _whole_in_its_folder(path: Path) -> Iterator[Path]:
    path.parent.mkdir(parents=True, exist_ok=True)
    with written_whole(path) as part:
        yield part


@contextmanager
def open_film_writer(
    path: Path,
    size_px: tuple[int, int],
    *,
    place: Callable[[Path], AbstractContextManager[Path]] = _whole_in_its_folder,
) -> Iterator[FilmWriter]:
    """Write a film, which is there only once it is whole.

    H.264 in MP4 with the index in front, so that it plays while it loads; no sound, and nothing of
    what a phone notes on place and time.

    Parameters
    ----------
    path
        Where it goes; replaced if it exists.
    size_px
        Width and height of the pictures, both even.
    place
        Gives the place to write to, and moves the film to its own place in the end.

    Raises
    ------
    OutputError
        It cannot be written there; what was there before is kept.
    """
    import av
    from av.error import FFmpegError

    try:
        with place(path) as part:
            options = {"movflags": "+faststart"}
            with av.open(f"file:{part}", "w", format="mp4", options=options) as container:
                writer = FilmWriter(container, size_px)
                yield writer
                writer.finish()
    except (FFmpegError, OSError) as error:
        # Reading the source raises errors of its own, which are never of these kinds.
        why = error.strerror or str(error)
        raise OutputError.of("film_not_written", path=str(path), why=why) from error


def _h264_stream(container: OutputContainer, size_px: tuple[int, int]) -> VideoStream:
    options = {"preset": PRESET, "crf": QUALITY, "profile": "high"}
    stream = container.add_stream("libx264", rate=30, options=options)
    stream.width, stream.height = size_px
    stream.pix_fmt = "yuv420p"
    stream.time_base = Fraction(1, TICKS_PER_S)
    context = stream.codec_context
    context.time_base = Fraction(1, TICKS_PER_S)
    context.gop_size = KEYFRAME_EVERY
    context.color_range = 1  # the usual one, 16 to 235
    context.colorspace = context.color_primaries = context.color_trc = _BT709
    return stream

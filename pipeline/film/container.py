"""The film file itself: opened safely, its announced facts, its time stamps, its orientation."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
import numpy.typing as npt

from pipeline.core.errors import EmptyClip, NoPictureStream, UnreadableClip

if TYPE_CHECKING:
    from av import VideoFrame
    from av.container import InputContainer
    from av.video.stream import VideoStream

Picture = npt.NDArray[np.uint8]
"""(height, width, 3) RGB, upright."""
Stamps = npt.NDArray[np.int64]
"""Times in units of a stream's time base."""

# Containers that phones, cameras and messengers write. A closed list, because the decoder library
# would also open play lists, which point to other files and hosts, and plain text "as a film".
CONTAINERS = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,asf,flv,ogg,h264,hevc"
MAX_PICTURE_PX = 8192 * 8192


@dataclass(frozen=True, slots=True)
class Orientation:
    """How a stored picture is turned to stand upright: transpose, then flips of the result."""

    transpose: bool = False
    flip_x: bool = False
    flip_y: bool = False

    @classmethod
    def of_matrix(cls, matrix: npt.NDArray[np.integer]) -> Orientation:
        """Read the display matrix of a film file (ISO/IEC 14496-12, track header).

        A stored point (p, q) is shown at (a p + c q, b p + d q), x right and y down. Phones write
        quarter turns and flips only; anything between is taken as the nearest of them.
        """
        (a, b), (c, d) = matrix[0, :2].tolist(), matrix[1, :2].tolist()
        if abs(b) + abs(c) > abs(a) + abs(d):
            return cls(transpose=True, flip_x=c < 0, flip_y=b < 0)
        return cls(transpose=False, flip_x=a < 0, flip_y=d < 0)

    @classmethod
    def of_picture(cls, picture: VideoFrame) -> Orientation:
        """Read the display matrix that came with a decoded picture; without one, it is upright."""
        matrix = picture.side_data.get("DISPLAYMATRIX")
        if matrix is None:
            return cls()
        return cls.of_matrix(np.frombuffer(cast("bytes", matrix), np.int32).reshape(3, 3))

    @property
    def mirrored(self) -> bool:
        """Whether the turn includes a reflection, as in some selfie recordings."""
        return self.transpose ^ self.flip_x ^ self.flip_y

    @property
    def rotation_deg(self) -> int:
        """Clockwise turn; a reflection, if any, is a left-right flip after the turn."""
        flip_x = self.flip_x ^ self.mirrored
        if self.transpose:
            return 90 if flip_x else 270
        return 180 if flip_x else 0

    def upright_size(self, width_px: int, height_px: int) -> tuple[int, int]:
        """Return width and height of the upright picture, px."""
        return (height_px, width_px) if self.transpose else (width_px, height_px)

    def upright(self, picture: VideoFrame) -> Picture:
        """Return a decoded picture as it was filmed: 8-bit RGB, upright, contiguous."""
        return self.turn(np.asarray(picture.to_ndarray(format="rgb24"), dtype=np.uint8))

    def turn(self, stored: Picture) -> Picture:
        """Turn a stored picture upright; the result is contiguous."""
        if not (self.transpose or self.flip_x or self.flip_y):
            return stored
        import cv2

        picture = cv2.transpose(stored) if self.transpose else stored
        if self.flip_x or self.flip_y:
            picture = cv2.flip(picture, -1 if self.flip_x and self.flip_y else int(self.flip_x))
        return np.ascontiguousarray(picture, dtype=np.uint8)


@contextmanager
def opened(path: Path) -> Iterator[tuple[InputContainer, VideoStream]]:
    """Open a film file and its picture stream.

    Raises
    ------
    UnreadableClip, EmptyClip, NoPictureStream
        If the file holds no film that can be decoded.
    """
    import av
    from av.error import FFmpegError

    if not path.is_file():
        raise UnreadableClip.of("no_such_film", file=path.name)
    try:
        if path.stat().st_size == 0:
            raise EmptyClip.of("empty_film", file=path.name)
        # "file:" keeps a name with a colon from being read as the address of a host.
        container = av.open(
            f"file:{path}",
            options={"format_whitelist": CONTAINERS, "protocol_whitelist": "file"},
            metadata_errors="ignore",
        )
    except PermissionError as error:
        raise UnreadableClip.of("film_not_allowed", file=path.name) from error
    except (FFmpegError, OSError, ValueError) as error:
        raise UnreadableClip.of("not_a_film", file=path.name) from error
    with container:
        yield container, _picture_stream(path, container)


CAPTURE_RATE = "com.android.capture.fps"
"""Name under which Android phones keep the rate at which a film was recorded."""


def captured_rate_hz(container: InputContainer) -> float | None:
    """Return the rate at which a phone states that it recorded a film; None where it does not."""
    try:
        rate_hz = float(container.metadata.get(CAPTURE_RATE, "nan"))
    except ValueError:
        return None
    return rate_hz if math.isfinite(rate_hz) and rate_hz > 0.0 else None


def _picture_stream(path: Path, container: InputContainer) -> VideoStream:
    """Return the first stream of moving pictures, set to decode on all cores."""
    from av.stream import Disposition

    for stream in container.streams.video:
        if not stream.disposition & Disposition.attached_pic:  # cover art is no film
            # The library's default, threads by slice, cannot help film of one slice a picture.
            stream.thread_type = "AUTO"
            _refuse_giant(path, stream.codec_context.width, stream.codec_context.height)
            return stream
    raise NoPictureStream.of("sound_only", file=path.name)


def _refuse_giant(path: Path, width_px: int, height_px: int) -> None:
    """Raise `UnreadableClip` for a picture so large that decoding it could exhaust the memory."""
    if width_px * height_px > MAX_PICTURE_PX:
        raise UnreadableClip.of(
            "picture_too_large", file=path.name, width=width_px, height=height_px
        )


def empty(path: Path) -> EmptyClip:
    """Return the error for a file without a single picture."""
    return EmptyClip.of("film_without_picture", file=path.name)


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file, hexadecimal, read in pieces."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()


def announced_duration_s(container: InputContainer, stream: VideoStream) -> float:
    """Return the length that the file claims to have; NaN when it does not state it."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / 1e6 if container.duration else float("nan")


def announced_step_s(stream: VideoStream) -> float:
    """Return the usual step between frames as the file states it; 1/30 s when it does not."""
    rate = stream.average_rate or stream.guessed_rate
    return float(1 / rate) if rate else 1 / 30


def announced_frames(stream: VideoStream, duration_s: float) -> int | None:
    """Return about how many frames there are, for a progress bar; None when unknown."""
    if stream.frames:
        return int(stream.frames)
    n_frames = duration_s / announced_step_s(stream)
    return round(n_frames) if np.isfinite(n_frames) else None


def packet_stamps(path: Path) -> tuple[Stamps, Stamps]:
    """Read the time stamps of all pictures without decoding any.

    Returns
    -------
    stamps, keys
        Presentation stamps of all pictures and of the keyframes, each in order, in units of the
        stream's time base. Both empty if a picture has none or two share one.
    """
    from av.error import FFmpegError

    stamps: list[int] = []
    keys: list[int] = []
    with opened(path) as (container, stream):
        try:
            for packet in container.demux(stream):
                if not packet.size or packet.is_discard:
                    continue
                if packet.pts is None:
                    return np.empty(0, np.int64), np.empty(0, np.int64)
                stamps.append(packet.pts)
                if packet.is_keyframe:
                    keys.append(packet.pts)
        except FFmpegError:
            pass  # The file breaks off; what came before is still good.
    if len(set(stamps)) < len(stamps):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    return np.sort(np.asarray(stamps, np.int64)), np.sort(np.asarray(keys, np.int64))


def frames_beyond_end(stream: VideoStream, path: Path) -> int:
    """Count the pictures that the index of a cut-off file lists beyond the end of its bytes."""
    n_bytes = path.stat().st_size
    entries = getattr(stream, "index_entries", None) or ()  # known to the library from version 17
    return sum(entry.pos + entry.size > n_bytes for entry in entries)

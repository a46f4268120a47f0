"""Frame times of a film in a browser, and positions of tracked points on its frames."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import numpy as np

from calibration.camera import project_px
from calibration.lens_profile import distort_px, undistort_px
from calibration.turned_view import moved_points
from pipeline.core.types import Clip, FloatArray, SmoothTracks
from pipeline.film.container import Orientation, Stamps, opened, packet_stamps
from pipeline.film.stabilise import unstabilise
from pipeline.film.undistort import distort
from pipeline.scene.placed_clip import PlacedClip

PLAYED_CODECS = {"h264": "mp4", "vp8": "webm", "vp9": "webm", "av1": "mp4"}
"""Codecs that Debian's Chromium plays, each with its container family."""

PLAYED_PICTURES = ("yuv420p", "yuvj420p")
MEDIA_TYPES = {"mp4": "video/mp4", "webm": "video/webm"}
FAMILIES = {"mov": "mp4", "mp4": "mp4", "matroska": "webm", "webm": "webm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmTimes:
    """Frame times of a film file.

    Attributes
    ----------
    stamps
        (n,) presentation stamps in order, integers; empty if they do not distinguish the frames.
    time_base
        Seconds per unit of a stamp.
    media_type
        Media type of the file; None if browsers do not play it, or not the right way up.
    """

    stamps: Stamps
    time_base: Fraction
    media_type: str | None

    def seconds(self) -> FloatArray:
        """(n,) stamps in seconds of the film's own clock, as browsers report them."""
        return np.asarray(
            self.stamps * self.time_base.numerator / self.time_base.denominator, float
        )

    def shows(self, clip: Clip) -> bool:
        """Whether a browser plays the file and shows exactly the analysed frames."""
        return self.media_type is not None and self.stamps.size == clip.n_frames


def film_times(path: Path) -> FilmTimes:
    """Read the frame times and the media type of a film, decoding at most one frame.

    Raises
    ------
    ClipError
        The film cannot be used.
    """
    stat = path.stat()
    return _film_times(path, stat.st_mtime_ns, stat.st_size)


def media_type_of(path: Path) -> str | None:
    """Media type of a film; None if browsers do not play it.

    Raises
    ------
    ClipError
        The film cannot be used.
    """
    stat = path.stat()
    return _media_type_of(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=64)
def _film_times(path: Path, changed: int, size: int) -> FilmTimes:
    stamps = packet_stamps(path)[0]
    with opened(path) as (_, stream):
        time_base = Fraction(stream.time_base or 1)
    return FilmTimes(
        stamps=stamps, time_base=time_base, media_type=_media_type_of(path, changed, size)
    )


@lru_cache(maxsize=64)
def _media_type_of(path: Path, changed: int, size: int) -> str | None:
    del changed, size  # only keys of the cache
    with opened(path) as (container, stream):
        context = stream.codec_context
        family = PLAYED_CODECS.get(context.name.removeprefix("lib").split("-")[0])
        containers = {FAMILIES.get(name) for name in container.format.name.split(",")}
        if family is None or family not in containers or context.pix_fmt not in PLAYED_PICTURES:
            return None
        return MEDIA_TYPES[family] if _is_turned_only(container, stream) else None


def _is_turned_only(container: object, stream: object) -> bool:
    """Whether the first frame is not mirrored; browsers rotate frames but do not mirror them."""
    from av.error import FFmpegError

    try:
        first = next(container.decode(stream), None)  # type: ignore[attr-defined]
    except FFmpegError:
        return False
    return first is not None and not Orientation.of_picture(first).mirrored


def to_stabilised_px(placed: PlacedClip, frame: int, film_px: FloatArray) -> FloatArray:
    """Map a point (2,) of a frame of the film to the undistorted, stabilised picture."""
    point = film_px if placed.lens is None else undistort_px(placed.lens, film_px)
    if placed.steady.to_film is not None:
        point = moved_points(np.linalg.inv(placed.steady.to_film[frame]), point[None])[0]
    return np.asarray(point)


def tracks_on_film(placed: PlacedClip, smooth: SmoothTracks) -> SmoothTracks:
    """Map joints of the undistorted, stabilised picture to the frames of the film."""
    return distort(unstabilise(smooth, placed.steady.to_film), placed.lens)


def field_on_film(placed: PlacedClip, frame: int, points_m: FloatArray) -> FloatArray:
    """Image points (n, 2) of field points (n, 3) on a frame of the film, by the best camera."""
    scene = placed.scene
    points_px = project_px(
        points_m,
        focal_px=scene.focal_px[0],
        principal_px=scene.principal_px,
        pitch_deg=scene.pitch_deg[0],
        roll_deg=scene.roll_deg[0],
        height_m=scene.height_m[0],
    )
    if placed.steady.to_film is not None:
        points_px = moved_points(placed.steady.to_film[frame], points_px)
    if scene.lens is not None:
        points_px = distort_px(scene.lens, points_px)
    return np.asarray(points_px)

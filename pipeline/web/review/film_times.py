"""When a browser shows each frame of a film, and where points of the steadied picture lie on it."""

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
"""Codecs that Debian's Chromium plays, and the family of containers to name them by."""

PLAYED_PICTURES = ("yuv420p", "yuvj420p")
MEDIA_TYPES = {"mp4": "video/mp4", "webm": "video/webm"}
FAMILIES = {"mov": "mp4", "mp4": "mp4", "matroska": "webm", "webm": "webm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmTimes:
    """The times of the pictures of a film file.

    Attributes
    ----------
    stamps
        (n,) presentation stamps in order, whole numbers; empty where they do not tell the
        pictures apart.
    time_base
        Seconds of one unit of them.
    media_type
        As the file is to be announced to a browser that plays it; None for one that it cannot
        play, or not the right way up.
    """

    stamps: Stamps
    time_base: Fraction
    media_type: str | None

    def seconds(self) -> FloatArray:
        """(n,) stamps in seconds of the film's own clock, as a browser tells them."""
        return np.asarray(
            self.stamps * self.time_base.numerator / self.time_base.denominator, float
        )

    def shows(self, clip: Clip) -> bool:
        """Tell whether a browser that plays the file shows the frames that were analysed."""
        return self.media_type is not None and self.stamps.size == clip.n_frames


def film_times(path: Path) -> FilmTimes:
    """Read the times of a film and whether a browser plays it, without decoding more than a frame.

    Raises
    ------
    ClipError
        The film cannot be used.
    """
    about = path.stat()
    return _film_times(path, about.st_mtime_ns, about.st_size)


def played_as(path: Path) -> str | None:
    """Tell as what a browser that plays a film is told of it; None if it does not play it.

    Raises
    ------
    ClipError
        The film cannot be used.
    """
    about = path.stat()
    return _played_as(path, about.st_mtime_ns, about.st_size)


@lru_cache(maxsize=64)
def _film_times(path: Path, changed: int, size: int) -> FilmTimes:
    stamps = packet_stamps(path)[0]
    with opened(path) as (_, stream):
        time_base = Fraction(stream.time_base or 1)
    return FilmTimes(stamps=stamps, time_base=time_base, media_type=_played_as(path, changed, size))


@lru_cache(maxsize=64)
def _played_as(path: Path, changed: int, size: int) -> str | None:
    del changed, size  # a file that was changed is another one
    with opened(path) as (container, stream):
        context = stream.codec_context
        family = PLAYED_CODECS.get(context.name.removeprefix("lib").split("-")[0])
        held_in = {FAMILIES.get(name) for name in container.format.name.split(",")}
        if family is None or family not in held_in or context.pix_fmt not in PLAYED_PICTURES:
            return None
        return MEDIA_TYPES[family] if _is_turned_only(container, stream) else None


def _is_turned_only(container: object, stream: object) -> bool:
    """Tell whether the first picture has no mirror in it: browsers turn pictures, no more."""
    from av.error import FFmpegError

    try:
        first = next(container.decode(stream), None)  # type: ignore[attr-defined]
    except FFmpegError:
        return False
    return first is not None and not Orientation.of_picture(first).mirrored


def steadied_px(seen: PlacedClip, frame: int, film_px: FloatArray) -> FloatArray:
    """Carry a point (2,) of a frame of the film to where the tracks are."""
    point = film_px if seen.lens is None else undistort_px(seen.lens, film_px)
    if seen.steady.to_film is not None:
        point = moved_points(np.linalg.inv(seen.steady.to_film[frame]), point[None])[0]
    return np.asarray(point)


def filmed(seen: PlacedClip, smooth: SmoothTracks) -> SmoothTracks:
    """Carry clean joints to where each frame of the film shows them."""
    return distort(unstabilise(smooth, seen.steady.to_film), seen.lens)


def field_on_film(seen: PlacedClip, frame: int, points_m: FloatArray) -> FloatArray:
    """(n, 2) where a frame of the film shows points (n, 3) of the field, by the best camera."""
    scene = seen.scene
    points_px = project_px(
        points_m,
        focal_px=scene.focal_px[0],
        principal_px=scene.principal_px,
        pitch_deg=scene.pitch_deg[0],
        roll_deg=scene.roll_deg[0],
        height_m=scene.height_m[0],
    )
    if seen.steady.to_film is not None:
        points_px = moved_points(seen.steady.to_film[frame], points_px)
    if scene.lens is not None:
        points_px = distort_px(scene.lens, points_px)
    return np.asarray(points_px)

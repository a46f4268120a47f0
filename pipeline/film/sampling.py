"""A few moments of a film: which pictures to look at, read without decoding the rest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pipeline.core.types import BoolArray, FloatArray
from pipeline.film.container import (
    Orientation,
    Picture,
    announced_duration_s,
    announced_step_s,
    empty,
    opened,
)

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream

N_MOMENTS = 6
"""Enough to see where someone runs and how a camera drifts; each costs some 0.1 s of pose model."""
MOST_DECODED_PX = 180 * 1280 * 720
"""Pictures that are decoded to reach the moments, in pixels: some 0.2 s on two cores. A phone
writes a key picture every half second or so, to which a reader jumps; film that has few of them
is seen less evenly instead of longer."""
MOST_STAMPS_READ = 1200
"""Time stamps that are read one by one from a file without an index: 20 s at 60 frames a second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmClock:
    """Facts of a film's pictures that need no decoding.

    Attributes
    ----------
    time_s
        (n,) times of pictures from the first one, in order; of the first ones only if the file
        has no index.
    is_key
        (n,) whether decoding can begin there.
    duration_s
        Length of the film; NaN when unknown.
    indexed
        Whether these are all pictures of the film.
    """

    time_s: FloatArray
    is_key: BoolArray
    duration_s: float
    indexed: bool


@dataclass(frozen=True, slots=True)
class Moment:
    """A picture of a film and its time.

    Attributes
    ----------
    time_s
        From the first picture.
    rgb
        (height, width, 3) upright.
    """

    time_s: float
    rgb: Picture


def read_moments(path: Path) -> tuple[FilmClock, list[Moment], Orientation]:
    """Read a few pictures spread over a film; takes no longer for a long film than for a short one.

    Parameters
    ----------
    path
        The film.

    Returns
    -------
    clock, moments, orientation
        Moments in order of time, at least one; times are the file's own.

    Raises
    ------
    UnreadableClip, EmptyClip, NoPictureStream
        If the file holds no film that can be decoded.
    """
    from av.error import FFmpegError

    with opened(path) as (container, stream):
        clock = _film_clock(container, stream)
    moments: list[Moment] = []
    turn = Orientation()
    with opened(path) as (container, stream):
        picture_px = max(stream.codec_context.width * stream.codec_context.height, 1)
        most = max(int(MOST_DECODED_PX / picture_px), N_MOMENTS)
        tick_s = float(stream.time_base or 1)
        origin = stream.start_time or 0
        size: tuple[int, int] | None = None
        for start_s, after_s in plan_moments(clock, most):
            try:
                container.seek(origin + round(start_s / tick_s), stream=stream, backward=True)
                begin: float | None = None
                wanted = list(after_s)
                for picture in container.decode(stream):
                    if picture.is_corrupt or picture.pts is None:
                        continue
                    time_s = (picture.pts - origin) * tick_s
                    begin = time_s if begin is None else begin
                    if time_s < begin + wanted[0] - 0.5 * tick_s:
                        continue
                    size = size or (picture.width, picture.height)
                    if (picture.width, picture.height) == size:
                        turn = Orientation.of_picture(picture)
                        moments.append(Moment(time_s, turn.upright(picture)))
                    wanted = wanted[1:]
                    if not wanted:
                        break
            except FFmpegError:
                continue  # damaged here; other places may be sound
    moments = list({moment.time_s: moment for moment in moments}.values())
    if not moments:
        raise empty(path)
    return clock, sorted(moments, key=lambda moment: moment.time_s), turn


def plan_moments(clock: FilmClock, most_decoded: int) -> list[tuple[float, list[float]]]:
    """Say where to begin to decode, and which pictures to take from there on.

    Parameters
    ----------
    clock
        What is known of the film.
    most_decoded
        How many pictures may be decoded in all.

    Returns
    -------
    list of tuple
        Time of a key picture, and how long after it the wanted pictures come, s.
    """
    if not clock.indexed or not clock.is_key.any():
        length_s = clock.duration_s if np.isfinite(clock.duration_s) else 0.0
        shares = (np.arange(N_MOMENTS) + 0.5) / N_MOMENTS
        return [(float(share * length_s), [0.0]) for share in shares]
    n_frames = clock.time_s.size
    wanted = np.unique(((np.arange(N_MOMENTS) + 0.5) / N_MOMENTS * n_frames).astype(int))
    keys = np.flatnonzero(clock.is_key)
    key_of = keys[np.maximum(np.searchsorted(keys, wanted, side="right") - 1, 0)]
    plan: list[tuple[float, list[float]]] = []
    for key in np.unique(key_of).tolist():
        offsets = wanted[key_of == key] - key
        reach = most_decoded * offsets.size // wanted.size
        if offsets[-1] > reach:  # too far to go: the same number of pictures from the part before
            offsets = np.linspace(0, reach, offsets.size + 1)[1:].astype(int)
            offsets = np.minimum(offsets, n_frames - 1 - key)
        after_s = clock.time_s[key + np.unique(offsets)] - clock.time_s[key]
        plan.append((float(clock.time_s[key]), after_s.tolist()))
    return plan


def _film_clock(container: InputContainer, stream: VideoStream) -> FilmClock:
    """Read times from the file's index, else from its first packets."""
    duration_s = announced_duration_s(container, stream)
    tick_s = float(stream.time_base or 1)
    entries = list(getattr(stream, "index_entries", None) or ())
    indexed = bool(stream.frames) and len(entries) >= stream.frames
    if indexed:
        stamps = [(entry.timestamp, entry.is_keyframe) for entry in entries]
    else:
        stamps = list(islice(_packet_stamps(container, stream), MOST_STAMPS_READ))
    if len(stamps) < 2:
        step_s = announced_step_s(stream)
        n_known = round(duration_s / step_s) if np.isfinite(duration_s) else 1
        time_s = step_s * np.arange(max(n_known, 1))
        return FilmClock(
            time_s=time_s, is_key=np.zeros(time_s.size, bool), duration_s=duration_s, indexed=False
        )
    stamps.sort()
    time_s = (np.array([stamp for stamp, _ in stamps], float) - stamps[0][0]) * tick_s
    if not np.isfinite(duration_s):
        duration_s = float(time_s[-1]) if indexed else float("nan")
    return FilmClock(
        time_s=time_s,
        is_key=np.array([key for _, key in stamps], bool),
        duration_s=duration_s,
        indexed=indexed,
    )


def _packet_stamps(container: InputContainer, stream: VideoStream) -> Iterator[tuple[int, bool]]:
    """Yield the stamp of each picture and whether it is a key picture, as the file goes on."""
    from av.error import FFmpegError

    try:
        for packet in container.demux(stream):
            if packet.size and packet.pts is not None:
                yield packet.pts, packet.is_keyframe
    except FFmpegError:
        return

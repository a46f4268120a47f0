"""Finds the date of a film, and a digest by which copies of a film are recognised."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import Literal

from pipeline.film.container import opened

DatedBy = Literal["told", "film", "file"]

_FORMATS = ("%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%d %H:%M:%S%z")
_OWN_RECORD = ("com.apple.quicktime.creationdate", "creation_time", "date")
"""Metadata keys with the recording time. The first has the local time zone, so it gives the local
day; the others are UTC."""

EARLIEST_YEAR = 1995
"""First plausible year: a camera whose clock was never set writes 1904 or 1970."""

START_CODE = b"\x00\x00\x01"
# Kinds of unit that hold coded pictures; a container may rearrange the others.
_PICTURE_UNITS = {"h264": lambda first: 1 <= first & 0x1F <= 5, "hevc": lambda first: first < 0x40}


@dataclass(frozen=True, slots=True)
class FilmDate:
    """Date of a film.

    Attributes
    ----------
    day
        Local date.
    at
        Instant; None where only the day is known.
    by
        Source of the date: the user (``told``), the film's metadata, or the file's modification
        time, which is at or after the filming.
    """

    day: date
    at: datetime | None
    by: DatedBy


def film_date(path: Path, given: date | None = None) -> FilmDate:
    """Return the date of a film.

    Parameters
    ----------
    path
        The film.
    given
        The day, if set by the user.

    Raises
    ------
    ClipError
        The file cannot be read as a film.
    """
    with opened(path) as (container, stream):
        at = recorded_at({**stream.metadata, **container.metadata})
    if given is not None:
        # An instant on the same day still identifies the session.
        same = at is not None and _local(at).date() == given
        return FilmDate(given, at if same else None, "told")
    if at is not None:
        return FilmDate(_local(at).date(), at, "film")
    changed = datetime.fromtimestamp(path.stat().st_mtime, tz=timezone.utc)
    return FilmDate(changed.astimezone().date(), changed, "file")


def recorded_at(metadata: Mapping[str, str]) -> datetime | None:
    """Read the recording time from a film's metadata; None if missing or implausible.

    Parameters
    ----------
    metadata
        Metadata of the container and the stream.

    Returns
    -------
    datetime or None
        In the time zone in which it was written.

    Examples
    --------
    >>> recorded_at({"creation_time": "2026-09-01T16:30:00.000000Z"}).isoformat()
    '2026-09-01T16:30:00+00:00'
    """
    for name in _OWN_RECORD:
        for form in _FORMATS:
            try:
                at = datetime.strptime(metadata.get(name, ""), form)
            except ValueError:
                continue
            tomorrow = datetime.now(tz=timezone.utc) + timedelta(days=1)
            if at.year >= EARLIEST_YEAR and at <= tomorrow:
                return at
    return None


def stream_digest(path: Path) -> str:
    """Return the SHA-256 of a film's coded pictures, hexadecimal.

    It is the same for a renamed copy and for a copy in another container. Re-encoding or cutting
    changes it.

    Raises
    ------
    ClipError
        The file cannot be read as a film.
    """
    from av.error import FFmpegError

    digest = hashlib.sha256()
    with opened(path) as (container, stream):
        codec = stream.codec_context.name
        length_bytes = _length_bytes(codec, stream.codec_context.extradata)
        try:
            for packet in container.demux(stream):
                if packet.size:
                    for piece in _pictures(bytes(packet), codec, length_bytes):
                        digest.update(piece)
        except FFmpegError:
            pass  # The file is truncated; the pictures before identify it as well.
    return digest.hexdigest()


def _local(at: datetime) -> datetime:
    """Convert an instant to local time: its own zone if it is not UTC, else the system's zone."""
    return at.astimezone() if at.utcoffset() == timedelta(0) else at


def _length_bytes(codec: str, extradata: bytes | None) -> int:
    """Return the size of the length field before each unit; 0 if start codes separate them."""
    if codec not in _PICTURE_UNITS or not extradata or extradata[0] != 1:
        return 0
    place = 4 if codec == "h264" else 21
    return (extradata[place] & 3) + 1 if len(extradata) > place else 0


def _pictures(packet: bytes, codec: str, length_bytes: int) -> Iterator[bytes]:
    """Yield the coded pictures in a packet, without bytes that belong to the container."""
    holds_picture = _PICTURE_UNITS.get(codec)
    if holds_picture is None:
        yield packet
        return
    for unit in _units(packet, length_bytes):
        if unit and holds_picture(unit[0]):
            yield unit.rstrip(b"\x00")


def _units(packet: bytes, length_bytes: int) -> Iterator[bytes]:
    if not length_bytes:
        yield from packet.split(START_CODE)
        return
    at = 0
    while at + length_bytes <= len(packet):
        start = at + length_bytes
        at = start + int.from_bytes(packet[at:start], "big")
        yield packet[start:at]

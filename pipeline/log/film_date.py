"""When a film was made, and whether two files are the same film."""

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
"""Where films write when they were made. The first has the zone of the place, so that its day is
the one on the wall there; the others are UTC."""

EARLIEST_YEAR = 1995
"""A camera whose clock was never set writes 1904 or 1970."""

START_CODE = b"\x00\x00\x01"
# Kinds of unit that hold coded pictures; the others hold what a container may rearrange.
_PICTURE_UNITS = {"h264": lambda first: 1 <= first & 0x1F <= 5, "hevc": lambda first: first < 0x40}


@dataclass(frozen=True, slots=True)
class FilmDate:
    """When a film was made.

    Attributes
    ----------
    day
        Local date.
    at
        The instant; None where only the day is known.
    by
        Who says so: a person, the film's own record, or the time at which the file was last
        changed, which is at or after the filming.
    """

    day: date
    at: datetime | None
    by: DatedBy


def film_date(path: Path, told: date | None = None) -> FilmDate:
    """Find out when a film was made.

    Parameters
    ----------
    path
        The film.
    told
        The day, if a person said it.

    Raises
    ------
    ClipError
        The file cannot be read as a film.
    """
    with opened(path) as (container, stream):
        at = recorded_at({**stream.metadata, **container.metadata})
    if told is not None:
        # An instant of the same day still tells which session it was.
        same = at is not None and _local(at).date() == told
        return FilmDate(told, at if same else None, "told")
    if at is not None:
        return FilmDate(_local(at).date(), at, "film")
    changed = datetime.fromtimestamp(path.stat().st_mtime, tz=timezone.utc)
    return FilmDate(changed.astimezone().date(), changed, "file")


def recorded_at(metadata: Mapping[str, str]) -> datetime | None:
    """Read when a film says it was made; None where it does not, or its clock was not set.

    Parameters
    ----------
    metadata
        Of the container and the stream.

    Returns
    -------
    datetime or None
        With the zone that it was written in.

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
    """Return the SHA-256 of the coded pictures of a film alone, hexadecimal.

    A copy under another name has the same, and so has one that was put into another container
    without being coded again. Film that was coded again, or cut, is another film.

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
            pass  # The file breaks off; what came before tells it apart as well.
    return digest.hexdigest()


def _local(at: datetime) -> datetime:
    """Give an instant on the clock of its place: its own zone if it has one, else this one."""
    return at.astimezone() if at.utcoffset() == timedelta(0) else at


def _length_bytes(codec: str, extradata: bytes | None) -> int:
    """Bytes of the length before each unit; 0 where units are told apart by start codes."""
    if codec not in _PICTURE_UNITS or not extradata or extradata[0] != 1:
        return 0
    place = 4 if codec == "h264" else 21
    return (extradata[place] & 3) + 1 if len(extradata) > place else 0


def _pictures(packet: bytes, codec: str, length_bytes: int) -> Iterator[bytes]:
    """Coded pictures in a packet, without what belongs to the container."""
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

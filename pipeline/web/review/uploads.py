"""Receives film from the browser: streamed to disk, limited in size, with a generated name."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from datetime import datetime, timezone
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, BinaryIO

from pipeline.core.errors import CrossemetryError, UploadError
from pipeline.core.files import checked_stem

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartParser

MOST_FILM_BYTES = 2 * 2**30
"""Size limit of one film: about half an hour of a phone's film."""

MOST_FIELD_BYTES = 4096
MOST_PARTS = 40
MOST_FILMS = 12
SPARE_BYTES = 512 * 2**20
"""Space that stays free on the disk."""

ENDINGS = {"mov": ".mp4", "matroska": ".mkv", "avi": ".avi", "mpegts": ".ts", "mpeg": ".mpg"}
"""Ending of a stored film's name by the detected container; other kinds are refused."""


@dataclass(slots=True)
class Upload:
    """Fields and films of a form.

    Attributes
    ----------
    fields
        Text fields by name.
    films
        Name as sent (for display only) and written file of each film.
    """

    fields: dict[str, str] = field(default_factory=dict)
    films: list[tuple[str, Path]] = field(default_factory=list)

    def discard(self) -> None:
        """Delete the written files."""
        for _, path in self.films:
            path.unlink(missing_ok=True)
        self.films.clear()


async def take_upload(
    pieces: AsyncIterator[bytes], content_type: str, folder: Path, *, most_bytes: int
) -> Upload:
    """Write the films of a form into a folder while they arrive.

    Parameters
    ----------
    pieces
        Chunks of the request's body.
    content_type
        Header of the request.
    folder
        Folder of the films; their names end in ``.part`` until they are checked.
    most_bytes
        Size limit of one film.

    Raises
    ------
    UploadError
        The form is not valid or incomplete, or has too large or too many parts. Nothing of it stays
        on the disk.
    """
    boundary = _boundary(content_type)
    sink = _Sink(folder, most_bytes)
    try:
        parser = _parser(boundary, sink)
        async for piece in pieces:
            parser.write(piece)
        parser.finalize()
        sink.end()
    except BaseException as error:
        sink.close()
        sink.upload.discard()
        if isinstance(error, CrossemetryError) or not isinstance(error, Exception):
            raise
        raise UploadError.of("sent_unreadable") from error
    return sink.upload


def store_film(part: Path, folder: Path) -> Path:
    """Check a received file and give it its final name; a file that is not a film is deleted.

    Raises
    ------
    UploadError
        The program cannot read it as film; it is deleted.
    """
    try:
        ending = _ending(part)
    except CrossemetryError as error:
        part.unlink(missing_ok=True)
        raise UploadError.of("sent_no_film", do=error.what_to_do) from error
    day = datetime.now(tz=timezone.utc).strftime("%Y%m%d")
    stored = folder / f"film-{day}-{secrets.token_hex(4)}{ending}"
    part.rename(stored)
    return stored


def _ending(path: Path) -> str:
    """Give the ending for the detected container; the first frame must decode."""
    from pipeline.film.clip import open_clip
    from pipeline.film.container import opened

    with opened(path) as (container, _):
        kind = container.format.name.split(",")[0]
    if kind not in ENDINGS:
        raise UploadError.of("other_kind_of_film")
    with open_clip(path) as reader:
        next(iter(reader))
    return ENDINGS[kind]


class _Sink:
    """Receives the parts of a form from the parser, with a size limit on each."""

    def __init__(self, folder: Path, most_bytes: int) -> None:
        self.upload = Upload()
        self._folder = folder
        self._most_bytes = most_bytes
        self._headers: dict[str, str] = {}
        self._header = [b"", b""]
        self._name = ""
        self._text: bytearray | None = None
        self._file: BinaryIO | None = None
        self._n_bytes = 0
        self._n_parts = 0
        self._is_done = False

    def on_part_begin(self) -> None:
        self._headers, self._header, self._n_bytes = {}, [b"", b""], 0
        self._n_parts += 1
        if self._n_parts > MOST_PARTS:
            raise UploadError.of("sent_too_many_parts")

    def on_header_field(self, data: bytes, start: int, end: int) -> None:
        self._header[0] += data[start:end]

    def on_header_value(self, data: bytes, start: int, end: int) -> None:
        self._header[1] += data[start:end]

    def on_header_end(self) -> None:
        name, value = self._header
        self._headers[name.decode("latin-1").lower()] = value.decode("utf-8", "replace")
        self._header = [b"", b""]

    def on_headers_finished(self) -> None:
        from python_multipart.multipart import parse_options_header

        _, options = parse_options_header(self._headers.get("content-disposition", ""))
        self._name = options.get(b"name", b"").decode("utf-8", "replace")
        sent = options.get(b"filename")
        self._text, self._file = None, None
        if sent is None:
            self._text = bytearray()
        elif sent:
            self._begin_film(sent.decode("utf-8", "replace"))

    def on_part_data(self, data: bytes, start: int, end: int) -> None:
        self._n_bytes += end - start
        if self._file is not None:
            if self._n_bytes > self._most_bytes:
                raise UploadError.of("film_too_large", gb=f"{self._most_bytes / 2**30:.3g}")
            self._file.write(data[start:end])
        elif self._text is not None:
            if self._n_bytes > MOST_FIELD_BYTES:
                raise UploadError.of("sent_too_long_field")
            self._text += data[start:end]

    def on_part_end(self) -> None:
        if self._text is not None:
            self.upload.fields[self._name] = self._text.decode("utf-8", "replace")
        self.close()

    def on_end(self) -> None:
        self._is_done = True

    def end(self) -> None:
        """Raise `UploadError` unless the form is complete."""
        if not self._is_done:
            raise UploadError.of("film_broke_off")

    def close(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None

    def _begin_film(self, sent: str) -> None:
        if len(self.upload.films) >= MOST_FILMS:
            raise UploadError.of("sent_too_many_films")
        name = shown_name(sent)
        checked_stem(PurePosixPath(name))
        path = self._folder / f"{secrets.token_hex(8)}.part"
        self._file = path.open("xb")
        self.upload.films.append((name, path))


def shown_name(sent: str) -> str:
    r"""Give a file's name for display: without folders, printable characters only.

    Examples
    --------
    >>> shown_name("../../a\\b\x00c.mp4")
    'bc.mp4'
    """
    last = sent.replace("\\", "/").rpartition("/")[2]
    return "".join(sign for sign in last if sign.isprintable())[:120] or "film"


def enough_room(folder: Path, n_bytes: int) -> bool:
    """Whether the disk has room for a file and `SPARE_BYTES`."""
    import shutil

    return shutil.disk_usage(folder).free > n_bytes + SPARE_BYTES


def _boundary(content_type: str) -> bytes:
    from python_multipart.multipart import parse_options_header

    kind, options = parse_options_header(content_type)
    boundary = options.get(b"boundary", b"")
    if kind != b"multipart/form-data" or not boundary:
        raise UploadError.of("no_film_sent")
    return boundary


def _parser(boundary: bytes, sink: _Sink) -> MultipartParser:
    from python_multipart.multipart import MultipartParser

    names = ("part_begin", "header_field", "header_value", "header_end", "headers_finished",
             "part_data", "part_end", "end")  # fmt: skip
    callbacks: Any = {f"on_{name}": getattr(sink, f"on_{name}") for name in names}
    return MultipartParser(boundary, callbacks)

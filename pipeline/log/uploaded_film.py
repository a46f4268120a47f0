"""Film that was added on the review page: where it is kept, and taking it away with its athlete."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from pipeline.core.data_folder import data_folder

FOLDER = "review/film"
MARKS_ENDING = ".marks.toml"


def marks_beside(film: Path) -> Path:
    """Give the file of marks on the field that belongs to a film; it may not be there."""
    return film.with_name(f"{film.stem}{MARKS_ENDING}")


def added_film(rows: Iterable[Mapping[str, Any]]) -> list[Path]:
    """List the films of rows (``film_path``) that the page keeps, with their marks.

    A film that lies anywhere else is somebody's own and never in the list.
    """
    folder = (data_folder() / FOLDER).resolve()
    found: dict[Path, None] = {}
    for row in rows:
        if row.get("film_path") is None:
            continue
        film = Path(row["film_path"])
        for path in (film, marks_beside(film)):
            if path.resolve().parent == folder and path.is_file():
                found[path] = None
    return list(found)

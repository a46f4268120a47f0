"""Writes a film's data in the requested formats, each file atomically."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Literal, get_args

from pipeline.core.errors import OutputError
from pipeline.export.c3d import c3d_bytes
from pipeline.export.film_data import FilmData
from pipeline.export.parquet import parquet_bytes
from pipeline.export.tables import joints_table, keypoints_table, measures_table, reps_table
from pipeline.report.manifest import origin_of, write_recorded
from pipeline.report.results import reps_csv, reps_json, results_folder

Format = Literal["parquet", "c3d", "csv", "json"]
FORMATS: tuple[Format, ...] = get_args(Format)


def export_film(film: FilmData, formats: Sequence[Format], out: Path) -> list[Path]:
    """Write a film's data in one or more formats.

    Parameters
    ----------
    film
        The film's data.
    formats
        Requested formats, without duplicates.
    out
        Folder of all results; this clip's files go into its `results_folder`.

    Returns
    -------
    list of Path
        The written files.

    Raises
    ------
    OutputError
        The library for a format is not installed, or the folder cannot be written to.
    """
    # All contents are made before the first is written: a missing library leaves no files.
    contents = {name: data for wanted in formats for name, data in _WRITERS[wanted](film).items()}
    clip = film.analysis.clip
    folder = results_folder(out, clip.path, clip.digest)
    try:
        return write_recorded(
            folder,
            {name: [data] for name, data in contents.items()},
            origin_of("export", film.analysis),
        )
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("exports_not_written", path=str(folder), why=why) from error


def _parquet_files(film: FilmData) -> dict[str, bytes]:
    tables = {
        "reps": reps_table(film.analysis),
        "measures": measures_table(film.analysis),
        "keypoints": keypoints_table(film),
        "joints": joints_table(film),
    }
    return {
        f"{name}.parquet": parquet_bytes(table, schema_name=f"crossemetry.{name}/1")
        for name, table in tables.items()
    }


_WRITERS: Mapping[Format, Callable[[FilmData], dict[str, bytes]]] = {
    "parquet": _parquet_files,
    "c3d": lambda film: {"joints.c3d": c3d_bytes(film)},
    "csv": lambda film: {"reps.csv": reps_csv(film.analysis).encode("utf-8")},
    "json": lambda film: {"reps.json": reps_json(film.analysis).encode("utf-8")},
}

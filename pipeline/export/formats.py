"""Writes a film's data in the requested formats, each file atomically."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from pipeline.core.errors import OutputError
from pipeline.export.c3d import c3d_bytes
from pipeline.export.film_data import FilmData
from pipeline.export.optional_libraries import import_optional
from pipeline.export.tables import (
    Column,
    Table,
    joints_table,
    keypoints_table,
    measures_table,
    reps_table,
)
from pipeline.report.manifest import origin_of, write_recorded
from pipeline.report.results import reps_csv, reps_json, results_folder

if TYPE_CHECKING:
    import pyarrow

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


def parquet_bytes(table: Table, *, schema_name: str) -> bytes:
    """Write a table as the bytes of a Parquet file.

    Parameters
    ----------
    table
        The table; NaN becomes null.
    schema_name
        Name and version of the columns, e.g. ``crossemetry.joints/1``.

    Returns
    -------
    bytes
        Compressed by Zstandard. The schema's metadata describe the table under ``crossemetry.*``;
        each field's metadata hold unit and meaning of its column.

    Raises
    ------
    OutputError
        The Parquet library is not installed.
    """
    arrow = import_optional("pyarrow", extra="parquet")
    parquet = import_optional("pyarrow.parquet", extra="parquet")
    arrays = [_array(arrow, column) for column in table.columns.values()]
    fields = [
        arrow.field(name, array.type, metadata={"unit": column.unit, "says": column.meaning})
        for (name, column), array in zip(table.columns.items(), arrays, strict=True)
    ]
    about = {"schema": schema_name, **table.about}
    metadata = {f"crossemetry.{name}": text for name, text in about.items()}
    file = io.BytesIO()
    parquet.write_table(
        arrow.Table.from_arrays(arrays, schema=arrow.schema(fields, metadata=metadata)),
        file,
        compression="zstd",
    )
    return file.getvalue()


def _array(arrow: Any, column: Column) -> pyarrow.Array:  # noqa: ANN401 - a module
    kinds = {
        "text": arrow.string(),
        "word": arrow.string(),
        "whole": arrow.int32(),
        "number": arrow.float64(),
        "single": arrow.float32(),
        "frames": arrow.list_(arrow.int32()),
    }
    values = column.values
    if column.kind in ("number", "single"):
        numbers = (
            np.array([np.nan if v is None else v for v in values], float)
            if isinstance(values, list)
            else values
        )
        # A value that is not finite counts as not measured.
        return arrow.array(numbers, type=kinds[column.kind], mask=~np.isfinite(numbers))
    array = arrow.array(values, type=kinds[column.kind])
    return array.dictionary_encode() if column.kind == "word" else array


_WRITERS: Mapping[Format, Callable[[FilmData], dict[str, bytes]]] = {
    "parquet": _parquet_files,
    "c3d": lambda film: {"joints.c3d": c3d_bytes(film)},
    "csv": lambda film: {"reps.csv": reps_csv(film.analysis).encode("utf-8")},
    "json": lambda film: {"reps.json": reps_json(film.analysis).encode("utf-8")},
}

"""Writes tables as Parquet: typed columns, null for missing, units as metadata."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.export.optional_libraries import import_optional
from pipeline.export.tables import Column, Table

if TYPE_CHECKING:
    import pyarrow


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

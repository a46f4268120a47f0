import io
from dataclasses import replace

import numpy as np
import pyarrow.parquet as pq
import pytest

from pipeline.core.types import JOINTS, LANDMARKS
from pipeline.export.formats import parquet_bytes
from pipeline.export.tables import joints_table, keypoints_table, measures_table
from tests.fixtures.films import dodge_film


def read(table, name):
    return pq.read_table(io.BytesIO(parquet_bytes(table, schema_name=f"crossemetry.{name}/1")))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("table_of", "names", "columns", "arrays_of"),
    [
        (
            keypoints_table, LANDMARKS, ("x_px", "y_px", "visibility"),
            lambda film: (film.tracks.image_px[..., 0], film.tracks.image_px[..., 1],
                          film.tracks.visibility),
        ),
        (
            joints_table, JOINTS, ("x_m", "y_m", "z_m", "u_x_m", "u_y_m", "u_z_m"),
            lambda film: (*np.moveaxis(film.paths.joints_m, -1, 0),
                          *np.moveaxis(film.paths.u_m, -1, 0)),
        ),
    ],
)  # fmt: skip
def test_arrays_come_back_as_they_went_and_missing_stays_missing(
    table_of, names, columns, arrays_of
):
    film, _ = dodge_film()
    table = read(table_of(film), "any")
    n_frames = film.analysis.clip.n_frames
    shape = (2, n_frames, len(names))
    for name, array in zip(columns, arrays_of(film), strict=True):
        column = table.column(name)
        assert column.null_count == np.isnan(array).sum() > 0
        back = column.to_numpy().reshape(shape)
        np.testing.assert_array_equal(back, array.astype(np.float32))
        assert table.schema.field(name).metadata[b"unit"].decode() in ("px", "m", "1")
    times = table.column("time_s").to_numpy().reshape(shape)
    np.testing.assert_array_equal(times[0, :, 0], film.analysis.clip.time_s)
    assert (times == times[:1, :, :1]).all()
    people = table.column("person").to_pylist()
    assert people[0] == "athlete"
    assert people[-1] == "defender"


@pytest.mark.slow
def test_measures_come_back_exactly_with_the_frames_they_were_read_from():
    film, _ = dodge_film()
    rows = read(measures_table(film.analysis), "measures").to_pylist()
    measured = film.analysis.reps[0].measurements
    assert [row["measure"] for row in rows] == list(measured)
    for row in rows:
        measurement = measured[row["measure"]]
        assert (row["value"], row["u"]) == (measurement.value, measurement.u)
        assert (row["unit"], row["reason"]) == (measurement.unit, measurement.reason)
        assert tuple(row["frames"]) == measurement.frames
        assert row["athlete"] == "K. M."
    assert {row["value"] is None for row in rows} == {True, False}


def test_the_file_says_what_its_axes_are_and_how_the_scale_was_known():
    metadata = read(joints_table(dodge_film()[0]), "joints").schema.metadata
    assert metadata[b"crossemetry.schema"] == b"crossemetry.joints/1"
    assert metadata[b"crossemetry.scale_grade"] == b"B"
    assert b"z up" in metadata[b"crossemetry.frame_of_reference"]
    assert metadata[b"crossemetry.clip_digest"] == b"ab" * 32


def test_a_film_without_reps_has_tables_without_rows():
    film, _ = dodge_film()
    table = read(measures_table(replace(film.analysis, reps=())), "measures")
    assert table.num_rows == 0
    assert str(table.schema.field("value").type) == "double"

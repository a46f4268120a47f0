import math
from dataclasses import replace

import pytest

from pipeline.export.tables import (
    field_frame,
    joints_table,
    keypoints_table,
    measures_table,
    reps_table,
)
from tests.fixtures.films import dodge_film

MAKERS = {
    "reps": lambda film: reps_table(film.analysis),
    "measures": lambda film: measures_table(film.analysis),
    "keypoints": keypoints_table,
    "joints": joints_table,
}


@pytest.mark.slow
@pytest.mark.parametrize("name", MAKERS)
def test_columns_are_of_one_length_and_a_unit_in_the_name_is_the_unit(name):
    table = MAKERS[name](dodge_film()[0])
    assert len({len(column.values) for column in table.columns.values()}) == 1
    for column_name, column in table.columns.items():
        assert column.meaning
        if (last := column_name.rpartition("_")[2]) in ("m", "s", "px"):
            assert column.unit == last


def test_one_row_per_measure_with_a_value_or_a_reason():
    film, _ = dodge_film()
    table = measures_table(film.analysis).columns
    rep = film.analysis.reps[0]
    assert table["measure"].values == list(rep.measurements)
    for i, measurement in enumerate(rep.measurements.values()):
        assert table["value"].values[i] == measurement.value
        assert (table["value"].values[i] is None) == bool(table["reason"].values[i])
        assert (table["low95"].values[i] is None) == (measurement.value is None)
        assert table["plant_time_s"].values[i] == rep.rep.events["plant"].time_s
    verdicts = {verdict.key: verdict.word for verdict in rep.verdicts}
    assert table["verdict"].values == [verdicts.get(key) for key in rep.measurements]


def test_an_event_that_a_rep_has_not_is_missing_there():
    film, _ = dodge_film()
    (result,) = film.analysis.reps
    table = reps_table(film.analysis).columns
    assert table["dodge_start_u_s"].values == [result.rep.events["dodge_start"].u_s]
    assert math.isfinite(table["dodge_start_u_s"].values[0])
    assert "release_time_s" not in table


def test_without_a_ground_the_axes_say_so():
    analysis = dodge_film()[0].analysis
    assert "origin on the ground" in field_frame(analysis)["frame_of_reference"]
    carried = replace(analysis, scene=replace(analysis.scene, grade="C"))
    assert "no ground" in field_frame(carried)["frame_of_reference"]
    assert field_frame(carried)["scale_grade"] == "C"

import csv
import json
import sys

import pytest

from pipeline.core.errors import OutputError
from pipeline.export.formats import FORMATS, export_film
from pipeline.report.manifest import MANIFEST_NAME, read_manifest
from tests.fixtures.films import dodge_film


@pytest.mark.slow
def test_every_format_has_its_files_in_the_folder_of_the_clip(tmp_path):
    written = export_film(dodge_film()[0], FORMATS, tmp_path)
    assert [path.name for path in written] == [
        "reps.parquet", "measures.parquet", "keypoints.parquet", "joints.parquet", "joints.c3d",
        "reps.csv", "reps.json",
    ]  # fmt: skip
    assert {path.parent for path in written} == {tmp_path / "dodges"}
    assert {path.name for path in written} | {MANIFEST_NAME} == {
        path.name for path in (tmp_path / "dodges").iterdir()
    }
    origins = {entry.origin for entry in read_manifest(tmp_path / "dodges").entries.values()}
    assert [origin.made_by for origin in origins] == ["export"]
    assert json.loads(written[-1].read_text(encoding="utf-8"))["schema"] == "crossemetry.reps/1"
    with written[-2].open(encoding="utf-8") as file:
        assert [row["move"] for row in csv.DictReader(file)] == ["close_gap_dodge"]


@pytest.mark.slow
@pytest.mark.parametrize(("format_", "library"), [("parquet", "pyarrow"), ("c3d", "ezc3d")])
def test_a_missing_library_is_said_with_the_line_that_installs_it(
    tmp_path, monkeypatch, format_, library
):
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(OutputError, match=rf'pip install "crossemetry\[{format_}\]"') as raised:
        export_film(dodge_film()[0], ("csv", format_), tmp_path)
    assert library in str(raised.value)
    assert sys.executable in str(raised.value)
    assert not list(tmp_path.iterdir())


def test_a_folder_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="out"):
        export_film(dodge_film()[0], ("csv",), tmp_path / "out")

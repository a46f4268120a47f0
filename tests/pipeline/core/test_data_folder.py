"""Where the program keeps what a coach taught it."""

import pytest

from pipeline.core.errors import OutputError
from pipeline.core.files import VARIABLE, data_folder, made_folder


def test_the_environment_names_the_folder(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    assert data_folder() == tmp_path / "kept"
    assert not data_folder().exists()
    assert made_folder("drills").is_dir()


def test_without_it_the_folder_carries_the_program_s_name(monkeypatch):
    monkeypatch.delenv(VARIABLE, raising=False)
    assert data_folder().name == "crossemetry"


def test_a_folder_that_cannot_be_made_is_told(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "file"))
    with pytest.raises(OutputError, match="cannot be made"):
        made_folder("drills")

"""The command on its own: reading and writing are stand-ins."""

import sys

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.export import film_data, formats


@pytest.fixture
def calls(monkeypatch):
    found = []

    def read_film_data(path, settings, *, cache_dir, on_progress):
        found.append((path, settings, cache_dir))
        return "the film"

    def export_film(film, wanted, out):
        found.append((film, wanted, out))
        return [out / "clip" / f"joints.{name}" for name in wanted]

    monkeypatch.setattr(film_data, "read_film_data", read_film_data)
    monkeypatch.setattr(formats, "export_film", export_film)
    return found


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["export", *arguments])


def test_formats_settings_and_folders_reach_the_export(calls, run, tmp_path):
    (tmp_path / "clip.clip.toml").write_text('stature_m = 1.7\nmove = "split_dodge"\n')
    result = run(
        "clip.mp4", "--format", "c3d", "--format", "parquet", "--format", "c3d", "--out", "data",
        "--level", "youth",
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    (path, settings, cache_dir), (film, wanted, out) = calls
    assert (path.name, cache_dir.as_posix()) == ("clip.mp4", "data/.cache")
    assert (settings.stature_m, settings.move, settings.level) == (1.7, "split_dodge", "youth")
    assert (film, wanted, out.name) == ("the film", ("c3d", "parquet"), "data")
    assert [line.rpartition(".")[2] for line in result.stdout.splitlines()] == ["c3d", "parquet"]


def test_quiet_says_nothing(calls, run):
    result = run("clip.mp4", "--stature", "1.8", "--format", "csv", "--quiet")
    assert (result.exit_code, result.output) == (0, "")


def test_a_missing_library_is_told_before_the_long_work(calls, run, monkeypatch):
    monkeypatch.setitem(sys.modules, "ezc3d", None)
    result = run("clip.mp4", "--stature", "1.8", "--format", "c3d")
    assert result.exit_code == 1
    assert result.stderr.startswith("--format c3d: the library ezc3d")
    assert not calls


def test_a_format_that_is_none_is_told_with_those_that_are(calls, run):
    result = run("clip.mp4", "--stature", "1.8", "--format", "xls")
    assert result.exit_code == 2
    for name in formats.FORMATS:
        assert name in result.stderr


def test_a_film_that_is_none_is_one_line(run):
    result = run("none.mp4", "--stature", "1.8", "--format", "csv")
    assert result.exit_code == 2
    assert result.stderr.startswith("none.mp4")
    assert result.stderr.count("\n") == 1

"""The function for use from Python: what it is given reaches the analysis, which is a stand-in."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import pipeline
from pipeline import api
from pipeline.core.errors import CrossemetryError


@pytest.fixture
def calls(monkeypatch):
    found = []

    def analyse_clip(path, settings, *, cache_dir, on_progress):
        assert cache_dir.is_dir() or cache_dir == Path("kept")
        found.append((path, settings, cache_dir))
        return "the analysis"

    monkeypatch.setattr(api, "analyse_clip", analyse_clip)
    return found


def test_what_is_given_reaches_the_analysis(calls):
    given = {
        "stature_m": 1.7, "move": "split_dodge", "level": "youth", "athlete": "K. M.",
        "age_years": 12.0, "fov_deg": 65.0, "true_fps": 240.0, "athlete_at": (4.0, 5.0),
        "model": "lite", "explain": True, "seed": 7,
    }  # fmt: skip
    files = {"marks": "marks.toml", "targets": "mine.toml"}
    assert pipeline.analyse("clip.mp4", cache="kept", **given, **files) == "the analysis"
    ((path, settings, cache_dir),) = calls
    assert (path, cache_dir) == (Path("clip.mp4"), Path("kept"))
    for name, value in given.items():
        assert getattr(settings, name) == value
    assert settings.marks_path == Path("marks.toml")
    assert settings.targets_path == Path("mine.toml")


def test_the_file_beside_the_clip_is_read_and_nothing_is_kept(calls, tmp_path):
    (tmp_path / "clip.clip.toml").write_text('stature_m = 1.7\nlevel = "youth"\n')
    pipeline.analyse(tmp_path / "clip.mp4")
    ((_, settings, cache_dir),) = calls
    assert (settings.stature_m, settings.level, settings.move) == (1.7, "youth", None)
    assert not cache_dir.exists()


@pytest.mark.parametrize(
    ("given", "named"),
    [
        ({}, "clip.mp4: the athlete's stature"),
        ({"stature_m": 180.0}, "stature_m 180"),
        ({"stature_m": 1.8, "move": "split"}, "move: 'split'"),
        ({"stature_m": 1.8, "level": "best"}, "level: 'best'"),
        ({"stature_m": 1.8, "model": "hevy"}, "model: 'hevy'"),
    ],
)
def test_what_cannot_be_is_said_by_its_name(calls, given, named):
    with pytest.raises(CrossemetryError, match=named):
        pipeline.analyse("clip.mp4", **given)
    assert not calls


def test_importing_the_program_loads_nothing_of_it():
    code = (
        "import sys, pipeline\n"
        "loaded = {name for name in sys.modules if name.startswith('pipeline.')}\n"
        "sys.exit(' '.join(loaded | {'numpy', 'scipy', 'cv2'} & set(sys.modules)) or None)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_names_that_are_offered_are_there_and_have_types():
    stub = ast.parse(Path(pipeline.__file__).with_suffix(".pyi").read_text(encoding="utf-8"))
    typed = {
        name.asname for node in stub.body if isinstance(node, ast.ImportFrom) for name in node.names
    }
    assert typed | {"__version__"} == set(pipeline.__all__)
    for name in pipeline.__all__:
        assert getattr(pipeline, name) is not None
        assert name in dir(pipeline)
    with pytest.raises(AttributeError, match="nothing_of_this_name"):
        _ = pipeline.nothing_of_this_name

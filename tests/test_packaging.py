"""The program as people install it: a wheel, in an environment far from the checkout."""

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.sdist import SdistBuilder

ROOT = Path(__file__).resolve().parent.parent

NOT_SHIPPED = ("tests/", "sample_clips/", "models/training/")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    target = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--disable-pip-version-check",
         "--no-deps", "--no-index", "--no-build-isolation", "--wheel-dir", target, ROOT],
        check=True,
    )  # fmt: skip
    (path,) = target.glob("crossemetry-*.whl")
    return path


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A fresh environment with the wheel, and this environment's libraries: nothing is fetched."""
    folder = tmp_path_factory.mktemp("elsewhere") / "venv"
    venv.create(folder, with_pip=False, symlinks=os.name != "nt")
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-deps",
         "--no-index", "--disable-pip-version-check", wheel],
        check=True,
    )  # fmt: skip
    asked = "import sysconfig; print(sysconfig.get_path('purelib'))"
    site = Path(subprocess.check_output([python, "-c", asked], text=True).strip())
    # Folders named in a .pth file come after the environment's own, and their own .pth files are
    # not read: so a checkout that is installed for work over there is not seen from here.
    here = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (site / "libraries.pth").write_text("\n".join(sorted(here)), encoding="utf-8")
    return python


def test_wheel_holds_models_and_data(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("models", "pipeline", "calibration"):
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and not {"__pycache__", "training"} & set(path.parts):
                assert path.relative_to(ROOT).as_posix() in names
    assert {"pipeline/py.typed", "pipeline/__init__.pyi"} <= names
    assert not [name for name in names if name.startswith(NOT_SHIPPED)]
    assert [name for name in names if name.endswith("licenses/LICENSE")]


def test_source_archive_holds_the_documents_and_no_film():
    names = {file.distribution_path for file in SdistBuilder(str(ROOT)).recurse_included_files()}
    documents = {path.relative_to(ROOT).as_posix() for path in (ROOT / "docs").iterdir()}
    assert {"README.md", "DEVELOPERS.md", "CHANGELOG.md", *documents} <= names
    assert not [name for name in names if name.endswith(".mp4")]


@pytest.mark.slow
def test_installed_command_analyses_a_clip(installed, sample_clips, tmp_path):
    clip = shutil.copy(sample_clips[0], tmp_path)
    shutil.copy(sample_clips[0].with_suffix(".clip.toml"), tmp_path)
    command = installed.with_name("crossemetry")
    done = subprocess.run(
        [command, "analyse", clip, "--model", "lite", "--out", "results", "--json"],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    written = json.loads(
        (tmp_path / "results" / sample_clips[0].stem / "reps.json").read_text(encoding="utf-8")
    )
    assert written["schema"] == "crossemetry.reps/1"
    assert written["reps"]
    assert json.loads(done.stdout) == written


def test_installed_program_is_the_wheel_and_not_the_checkout(installed, tmp_path):
    code = "import pipeline, models; print(pipeline.__file__); print(models.bundle_path())"
    done = subprocess.run(
        [installed, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    for line in done.stdout.splitlines():
        assert Path(line).is_relative_to(installed.parent.parent)
        assert Path(line).is_file()


def test_installed_command_makes_a_training_log(installed, tmp_path):
    command = [installed.with_name("crossemetry"), "athlete", "add", "K. M."]
    done = subprocess.run(
        command, cwd=tmp_path, capture_output=True, text=True, check=False,
        env={**os.environ, "CROSSEMETRY_DATA": str(tmp_path / "kept")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "kept" / "training_log.sqlite3").stat().st_size > 0

"""Shipped pose model bundles are found, and are what they were when they were shipped."""

import shutil
from pathlib import Path

import pytest

import models
from pipeline.core.errors import ModelError


@pytest.mark.parametrize("name", models.MODELS)
def test_shipped_bundles_are_unaltered(name):
    path = models.bundle_path(name)
    assert models.verify(path) == models.checksums()[path.name]


def test_an_altered_bundle_is_refused(tmp_path):
    path = tmp_path / models.bundle_path().name
    shutil.copy(models.bundle_path(), path)
    with path.open("r+b") as file:
        file.seek(1000)
        file.write(b"x")
    with pytest.raises(ModelError, match="checksum"):
        models.verify(path)


def test_a_missing_bundle_is_said_by_name(tmp_path):
    with pytest.raises(ModelError, match=r"gone\.task"):
        models.verify(tmp_path / "gone.task")


def test_a_bundle_of_ones_own_is_taken_as_it_is(tmp_path):
    path = tmp_path / "own.task"
    path.write_bytes(b"own")
    assert len(models.verify(path)) == 64


def test_each_shipped_bundle_has_a_name_and_any_other_is_a_path():
    assert {models.bundle_path(name).name for name in models.MODELS} == set(models.checksums())
    assert models.bundle_path("folder/own.task") == Path("folder/own.task")

"""A writer that is killed leaves a whole log: every film and session in it, or not at all."""

import sys

import pytest

from pipeline.core.files import VARIABLE
from tests.bench.killing import kill_often


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_a_killed_writer_leaves_nothing_half_written(tmp_path, monkeypatch, write_film):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    left = kill_often(str(tmp_path / "kept"), write_film(), 10, seed=7)
    assert len(left) == 10
    assert left[-1].n_reps > 0
    assert left[-1].n_added >= 5

"""One writer at a time."""

import subprocess
import sys

import pytest

from pipeline.core.errors import OutputError
from pipeline.core.files import locked


def test_a_second_writer_is_told_and_may_go_on_later(tmp_path):
    path = tmp_path / "ranges.toml"
    told = pytest.raises(OutputError, match=r"ranges\.toml: another program")
    with locked(path), told, locked(path, wait_s=0.0):
        pytest.fail("two at once")
    with locked(path, wait_s=0.0):
        pass


def test_a_writer_that_was_killed_leaves_nothing_to_clear_away(tmp_path):
    path = tmp_path / "ranges.toml"
    code = (
        "import os, sys; from pathlib import Path; from pipeline.core.files import locked\n"
        "with locked(Path(sys.argv[1])): os._exit(7)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert done.returncode == 7
    with locked(path, wait_s=0.0):
        pass


def test_a_folder_that_is_not_there_is_told(tmp_path):
    told = pytest.raises(OutputError, match="cannot be changed there")
    with told, locked(tmp_path / "none" / "ranges.toml"):
        pytest.fail("nothing to lock")

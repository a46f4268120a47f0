"""An erasure that is killed at any moment is finished by the next one."""

import multiprocessing
import os
import signal
import sys
from contextlib import suppress

import pytest

from pipeline.core.errors import LogError
from pipeline.core.files import VARIABLE
from pipeline.log.personal_data import erase_athlete
from pipeline.log.store import opened_log
from pipeline.report.manifest import MANIFEST_NAME
from tests.fixtures.kept_for import analyse_for, export_for, overlay_for

NAME = "Dot Kid"
WATCHED = {"os.remove", "os.rename", "os.rmdir", "sqlite3.connect"}
"""What Python reports before it changes a folder or opens a database."""

STEP = 4


def erase_and_be_killed(at):
    """Erase, and die before the change of that number."""
    n = 0

    def watch(event, _):
        nonlocal n
        n += event in WATCHED
        if event in WATCHED and n == at:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(watch)
    with opened_log() as log:
        erase_athlete(log, NAME)


def killed(at):
    """Whether an erasure in a process of its own was killed before it was done."""
    process = multiprocessing.get_context("fork").Process(target=erase_and_be_killed, args=(at,))
    process.start()
    process.join(60)
    return process.exitcode == -signal.SIGKILL


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
@pytest.mark.parametrize("first", range(1, STEP + 1))
def test_a_second_run_finishes_what_a_killed_one_began(tmp_path, monkeypatch, write_film, first):
    for at in range(first, 200, STEP):
        world = tmp_path / f"{at}"
        world.mkdir()
        monkeypatch.setenv(VARIABLE, str(world / "kept"))
        film = write_film(f"{at}/shot.mp4")
        other = write_film(f"{at}/other.mp4", n_frames=15)
        with opened_log() as log:
            analyse_for(log, film, NAME, world / "out", world / "cache")
            overlay_for(log, film, NAME, world / "films")
            export_for(log, film, None, world / "out")
            theirs = analyse_for(log, other, "Zed", world / "out", world / "cache")
        (world / "out" / "shot" / "consent.pdf").touch()
        was_killed = killed(at)
        # Where the rows were gone already, nothing else may be left either.
        with opened_log() as log, suppress(LogError):
            assert not erase_athlete(log, NAME).leaves_something
        left = {path for path in world.rglob("*") if path.is_file()}
        assert set(theirs) <= left
        assert left - set(theirs) == {
            film, other, world / "out" / "shot" / "consent.pdf",
            world / "out" / "other" / MANIFEST_NAME, world / "kept" / "training_log.sqlite3",
        }  # fmt: skip
        assert not (world / "films" / "shot").exists()
        assert NAME.encode() not in (world / "kept" / "training_log.sqlite3").read_bytes()
        if not was_killed:
            assert at > first + 4 * STEP
            return
    pytest.fail("it never came to an end")

"""Kills writers of the training log at random moments and looks at what is left.

Run with ``python -m tests.bench.killing [N]``: N kills (200 by default), every other one while
films are written, the others during ``crossemetry log add``.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import signal
import sys
import tempfile
from dataclasses import dataclass
from datetime import date, datetime, timezone
from pathlib import Path

from sqlalchemy import func, select

import pipeline.teaching.drill_store  # noqa: F401 - the program loads it late
from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.log.athletes import add_athlete
from pipeline.log.record_analysis import log_analysis
from pipeline.log.schema import ATHLETES, CLIPS, MEASURES, REPS, SESSIONS, WORK
from pipeline.log.store import TrainingLog, opened_log
from pipeline.measures import measures_of
from tests.fixtures.logged import analysis_of, rep_of, settings_of

ROOT = Path(__file__).resolve().parent.parent.parent
DAY = date(2026, 9, 1)
KEYS = [info.key for info in measures_of("throwback_pass")]
SIZES = (60, 90)
"""Reps of the two analyses of the film that are written in turn; every value is that number, so
that a mixture would show."""

LONGEST_S = 0.25
WAIT_S = 60.0


@dataclass(frozen=True)
class Left:
    """What a killed writer left behind: the log was whole, and this much of each kind was in it."""

    n_reps: int
    n_added: int


def analysis_of_size(film: Path, size: int):
    """An analysis with that many reps, each value being that number."""
    reps = [rep_of(i, **dict.fromkeys(KEYS, float(size))) for i in range(1, size + 1)]
    return analysis_of(film, reps)


def write_films(folder: str, film: Path, ready) -> None:
    """Write two analyses of a film in turn, for ever."""
    os.environ[VARIABLE] = folder
    analyses = [analysis_of_size(film, size) for size in SIZES]
    while True:
        for analysis in analyses:
            with opened_log() as log:
                log_analysis(analysis, settings_of(), log, day=DAY)
            ready.set()  # everything is loaded: from now on it does nothing but write


def add_work(folder: str, _: Path, ready) -> None:
    """Add a session of 3 minutes with 3 throws, for ever, as the command line does."""
    os.environ[VARIABLE] = folder
    sys.stdout = open(os.devnull, "w")  # noqa: PTH123, SIM115
    while True:
        words = ["log", "add", "--athlete", "K.M.", "--throws", "3", "--minutes", "3"]
        main.main(words, standalone_mode=False)
        ready.set()


def kill_one(context, folder: str, film: Path, write, after_s: float) -> None:
    """Start a writer and kill it so long after it was ready."""
    ready = context.Event()
    writer = context.Process(target=write, args=(folder, film, ready))
    writer.start()
    assert ready.wait(WAIT_S)
    writer.join(after_s)
    writer.kill()
    writer.join(WAIT_S)
    assert writer.exitcode == -signal.SIGKILL, "the writer ended by itself"


def look(log: TrainingLog) -> Left:
    """Check that nothing is half written, and say what is there."""
    with log.reading() as connection:
        if log.path is not None:
            found = connection.exec_driver_sql("PRAGMA integrity_check").scalar()
            assert found == "ok", found
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []

        def count(table):
            return connection.execute(select(func.count()).select_from(table)).scalar_one()

        n_reps = count(REPS)
        assert n_reps in (0, *SIZES), n_reps
        assert count(MEASURES) == n_reps * len(KEYS)
        assert set(connection.execute(select(MEASURES.c.value).distinct()).scalars()) == (
            {float(n_reps)} if n_reps else set()
        )
        assert count(CLIPS) == bool(n_reps)
        films = select(func.count()).select_from(SESSIONS).where(SESSIONS.c.day == DAY)
        assert connection.execute(films).scalar_one() == bool(n_reps)
        added = select(func.count()).select_from(SESSIONS).where(SESSIONS.c.day != DAY)
        n_added = connection.execute(added).scalar_one()
        assert count(WORK) == n_added, "a session without its work"
        assert count(ATHLETES) <= 2
        return Left(n_reps, n_added)


def kill_often(folder: str, film: Path, n: int, seed: int) -> list[Left]:
    """Kill writers one after the other on the same log; returns what each left."""
    moments = random.Random(seed)
    # Writers are forked from a process that has loaded the program: they begin at once.
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(
        ["pipeline.commands.main", "pipeline.teaching.drill_store", "tests.fixtures.logged"]
    )
    with opened_log() as log, log.writing() as connection:
        add_athlete(connection, "K.M.", datetime.now(tz=timezone.utc))
    left = []
    for i in range(n):
        write = (write_films, add_work)[i % 2]
        kill_one(context, folder, film, write, moments.uniform(0.0, LONGEST_S))
        with opened_log() as log:
            left.append(look(log))
    with opened_log() as log:
        log_analysis(analysis_of_size(film, SIZES[0]), settings_of(), log, day=DAY)
        assert look(log).n_reps == SIZES[0], "a film that is run again is there once"
    return left


def kill_and_tell() -> None:
    """Kill, look, and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("n", nargs="?", type=int, default=200)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ[VARIABLE] = folder
        film = Path(folder) / "film.mp4"
        film.write_bytes((ROOT / "sample_clips" / "shot_adult.mp4").read_bytes())
        left = kill_often(folder, film, asked.n, seed=1)
    sizes = {size: sum(one.n_reps == size for one in left) for size in (0, *SIZES)}
    print(
        f"{asked.n} kills: the log opened and was whole after each. The film's reps were there "
        f"with {sizes} (reps: times); {left[-1].n_added} sessions were added; none was half "
        "written, and the film run again was there once."
    )


if __name__ == "__main__":
    kill_and_tell()

"""How quick the training log is once it has grown: five athletes, three years, 200 reps a day.

Run with ``python -m tests.bench.log_size [--days N] [--database URL]``; about a million reps with
six measures each by default. Prints seconds as they passed and seconds of the processor; the first
are worth something on an idle machine only.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
from sqlalchemy import func, insert, select

from pipeline.core.files import VARIABLE
from pipeline.feedback.words import load_words
from pipeline.log import record_analysis
from pipeline.log.athlete_overview import overview_of
from pipeline.log.athletes import add_athlete, all_athletes
from pipeline.log.film_date import FilmDate
from pipeline.log.record_analysis import log_analysis
from pipeline.log.schema import CLIPS, MEASURES, REPS, SESSIONS
from pipeline.log.store import opened_log
from pipeline.log.wording import overview_document
from tests.fixtures.logged import analysis_of, rep_of, settings_of

ROOT = Path(__file__).resolve().parent.parent.parent
LAST = date(2026, 9, 30)
ATHLETES = 5
REPS_A_DAY = 200
KEYS = ("step_back_m", "turn_away_deg", "plant_to_release_s", "release_height_m",
        "top_hand_speed_mps", "trunk_lean_deg")  # fmt: skip
REPS_IN_TEN_MINUTES = 150
MOVES = ("throwback_pass", "high_to_low_shot", "split_dodge")


def fill(log, n_days: int) -> None:
    """Write days of every athlete, a transaction for each month."""
    rng = np.random.default_rng(0)
    now = datetime(2026, 10, 1, tzinfo=timezone.utc)
    with log.writing() as connection:
        for number in range(1, ATHLETES + 1):
            add_athlete(connection, f"Player {number}", now, {"birth_year": 2011})
    rep_id, session_id = 0, 0
    days = [LAST - timedelta(days=back) for back in range(n_days - 1, -1, -1)]
    for start in range(0, n_days, 30):
        with log.writing() as connection:
            for day in days[start : start + 30]:
                for athlete in range(1, ATHLETES + 1):
                    session_id += 1
                    write_day(connection, rng, athlete, session_id, day, rep_id, now)
                    rep_id += REPS_A_DAY


def write_day(connection, rng, athlete, session_id, day, first_rep, now) -> None:
    begun = datetime(day.year, day.month, day.day, 17, tzinfo=timezone.utc)
    connection.execute(
        insert(SESSIONS),
        {
            "id": session_id, "athlete_id": athlete, "day": day, "started_at": begun,
            "ended_at": begun + timedelta(hours=1), "minutes": 60.0,
            "exertion": float(rng.integers(2, 9)),
        },
    )  # fmt: skip
    connection.execute(
        insert(CLIPS),
        {
            "id": session_id, "athlete_id": athlete, "session_id": session_id,
            "file_name": "film.mp4", "file_digest": f"{session_id:064x}",
            "stream_digest": f"{session_id:064x}", "filmed_at": begun, "dated_by": "film",
            "program": "0", "analysed_at": now,
        },
    )  # fmt: skip
    hands = rng.choice(["left", "right"], REPS_A_DAY, p=[0.4, 0.6])
    sides = rng.choice(["natural", "other"], REPS_A_DAY)
    kinds = rng.integers(0, len(MOVES), REPS_A_DAY)
    connection.execute(
        insert(REPS),
        [
            {
                "id": first_rep + i + 1, "clip_id": session_id, "athlete_id": athlete,
                "session_id": session_id, "day": day, "number": i + 1, "start_s": 3.0 * i,
                "stop_s": 3.0 * i + 2, "move": MOVES[kinds[i]], "move_probability": 0.9,
                "move_by": "found", "hand": str(hands[i]), "side": str(sides[i]),
                "throws": int(kinds[i] < 2), "shots": int(kinds[i] == 1),
                "dodges": int(kinds[i] == 2), "cuts": int(kinds[i] == 2), "contacts": 0,
            }
            for i in range(REPS_A_DAY)
        ],
    )  # fmt: skip
    values = rng.normal(1.0, 0.05, (REPS_A_DAY, len(KEYS)))
    connection.execute(
        insert(MEASURES),
        [
            {
                "rep_id": first_rep + i + 1, "key": key, "value": float(values[i, k]), "u": 0.03,
                "unit": "m", "verdict": "in range", "probability_inside": 0.9,
                "target_range": {"low": {"value": 0.5, "unit": "m"}, "high": None},
            }
            for i in range(REPS_A_DAY)
            for k, key in enumerate(KEYS)
        ],
    )  # fmt: skip


def timed(what: str, run, n: int = 3) -> None:
    """Run something some times and print the quickest."""
    passed, worked = [], []
    for _ in range(n):
        start, start_of_work = time.perf_counter(), time.process_time()
        run()
        passed.append(time.perf_counter() - start)
        worked.append(time.process_time() - start_of_work)
    print(f"{what:<58} {min(passed):7.3f} s, processor {min(worked):7.3f} s")


def figures(database, n_weeks: int = 8) -> None:
    """All that `crossemetry volume` works out, for all athletes."""
    words = load_words()
    with opened_log(database) as log, log.reading() as connection:
        for athlete in all_athletes(connection):
            overview_document(words, overview_of(connection, athlete, LAST, n_weeks))


def add_film(database, film: Path, number: int) -> None:
    """Write the film of ten minutes, another one each time."""
    reps = [
        rep_of(i, **dict.fromkeys(KEYS, 0.6 + 0.001 * i)) for i in range(1, REPS_IN_TEN_MINUTES + 1)
    ]
    analysis = analysis_of(film, reps)
    with opened_log(database) as log:
        timed(
            f"  write of film {number}",
            lambda: log_analysis(analysis, settings_of("Player 1"), log, day=LAST),
            n=1,
        )


def main() -> None:
    """Fill a log and print how long things take."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=3 * 365)
    parser.add_argument("--database")
    asked = parser.parse_args()
    print(f"load of the machine: {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        os.environ[VARIABLE] = folder
        start = time.perf_counter()
        with opened_log(asked.database) as log:
            fill(log, asked.days)
            with log.reading() as connection:
                n = connection.execute(select(func.count()).select_from(REPS)).scalar_one()
            path = log.path
        passed = time.perf_counter() - start
        print(f"{n} reps with {len(KEYS)} measures each: filled in {passed:.0f} s")
        if path is not None:
            print(f"size {path.stat().st_size / 2**20:.0f} MB")
        timed("open and close", lambda: opened(asked.database))
        timed("volume and watch list, 5 athletes, 8 weeks", lambda: figures(asked.database))
        timed("volume and watch list, 5 athletes, 104 weeks", lambda: figures(asked.database, 104))
        film = ROOT / "sample_clips" / "shot_adult.mp4"
        record_analysis.stream_digest = lambda _: f"{time.time_ns():064x}"
        record_analysis.film_date = lambda *_: FilmDate(LAST, None, "told")
        numbers = iter(range(1, 9))
        timed(
            f"film of ten minutes, {REPS_IN_TEN_MINUTES} reps, opened and written",
            lambda: add_film(asked.database, film, next(numbers)),
        )
        timed("the same film again, reps replaced", lambda: add_film(asked.database, film, 0))
    print(f"load of the machine: {os.getloadavg()[0]:.1f}")


def opened(database) -> None:
    """Open the log and close it."""
    with opened_log(database):
        pass


if __name__ == "__main__":
    main()

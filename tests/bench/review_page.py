"""How quick the review page is with 100,000 reps in the log, alone and beside an analysis.

Run ``python -m tests.bench.review_page [--reps N] [--requests N] [--beside]`` for p50 and p95 of
the queue, of filtered and later pages of it, of a rep and of a mark, through the whole application.
``--beside`` runs an analysis in a process of its own meanwhile, as the page does.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
from sqlalchemy import insert

ROOT = Path(__file__).resolve().parents[2]
N_ATHLETES = 40
REPS_A_CLIP = 20
SEED = 5
KEYS = ("step_back_m", "plant_to_release_s", "turn_away_deg", "cushion_m", "release_height_m")


def fill(log, n_reps: int) -> None:
    """Write athletes, clips, reps, measures and flags straight into the tables."""
    from pipeline.log.schema import ATHLETES, CLIPS, MEASURES, REPS, SESSIONS

    rng = random.Random(SEED)
    now = datetime.now(tz=timezone.utc)
    n_clips = -(-n_reps // REPS_A_CLIP)
    days = [date(2026, 1, 1) + timedelta(days=i % 300) for i in range(n_clips)]
    athletes = [
        {"id": i, "name": f"P {i}", "name_key": f"p {i}", "added_at": now}
        for i in range(1, N_ATHLETES + 1)
    ]
    sessions = [
        {"id": i, "athlete_id": 1 + i % N_ATHLETES, "day": days[i - 1]}
        for i in range(1, n_clips + 1)
    ]
    clips = [
        {
            "id": i, "athlete_id": 1 + i % N_ATHLETES, "session_id": i, "file_name": f"c{i}.mp4",
            "file_digest": f"{i:064d}", "stream_digest": f"{i:064d}", "dated_by": "told",
            "program": "0", "analysed_at": now, "results_path": "/nowhere",
        }
        for i in range(1, n_clips + 1)
    ]  # fmt: skip
    reps, measures = [], []
    for i in range(1, n_reps + 1):
        clip = 1 + (i - 1) // REPS_A_CLIP
        number = 1 + (i - 1) % REPS_A_CLIP
        reps.append(
            {
                "id": i, "clip_id": clip, "athlete_id": 1 + clip % N_ATHLETES, "session_id": clip,
                "day": days[clip - 1], "number": number, "start_s": 3.0 * number,
                "stop_s": 3.0 * number + 2, "move_probability": rng.uniform(0.5, 1),
                "move": rng.choice(("throwback_pass", "throwback_pass", "split_dodge", "unknown")),
                "move_by": "found", "hand": rng.choice(("left", "right")), "throws": 1, "shots": 0,
                "dodges": 0, "cuts": 0, "contacts": 0,
            }
        )  # fmt: skip
        for key in KEYS:
            inside = rng.random()
            word = "in range" if inside > 0.95 else "out of range" if inside < 0.05 else None
            measures.append(
                {
                    "rep_id": i, "key": key, "value": rng.uniform(0, 1), "u": 0.05, "unit": "m",
                    "verdict": word or "too close to call", "probability_inside": inside,
                    "verdict_side": "low" if word == "out of range" else None,
                    "target_range": {"low": {"value": 0.5, "unit": "m"}, "high": None},
                }
            )  # fmt: skip
    with log.writing() as connection:
        for table, rows in (
            (ATHLETES, athletes), (SESSIONS, sessions), (CLIPS, clips), (REPS, reps),
            (MEASURES, measures),
        ):  # fmt: skip
            for first in range(0, len(rows), 20_000):
                connection.execute(insert(table), rows[first : first + 20_000])


def measure(name: str, ask, n: int) -> None:
    times_ms = []
    for i in range(n):
        start = time.perf_counter()
        answer = ask(i)
        times_ms.append(1000 * (time.perf_counter() - start))
        assert answer.status_code in (200, 303), (name, answer.status_code, answer.text[:300])
    p50, p95 = np.percentile(times_ms, (50, 95))
    print(f"{name:28s} p50 {p50:6.1f} ms   p95 {p95:6.1f} ms", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reps", type=int, default=100_000)
    parser.add_argument("--requests", type=int, default=100)
    parser.add_argument("--beside", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["CROSSEMETRY_DATA"] = folder
        from pipeline.log.store import opened_log
        from tests.fixtures.reviewed import context_of, mark, page_of

        with opened_log() as log:
            start = time.perf_counter()
            fill(log, asked.reps)
            written = time.perf_counter()
            context = context_of(log)
            print(f"{asked.reps} reps written in {written - start:.0f} s, "
                  f"flags worked out in {time.perf_counter() - written:.0f} s")  # fmt: skip
            page = page_of(context)
            beside = _analysis(folder) if asked.beside else None
            try:
                _measure_all(page, mark, asked)
            finally:
                if beside is not None:
                    print("the analysis beside it", "runs still" if beside.poll() is None else
                          "had ended before")  # fmt: skip
                    beside.kill()
                    beside.wait()
    print("load of this machine:", os.getloadavg() if hasattr(os, "getloadavg") else "unknown")


def _measure_all(page, mark, asked) -> None:
    n_clips = asked.reps // REPS_A_CLIP
    measure("queue", lambda i: page.get("/"), asked.requests)
    measure("queue, too close", lambda i: page.get("/?kind=close"), asked.requests)
    measure("queue of an athlete", lambda i: page.get(f"/?who={1 + i % N_ATHLETES}"),
            asked.requests)  # fmt: skip
    measure("queue, narrow filter", lambda i: page.get(
        f"/?who={1 + i % N_ATHLETES}&measure=cushion_m&hand=left&since=2026-06-01"
    ), asked.requests)  # fmt: skip
    measure("queue, far down", lambda i: page.get("/?after=0.3,5000"), asked.requests)
    measure("rep", lambda i: page.get(f"/clip/{1 + i % n_clips}/rep/2"), asked.requests)
    measure("mark", lambda i: mark(page, 1 + i, number=3, kind="agree"), asked.requests)
    measure("agreement", lambda i: page.get("/agreement"), 10)


def _analysis(folder: str) -> subprocess.Popen[bytes]:
    clips = sorted((ROOT / "sample_clips").glob("*.mp4"))
    command = [sys.executable, "-m", "pipeline", "analyse", *map(str, clips), "--no-log",
               "--out", f"{folder}/out", "--quiet"]  # fmt: skip
    return subprocess.Popen(command, cwd=ROOT)


if __name__ == "__main__":
    main()

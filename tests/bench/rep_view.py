"""How quick the page on a rep is with a hundred thousand reps in the log.

Run from the root of the repository: ``python -m tests.bench.rep_view``. It makes a log in a
temporary folder, asks for pages of reps all over it, moves events of a film, and opens the page in
Chromium where there is one. Figures mean something only on a machine that does nothing else.
"""

from __future__ import annotations

import os
import random
import statistics
import tempfile
import time
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

from sqlalchemy import insert, select
from starlette.applications import Starlette
from starlette.testclient import TestClient

from pipeline.log.schema import ATHLETES, CLIPS, MEASURES, REPS, SESSIONS
from pipeline.log.store import TrainingLog, opened_log
from pipeline.measures import measures_of
from pipeline.web.review.context import ReviewContext
from pipeline.web.review.rep_routes import rep_routes
from tests.fixtures.chromium import CHROMIUM, FLAGS
from tests.fixtures.rep_films import rep_context, shot_film
from tests.fixtures.rep_pages import served

N_REPS, REPS_A_CLIP, N_ATHLETES = 100_000, 20, 25
N_PAGES, N_CHANGES, N_OPENED = 200, 40, 20
MOVES = ("high_to_low_shot", "throwback_pass", "split_dodge")
NOW = datetime(2026, 5, 1, 12, 0, tzinfo=timezone.utc)


def fill(log: TrainingLog, n_reps: int) -> None:
    """Write athletes, sessions, films and reps with their measures."""
    n_clips = n_reps // REPS_A_CLIP
    clips = [
        {"id": 1000 + i, "athlete_id": 100 + i % N_ATHLETES, "session_id": 1000 + i,
         "file_name": f"{i}.mp4", "file_digest": f"{i:064x}", "stream_digest": f"{i:064x}",
         "dated_by": "film", "duration_s": 60.0, "level": "any", "stature_m": 1.8, "grade": "B",
         "program": "1", "analysed_at": NOW}
        for i in range(n_clips)
    ]  # fmt: skip
    days = [date(2024, 1, 1) + timedelta(days=i // N_ATHLETES) for i in range(n_clips)]
    draw = random.Random(1)
    with log.writing() as connection:
        connection.execute(
            insert(ATHLETES),
            [{"id": 100 + i, "name": f"No. {i}", "name_key": f"no.{i}", "added_at": NOW}
             for i in range(N_ATHLETES)],
        )  # fmt: skip
        connection.execute(
            insert(SESSIONS),
            [{"id": clip["session_id"], "athlete_id": clip["athlete_id"], "day": day}
             for clip, day in zip(clips, days, strict=True)],
        )  # fmt: skip
        connection.execute(insert(CLIPS), clips)
        for first in range(0, n_reps, 5000):
            reps, measures = [], []
            for i in range(first, min(first + 5000, n_reps)):
                clip, move = clips[i // REPS_A_CLIP], MOVES[i % len(MOVES)]
                number = i % REPS_A_CLIP + 1
                reps.append(
                    {"id": 1000 + i, "clip_id": clip["id"], "athlete_id": clip["athlete_id"],
                     "session_id": clip["session_id"], "day": days[i // REPS_A_CLIP],
                     "number": number, "start_s": 3.0 * number, "stop_s": 3.0 * number + 1.5,
                     "move": move, "move_probability": 0.9, "move_by": "found", "hand": "right",
                     "throws": 1, "shots": 1, "dodges": 0, "cuts": 0, "contacts": 0}
                )  # fmt: skip
                measures += [
                    {"rep_id": 1000 + i, "key": info.key, "value": draw.gauss(1.0, 0.1),
                     "u": 0.05, "unit": info.unit, "verdict": "in range",
                     "probability_inside": 0.97,
                     "target_range": {"low": {"value": 0.5, "unit": "number"},
                                      "high": {"value": 1.5, "unit": "number"}}}
                    for info in measures_of(move)
                ]  # fmt: skip
            connection.execute(insert(REPS), reps)
            connection.execute(insert(MEASURES), measures)


def told(name: str, seconds: list[float]) -> None:
    """Print median and 95th percentile."""
    ordered = sorted(seconds)
    p95 = ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]
    print(f"{name}: median {1e3 * statistics.median(ordered):.0f} ms, "
          f"p95 {1e3 * p95:.0f} ms, n {len(ordered)}")  # fmt: skip


def timed_pages(client: TestClient, n_reps: int) -> list[float]:
    """Ask for pages of reps all over the log."""
    draw, seconds = random.Random(2), []
    for number in range(N_PAGES + 1):
        i = draw.randrange(n_reps)
        start = time.perf_counter()
        answer = client.get(f"/clip/{1000 + i // REPS_A_CLIP}/rep/{i % REPS_A_CLIP + 1}")
        if number:  # the first one reads the templates
            seconds.append(time.perf_counter() - start)
        if answer.status_code != 200 or b"data-key" not in answer.content:
            raise RuntimeError("that is not the page")
    return seconds


def timed_changes(client: TestClient, rep: str) -> list[float]:
    """Move the release to and fro; each answer holds all numbers anew."""
    seconds = []
    drawn = client.get(f"{rep}/motion").json()
    frame = next(one["frame"] for one in drawn["events"] if one["name"] == "release")
    for number in range(N_CHANGES):
        # Never the same place twice, or the answer would be known.
        body = {"kind": "event", "name": "release", "frame": frame - 1 - number % 2}
        joint = {
            "kind": "joint",
            "name": "right_hand",
            "frame": frame,
            "at_px": [640, 300 + number],
        }
        for change in (body, joint):
            start = time.perf_counter()
            answer = client.post(f"{rep}/change", json=change)
            seconds.append(time.perf_counter() - start)
            if answer.status_code != 200:
                raise RuntimeError(answer.text)
    return seconds


def timed_first_frames(context: ReviewContext, rep: str) -> None:
    """Open the page in a browser until the film shows, and until the body is drawn on it."""
    if CHROMIUM is None:
        return
    from playwright.sync_api import sync_playwright

    shown, drawn = [], []
    with served(context) as address, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        tab = browser.new_page(viewport={"width": 1280, "height": 900})
        tab.goto(f"{address}/start?token=t")
        tab.wait_for_url(f"{address}/")
        for _ in range(N_OPENED + 1):
            start = time.perf_counter()
            tab.goto(f"{address}{rep}", wait_until="commit")
            while tab.evaluate("(document.getElementById('film') || {}).readyState || 0") < 2:
                time.sleep(0.005)
            shown.append(time.perf_counter() - start)
            tab.wait_for_selector('#drawing[data-frame]:not([data-frame=""])')
            drawn.append(time.perf_counter() - start)
        browser.close()
    print(
        f"in the browser, first time: film {1e3 * shown[0]:.0f} ms, drawn {1e3 * drawn[0]:.0f} ms"
    )
    told("in the browser, until the film shows", shown[1:])
    told("in the browser, until the body is drawn", drawn[1:])


def main() -> None:
    """Time it all."""
    print(f"load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        film = shot_film(folder, seconds=30.0, releases_s=(2.0, 8.0, 14.0, 20.0, 26.0))
        with opened_log(f"sqlite:///{folder / 'log.sqlite3'}") as log:
            fill(log, N_REPS)
            film.logged(log)
            with log.reading() as connection:
                named = select(CLIPS.c.id).where(CLIPS.c.file_name == film.path.name)
                clip = connection.execute(named).scalar_one()
            client = TestClient(Starlette(routes=rep_routes(rep_context(log, folder))))
            told("page of a rep", timed_pages(client, N_REPS))
            start = time.perf_counter()
            client.get(f"/clip/{clip}/rep/2/motion")
            print(f"what is drawn, first time for a film of 30 s: "
                  f"{1e3 * (time.perf_counter() - start):.0f} ms")  # fmt: skip
            timed_first_frames(rep_context(log, folder), f"/clip/{clip}/rep/3")
            told("a change, with all numbers anew", timed_changes(client, f"/clip/{clip}/rep/2"))


if __name__ == "__main__":
    main()

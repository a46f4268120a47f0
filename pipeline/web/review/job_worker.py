"""Runs one job in a separate process: reads it from stdin, writes its progress to stdout."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from pipeline.core.errors import CrossemetryError, LogError
from pipeline.core.messages import shipped
from pipeline.core.progress import Progress

SendLine = Callable[[Mapping[str, Any]], None]


def main() -> None:
    """Run the job that stdin describes."""
    request = json.loads(sys.stdin.read())

    def send(line: Mapping[str, Any]) -> None:
        print(json.dumps(line), flush=True)  # noqa: T201 - the process of the page reads it

    texts = shipped(request["language"], request["units"])
    try:
        send({"result": JOB_FUNCTIONS[request["kind"]](request, send)})
    except CrossemetryError as error:
        send({"error": error.translate(texts)})
    except Exception as error:  # reported to the page, which runs the next job
        what = f"{type(error).__name__}: {error}"
        send({"error": texts.text("review.job_broke", what=what)})


def analyse(request: Mapping[str, Any], send: SendLine) -> dict[str, Any]:
    """Analyse a film, write its report and its rows in the log."""
    from pipeline.log.athlete_files import marks_beside
    from pipeline.log.log_request import LogRequest
    from pipeline.settings.settings import settings_of_text
    from pipeline.web.review.analyse_film import analyse_film

    settings = settings_of_text(request["settings"])
    if settings.athlete is None:
        raise LogError.of("no_athlete_named")
    film = Path(request["film"])
    if marks_beside(film).is_file():
        settings = replace(settings, marks_path=marks_beside(film))
    day = date.fromisoformat(request["day"]) if request.get("day") else None
    log = LogRequest(day=day, database=request["database"])
    log.allow(settings)

    def on_progress(progress: Progress) -> None:
        send({"stage": progress.stage, "done": progress.done, "total": progress.total})

    done = analyse_film(
        film,
        settings,
        log,
        out=Path(request["results"]),
        cache=Path(request["cache"]),
        on_progress=on_progress,
    )
    n_reps = len(done.analysis.reps)
    return {"clip": None if done.logged is None else done.logged.clip_id, "n_reps": n_reps}


def learn(request: Mapping[str, Any], send: SendLine) -> dict[str, Any]:
    """Turn marks into corrections, and retrain on all of them."""
    from pipeline.log.store import opened_log
    from pipeline.web.review.learn import learn_from_marks

    send({"stage": "learning", "done": None, "total": None})
    with opened_log(request["database"]) as log:
        learned = learn_from_marks(log, by=request["by"], at=request["at"])
    texts = shipped(request["language"], request["units"])
    return {**learned, "why_not": texts.translate(learned["why_not"])}


JOB_FUNCTIONS: Mapping[str, Callable[[Mapping[str, Any], SendLine], dict[str, Any]]] = {
    "analyse": analyse,
    "learn": learn,
}


if __name__ == "__main__":
    main()

"""Does one job in a process of its own: told on stdin what to do, tells on stdout how far it is."""

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

Tell = Callable[[Mapping[str, Any]], None]


def main() -> None:
    """Do the job that stdin describes, and end."""
    told = json.loads(sys.stdin.read())

    def tell(line: Mapping[str, Any]) -> None:
        print(json.dumps(line), flush=True)  # noqa: T201 - read by the page's own process

    texts = shipped(told["language"], told["units"])
    try:
        tell({"result": DOES[told["kind"]](told, tell)})
    except CrossemetryError as error:
        tell({"error": error.translate(texts)})
    except Exception as error:  # whoever waits is told, and the next job is done
        what = f"{type(error).__name__}: {error}"
        tell({"error": texts.text("review.job_broke", what=what)})


def analyse(told: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Analyse a film, write its report and its rows in the log."""
    from pipeline.log.athlete_files import marks_beside
    from pipeline.log.log_request import LogRequest
    from pipeline.settings.settings import settings_of_text
    from pipeline.web.review.analyse_film import analyse_film

    settings = settings_of_text(told["settings"])
    if settings.athlete is None:
        raise LogError.of("no_athlete_named")
    film = Path(told["film"])
    if marks_beside(film).is_file():
        settings = replace(settings, marks_path=marks_beside(film))
    day = date.fromisoformat(told["day"]) if told.get("day") else None
    log = LogRequest(day=day, database=told["database"])
    log.allow(settings)

    def on_progress(progress: Progress) -> None:
        tell({"stage": progress.stage, "done": progress.done, "total": progress.total})

    done = analyse_film(
        film,
        settings,
        log,
        out=Path(told["results"]),
        cache=Path(told["cache"]),
        on_progress=on_progress,
    )
    n_reps = len(done.analysis.reps)
    return {"clip": None if done.logged is None else done.logged.clip_id, "n_reps": n_reps}


def learn(told: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Turn marks into corrections, and learn from all of them."""
    from pipeline.log.store import opened_log
    from pipeline.web.review.learn import learn_from_marks

    tell({"stage": "learning", "done": None, "total": None})
    with opened_log(told["database"]) as log:
        learned = learn_from_marks(log, by=told["by"], at=told["at"])
    texts = shipped(told["language"], told["units"])
    return {**learned, "why_not": texts.translate(learned["why_not"])}


DOES: Mapping[str, Callable[[Mapping[str, Any], Tell], dict[str, Any]]] = {
    "analyse": analyse,
    "learn": learn,
}


if __name__ == "__main__":
    main()

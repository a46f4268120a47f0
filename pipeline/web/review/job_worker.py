"""Does one job in a process of its own: told on stdin what to do, tells on stdout how far it is."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from pipeline.core.errors import CrossemetryError
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
    from datetime import datetime

    from pipeline.analysis import analyse_clip, write_analysis
    from pipeline.feedback.words import words_of
    from pipeline.log.athlete_files import marks_beside
    from pipeline.log.record_analysis import allow_analysis, log_analysis
    from pipeline.log.report_marks import put_marks_into_report
    from pipeline.log.store import opened_log
    from pipeline.settings.settings import settings_of_text
    from pipeline.web.review.reapply import put_back

    settings = settings_of_text(told["settings"])
    film, cache = Path(told["film"]), Path(told["cache"])
    if marks_beside(film).is_file():
        settings = replace(settings, marks_path=marks_beside(film))
    day = date.fromisoformat(told["day"]) if told.get("day") else None

    def on_progress(progress: Progress) -> None:
        tell({"stage": progress.stage, "done": progress.done, "total": progress.total})

    with opened_log(told["database"]) as log:
        today = datetime.now().astimezone().date()
        allow_analysis(log, settings.athlete or "", today, settings.age_years)
        analysis = analyse_clip(film, settings, cache_dir=cache, on_progress=on_progress)
        tell({"stage": "writing", "done": None, "total": None})
        written = write_analysis(
            analysis, Path(told["results"]), settings=settings, cache_dir=cache
        )
        logged = log_analysis(
            analysis, settings, log, day=day, results_path=written[0].parent, cache_path=cache
        )
        with log.reading() as connection:
            put_marks_into_report(connection, words_of(analysis), logged.clip_id)
        put_back(log, words_of(analysis), logged.clip_id, cache)
        return {"clip": logged.clip_id, "n_reps": logged.n_reps}


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

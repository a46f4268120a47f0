"""A film is analysed, reported and recorded in one way, for the command and for the page."""

import json

import pytest

from pipeline import analysis as analysis_module
from pipeline.core.errors import LogError
from pipeline.log.location import log_path
from pipeline.log.log_request import LogRequest
from pipeline.settings.settings import settings_text
from pipeline.web.review import job_worker
from pipeline.web.review.analyse_film import analyse_film
from tests.fixtures.logged import analysis_of, passes, settings_of


@pytest.fixture
def film(write_film, data, tmp_path, monkeypatch):
    """A film whose analysis takes no time."""

    def write_analysis(analysis, out, **options):
        return [out / "film" / "report.html", out / "film" / "reps.json"]

    monkeypatch.setattr(
        analysis_module, "analyse_clip", lambda path, *_, **__: analysis_of(path, passes(0.6, 0.7))
    )
    monkeypatch.setattr(analysis_module, "write_analysis", write_analysis)
    return write_film()


def analysed(film, tmp_path, athlete="K. M.", log=None, **options):
    return analyse_film(
        film, settings_of(athlete), log or LogRequest(), out=tmp_path, cache=tmp_path, **options
    )


def test_a_film_of_a_named_athlete_is_recorded_once(film, tmp_path):
    first, again = (analysed(film, tmp_path) for _ in range(2))
    assert (first.logged.n_reps, first.logged.again) == (2, False)
    assert (again.logged.clip_id, again.logged.again) == (first.logged.clip_id, True)
    assert first.written[0].name == "report.html"


@pytest.mark.parametrize(("athlete", "write"), [(None, True), ("K. M.", False)])
def test_nothing_is_recorded_for_nobody_or_if_not_wanted(film, tmp_path, athlete, write):
    assert analysed(film, tmp_path, athlete, LogRequest(write=write)).logged is None
    assert not log_path().exists()


def test_writing_is_a_stage_of_its_own(film, tmp_path):
    stages = []
    analysed(film, tmp_path, on_progress=lambda progress: stages.append(progress.stage))
    assert stages == ["writing"]


def job(film, tmp_path, athlete="K. M."):
    """What the page passes to its worker."""
    folders = {"cache": str(tmp_path), "results": str(tmp_path)}
    settings = settings_text(settings_of(athlete))
    return {"film": str(film), "settings": settings, "database": None, **folders}


def test_the_worker_of_the_page_records_the_film_in_the_same_row(film, tmp_path):
    logged = analysed(film, tmp_path).logged
    lines = []
    result = job_worker.analyse(job(film, tmp_path), lines.append)
    assert result == {"clip": logged.clip_id, "n_reps": logged.n_reps}
    assert json.loads(json.dumps(lines)) == [{"stage": "writing", "done": 0, "total": None}]


def test_the_worker_takes_no_film_of_nobody(film, tmp_path):
    with pytest.raises(LogError):
        job_worker.analyse(job(film, tmp_path, athlete=None), print)

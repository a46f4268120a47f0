"""Clips on a Dask cluster of separate processes: shared folders, sent films, lost workers."""

import json
import os
import shutil
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from pipeline.commands import cluster as module
from pipeline.commands.batch import films_of, run_batch
from pipeline.commands.clip_workers import OwnProcess, run_job
from pipeline.commands.cluster import ClusterWorkers, SentJob, run_sent_job
from pipeline.core.errors import SettingsError
from pipeline.core.files import VARIABLE, data_folder
from pipeline.log.log_request import LogRequest
from pipeline.log.schema import CLIPS
from pipeline.log.store import opened_log
from pipeline.settings.settings import GivenSettings
from tests.fixtures.fake_clips import (
    differences,
    fake_job,
    finished,
    job_of,
    make_films,
    options_of,
    run_fakes,
)

distributed = pytest.importorskip("distributed")

pytestmark = [  # sockets that the library leaves for the garbage collector
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(autouse=True)
def _own_data(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "data"))


@pytest.fixture(scope="module")
def cluster():
    """Two workers, each a process of its own."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as started:
        yield started


def run_there(cluster, paths, out, *, run=fake_job, with_films=False, **changed):
    out.mkdir(exist_ok=True)
    address = cluster.scheduler_address
    return run_batch(
        paths,
        options_of(out, **changed),
        lambda n, progress: ClusterWorkers(address, with_films=with_films, run=run),
    )


def test_what_decides_results_travels_with_the_job(tmp_path, monkeypatch):
    """A worker uses the sent ranges and marks, not those of its own machine."""
    seen = {}

    def look(job, on_progress):
        seen["ranges"] = (data_folder() / "targets.toml").read_text()
        seen["marks"] = job.settings.marks_path.read_text()
        seen["film"] = job.film.read_bytes(), job.film.name
        return module.Outcome()

    marks = tmp_path / "marks.toml"
    job = job_of(tmp_path / "films" / "a.mp4", tmp_path / "out")
    job = replace(job, settings=replace(job.settings, marks_path=marks))
    sent = SentJob(
        job=job, settings_files={"marks_path": b"sent"}, data_files={"targets.toml": b"own"},
        run=look,
    )  # fmt: skip
    before = os.environ[VARIABLE]
    run_sent_job(sent, b"film")
    assert seen == {"ranges": "own", "marks": "sent", "film": (b"film", "a.mp4")}
    assert os.environ[VARIABLE] == before


def test_nobody_at_the_address_is_an_error_that_names_it(monkeypatch):
    monkeypatch.setattr(module, "CONNECT_S", 0.3)
    with pytest.raises(SettingsError, match=r"127.*no scheduler answers there"):
        ClusterWorkers("tcp://127.0.0.1:9", with_films=False)


def test_a_scheduler_without_workers_is_an_error(monkeypatch):
    monkeypatch.setattr(module, "CONNECT_S", 0.3)
    with (
        distributed.LocalCluster(n_workers=0, processes=True, dashboard_address=":0") as empty,
        pytest.raises(SettingsError, match="has no workers"),
    ):
        ClusterWorkers(empty.scheduler_address, with_films=False)


@pytest.mark.slow
def test_another_version_on_a_worker_is_refused(cluster, monkeypatch):
    monkeypatch.setattr(module, "__version__", "9.9")
    with pytest.raises(SettingsError, match="another version"):
        ClusterWorkers(cluster.scheduler_address, with_films=False)


@pytest.mark.slow
@pytest.mark.parametrize("with_films", [False, True])
def test_a_cluster_gives_what_own_workers_give(cluster, write_film, tmp_path, with_films):
    paths = make_films(tmp_path / "films", write_film, 7)
    paths[2].rename(paths[2].with_name("is broken.mp4"))
    paths = films_of([tmp_path / "films"])
    assert run_there(cluster, paths, tmp_path / "there", with_films=with_films) == 2
    with opened_log() as log, log.reading() as connection:
        logged = connection.execute(CLIPS.select()).mappings().all()
    assert {Path(row["results_path"]).parent for row in logged} == {tmp_path / "there"}
    assert len(logged) == 6
    run_fakes(tmp_path / "films", tmp_path / "here")
    assert len(finished(tmp_path / "there")) == 6
    assert differences(tmp_path / "here", tmp_path / "there", ("calls",)) == []
    run_there(cluster, paths, tmp_path / "there", with_films=with_films, quiet=True)
    rows = json.loads((tmp_path / "there" / "summary.json").read_text(encoding="utf-8"))["clips"]
    assert [row["earlier"] for row in rows] == [row["error"] is None for row in rows]


@pytest.mark.slow
@pytest.mark.parametrize("with_films", [False, True])
def test_a_worker_killed_in_the_middle_loses_no_clip(cluster, write_film, tmp_path, with_films):
    paths = make_films(tmp_path / "films", write_film, 8)
    paths[3] = paths[3].rename(paths[3].with_name("dies once.mp4"))
    out, calls = tmp_path / "out", tmp_path / "calls"
    run = partial(fake_job, calls=calls)
    assert run_there(cluster, paths, out, run=run, with_films=with_films) == 0
    assert len(finished(out)) == 8
    assert len(list(calls.glob("dies once.*"))) == 2


@pytest.mark.slow
@pytest.mark.parametrize("with_films", [False, True])
def test_a_real_clip_gives_the_same_files(cluster, sample_clips, tmp_path, with_films):
    film = tmp_path / "films" / "shot.mp4"
    film.parent.mkdir()
    clip = next(path for path in sample_clips if path.stem == "shot_left_hand")
    shutil.copy(clip, film)
    shutil.copy(clip.with_suffix(".clip.toml"), film.with_suffix(".clip.toml"))
    given, log = GivenSettings(model="lite"), LogRequest(write=False)
    (tmp_path / "here").mkdir()
    run_batch(
        [film], options_of(tmp_path / "here", given=given, log=log),
        lambda n, progress: OwnProcess(progress.report),
    )  # fmt: skip
    code = run_there(
        cluster,
        [film],
        tmp_path / "there",
        run=run_job,
        with_films=with_films,
        given=given,
        log=log,
    )
    assert code == 0
    assert differences(tmp_path / "here", tmp_path / "there", ()) == []

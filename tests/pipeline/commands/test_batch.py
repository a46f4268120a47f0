"""Many clips in one run: what fails, what is finished, what a killed run leaves, the output."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import psutil
import pytest
from click.testing import CliRunner
from sqlalchemy import func, select

from pipeline.commands import clip_workers
from pipeline.commands.batch import films_of, run_batch, work_digest
from pipeline.commands.clip_workers import OwnProcess, WorkerProcesses, default_workers
from pipeline.commands.main import main
from pipeline.core.errors import SettingsError
from pipeline.core.files import VARIABLE
from pipeline.log.log_request import LogRequest
from pipeline.log.schema import CLIPS, FILM_FOLDERS, REPS
from pipeline.log.store import opened_log
from pipeline.report.manifest import read_manifest
from pipeline.settings.settings import AnalysisSettings, GivenSettings
from tests.fixtures.fake_clips import (
    fake_job,
    finished,
    job_of,
    make_films,
    n_calls,
    options_of,
    run_fakes,
)

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(autouse=True)
def _own_data(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "data"))


@pytest.fixture
def films(write_film, tmp_path):
    return lambda n: make_films(tmp_path / "films", write_film, n)


def run_here(paths, out, **changed):
    """Run in this process, with the made-up analysis."""
    out.mkdir(exist_ok=True)
    return run_batch(
        paths, options_of(out, **changed), lambda n, progress: OwnProcess(progress.report, fake_job)
    )


def counts_in_log():
    with opened_log() as log, log.reading() as connection:
        return [
            connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in (CLIPS, REPS)
        ]


def summary_of(out):
    return json.loads((out / "summary.json").read_text(encoding="utf-8"))


def test_a_folder_stands_for_its_films_in_natural_order(tmp_path):
    for name in ("clip 10.mp4", "clip 2.MOV", "Clip 1.mp4", ".hidden.mp4", "clip 2.clip.toml"):
        (tmp_path / name).touch()
    (tmp_path / "inside.mp4").mkdir()
    named = [path.name for path in films_of([tmp_path, Path("x.mp4")])]
    assert named == ["Clip 1.mp4", "clip 2.MOV", "clip 10.mp4", "x.mp4"]


@pytest.mark.parametrize("make", [True, False])
def test_a_folder_without_films_is_refused(tmp_path, make):
    folder = tmp_path / "empty"
    folder.mkdir()
    if make:
        (folder / "notes.txt").touch()
    with pytest.raises(SettingsError, match="no film is in this folder"):
        films_of([Path("before.mp4"), folder])


def test_workers_follow_cores_memory_and_clips(monkeypatch):
    class Memory:
        available = 3.4 * clip_workers.WORKER_MB * 2**20

    monkeypatch.setattr(psutil, "virtual_memory", Memory)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: range(8), raising=False)
    assert default_workers(20) == 3
    assert default_workers(2) == 2
    Memory.available = 0.0
    assert default_workers(20) == 1
    Memory.available = 1e15
    assert default_workers(20) == 8


def test_a_clip_that_fails_does_not_stop_the_rest(films, tmp_path, capsys):
    paths = films(4)
    broken = paths[1].rename(paths[1].with_name("is broken.mp4"))
    out = tmp_path / "out"
    code = run_here([paths[0], broken, *paths[2:], tmp_path / "missing.mp4"], out)
    assert code == 2
    said = capsys.readouterr()
    assert said.err.count("is broken.mp4") == 1
    clips = summary_of(out)["clips"]
    assert [clip["clip"] for clip in clips] == [
        "clip 1.mp4", "is broken.mp4", "clip 3.mp4", "clip 4.mp4", "missing.mp4",
    ]  # fmt: skip
    assert [clip["error"] is None for clip in clips] == [True, False, True, True, False]
    assert [clip["report"] for clip in clips[:2]] == ["clip%201/report.html", None]
    assert said.out.splitlines()[-1] == f"index: {out / 'index.html'}"


def test_finished_clips_are_not_computed_again(films, tmp_path, capsys):
    paths, out = films(3), tmp_path / "out"
    assert run_here(paths, out) == 0
    first = summary_of(out)
    assert run_here(paths, out) == 0
    assert set(n_calls(out).values()) == {1}
    again = summary_of(out)
    assert [clip.pop("earlier") for clip in again["clips"]] == [True] * 3
    assert [clip.pop("earlier") for clip in first["clips"]] == [False] * 3
    assert again == first
    assert "finished by an earlier run" in capsys.readouterr().out
    assert counts_in_log() == [3, sum(clip["n_reps"] for clip in first["clips"])]


def test_other_settings_or_a_lost_file_are_computed_again(films, tmp_path):
    paths, out = films(3), tmp_path / "out"
    run_here(paths, out)
    (out / "clip 2" / "reps.csv").unlink()
    run_here(paths, out)
    assert n_calls(out) == {"clip 1": 1, "clip 2": 2, "clip 3": 1}
    run_here(paths, out, again=True)
    assert n_calls(out) == {"clip 1": 2, "clip 2": 3, "clip 3": 2}
    run_here(paths, out, given=GivenSettings(stature_m=1.7, athlete="K. M."))
    assert n_calls(out) == {"clip 1": 3, "clip 2": 4, "clip 3": 3}
    assert counts_in_log()[0] == 3


def test_the_coachs_ranges_and_words_belong_to_what_decides_results(tmp_path):
    settings = AnalysisSettings(stature_m=1.8, move="throwback_pass")
    log = LogRequest(write=False)

    def digest(**changed):
        return work_digest(replace(settings, **changed), log, overlay=False)

    plain = digest()
    assert digest() == plain
    assert digest(level="youth") != plain
    data = tmp_path / "data"
    data.mkdir()
    (data / "targets.toml").write_text("one")
    ranges = digest()
    assert ranges != plain
    (data / "words.toml").write_text("one")
    assert digest() != ranges
    marks = tmp_path / "marks.toml"
    marks.write_text("one")
    first = digest(marks_path=marks)
    marks.write_text("two")
    assert digest(marks_path=marks) != first
    assert work_digest(settings, log, overlay=True) != digest()


def test_the_index_is_recorded_and_its_folder_noted(films, tmp_path):
    paths, out = films(2), tmp_path / "out"
    run_here(paths, out)
    entry = read_manifest(out).entries["index.html"]
    assert entry.origin.athletes == ("K. M.",)
    assert len(entry.origin.films) == 2
    with opened_log() as log, log.reading() as connection:
        noted = set(connection.execute(select(FILM_FOLDERS.c.path)).scalars())
    assert {str(out), str(out / "clip 1"), str(out / ".cache")} <= noted


def test_erasing_an_athlete_leaves_no_name_in_results_and_index(films, tmp_path):
    out = tmp_path / "out"
    run_here(films(3), out)
    (out / "clip 2" / "reps.csv").write_text("changed by somebody, so it stays")
    result = CliRunner().invoke(main, ["athlete", "erase", "K. M.", "--yes"])
    assert result.exit_code == 1, result.output  # that file is listed
    left = [path for path in out.rglob("*") if path.is_file() and "calls" not in path.parts]
    assert {path.name for path in left} <= {"reps.csv", "crossemetry-files.json"}
    for path in left:
        kept = json.loads(path.read_text()) if path.suffix == ".json" else {}
        assert "finished" not in kept


def test_json_and_quiet_print_nothing_else(films, tmp_path, capsys):
    paths, out = films(2), tmp_path / "out"
    for _ in range(2):  # the second time from what is there
        run_here(paths, out, as_json=True, quiet=True)
        said = capsys.readouterr()
        assert [one["clip"]["name"] for one in json.loads(said.out)] == ["clip 1.mp4", "clip 2.mp4"]
        assert said.err == ""


@pytest.mark.slow
def test_a_worker_that_ends_is_replaced_and_its_clip_tried_once_more(films, tmp_path, capfd):
    paths, out = films(6), tmp_path / "out"
    paths[1].rename(paths[1].with_name("dies once.mp4"))
    paths[4].rename(paths[4].with_name("always dies.mp4"))
    assert run_fakes(tmp_path / "films", out) == 1
    assert "ended 2 times" in capfd.readouterr().err
    assert len(finished(out)) == 5
    assert n_calls(out) == {
        "always dies": 2, "clip 1": 1, "clip 3": 1, "clip 4": 1, "clip 6": 1, "dies once": 2,
    }  # fmt: skip


@pytest.mark.slow
def test_a_worker_over_the_limit_is_replaced(films, tmp_path, monkeypatch):
    monkeypatch.setattr(clip_workers, "WORKER_MB", 0.5)  # the made-up analysis holds 1 MB
    out, seen = tmp_path / "out", []
    out.mkdir()
    crew = WorkerProcesses(1, lambda film, progress: None, fake_job)
    jobs = [job_of(path, out) for path in films(2)]
    for job in jobs:
        seen += crew.process_ids
        crew.submit(job)
        assert crew.next_done()[1].error is None
    crew.close()
    assert len(set(seen)) == 2


@pytest.mark.slow
def test_a_run_that_is_killed_again_and_again_goes_on_where_it_was(films, tmp_path):
    folder, out = tmp_path / "films", tmp_path / "out"
    films(30)
    moments = random.Random(4)
    before = set()
    for _ in range(3):
        kill_after(moments.uniform(0.0, 0.25), folder, out, n_finished=len(before) + 1)
        known = finished(out)
        assert before <= known
        before = known
    counts = n_calls(out)
    assert run_fakes(folder, out) == 0
    assert len(finished(out)) == 30
    after = n_calls(out)
    assert {name: after[name] for name in before} == {name: counts[name] for name in before}
    clips = summary_of(out)["clips"]
    assert [clip["error"] for clip in clips] == [None] * 30
    assert counts_in_log() == [30, sum(clip["n_reps"] for clip in clips)]
    for clip in clips:
        table = json.loads((out / clip["folder"] / "reps.json").read_text(encoding="utf-8"))
        assert len(table["reps"]) == clip["n_reps"]
        assert list((out / clip["folder"]).glob(".*.part")) == []


def kill_after(time_s, folder, out, n_finished):
    """Start a run, and kill it or a worker some time after clips of its own are finished."""
    run = subprocess.Popen(
        [sys.executable, "-m", "tests.fixtures.fake_clips", str(folder), str(out)],
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    while len(finished(out)) < n_finished:
        time.sleep(0.02)
        assert run.poll() is None
    time.sleep(time_s)
    workers = psutil.Process(run.pid).children(recursive=True)
    run.send_signal(signal.SIGKILL)
    run.wait()
    psutil.wait_procs(workers, timeout=20)
    assert not any(worker.is_running() for worker in workers), "workers end with their parent"

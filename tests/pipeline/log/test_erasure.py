"""Erasing takes away what the program wrote for a person, wherever, and nothing of anybody else."""

import json
import os
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from sqlalchemy import select

from pipeline.commands.main import main
from pipeline.core.errors import LogError, OutputError
from pipeline.core.files import VARIABLE
from pipeline.film.container import file_digest
from pipeline.log.erasure_search import plan_erasure
from pipeline.log.location import log_path
from pipeline.log.log_request import LogRequest
from pipeline.log.personal_data import erase, erase_athlete, export_athlete
from pipeline.log.schema import ATHLETES, FILM_FOLDERS
from pipeline.log.store import opened_log
from pipeline.report.manifest import MANIFEST_NAME, manifest_path, read_manifest
from pipeline.report.results import write_results
from pipeline.settings.locale import LANGUAGE_VARIABLE
from tests.fixtures.kept_for import (
    analyse_for,
    analysed,
    compare_for,
    export_for,
    keep_tracks,
    overlay_for,
)

pytestmark = pytest.mark.slow

NAME = "Dot Kid"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def log(folder):
    with opened_log() as store:
        yield store


def run(*words, **told):
    return CliRunner().invoke(main, ["athlete", "erase", *words], **told)


def files_in(folder):
    """Digest of each file, but for the data folder."""
    return {
        path: file_digest(path)
        for path in folder.rglob("*")
        if path.is_file() and folder / "kept" not in path.parents
    }


def reasons(plan):
    return {one.path.name: one.reason for one in plan.kept}


def test_what_somebody_put_into_a_folder_of_results_stays(log, folder, write_film):
    film = write_film("shot_adult.mp4")
    own = folder / "shot_adult"
    (own / "photos").mkdir(parents=True)
    for name in ("consent.pdf", "photos/team.jpg", "rep_07.jpg"):
        (own / name).write_bytes(name.encode())
    shutil.copy(film, own / "another film.mp4")
    before = files_in(folder)
    analyse_for(log, film, NAME, folder, folder / ".cache")
    done = run(NAME, "--yes")
    assert done.exit_code == 0, done.output
    assert files_in(folder) == before
    assert "consent.pdf" in done.stdout
    assert "photos" in done.stdout


def test_a_film_named_with_dots_alone_takes_nothing_above_with_it(log, folder, write_film):
    (folder / "project" / "out").mkdir(parents=True)
    (folder / "project" / "thesis.txt").write_text("years of work")
    film = write_film().rename(folder / "...mp4")
    with pytest.raises(OutputError, match="another name"):
        analyse_for(log, film, NAME, folder / "project" / "out", folder / "cache")
    refused = CliRunner().invoke(main, ["analyse", str(film), "--stature", "1.8", "--no-log"])
    assert refused.exit_code != 0
    assert "...mp4" in refused.stderr
    assert (folder / "project" / "thesis.txt").read_text() == "years of work"


def test_a_second_spelling_is_told_and_what_is_left_is_listed(log, folder, write_film):
    film = write_film("shot.mp4")
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    second = analyse_for(log, film, "Dot-Kid", folder / "again", folder / "cache")
    overlay_for(log, film, "Dot-Kid", folder / "films")
    done = run(NAME, "--yes")
    assert done.exit_code == 1
    assert "shot.mp4 is a film of Dot-Kid too" in done.stdout
    assert str(second[0].parent) in done.stdout
    assert "nothing of it is left" not in done.stdout
    assert not (folder / "out" / "shot").exists()
    assert second[0].is_file()
    rest = run("Dot-Kid", "--yes")
    assert rest.exit_code == 0, rest.output
    assert set(files_in(folder)) == {film}


def test_what_is_shared_goes_when_that_is_chosen(log, folder, write_film):
    film = write_film()
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    analyse_for(log, film, "Dot-Kid", folder / "again", folder / "cache")
    assert run(NAME, "--yes", "--shared", "erase").exit_code == 0
    assert set(files_in(folder)) == {film}
    with log.reading() as connection:
        assert connection.execute(select(ATHLETES.c.name)).scalars().all() == ["Dot-Kid"]


@pytest.mark.parametrize(("answer", "is_left"), [("n\n", True), ("y\n", False)])
def test_what_is_shared_is_asked(log, folder, write_film, answer, is_left):
    film = write_film()
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    other = analyse_for(log, film, "Zed", folder / "again", folder / "cache")
    done = run(NAME, input=f"y\n{answer}")
    assert "film.mp4 is a film of Zed too" in done.stdout
    assert other[0].exists() is is_left
    assert not (folder / "out" / "film").exists()


def test_every_folder_that_the_log_knows_is_searched(log, folder, write_film):
    film, other = write_film("a.mp4"), write_film("b.mp4", n_frames=15)
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    kept = analyse_for(log, other, "Zed", folder / "out", folder / "cache")
    overlay_for(log, film, None, folder / "films")
    overlay_for(log, film, "DOT  kid", folder / "more" / "films")
    export_for(log, film, "D. K.", folder / "tables")
    compare_for(log, (film, film), (NAME, NAME), folder / "pairs")
    write_results(analysed(film, "dot kid"), folder / "out" / "nested", {})  # beside none
    write_results(analysed(film, "dot kid"), folder / "tables", {})  # beside a known one
    done = run(NAME, "--yes")
    assert done.exit_code == 0, done.output
    unknown = folder / "out" / "nested"
    shutil.rmtree(unknown)
    kept_manifest = folder / "out" / "b" / MANIFEST_NAME
    assert set(files_in(folder)) == {film, other, *kept, kept_manifest}
    for empty in ("films/a", "more/films/a", "tables/a", "out/a"):
        assert not (folder / empty).exists()


def test_a_comparison_with_somebody_else_is_theirs_too(log, folder, write_film):
    films = write_film("a.mp4"), write_film("b.mp4", n_frames=15)
    for film, name in zip(films, (NAME, "Zed"), strict=True):
        analyse_for(log, film, name, folder / "out", folder / "cache")
    pair = compare_for(log, films, (NAME, "Zed"), folder / "pairs")
    plan = plan_erasure(log, NAME)
    assert {one.path: one.athletes for one in plan.kept} == dict.fromkeys(pair, ("Zed",))
    assert set(pair) <= {one.path for one in plan_erasure(log, NAME, "erase").files}


def test_a_file_that_was_changed_or_linked_stays_and_is_listed(log, folder, write_film):
    film = write_film()
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    results = folder / "out" / "film"
    (results / "reps.csv").write_text("my own table")
    (results / "reps.json").unlink()
    (results / "reps.json").symlink_to(film)
    done = run(NAME, "--yes")
    assert done.exit_code == 1
    assert {path.name for path in results.iterdir()} == {"reps.csv", "reps.json", MANIFEST_NAME}
    assert "changed since the program wrote it" in done.stdout
    assert (results / "reps.csv").read_text() == "my own table"
    assert film.is_file()


def test_a_dry_run_lists_everything_and_changes_nothing(log, folder, write_film):
    film = write_film()
    written = analyse_for(log, film, NAME, folder / "out", folder / "cache")
    (folder / "out" / "film" / "consent.pdf").touch()
    before = files_in(folder)
    done = run(NAME, "--dry-run")
    assert done.exit_code == 0, done.output
    for path in written:
        assert f"  {path}\n" in done.stdout
    assert "consent.pdf" in done.stdout
    assert "Nothing was changed" in done.stdout
    assert files_in(folder) == before
    plan = plan_erasure(log, NAME)
    assert {one.path for one in plan.files} == set(written)
    assert erase(log, plan).n_files == len(written)


def test_a_stranger_is_refused_by_a_dry_run_too(log):
    assert run("Zed", "--dry-run").exit_code == 2


def test_what_lies_on_a_disk_that_is_away_is_named_and_found_later(log, folder, write_film):
    film = write_film()
    analyse_for(log, film, NAME, folder / "disk" / "out", folder / "cache")
    (folder / "disk").rename(folder / "away")
    done = run(NAME, "--yes")
    assert done.exit_code == 1
    assert f"{folder / 'disk' / 'out' / 'film'}: cannot be reached" in done.stdout
    (folder / "away").rename(folder / "disk")
    again = run(NAME, "--yes")
    assert again.exit_code == 0, again.output
    assert set(files_in(folder)) == {film}
    with log.reading() as connection:
        assert connection.execute(select(FILM_FOLDERS)).all() == []
    assert run(NAME, "--yes").exit_code == 2


def test_a_folder_that_was_moved_is_named(log, folder, write_film):
    analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")
    (folder / "out" / "film").rename(folder / "elsewhere")
    done = run(NAME, "--yes")
    assert f"{folder / 'out' / 'film'}: not there any more" in done.stdout
    assert done.exit_code == 0


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="rights do not bind here")
def test_a_folder_that_cannot_be_read_is_named(log, folder, write_film):
    analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")
    (folder / "cache").chmod(0)
    try:
        done = run(NAME, "--yes")
    finally:
        (folder / "cache").chmod(0o700)
    assert f"{folder / 'cache'}: cannot be read" in done.stdout
    assert done.exit_code == 1


def test_a_list_that_cannot_be_read_leaves_its_folder_alone(log, folder, write_film):
    written = analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")
    manifest_path(folder / "out" / "film").write_text("{")
    plan = plan_erasure(log, NAME)
    assert reasons(plan) == {MANIFEST_NAME: "unreadable"}
    assert {one.path.parent for one in plan.files} == {folder / "cache"}
    erase(log, plan)
    assert written[0].is_file()


def test_what_a_version_without_lists_wrote_goes_by_name_and_film(log, folder, write_film):
    film = write_film()
    written = analyse_for(log, film, NAME, folder / "out", folder / "cache")
    results = written[0].parent
    manifest_path(results).unlink()
    for name in ("overlay.mp4", "joints.c3d", "measures.parquet"):
        (results / name).write_bytes(b"of the program")
    for name in ("overlay.mov", "rep_1.jpg", "REPORT.HTML.bak", "reps.json.old"):
        (results / name).write_bytes(b"of somebody")
    erase_athlete(log, NAME)
    assert {path.name for path in results.iterdir()} == {
        "overlay.mov", "rep_1.jpg", "REPORT.HTML.bak", "reps.json.old",
    }  # fmt: skip


def test_without_a_list_and_a_table_a_file_has_to_say_its_film_itself(log, folder, write_film):
    film = write_film()
    results = analyse_for(log, film, NAME, folder / "out", folder / "cache")[0].parent
    manifest_path(results).unlink()
    (results / "reps.json").unlink()
    (results / "overlay.mp4").write_bytes(b"of whom?")
    (results / "measures.parquet").write_bytes(b"film " + file_digest(film).encode())
    plan = plan_erasure(log, NAME)
    assert reasons(plan)["overlay.mp4"] == "other_film"
    assert results / "measures.parquet" in {one.path for one in plan.files}


def test_results_of_another_film_in_the_same_place_stay(log, folder, write_film):
    results = analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")[0].parent
    shutil.rmtree(results)
    other = write_results(analysed(write_film("x.mp4", n_frames=15), None), folder / "x", {})
    shutil.copytree(other[0].parent, results)
    manifest_path(results).unlink()
    before = files_in(results)
    erase_athlete(log, NAME)
    assert files_in(results) == before


def test_an_earlier_comparison_is_listed_by_its_name(log, folder, write_film):
    analyse_for(log, write_film("shot.mp4"), NAME, folder / "out", folder / "cache")
    pair = folder / "out" / "shot_rep_01_and_b_rep_02.mp4"
    pair.write_bytes(b"both")
    assert reasons(plan_erasure(log, NAME)) == {pair.name: "other_film"}


def test_a_note_with_the_name_in_a_folder_of_results_is_listed(log, folder, write_film):
    results = analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")[0].parent
    (results / "notes.txt").write_text(f"{NAME} was tired")
    done = run(NAME, "--yes")
    assert done.exit_code == 1
    assert "notes.txt: not written by the program, but the name" in done.stdout
    assert (results / "notes.txt").is_file()


def test_only_the_programs_own_names_go_from_a_folder_of_landmarks(log, folder, write_film):
    film = write_film()
    cache = folder / "mine"
    cache.mkdir()
    digest = file_digest(film)
    np.savez(cache / "holiday.film.npz", a=np.zeros(3))
    np.savez(cache / f"{'c' * 32}.film.npz", a=np.zeros(3))
    (cache / "broken.tracks.npz").write_bytes(b"no zip")
    (cache / f"{digest[:32]}.txt").write_text("mine")
    (cache / f"{'d' * 32}.frame000001.jpg").write_bytes(b"of another")
    mine = files_in(cache)
    analyse_for(log, film, NAME, folder / "out", cache)
    for name in (f"{digest[:32]}.proxy.mp4", f"{digest[:32]}.ab12.unfinished"):
        (cache / name).write_bytes(b"of the program")
    np.savez(cache / f"{'e' * 32}.film.npz", facts=np.zeros(6), clock_s=[], looks_s=[])
    plan = plan_erasure(log, NAME)
    assert reasons(plan) == {"broken.tracks.npz": "unreadable"}
    erase(log, plan)
    assert files_in(cache) == mine


def test_what_an_athlete_took_along_is_theirs(log, folder, write_film):
    analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")
    written = export_athlete(log, NAME, folder / "for them")
    before = files_in(folder / "for them")
    assert (written.parent / "results" / "film" / "report.html").is_file()
    done = run(NAME, "--yes")
    assert done.exit_code == 1
    assert "written for the athlete to keep" in done.stdout
    assert files_in(folder / "for them") == before


def test_a_page_of_the_volume_goes_with_its_athlete(log, folder, write_film):
    analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")
    (folder / "pages").mkdir()
    page = folder / "pages" / "volume.html"
    shown = CliRunner().invoke(main, ["volume", "--athlete", NAME, "--html", str(page)])
    assert page.is_file(), shown.output
    assert run(NAME, "--yes").exit_code == 0
    assert list((folder / "pages").iterdir()) == []


def test_a_file_that_is_changed_while_the_plan_is_read_stays(log, folder, write_film):
    results = analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")[0].parent
    plan = plan_erasure(log, NAME)
    (results / "reps.csv").write_text("changed just now")
    erase(log, plan)
    assert [path.name for path in results.iterdir() if path.name != MANIFEST_NAME] == ["reps.csv"]
    assert set(read_manifest(results).entries) == {"reps.csv"}


def test_a_file_that_cannot_be_taken_away_keeps_the_rows(log, folder, write_film, monkeypatch):
    written = analyse_for(log, write_film(), NAME, folder / "out", folder / "cache")
    unlink = Path.unlink

    def stuck(path, **told):
        if path.name == "reps.csv":
            raise PermissionError(13, "in use", str(path))
        return unlink(path, **told)

    monkeypatch.setattr(Path, "unlink", stuck)
    with pytest.raises(LogError, match=r"reps\.csv.*in use"):
        erase_athlete(log, NAME)
    monkeypatch.undo()
    assert [path for path in written if path.exists()] == [written[0].parent / "reps.csv"]
    erase_athlete(log, NAME)
    assert not written[0].parent.exists()


def test_the_list_of_what_stays_is_said_in_spanish_too(log, folder, write_film, monkeypatch):
    film = write_film()
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    analyse_for(log, film, "Zed", folder / "again", folder / "cache")
    (folder / "out" / "film" / "reps.csv").write_text("cambiado")
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    done = run(NAME, "--dry-run")
    assert "film.mp4 también es un vídeo de Zed." in done.stdout
    assert "cambiado desde que lo escribió el programa" in done.stdout
    assert "No se cambió nada." in done.stdout


def test_tracks_of_a_film_that_only_a_list_names_go_too(log, folder, write_film):
    film = write_film("a.mp4")
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    second = write_film("b.mp4", n_frames=15)  # analysed with --no-log
    analysis = analysed(second, NAME)
    write_results(analysis, folder / "out", {})
    keep_tracks(analysis, folder / "cache")
    assert run(NAME, "--yes").exit_code == 0
    assert set(files_in(folder)) == {film, second}


def test_an_athlete_of_another_name_in_the_list_keeps_what_is_theirs(log, folder, write_film):
    film = write_film()
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    CliRunner().invoke(main, ["athlete", "add", "Zed"])
    theirs = overlay_for(log, film, "Zed", folder / "films")
    plan = plan_erasure(log, NAME)
    assert {one.path: (one.reason, one.athletes) for one in plan.kept} == {
        theirs[0]: ("shared", ("Zed",))
    }
    assert json.loads(manifest_path(theirs[0].parent).read_text())["made_folder"]


def noted(log):
    with log.reading() as connection:
        query = select(FILM_FOLDERS.c.kind, FILM_FOLDERS.c.path, FILM_FOLDERS.c.athlete_id)
        return {(kind, path): number for kind, path, number in connection.execute(query)}


def test_a_folder_is_noted_once_before_anything_is_written_there(log, folder, write_film):
    film = write_film()
    analyse_for(log, film, NAME, folder / "out", folder / "cache")
    request = LogRequest()
    for name in (NAME, "dot  KID", None, None):
        request.note_folders(film, name, out=folder / "films", cache=folder / "c")
    request.note_folders(film, None, out=folder, cache=folder / "c", in_own_folder=False)
    request.note_folders(film, None, out=None, cache=folder / "drills")
    with log.reading() as connection:
        rows = connection.execute(select(FILM_FOLDERS.c.path)).scalars().all()
    assert sorted(rows) == sorted(
        [str(folder / "films" / "film")] * 2 + [str(folder / "c")] * 2
        + [str(folder), str(folder / "drills")]
    )  # fmt: skip
    assert set(plan_erasure(log, NAME).person.digests) == {file_digest(film)}


def test_without_an_athlete_no_log_is_made_and_with_no_log_nothing_is_noted(folder, write_film):
    film = write_film()
    LogRequest().note_folders(film, None, out=folder / "out", cache=folder / "cache")
    LogRequest(write=False).note_folders(film, NAME, out=folder / "out", cache=folder / "cache")
    assert not log_path().exists()
    LogRequest().note_folders(film, NAME, out=folder / "out", cache=folder / "cache")
    with opened_log() as log:
        assert noted(log) == {
            ("results", str(folder / "out" / "film")): None,
            ("cache", str(folder / "cache")): None,
        }


@pytest.mark.parametrize(
    "words",
    [("analyse", "...mp4"), ("overlay", "...mp4"), ("export", "...mp4", "--format", "csv"),
     ("compare", "...mp4:1", "...mp4:2")],
)  # fmt: skip
def test_a_name_that_leads_away_is_refused_before_the_long_work(folder, write_film, words):
    write_film().rename(folder / "...mp4")
    refused = CliRunner().invoke(main, [*words, "--stature", "1.8"])
    assert refused.exit_code == 1
    assert "...mp4: results cannot be named '..'" in refused.stderr

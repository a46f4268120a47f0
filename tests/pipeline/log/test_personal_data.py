"""Athletes take everything along, or are forgotten so that no file of the program knows them."""

import csv
import json
import sqlite3
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from click.testing import CliRunner
from sqlalchemy import select

from pipeline.commands.main import main
from pipeline.core.catalogue import LANGUAGES
from pipeline.core.errors import LogError, OutputError
from pipeline.core.files import VARIABLE, data_folder
from pipeline.core.messages import shipped
from pipeline.core.types import Tracks
from pipeline.log.athletes import find_athlete
from pipeline.log.migrate import copy_database
from pipeline.log.personal_data import erase_athlete, export_athlete
from pipeline.log.queries import everything_of
from pipeline.log.record_analysis import log_analysis
from pipeline.log.schema import ATHLETES, CLIPS, MEASURES, REPS
from pipeline.log.store import opened_log
from pipeline.moves.naming.features import N_FEATURES
from pipeline.people.cache import TrackCache
from pipeline.report.results import write_results
from pipeline.settings.checks import drill_names
from pipeline.settings.locale import LANGUAGE_VARIABLE
from pipeline.targets.history import history_path
from pipeline.targets.load import coach_targets_path, load_targets
from pipeline.teaching.corrections import Correction
from pipeline.teaching.corrections_store import Corrections, load_corrections, save_corrections
from pipeline.teaching.drill_store import load_drill, save_drill
from pipeline.teaching.team_classifier import Lesson
from tests.fixtures.drilling import drill_of, drill_player, frame_of
from tests.fixtures.logged import analysis_of, passes, settings_of

DAY = date(2026, 9, 1)
NAME = "Player Seven"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    return tmp_path


def run(*words):
    return CliRunner().invoke(main, words)


def keep_film(log, folder, film, name):
    """Analyse a film for somebody: log, report, kept landmarks and a picture."""
    analysis = replace(analysis_of(film, passes(0.6, 0.7)), athlete=name)
    out, cache = folder / "out", folder / "cache"
    written = write_results(analysis, out, {1: np.zeros((4, 4, 3), np.uint8)})
    n = analysis.clip.n_frames
    tracks = Tracks(
        image_px=np.zeros((1, n, 33, 2)), world_m=np.zeros((1, n, 33, 3)),
        visibility=np.zeros((1, n, 33)), overlapped=np.zeros((1, n), bool),
        camera_shift_px=np.zeros((n, 4, 2)), camera_misfit_px=np.zeros(n),
    )  # fmt: skip
    kept = TrackCache(cache)
    kept.save(f"tracks of {film.stem}", analysis.clip, tracks)
    kept.save_frame(analysis.clip.digest, 3, np.zeros((4, 4, 3), np.uint8))
    log_analysis(
        analysis, settings_of(name), log, day=DAY,
        results_path=written[0].parent, cache_path=cache,
    )  # fmt: skip
    return analysis.clip.digest


def correct(digest):
    lesson = Lesson(features=np.zeros((2, N_FEATURES)), label="split_dodge", clip=digest)
    one = Correction(
        kind="relabelled", was="roll_dodge", label="split_dodge", windows_s=((0.0, 1.0),),
        lessons=(lesson,), clip=digest, by="the coach", at="2026-09-01T10:00:00Z",
    )  # fmt: skip
    save_corrections(load_corrections().with_one(one, (np.zeros(1), np.zeros((1, N_FEATURES)))))


def set_range(name, low):
    words = ["targets", "set", "throwback_pass", "step_back_m", "--low", low, "--by", "the coach",
             "--why", "longer"]  # fmt: skip
    assert run(*words, *(("--athlete", name) if name else ())).exit_code == 0


@pytest.fixture
def filled(folder, write_film):
    """Two athletes with everything that the program can keep of them."""
    drill = drill_of(frame_of(drill_player())[0], name="fake_and_drop")
    with opened_log() as log:
        films = [write_film(f"{n}.mp4", n_frames=10 + n) for n in range(2)]
        mine = keep_film(log, folder, films[0], NAME)
        other = keep_film(log, folder, films[1], "Somebody Else")
        for digest in (mine, other):
            correct(digest)
        first, *rest = drill.examples
        save_drill(replace(drill, examples=(replace(first, digest=mine), *rest)))
        for name, low in ((None, "0.4"), (NAME, "0.5"), ("Somebody Else", "0.6"), (NAME, "0.55")):
            set_range(name, low)
        assert run("log", "add", "--athlete", NAME, "--throws", "40", "--hand", "left",
                   "--notes", "Player Seven was tired").exit_code == 0  # fmt: skip
        signed = ("--by", "the trainer", "--why", "a pause")
        run("limits", "set", "throws", "90", "--per", "day", "--athlete", NAME, *signed)
        run("athlete", "set", NAME, "--consent-by", "a parent")
        copy_database(log.engine, log.url, data_folder() / "training_log.form0001.backup.sqlite3")
        yield log, mine, other


@pytest.mark.slow
def test_everything_is_taken_along_in_open_formats(filled, folder):
    log, mine, other = filled
    path = export_athlete(log, "player seven", folder / "for them")
    document = json.loads(path.read_text(encoding="utf-8"))
    tables = document["log"]
    assert [row["value"] for row in tables["measures"]] == [0.6, 0.7]
    assert tables["work"][0]["throws"] == 40
    assert tables["consents"][0]["given_by"] == "a parent"
    assert tables["limits"][0]["most"] == 90
    assert [entry["in_force"] for entry in document["ranges"]] == [True, False, False]
    assert [one["clip"] for one in document["corrections"]] == [mine]
    assert document["drills_with_examples"] == ["fake_and_drop"]
    with (path.parent / "reps.csv").open(encoding="utf-8", newline="") as file:
        assert [row["move"] for row in csv.DictReader(file)] == ["throwback_pass"] * 2
    assert (path.parent / "results" / "0" / "report.html").is_file()
    assert (path.parent / "landmarks" / "tracks of 0.tracks.npz").is_file()
    for text in path.parent.rglob("*"):
        if text.suffix in (".json", ".csv", ".html"):
            content = text.read_text(encoding="utf-8")
            assert "Somebody" not in content
            assert other not in content
    with pytest.raises(OutputError, match="something in this folder"):
        export_athlete(log, NAME, folder / "for them")


@pytest.mark.slow
def test_nothing_of_a_forgotten_athlete_is_left(filled, folder):
    log, mine, other = filled
    erased = erase_athlete(log, "player seven")
    assert erased.left == []
    assert erased.plan.rows["reps"] == 2
    assert (
        erased.n_files == 2 + 4
    )  # landmarks and a picture; report, two tables, a picture of a rep
    assert (erased.n_ranges, erased.n_corrections) == (3, 1)
    assert len(erased.backups) == 1
    for path in folder.rglob("*"):
        if path.is_file() and path.suffix != ".mp4":
            content = path.read_bytes().lower()
            assert b"player seven" not in content, path
            assert mine.encode() not in content, path
    assert {path.name for path in (folder / "cache").iterdir()} == {
        "tracks of 1.tracks.npz",
        f"{other[:32]}.frame000003.jpg",
    }
    assert [p.name for p in (folder / "out").iterdir()] == ["1"]
    assert (folder / "0.mp4").is_file()


@pytest.mark.slow
def test_others_keep_what_is_theirs(filled, folder):
    log, _, other = filled
    erase_athlete(log, NAME)
    with log.reading() as connection:
        assert connection.execute(select(ATHLETES.c.name)).scalars().all() == ["Somebody Else"]
        assert connection.execute(select(MEASURES.c.value)).scalars().all() == [0.6, 0.7]
        assert connection.execute(select(CLIPS.c.file_digest)).scalars().all() == [other]
    targets = load_targets(coach_targets_path())
    own = targets.for_athlete("throwback_pass", "any", 1.8, athlete="Somebody Else")
    assert own["step_back_m"].low == 0.6
    assert targets.for_athlete("throwback_pass", "any", 1.8)["step_back_m"].low == 0.4
    assert run("targets", "history").exit_code == 0
    assert "Somebody Else" in history_path(coach_targets_path()).read_text(encoding="utf-8")
    assert [one.clip for one in load_corrections().made] == [other]
    assert list(load_corrections().anchors) == [other]
    backup = data_folder() / "training_log.form0001.backup.sqlite3"
    with sqlite3.connect(backup) as database:
        assert database.execute("SELECT name FROM athletes").fetchall() == [("Somebody Else",)]
    database.close()


@pytest.mark.slow
def test_a_drill_with_too_few_examples_left_is_forgotten(filled):
    log, mine, _ = filled
    n = len(load_drill("fake_and_drop").examples)
    erased = erase_athlete(log, NAME)
    if n > 3:
        assert list(erased.drills_shortened) == ["fake_and_drop"]
        assert mine not in {one.digest for one in load_drill("fake_and_drop").examples}
    else:
        assert list(erased.drills_forgotten) == ["fake_and_drop"]
        assert drill_names() == ()


@pytest.mark.slow
def test_a_film_that_shows_another_athlete_too_stays_theirs(folder, write_film):
    film = write_film()
    with opened_log() as log:
        keep_film(log, folder, film, NAME)
        keep_film(log, folder, film, "Somebody Else")
        erase_athlete(log, NAME)
        with log.reading() as connection:
            assert len(connection.execute(select(REPS.c.id)).all()) == 2
    assert len(list((folder / "cache").iterdir())) == 2


def test_all_places_of_a_film_are_found_also_earlier_ones(folder, write_film):
    film = write_film()
    with opened_log() as log:
        keep_film(log, folder, film, NAME)
        (folder / "second").mkdir()
        keep_film(log, folder / "second", film.rename(folder / "other name.mp4"), NAME)
        assert erase_athlete(log, NAME).n_files == 12
    assert list((folder / "cache").iterdir()) == list((folder / "second/cache").iterdir()) == []


def test_a_folder_that_holds_another_films_results_by_now_is_left_alone(folder, write_film):
    with opened_log() as log:
        keep_film(log, folder, write_film(), NAME)
        table = folder / "out" / "film" / "reps.json"
        table.write_text(json.dumps({"clip": {"digest": "of another"}}))
        erase_athlete(log, NAME)
    assert table.is_file()


def test_what_is_still_found_is_told(folder, write_film):
    with opened_log() as log:
        keep_film(log, folder, write_film(), NAME)
    (data_folder() / "words.toml").write_text(f"# for {NAME}\n")
    result = run("athlete", "erase", NAME, "--yes")
    assert result.exit_code == 1
    assert "words.toml" in result.stdout


@pytest.mark.slow
def test_it_is_asked_first_and_can_be_left(folder, write_film):
    with opened_log() as log:
        keep_film(log, folder, write_film(), NAME)
    asked = CliRunner().invoke(main, ["athlete", "erase", NAME], input="n\n")
    assert asked.exit_code == 1
    assert NAME in run("athlete", "list").stdout
    done = run("athlete", "erase", NAME, "--yes")
    assert done.exit_code == 0, done.stderr
    assert "nothing of it is left there" in done.stdout
    assert "No athlete" in run("athlete", "list").stdout
    assert run("athlete", "erase", NAME, "--yes").exit_code == 2


@pytest.mark.slow
def test_it_is_asked_and_answered_in_the_language_that_is_read(folder, write_film, monkeypatch):
    with opened_log() as log:
        keep_film(log, folder, write_film(), NAME)
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    left = CliRunner().invoke(main, ["athlete", "erase", NAME], input="y\nquizá\nNO\n")
    assert left.exit_code == 1
    assert left.stdout.count(f"¿Olvidar todo sobre {NAME}? No se puede deshacer [s/N]:") == 3
    assert left.stdout.count("Responde s o n.") == 2
    assert left.stdout.endswith("No se olvidó nada.\n")
    assert NAME in run("athlete", "list").stdout
    for answer in ("s", "Sí", "si\u0301", "SI"):
        run("athlete", "add", f"Zed {answer}")
        done = CliRunner().invoke(main, ["athlete", "erase", f"Zed {answer}"], input=f"{answer}\n")
        assert done.exit_code == 0, done.output
        assert "Fuera del diario: 1 deportista.\n" in done.stdout


def test_nobody_there_to_answer_is_a_no(folder, write_film):
    with opened_log() as log:
        keep_film(log, folder, write_film(), NAME)
    assert CliRunner().invoke(main, ["athlete", "erase", NAME], input="").exit_code == 1
    assert NAME in run("athlete", "list").stdout


@pytest.mark.slow
@pytest.mark.parametrize("language", LANGUAGES)
def test_rows_of_every_table_can_be_told(filled, language):
    log, *_ = filled
    with log.reading() as connection:
        tables = everything_of(connection, find_athlete(connection, NAME))
    told = shipped(language)
    assert all("3 " in told.counted(3, f"rows_of_{table}") for table in tables)


def test_a_stranger_cannot_be_forgotten(folder):
    with opened_log() as log, pytest.raises(LogError, match="no athlete of that name"):
        erase_athlete(log, "Zed")


def test_a_name_in_other_signs_is_found_too(folder, write_film):
    with opened_log() as log:
        keep_film(log, folder, write_film(), "Zoë Ångström")
        (data_folder() / "notes.json").write_text(json.dumps("Zoë Ångström"))
        assert [path.name for path in erase_athlete(log, "zoë ångström").left] == ["notes.json"]


@pytest.mark.slow
def test_export_on_the_command_line(folder, write_film):
    with opened_log() as log:
        keep_film(log, folder, write_film(), NAME)
    said = run("athlete", "export", NAME, "--out", str(folder / "theirs"))
    assert said.exit_code == 0, said.stderr
    assert "athlete.json: all of it" in said.stdout


def test_where_says_where_everything_is(folder):
    assert "not made yet" in run("where").stdout
    run("athlete", "add", NAME)
    said = json.loads(run("where", "--json").stdout)
    assert said["data_folder"] == str(folder / "kept")
    assert said["training_log"] == str(folder / "kept" / "training_log.sqlite3")
    assert said["holds"] == ["training_log.sqlite3"]


def test_nothing_to_take_out_of_corrections_writes_none(folder):
    from pipeline.log.athlete_files import remove_corrections

    assert remove_corrections({"none"}) == 0
    assert load_corrections() == Corrections()

"""The commands for corrections: what is typed is checked, and what was done is told."""

import json

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.teaching import correct
from tests.fixtures.corrected import moments, write_reps


@pytest.fixture(autouse=True)
def _folder(tmp_path, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_DATA", str(tmp_path / "data"))


def run(*arguments):
    return CliRunner().invoke(main, ["corrections", *map(str, arguments)])


@pytest.fixture
def films(tmp_path, monkeypatch):
    """Results of two films, whose moments are there without landmarks."""

    def seen(head, *_):
        return moments(int(head["digest"][0]))

    monkeypatch.setattr(correct, "_moments", seen)
    return [write_reps(tmp_path / str(seed) / "reps.json", seed) for seed in (3, 4)]


@pytest.mark.slow
def test_corrections_are_made_learned_from_and_taken_back(films):
    assert "No corrections were made yet." in run().output
    for path in films:
        made = run("add", path, "--rep", 1, "--move", "split_dodge", "--by", "Coach")
        assert made.exit_code == 0, made.stderr
        assert "split_dodge, found as throwback_pass (Coach, " in made.output
    listed = json.loads(run("--json").output)
    assert [one["kind"] for one in listed["corrections"]] == ["relabelled"] * 2
    assert listed["in_force"] == 0
    learned = run("retrain", "--by", "Coach")
    assert "Version 1: learned from 2 corrections in 2 films." in learned.output
    assert "Held out, film by film: 0 of 2 named rightly before" in learned.output
    assert "In force now" in learned.output
    assert "In force: version 1" in run().output
    assert "Version 1 is taken back. In force: the shipped" in run("undo").output
    assert run("undo").exit_code == 2


def test_in_spanish_the_same_is_told(films, monkeypatch):
    monkeypatch.setenv("CROSSEMETRY_LANGUAGE", "es")
    assert "Aún no se hizo ninguna corrección." in run().output
    made = run("add", films[0], "--rep", 1, "--move", "split_dodge", "--by", "Coach")
    assert "split_dodge, encontrada como throwback_pass (Coach, " in made.output
    learned = run("retrain", "--by", "Coach").output
    assert "aprendida de 1 corrección en 1 vídeo." in learned
    assert "No se usa: con correcciones de un solo vídeo no se puede saber" in learned
    wrong = run("add", films[0], "--rep", 1, "--move", "split_doge", "--by", "me").stderr
    assert wrong.endswith("¿Querías decir split_dodge?\n")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--move", "split_doge"], "Did you mean split_dodge"),
        (["--split-at", 2, "--join-with", 2], "contradict"),
        (["--move", "not_a_rep", "--join-with", 2], "no rep is not split"),
        (["--by", " "], "--by"),
        (["--rep", 8], "There is no rep 8"),
    ],
)
def test_what_is_typed_wrong_is_told(films, options, words):
    result = run("add", films[0], "--rep", 1, "--by", "me", *options)
    assert result.exit_code == 2
    assert words in result.stderr


def test_one_film_is_not_enough(films):
    run("add", films[0], "--rep", 2, "--by", "me")
    result = run("retrain", "--by", "me")
    assert result.exit_code == 0
    assert "Not in force: with corrections of one film only" in result.output
    assert "In force now" in run("retrain", "--by", "me", "--anyway").output

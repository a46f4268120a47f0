"""Volume, limits and trends on the command line, from a log that was filled there."""

import json
from datetime import date, datetime, timedelta

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.log.record_analysis import log_analysis
from pipeline.log.store import opened_log
from tests.fixtures.logged import analysis_of, passes, settings_of

TODAY = datetime.now().astimezone().date()


@pytest.fixture(autouse=True)
def _kept(tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))


def run(*words):
    return CliRunner().invoke(main, words)


def ok(*words):
    result = run(*words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def add(back, *words):
    day = (TODAY - timedelta(days=back)).isoformat()
    ok("log", "add", "--athlete", "K. M.", "--date", day, *words)


@pytest.fixture
def filled():
    ok("athlete", "add", "K. M.", "--birth-year", str(TODAY.year - 13))
    for back in range(7):
        add(back, "--throws", "40", "--hand", "right", "--minutes", "60", "--exertion", "5")
    add(0, "--throws", "15", "--hand", "left", "--estimated")
    add(30, "--throws", "100", "--hand", "right", "--minutes", "60", "--exertion", "4")


@pytest.mark.slow
def test_volume_tells_numbers_rules_and_what_they_are_not(filled):
    ok("limits", "set", "throws", "50", "--per", "day", "--by", "the trainer", "--why", "a pause")
    said = ok("volume", "--athlete", "k. m.", "--weeks", "2")
    assert f"55 throws a day up to {TODAY.isoformat()}, over the limit of 50" in said
    assert "(15 of the 55 were estimated, not counted.)" in said
    assert "No day off: 7 days in a row" in said
    assert "295e" in said
    assert "the load was the same on all seven days" in said
    assert "They do not say who will be hurt" in said
    assert "Lolli" in said
    assert "Numbers marked e hold estimates" in said


@pytest.mark.slow
def test_volume_as_data_has_the_same_figures(filled):
    document = json.loads(ok("volume", "--json"))
    (athlete,) = document["athletes"]
    week = athlete["weeks"][-1]
    assert week["by_source"]["counted"]["throws"] == 280
    assert week["by_source"]["estimated"]["throws"] == 15
    assert week["by_hand"]["left"]["throws"] == 15
    assert week["load"] == {"value": 2100.0, "reason": None}
    assert week["monotony"] == {"value": None, "reason": "equal_loads"}
    assert athlete["days_in_a_row"] == 7
    assert athlete["load"]["ratio"]["value"] > 1
    assert len(athlete["weeks"]) == 8
    assert any("No limit is set" in note for note in document["notes"])


@pytest.mark.slow
def test_volume_of_an_earlier_day(filled):
    day = (TODAY - timedelta(days=30)).isoformat()
    document = json.loads(ok("volume", "--to", day, "--weeks", "1", "--json"))
    (week,) = document["athletes"][0]["weeks"]
    assert week["by_source"]["counted"]["throws"] == 100


@pytest.mark.slow
def test_volume_as_a_page(filled, tmp_path):
    path = tmp_path / "page.html"
    assert ok("volume", "--html", str(path)) == f"{path}\n"
    assert "K. M., up to" in path.read_text(encoding="utf-8")
    result = run("volume", "--html", str(tmp_path / "none" / "page.html"))
    assert result.exit_code == 1
    assert "cannot be written" in result.stderr


def test_volume_of_an_empty_log():
    assert "No athlete is in the log yet." in ok("volume")


@pytest.mark.slow
def test_limits_are_set_shown_changed_and_taken_away(filled):
    assert "No limit is set" in ok("limits", "show")
    signed = ("--by", "the trainer", "--why", "a pause")
    ok("limits", "set", "throws", "400", "--per", "week", *signed)
    ok("limits", "set", "throws", "300", "--per", "week", "--athlete", "K. M.", *signed)
    shown = ok("limits", "show")
    assert "everybody: at most 400 throws in 7 days (the trainer" in shown
    assert "K. M.: at most 300" in shown
    (mine,) = json.loads(ok("limits", "show", "--athlete", "K. M.", "--json"))["limits"]
    assert (mine["most"], mine["set_by"], mine["why"]) == (300, "the trainer", "a pause")
    ok("limits", "set", "throws", "none", "--per", "week", "--athlete", "K. M.", *signed)
    assert "at most 400" in ok("limits", "show", "--athlete", "K. M.")
    assert ok("limits", "show", "--history").count("\n") == 3


@pytest.mark.parametrize("most", ["many", "-1", "1.5", "99999999"])
def test_a_limit_that_is_no_number_is_refused(most):
    result = run("limits", "set", "throws", "--per", "day", "--by", "me", "--why", "x", "--", most)
    assert result.exit_code == 2
    assert "limits set" not in result.stdout


def log_passes(write_film, name, day, *values):
    film = write_film(name, n_frames=10 + int(name.split(".")[0]))
    with opened_log() as log:
        log_analysis(analysis_of(film, passes(*values)), settings_of(), log, day=day)


@pytest.mark.slow
def test_a_step_back_that_got_shorter_is_told(write_film):
    for i, (day, mean) in enumerate([(1, 0.7), (3, 0.71), (5, 0.69)]):
        log_passes(write_film, f"{i}.mp4", date(2026, 9, day), mean, mean + 0.02, mean - 0.02)
        log_passes(
            write_film, f"{i + 5}.mp4", date(2026, 10, day), mean - 0.2, mean - 0.22, mean - 0.18
        )
    words = ("trend", "--athlete", "K. M.", "--measure", "step_back_m", "--from", "2026-09-01",
             "--to", "2026-10-07", "--days", "14")  # fmt: skip
    said = ok(*words)
    assert "fell: 0.70 m in 2026-09-01 to 2026-09-14 (9 reps), 0.50 m in 2026-09-24" in said
    (move,) = json.loads(ok(*words, "--json"))["moves"]
    assert move["word"] == "fell"
    assert move["late"] - move["early"] == pytest.approx(-0.2)
    assert ok("trend", "--athlete", "K. M.", "--measure", "step_back_m", "--to", "2026-10-07",
              "--days", "14") == said  # fmt: skip


@pytest.mark.slow
def test_no_clear_change_is_an_answer(write_film):
    for i, day in enumerate([date(2026, 9, 1), date(2026, 11, 1)]):
        log_passes(write_film, f"{i}.mp4", day, 0.6, 0.7, 0.65 + 0.01 * i)
    said = ok("trend", "--athlete", "K. M.", "--measure", "step_back_m", "--to", "2026-11-01")
    assert "no clear change" in said
    assert "one session only" in said


def test_what_was_not_measured_is_told(write_film):
    log_passes(write_film, "1.mp4", date(2026, 9, 1), 0.6)
    words = ("trend", "--athlete", "K. M.", "--to", "2026-11-01", "--measure")
    assert "too few reps to tell. 1 in" in ok(*words, "step_back_m")
    assert "was not measured" in ok(*words, "cut_angle_deg")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        (["--measure", "step_bak_m"], "Did you mean step_back_m"),
        (["--measure", "step_back_m", "--from", "2026-09-01", "--to", "2026-09-20"], "overlap"),
    ],
)
def test_a_trend_that_cannot_be_is_refused(filled, words, wrong):
    result = run("trend", "--athlete", "K. M.", *words)
    assert result.exit_code == 2
    assert wrong in result.stderr

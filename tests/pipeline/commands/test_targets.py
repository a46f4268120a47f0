"""The commands that show ranges, their history, and whether a file can be used."""

import json

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.settings.locale import LANGUAGE_VARIABLE
from pipeline.targets.load import SHIPPED_TARGETS, load_targets

MOVE, STEP = "throwback_pass", "step_back_m"
SIGN = ("--by", "Coach K.", "--why", "spring camp")


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    return lambda *arguments: CliRunner().invoke(main, ["targets", *map(str, arguments)])


@pytest.fixture
def changed(run):
    assert run("set", MOVE, STEP, "--low", "0.3", "--of", "stature", *SIGN).exit_code == 0
    assert run("set", MOVE, STEP, "--high", "0.8", "--hand", "left", *SIGN).exit_code == 0
    assert run("set", MOVE, "turn_away_deg", "--no-range", "--athlete", "7", *SIGN).exit_code == 0
    return run


def test_a_file_is_checked(run, tmp_path):
    assert run("check", SHIPPED_TARGETS).exit_code == 0
    (tmp_path / "mine.toml").write_text("nonsense = 1\n")
    result = run("check", "mine.toml")
    assert result.exit_code == 2
    assert result.stderr.startswith("mine.toml, line 1")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("step_back = {low_m = 1}", "no existe esa medida de throwback_pass. ¿Querías decir"),
        ("step_back_m = {low_s = 1}", "va en metros. ¿Querías decir low_m o low_of_stature o"),
        ("step_back_m = {low_m = 'x'}", "debe ser un número, y se dio 'x'. Por ejemplo:"),
        ("step_back_m = {low_m = 2}", "falta set_by. Añade"),
        (
            "step_back_m = {low_m = 1.5, set_by = 'me', why = 'so'}",
            "el límite de abajo, 1,5 m (del entrenador, cualquier nivel), es más que el de "
            "arriba, 1 m (del programa, cualquier nivel)",
        ),
    ],
)
def test_what_is_wrong_with_a_file_is_said_in_spanish(run, tmp_path, monkeypatch, text, said):
    monkeypatch.setenv(LANGUAGE_VARIABLE, "es")
    (tmp_path / "mine.toml").write_text(f"[{MOVE}.any]\n{text}\n")
    error = run("check", "mine.toml").stderr
    assert error.startswith("mine.toml, línea 2, throwback_pass.any.step_back")
    assert said in error


def test_without_a_coach_s_file_the_shipped_ranges_are_shown(run):
    result = run("show", "--move", MOVE)
    assert result.stdout.startswith("Ranges: as shipped, version ")
    assert "from shipped, any level (shipped defaults: common practice" in result.stdout
    assert "high_to_low_shot" not in result.stdout


def test_ranges_in_force_say_where_each_bound_comes_from(changed):
    result = changed("show", "--hand", "left", "--athlete", "7", "--stature", "1.60")
    assert "high_to_low_shot" in result.stdout
    assert "0.3 of stature to 0.8 m = 0.48 to 0.80 m" in result.stdout
    assert "low: from coach, any level (Coach K.: spring camp)" in result.stdout
    assert "high: from coach, any level, left hand (Coach K.: spring camp)" in result.stdout
    assert "no range\n" in result.stdout
    assert "from coach, any level, athlete 7" in result.stdout


def test_ranges_as_data(changed):
    shown = json.loads(changed("show", "--move", MOVE, "--stature", "1.60", "--json").stdout)
    step = next(item for item in shown["ranges"] if item["measure"] == STEP)
    assert (step["low"], step["high"]) == pytest.approx((0.48, 1.0))
    assert step["low_from"]["scale"] == "of_stature"
    assert (step["low_from"]["source"], step["high_from"]["source"]) == ("coach", "shipped")
    assert shown["version"]["source"] == "coach"


def test_what_was_set_is_what_is_shown_and_used(changed, tmp_path):
    shown = json.loads(changed("show", "--hand", "left", "--stature", "1.60", "--json").stdout)
    targets = load_targets(tmp_path / "kept" / "targets.toml")
    for move in {item["move"] for item in shown["ranges"]}:
        used = targets.for_athlete(move, "any", 1.6, hand="left")
        listed = {i["measure"]: (i["low"], i["high"]) for i in shown["ranges"] if i["move"] == move}
        for key, range_ in used.items():
            assert listed.pop(key) == (range_.low, range_.high)
        assert all(bounds == (None, None) for bounds in listed.values())


def test_an_earlier_state_is_shown_by_its_digest(changed):
    first = json.loads(changed("history", "--json").stdout)[0]
    result = changed("show", "--move", MOVE, "--hand", "left", "--as-of", first["digest"])
    assert f"version {first['digest']}, last changed {first['at']}" in result.stdout
    assert "0.3 of stature to 1 m" in result.stdout
    result = changed("show", "--as-of", "2001-01-01")
    assert result.exit_code == 2
    assert first["digest"] in result.stderr


def test_an_athlete_without_ranges_is_told(changed):
    assert "Athlete 8 has no ranges of their own." in changed("show", "--athlete", "8").stdout
    assert "no ranges of their own" not in changed("show", "--athlete", "7").stdout


def test_history_lists_the_changes(changed):
    lines = changed("history").stdout.splitlines()
    assert [line.split("  ")[2] for line in lines[::3]] == ["set", "set", "set"]
    assert lines[0].endswith(f"{MOVE} {STEP}, any level")
    assert lines[1].strip() == "nothing  ->  low_of_stature = 0.3"
    assert lines[2].strip() == "by Coach K.: spring camp"


@pytest.mark.parametrize(
    ("options", "count"),
    [
        ((), 3), (("--move", MOVE), 3), (("--move", "close_gap_dodge"), 0), (("--athlete", "7"), 1),
        (("--move", MOVE, "--measure", STEP), 2), (("--measure", STEP), 2),
    ],
)  # fmt: skip
def test_history_of_a_part(changed, options, count):
    assert len(json.loads(changed("history", *options, "--json").stdout)) == count
    if count == 0:
        assert changed("history", *options).stdout == "No change was recorded.\n"


def test_another_file_has_a_history_of_its_own(changed, tmp_path):
    mine = tmp_path / "mine.toml"
    result = changed("set", MOVE, STEP, "--low", "0.6", *SIGN, "--file", mine)
    assert result.exit_code == 0, result.stderr
    assert len(json.loads(changed("history", "--file", mine, "--json").stdout)) == 1
    assert "0.6 to 1 m" in changed("show", "--move", MOVE, "--file", mine).stdout
    assert (tmp_path / "mine.history.jsonl").exists()


@pytest.mark.parametrize(
    ("arguments", "tells"),
    [
        (("show", "--move", "throwbak_pass"), "throwback_pass"),
        (("show", "--level", "yuoth"), "youth"),
        (("show", "--hand", "lefft"), "Did you mean left?"),
        (("show", "--stature", "160"), "in metres"),
        (("show", "--athlete", "\x1b[2J"), "--athlete: not a name"),
        (("show", "--file", "none.toml"), "none.toml: cannot be read"),
        (("history", "--move", MOVE, "--measure", "step_bak_m"), "step_back_m"),
    ],
)
def test_wrong_options_are_told_in_one_line(run, arguments, tells):
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert tells in result.stderr


def test_signs_that_a_terminal_acts_on_are_spelled_out(run, tmp_path):
    text = f'set_by = "\\u001b[2J"\nwhy = "w"\n[{MOVE}.any.{STEP}]\nlow_m = 0.5\n'
    (tmp_path / "mine.toml").write_text(text)
    result = run("show", "--move", MOVE, "--file", "mine.toml")
    assert "\x1b" not in result.stdout
    assert r"\x1b[2J" in result.stdout

"""Ranges suggested from good reps: printed, never applied."""

import json
import shlex

import pytest
from click.testing import CliRunner

from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.targets.load import load_targets
from tests.fixtures.results import write_results

MOVE, STEP, TURN = "throwback_pass", "step_back_m", "turn_away_deg"


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "kept"))
    return lambda *arguments: CliRunner().invoke(main, ["targets", *map(str, arguments)])


@pytest.fixture
def good(tmp_path):
    reps = [{STEP: 0.6 + 0.02 * i, TURN: 50.0 + i, "steps_back": 1.0} for i in range(12)]
    reps[4]["steps_back"] = reps[7]["steps_back"] = reps[8]["steps_back"] = None
    return write_results(tmp_path / "good", reps)


def test_a_range_is_suggested_with_its_doubt_and_nothing_is_changed(run, good, tmp_path):
    result = run("suggest", MOVE, good, "--reps", "all")
    assert result.exit_code == 0, result.stderr
    assert f"{MOVE}: 12 good reps from 1 film, percentiles 10 to 90" in result.stdout
    assert "low   0.61 m; may truly be as high as" in result.stdout
    assert "how low, 36 reps would say" in result.stdout
    assert "steps_back: measured in 9 reps, 10 are needed" in result.stdout
    assert result.stdout.endswith("Nothing was changed.\n")
    assert not (tmp_path / "kept").exists()


def test_in_spanish_numbers_have_their_comma_and_the_command_to_type_has_its_point(
    run, good, monkeypatch
):
    monkeypatch.setenv("CROSSEMETRY_LANGUAGE", "es")
    said = run("suggest", MOVE, good, "--reps", "all").stdout
    assert f"{MOVE}: 12 repeticiones buenas de 1 vídeo, percentiles 10 a 90" in said
    assert "abajo   0,61 m; el verdadero puede llegar a 0," in said
    assert f"targets set {MOVE} {STEP} --low 0.6" in said
    error = run("suggest", MOVE, good, "--reps", "all", "--percentiles", "60,90").stderr
    assert error.startswith("--percentiles 60,90: no es uno por debajo y otro por encima de 50.")


def test_only_the_sides_that_have_a_bound_are_suggested(run, good):
    found = json.loads(run("suggest", MOVE, good, "--reps", "all", "--json").stdout)
    sides = {item["measure"]: item["sides"] for item in found["suggestions"]}
    assert sides[STEP] == ["low", "high"]
    assert sides[TURN] == ["high"]


def test_the_command_it_prints_sets_that_range_rounded_outward(run, good, tmp_path):
    found = json.loads(
        run("suggest", MOVE, good, "--reps", "all", "--athlete", "K. M.", "--hand", "right",
            "--measure", STEP, "--json").stdout
    )  # fmt: skip
    (item,) = found["suggestions"]
    words = shlex.split(item["command"])
    assert words[0] == "crossemetry"
    assert run(*words[2:]).exit_code == 0
    targets = load_targets(tmp_path / "kept" / "targets.toml")
    range_ = targets.for_athlete(MOVE, "any", 1.8, hand="right", athlete="K. M.")[STEP]
    low, high = item["suggestion"]["low"]["value"], item["suggestion"]["high"]["value"]
    assert low - 0.01 <= range_.low <= low + 1e-9
    assert high - 1e-9 <= range_.high <= high + 0.01
    assert range_.why == "percentiles 10 to 90 of 12 good reps"


@pytest.mark.parametrize(("of", "length_m"), [("stature", 1.8), ("arm", 1.8 * 0.452)])
def test_lengths_can_be_suggested_as_fractions(run, good, of, length_m):
    plain, fraction = (
        json.loads(run("suggest", MOVE, good, "--reps", "all", *more, "--json").stdout)
        for more in ((), ("--of", of))
    )
    (metres, *_), (share, turn, *_) = plain["suggestions"], fraction["suggestions"]
    value = share["suggestion"]["low"]["value"]
    assert value * length_m == pytest.approx(metres["suggestion"]["low"]["value"], rel=1e-3)
    assert f"--of {of}" in share["command"]
    assert "--of" not in next(i for i in fraction["suggestions"] if i["measure"] == TURN)["command"]
    assert turn["unit"] != f"of {of}"


def test_a_cushion_is_in_arms_of_each_rep_s_defender(run, tmp_path):
    reps = [
        {"cushion_m": (1.0 + 0.01 * i) * arm, "defender_arm_length_m": arm}
        for i, arm in enumerate([0.6, 0.7, 0.8, 0.9] * 3)
    ]
    path = write_results(tmp_path / "dodges", reps, move="close_gap_dodge")
    found = json.loads(
        run("suggest", "close_gap_dodge", path, "--reps", "all", "--measure", "cushion_m",
            "--of", "arm", "--json").stdout
    )  # fmt: skip
    (item,) = found["suggestions"]
    assert 1.0 < item["suggestion"]["low"]["value"] < item["suggestion"]["high"]["value"] < 1.11


def test_reps_that_differ_less_than_the_film_is_unsure_are_named(run, tmp_path):
    path = write_results(tmp_path / "good", [{STEP: 0.6 + 0.001 * i} for i in range(12)])
    assert "it may say little of the player" in run("suggest", MOVE, path, "--reps", "all").stdout


@pytest.mark.parametrize(
    ("options", "tells"),
    [
        (("--reps", "1,2,3,4,5,6,7,8,9"), "9 reps were marked, and no measure was measured in 10"),
        (("--reps", "all", "--percentiles", "5,95"), "measured in 13"),
        (("--reps", "all", "--percentiles", "60,90"), "not one below and one above 50"),
        (("--reps", "all", "--percentiles", "ten"), "10,90"),
        (("--reps", "1,40"), "no rep 40"),
        (("--reps", "all", "--hand", "left"), "stick in the right hand"),
        (("--reps", "all", "--measure", "step_bak_m"), "step_back_m"),
        (("--reps", "all", "--of", "leg"), "stature or arm"),
    ],
)
def test_what_cannot_be_suggested_from_is_told_in_one_line(run, good, options, tells):
    result = run("suggest", MOVE, good, *options)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert tells in result.stderr
    assert result.stdout == ""

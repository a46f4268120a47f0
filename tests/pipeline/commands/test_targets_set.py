"""The commands that change ranges."""

import math

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from pipeline.commands.main import main
from pipeline.core.files import VARIABLE
from pipeline.targets.edit import merged_entry
from pipeline.targets.load import load_targets

MOVE, STEP = "throwback_pass", "step_back_m"
SIGN = ("--by", "Coach K.", "--why", "spring camp")


@pytest.fixture
def kept(tmp_path):
    return tmp_path / "kept" / "targets.toml"


@pytest.fixture
def run(kept, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(kept.parent))
    return lambda *arguments: CliRunner().invoke(main, ["targets", *arguments])


def step(kept, **who):
    range_ = load_targets(kept).for_athlete(MOVE, "any", 1.6, **who).get(STEP)
    return None if range_ is None else (range_.low, range_.high)


def test_each_change_builds_on_the_one_before(run, kept):
    for options, expected in (
        (("--low", "0.5"), (0.5, 1.0)),
        (("--high", "0.9"), (0.5, 0.9)),
        (("--low", "0.25", "--of", "stature"), (0.4, 0.9)),
        (("--high", "open"), (0.4, None)),
        (("--high", "inherit"), (0.4, 1.0)),
        (("--no-range",), None),
        (("--high", "0.8"), (0.4, 0.8)),
        (("--high", "inherit"), (0.4, 1.0)),
    ):
        result = run("set", MOVE, STEP, *options, *SIGN)
        assert result.exit_code == 0, result.stderr
        assert step(kept) == pytest.approx(expected) if expected else step(kept) is None
    assert STEP not in kept.read_text()


def test_it_says_what_was_and_what_is(run, kept):
    run("set", MOVE, STEP, "--low", "0.5", "--level", "youth", *SIGN)
    result = run("set", MOVE, STEP, "--high", "0.9", "--level", "youth", *SIGN)
    assert result.stdout.startswith(f"{MOVE} {STEP}, level youth: low_m = 0.5, high_m = 0.9\n")
    assert "it was: low_m = 0.5\n" in result.stdout
    assert f"{kept}: version " in result.stdout


def test_for_a_hand_and_an_athlete(run, kept):
    run("set", MOVE, STEP, "--low", "0.5", "--hand", "left", "--athlete", " K. M. ", *SIGN)
    assert step(kept, hand="left", athlete="k. m.") == (0.5, 1.0)
    assert step(kept, hand="right", athlete="k. m.") == (0.4, 1.0)
    run("set", MOVE, STEP, "--low", "0.6", "--hand", "any", "--athlete", "any", *SIGN)
    assert step(kept) == (0.6, 1.0)


def test_counts_are_whole(run, kept):
    assert run("set", MOVE, "steps_back", "--high", "2.0", *SIGN).exit_code == 0
    assert "high_count = 2\n" in kept.read_text()


def test_undo(run, kept):
    run("set", MOVE, STEP, "--low", "0.5", *SIGN)
    result = run("undo", *SIGN)
    assert "it was: low_m = 0.5" in result.stdout
    assert step(kept) == (0.4, 1.0)
    assert run("undo", *SIGN).exit_code == 0
    assert step(kept) == (0.5, 1.0)


@pytest.mark.parametrize(
    ("arguments", "tells"),
    [
        ((MOVE, "step_bak_m", "--low", "1"), "Did you mean step_back_m?"),
        (("throwbak_pass", STEP, "--low", "1"), "Did you mean throwback_pass?"),
        ((MOVE, STEP), "no bound was given"),
        ((MOVE, STEP, "--low", "long"), "--low long: not a number"),
        ((MOVE, STEP, "--low", "nan"), "--low nan: not a number"),
        ((MOVE, STEP, "--low", "1", "--no-range"), "--no-range"),
        ((MOVE, STEP, "--low", "1", "--of", "leg"), "stature or arm"),
        ((MOVE, "turn_away_deg", "--high", "1", "--of", "arm"), "in its own unit (deg)"),
        ((MOVE, "steps_back", "--low", "1.5"), "not a whole number"),
        ((MOVE, STEP, "--low", "0.9", "--high", "0.5"), "Nothing was written"),
        ((MOVE, STEP, "--low", "1.5"), "targets.toml, line 3"),
        ((MOVE, STEP, "--low", "0.5", "--level", "yuoth"), "youth"),
        ((MOVE, STEP, "--low", "0.5", "--by", " "), "--by: empty"),
        ((MOVE, STEP, "--low", "0.5", "--why", "\x07"), "--why: empty"),
        ((MOVE, STEP, "--low", "0.5", "--file", "none/mine.toml"), "the folder does not exist"),
    ],
)
def test_what_cannot_be_meant_is_told_in_one_line_and_not_written(run, kept, arguments, tells):
    result = run("set", *SIGN, *arguments)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert tells in result.stderr
    assert not kept.exists()


def test_undo_of_nothing_is_told(run):
    result = run("undo", *SIGN)
    assert result.exit_code == 2
    assert "no change to undo" in result.stderr


numbers = st.floats(-9, 9)
new_bounds = st.one_of(
    st.none(),
    st.tuples(st.sampled_from(["low_m", "low_of_arm"]), numbers),
    st.just(("low", "open")),
)
old_entries = st.one_of(
    st.none(),
    st.fixed_dictionaries(
        {"set_by": st.just("a"), "why": st.just("b")},
        optional={"low_of_stature": numbers, "high_m": numbers},
    ),
    st.just({"no_range": True, "set_by": "a", "why": "b"}),
)


@given(old=old_entries, low=new_bounds)
def test_a_bound_that_is_set_replaces_its_side_and_leaves_the_other(old, low):
    entry = merged_entry(old, {"low": low}, by="me", why="so")
    high = {key: value for key, value in (old or {}).items() if key.startswith("high")}
    expected = {**({} if low is None else dict([low])), **high}
    if not expected:
        assert entry is None
        return
    assert entry == {**expected, "set_by": "me", "why": "so"}
    assert not any(isinstance(v, float) and math.isnan(v) for v in entry.values())

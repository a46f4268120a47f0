"""Reps that a coach marked as good, picked from results."""

import math

import pytest

from pipeline.core.errors import SettingsError
from pipeline.targets.good_reps import read_marked_reps
from tests.fixtures.results import write_results

MOVE, STEP = "throwback_pass", "step_back_m"
REPS = [{STEP: 0.5, "steps_back": 1.0}, {STEP: None}, {STEP: 0.7}]


def read(paths, marks, hand=None):
    return read_marked_reps(paths, marks, move=MOVE, hand=hand)


def test_the_marked_reps_of_each_file_are_read(tmp_path):
    paths = [write_results(tmp_path / "a", REPS), write_results(tmp_path / "b", REPS)]
    reps = read(paths, ["1, 3", "all"], hand="right")
    assert [rep.index for rep in reps] == [1, 3, 1, 2, 3]
    assert len({rep.clip for rep in reps}) == 2
    assert reps[0].values == {STEP: (0.5, 0.02), "steps_back": (1.0, 0.02)}
    assert reps[3].values == {}


def test_a_stature_that_is_not_known_is_nan(tmp_path):
    (rep,) = read([write_results(tmp_path / "a", REPS[:1], stature_m=None)], ["all"])
    assert math.isnan(rep.stature_m)


@pytest.mark.parametrize(
    ("marks", "tells"),
    [
        (["4"], r"a.reps\.json: there is no rep 4"),
        (["one"], "'one' is not the number of a rep"),
        (["1,"], "'' is not the number"),
        (["1,1"], "rep 1 was given twice"),
        (["1", "1"], "given 2 times for 1 files"),
    ],
)
def test_wrong_marks_are_told(tmp_path, marks, tells):
    with pytest.raises(SettingsError, match=tells):
        read([write_results(tmp_path / "a", REPS)], marks)


def test_the_same_film_twice_is_told(tmp_path):
    path = write_results(tmp_path / "a", REPS)
    with pytest.raises(SettingsError, match="given twice"):
        read([path, path], ["all", "3"])


@pytest.mark.parametrize(
    ("written", "hand", "tells"),
    [
        ({"move": "close_gap_dodge"}, None, "rep 1 is a close_gap_dodge and no throwback_pass"),
        ({"hand": "left"}, "right", "stick in the left hand"),
        ({"hand": None}, "right", "does not show the stick hand"),
    ],
)
def test_reps_of_something_else_are_told(tmp_path, written, hand, tells):
    with pytest.raises(SettingsError, match=tells):
        read([write_results(tmp_path / "a", REPS, **written)], ["all"], hand)


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"schema": "crossemetry.reps/1"}', '{"schema": "x", "clip": {}}',
             '{"schema": "crossemetry.reps/1", "clip": {"digest": "0"}, "reps": []}',
             '{"schema": "crossemetry.reps/1", "clip": 1, "reps": [1]}'],
)  # fmt: skip
def test_a_file_that_is_none_of_results_is_told(tmp_path, text):
    path = tmp_path / "reps.json"
    path.write_text(text)
    with pytest.raises(SettingsError, match=r"reps\.json: not the results of an analysis"):
        read([path], ["all"])


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(SettingsError, match="cannot be read"):
        read([tmp_path / "none.json"], ["all"])

"""How a range is said, whoever set its two bounds."""

import pytest

from pipeline.targets.entries import Bound, Scope
from pipeline.targets.lookup import ChosenBound, ChosenRange
from tests.fixtures.ranges import MOVE, STEP, layer


def bound(value, scale="unit", place=None, name="coach"):
    place = place or Scope(MOVE)
    found = Bound(value=value, scale=scale)
    made = layer(name, {place: (found, None)})
    return ChosenBound(bound=found, entry=made.entries[place, STEP], place=place, layer=made)


@pytest.mark.parametrize(
    ("key", "low", "high", "words"),
    [
        ("step_back_m", bound(0.4), bound(1.0), "0.4 to 1 m"),
        ("step_back_m", bound(0.4), None, "at least 0.4 m"),
        ("step_back_m", None, bound(0.4, "of_arm"), "at most 0.4 of arm length"),
        ("step_back_m", bound(0.4), bound(0.4), "exactly 0.4 m"),
        ("step_back_m", bound(0.4), bound(0.4, "of_stature"), "0.4 m to 0.4 of stature"),
        ("steps_back", bound(1.0), bound(1.0), "exactly 1"),
        ("steps_back", bound(1.0), bound(2.0), "1 to 2"),
        ("steps_back", bound(1.0), None, "at least 1"),
        ("cushion_m", bound(1.0, "of_arm"), bound(None), "at least 1 of the defender's arm"),
        ("step_back_m", bound(None), None, "no range"),
    ],
)
def test_words(key, low, high, words):
    assert ChosenRange(key=key, low=low, high=high).words() == words


def test_where_a_bound_comes_from_names_the_athlete_as_written():
    athlete = bound(1.0, place=Scope(MOVE, "youth", "left", "K. M."))
    assert athlete.where() == "coach, level youth, left hand, athlete K. M."
    assert bound(1.0, name="shipped").where() == "shipped, any level"


def test_who_set_both_bounds_is_named_once():
    chosen = ChosenRange(key=STEP, low=bound(0.4), high=bound(0.9))
    assert (chosen.set_by, chosen.why) == ("coach of any level", "ground of any level")

"""Places and names in a file of ranges."""

import pytest

from pipeline.targets.entries import Bound, Scope, athlete_key
from tests.fixtures.ranges import MOVE, NO_RANGE, STEP, layer


@pytest.mark.parametrize("spelling", ["José  K.", " jose\u0301 k. ", "JOSÉ K."])
def test_spellings_of_one_name_are_one_athlete(spelling):
    assert athlete_key(spelling) == athlete_key("José K.")


def test_other_names_are_other_athletes():
    assert len({athlete_key(name) for name in ("7", "17", "K. M.", "KM")}) == 4


def test_a_place_in_words():
    assert Scope(MOVE).words() == "any level"
    assert Scope(MOVE, "school", "left", "7").words() == "level school, left hand, athlete 7"


def test_an_entry_without_a_range_is_open_on_both_sides():
    entry = layer("coach", {Scope(MOVE): NO_RANGE}).entries[Scope(MOVE), STEP]
    assert entry.bound("low") == entry.bound("high") == Bound(value=None)

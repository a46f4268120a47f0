"""Ranges in words, in the language of those who read them, also from a log."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.message import message, shipped
from pipeline.range_words import bound_words, range_words, read_again
from pipeline.targets import load_targets

UNITS = tuple(shipped().table["written_bound"])
SPANISH = shipped("es")

bounds = st.one_of(
    st.none(), st.builds(bound_words, st.floats(-500.0, 500.0), st.sampled_from(UNITS))
)


@given(bounds, bounds)
def test_what_is_read_again_says_the_same_in_every_language(low, high):
    words = range_words(low, high)
    again = read_again(str(words))
    assert str(again) == words
    assert SPANISH.said(again) == SPANISH.said(words)


def test_every_shipped_range_is_said_in_spanish():
    targets = load_targets()
    ranges = {
        chosen.words(): SPANISH.said(read_again(str(chosen.words())))
        for move in ("high_to_low_shot", "throwback_pass", "close_gap_dodge")
        for chosen in targets.chosen(move).values()
    }
    assert ranges["0.94 to 1.2 of stature"] == "de 0,94 a 1,2 de la estatura"
    assert ranges["exactly 1"] == "exactamente 1"
    assert ranges["at most 90 deg"] == "como mucho 90 grados"
    assert all(said != words for words, said in ranges.items())


@pytest.mark.parametrize("text", ["", "0.94 to 1.2 of stat", "as I teach it", "at least fast"])
def test_what_is_no_range_stays_as_it_is(text):
    assert read_again(text) == text
    assert SPANISH.said(read_again(text)) == text


def test_bounds_in_two_units_name_both():
    words = range_words(bound_words(0.25, "of_stature"), bound_words(1.0, "of_arm"))
    assert words == "0.25 of stature to 1 of arm length"
    assert SPANISH.said(words) == "de 0,25 de la estatura a 1 del largo del brazo"
    assert range_words(None, None) == message("written_range.none")

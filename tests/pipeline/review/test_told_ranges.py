"""Ranges on the page are in its language and units, also those that the log keeps in English."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.chosen_range import ChosenBound, ChosenRange
from pipeline.review.told_ranges import say_chosen, say_kept
from pipeline.target_entries import Bound, Place
from pipeline.words import load_words
from tests.fixtures.ranges import MOVE, STEP, layer

KEYS = ("step_back_m", "cushion_m", "plant_to_release_s")


def chosen_range(key, low, high):
    """A range of two pairs of value and scale; a value that is None is open."""
    sides = []
    for value, scale in (low, high):
        bound, place = Bound(value=value, scale=scale), Place(MOVE)
        made = layer("coach", {place: (bound, None)})
        entry = made.entries[place, STEP]
        sides.append(ChosenBound(bound=bound, entry=entry, place=place, layer=made))
    return ChosenRange(key=key, low=sides[0], high=sides[1])


@pytest.mark.parametrize(
    ("key", "kept", "spanish", "feet"),
    [
        ("step_back_m", "0.4 to 1 m", "de 0,40 a 1,00 m", "de 1 ft 4 in a 3 ft 3 in"),
        ("step_back_m", "at least 0.4 m", "al menos 0,40 m", "al menos 1 ft 4 in"),
        ("plant_to_release_s", "0.1 to 0.4 s", "de 0,10 a 0,40 s", "de 0,10 a 0,40 s"),
        ("steps_back", "exactly 1", "exactamente 1", "exactamente 1"),
        ("release_height_m", "0.94 to 1.2 of stature", *2 * ("de 0,94 a 1,2 de la altura",)),
        ("cushion_m", "at least 1 of the defender's arm",
         *2 * ("al menos 1 del brazo del defensor",)),
        ("step_back_m", "0.4 m to 0.4 of stature",
         "de 0,40 m a 0,4 de la altura", "de 1 ft 4 in a 0,4 de la altura"),
    ],
)  # fmt: skip
def test_a_kept_range_is_said_in_spanish_and_in_feet(key, kept, spanish, feet):
    assert say_kept(load_words(language="es"), key, kept) == spanish
    assert say_kept(load_words(language="es", units="feet"), key, kept) == feet


@pytest.mark.parametrize("kept", ["as wide as you can", "at least 2 ft", "", "0.5 to x m"])
def test_what_is_no_range_is_left_as_it_is(kept):
    assert say_kept(load_words(language="es"), "step_back_m", kept) == kept


side = st.tuples(
    st.one_of(st.none(), st.integers(1, 400).map(lambda hundredths: hundredths / 100)),
    st.sampled_from(("unit", "of_stature", "of_arm")),
)


@given(key=st.sampled_from(KEYS), low=side, high=side)
def test_what_the_log_keeps_is_said_as_the_range_itself(key, low, high):
    chosen, words = chosen_range(key, low, high), load_words(language="es")
    if low[0] is None and high[0] is None:
        assert say_chosen(words, chosen) == "sin rango"
    else:
        assert say_kept(words, key, str(chosen.words())) == say_chosen(words, chosen)

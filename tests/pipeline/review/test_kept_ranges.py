"""Ranges on the page are in its language and units, also those that the log keeps in English."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.range_words import bound_words, range_words
from pipeline.review.kept_ranges import kept_range
from pipeline.words import load_words, say_range

SPANISH, FEET = load_words(language="es"), load_words(language="es", units="feet")


@pytest.mark.parametrize(
    ("key", "kept", "spanish", "feet"),
    [
        ("step_back_m", "0.4 to 1 m", "de 0,40 a 1,00 m", "de 1 ft 4 in a 3 ft 3 in"),
        ("step_back_m", "at least 0.4 m", "al menos 0,40 m", "al menos 1 ft 4 in"),
        ("step_back_m", "exactly 0.4 m", "exactamente 0,40 m", "exactamente 1 ft 4 in"),
        ("plant_to_release_s", "0.1 to 0.4 s", *2 * ("de 0,10 a 0,40 s",)),
        ("steps_back", "exactly 1", *2 * ("exactamente 1",)),
        ("steps_back", "1 to 2", *2 * ("de 1 a 2",)),
        ("release_height_m", "0.94 to 1.2 of stature", *2 * ("de 0,94 a 1,2 de la estatura",)),
        ("step_back_m", "0.4 m to 0.4 of stature", *2 * ("de 0,4 m a 0,4 de la estatura",)),
        ("step_back_m", "as wide as you can", *2 * ("as wide as you can",)),
        ("a_number_of_another_version", "0.4 to 1 m", *2 * ("de 0,4 a 1 m",)),
    ],
)
def test_a_kept_range_is_said_in_spanish_and_in_feet(key, kept, spanish, feet):
    assert say_range(SPANISH, kept_range(key, kept)) == spanish
    assert say_range(FEET, kept_range(key, kept)) == feet


bound = st.one_of(
    st.none(), st.integers(1, 400).map(lambda hundredths: bound_words(hundredths / 100, "m"))
)


@given(bound, bound)
def test_its_bounds_are_those_that_were_written(low, high):
    found = kept_range("step_back_m", str(range_words(low, high)))
    assert (found.low, found.high) == tuple(side and side.values["value"] for side in (low, high))

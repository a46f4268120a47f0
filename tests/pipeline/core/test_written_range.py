"""Written ranges: in words of the language of those who read them, and as plain values."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.messages import shipped
from pipeline.core.written_range import WrittenBound, WrittenRange, written_range_of
from pipeline.feedback.words import load_words, range_text
from pipeline.targets.load import load_targets
from pipeline.targets.lookup import written_target

UNITS = tuple(shipped().table["written_bound"])
SPANISH = shipped("es")
FEET = load_words(language="es", units="feet")

bounds = st.none() | st.builds(WrittenBound, st.floats(-500.0, 500.0), st.sampled_from(UNITS))
ranges = st.builds(WrittenRange, bounds, bounds)


@given(ranges)
def test_a_range_is_the_same_after_json(written):
    again = written_range_of(json.loads(json.dumps(written.document())))
    assert again == written
    assert again.words() == written.words()


def test_every_shipped_range_is_shown_in_spanish():
    targets = load_targets()
    ranges = {
        str(chosen.words()): SPANISH.translate(chosen.words())
        for move in ("high_to_low_shot", "throwback_pass", "close_gap_dodge")
        for chosen in targets.chosen(move).values()
    }
    assert ranges["0.94 to 1.2 of stature"] == "de 0,94 a 1,2 de la estatura"
    assert ranges["exactly 1"] == "exactamente 1"
    assert ranges["at most 90 deg"] == "como mucho 90 grados"
    assert all(shown != words for words, shown in ranges.items())


def test_bounds_in_two_units_name_both():
    written = WrittenRange(WrittenBound(0.25, "of_stature"), WrittenBound(1.0, "of_arm"))
    assert written.words() == "0.25 of stature to 1 of arm length"
    assert SPANISH.translate(written.words()) == "de 0,25 de la estatura a 1 del largo del brazo"
    assert WrittenRange().words().key == "written_range.none"


def bound(typed):
    return None if typed is None else WrittenBound(*typed)


@pytest.mark.parametrize(
    ("key", "low", "high", "metric", "feet"),
    [
        ("step_back_m", (0.4, "m"), (1.0, "m"), "de 0,40 a 1,00 m", "de 1 ft 4 in a 3 ft 3 in"),
        ("step_back_m", (0.4, "m"), None, "al menos 0,40 m", "al menos 1 ft 4 in"),
        ("step_back_m", (0.4, "m"), (0.4, "m"), "exactamente 0,40 m", "exactamente 1 ft 4 in"),
        ("plant_to_release_s", (0.1, "s"), (0.4, "s"), *2 * ("de 0,10 a 0,40 s",)),
        ("steps_back", (1.0, "number"), (2.0, "number"), *2 * ("de 1 a 2",)),
        ("release_height_m", (0.94, "of_stature"), (1.2, "of_stature"),
         *2 * ("de 0,94 a 1,2 de la estatura",)),
        ("step_back_m", (0.4, "m"), (0.4, "of_stature"),
         *2 * ("de 0,4 m a 0,4 de la estatura",)),
        ("step_back_m", None, None, *2 * ("sin rango",)),
        ("a_number_of_another_version", (0.4, "m"), (1.0, "m"), *2 * ("de 0,4 a 1 m",)),
    ],
)  # fmt: skip
def test_a_range_is_shown_in_the_units_of_who_reads_if_it_is_in_those_of_its_measure(
    key, low, high, metric, feet
):
    target = written_target(key, WrittenRange(bound(low), bound(high)))
    assert range_text(load_words(language="es"), target) == metric
    assert range_text(FEET, target) == feet

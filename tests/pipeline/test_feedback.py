import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.feedback import tell_rep
from pipeline.measures.table import MEASURES, known_moves, measures_of
from pipeline.targets import load_targets
from pipeline.types import Measurement
from pipeline.verdicts import judge_rep
from pipeline.words import load_words

TARGETS = load_targets()


def measured(key, value, u):
    interval95 = (value - 1.96 * u, value + 1.96 * u)
    return Measurement(key=key, unit=MEASURES[key].unit, value=value, u=u, interval95=interval95)


def not_measured(key, reason):
    return Measurement(key=key, unit=MEASURES[key].unit, reason=reason)


def tell(move, *measurements, stature_m=1.80):
    by_key = {measurement.key: measurement for measurement in measurements}
    verdicts = judge_rep(by_key, TARGETS.for_athlete(move, "any", stature_m))
    return tell_rep(move, by_key, verdicts)


def test_praise_comes_first_and_then_one_thing_to_try():
    praise, advice = tell(
        "high_to_low_shot",
        measured("hand_drop_m", 0.31, 0.02),
        measured("hand_height_before_release_m", 1.80, 0.02),
    )
    assert praise.startswith("Good: before the shot your top hand got up to 1.80 m, give or take")
    assert "0.31 m, give or take 0.04 m" in advice
    assert "range: at least 0.45 m" in advice
    assert "next rep, bring your top hand down" in advice


def test_the_advice_is_for_the_side_on_which_it_was_wrong():
    (too_short,) = tell("throwback_pass", measured("step_back_m", 0.2, 0.02))
    (too_long,) = tell("throwback_pass", measured("step_back_m", 1.5, 0.02))
    assert "too short" in too_short
    assert "push off harder" in too_short
    assert "costs time" in too_long
    assert "shorter step" in too_long


def test_one_miss_is_told_and_it_is_the_one_that_matters_most():
    sentences = tell(
        "throwback_pass",
        measured("plant_to_release_s", 1.5, 0.02),
        measured("turn_away_deg", 140, 5),
        measured("step_back_m", 0.1, 0.02),
    )
    assert len(sentences) == 1
    assert "step back" in sentences[0]


def test_when_all_is_well_there_is_still_something_to_try():
    (sentence,) = tell("throwback_pass", measured("step_back_m", 0.7, 0.02))
    assert sentence.startswith("Good: ")
    assert "try it again at game speed" in sentence


def test_too_close_to_call_is_said_as_such():
    (sentence,) = tell("throwback_pass", measured("step_back_m", 0.41, 0.04))
    assert sentence.startswith("Too close to call: the length of your step back was 0.41 m")
    assert "the film cannot say" in sentence


@pytest.mark.parametrize(
    ("key", "value", "u", "aim"),
    [
        ("step_back_m", 0.41, 0.04, "middle of the range"),
        ("turn_away_deg", 91, 4, "stay clearly under"),
    ],
)
def test_the_aim_fits_the_open_side_of_the_range(key, value, u, aim):
    (sentence,) = tell("throwback_pass", measured(key, value, u))
    assert aim in sentence


def test_a_gap_in_the_chief_measure_is_told_with_its_reason():
    praise, gap = tell(
        "high_to_low_shot",
        not_measured("hand_height_before_release_m", "feet out of view."),
        measured("hands_high_hold_s", 0.11, 0.02),
        measured("hand_drop_m", 0.61, 0.02),
    )
    assert praise.startswith("Good: for the shot you dropped")
    assert gap == "Not measured: how high your top hand was before the shot (feet out of view)."


def test_without_any_range_the_number_is_still_told():
    (sentence,) = tell("high_to_low_shot", measured("release_height_m", 0.9, 0.02))
    assert sentence == (
        "When you let go, your top hand was at a height of 0.90 m, give or take 0.04 m; "
        "no range is set for it."
    )


def test_a_rep_in_which_nothing_was_measured_says_why_or_says_so():
    (why,) = tell("high_to_low_shot", not_measured("release_height_m", "hand hidden"))
    assert "(hand hidden)" in why
    assert tell("high_to_low_shot") == ("Nothing could be measured in this rep.",)


def test_a_rep_of_no_known_move_is_said_to_be_one():
    (said,) = tell("unknown")
    assert "none of the moves" in said
    assert "--move" in said


@given(move=st.sampled_from(known_moves()), choices=st.data())
def test_never_more_than_two_sentences_nor_more_than_one_advice(move, choices):
    measurements = []
    for info in measures_of(move):
        value = choices.draw(st.none() | st.floats(-2, 3), label=info.key)
        measurements.append(
            not_measured(info.key, "hidden") if value is None else measured(info.key, value, 0.05)
        )
    sentences = tell(move, *measurements)
    assert 1 <= len(sentences) <= 2
    assert sum("next rep, " in sentence for sentence in sentences) <= 1
    assert not any("{" in sentence or "nan" in sentence for sentence in sentences)


def test_the_words_hold_no_jargon_and_no_diagnosis():
    words = load_words()
    said = " ".join(
        [*words.sentences.values(), *words.cautions.values()]
        + [phrase for phrases in words.measure.values() for phrase in phrases.values()]
    ).lower()
    for term in ("kinematic", "uncertainty", "proximal", "injur", "sagittal", "concussion"):
        assert term not in said

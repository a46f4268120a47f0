import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.move_table import known_moves
from pipeline.core.results import TargetRange
from pipeline.feedback.cautions import prompts
from pipeline.feedback.priority import held_back, pull_apart
from pipeline.feedback.rep_feedback import rep_sentences
from pipeline.feedback.words import load_words
from pipeline.measures import measures_of
from pipeline.targets.load import load_targets
from pipeline.targets.verdicts import judge, judge_rep
from tests.fixtures.sentences import sentences_of
from tests.fixtures.sessions import measured, not_measured, rep_of, words_with

TARGETS = load_targets()


def tell(move, *measurements, stature_m=1.80):
    by_key = {measurement.key: measurement for measurement in measurements}
    verdicts = judge_rep(by_key, TARGETS.for_athlete(move, "any", stature_m))
    return rep_sentences(move, by_key, verdicts)


def test_praise_comes_first_and_then_one_thing_to_try():
    praise, advice = tell(
        "high_to_low_shot",
        measured("hand_drop_m", 0.31, 0.02),
        measured("hand_height_before_release_m", 1.80, 0.02),
    )
    assert praise.startswith("Good: before the shot your top hand got up to 1.80 m, give or take")
    assert "0.31 m, give or take 0.04 m" in advice
    assert "The range is at least 0.45 m." in advice
    assert "Next rep, bring your top hand down" in advice


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
        "When you let go, your top hand was at a height of 0.90 m, give or take 0.04 m. "
        "No range is set for it."
    )


def test_a_rep_in_which_nothing_was_measured_says_why_or_says_so():
    (why,) = tell("high_to_low_shot", not_measured("release_height_m", "hand hidden"))
    assert "(hand hidden)" in why
    assert tell("high_to_low_shot") == ("Nothing could be measured in this rep.",)


def test_a_rep_of_no_known_move_is_said_to_be_one():
    (said,) = tell("unknown")
    assert "none of the moves" in said
    assert "--move" in said


@pytest.mark.slow
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
    assert sum("Next rep, " in sentence for sentence in sentences) <= 1
    assert not any("{" in sentence or "nan" in sentence for sentence in sentences)


def judged(key, value, u, low=None, high=None):
    """A measure held against a range."""
    measurement = measured(key, value, u)
    target = TargetRange(
        key=key, unit=measurement.unit, low=low, high=high, words="", set_by="", why=""
    )
    return measurement, judge(measurement, target)


def tell_judged(*pairs, **rules):
    measurements = {measurement.key: measurement for measurement, _ in pairs}
    words = words_with(*measurements)
    return rep_sentences(
        "split_dodge", measurements, [verdict for _, verdict in pairs], words, **rules
    )


NARROW = judged("jab_width_m", 0.2, 0.02, low=0.45)
SLOW_SWITCH = judged("hand_switch_s", 0.8, 0.02, high=0.45)


def test_a_wider_plant_is_never_asked_for_without_the_caution():
    (sentence,) = tell_judged(NARROW)
    assert "step out wider" in sentence
    assert "while your knee stays over your foot" in sentence


def test_with_a_prompt_to_look_at_the_knee_something_else_is_tried():
    (sentence,) = tell_judged(NARROW, SLOW_SWITCH, flags={"knee_in"})
    assert "it took 0.80 s" in sentence
    assert "jab" not in sentence


def test_if_nothing_else_is_wrong_the_number_is_told_without_the_advice():
    (sentence,) = tell_judged(NARROW, flags={"trunk_over_plant"})
    assert "landed 0.20 m" in sentence
    assert "wider" not in sentence
    assert "look at the note on this rep" in sentence


def test_a_wide_plant_is_not_praised_while_the_knee_comes_in():
    wide = judged("jab_width_m", 0.6, 0.02, low=0.45)
    assert tell_judged(wide)[0].startswith("Good")
    (held,) = tell_judged(wide, flags={"knee_in"})
    assert not held.startswith("Good")
    assert "0.60 m" in held
    assert "look at the note on this rep" in held


def test_nobody_is_sent_to_game_speed_while_there_is_something_to_look_at():
    fine = judged("hand_switch_s", 0.3, 0.02, high=0.45)
    assert "game speed" in tell_judged(fine)[0]
    assert "game speed" not in tell_judged(fine, flags={"knee_in"})[0]


def test_a_close_call_does_not_send_the_player_against_a_prompt_either():
    close = judged("jab_width_m", 0.46, 0.03, low=0.45)
    assert "clearly more" in tell_judged(close)[0]
    assert "knee stays over" in tell_judged(close)[0]
    (held,) = tell_judged(close, flags={"knee_in"})
    assert "clearly more" not in held
    assert "No range" not in held


def test_faster_is_never_all_that_is_said():
    (sentence,) = tell_judged(judged("trunk_turn_speed_dps", 300.0, 10.0, low=600.0))
    assert "Does something hurt?" in sentence


def test_a_rep_is_not_told_what_pulls_against_the_session():
    rep = rep_of(
        1,
        "high_to_low_shot",
        measured("hands_high_hold_s", 0.02, 0.01),
        measured("hand_drop_m", 0.40, 0.005),
    )

    def said(leading):
        return rep_sentences(rep.rep.move, rep.measurements, rep.verdicts, leading=leading)

    assert "hands stayed high" in said(None)[-1]
    assert "hands stayed high" not in said(("fake_to_release_s", "high"))[-1]
    assert "you dropped your top hand" in said(("fake_to_release_s", "high"))[-1]


@pytest.mark.slow
@given(move=st.sampled_from(known_moves()), choices=st.data())
def test_no_rep_is_told_what_pulls_against_its_prompts_or_its_session(move, choices):
    keys = [info.key for info in measures_of(move)]
    measurements = [measured(key, choices.draw(st.floats(-2, 3), label=key), 0.05) for key in keys]
    rep = rep_of(1, move, *measurements)
    flags = choices.draw(st.sets(st.sampled_from(sorted(prompts()))))
    leading = (choices.draw(st.sampled_from(keys)), choices.draw(st.sampled_from(["low", "high"])))
    words = load_words()
    said = " ".join(
        rep_sentences(move, rep.measurements, rep.verdicts, flags=flags, leading=leading)
    )
    for key in keys:
        for side in ("low", "high"):
            if held_back((key, side), flags) or pull_apart((key, side), leading):
                assert f"Next rep, {words.measure[key][f'try_{side}']}." not in said


@pytest.mark.slow
@given(move=st.sampled_from(known_moves()), choices=st.data())
def test_every_claim_names_the_number_that_it_rests_on(move, choices):
    measurements = [
        measured(info.key, choices.draw(st.floats(-2, 3), label=info.key), 0.05)
        for info in measures_of(move)
    ]
    rep = rep_of(1, move, *measurements)
    for thing in rep_sentences(move, rep.measurements, rep.verdicts):
        for sentence in sentences_of(thing):
            if not sentence.startswith(NO_CLAIMS):
                assert re.search(r"\d", sentence), sentence


NO_CLAIMS = ("First work on what", "Before you change that",
             "The range is", "No range is set", "Keep that", "Next rep", "Only do that",
             "If not", "Does something hurt", "Then do not push")  # fmt: skip
"""Sentences that say what to do, or what the range is, and nothing of the player."""

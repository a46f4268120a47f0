import pytest

from pipeline.feedback.cautions import prompts
from pipeline.feedback.priority import held_back, praise_held_back, pull_apart, rule_of
from pipeline.feedback.words import load_words
from pipeline.measures import MEASURES

RULES = {
    (key, side): rule
    for key, info in MEASURES.items()
    for side, rule in (("low", info.low), ("high", info.high))
}
PAIRS = sorted((advice, other) for advice, rule in RULES.items() for other in rule.against)


def test_every_prompt_that_can_be_raised_holds_something_back():
    assert {name for rule in RULES.values() for name in rule.not_beside} == set(prompts())


def test_every_prompt_has_its_sentences_and_the_value_to_look_from():
    words = load_words()
    for prompt, key in prompts().items():
        assert {prompt, f"{prompt}_here"} <= set(words.cautions)
        assert words.look_from[key] > 0.0


def test_every_rider_has_its_sentence():
    assert {rule.rider for rule in RULES.values()} - {None} == set(load_words().riders)


@pytest.mark.parametrize("flag", ["knee_in", "trunk_over_plant"])
@pytest.mark.parametrize("key", ["jab_width_m", "cut_angle_deg", "approach_speed_mps"])
def test_wider_sharper_and_faster_are_held_back_while_there_is_something_to_look_at(flag, key):
    assert held_back((key, "low"), {flag})
    assert praise_held_back(key, {flag})
    assert not held_back((key, "high"), {flag})
    assert not held_back((key, "low"), ())


@pytest.mark.parametrize("key", ["trunk_turn_speed_dps", "pelvis_turn_speed_dps", "separation_deg"])
def test_turn_faster_is_never_all_that_is_said(key):
    assert rule_of((key, "low")).rider == "pain"


def test_wider_is_never_all_that_is_said():
    assert rule_of(("jab_width_m", "low")).rider == "knee"


@pytest.mark.parametrize("pair", PAIRS, ids=str)
def test_a_pair_pulls_apart_both_ways_and_is_of_two_measures(pair):
    one, other = pair
    assert pull_apart(one, other)
    assert pull_apart(other, one)
    assert one[0] != other[0]
    assert {one, other} <= set(RULES)


def test_advice_that_goes_together_is_let_through():
    assert not pull_apart(("step_back_m", "low"), ("turn_away_deg", "high"))

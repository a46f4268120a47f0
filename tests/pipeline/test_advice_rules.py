import pytest

from pipeline.advice_rules import (
    AGAINST_EACH_OTHER,
    AGAINST_FLAG,
    RIDERS,
    held_back,
    praise_held_back,
    pull_apart,
)
from pipeline.flags import FLAGS
from pipeline.words import load_words


def test_every_prompt_that_can_be_raised_holds_something_back():
    assert set(AGAINST_FLAG) == set(FLAGS)


def test_every_rider_has_its_sentence():
    assert set(RIDERS.values()) == set(load_words().riders)


@pytest.mark.parametrize("flag", ["knee_in", "trunk_over_plant"])
@pytest.mark.parametrize("key", ["jab_width_m", "cut_angle_deg", "approach_speed_mps"])
def test_wider_sharper_and_faster_are_held_back_while_there_is_something_to_look_at(flag, key):
    assert held_back((key, "low"), {flag})
    assert praise_held_back(key, {flag})
    assert not held_back((key, "high"), {flag})
    assert not held_back((key, "low"), ())


@pytest.mark.parametrize("key", ["trunk_turn_speed_dps", "pelvis_turn_speed_dps", "separation_deg"])
def test_turn_faster_is_never_all_that_is_said(key):
    assert RIDERS[key, "low"] == "pain"


def test_wider_is_never_all_that_is_said():
    assert RIDERS["jab_width_m", "low"] == "knee"


@pytest.mark.parametrize("pair", sorted(map(sorted, AGAINST_EACH_OTHER)), ids=str)
def test_a_pair_pulls_apart_both_ways_and_is_of_two_measures(pair):
    one, other = pair
    assert pull_apart(one, other)
    assert pull_apart(other, one)
    assert one[0] != other[0]
    assert {one[1], other[1]} <= {"low", "high"}


def test_advice_that_goes_together_is_let_through():
    assert not pull_apart(("step_back_m", "low"), ("turn_away_deg", "high"))

"""Which range holds for whom: the order of strength, bound by bound."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.errors import SettingsError
from pipeline.targets.arm_lengths import Arm
from pipeline.targets.entries import ANY, Bound, Scope
from tests.fixtures.ranges import MOVE, NO_RANGE, STEP, metres, targets

ANYONE = Scope(MOVE)
YOUTH = Scope(MOVE, "youth")
LEFT = Scope(MOVE, hand="left")
SEVEN = Scope(MOVE, athlete="seven")

STRONGER = [
    ANYONE, YOUTH, LEFT, Scope(MOVE, "youth", "left"), SEVEN, Scope(MOVE, "youth", athlete="seven"),
    Scope(MOVE, ANY, "left", "seven"), Scope(MOVE, "youth", "left", "seven"),
]  # fmt: skip
"""From the weakest to the strongest, as documented."""

OTHERS = [Scope(MOVE, "adult"), Scope(MOVE, hand="right"), Scope(MOVE, athlete="eight"),
          Scope("high_to_low_shot")]  # fmt: skip


def held(ranges, level="youth", hand="left", athlete="Seven", **lengths):
    return ranges.for_athlete(MOVE, level, 1.8, hand=hand, athlete=athlete, **lengths).get(STEP)


@pytest.mark.parametrize("n_places", range(1, len(STRONGER) + 1))
def test_each_place_is_stronger_than_those_before_it(n_places):
    coach = {place: (metres(float(i)), metres(9.0)) for i, place in enumerate(STRONGER[:n_places])}
    assert held(targets({}, coach)).low == n_places - 1


def test_a_coach_s_range_for_anyone_beats_every_shipped_one():
    shipped = {place: (metres(1.0), metres(2.0)) for place in STRONGER}
    range_ = held(targets(shipped, {ANYONE: (metres(3.0), metres(4.0))}))
    assert (range_.low, range_.high) == (3.0, 4.0)


def test_ranges_for_others_do_not_hold():
    ranges = targets({ANYONE: (metres(1.0), None)}, {p: (metres(5.0), None) for p in OTHERS})
    assert held(ranges).low == 1.0


def test_what_is_not_known_of_a_rep_brings_no_range_of_its_own():
    ranges = targets({ANYONE: (metres(1.0), None)}, {LEFT: (metres(2.0), None)})
    assert held(ranges, hand=None).low == 1.0
    assert held(ranges, hand="right").low == 1.0
    assert held(targets({}, {SEVEN: (metres(2.0), None)}), athlete=None) is None


def test_one_bound_can_be_set_and_the_other_is_inherited():
    range_ = held(targets({ANYONE: (metres(0.4), metres(1.0))}, {LEFT: (None, metres(0.8))}))
    assert (range_.low, range_.high) == (0.4, 0.8)
    assert range_.set_by == "coach of any level, left hand and shipped of any level"
    assert range_.why == (
        "lower bound: ground of any level; upper bound: ground of any level, left hand"
    )


def test_an_open_bound_inherits_nothing():
    range_ = held(targets({ANYONE: (metres(0.4), metres(1.0))}, {LEFT: (None, metres(None))}))
    assert (range_.low, range_.high) == (0.4, None)
    assert range_.set_by == "shipped of any level"


def test_a_range_that_is_switched_off_can_be_set_anew_by_a_stronger_place():
    shipped = {ANYONE: (metres(0.4), metres(1.0))}
    assert held(targets(shipped, {ANYONE: NO_RANGE})) is None
    range_ = held(targets(shipped, {ANYONE: NO_RANGE, SEVEN: (metres(0.6), None)}))
    assert (range_.low, range_.high) == (0.6, None)


places = st.sampled_from(STRONGER + OTHERS)
bounds = st.one_of(st.none(), st.floats(0.1, 0.5).map(metres), st.just(metres(None)))
high_bounds = st.one_of(st.none(), st.floats(0.6, 0.9).map(metres), st.just(metres(None)))
files = st.dictionaries(places, st.tuples(bounds, high_bounds), max_size=8)


@pytest.mark.slow
@given(shipped=files, coach=files)
def test_each_bound_is_that_of_the_strongest_place_that_says_something_of_it(shipped, coach):
    said = [file[place] for file in (shipped, coach) for place in STRONGER if place in file]
    expected = [None, None]
    for entry in said:
        for side in (0, 1):
            bound = metres(None) if entry == NO_RANGE else entry[side]
            if bound is not None:
                expected[side] = bound.value
    range_ = held(targets(shipped, coach))
    found = (None, None) if range_ is None else (range_.low, range_.high)
    assert found == tuple(expected)


@pytest.mark.slow
@given(shipped=files, coach=files, athlete=st.sampled_from(["seven", " SEVEN", "Seven "]))
def test_the_spelling_of_a_name_does_not_matter(shipped, coach, athlete):
    ranges = targets(shipped, coach)
    assert held(ranges, athlete=athlete) == held(ranges)


def test_fractions_follow_the_lengths_of_the_body():
    coach = {ANYONE: (Bound(value=0.25, scale="of_stature"), Bound(value=1.0, scale="of_arm"))}
    ranges = targets({}, coach)
    by_table = held(ranges)
    assert by_table.low == pytest.approx(0.45)
    assert by_table.high == pytest.approx(0.452 * 1.8)
    assert by_table.u_high == pytest.approx(0.0174 * 1.8, rel=0.01)
    measured = held(ranges, arm=Arm(length_m=0.70, u_m=0.02))
    assert (measured.high, measured.u_high, measured.u_low) == (0.70, 0.02, 0.0)
    assert measured.words == "0.25 of stature to 1 of arm length"


def test_a_range_in_arms_of_a_defender_needs_his_arm():
    place = Scope("close_gap_dodge")
    coach = {place: (Bound(value=1.0, scale="of_arm"), Bound(value=1.5, scale="of_arm"))}
    ranges = targets({}, coach, key="cushion_m")
    own = Arm(length_m=0.9, u_m=0.01)

    def cushion(defender_arm):
        return ranges.for_athlete(
            "close_gap_dodge", "any", 1.8, arm=own, defender_arm=defender_arm
        ).get("cushion_m")

    assert cushion(None) is None
    range_ = cushion(Arm(length_m=0.7, u_m=0.02))
    assert (range_.low, range_.high, range_.u_high) == pytest.approx((0.7, 1.05, 0.03))
    assert range_.words == "1 to 1.5 of the defender's arm"


def test_without_a_stature_fractions_hold_for_nobody():
    coach = {ANYONE: (Bound(value=0.25, scale="of_stature"), metres(1.0))}
    ranges = targets({}, coach).for_athlete(MOVE, "any", math.nan)
    assert ranges == {}


def test_bounds_of_two_places_that_contradict_each_other_are_told_and_judge_nothing():
    coach = {ANYONE: (metres(0.9), None), YOUTH: (None, Bound(value=0.55, scale="of_stature"))}
    ranges = targets({}, coach)
    assert held(ranges).low == 0.9
    assert ranges.for_athlete(MOVE, "youth", 1.5) == {}
    ranges.check([ANYONE, YOUTH], 1.8)
    ranges.check([ANYONE, YOUTH], 1.5, 1.8)
    with pytest.raises(
        SettingsError, match=r"coach\.toml.*0\.9 m \(coach, any level\).*level youth"
    ):
        ranges.check([ANYONE, YOUTH], 1.5)

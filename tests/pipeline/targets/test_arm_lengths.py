"""Whose arm a range in arm lengths means, and how long it is."""

import pytest

from pipeline.core.results import Measurement
from pipeline.measures import MEASURES
from pipeline.targets.arm_lengths import (
    defenders_arm,
    given_arm,
    published_arm,
    takes_defenders_arm,
)

KEY = "defender_arm_length_m"


def test_the_room_to_a_defender_is_in_his_arms_and_all_else_in_the_athlete_s():
    of_him = {key for key, info in MEASURES.items() if info.unit == "m" if takes_defenders_arm(key)}
    assert of_him >= {"cushion_m", "cushion_gap_m"}
    assert not {"hand_drop_m", "step_back_m", "hand_height_before_release_m"} & of_him


def test_a_published_arm_grows_with_the_stature_and_is_unsure():
    child, adult = published_arm(1.2), published_arm(1.8)
    assert adult.length_m / child.length_m == pytest.approx(1.5)
    assert 0.01 < adult.u_m < 0.05


def test_an_arm_by_tape_is_surer_than_one_by_the_table():
    arm = given_arm(0.80)
    assert arm.length_m == 0.80
    assert arm.u_m < published_arm(1.8).u_m
    assert given_arm(None) is None


def test_the_defender_s_arm_is_that_of_the_rep():
    measured = Measurement(key=KEY, unit="m", value=0.74, u=0.03)
    arm = defenders_arm({KEY: measured})
    assert (arm.length_m, arm.u_m) == (0.74, 0.03)
    assert defenders_arm({KEY: Measurement(key=KEY, unit="m", value=0.74)}).u_m == 0.0
    assert defenders_arm({KEY: Measurement(key=KEY, unit="m", reason="nobody there")}) is None
    assert defenders_arm({}) is None

"""What the film check says of frame rates."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.film_check.picture_rules import judge_rate
from tests.fixtures.looks import clock_of


@pytest.mark.parametrize(
    ("rate_hz", "verdict"),
    [(15.0, "will not do"), (30.0, "could be better"), (60.0, "fine"), (120.0, "fine")],
)
def test_the_rate_decides(rate_hz, verdict):
    finding = judge_rate(clock_of(rate_hz), "throwback_pass")
    assert finding.verdict == verdict
    assert f"{rate_hz:.0f} frames a second" in finding.sentence
    assert f"{1000 / rate_hz:.0f} ms" in finding.sentence
    assert ("60 frames a second or more" in finding.what_to_do) == (verdict != "fine")


def test_times_and_speeds_are_at_stake_and_angles_are_not():
    finding = judge_rate(clock_of(30.0), "throwback_pass")
    assert {"plant_to_release_s", "top_hand_speed_mps"} <= set(finding.unsure)
    assert "turn_away_deg" not in finding.unsure
    assert finding.missing == ()
    assert "plant_to_release_s" in judge_rate(clock_of(15.0), "throwback_pass").missing


def test_a_rate_that_varies_is_told():
    clock = clock_of(60.0)
    kept = np.random.default_rng(0).random(clock.time_s.size) > 0.3
    finding = judge_rate(replace(clock, time_s=clock.time_s[kept]), None)
    assert finding.verdict == "could be better"
    assert "varies" in finding.sentence


def test_the_true_rate_of_slow_motion_counts():
    assert judge_rate(clock_of(30.0), None, true_fps=240.0).verdict == "fine"


def test_a_single_picture_has_no_rate():
    clock = replace(clock_of(60.0), time_s=np.zeros(1))
    assert judge_rate(clock, None).verdict == "not told"

"""The body proportions against the printed tables they come from, and against a second source."""

import numpy as np
import pytest

from calibration.anthropometry import (
    ARM_LENGTH_OF_STATURE,
    SURVEY_MEN,
    SURVEY_WOMEN,
    TEXTBOOK,
    arm_length_m,
    eye_height_m,
)

# Gordon et al. 2014, NATICK/TR-15/007: mean lengths in mm of 4082 men and 1986 women.
STATURE_MM = {"men": 1756.2, "women": 1628.5}
SURVEY_MM = [
    ("span", 1814.2, 1660.3),
    ("shoulder_height", 1440.7, 1335.1),
    ("upper_arm", 335.2, 311.2),
    ("forearm", 267.9, 241.3),
    ("hand", 193.3, 181.1),
    ("forearm_and_hand", 480.2, 439.9),
    ("shoulder_breadth", 415.7, 365.3),
    ("hip_breadth", 345.7, 353.8),
    ("sitting_height", 918.3, 856.6),
    ("eye_height_sitting", 804.5, 747.7),
]


@pytest.mark.parametrize(("name", "men_mm", "women_mm"), SURVEY_MM)
def test_survey_ratios_agree_with_the_printed_means(name, men_mm, women_mm):
    # A mean of ratios is not the ratio of means; over a survey they differ in the fourth decimal.
    assert SURVEY_MEN[name].mean == pytest.approx(men_mm / STATURE_MM["men"], abs=6e-4)
    assert SURVEY_WOMEN[name].mean == pytest.approx(women_mm / STATURE_MM["women"], abs=6e-4)


def test_textbook_arm_is_44_hundredths_of_stature():
    # Drillis & Contini 1966 in Winter, figure 4.1: 0.186 + 0.146 + 0.108.
    arm = sum(TEXTBOOK[part].mean for part in ("upper_arm", "forearm", "hand"))
    assert arm == pytest.approx(0.440)
    assert arm * 1756.2 == pytest.approx(772.7, abs=0.1)


@pytest.mark.parametrize(
    ("stature_m", "arm_m"), [(1.7562, 0.7964), (1.6285, 0.7336), (1.7562, 0.7727)]
)
def test_arm_length_covers_men_women_and_the_textbook_within_its_uncertainty(stature_m, arm_m):
    arm = arm_length_m(stature_m)
    assert abs(arm.value_m - arm_m) < arm.u_m


@pytest.mark.parametrize(
    ("stature_m", "eye_m", "source"),
    [
        (1.7562, 1.6424, "survey, men"),
        (1.6285, 1.5196, "survey, women"),
        (1.759, 1.644, "Huston 2009, median man"),
        (1.618, 1.520, "Huston 2009, median woman"),
    ],
)
def test_eye_height_agrees_with_two_sources(stature_m, eye_m, source):
    eye = eye_height_m(stature_m)
    assert abs(eye.value_m - eye_m) < 1.96 * eye.u_m, source


def test_spread_of_the_arm_agrees_with_the_spread_of_the_span():
    # Span is two arms and a shoulder breadth: the arm's spread cannot be under the half of what is
    # left of the span's when the breadth's is taken away.
    least = np.sqrt(SURVEY_MEN["span"].sd ** 2 - SURVEY_MEN["shoulder_breadth"].sd ** 2) / 2
    assert ARM_LENGTH_OF_STATURE.sd > least


def test_many_statures_at_once():
    statures = np.array([1.4, 1.6, 1.9])
    arm = arm_length_m(statures)
    assert arm.value_m.shape == arm.u_m.shape == (3,)
    assert np.allclose(arm.value_m / statures, ARM_LENGTH_OF_STATURE.mean)

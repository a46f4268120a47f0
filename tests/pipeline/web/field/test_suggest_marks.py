"""Proposed marks: cones and goals are found where they are drawn, and little else."""

import cv2
import numpy as np
import pytest

from pipeline.web.field.suggest_marks import GOAL_KINDS, propose_marks
from tests.fixtures.field_picture import (
    ORANGE,
    RED,
    SHOE,
    SKIN,
    WHITE,
    YELLOW,
    draw_cone,
    draw_goal,
    draw_polygon,
    field_picture,
)

FEET = [(300.0, 640.0), (980.5, 610.0), (420.0, 420.0), (820.0, 415.5)]
GOAL = [(500.0, 380.0), (640.0, 377.0), (496.0, 240.0), (637.0, 239.0)]


def of_kind(rgb, kind):
    return np.array([p.image_px for p in propose_marks(rgb) if p.kind.startswith(kind)])


def off_px(found, there):
    """Distance of each true point from the nearest proposal."""
    there = np.array(there, dtype=float)
    if not len(found):
        return np.full(len(there), np.inf)
    return np.linalg.norm(there[:, None] - found[None], axis=-1).min(axis=1)


@pytest.mark.slow
@pytest.mark.parametrize("colour", [ORANGE, YELLOW, RED, (230, 40, 140)])
@pytest.mark.parametrize(("lean", "wide"), [(0.0, 0.48), (0.1, 0.48), (-0.1, 0.3)])
def test_feet_of_cones_are_found_whatever_their_colour_and_the_tilt(colour, lean, wide):
    rgb = field_picture()
    for foot, height in zip(FEET, (70, 60, 22, 16), strict=True):
        draw_cone(rgb, foot, height, colour, lean=lean, wide=wide)
    found = of_kind(rgb, "cone")
    assert len(found) == 4
    assert off_px(found, FEET).max() < 2.5


def test_a_flat_disc_is_found_too():
    rgb = field_picture()
    cv2.ellipse(rgb, (640, 560), (30, 9), 0, 0, 360, ORANGE, -1, cv2.LINE_AA)
    draw_polygon(rgb, [(612, 558), (668, 558), (648, 540), (632, 540)], ORANGE)
    assert off_px(of_kind(rgb, "cone"), [(640, 560)]).max() < 4


@pytest.mark.slow
@pytest.mark.parametrize("colour", [ORANGE, RED, YELLOW, WHITE])
@pytest.mark.parametrize("thickness", [3.5, 6.0])
def test_posts_and_crossbar_are_found(colour, thickness):
    rgb = field_picture()
    draw_goal(rgb, GOAL[:2], GOAL[2:], thickness, colour)
    found = [p for p in propose_marks(rgb) if p.kind.startswith("goal")]
    assert tuple(p.kind for p in found) == GOAL_KINDS
    assert np.linalg.norm(np.array([p.image_px for p in found]) - GOAL, axis=1).max() < 2.5


def test_a_goal_seen_aslant_is_found():
    rgb = field_picture()
    goal = [(700.0, 420.0), (800.0, 385.0), (698.0, 230.0), (799.0, 245.0)]
    draw_goal(rgb, goal[:2], goal[2:], 6.0)
    assert off_px(of_kind(rgb, "goal"), goal).max() < 3


def test_posts_without_a_crossbar_are_no_goal():
    rgb = field_picture()
    for x in (500, 640):
        draw_polygon(rgb, [(x - 3, 240), (x + 3, 240), (x + 3, 380), (x - 3, 380)], ORANGE)
    assert len(of_kind(rgb, "goal")) == 0


def test_a_knee_and_a_jersey_are_no_cones():
    rgb = field_picture()
    # A bare leg between shorts and sock, an orange jersey with arms.
    draw_polygon(rgb, [(600, 420), (640, 420), (644, 470), (596, 470)], (40, 50, 120))
    draw_polygon(rgb, [(610, 470), (632, 470), (636, 500), (606, 500)], SKIN)
    draw_polygon(rgb, [(607, 500), (635, 500), (635, 520), (607, 520)], SHOE)
    draw_polygon(rgb, [(594, 340), (648, 340), (644, 420), (598, 420)], ORANGE)
    draw_polygon(rgb, [(612, 315), (630, 315), (632, 340), (610, 340)], SKIN)
    assert len(of_kind(rgb, "cone")) == 0


def test_an_empty_field_proposes_nothing():
    assert propose_marks(field_picture()) == ()
    assert propose_marks(np.zeros((48, 64, 3), np.uint8)) == ()


@pytest.mark.slow
def test_points_of_a_larger_picture_are_its_own():
    rgb = field_picture(3840, 2160)
    feet = [(900.0, 1900.0), (2900.0, 1800.0)]
    for foot in feet:
        draw_cone(rgb, foot, 200)
    assert off_px(of_kind(rgb, "cone"), feet).max() < 8


def test_noise_does_not_break_it():
    rng = np.random.default_rng(3)
    propose_marks(rng.integers(0, 256, (240, 320, 3), dtype=np.uint8))

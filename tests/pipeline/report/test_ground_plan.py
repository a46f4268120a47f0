"""The ground from above: true to scale, the phone below, and a reason where there is none."""

import math
from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.results import FootContact, GroundPath, Measurement, Walk
from pipeline.feedback.words import load_words
from pipeline.report.ground_plan import SCALE_ROOM, plan_of, why_no_plan

WORDS = load_words()


def walk(*places, contacts=()):
    return Walk(
        time_s=np.linspace(0.0, 1.0, len(places)), hips_m=np.array(places, float), contacts=contacts
    )


def on_ground(analysis, ground, **measurements):
    (result, *_) = analysis.reps
    return replace(result, ground=ground, measurements={**result.measurements, **measurements})


FOOT = FootContact(foot="left", start_s=0.0, stop_s=0.5, heel_m=(0.0, 8.0), toe_m=(0.2, 8.0))


def test_metres_are_equal_in_both_directions_and_the_bar_is_true(analysis):
    ground = GroundPath(athlete=walk((0, 8), (3, 8), (3, 10), contacts=(FOOT,)))
    plan = plan_of(WORDS, on_ground(analysis, ground), analysis.scene)
    points = [tuple(map(float, pair.split(","))) for pair in plan.athlete.way.split()]
    (x0, y0), (x1, y1), (x2, y2) = points
    per_m = (x1 - x0) / 3.0
    assert (y1, x2) == (y0, x1)
    assert (y1 - y2) / 2.0 == pytest.approx(per_m, abs=0.1)  # further away is further up
    metres = float(plan.scale_text.split()[0])
    assert plan.scale == pytest.approx(metres * per_m, abs=0.2)
    (foot,) = plan.athlete.feet
    assert (foot.side, foot.turn_deg) == ("left", 0.0)
    assert foot.x == pytest.approx(x0 + 0.1 * per_m, abs=0.1)


def test_everything_lies_inside_the_drawing(analysis):
    other = walk((4, 12), (4.5, 12.5), contacts=(replace(FOOT, heel_m=(4, 12), toe_m=(4, 12.3)),))
    ground = GroundPath(athlete=walk((0, 8), (3, 8), (1, 15)), defender=other)
    plan = plan_of(WORDS, on_ground(analysis, ground), analysis.scene)
    for person in (plan.athlete, plan.defender):
        for pair in person.way.split():
            x, y = map(float, pair.split(","))
            assert 0 <= x <= plan.width
            assert 0 <= y <= plan.height - SCALE_ROOM
    assert plan.defender.feet[0].turn_deg == -90.0


def test_a_measure_on_the_ground_is_drawn_as_long_as_it_is(analysis):
    step = Measurement(
        key="step_back_m", unit="m", value=1.0, u=0.02, interval95=(0.96, 1.04),
        ends_m=np.array([[1.0, 8.0, 0.0], [0.0, 8.0, 0.0]]),
    )  # fmt: skip
    ground = GroundPath(athlete=walk((0, 8), (3, 8)))
    plan = plan_of(WORDS, on_ground(analysis, ground, step_back_m=step), analysis.scene)
    (line,) = plan.lines
    metres = float(plan.scale_text.split()[0])
    assert math.dist(line.start, line.stop) == pytest.approx(plan.scale / metres, abs=0.3)
    assert abs(line.turn_deg) == 180
    assert line.text == "Length of the step back, 1.00 m, give or take 0.04 m"


def test_a_marked_goal_is_drawn_only_where_it_is_near(analysis):
    ground = GroundPath(athlete=walk((0, 8), (3, 8)))
    for y_m, seen in ((10.0, True), (25.0, False)):
        goal_m = np.tile(np.array([[0.0, y_m], [1.8, y_m]]), (3, 1, 1))
        scene = replace(analysis.scene, goal_m=goal_m)
        plan = plan_of(WORDS, on_ground(analysis, ground), scene)
        assert (plan.goal is not None) is seen


def test_no_ground_and_no_sight_of_the_hips_are_told_apart(analysis):
    assert plan_of(WORDS, on_ground(analysis, None), analysis.scene) is None
    unseen = GroundPath(athlete=walk((np.nan, np.nan), (np.nan, np.nan)))
    assert plan_of(WORDS, on_ground(analysis, unseen), analysis.scene) is None
    assert "not seen well enough" in why_no_plan(WORDS, analysis.scene)
    scene = replace(analysis.scene, grade="C", no_ground="the camera was carried along")
    assert why_no_plan(WORDS, scene) == "No view from above: the camera was carried along."

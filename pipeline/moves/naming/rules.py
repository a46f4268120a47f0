"""What the definition of a move rules out: a name that the body plainly contradicts is changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from models.moves.classifier import NOT_A_REP, OTHER
from pipeline.core.types import BoolArray, FloatArray
from pipeline.moves.naming.evidence import Shown

LOW_HAND = 0.12
"""A low fake dips the top hand to the hips; statures above them up to which that is granted."""
HIGH_HAND, LEAST_DROP = 0.28, 0.08
"""A high fake lifts the top hand at least this far above the hips, and the release is lower by
this much; statures. Eye height is about 0.41 above the hips (Winter 2009, table 4.1)."""
WOUND_UP_HAND = 0.24
"""The top hand of a wind-up is no lower than this above the hips, statures: near the shoulder."""
LEAST_TRUNK_TURN_RAD = 0.42
"""A throw with a stick turns the chest at least so far; where only the arms move it is none."""
AHEAD_RAD, ASIDE_RAD = np.deg2rad(30.0), np.deg2rad(45.0)
"""Run at a defender: he is within the first angle of the way of the run; run across him: he is
further round than the second."""
NEAR_DEFENDER = 1.8
"""Statures within which a defender stands in the way."""
NOT_CHANGED = -0.02
"""The hand that was on top still is if it is not lower than the other by more; statures."""
WHOLE_SPIN_RAD, HALF_SPIN_RAD = np.deg2rad(215.0), np.deg2rad(150.0)
"""A roll turns the hips by more than the first; less than the second is no roll."""
HANDS_APART = 0.40
"""Both hands hold the shaft no further apart than this, statures."""
LEAST_RUN = 0.7
"""A dodge comes out of a run; statures a second."""
SLOWED, NOT_SLOWED = 0.38, 0.55
"""A hitch slows to less than the first share of the run-in; above the second it was none."""
WENT_ON = 0.75
"""After a hitch the run goes on with at least this share of its speed before it."""
NO_CUT_RAD, CUT_RAD = np.deg2rad(45.0), np.deg2rad(60.0)
"""A cut leaves the way of the run for good, by more than the first angle; a burst past a defender
does not, by less than the second."""
HANDS_UP = -0.05
"""Who runs with the stick does not have the top hand lower than this, statures above the hips; who
scoops a ball does."""


MOVED = 0.97
"""So much of what was said for a name that is ruled out goes elsewhere. The rest is left, so that a
coach who calls such reps by that name all the same can teach the program to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Where `holds`, what was said for `move` is said for `then` instead."""

    move: str
    then: str
    holds: Callable[[Shown], BoolArray]


def _at_him(shown: Shown) -> BoolArray:
    ahead = shown.defender_rad < AHEAD_RAD
    return np.asarray(ahead & (shown.defender_away < NEAR_DEFENDER))


def _alone(shown: Shown) -> BoolArray:
    return np.asarray(~(shown.defender_away < NEAR_DEFENDER))


def _across_him(shown: Shown) -> BoolArray:
    aside = shown.defender_rad > ASIDE_RAD
    return np.asarray(aside & (shown.defender_away < NEAR_DEFENDER))


def _no_turn(shown: Shown) -> BoolArray:
    return np.asarray(shown.trunk_turn_rad < LEAST_TRUNK_TURN_RAD)


def _no_high_fake(shown: Shown) -> BoolArray:
    drop = shown.highest_hand - shown.hand_at_release
    return np.asarray((shown.highest_hand < HIGH_HAND) | (drop < LEAST_DROP))


def _spun(shown: Shown) -> BoolArray:
    spun = (shown.spin_rad > WHOLE_SPIN_RAD) & (shown.hands_apart < HANDS_APART)
    return np.asarray(spun & (shown.run_in > LEAST_RUN))


def _no_roll(shown: Shown) -> BoolArray:
    no_spin = (shown.spin_rad < HALF_SPIN_RAD) | (shown.hands_apart > HANDS_APART)
    return np.asarray(no_spin | (shown.run_in < LEAST_RUN))


def _hitched(shown: Shown) -> BoolArray:
    return np.asarray((shown.slowest_share < SLOWED) & (shown.run_in > LEAST_RUN))


def _went_on(shown: Shown) -> BoolArray:
    straight = (shown.lasting_turn_rad < NO_CUT_RAD) & (shown.after_share > WENT_ON)
    carried = (shown.hands_apart < HANDS_APART) & (shown.hand_at_dodge > HANDS_UP)
    return np.asarray(_hitched(shown) & straight & carried & (shown.spin_rad < HALF_SPIN_RAD))


def _no_cut(shown: Shown) -> BoolArray:
    straight = shown.lasting_turn_rad < NO_CUT_RAD
    return np.asarray(straight & (shown.slowest_share > SLOWED) & (shown.run_in > LEAST_RUN))


def _cut(shown: Shown) -> BoolArray:
    return np.asarray((shown.lasting_turn_rad > CUT_RAD) & (shown.run_in > LEAST_RUN))


RULES: tuple[Rule, ...] = (
    Rule(move="low_to_high_shot", then=OTHER, holds=lambda s: s.lowest_hand > LOW_HAND),
    Rule(move="high_to_low_shot", then=OTHER, holds=_no_high_fake),
    Rule(move="step_down_shot", then=OTHER, holds=lambda s: s.highest_hand < WOUND_UP_HAND),
    *(
        Rule(move=move, then=OTHER, holds=_no_turn)
        for move in ("low_to_high_shot", "high_to_low_shot", "step_down_shot", "on_the_run_shot")
    ),
    Rule(move="roll_dodge", then=OTHER, holds=_no_roll),
    *(
        Rule(move=move, then=NOT_A_REP, holds=lambda s: s.run_in < LEAST_RUN)
        for move in ("split_dodge", "angle_cut_dodge", "hesitation_dodge")
    ),
    Rule(move=OTHER, then="roll_dodge", holds=_spun),
    # A cut without a change of hands is no split; past a defender who was run at it closed the gap.
    Rule(
        move="split_dodge",
        then="angle_cut_dodge",
        holds=lambda s: s.hand_order_after > NOT_CHANGED,
    ),
    Rule(move="angle_cut_dodge", then="close_gap_dodge", holds=_at_him),
    Rule(move="close_gap_dodge", then="angle_cut_dodge", holds=_across_him),
    # Where no defender is seen the way tells: a cut leaves it, a burst past somebody does not.
    Rule(move="angle_cut_dodge", then="close_gap_dodge", holds=lambda s: _alone(s) & _no_cut(s)),
    Rule(move="close_gap_dodge", then="angle_cut_dodge", holds=lambda s: _alone(s) & _cut(s)),
    # At the defender and nearly stopped is the hitch; at him and on without one is not.
    Rule(move="close_gap_dodge", then="hesitation_dodge", holds=_hitched),
    Rule(
        move="hesitation_dodge",
        then="close_gap_dodge",
        holds=lambda s: _at_him(s) & (s.slowest_share > NOT_SLOWED),
    ),
    Rule(move=OTHER, then="hesitation_dodge", holds=_went_on),
)
"""In this order; each from the definition of its move. Where nothing was seen no rule holds."""


def ruled(probabilities: FloatArray, classes: Sequence[str], shown: Shown) -> FloatArray:
    """Move what a definition rules out to what the moment then is.

    Parameters
    ----------
    probabilities
        (m, n_classes), rows sum to 1.
    classes
        Names of the columns.
    shown
        What is seen about the m moments.

    Returns
    -------
    numpy.ndarray
        (m, n_classes), rows sum to 1.
    """
    found = np.array(probabilities, dtype=float)
    for rule in RULES:
        if rule.move not in classes or rule.then not in classes:
            continue
        source, target = classes.index(rule.move), classes.index(rule.then)
        holds = rule.holds(shown)
        moved = MOVED * found[holds, source]
        found[holds, target] += moved
        found[holds, source] -= moved
    return found

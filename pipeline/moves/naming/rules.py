"""The definitions of the moves: evidence read off the body, and names that it contradicts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from models.moves.classifier import NOT_A_REP, OTHER
from pipeline.core.types import BoolArray, FloatArray
from pipeline.moves.naming.features import rows_about, seen_right_handed
from pipeline.moves.naming.grid import STEP_S, MoveGrid

BEFORE_RELEASE_S = np.arange(-1.3, -0.04, STEP_S)
ABOUT_RELEASE_S = np.arange(-0.9, 0.31, STEP_S)
RUN_IN_S = np.arange(-0.7, -0.19, STEP_S)
AT_DODGE_S = np.arange(-0.3, 0.01, STEP_S)
FASTEST_RUN_S, SLOWEST_S = np.arange(-1.2, -0.29, STEP_S), np.arange(-0.4, 0.51, STEP_S)
AFTER_DODGE_S = np.arange(0.4, 0.96, STEP_S)
GOING_ON_S, LASTING_S = np.arange(0.3, 0.61, STEP_S), np.arange(0.5, 1.01, STEP_S)
ABOUT_SPIN_S = np.arange(-1.0, 1.01, STEP_S)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What is seen about each of m moments, as if the top hand were the right one; NaN = not seen.

    Attributes
    ----------
    lowest_hand, highest_hand, hand_at_release
        (m,) height of the top hand above mid-hip, statures.
    trunk_turn_rad, spin_rad
        (m,) how far the chest turns about a throw; the longest way in one sense about a dodge.
    defender_rad, defender_away
        (m,) angle between the run-in and the way to the defender; his distance, statures.
    hand_order_after
        (m,) height of the hand that was on top over the other one, after a dodge, statures.
    hands_apart
        (m,) median distance of the hands, statures.
    run_in, slowest_share, after_share
        (m,) greatest speed of the run before a dodge, statures a second; the least speed about it
        and the speed after it, as shares of that.
    lasting_turn_rad
        (m,) angle between the ways of the run before a dodge and after it.
    hand_at_dodge
        (m,) least height of the top hand above mid-hip about a dodge, statures.
    """

    lowest_hand: FloatArray
    highest_hand: FloatArray
    hand_at_release: FloatArray
    trunk_turn_rad: FloatArray
    spin_rad: FloatArray
    defender_rad: FloatArray
    defender_away: FloatArray
    hand_order_after: FloatArray
    hands_apart: FloatArray
    run_in: FloatArray
    slowest_share: FloatArray
    after_share: FloatArray
    lasting_turn_rad: FloatArray
    hand_at_dodge: FloatArray


def shown_at(grid: MoveGrid, rows: np.ndarray, right: BoolArray) -> Evidence:
    """Read what the rules ask for about some moments.

    Parameters
    ----------
    grid
        The motion.
    rows
        (m,) rows of the grid.
    right
        (m,) whether the right hand is on top; the others are mirrored.

    Returns
    -------
    Shown
    """
    rows = np.asarray(rows, dtype=int)
    found = {name: np.full(rows.size, np.nan) for name in Evidence.__dataclass_fields__}
    for side, one in seen_right_handed(grid, right):
        for name, values in _shown(one, rows[side]).items():
            found[name][side] = values
    return Evidence(**found)


def _shown(grid: MoveGrid, rows: np.ndarray) -> dict[str, FloatArray]:
    top, bottom = grid.body[:, 5], grid.body[:, 2]
    before = _steadied(top[rows_about(grid, rows, BEFORE_RELEASE_S)])
    now = _steadied(top[rows_about(grid, rows, np.array([-STEP_S, 0.0, STEP_S]))])
    turn = grid.turn_rad[rows_about(grid, rows, ABOUT_RELEASE_S)]
    spin = grid.turn_rad[rows_about(grid, rows, ABOUT_SPIN_S)]
    run = _mean(grid.velocity[rows_about(grid, rows, RUN_IN_S)])
    him = rows_about(grid, rows, AT_DODGE_S)
    him_m = _mean(grid.defender[him] - grid.path[him])
    cross = run[:, 0] * him_m[:, 1] - run[:, 1] * him_m[:, 0]
    pace = np.linalg.norm(grid.velocity, axis=1)
    fastest = _fold(np.fmax, _steadied(pace[rows_about(grid, rows, FASTEST_RUN_S)]))
    slowest = _fold(np.fmin, _steadied(pace[rows_about(grid, rows, SLOWEST_S)]))
    after = rows_about(grid, rows, AFTER_DODGE_S)
    later = _mean(grid.velocity[rows_about(grid, rows, LASTING_S)])
    going_on = _steadied(pace[rows_about(grid, rows, GOING_ON_S)])
    bend = run[:, 0] * later[:, 1] - run[:, 1] * later[:, 0]
    spread = rows_about(grid, rows, ABOUT_RELEASE_S)
    apart = np.linalg.norm(grid.body[spread][..., 0:3] - grid.body[spread][..., 3:6], axis=-1)
    return {
        "lowest_hand": _fold(np.fmin, before),
        "highest_hand": _fold(np.fmax, before),
        "hand_at_release": now[:, 1],
        "trunk_turn_rad": _fold(np.fmax, turn) - _fold(np.fmin, turn),
        "spin_rad": _fold(np.fmax, spin) - _fold(np.fmin, spin),
        "defender_rad": np.abs(np.arctan2(cross, np.sum(run * him_m, axis=1))),
        "defender_away": np.linalg.norm(him_m, axis=1),
        "hand_order_after": _mean(top[after] - bottom[after]),
        "run_in": fastest,
        "slowest_share": slowest / np.maximum(fastest, 1e-3),
        "after_share": _fold(np.fmax, going_on) / np.maximum(fastest, 1e-3),
        "lasting_turn_rad": np.abs(np.arctan2(bend, np.sum(run * later, axis=1))),
        "hand_at_dodge": _fold(np.fmin, _steadied(top[rows_about(grid, rows, SLOWEST_S)])),
        "hands_apart": np.asarray(np.nanmedian(np.nan_to_num(apart, nan=0.2), axis=1)),
    }


def _steadied(values: FloatArray) -> FloatArray:
    """Mean of each value and its two neighbours (m, n); NaN beside what was not seen."""
    inner = (values[:, :-2] + values[:, 1:-1] + values[:, 2:]) / 3.0
    return np.concatenate([values[:, :1] + np.nan, inner, values[:, -1:] + np.nan], axis=1)


def _fold(how: np.ufunc, values: FloatArray) -> FloatArray:
    """Least or greatest of what was seen in each row."""
    return np.asarray(how.reduce(values, axis=1))


def _mean(values: FloatArray) -> FloatArray:
    """Mean over the second axis of what was seen; NaN where nothing was."""
    known = np.isfinite(values)
    count = known.sum(axis=1)
    total = np.where(known, values, 0.0).sum(axis=1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


LOW_HAND = 0.12
"""A low fake dips the top hand to the hips; statures above them up to which that is granted."""
HIGH_HAND, LEAST_DROP = 0.28, 0.08
"""A high fake lifts the top hand at least this far above the hips, and the release is lower by
this much; statures. Eye height is about 0.41 above the hips (Winter 2009, table 4.1)."""
WOUND_UP_HAND = 0.24
"""The top hand of a wind-up is no lower than this above the hips, statures: near the shoulder."""
LEAST_TRUNK_TURN_RAD = 0.42
"""A throw with a stick turns the chest at least so far; where only the arms move it is no throw."""
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
"""Share of the probability of a ruled-out name that goes elsewhere. The rest is left, so that a
coach who calls such reps by that name all the same can teach the program to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Where `holds`, move the probability of `move` to `then`."""

    move: str
    then: str
    holds: Callable[[Evidence], BoolArray]


def _at_him(shown: Evidence) -> BoolArray:
    ahead = shown.defender_rad < AHEAD_RAD
    return np.asarray(ahead & (shown.defender_away < NEAR_DEFENDER))


def _alone(shown: Evidence) -> BoolArray:
    return np.asarray(~(shown.defender_away < NEAR_DEFENDER))


def _across_him(shown: Evidence) -> BoolArray:
    aside = shown.defender_rad > ASIDE_RAD
    return np.asarray(aside & (shown.defender_away < NEAR_DEFENDER))


def _no_turn(shown: Evidence) -> BoolArray:
    return np.asarray(shown.trunk_turn_rad < LEAST_TRUNK_TURN_RAD)


def _no_high_fake(shown: Evidence) -> BoolArray:
    drop = shown.highest_hand - shown.hand_at_release
    return np.asarray((shown.highest_hand < HIGH_HAND) | (drop < LEAST_DROP))


def _spun(shown: Evidence) -> BoolArray:
    spun = (shown.spin_rad > WHOLE_SPIN_RAD) & (shown.hands_apart < HANDS_APART)
    return np.asarray(spun & (shown.run_in > LEAST_RUN))


def _no_roll(shown: Evidence) -> BoolArray:
    no_spin = (shown.spin_rad < HALF_SPIN_RAD) | (shown.hands_apart > HANDS_APART)
    return np.asarray(no_spin | (shown.run_in < LEAST_RUN))


def _hitched(shown: Evidence) -> BoolArray:
    return np.asarray((shown.slowest_share < SLOWED) & (shown.run_in > LEAST_RUN))


def _went_on(shown: Evidence) -> BoolArray:
    straight = (shown.lasting_turn_rad < NO_CUT_RAD) & (shown.after_share > WENT_ON)
    carried = (shown.hands_apart < HANDS_APART) & (shown.hand_at_dodge > HANDS_UP)
    return np.asarray(_hitched(shown) & straight & carried & (shown.spin_rad < HALF_SPIN_RAD))


def _no_cut(shown: Evidence) -> BoolArray:
    straight = shown.lasting_turn_rad < NO_CUT_RAD
    return np.asarray(straight & (shown.slowest_share > SLOWED) & (shown.run_in > LEAST_RUN))


def _cut(shown: Evidence) -> BoolArray:
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
    # Where no defender is seen the path decides: a cut leaves it, a burst past somebody does not.
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


def ruled(probabilities: FloatArray, classes: Sequence[str], shown: Evidence) -> FloatArray:
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

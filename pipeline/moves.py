"""The table of finders: how the reps of each move are found and made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.bursts import Burst
from pipeline.dodge_finding import (
    find_angle_cut_reps,
    find_hesitation_reps,
    find_roll_reps,
    find_split_reps,
)
from pipeline.dodge_reps import angle_cut_rep, hesitation_rep, roll_rep, split_rep
from pipeline.dodges import close_gap_rep, find_dodge_reps
from pipeline.pass_events import (
    find_pivot_throwback_reps,
    find_throwback_reps,
    pivot_throwback_rep,
    throwback_rep,
)
from pipeline.shot_events import (
    find_high_to_low_reps,
    find_low_to_high_reps,
    find_on_the_run_reps,
    find_step_down_reps,
    high_to_low_rep,
    low_to_high_rep,
    on_the_run_rep,
    step_down_rep,
)
from pipeline.signals import Signals
from pipeline.types import Hand, Rep

FindReps = Callable[[Signals, Signals | None, Hand | None], list[Rep]]
RepOf = Callable[[Signals, Signals | None, Burst], Rep]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """How the reps of one move are found.

    Attributes
    ----------
    key
        Key of its `MoveInfo`.
    find_reps
        For a clip of which the move was told. Takes the athlete's signals, the defender's (or None)
        and the top hand where it was told; gives the reps in order.
    rep_of
        Makes a rep of a burst that is known to be this move.
    """

    key: str
    find_reps: FindReps
    rep_of: RepOf


MOVES: dict[str, Move] = {
    move.key: move
    for move in (
        Move(
            key="high_to_low_shot",
            find_reps=find_high_to_low_reps,
            rep_of=high_to_low_rep,
        ),
        Move(
            key="throwback_pass",
            find_reps=find_throwback_reps,
            rep_of=throwback_rep,
        ),
        Move(
            key="close_gap_dodge",
            find_reps=find_dodge_reps,
            rep_of=close_gap_rep,
        ),
        Move(
            key="split_dodge",
            find_reps=find_split_reps,
            rep_of=split_rep,
        ),
        Move(
            key="angle_cut_dodge",
            find_reps=find_angle_cut_reps,
            rep_of=angle_cut_rep,
        ),
        Move(
            key="roll_dodge",
            find_reps=find_roll_reps,
            rep_of=roll_rep,
        ),
        Move(
            key="hesitation_dodge",
            find_reps=find_hesitation_reps,
            rep_of=hesitation_rep,
        ),
        Move(
            key="low_to_high_shot",
            find_reps=find_low_to_high_reps,
            rep_of=low_to_high_rep,
        ),
        Move(
            key="on_the_run_shot",
            find_reps=find_on_the_run_reps,
            rep_of=on_the_run_rep,
        ),
        Move(
            key="step_down_shot",
            find_reps=find_step_down_reps,
            rep_of=step_down_rep,
        ),
        Move(
            key="pivot_throwback_pass",
            find_reps=find_pivot_throwback_reps,
            rep_of=pivot_throwback_rep,
        ),
    )
}
"""Adding a move is one entry here and its facts in the table of moves."""

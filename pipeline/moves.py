"""The move table: what each move is called, how its reps are found, and its key event."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

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
    """One row of the move table.

    Attributes
    ----------
    key
        Name used in files and on the command line.
    kind
        What its burst is: the speed of a hand (throw), or a change of way or pace (dodge).
    find_reps
        For a clip of which the move was told. Takes the athlete's signals, the defender's (or None)
        and the top hand where it was told; gives the reps in order.
    rep_of
        Makes a rep of a burst that is known to be this move.
    key_event
        Event that the rep's picture shows.
    throws
        Whether the ball leaves the stick (counts as a throw for the load).
    """

    key: str
    kind: Literal["throw", "dodge"]
    find_reps: FindReps
    rep_of: RepOf
    key_event: str
    throws: bool


MOVES: dict[str, Move] = {
    move.key: move
    for move in (
        Move(
            key="high_to_low_shot",
            kind="throw",
            find_reps=find_high_to_low_reps,
            rep_of=high_to_low_rep,
            key_event="hands_high",
            throws=True,
        ),
        Move(
            key="throwback_pass",
            kind="throw",
            find_reps=find_throwback_reps,
            rep_of=throwback_rep,
            key_event="last_contact",
            throws=True,
        ),
        Move(
            key="close_gap_dodge",
            kind="dodge",
            find_reps=find_dodge_reps,
            rep_of=close_gap_rep,
            key_event="dodge_start",
            throws=False,
        ),
        Move(
            key="split_dodge",
            kind="dodge",
            find_reps=find_split_reps,
            rep_of=split_rep,
            key_event="dodge_start",
            throws=False,
        ),
        Move(
            key="angle_cut_dodge",
            kind="dodge",
            find_reps=find_angle_cut_reps,
            rep_of=angle_cut_rep,
            key_event="dodge_start",
            throws=False,
        ),
        Move(
            key="roll_dodge",
            kind="dodge",
            find_reps=find_roll_reps,
            rep_of=roll_rep,
            key_event="dodge_start",
            throws=False,
        ),
        Move(
            key="hesitation_dodge",
            kind="dodge",
            find_reps=find_hesitation_reps,
            rep_of=hesitation_rep,
            key_event="slowest",
            throws=False,
        ),
        Move(
            key="low_to_high_shot",
            kind="throw",
            find_reps=find_low_to_high_reps,
            rep_of=low_to_high_rep,
            key_event="hands_low",
            throws=True,
        ),
        Move(
            key="on_the_run_shot",
            kind="throw",
            find_reps=find_on_the_run_reps,
            rep_of=on_the_run_rep,
            key_event="release",
            throws=True,
        ),
        Move(
            key="step_down_shot",
            kind="throw",
            find_reps=find_step_down_reps,
            rep_of=step_down_rep,
            key_event="release",
            throws=True,
        ),
        Move(
            key="pivot_throwback_pass",
            kind="throw",
            find_reps=find_pivot_throwback_reps,
            rep_of=pivot_throwback_rep,
            key_event="last_contact",
            throws=True,
        ),
    )
}
"""Adding a move is one entry here and its name in the table of measures."""

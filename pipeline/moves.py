"""The move table: what each move is called, how its reps are found, and its key event."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.dodges import find_dodge_reps
from pipeline.signals import Signals
from pipeline.throw_reps import find_shot_reps, find_throwback_reps
from pipeline.types import Hand, Rep

FindReps = Callable[[Signals, Signals | None, Hand | None], list[Rep]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One row of the move table.

    Attributes
    ----------
    key
        Name used in files and on the command line.
    find_reps
        Takes the athlete's signals, the defender's (or None) and the top hand where it was told;
        gives the reps in order.
    key_event
        Event that the rep's picture shows.
    throws
        Whether the ball leaves the stick (counts as a throw for the load).
    """

    key: str
    find_reps: FindReps
    key_event: str
    throws: bool


MOVES: dict[str, Move] = {
    move.key: move
    for move in (
        Move(key="high_to_low_shot", find_reps=find_shot_reps, key_event="hands_high", throws=True),
        Move(
            key="throwback_pass",
            find_reps=find_throwback_reps,
            key_event="last_contact",
            throws=True,
        ),
        Move(
            key="close_gap_dodge", find_reps=find_dodge_reps, key_event="dodge_start", throws=False
        ),
    )
}
"""Adding a move is one entry here and its name in the table of measures."""

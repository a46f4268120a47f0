"""What finds the reps of a move: each is registered by the key of its row in the table of moves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.core.move_table import MOVE_INFO
from pipeline.core.types import Hand, Rep
from pipeline.moves.events import Burst
from pipeline.moves.signals import Signals

FindReps = Callable[[Signals, Signals | None, Hand | None], list[Rep]]
RepOf = Callable[[Signals, Signals | None, Burst], Rep]


@dataclass(frozen=True, slots=True, kw_only=True)
class RepFinder:
    """What finds the reps of one move.

    Attributes
    ----------
    find_reps
        For a clip of which the user set the move. Takes the athlete's signals, the defender's (or
        None) and the top hand where the user set it; gives the reps in order.
    rep_of
        Makes a rep of a burst that is known to be this move.
    """

    find_reps: FindReps
    rep_of: RepOf


FINDERS: dict[str, RepFinder] = {}
"""By the key of the move; complete once `pipeline.moves.finders` is imported."""


def register_finder(move: str, *, find_reps: FindReps, rep_of: RepOf) -> None:
    """Register what finds the reps of a move.

    Parameters
    ----------
    move
        Key of a row in the table of moves.
    find_reps, rep_of
        As in `RepFinder`.

    Raises
    ------
    ValueError
        The move is not in the table, or has its finder already.
    """
    if move not in MOVE_INFO or move in FINDERS:
        raise ValueError(f"{move}: no such move in the table, or its finder is registered already")
    FINDERS[move] = RepFinder(find_reps=find_reps, rep_of=rep_of)

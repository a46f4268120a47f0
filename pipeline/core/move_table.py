"""The table of moves: plain facts of each that any part of the program may know.

Adding a move is one row here, its finder in the modules that find reps, and its name in the
catalogues of texts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MoveKind = Literal["shot", "pass", "dodge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveInfo:
    """What is fixed about one move.

    Attributes
    ----------
    key
        Name used in files and on the command line.
    kind
        A shot and a pass are throws; a dodge is a change of way or pace.
    key_event
        Event that the rep's picture shows.
    from_a_stand
        Whether the line of the move is that of the throw, and not that of a run.
    at_a_defender
        Whether it is run at a defender, who has to be in view.
    cuts
        Whether it is a change of way by a cut.
    """

    key: str
    kind: MoveKind
    key_event: str
    from_a_stand: bool = False
    at_a_defender: bool = False
    cuts: bool = False

    @property
    def throws(self) -> bool:
        """Whether the ball leaves the stick: the rep counts as a throw for the load."""
        return self.kind != "dodge"


_ROWS = (
    MoveInfo(key="high_to_low_shot", kind="shot", key_event="hands_high", from_a_stand=True),
    MoveInfo(key="low_to_high_shot", kind="shot", key_event="hands_low", from_a_stand=True),
    MoveInfo(key="throwback_pass", kind="pass", key_event="last_contact"),
    MoveInfo(key="pivot_throwback_pass", kind="pass", key_event="last_contact"),
    MoveInfo(key="close_gap_dodge", kind="dodge", key_event="dodge_start", at_a_defender=True),
    MoveInfo(key="split_dodge", kind="dodge", key_event="dodge_start", cuts=True),
    MoveInfo(key="angle_cut_dodge", kind="dodge", key_event="dodge_start", cuts=True),
    MoveInfo(key="roll_dodge", kind="dodge", key_event="dodge_start"),
    MoveInfo(key="hesitation_dodge", kind="dodge", key_event="slowest"),
    MoveInfo(key="on_the_run_shot", kind="shot", key_event="release"),
    MoveInfo(key="step_down_shot", kind="shot", key_event="release", from_a_stand=True),
)

MOVE_INFO: dict[str, MoveInfo] = {row.key: row for row in _ROWS}
"""Every built-in move by its key, in the order in which they are shown."""


def kind_of(move: str) -> MoveKind | None:
    """Give the kind of a built-in move; None for a taught drill and for an unknown move."""
    info = MOVE_INFO.get(move)
    return None if info is None else info.kind


def known_moves() -> tuple[str, ...]:
    """Keys of all built-in moves, in the order of the table."""
    return tuple(MOVE_INFO)


def moves_of(*kinds: MoveKind) -> tuple[str, ...]:
    """Keys of all built-in moves of some kinds, kind by kind.

    Examples
    --------
    >>> moves_of("pass")
    ('throwback_pass', 'pivot_throwback_pass')
    """
    return tuple(move.key for kind in kinds for move in _ROWS if move.kind == kind)


SHOTS, PASSES, DODGES = moves_of("shot"), moves_of("pass"), moves_of("dodge")
THROWS = (*SHOTS, *PASSES)
ALL_MOVES = (*THROWS, *DODGES)
"""Keys of the moves of each kind."""

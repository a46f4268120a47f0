"""From an entry to what everybody in the clip does: choreography and motions, nothing drawn yet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .body import Body, make_body
from .entry import ClipEntry
from .kinematics import Motion, move_body
from .moves import (
    angle_cut_dodge,
    close_gap_dodge,
    foreign,
    hesitation_dodge,
    high_to_low_shot,
    roll_dodge,
    split_dodge,
    throwback_pass,
)
from .moves.common import Choreography, Order
from .moves.season import choreograph_season
from .moves.throws import THROWS

CHOREOGRAPHERS: dict[str, Callable[[Order], Choreography]] = {
    "high_to_low_shot": high_to_low_shot.choreograph,
    "throwback_pass": throwback_pass.choreograph,
    "close_gap_dodge": close_gap_dodge.choreograph,
    "split_dodge": split_dodge.choreograph,
    "angle_cut_dodge": angle_cut_dodge.choreograph,
    "roll_dodge": roll_dodge.choreograph,
    "hesitation_dodge": hesitation_dodge.choreograph,
    "unknown": foreign.choreograph,
    **THROWS,
}
"""What writes the plans of a clip, by move."""
_OF_A_SEASON = dict(CHOREOGRAPHERS)
CHOREOGRAPHERS["season"] = lambda order: choreograph_season(order, _OF_A_SEASON)


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """Choreography of one clip, and the motions of the players in it by role."""

    entry: ClipEntry
    choreography: Choreography
    motions: dict[str, Motion]


def perform(
    entry: ClipEntry, body_of: Callable[[float, dict[str, float]], Body] = make_body
) -> Performance:
    """Work out who moves how.

    Parameters
    ----------
    entry : ClipEntry
    body_of : callable
        Makes a body of a stature (m) and a shape.
    """
    choreography = CHOREOGRAPHERS[entry.move](entry.order)
    people = {"athlete": (entry.athlete, choreography.athlete)}
    if entry.defender is not None and choreography.defender is not None:
        people["defender"] = (entry.defender, choreography.defender)
    motions = {
        role: move_body(body_of(p.stature_m, p.shape), plan, choreography.duration_s)
        for role, (p, plan) in people.items()
    }
    return Performance(entry=entry, choreography=choreography, motions=motions)

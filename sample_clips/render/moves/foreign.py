"""Moves that the program is never taught: they show whether it says that it is not sure."""

from __future__ import annotations

from collections.abc import Callable

from .common import Choreography, Order
from .foreign_body import Burpees, JumpingJacks, SlideAndPoke
from .foreign_stick import (
    BatSwing,
    BehindTheBack,
    FaceOff,
    GroundBall,
    OneHandSpin,
    ThrowIn,
)

KINDS: dict[str, Callable[[Order], Choreography]] = {
    drill.kind: lambda order, drill=drill: drill(order).row()  # type: ignore[misc]
    for drill in (
        GroundBall,
        BehindTheBack,
        FaceOff,
        SlideAndPoke,
        JumpingJacks,
        Burpees,
        ThrowIn,
        OneHandSpin,
        BatSwing,
    )
}


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of one kind of foreign move, named by the order.

    Raises
    ------
    ValueError
        If the order names none of `KINDS`.
    """
    if order.kind not in KINDS:
        message = f"Invalid kind. Allowed are {', '.join(KINDS)}, but got {order.kind!r}."
        raise ValueError(message)
    return KINDS[order.kind](order)

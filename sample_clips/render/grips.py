"""Where both hands are on the shaft while they change places."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .tracks import HandChange

Floats = NDArray[np.float64]

OTHER = {"left": "right", "right": "left"}


def hand_shares(changes: list[HandChange], time_s: Floats) -> tuple[Floats, Floats]:
    """Return where on the shaft both hands are, 1 the upper grip and 0 the lower one.

    The first is the hand that is the upper one before any change. In a change the lower hand comes
    up first; the other then passes it on its way down.
    """

    def step(s: Floats) -> Floats:
        s = np.clip(s, 0, 1)
        result: Floats = s**3 * (10 - 15 * s + 6 * s**2)
        return result

    first, second = np.ones(len(time_s)), np.zeros(len(time_s))
    for number, change in enumerate(changes):
        s = (time_s - change.start_s) / (change.stop_s - change.start_s)
        up = step(s / 0.62)
        down = step((s - 0.38) / 0.62)
        rising, falling = (second, first) if number % 2 == 0 else (first, second)
        rising += up
        falling -= down
    return first, second

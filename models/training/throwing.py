"""Writes a throw: the wind-up, the burst, the follow-through and the return of the hands."""

from __future__ import annotations

import numpy as np

from models.training.writing import Writer
from pipeline.core.types import FloatArray


def throw(
    write: Writer,
    *,
    aim: float = 0.0,
    low: float = 0.0,
    wind_s: float | None = None,
    chest_wind: float | None = None,
    weak: bool = False,
) -> float:
    """Write wind-up, burst, follow-through and return of the hands, and the turn of the chest.

    Parameters
    ----------
    write
        Gets the keys; the release is at 0 s.
    aim
        Where the throw goes against the script's direction, rad.
    low
        How far the release is dropped, statures; below 0 = lifted.
    wind_s
        When the wind-up is reached; drawn if None.
    chest_wind
        Turn of the chest away from the aim in the wind-up, rad; drawn if None.
    weak
        Whether the left hand is on top.

    Returns
    -------
    float
        When the hands begin to move to the wind-up, in s (below 0).
    """
    style, mirror = write.style, -1.0 if weak else 1.0
    slot = float(np.clip(style.slot + write.chance.normal(0, 0.15), -0.1, 1.2))
    snap_s = style.snap_s * write.between(0.85, 1.2)
    back = np.array(
        [
            write.between(-0.20, 0.10),
            mirror * (-write.between(0.08, 0.20) - 0.16 * (1 - slot)),
            0.16 + 0.32 * slot + write.between(-0.08, 0.10) - 0.5 * low,
        ]
    )
    front = np.array(
        [
            write.between(0.20, 0.36),
            mirror * (write.between(-0.08, 0.16) + 0.08 * (1 - slot)),
            write.between(-0.05, 0.22) + 0.12 * slot - low,
        ]
    )
    wind_s = -(snap_s / 2 + write.time(0.0, 0.12)) if wind_s is None else wind_s
    wind_s = min(wind_s, -snap_s / 2 - 0.02)
    grip = write.between(0.12, 0.30)
    behind = _bottom(write, back, grip, mirror, wound=True)
    followed = _bottom(write, front, grip, mirror, wound=False)
    write.hold(wind_s, write.jitter(back, 0.01), behind, weak=weak)
    skew = write.between(0.9, 1.4)
    for part in (0.0, 0.25, 0.5, 0.75, 1.0):
        share = part**skew
        eased = share**3 * (10 - 15 * share + 6 * share**2)
        write.hold(
            snap_s * (part - 0.5) + 0.005,
            back + eased * (front - back),
            behind + eased * (followed - behind),
            weak=weak,
        )
    through_s = snap_s / 2 + write.time(0.05, 0.2)
    over = front + [write.between(-0.15, 0.02), mirror * write.between(0.0, 0.18), -0.05]
    write.hold(through_s, over, followed + 0.5 * (over - front), weak=weak)
    write.carry(through_s + write.time(0.25, 0.9), weak=weak)
    wound = mirror * -(write.between(0.25, 1.5) if chest_wind is None else chest_wind)
    turn_s = wind_s - write.time(-0.05, 0.15)
    write.chest.append((min(turn_s, -0.1), aim + wound))
    write.chest.append((write.between(-0.02, 0.06), aim + mirror * write.between(-0.2, 0.45)))
    write.chest.append((through_s, aim + mirror * write.between(0.0, 0.9)))
    lead = write.between(0.0, 0.5)
    write.twist += [(turn_s - 0.4, 0.0), (turn_s + 0.1, mirror * lead), (0.05, 0.0)]
    write.lean += [
        (wind_s - 0.3, 0.0, 0.0),
        (wind_s, write.between(-0.2, 0.1), mirror * write.between(-0.25, 0.15)),
        (0.06, write.between(0.0, 0.5), mirror * write.between(-0.05, 0.35)),
        (through_s + 0.6, 0.05, 0.0),
    ]
    return wind_s


def _bottom(
    write: Writer, top: FloatArray, grip: float, mirror: float, *, wound: bool
) -> FloatArray:
    """Bottom hand: below and in front of the top hand when wound up, pulled in afterwards."""
    way = np.array(
        [write.between(0.1, 0.9), mirror * write.between(0.2, 0.9), write.between(-0.9, 0.1)]
        if wound
        else [write.between(-1.0, -0.2), mirror * write.between(-0.2, 0.7),
              write.between(-0.8, 0.3)]
    )  # fmt: skip
    return np.asarray(top + grip * way / np.linalg.norm(way))

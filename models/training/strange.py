"""Scripts of reps outside the taught moves, which teach the classifier to answer `unknown`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from models.moves.classifier import OTHER
from models.training.altered import (
    across_the_face,
    corrupted,
    curled,
    jump_shot,
    mixed,
    over_the_top,
    rocker,
)
from models.training.script import Script
from models.training.style import Style
from models.training.writing import Writer
from pipeline.core.types import FloatArray


def _ends(write: Writer, start_s: float, stop_s: float) -> Script:
    return write.write(
        OTHER, start_s - write.time(0.2, 0.7), stop_s + write.time(0.3, 0.8), start_s, stop_s
    )


def odd_throw(style: Style, chance: np.random.Generator) -> Script:
    """Write a throw from anywhere to anywhere: behind the back, shovelled, with one hand."""
    write = Writer(style, chance)
    snap_s = style.snap_s * write.between(0.8, 2.0)

    def anywhere() -> FloatArray:
        way = chance.normal(0.0, 1.0, 3)
        return np.array([0.05, 0.0, 0.2]) + write.between(0.2, 0.42) * way / np.linalg.norm(way)

    back, front = anywhere(), anywhere()
    while np.linalg.norm(front - back) < 0.38 or (front[0] > back[0] + 0.25 and back[2] > 0.15):
        back, front = anywhere(), anywhere()
    grip = write.between(0.0, 0.5)
    ways = [w / np.linalg.norm(w) for w in chance.normal(0.0, 1.0, (2, 3))]
    weak = write.often(0.5)
    wind_s = -snap_s / 2 - write.time(0.0, 0.3)
    busy_s = wind_s - write.time(0.15, 0.6)
    write.carry(busy_s, weak=weak)
    if write.often(0.4):
        write.hold(0.5 * (busy_s + wind_s), anywhere(), anywhere(), weak=weak)
    write.hold(wind_s, back, back + grip * ways[0], weak=weak)
    for part in (0.0, 0.25, 0.5, 0.75, 1.0):
        eased = part**3 * (10 - 15 * part + 6 * part**2)
        moved = ways[0] + eased * (ways[1] - ways[0])
        place = back + eased * (front - back)
        write.hold(snap_s * (part - 0.5) + 0.005, place, place + grip * moved, weak=weak)
    write.carry(snap_s + write.time(0.2, 0.9), weak=weak)
    start_s = _odd_way(write, min(busy_s, -0.4), 0.4)
    turned = write.between(-2.0, 2.0)
    write.chest += [(busy_s, write.between(-1.0, 1.0)), (wind_s, turned),
                    (0.1, turned + write.between(-1.5, 1.5)), (1.0, 0.0)]  # fmt: skip
    return _ends(write, min(start_s, busy_s), snap_s / 2 + 0.15)


def _odd_way(write: Writer, from_s: float, to_s: float) -> float:
    """Any way of the hips: standing, running, backing, bending; give its start time."""
    if write.often(0.4):
        write.go += [(from_s, 0.0, 0.0), (0.0, *write.chance.normal(0.0, 0.4, 2)), (0.8, 0.0, 0.0)]
        return from_s
    start_s = from_s - write.between(0.3, 1.6)
    heading, pace = write.between(-3.1, 3.1), write.between(0.5, 3.0) * write.style.pace
    bend = write.between(-1.2, 1.2)
    write.go += [(start_s, 0.0, 0.0),
                 (0.6 * start_s, pace * np.cos(heading), pace * np.sin(heading)),
                 (to_s, pace * np.cos(heading + bend), pace * np.sin(heading + bend)),
                 (to_s + 0.9, 0.0, 0.0)]  # fmt: skip
    return start_s


def odd_dodge(style: Style, chance: np.random.Generator) -> Script:
    """Write a run with changes of way and pace, spins, hops, and hands that go anywhere."""
    write = Writer(style, chance)
    pace = write.between(1.0, 3.4) * style.pace
    run_s = write.between(0.5, 1.6)
    start_s = -run_s - write.between(0.1, 0.4)
    write.go += [(start_s, 0.0, 0.0), (start_s + 0.5, pace, 0.0), (-0.25, pace, 0.0)]
    heading, at_s = 0.0, 0.0
    kind = int(chance.integers(4))  # at least one thing is strange
    n_changes = int(chance.integers(3 if kind == 0 else 1, 5))
    side = write.sign()
    for _ in range(n_changes):
        side = -side
        heading += side * write.between(1.0, 2.6) if kind == 0 else write.between(-1.5, 1.5)
        now = pace * write.between(0.0, 1.3)
        write.go.append((at_s, now * np.cos(heading), now * np.sin(heading)))
        at_s += write.between(0.18, 0.5)
    stop_s = at_s + write.between(0.2, 0.7)
    write.go += [(stop_s - 0.1, pace * np.cos(heading), pace * np.sin(heading)),
                 (stop_s + 0.7, 0.0, 0.0)]  # fmt: skip
    loose = write.between(0.0, 1.0)
    spin = write.sign() * write.between(1.0, 6.3) * (kind == 1)
    write.chest += [(start_s, 0.0), (-0.2, write.between(-0.6, 0.6)),
                    (0.5 * at_s, loose * heading + spin + write.between(-1.0, 1.0)),
                    (stop_s, heading + spin)]  # fmt: skip
    _odd_hands(write, start_s, stop_s, 0.24 if kind == 2 else 0.08)
    deep = 2.0 if kind == 3 else 0.6
    write.hip += [(-0.3, style.hip), (0.0, style.hip - deep * write.between(-0.06, 0.10)),
                  (0.4, style.hip + deep * write.between(-0.08, 0.06)),
                  (stop_s, style.hip)]  # fmt: skip
    write.lean += [(-0.3, 0.0, 0.0), (0.0, *(deep * chance.normal(0.0, 0.25, 2))),
                   (0.4, *(deep * chance.normal(0.0, 0.25, 2))), (stop_s, 0.0, 0.0)]  # fmt: skip
    return _ends(write, start_s, stop_s)


def _odd_hands(write: Writer, start_s: float, stop_s: float, far: float) -> None:
    """Let the hands go somewhere about the change, or stay, or change hands."""
    style, weak = write.style, write.often(0.3)
    write.carry(start_s, weak=weak)
    for at_s in np.arange(-0.3, 0.8, write.between(0.2, 0.6)):
        if write.often(0.5):
            moved = write.chance.normal(0.0, far, 3)
            write.hold(float(at_s), style.carry_top + moved,
                       style.carry_bottom + 0.8 * moved + write.chance.normal(0.0, 0.07, 3),
                       weak=weak)  # fmt: skip
    write.carry(stop_s, weak=weak != write.often(0.3))


def rhythm(style: Style, chance: np.random.Generator) -> Script:
    """Write a body that goes to and fro a few times: hands, hips, trunk, as far as they like."""
    write = Writer(style, chance)
    period_s, n_times = write.between(0.5, 1.6), int(chance.integers(1, 4))
    part_s = 0.5 * period_s
    places = [chance.normal(0.0, 0.25, (2, 3)) + [[0.12, 0.1, 0.2], [0.12, -0.1, 0.2]]
              for _ in range(2)]  # fmt: skip
    together = write.often(0.5)
    deep, bent, far = write.between(0.0, 0.3), write.between(0.0, 1.2), write.between(0.0, 1.0)
    hop, turned = write.between(0.0, 0.1), write.chance.normal(0.0, 0.6)
    start_s, stop_s = -part_s, (2 * n_times - 1) * part_s
    write.carry(start_s)
    for number in range(2 * n_times):
        at_s, odd = number * part_s, number % 2
        left, right = places[odd] + chance.normal(0.0, 0.03, (2, 3))
        if together:
            left = right + [0.0, 0.08, -0.03]
        write.hands.append((at_s, *left, *right))
        write.hip.append((at_s, style.hip + (hop if odd else -deep)))
        write.lean.append((at_s, 0.0 if odd else bent, 0.0))
        write.chest.append((at_s, turned if odd else 0.0))
        write.go.append((at_s + 0.5 * part_s, far if odd else -far, 0.0))
    write.go += [(start_s, 0.0, 0.0), (stop_s + 0.3, 0.0, 0.0)]
    write.hip += [(start_s, style.hip), (stop_s, style.hip)]
    write.lean += [(start_s, 0.0, 0.0), (stop_s, 0.0, 0.0)]
    write.carry(stop_s)
    return _ends(write, start_s, stop_s)


def bulled(style: Style, chance: np.random.Generator) -> Script:
    """Write a run straight into the defender with the shoulder, no change of way."""
    write = Writer(style, chance)
    pace = write.between(1.0, 3.0) * style.pace
    start_s, stop_s = -write.between(0.7, 2.0), write.between(0.5, 1.3)
    slow = write.between(0.4, 0.9)
    write.go += [(start_s, 0.0, 0.0), (start_s + 0.5, pace, 0.0), (-0.15, pace, 0.0),
                 (0.1, slow * pace, write.between(-0.2, 0.2) * pace),
                 (0.45, slow * pace * write.between(0.9, 1.3), 0.0),
                 (stop_s, 0.7 * pace, 0.0), (stop_s + 0.7, 0.0, 0.0)]  # fmt: skip
    turned = write.sign() * write.between(0.6, 1.7)
    write.chest += [(start_s, 0.0), (-0.25, 0.2 * turned), (0.0, turned), (0.4, turned),
                    (stop_s, 0.0)]  # fmt: skip
    write.lean += [(-0.3, 0.0, 0.0), (0.0, write.between(0.2, 0.7), write.between(-0.5, 0.5)),
                   (stop_s, 0.0, 0.0)]  # fmt: skip
    write.hip += [(-0.3, style.hip), (0.0, style.hip - write.between(0.02, 0.09)),
                  (stop_s, style.hip)]  # fmt: skip
    write.carry(start_s)
    away = [-write.between(0.0, 0.2), -write.between(0.0, 0.15), write.between(-0.1, 0.2)]
    write.hold(0.0, style.carry_top + away, style.carry_bottom + away)
    write.carry(stop_s)
    return _ends(write, start_s, stop_s)


STRANGE: tuple[tuple[Callable[[Style, np.random.Generator], Script], float], ...] = (
    (odd_throw, 4.0), (odd_dodge, 3.0), (rhythm, 2.0), (over_the_top, 1.0), (across_the_face, 1.0),
    (rocker, 1.0), (bulled, 1.0), (curled, 1.0), (jump_shot, 1.0), (mixed, 1.5), (corrupted, 5.0),
)  # fmt: skip
"""Reps of moves that are not taught, and how often."""

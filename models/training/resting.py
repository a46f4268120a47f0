"""Scripts of what is no rep: jogging, walking, scooping, cradling, talking, catching, fakes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from models.moves.classifier import NOT_A_REP
from models.training.script import Script
from models.training.style import Style
from models.training.writing import Writer
from pipeline.core.types import FloatArray


def _wander(write: Writer, duration_s: float, low: float, high: float) -> None:
    """Walk or jog about on a bending way that begins and ends at rest, the chest along it."""
    heading, at_s = 0.0, 0.0
    write.go.append((0.0, 0.0, 0.0))
    write.chest.append((0.0, 0.0))
    if write.often(0.6):  # turns round first
        heading = write.sign() * (3.1 - abs(write.chance.normal(0.0, 1.0)))
        at_s = write.between(0.25, 1.0)
        write.chest.append((at_s, heading))
    while at_s < duration_s - 1.2:
        at_s += write.between(0.5, 1.6)
        pace = write.between(low, high)
        if write.often(0.2):  # comes about in a loop, slower in the middle of it
            round_s, about = write.between(0.5, 1.5), write.sign() * write.between(0.9, 3.1)
            slow = write.between(0.3, 0.95) * pace
            middle = heading + 0.5 * about
            write.go.append((at_s, pace * np.cos(heading), pace * np.sin(heading)))
            write.go.append((at_s + 0.5 * round_s, slow * np.cos(middle), slow * np.sin(middle)))
            heading, at_s = heading + about, at_s + round_s
        heading += write.chance.normal(0.0, 0.45)
        write.go.append((at_s, pace * np.cos(heading), pace * np.sin(heading)))
        write.chest.append((at_s, heading + write.chance.normal(0.0, 0.15)))
    write.go.append((duration_s, 0.0, 0.0))
    if write.often(0.6):
        write.chest.append((duration_s + 0.3, heading + write.between(-3.1, 3.1)))


def _done(write: Writer, duration_s: float) -> Script:
    return write.write(NOT_A_REP, 0.0, duration_s + 0.4, float("nan"), float("nan"))


def jog(style: Style, chance: np.random.Generator) -> Script:
    """Jog back, the stick in one or in both hands."""
    write = Writer(style, chance)
    duration_s = write.between(2.0, 6.5)
    pace = write.between(0.9, 2.8) * style.pace
    _wander(write, duration_s, 0.8 * pace, 1.15 * pace)
    if write.often(0.4):
        _one_hand(write, duration_s)
    else:
        weak, at_s = write.often(0.2), 0.0
        loose = write.between(0.02, 0.08)
        while at_s < duration_s:
            write.carry(at_s, weak=weak, spread=loose)
            at_s += write.between(0.4, 3.0)
    return _done(write, duration_s)


def walk(style: Style, chance: np.random.Generator) -> Script:
    """Walk about, the stick carried low or high, in one hand or both."""
    write = Writer(style, chance)
    duration_s = write.between(2.0, 7.0)
    _wander(write, duration_s, 0.35, 1.0)
    if write.often(0.5):
        _one_hand(write, duration_s)
    else:
        low = np.array([0.0, 0.0, -write.between(0.0, 0.25)])
        write.hold(0.0, style.carry_top + low, style.carry_bottom + low)
    return _done(write, duration_s)


def _one_hand(write: Writer, duration_s: float) -> None:
    """Stick in one hand, the other arm swings or gestures."""
    held = np.array([write.between(-0.05, 0.15), -write.between(0.10, 0.25),
                     write.between(-0.18, 0.15)])  # fmt: skip
    at_s, weak = 0.0, write.often(0.3)
    mirror = np.array([1.0, -1.0 if weak else 1.0, 1.0])
    amount = write.between(0.02, 0.14)
    while at_s < duration_s + 0.4:
        free = np.array([0.05, 0.17, -0.12]) + write.chance.normal(0.0, amount, 3)
        write.hold(at_s, write.jitter(held, 0.03) * mirror, free * mirror, weak=weak)
        at_s += write.between(0.25, 0.7)


def stand(style: Style, chance: np.random.Generator) -> Script:
    """Stand still, or cradle in place."""
    write = Writer(style, chance)
    duration_s = write.between(0.8, 5.0)
    at_s, strong = 0.0, write.between(0.0, 0.11)
    high = np.array([write.between(-0.05, 0.05), 0.0, write.between(-0.1, 0.18)])
    period_s = write.between(0.25, 0.6)
    while at_s < duration_s:
        swing = write.sign() * strong * np.array([0.8, 0.8, write.between(-0.4, 0.4)])
        write.hold(
            at_s, style.carry_top + high + swing,
            style.carry_bottom + high + write.between(-0.5, 0.6) * swing,
        )  # fmt: skip
        at_s += period_s * write.between(0.8, 1.2)
    shift = write.between(0.0, 0.5)
    for at in np.arange(0.0, duration_s + 0.4, 0.7):
        write.go.append((float(at), *(shift * write.chance.normal(0.0, 0.5, 2))))
    write.chest += [(0.0, 0.0), (duration_s, write.chance.normal(0.0, 0.8))]
    return _done(write, duration_s)


def talk(style: Style, chance: np.random.Generator) -> Script:
    """Stand and talk to the camera, the hands going about."""
    write = Writer(style, chance)
    duration_s = write.between(2.0, 6.0)
    both = write.often(0.4)
    at_s, wide = 0.0, write.between(0.03, 0.2)
    rest_top, rest_bottom = write.jitter(style.carry_top, 0.1), write.jitter([0.1, 0.15, 0.1], 0.1)
    while at_s < duration_s + 0.4:
        top = rest_top + write.chance.normal(0.0, wide * (1.0 if both else 0.3), 3)
        bottom = rest_bottom + write.chance.normal(0.0, wide, 3)
        write.hold(at_s, top, bottom)
        if write.often(0.4):
            at_s += write.between(0.1, 0.8)
            write.hold(at_s, write.jitter(top, 0.01), write.jitter(bottom, 0.01))
        at_s += write.between(0.2, 0.9)
    for at in np.arange(0.0, duration_s + 0.5, 0.9):
        write.chest.append((float(at), write.chance.normal(0.0, 0.3)))
        write.head.append((float(at), write.chance.normal(0.0, 0.2)))
        write.go.append((float(at), *write.chance.normal(0.0, 0.08, 2)))
    return _done(write, duration_s)


def scoop(style: Style, chance: np.random.Generator) -> Script:
    """Run to a ball on the ground, bend, scoop it up, and come up cradling."""
    write = Writer(style, chance)
    pace = write.between(0.0, 2.4) * style.pace
    down_s, up_s = write.time(0.2, 0.7), write.time(0.25, 0.8)
    low_s = write.time(0.1, 0.5)
    first_s = -write.between(1.0, 2.5)
    turned = write.between(-1.2, 1.2)
    write.go += [(first_s, 0.0, 0.0), (first_s + 0.5, pace, 0.0), (-down_s, pace, 0.0),
                 (0.0, write.between(0.2, 0.9) * pace, 0.0),
                 (low_s + up_s, pace * np.cos(turned), pace * np.sin(turned)),
                 (low_s + up_s + write.between(0.5, 1.6), 0.0, 0.0)]  # fmt: skip
    write.chest += [(-down_s, 0.0), (low_s + up_s, turned)]
    deep = write.between(0.06, 0.2)
    write.hip += [(-down_s, style.hip), (0.0, style.hip - deep), (low_s, style.hip - deep),
                  (low_s + up_s, style.hip)]  # fmt: skip
    bent = write.between(0.6, 1.3)
    write.lean += [(-down_s, 0.0, 0.0), (0.0, bent, 0.0), (low_s, bent, 0.0),
                   (low_s + up_s, 0.0, 0.0)]  # fmt: skip
    write.head += [(-down_s, -0.2), (0.0, -0.7), (low_s + up_s, 0.0)]
    write.carry(-down_s)
    bottom = np.array([write.between(0.25, 0.4), write.between(-0.12, 0.05),
                       write.between(-0.3, -0.1)])  # fmt: skip
    low = np.array([write.between(0.3, 0.45), write.between(-0.15, 0.05),
                    write.between(-0.35, -0.15)])  # fmt: skip
    write.hold(0.0, low, bottom)
    write.hold(low_s, low + [0.05, 0.0, 0.0], bottom + [0.05, 0.0, 0.05])
    write.carry(low_s + 0.8 * up_s, spread=0.06)
    write.carry(low_s + up_s + 0.4)
    last_s = low_s + up_s + 1.8
    return write.write(NOT_A_REP, first_s - 0.2, last_s, float("nan"), float("nan"))


def catch(style: Style, chance: np.random.Generator) -> Script:
    """Reach for a feed and give with it; or miss it and turn after the ball."""
    write = Writer(style, chance)
    reach_s, give_s = write.time(0.2, 0.7), write.time(0.12, 0.45)
    out = np.array([write.between(0.15, 0.4), write.between(-0.3, 0.2), write.between(0.1, 0.6)])
    give = np.array([-write.between(0.1, 0.35), -write.between(0.0, 0.15),
                     write.between(-0.2, 0.1)])  # fmt: skip
    bottom = out + write.between(0.15, 0.3) * np.array([-0.3, 0.6, -0.7])
    write.carry(-reach_s)
    write.hold(-0.3 * reach_s, out, bottom)
    write.hold(0.0, write.jitter(out, 0.02), write.jitter(bottom, 0.02))
    write.hold(give_s, out + give, bottom + 0.8 * give)
    write.carry(give_s + write.time(0.2, 0.7))
    missed = write.often(0.4)
    turned = write.sign() * write.between(1.5, 3.3) if missed else write.between(-0.4, 0.4)
    write.chest += [(-reach_s, write.between(-0.5, 0.5)), (0.1, 0.0), (0.9, turned)]
    pace = write.between(0.6, 2.0) * style.pace if missed else write.between(0.0, 0.5)
    step = write.between(-0.7, 0.7)
    write.go += [(-reach_s, 0.0, 0.0), (-0.1, 0.3 * step, step), (0.2, 0.0, 0.0),
                 (1.2, pace * np.cos(turned), pace * np.sin(turned)), (2.2, 0.0, 0.0)]  # fmt: skip
    return write.write(
        NOT_A_REP, -reach_s - 0.6, 2.2 if missed else 1.4, float("nan"), float("nan")
    )


def held_back(style: Style, chance: np.random.Generator) -> Script:
    """Wind up or lift the hands as if to throw, and let them down again: a look, no throw."""
    write = Writer(style, chance)
    up_s, hold_s, down_s = write.time(0.2, 0.7), write.time(0.0, 0.8), write.time(0.35, 1.1)
    back = np.array([write.between(-0.2, 0.15), -write.between(0.05, 0.3),
                     write.between(0.15, 0.6)])  # fmt: skip
    bottom = back + write.between(0.12, 0.3) * np.array([0.5, 0.7, -write.between(0.0, 0.8)])
    write.carry(-up_s)
    write.hold(0.0, back, bottom)
    write.hold(hold_s, write.jitter(back), write.jitter(bottom))
    write.carry(hold_s + down_s, spread=0.05)
    wound = write.between(-1.2, 0.3)
    write.chest += [(-up_s, 0.0), (0.0, wound), (hold_s, wound), (hold_s + down_s, 0.0)]
    pace = write.between(0.0, 1.2)
    write.go += [(-up_s - 0.3, 0.0, 0.0), (0.0, pace, 0.0), (hold_s, 0.5 * pace, 0.0),
                 (hold_s + down_s, 0.0, 0.0)]  # fmt: skip
    return write.write(NOT_A_REP, -up_s - 0.5, hold_s + down_s + 0.5, float("nan"), float("nan"))


def turn_round(style: Style, chance: np.random.Generator) -> Script:
    """Turn on the spot, or while walking, with the stick carried."""
    write = Writer(style, chance)
    took_s = write.time(0.5, 1.4)
    turned = write.sign() * write.between(1.0, 3.8)
    pace = write.between(0.0, 0.8)
    write.chest += [(-0.5 * took_s, 0.0), (0.5 * took_s, turned)]
    write.go += [(-0.8, 0.0, 0.0), (-0.5 * took_s, pace, 0.0),
                 (0.5 * took_s, pace * np.cos(turned), pace * np.sin(turned)),
                 (took_s + 0.6, 0.0, 0.0)]  # fmt: skip
    return write.write(NOT_A_REP, -1.2, took_s + 0.8, float("nan"), float("nan"))


def toss(style: Style, chance: np.random.Generator) -> Script:
    """Write a slow toss back to the feeder: no burst worth a rep."""
    write = Writer(style, chance)
    from models.training.throwing import throw

    calm: FloatArray = write.jitter([0.1, -0.1, 0.2], 0.05)
    slow = Writer(_slower(style, write.between(1.8, 3.2)), chance)
    throw(slow, chest_wind=write.between(0.0, 0.6))
    write.hands, write.chest = slow.hands, slow.chest
    write.hold(-1.6, calm, calm + [0.0, 0.12, -0.15])
    return write.write(NOT_A_REP, -1.8, 1.8, float("nan"), float("nan"))


def _slower(style: Style, factor: float) -> Style:
    from dataclasses import replace

    return replace(style, snap_s=max(style.snap_s, 0.3) * factor)


RESTING: tuple[tuple[Callable[[Style, np.random.Generator], Script], float], ...] = (
    (jog, 5.0), (walk, 2.0), (stand, 2.0), (talk, 1.5), (scoop, 2.0), (catch, 1.5),
    (held_back, 1.2), (turn_round, 1.0), (toss, 0.4),
)  # fmt: skip
"""What is no rep, and how often."""

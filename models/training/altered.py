"""Scripts of near misses: taught moves altered so that they no longer count as the move."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from models.moves.classifier import OTHER
from models.training import dodging, passes, shots
from models.training.script import (
    CHEST,
    GO,
    HANDS,
    HEAD,
    HIP,
    LEAN,
    LEFT,
    RATE_HZ,
    RIGHT,
    TWIST,
    Script,
    curve,
    grid_s,
)
from models.training.style import Style
from models.training.writing import Writer


def over_the_top(style: Style, chance: np.random.Generator) -> Script:
    """Write a run past with the stick lifted over the defender's head by one arm."""
    script = _dodge_base(style, chance)
    write = Writer(style, chance)
    weak_to = np.array(
        [write.between(0.0, 0.2), write.between(0.1, 0.3), write.between(0.45, 0.68)]
    )
    write.carry(-0.5)
    write.hold(-0.1, np.array([0.1, -0.1, 0.55]), np.array([0.15, 0.15, 0.25]))
    write.hold(0.2, weak_to, np.array([0.2, 0.2, write.between(-0.1, 0.3)]))
    write.carry(0.7, weak=write.often(0.3))
    return _other_hands(script, write)


def across_the_face(style: Style, chance: np.random.Generator) -> Script:
    """Write a run past with the stick pulled across the face and back, no change of hands."""
    script = _dodge_base(style, chance)
    write = Writer(style, chance)
    write.carry(-0.45)
    write.hold(-0.1, np.array([write.between(0.1, 0.25), -0.05, write.between(0.3, 0.5)]),
               np.array([0.1, 0.05, 0.1]))  # fmt: skip
    write.hold(0.15, np.array([write.between(0.05, 0.2), write.between(0.12, 0.3),
                               write.between(0.25, 0.5)]), np.array([0.1, 0.0, 0.05]))  # fmt: skip
    write.carry(0.55)
    return _other_hands(script, write)


def _dodge_base(style: Style, chance: np.random.Generator) -> Script:
    kinds = (dodging.close_gap_dodge, dodging.angle_cut_dodge, dodging.hesitation_dodge)
    return kinds[int(chance.integers(len(kinds)))](style, chance)


def _other_hands(script: Script, write: Writer) -> Script:
    controls = script.controls.copy()
    controls[:, HANDS] = curve(grid_s(script.duration_s) - script.key_s, write.hands)[
        : len(controls)
    ]
    return replace(script, controls=controls, label=OTHER)


def rocker(style: Style, chance: np.random.Generator) -> Script:
    """Write a roll that is only begun, and then turned back."""
    script = dodging.hesitation_dodge(style, chance)
    write = Writer(style, chance)
    turned = write.sign() * write.between(0.9, 2.4)
    write.chest += [
        (-0.6, 0.0),
        (write.between(-0.2, 0.0), turned),
        (write.between(0.1, 0.3), turned),
        (write.between(0.5, 0.8), 0.0),
    ]
    controls = script.controls.copy()
    rows_s = grid_s(script.duration_s)[: len(controls)] - script.key_s
    controls[:, CHEST] += curve(rows_s, write.chest)[:, 0]
    return replace(script, controls=controls, label=OTHER)


def curled(style: Style, chance: np.random.Generator) -> Script:
    """Write a run away from the goal that curls round, and a shot off the turn."""
    script = shots.on_the_run_shot(style, chance)
    write = Writer(style, chance)
    rows_s = grid_s(script.duration_s)[: len(script.controls)] - script.key_s
    turned = write.sign() * write.between(1.8, 4.5)
    curl = curve(rows_s, [(-write.between(0.7, 1.3), -turned), (write.between(-0.2, 0.2), 0.0)])[
        :, 0
    ]
    controls = script.controls.copy()
    cosine, sine = np.cos(curl), np.sin(curl)
    forward, left = script.controls[:, GO].T
    controls[:, 0], controls[:, 1] = cosine * forward - sine * left, sine * forward + cosine * left
    controls[:, CHEST] += curl
    if write.often(0.3):
        controls[:, HIP] += write.between(0.05, 0.15) * np.exp(-0.5 * (rows_s / 0.18) ** 2)
    return replace(script, controls=controls, label=OTHER)


def jump_shot(style: Style, chance: np.random.Generator) -> Script:
    """Write a throw in the air."""
    kinds = (shots.step_down_shot, shots.on_the_run_shot, shots.high_to_low_shot)
    script = kinds[int(chance.integers(len(kinds)))](style, chance)
    write = Writer(style, chance)
    rows_s = np.arange(len(script.controls)) / 60.0 - script.key_s
    controls = script.controls.copy()
    lift = write.between(0.10, 0.22) * np.exp(
        -0.5 * ((rows_s + 0.03) / write.between(0.12, 0.2)) ** 2
    )
    dip = write.between(0.04, 0.1) * np.exp(-0.5 * ((rows_s + 0.42) / 0.12) ** 2)
    controls[:, HIP] += lift - dip
    return replace(script, controls=controls, label=OTHER)


def mixed(style: Style, chance: np.random.Generator) -> Script:
    """Write the legs of one move and the hands of another one, which is neither."""
    dodge = DODGES[int(chance.integers(len(DODGES)))](style, chance)
    throw = THROWS[int(chance.integers(len(THROWS)))](style, chance)
    shift = round((dodge.key_s - throw.key_s + chance.uniform(-0.3, 0.45)) * 60)
    rows = np.clip(np.arange(len(dodge.controls)) - shift, 0, len(throw.controls) - 1)
    controls = dodge.controls.copy()
    controls[:, HANDS] = throw.controls[rows][:, HANDS]
    controls[:, HEAD] = throw.controls[rows][:, HEAD]
    controls[:, LEAN] += 0.5 * throw.controls[rows][:, LEAN]
    controls[:, TWIST] = throw.controls[rows][:, TWIST]
    return replace(dodge, controls=controls, label=OTHER)


def corrupted(style: Style, chance: np.random.Generator) -> Script:
    """Write a taught move with one thing wrong that no player of the game would do so."""
    moves = (*DODGES, *THROWS, dodging.close_gap_dodge, passes.pivot_throwback_pass)
    script = moves[int(chance.integers(len(moves)))](style, chance)
    controls = script.controls.copy()
    left, right = controls[:, LEFT].copy(), controls[:, RIGHT].copy()
    middle = np.array([0.12, 0.0, 0.2])
    kind = int(chance.integers(5 if script.label.endswith("dodge") else 6))
    if kind == 0:  # backwards in time
        return replace(
            script,
            controls=controls[::-1].copy(),
            label=OTHER,
            start_s=script.duration_s - script.stop_s,
            stop_s=script.duration_s - script.start_s,
            key_s=script.duration_s - script.key_s,
        )
    if kind == 1:  # both hands go together before the middle of the chest, as with a ball
        both = 0.5 * (left + right) * [1.0, chance.uniform(0.0, 0.5), 1.0]
        apart = [0.0, chance.uniform(0.02, 0.12), 0.0]
        left, right = both + apart, both - apart
    elif kind == 2:  # the hands go another way altogether
        turn = np.linalg.qr(chance.standard_normal((3, 3)))[0]
        left, right = (middle + (hand - middle) @ turn.T for hand in (left, right))
    elif kind == 3:  # one arm alone; the other one hangs or is held out
        rest = chance.normal(0.0, 0.08, 3) + [0.05, 0.2, chance.uniform(-0.15, 0.35)]
        left = np.tile(rest, (len(controls), 1))
    elif kind == 4:  # the trunk turns the other way, or far too much
        turned = controls[:, CHEST] - controls[0, CHEST]
        controls[:, CHEST] += chance.choice([-2.2, 1.8]) * turned
    else:  # the arms throw and the legs lunge aside or backwards
        angle = chance.choice([-1.0, 1.0]) * chance.uniform(1.4, 3.1)
        forward, aside = script.controls[:, GO].T * chance.uniform(1.0, 2.5)
        controls[:, 0] = np.cos(angle) * forward - np.sin(angle) * aside
        controls[:, 1] = np.sin(angle) * forward + np.cos(angle) * aside
        controls[:, HIP] -= chance.uniform(0.03, 0.15) * np.exp(
            -0.5 * ((np.arange(len(controls)) / RATE_HZ - script.key_s) / 0.25) ** 2
        )
    controls[:, LEFT], controls[:, RIGHT] = left, right
    return replace(script, controls=controls, label=OTHER)


DODGES = (dodging.split_dodge, dodging.angle_cut_dodge, dodging.roll_dodge,
          dodging.hesitation_dodge)  # fmt: skip
THROWS = (shots.high_to_low_shot, shots.low_to_high_shot, shots.step_down_shot,
          passes.throwback_pass)  # fmt: skip

"""Writes a script from keys: what most moves have in common, with chance in every number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from models.training.script import (
    CHEST,
    GO,
    HANDS,
    HEAD,
    HIP,
    LEAN,
    LEFT,
    N_CONTROLS,
    RATE_HZ,
    RIGHT,
    TWIST,
    Script,
    curve,
    grid_s,
)
from models.training.style import Style
from pipeline.core.types import FloatArray

FINISH_SHARE = 0.2
"""A throw has finished where the hands are back under this share of their greatest speed."""


@dataclass(slots=True)
class Writer:
    """Collects keys; time 0 is the key instant of the move, earlier times are negative."""

    style: Style
    chance: np.random.Generator
    go: list[tuple[float, ...]] = field(default_factory=list)
    chest: list[tuple[float, ...]] = field(default_factory=list)
    twist: list[tuple[float, ...]] = field(default_factory=list)
    hip: list[tuple[float, ...]] = field(default_factory=list)
    lean: list[tuple[float, ...]] = field(default_factory=list)
    head: list[tuple[float, ...]] = field(default_factory=list)
    hands: list[tuple[float, ...]] = field(default_factory=list)

    def between(self, low: float, high: float) -> float:
        """Draw a number."""
        return float(self.chance.uniform(low, high))

    def time(self, low: float, high: float) -> float:
        """Draw a time, by the player's tempo."""
        return self.between(low, high) * self.style.tempo

    def often(self, probability: float) -> bool:
        """Draw whether something is so."""
        return bool(self.chance.random() < probability)

    def sign(self, probability: float = 0.5) -> float:
        """Draw +1 with a probability, else -1."""
        return 1.0 if self.often(probability) else -1.0

    def jitter(self, place: Sequence[float] | FloatArray, spread: float = 0.03) -> FloatArray:
        """Draw a place near a place."""
        return np.asarray(place, float) + self.chance.normal(0.0, spread, 3)

    def hold(self, at_s: float, top: FloatArray, bottom: FloatArray, *, weak: bool = False) -> None:
        """Put the hands somewhere: top and bottom hand; the left is on top if `weak`."""
        left, right = (top, bottom) if weak else (bottom, top)
        self.hands.append((at_s, *left, *right))

    def carry(self, at_s: float, *, weak: bool = False, spread: float = 0.02) -> None:
        """Put the hands where the player carries the stick."""
        if weak:
            self.hold(
                at_s,
                self.jitter(self.style.weak_top, spread),
                self.jitter(self.style.weak_bottom, spread),
                weak=True,
            )
        else:
            self.hold(
                at_s,
                self.jitter(self.style.carry_top, spread),
                self.jitter(self.style.carry_bottom, spread),
            )

    def write(
        self, label: str, first_s: float, last_s: float, start_s: float, stop_s: float | None
    ) -> Script:
        """Make the script between two times.

        Parameters
        ----------
        label
            Of the script.
        first_s, last_s
            Where the script begins and ends.
        start_s
            Where the rep starts.
        stop_s
            Where it ends; None for a throw: when the hands have come to rest.
        """
        style = self.style
        rows_s = grid_s(last_s - first_s) + first_s
        controls = np.zeros((rows_s.size, N_CONTROLS))
        controls[:, GO] = curve(rows_s, self.go or [(0.0, 0.0, 0.0)])
        controls[:, CHEST] = curve(rows_s, self.chest or [(0.0, 0.0)])[:, 0]
        controls[:, TWIST] = curve(rows_s, self.twist or [(0.0, 0.0)])[:, 0]
        controls[:, HIP] = curve(rows_s, self.hip or [(0.0, style.hip)])[:, 0]
        speed = np.linalg.norm(controls[:, GO], axis=1)
        controls[:, LEAN] = curve(rows_s, self.lean or [(0.0, 0.0, 0.0)])
        controls[:, LEAN.start] += style.lean * np.clip(speed / 3.0, 0.0, 1.0)
        controls[:, HEAD] = curve(rows_s, self.head or [(0.0, 0.0)])[:, 0]
        if not self.hands:
            self.carry(0.0)
        controls[:, HANDS] = curve(rows_s, self.hands)
        script = Script(
            controls=loosened(controls, style, self.chance),
            label=label,
            start_s=start_s - first_s,
            stop_s=0.0 if stop_s is None else stop_s - first_s,
            key_s=-first_s,
        )
        if stop_s is None:
            script = _until_rest(script)
        return script


def loosened(controls: FloatArray, style: Style, chance: np.random.Generator) -> FloatArray:
    """Add the cradle, the bounce of steps and small movements that mean nothing."""
    n = len(controls)
    time_s = np.arange(n) / RATE_HZ
    loose = controls.copy()
    phase = chance.uniform(0, 2 * np.pi, 3)
    hand_speed = np.linalg.norm(np.gradient(controls[:, RIGHT], 1 / RATE_HZ, axis=0), axis=1)
    calm = 1.0 / (1.0 + (hand_speed / 0.8) ** 2)
    wave = style.cradle * np.sin(2 * np.pi * style.cradle_hz * time_s + phase[0]) * calm
    for hand, share in ((LEFT, chance.uniform(0.2, 1.0)), (RIGHT, 1.0)):
        loose[:, hand] += share * wave[:, None] * chance.normal(0, 0.6, 3)
    speed = np.linalg.norm(controls[:, GO], axis=1)
    loose[:, CHEST] += chance.normal(0.0, 0.22) * np.clip(speed / 1.5, 0.0, 1.0)
    step_hz = 2.0 + 0.35 * speed
    turn = 2 * np.pi * np.cumsum(step_hz) / RATE_HZ + phase[1]
    running = np.clip(speed / 2.5, 0.0, 1.2)
    loose[:, HIP] += 0.016 * chance.uniform(0.3, 1.5) * running * np.sin(turn)
    loose[:, TWIST] += 0.18 * chance.uniform(0.2, 1.4) * running * np.sin(turn / 2)
    loose[:, CHEST] -= 0.12 * chance.uniform(0.0, 1.5) * running * np.sin(turn / 2)
    swing = 0.045 * chance.uniform(0.0, 1.6) * running * np.sin(turn / 2 + phase[2])
    loose[:, HANDS] += swing[:, None] * np.tile(chance.normal(0, 1, 3), 2)
    scale = np.array([0.06, 0.06, 0.13, 0.05, 0.006, 0.04, 0.04, 0.12] + 6 * [0.018])
    return loose + style.wander * scale * slow_noise(chance, n, 0.7, N_CONTROLS)


def slow_noise(
    chance: np.random.Generator, n: int, knot_s: float, columns: int, rate_hz: float = RATE_HZ
) -> FloatArray:
    """Noise (n, columns) of about unit variance that changes over some time."""
    from scipy.interpolate import CubicSpline

    n_knots = int(n / rate_hz / knot_s) + 4
    knots = chance.standard_normal((n_knots, columns))
    at = np.arange(n) / rate_hz / knot_s + chance.uniform(0, 1)
    return np.asarray(CubicSpline(np.arange(n_knots), knots)(at))


def _until_rest(script: Script) -> Script:
    """End a throw where the hands have come to rest."""
    from dataclasses import replace

    hands = script.controls[:, HANDS].reshape(-1, 2, 3)
    speed = np.linalg.norm(np.gradient(hands, 1 / RATE_HZ, axis=0), axis=-1).mean(axis=1)
    key = min(round(script.key_s * RATE_HZ), len(speed) - 2)
    near = slice(max(0, key - 6), key + 7)
    peak = speed[near].max()
    key = near.start + int(speed[near].argmax())
    after = np.flatnonzero(speed[key:] < FINISH_SHARE * peak)
    stop = key + (int(after[0]) if after.size else len(speed) - 1 - key)
    return replace(script, key_s=key / RATE_HZ, stop_s=stop / RATE_HZ)

"""How one simulated player carries himself and the stick: drawn anew for each film."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Habits of one player (right hand on top); lengths in statures.

    Attributes
    ----------
    carry_top, carry_bottom
        (3,) hands from mid-hip with a carried stick: to the front, to the left, up.
    weak_top, weak_bottom
        The same with the stick in the other hand.
    hip
        Height of mid-hip in stance.
    lean
        Lean of the trunk in a run, rad.
    pace
        Factor on speeds of the feet; 1 for a usual one.
    tempo
        Factor on the times of hands and steps.
    slot
        Arm slot of throws: 1 overhand, 0 sidearm.
    snap_s
        Length of the burst of a throw.
    cradle, cradle_hz
        Amplitude and frequency of the cradle.
    wander
        Amplitude of small movements that mean nothing.
    """

    carry_top: FloatArray
    carry_bottom: FloatArray
    weak_top: FloatArray
    weak_bottom: FloatArray
    hip: float
    lean: float
    pace: float
    tempo: float
    slot: float
    snap_s: float
    cradle: float
    cradle_hz: float
    wander: float


def draw_style(generator: np.random.Generator) -> Style:
    """Draw the habits of a player.

    Parameters
    ----------
    generator
        Source of chance.
    """
    uniform = generator.uniform

    def hands() -> tuple[FloatArray, FloatArray]:
        top = np.array([uniform(0.02, 0.24), uniform(-0.24, -0.06), uniform(0.10, 0.42)])
        grip = uniform(0.12, 0.32)
        way = np.array([uniform(-0.5, 0.6), uniform(0.1, 0.9), uniform(-1.0, -0.35)])
        return top, top + grip * way / np.linalg.norm(way)

    top, bottom = hands()
    weak_top, weak_bottom = hands()
    return Style(
        carry_top=top,
        carry_bottom=bottom,
        weak_top=weak_top * [1, -1, 1],
        weak_bottom=weak_bottom * [1, -1, 1],
        hip=uniform(0.455, 0.54),
        lean=uniform(0.02, 0.35),
        pace=uniform(0.7, 1.3),
        tempo=float(np.exp(generator.normal(0.0, 0.2))),
        slot=float(np.clip(generator.normal(0.75, 0.35), 0.0, 1.15)),
        snap_s=uniform(0.14, 0.42),
        cradle=uniform(0.0, 0.08) * (generator.random() < 0.75),
        cradle_hz=uniform(0.7, 2.8),
        wander=uniform(0.1, 1.6),
    )
